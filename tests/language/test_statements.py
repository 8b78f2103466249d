"""Every statement that is no part: what it holds when it is right, what is said when it is not.

Belongs here: one statement at a time, and parts only as far as statements need them. Does not
belong here: `type` (test_types.py), `use` (test_files.py), descriptions and terminals.
"""

from __future__ import annotations

import re

import pytest

from netcheck.chassis import Chassis
from netcheck.findings import Finding
from netcheck.language import read
from netcheck.language.loading import grammar_text
from netcheck.language.mistakes import STATEMENT_WORDS
from netcheck.parts import Value

BASE = (
    "R1 470K: B1 to V3.plate\nR6 control, 500K: DET to VOL to B-\n"
    "C14 .01 mfd 400 V: V3.plate to G\n"
    "V3 12AV6: cathode B-, diode1 DET, diode2 open\nS1: ON LA to LB\n"
    "S3 band: LW G to LWC, MW G to MWC\nS4A: 127 LA to TAP1, 220 LA to TAP2\n"
    "S4B: 127 LB to OUT1, 220 LB to OUT2\nL1 field: LWC to MWC\nR9 1K: B- to CHASSIS\n"
    "T1 output: primary B1 to TAP1, secondary TAP2 to OUT1\nR8 1K: OUT2 to T1.primary1\n"
)
HERE = BASE.count("\n") + 1


def _set(text: str) -> Chassis:
    chassis = read(BASE + text, "set")
    assert [f.message for f in chassis.findings] == []
    assert chassis.was_read
    return chassis


def _refused(text: str, base: str = BASE) -> tuple[Finding, str]:
    """The one finding of a text, and what it marks of its line."""
    chassis = read(base + text, "set")
    (found,) = chassis.findings
    assert not chassis.was_read
    assert found.rule == "unreadable"
    assert found.action
    line = chassis.line_text(found.span)
    return found, line[found.span.column - 1 : found.span.end_column - 1]


def test_the_parts_of_these_tests_read_without_a_finding() -> None:
    assert _set("").parts


# --- set ----------------------------------------------------------------------------------------


def test_set_has_its_title_and_what_travels_with_it() -> None:
    chassis = _set('SET "One: two, # three", BY "a", source "b", license "c", note "d"')

    assert chassis.title == "One: two, # three"
    assert chassis.travels == {"by": "a", "source": "b", "licence": "c", "note": "d"}


# --- line ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "volts", "hertz", "above", "below"),
    [
        ("117 V 60 Hz", 117.0, 60.0, None, None),
        ("60 cycles 117 volts", 117.0, 60.0, None, None),
        ("117 VAC 60 cps", 117.0, 60.0, None, None),
        ("AC 230 V 50 Hz", 230.0, 50.0, None, None),
        ("220 V DC", 220.0, 0.0, None, None),
        ("220 VDC", 220.0, 0.0, None, None),
        ("dc 32 V", 32.0, 0.0, None, None),
        ("0.23 kV 50 Hz", 230.0, 50.0, None, None),
        ("117 V 60 Hz +5% -10%", 117.0, 60.0, 0.05, 0.10),
        ("117 V 60 Hz -10% +5%", 117.0, 60.0, 0.05, 0.10),
        ("117 V 60 Hz +0% -10%", 117.0, 60.0, 0.0, 0.10),
        ("117 V 60 Hz ±5%", 117.0, 60.0, 0.05, 0.05),
        ("117 V 60 Hz 5%", 117.0, 60.0, 0.05, 0.05),
        ("117 V 60 Hz -6%", 117.0, 60.0, 0.10, 0.06),
        ("none", None, 0.0, None, None),
    ],
)
def test_line_is_read(
    text: str, volts: float | None, hertz: float, above: float | None, below: float | None
) -> None:
    line = _set(f"line {text}").line

    assert line is not None
    assert (line.volts, line.hertz) == (volts, hertz)
    assert line.tolerance_given == (above is not None)
    assert line.tolerance.above == pytest.approx(0.1 if above is None else above)
    assert line.tolerance.below == pytest.approx(0.1 if below is None else below)


def test_no_line_is_no_line_and_never_a_default() -> None:
    assert _set("").line is None


# --- wire ---------------------------------------------------------------------------------------


def test_wire_makes_one_node_of_many_names() -> None:
    chassis = _set("wire B- to COMMONBUS to V3.grid\nwire COMMONBUS to CHASSIS")

    assert len({chassis.net(n) for n in ("B-", "COMMONBUS", "CHASSIS", "V3.g1")}) == 1
    assert chassis.net("B-") == "CHASSIS"
    assert chassis.net("EARTH") == "EARTH"


