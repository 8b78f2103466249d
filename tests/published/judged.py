"""The set typed from a drawing that was seen: every finding of it, and whether it is rightly told.

Belongs here: the judged findings of every set in `sets/`. Does not belong here: sets that are
remembered (tests/recalled), running them (tests/test_judged_sets.py). The source:

* open-amplifier: Fender factory schematic 5F11 (Vibrolux), voltages to ground by electronic
  voltmeter, 20 %; seen as a scan in the public repository profedney/tubeamps.
"""

from __future__ import annotations

from pathlib import Path

from ..judging import PRACTICE, RIGHT, Judged, Row

FOLDER = Path(__file__).resolve().parent / "sets"
AMPLIFIER = FOLDER / "open-amplifier.chassis"

_AMPLIFIER: tuple[Row, ...] = (
    ("shock", "line-capacitor-class", "C30", RIGHT, "line to chassis, no class"),
    ("burst", "aged-capacitor", "C11 C12 C13 C14 C1 C5", RIGHT, "electrolytics of its day"),
    ("burst", "voltage-rating", "C14", RIGHT, "25 V part on -31 V, both on the sheet"),
    ("damage", "aged-capacitor", "C30 C2 C3 C4 C6 C15 C7 C8 C9 C10", RIGHT, "old paper"),
    ("damage", "aged-rectifier", "CR1", RIGHT, "a bias stack that opens takes the tubes along"),
    ("damage", "coupling-leakage", "C6 V2A", RIGHT, "old paper at a grid"),
    ("damage", "coupling-leakage", "C7 V2B", RIGHT, "old paper at a grid"),
    ("damage", "coupling-leakage", "C8 V3", RIGHT, "old paper at an output grid"),
    ("damage", "coupling-leakage", "C9 V4", RIGHT, "old paper at an output grid"),
    ("damage", "coupling-leakage", "C10 V3", RIGHT, "old paper from a plate to the bias"),
    ("damage", "tube-rating", "V3 V4", PRACTICE, "the maker ran their screens over 285 V"),
    ("performance", "coupling-value", "C8", PRACTICE, "no receiver: it may reach down to 5 Hz"),
    ("performance", "coupling-value", "C9", PRACTICE, "no receiver: it may reach down to 5 Hz"),
    ("record", "assumed-values", "T1 T2 LS1", RIGHT, "not on the sheet"),
    ("record", "plug-not-polarized", "P1", RIGHT, "behind a transformer, for the record"),
    (
        "record", "rating-missing",
        "F1 R25 R26 R27 R28 R1 R2 R3 R5 R6 R7 R8 R9 R10 R11 R13 R14 R15 R16 R17 R18 R19 R21"
        " R22 R23 R24",
        RIGHT, "not on the sheet",
    ),
    (
        "record", "touch-current", "C30 C11 C12 C13 C14 R28 C1 R3 R5 R7 R12 C15 R18", RIGHT,
        "C30 is told with its class",
    ),
    (
        "record", "resistor-drift",
        "R28 R1 R3 R5 R6 R7 R8 R9 R10 R13 R15 R16 R18 R19 R21 R22", RIGHT, "high ohms, old",
    ),
    ("record", "touch-current", "R8", RIGHT, "the jack hangs on what C30 does"),
    ("record", "touch-current", "R9", RIGHT, "the jack hangs on what C30 does"),
)  # fmt: skip

# The high winding's volts are not on the sheet; no drawing tells its cord.
JUDGED = (
    Judged(
        AMPLIFIER,
        "# Typed from a published drawing:",
        _AMPLIFIER,
        frozenset({"aged-cord", "fuse-rating", "rectifier-limit", "supply-short", "touch-current"}),
    ),
)
