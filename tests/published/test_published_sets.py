"""Sets typed from published drawings: what is told of each, and whether it is rightly told.

Belongs here: the judged findings of every set in `sets/`, and the volts or amperes that its drawing
states. Does not belong here: rules one by one, sets that we invented (tests/examples). The sources:

* open-amplifier: Fender factory schematic 5F11 (Vibrolux), voltages to ground by electronic
  voltmeter, 20 %; seen as a scan in the public repository profedney/tubeamps.
* ac-dc-superheterodyne: RCA Receiving Tube Manual, circuit section, editions of the 1950s; from
  memory, what is not remembered for certain is marked `assumed` in the text or left out.
* triode-amplifier: D. T. N. Williamson, Design for a High-quality Amplifier, Wireless World, April
  and May 1947, and its new version of August 1949; from memory in the same way.

`right`: a careful restorer wants to be told. `practice`: good practitioners differ, or the drawing
itself did so. `false`: it is not so. At most one false one of harm damage or worse may stand.
"""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from netcheck.circuit import Circuit
from netcheck.circuit.operating import Point
from netcheck.findings import Harm, NotSolved
from netcheck.language import read, read_file
from netcheck.rules import builtin
from netcheck.rules._runner import Report, lint

_FOLDER = Path(__file__).resolve().parent / "sets"
AMPLIFIER, RECEIVER, TRIODES = "open-amplifier", "ac-dc-superheterodyne", "triode-amplifier"

RIGHT, PRACTICE, FALSE = "right", "practice", "false"
Row = tuple[str, str, str, str, str]
"""Harm, rule, parts, judgement, and the reason in a few words."""

JUDGED: dict[str, tuple[Row, ...]] = {
    AMPLIFIER: (
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
    ),
    RECEIVER: (
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
    ),
    TRIODES: (
        ("shock", "unfused-hot-lead", "P1", RIGHT, "the text has no fuse"),
        ("burst", "aged-capacitor", "C8 C5 C2 C1", RIGHT, "electrolytics of its day"),
        ("burst", "voltage-rating", "C5", PRACTICE, "506 V on 500 V, an output valve pulled"),
        ("damage", "rectifier-limit", "V7", RIGHT, "425 V on a plate published for 375 V"),
        ("damage", "aged-capacitor", "C9 C3 C4 C6 C7", RIGHT, "old paper"),
        ("damage", "coupling-leakage", "C3 V3", RIGHT, "old paper at a grid"),
        ("damage", "coupling-leakage", "C4 V4", RIGHT, "old paper at a grid"),
        ("damage", "coupling-leakage", "C6 V5", RIGHT, "old paper at an output grid"),
        ("damage", "coupling-leakage", "C7 V6", RIGHT, "old paper at an output grid"),
        ("record", "assumed-values", "T1 L2 L1 T2", RIGHT, "left out of the text"),
        ("record", "plug-not-polarized", "P1", RIGHT, "behind a transformer, for the record"),
        ("record", "dissipation", "R6 R11 R13 R21 R22", PRACTICE, "watts as in the parts list"),
        ("record", "resistor-drift", "R2 R1 R3 R8 R9 R11 R13 R14 R19", RIGHT, "high ohms, old"),
    ),
}  # fmt: skip

NOT_CHECKED: dict[str, set[str]] = {
    AMPLIFIER: {"aged-cord", "fuse-rating", "rectifier-limit", "supply-short"},
    RECEIVER: {"aged-cord"},
    TRIODES: {"aged-cord"},
}
"""The high winding's volts are not on the amplifier's sheet; no drawing tells its cord."""

_SETS = pytest.mark.parametrize("name", sorted(JUDGED))


@cache
def report(name: str) -> Report:
    return lint(read_file(_FOLDER / f"{name}.chassis"), tuple(builtin()))


def solved(name: str) -> Point:
    return Circuit(report(name).chassis).operating.point()


# --- what the texts are


def test_every_set_is_judged() -> None:
    assert {path.stem for path in _FOLDER.iterdir()} == set(JUDGED)