# --- measure from, touchable, hold --------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "node"),
    [("B-", "B-"), ("ht-", "B-"), ("CHASSIS", "CHASSIS"), ("v3.cathode", "B-"), ("b1", "B1")],
)
def test_measure_from_is_a_node(written: str, node: str) -> None:
    assert _set(f"measure from {written}").measure_from == node


def test_touchable_lists_add_up() -> None:
    chassis = _set("touchable: CHASSIS, R6.shaft\ntouchable: V3.plate,\n   DET")

    assert chassis.touchable == ("CHASSIS", "R6.shaft", "V3.plate", "DET")
    control = chassis.part("R6")
    assert control is not None
    shaft = control.terminal("shaft")
    assert shaft is not None
    assert not shaft.given
    assert _set("").touchable is None


def test_hold_is_a_rail_and_its_volts() -> None:
    (hold,) = _set("hold b1 1/4 kV").holds

    assert (hold.node, hold.value.si) == ("B1", 250.0)


# --- reading ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "part", "node", "dimension", "si"),
    [
        ("B1 121 V", None, "B1", "voltage", 121.0),
        ("B1 121 V DC", None, "B1", "voltage", 121.0),
        ("V3.plate -2.5 V", None, "V3.plate", "voltage", -2.5),
        ("V3.4 2.5 V", None, "V3.heater2", "voltage", 2.5),
        ("DET 6.3 VAC", None, "DET", "voltage-ac", 6.3),
        ("DET 6.3 V AC", None, "DET", "voltage-ac", 6.3),
        ("V3.plate 0.5 mA", None, "V3.plate", "current", 0.5e-3),
        ("R1 531K", "R1", None, "resistance", 531e3),
        ("r1 12 V", "R1", None, "voltage", 12.0),
        ("R1 2 mA", "R1", None, "current", 2e-3),
        ("C14 .012 mfd", "C14", None, "capacitance", 0.012e-6),
        ("L1 2 H", "L1", None, "inductance", 2.0),
    ],
)
def test_reading_is_of_a_node_or_of_a_part(
    text: str, part: str | None, node: str | None, dimension: str, si: float
) -> None:
    (reading,) = _set(f"reading {text}").readings

    assert (reading.part, reading.value.dimension) == (part, dimension)
    assert reading.node == node
    assert reading.value.si == pytest.approx(si)
    assert (reading.leakage, reading.meter_ohm, reading.accuracy) == (False, None, None)


@pytest.mark.parametrize(
    ("text", "ohm", "accuracy"),
    [
        ("meter 11 M", 11e6, None),
        ("meter 20 k/V 250 V", 5e6, None),
        ("meter 250 V 20000 ohm/V", 5e6, None),
        ("meter 1 k/V 500 V, accuracy 3%", 500e3, 0.03),
        ("accuracy 2%, meter 10 meg", 10e6, 0.02),
        ("accuracy 2 percent", None, 0.02),
    ],
)
def test_reading_tells_its_meter(text: str, ohm: float | None, accuracy: float | None) -> None:
    (reading,) = _set(f"reading B1 121 V, {text}").readings

    assert reading.meter_ohm == (None if ohm is None else pytest.approx(ohm))
    assert reading.accuracy == (None if accuracy is None else pytest.approx(accuracy))


@pytest.mark.parametrize(
    ("value", "dimension"), [("0.3 V", "voltage"), ("12 uA", "current"), ("50 meg", "resistance")]
)
def test_leakage_is_volts_amperes_or_ohms_at_a_voltage(value: str, dimension: str) -> None:
    (reading,) = _set(f"reading C14 leakage {value} at 90 V, meter 10 M").readings

    assert reading.leakage
    assert (reading.part, reading.value.dimension) == ("C14", dimension)
    assert isinstance(reading.at_v, Value)
    assert reading.at_v.si == 90.0


# --- accept, policy -----------------------------------------------------------------------------


def test_accept_has_rule_targets_and_reason() -> None:
    one, other = _set(
        'accept Touch-Current on r1, DET, V3.plate: "as built: kept, # so"\n'
        'accept aged-capacitor:\n  "all of them"'
    ).acceptances

    assert (one.rule, one.targets) == ("touch-current", ("R1", "DET", "V3.plate"))
    assert one.reason == "as built: kept, # so"
    assert (other.rule, other.targets, other.reason) == ("aged-capacitor", (), "all of them")


