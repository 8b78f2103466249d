"""Heads of example sets with which more than one rule shows what it means.

Belongs here: text that several rules' examples begin with. Does not belong here: the examples.
"""

from __future__ import annotations

__all__ = ["LINE_AND_FUSE", "STRING_OF_300_MA"]

LINE_AND_FUSE = """line 117 V 60 Hz
P1 plug, polarized, plastic cord, new: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
"""

STRING_OF_300_MA = """V4 25Z5: heater H6 to H5
V3 43: heater H5 to H4
V1 6A7: heater H4 to H3
V2 6D6: heater H3 to B-
"""
"""Four heaters of 300 mA and 62.6 V in series, from H6 down to B-."""
