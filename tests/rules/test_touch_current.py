"""Touch current as findings: one cause, one finding; harm by the current; a remedy that works."""

from __future__ import annotations

import re

import pytest

from netcheck.findings import Finding, Harm
from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._runner import Report, lint

NAMES = ("touch-current", "line-capacitor-class", "antenna-isolation", "live-chassis")
RULES = [rule for rule in builtin() if rule.name in NAMES]
LINE = "line 117 V 60 Hz\n"
LEADS = "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n"
TURNING = LINE + "P1 plug, not polarized: 1 LINE, 2 B-\n" + LEADS
FIXED = LINE + "P1 plug, polarized: hot LINE, neutral B-\n" + LEADS
Y2 = "250 VAC class Y2"


def report(text: str) -> Report:
    return lint(read(text), RULES)


def found(text: str, rule: str = "touch-current") -> list[Finding]:
    return [each for each in report(text).findings if each.rule == rule]


@pytest.mark.parametrize(
    ("bridge", "harm"),
    [
        ("R1 220K: B- to CHASSIS", Harm.BURST),
        (f"C1 .15 mfd {Y2}: B- to CHASSIS", Harm.SHOCK),  # 2 x pi x 60 x .15 uF x 129 V = 7.3 mA
        (f"C1 .25 mfd {Y2}: B- to CHASSIS", Harm.SHOCK_NOW),  # 12 mA
    ],
)
def test_harm_follows_the_current(bridge: str, harm: Harm) -> None:
    (each,) = found(TURNING + bridge + "\n")
    assert each.harm is harm


def test_what_only_a_wrong_outlet_makes_is_a_warning_at_most() -> None:
    (each,) = found(FIXED + f"C1 .25 mfd {Y2}: B- to CHASSIS\n")
    assert each.harm is Harm.SHOCK
    assert "outlet wired the wrong way round" in each.state


def test_a_capacitor_without_its_class_is_told_once_with_a_value_that_does() -> None:
    text = TURNING + "C1 .2 mfd 400 V paper: B- to CHASSIS\nR1 470K: B- to CHASSIS\n"
    (table,) = found(text)
    assert table.harm is Harm.RECORD
    (told,) = found(text, "line-capacitor-class")
    value = re.search(r"fit ([\d.]+) mfd", told.action)
    assert value is not None
    mended = text.replace(".2 mfd 400 V paper", f"{value.group(1)} mfd {Y2}")
    assert [each.harm for each in found(mended)] == [Harm.RECORD]  # what a short of one would do
    assert "0.5" in str(table.calc[0].limit)


def test_an_accepted_class_leaves_its_current_to_be_told() -> None:
    text = TURNING + "C1 .05 mfd 400 V film: B- to CHASSIS\n"
    text += 'accept line-capacitor-class on C1: "its body says Y2"\n'
    (each,) = found(text)
    assert each.harm is Harm.BURST


def test_each_remedy_is_enough() -> None:
    text = TURNING + f"C1 .0047 mfd {Y2}: B- to CHASSIS\nR1 220K: B- to CHASSIS\n"
    (each,) = found(text)
    value = re.search(r"R1 as ([\d.]+[KM])", each.action)
    assert value is not None, each.action
    assert [f.harm for f in found(text.replace("220K", value.group(1)))] == [Harm.RECORD]


def test_the_limit_is_a_policy() -> None:
    text = FIXED + f"C1 .0068 mfd {Y2}: B- to CHASSIS\n"  # 0.33 mA in a wrong outlet
    assert found(text) == []
    (each,) = found(text + "policy touch-current limit 0.25\n")
    assert each.harm is Harm.BURST


def test_strict_practice_counts_a_resistor_that_shorts() -> None:
    text = TURNING + "R1 1 meg: B- to CHASSIS\n"
    assert [each.harm for each in found(text)] == [Harm.RECORD]
    (each,) = found(text + "policy line-capacitor-class class strict\n")
    assert each.harm is Harm.SHOCK
    assert "class Y1" in each.action


def test_live_metal_is_told_by_its_own_rule() -> None:
    text = TURNING + "wire CHASSIS to B-\n"
    assert found(text) == []
    assert len(found(text, "live-chassis")) == 1


def test_what_cannot_be_known_is_said_and_is_no_clearance() -> None:
    unknown = report(TURNING + f"C1 ? {Y2}: B- to CHASSIS\n")
    assert any("the value of C1 is not known" in each.reason for each in unknown.not_checked)
    shaft = report(TURNING + "R6 control, 500K: A1 to A2 to B-\ntouchable: CHASSIS, R6.shaft\n")
    assert any("R6.shaft" in each.reason for each in shaft.not_checked)
    unstated = report(TURNING.removeprefix(LINE) + "R1 220K: B- to CHASSIS\n")
    assert any("no line voltage" in each.reason for each in unstated.not_checked)


def test_two_antenna_jacks_each_with_a_capacitor_of_its_own() -> None:
    coil = "J1 antenna: ANT1\nJ2 antenna: ANT2\nL1 antenna coil 5 ohm: AIN to B-\n"
    both = f"C1 .001 mfd {Y2}: ANT1 to AIN\nC2 .002 mfd {Y2}: ANT2 to AIN\n"
    assert found(FIXED + coil + both, "antenna-isolation") == []
    one = both.replace(f".002 mfd {Y2}", ".002 mfd 500 V mica")
    (each,) = found(FIXED + coil + one, "antenna-isolation")
    assert set(each.parts) == {"C2", "J2"}


_AMPLIFIER = (
    LINE + "P1 plug, not polarized: 1 LA, 2 LB\nF1 1/2 A 250 V slow: LA to PRI\n"
    "T1 power, primary 117 V 6 ohm, heater 6.3 V 1 A: primary PRI to LB, heater H to CHASSIS\n"
    "R1 68K: JACK2 to GRID\nR2 68K: GRID to CHASSIS\nJ2 jack: tip JACK2, sleeve CHASSIS\n"
)


def test_metal_fed_through_other_metal_is_told_with_the_part_that_feeds_it() -> None:
    """A jack whose tip hangs on the chassis passes what a line capacitor puts on the chassis."""
    text = _AMPLIFIER + "C30 .05 mfd 600 V paper: PRI to CHASSIS\n"
    assert [each.parts for each in found(text, "line-capacitor-class")] == [("C30",)]
    assert {each.harm for each in found(text)} == {Harm.RECORD}
    jack = next(each for each in found(text) if "JACK2" in each.message)
    assert "the part to be fitted for C30 brings it under the limit" in jack.message


def test_metal_with_a_way_of_its_own_to_the_line_is_told_all_the_same() -> None:
    text = _AMPLIFIER + "C30 .05 mfd 600 V paper: PRI to CHASSIS\nR3 100K: PRI to JACK2\n"
    (jack,) = [e for e in found(text) if "JACK2" in e.message and e.harm is not Harm.RECORD]
    assert "R3" in jack.parts


@pytest.mark.parametrize("gang", ["C1 10-365 mmf: OSC to CHASSIS", "C1 40 mmf air: OSC to CHASSIS"])
def test_no_class_of_capacitor_is_asked_for_in_the_place_of_a_gang(gang: str) -> None:
    (each,) = found(TURNING + gang + "\nL1 oscillator coil 5 ohm: OSC to B-\n")
    assert "C1 is no barrier" in each.action
    assert "class" not in each.action
