"""Sets typed from drawings as remembered: every finding of each, and whether it is rightly told.

Belongs here: the judged findings of every set in `sets/`. Does not belong here: sets whose drawing
was seen (tests/published), running them (tests/test_judged_sets.py). What is not remembered for
certain is marked `assumed` in the text or left out. The drawings:

* ac-dc-superheterodyne: RCA Receiving Tube Manual, circuit section, editions of the 1950s.
* triode-amplifier: D. T. N. Williamson, Design for a High-quality Amplifier, Wireless World, April
  and May 1947, and its new version of August 1949.
"""

from __future__ import annotations

from pathlib import Path

from ..judging import PRACTICE, RIGHT, Judged, Row

FOLDER = Path(__file__).resolve().parent / "sets"
RECEIVER = FOLDER / "ac-dc-superheterodyne.chassis"
TRIODES = FOLDER / "triode-amplifier.chassis"

_RECEIVER: tuple[Row, ...] = (
    ("shock", "plug-not-polarized", "P1", RIGHT, "B- is the hot line one way round"),
    ("shock", "unfused-hot-lead", "P1", RIGHT, "no fuse was drawn"),
    ("shock", "switch-in-neutral", "S1", RIGHT, "B- comes up through the cold heaters"),
    ("shock", "line-capacitor-class", "C20", RIGHT, "across the line, no class"),
    (
        "shock", "touch-current", "R20 C1B C3 C2 C1A C21", PRACTICE,
        "true of a gang on the chassis; a cabinet kept it from the hand",
    ),
    ("shock", "line-capacitor-class", "C21", RIGHT, "B- to chassis, no class"),
    ("burst", "aged-capacitor", "C18 C19", RIGHT, "electrolytics of its day"),
    ("damage", "aged-capacitor", "C20 C21 C4 C13 C16 C17", RIGHT, "old paper"),
    ("damage", "coupling-leakage", "C16 V4", RIGHT, "old paper at the output grid"),
    ("record", "assumed-values", "L1 L2 T1 T3 T2", RIGHT, "left out of the text"),
    ("record", "resistor-drift", "R20 R5 R4 R7 R8 R9", RIGHT, "high ohms, old"),
    ("record", "pilot-lamp", "DS1 V5", RIGHT, "nothing was drawn across the lamp"),
    ("record", "dissipation", "R11", PRACTICE, "0.57 of 1 W, as the manual has it"),
    ("record", "dissipation", "R11", RIGHT, "once C18 is open the pulses flow through it"),
)  # fmt: skip

_TRIODES: tuple[Row, ...] = (
    ("shock", "unfused-hot-lead", "P1", RIGHT, "the text has no fuse"),
    ("burst", "aged-capacitor", "C8 C5 C2 C1", RIGHT, "electrolytics of its day"),
    ("damage", "rectifier-limit", "V7", RIGHT, "425 V on a plate published for 375 V"),
    ("damage", "aged-capacitor", "C9 C3 C4 C6 C7", RIGHT, "old paper"),
    ("damage", "coupling-leakage", "C3 V3", RIGHT, "old paper at a grid"),
    ("damage", "coupling-leakage", "C4 V4", RIGHT, "old paper at a grid"),
    ("damage", "coupling-leakage", "C6 V5", RIGHT, "old paper at an output grid"),
    ("damage", "coupling-leakage", "C7 V6", RIGHT, "old paper at an output grid"),
    ("record", "assumed-values", "T1 L2 L1 T2", RIGHT, "left out of the text"),
    ("record", "plug-not-polarized", "P1", RIGHT, "behind a transformer, for the record"),
    ("record", "tube-rating", "V5", RIGHT, "its partner cold, it draws more than it may"),
    ("record", "dissipation", "R6 R11 R13 R21 R22", PRACTICE, "watts as in the parts list"),
    ("record", "resistor-drift", "R2 R1 R3 R8 R9 R11 R13 R14 R19", RIGHT, "high ohms, old"),
)  # fmt: skip

# No drawing tells its cord.
JUDGED = (
    Judged(RECEIVER, "# Typed from memory:", _RECEIVER, frozenset({"aged-cord"})),
    Judged(
        TRIODES,
        "# Typed from memory:",
        _TRIODES,
        frozenset({"aged-cord"}),
    ),
)