@pytest.mark.parametrize(
    ("text", "value"),
    [("class strict", "strict"), ("Class Strict", "strict"), ("class 0.25 mA", "0.25 ma"),
     ("class 2", "2"), ("class X2", "x2")],
)  # fmt: skip
def test_policy_has_rule_option_and_value(text: str, value: str) -> None:
    (policy,) = _set(f"policy touch-current {text}").policies

    assert (policy.rule, policy.option, policy.value) == ("touch-current", "class", value)


# --- switch, notation ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "switch", "position"),
    [("S3 at MW", "S3", "MW"), ("s3 at lw", "S3", "LW"), ("S1 at OFF", "S1", "OFF"),
     ("S1 at ON", "S1", "ON"), ("S4 at 220", "S4", "220"), ("S4A at 127", "S4A", "127")],
)  # fmt: skip
def test_switch_stands_in_one_of_its_positions(text: str, switch: str, position: str) -> None:
    (setting,) = _set(f"switch {text}").settings

    assert (setting.switch, setting.position) == (switch, position)


@pytest.mark.parametrize(("meaning", "ohm"), [("1000", 250e3), ("1000000", 250e6)])
def test_notation_holds_for_the_whole_set_wherever_it_stands(meaning: str, ohm: float) -> None:
    for text in (
        f"notation m = {meaning}\nR2 250M: G to B-",
        f"R2 250M: G to B-\nnotation M={meaning}",
    ):
        part = _set(text).part("R2")
        assert part is not None
        assert part.description.number("resistance") == ohm


# --- mistakes -----------------------------------------------------------------------------------

