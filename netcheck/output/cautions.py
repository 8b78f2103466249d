"""The words that end every output: what this tool cannot know, and what can kill.

Belongs here: sentences for every set alike. Does not belong here: what a rule says of one set.

Source of all of them: common practice, no source.
"""

from __future__ import annotations

from typing import Final

__all__ = ["CAUTIONS", "NEVER_CHECKED", "NO_CLEARANCE"]

CAUTIONS: Final = (
    "This is guidance, not a clearance. It is made from the text alone; what is on the bench"
    " may differ.",
    "Tube radios carry lethal voltages. Where a set has no power transformer, its chassis and"
    " common wire may be joined to the line: work on it only through an isolation transformer.",
    "Filter capacitors hold their charge with the plug out. Discharge them through a resistor"
    " and measure before you touch anything.",
    "Local codes and licensed practice come first: what must be done by a qualified person is"
    " decided where you live, not here.",
)

NEVER_CHECKED: Final = (
    "what the text does not say; and workmanship, sound and alignment, which no text can show"
)

NO_CLEARANCE: Final = (
    "Nothing was found. That is no clearance: only what is listed here was looked for, and only"
    " in what the text says."
)