@_SETS
def test_the_text_names_its_drawing_and_is_read_whole(name: str) -> None:
    chassis = report(name).chassis
    lines = (_FOLDER / f"{name}.chassis").read_text(encoding="utf-8").splitlines()

    assert chassis.findings == ()
    assert chassis.travels["source"]
    assert lines[0].startswith("# Typed from")
    assert len(chassis.parts) >= 25
    assert [line for line in lines if len(line) > 78] == []


# --- the findings


@_SETS
def test_the_findings_are_those_that_were_judged(name: str) -> None:
    told = Counter((f.harm.value, f.rule, " ".join(f.parts)) for f in report(name).findings)

    assert told == Counter(row[:3] for row in JUDGED[name])


@_SETS
def test_what_was_not_checked_is_said(name: str) -> None:
    assert {each.rule for each in report(name).not_checked} == NOT_CHECKED[name]


def test_at_most_one_false_alarm_of_damage_or_worse() -> None:
    grave = {harm.value for harm in Harm if harm.rank <= Harm.DAMAGE.rank}
    rows = [row for judged in JUDGED.values() for row in judged]

    assert {row[3] for row in rows} <= {RIGHT, PRACTICE, FALSE}
    assert all(row[4] for row in rows)
    assert sum(row[0] in grave for row in rows) >= 20
    assert sum(row[0] in grave and row[3] == FALSE for row in rows) <= 1


# --- what the drawings state


@pytest.mark.parametrize(
    ("net", "printed"),
    [
        ("TREMPLATE", 155.0), ("TREMCATH", 1.5), ("INPLATE", 160.0), ("INCATH", 1.3),
        ("SECONDPLATE", 160.0), ("SPLITPLATE", 205.0), ("SPLITCATH", 50.0), ("TAIL", 48.7),
        ("B2", 330.0), ("B3", 260.0), ("GB", -31.0),
    ],
)  # fmt: skip
def test_volts_of_the_amplifier(net: str, printed: float) -> None:
    """From the two rails that are held as the sheet has them, its own 20 % narrowed to 15 %."""
    assert solved(AMPLIFIER).volts(net) == pytest.approx(printed, rel=0.15)


def test_without_its_rails_the_amplifier_says_what_is_missing() -> None:
    text = (_FOLDER / f"{AMPLIFIER}.chassis").read_text(encoding="utf-8")
    kept = [line for line in text.splitlines() if not line.startswith("hold ")]

    with pytest.raises(NotSolved, match="the volts of the winding high are not given"):
        Circuit(read("\n".join(kept))).operating.point()


@pytest.mark.parametrize(("tap_v", "bias_v"), [(35.0, -26.0), (40.0, -31.0), (50.0, -38.0)])
def test_the_bias_of_the_amplifier_computed(tap_v: float, bias_v: float) -> None:
    """The sheet prints -31 V and no volts of the winding: a tap of some 40 V would give them.

    So it holds that 10K, rectifier, 25 mfd and 56K are computed, and that they give a bias of this
    size from a tap of a likely one; each row within a tenth.
    """
    text = (_FOLDER / f"{AMPLIFIER}.chassis").read_text(encoding="utf-8")
    text = text.replace("hold BIAS -31 V\n", "").replace(
        "rectifier 5 V:", f"rectifier 5 V, high 320-{tap_v:g}-{320 - tap_v:g} V:"
    )
    point = Circuit(read(text)).operating.point()
    assert point.volts("BIAS") == pytest.approx(bias_v, rel=0.1)
    assert point.volts("GRID3") == pytest.approx(point.volts("BIAS"), rel=1e-3)


def test_current_of_the_triode_amplifier() -> None:
    """125 mA in both output valves together, set by R21 (from memory); R21 is all in here."""
    assert abs(solved(TRIODES).amperes("R22") or 0.0) == pytest.approx(0.125, rel=0.15)


def test_the_receiver_has_the_volts_of_its_type() -> None:
    """No volts are printed; some 120 V at the rectifier and 90 V behind 1200 ohm (from memory)."""
    point = solved(RECEIVER)

    assert point.volts("B1") == pytest.approx(120.0, rel=0.1)
    assert point.volts("B2") == pytest.approx(90.0, rel=0.15)