# statement, what is marked ("" = the whole statement), the sentence, the remedy
MISTAKES = [
    ('set "a"\nset "b"', 'set "b"', "`set` stands here and in line", "keep one"),
    ('set "a", by "b", by "c"', 'by "c"', "`by` stands twice", "keep one"),
    ('set "a" by "b"', "by", "cannot stand here", 'set "title"'),
    ("set a", "a", "cannot stand here", 'set "title"'),
    ("line 117 V", "", "AC (of how many hertz) or DC", "line 117 V 60 Hz"),
    ("line 220 V DC 50 Hz", "", "AC (of how many hertz) or DC", "line 220 V DC"),
    ("line 60 Hz", "", "volts are missing", "one voltage"),
    ("line 110-120 V 60 Hz", "110-120 V", "more than one figure", "write one"),
    ("line 117 V 25-60 Hz", "25-60 Hz", "more than one figure", "write one"),
    ("line 5 V 60 Hz", "5 V", "no wall gives 5 V", "line none"),
    ("line 501 V 60 Hz", "501 V", "no wall gives 501 V", "line none"),
    ("line 117", "117", "cannot belong to the line", "line 117 V 60 Hz"),
    ("line 117 V 230 V 60 Hz", "230 V", "cannot belong to the line", "line 117 V 60 Hz"),
    ("line 117 V 60 Hz 2 A", "2 A", "cannot belong to the line", "line 117 V 60 Hz"),
    ("line 117 V 60 Hz mains", "mains", "no word of the line", "line none"),
    ("line", " ", "ends too early", "line 117 V 60 Hz"),
    ("line none\nline 117 V 60 Hz", "line 117 V 60 Hz", "stands here and in line", "keep one"),
    ("wire B-", "", "joins two names or more", "wire A to B"),
    ("wire B- to GND", "GND", "three things", "CHASSIS"),
    ("wire B- to R2", "R2", "named like a part", "another name"),
    ("wire B- to V3.plat", "V3.plat", "no terminal plat", "plate"),
    ("measure B-", "B-", "cannot stand here", "measure from B-"),
    ("measure from NOPE", "NOPE", "nothing is connected to NOPE", ""),
    ("measure from B-\nmeasure from B1", "measure from B1", "stands here and in line", "keep one"),
    ("touchable CHASSIS", "CHASSIS", "cannot stand here", "touchable: CHASSIS"),
    ("touchable: CHASIS", "CHASIS", "nothing is connected", "CHASSIS"),
    ("touchable: R6.shft", "R6.shft", "no terminal shft", "shaft"),
    ("reading NOPE 5 V", "NOPE", "nothing is connected", ""),
    ("reading B1", " ", "ends too early", "reading V4.plate"),
    ("reading B1 5", "5", "cannot be read there", "a voltage"),
    ("reading B1 5 V 6 V", "", "one value", "reading B1 121 V"),
    ("reading B1 470K", "470K", "cannot be read there", "a voltage"),
    ("reading C14 leakage 3 uA", "", "at some voltage", "at 90 V"),
    ("reading C14 leakage .1 mfd at 90 V", ".1 mfd", "cannot be read there", "a current"),
    ("reading B1 5 V, meter 250 V", "250 V", "meter is told by its resistance", "11 M"),
    ("reading B1 5 V, meter 20 k/V", "20 k/V", "meter is told by its resistance", "11 M"),
    ("reading B1 5 V, meter 0 ohm", "0 ohm", "meter is told by its resistance", "11 M"),
    ("reading B1 5 V, accuracy 3 V", "3 V", "told in percent", "accuracy 3%"),
    ("reading B1 1-2 V", "1-2 V", "more than one figure", "write one"),
    ("reading C14 leakage 3 uA at 0 V", "0 V", "no voltage to measure leakage at", "at 90 V"),
    ("reading R1 -3K", "-3K", "", ""),
    ("hold B1 100-200 V", "100-200 V", "more than one figure", "write one"),
    ("reading B1 high", "high", "high is no value", "unit"),
    ("hold B1 3 mA", "3 mA", "held at a DC voltage", "hold B1 276 V"),
    ("hold B1 6.3 VAC", "6.3 VAC", "held at a DC voltage", "hold B1 276 V"),
    ("hold NOPE 5 V", "NOPE", "nothing is connected", ""),
    ('accept loose-end on R1: ""', "", "needs its reason", "quotation"),
    ("accept loose-end on R1", " ", "ends too early", "the reason"),
    ("accept loose-end: kept", "kept", "cannot stand here", "the reason"),
    ('accept loose-end on R99: "kept"', "R99", "no part R99", "R9"),
    ('accept loose-end on NOPE: "kept"', "NOPE", "nothing is connected", ""),
    ("policy touch-current", " ", "ends too early", "policy RULE option value"),
    ("policy touch-current class", " ", "ends too early", "policy RULE option value"),
    ("switch S9 at MW", "S9", "there is no switch S9", "describe the switch"),
    ("switch R1 at MW", "R1", "there is no switch R1", ""),
    ("switch S3 at SW", "SW", "no position SW", "MW"),
    ("switch S3 at OFF", "OFF", "no position OFF", "LW and MW"),
    ("switch S4 at 240", "240", "no position 240", "220"),
    ("switch S3 MW", "MW", "cannot stand here", "switch S3 at MW"),
    ("notation M = 5", "", "only the letter M", "notation M = 1000"),
    ("notation K = 1000", "", "only the letter M", "notation M = 1000"),
    ("notation M = 1000\nnotation M = 1000000", "notation M = 1000000", "stands here", "keep one"),
    ('use "a.chassis"', "", "not from a file", "from its file"),
    ("use a.chassis", "a.chassis", "cannot stand here", 'use "file.chassis"'),
    ("lien 117 V 60 Hz", "lien", "opens a statement", "line"),
    ("gibberish", "gibberish", "opens a statement", "a line opens with"),
    ("!?", "!?", "opens a statement", "a line opens with"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "marked", "message", "remedy"), MISTAKES, ids=[row[0][:40] for row in MISTAKES]
)
def test_a_mistake_is_one_sentence_at_its_words(
    text: str, marked: str, message: str, remedy: str
) -> None:
    found, written = _refused(text)

    assert message in found.message
    assert remedy in found.action
    if marked.strip():
        assert written == marked
    else:
        assert found.span.line == HERE + text.count("\n")
        assert written == (text if not marked else "")


def test_every_statement_has_its_mistakes_here_or_in_a_file_of_its_own() -> None:
    rules = set(re.findall(r"(?m)^(\w+)_statement:", grammar_text()))
    tried = {row[0].split()[0].strip(":") for row in MISTAKES} & set(STATEMENT_WORDS)

    assert rules - tried == {"type"}


def test_a_broken_statement_costs_only_itself() -> None:
    chassis = read(f"{BASE}hold B1 3 mA\nline 117 V 60 Hz\nwire B-\nmeasure from B-\n", "set")

    assert [f.span.line for f in chassis.findings] == [HERE, HERE + 2]
    assert chassis.line is not None
    assert chassis.measure_from == "B-"
    assert not [part.ref for part in chassis.parts if part.broken]


def test_a_switch_that_could_not_be_read_takes_any_position() -> None:
    found, _ = _refused("S7: LW DET to\nswitch S7 at MW")

    assert found.span.line == HERE
