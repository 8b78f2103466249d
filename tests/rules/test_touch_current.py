"""Touch current as findings: one cause, one finding; harm by the current; a remedy that works."""

from __future__ import annotations

import math
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


def test_metal_behind_a_part_that_was_not_read_is_not_clear() -> None:
    text = "P1 plug, not polarized: 1 LINE, 2 N\nT1 auto 117 V LINE to N to UP\n"
    cut_off = report(LINE + text + "R1 100K: UP to CHASSIS\n")
    assert any("what CHASSIS passes" in each.reason for each in cut_off.not_checked)


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


# --- one limit, one sum


def _fitted(action: str) -> float:
    value = re.search(r"([\d.]+) (mfd|mmf) [\d.]+ V AC", action)
    assert value is not None, action
    return float(value.group(1)) * {"mfd": 1e-6, "mmf": 1e-12}[value.group(2)]


def _alone_ma(farad: float, volts: float = 117 * 1.1, hertz: float = 60.0) -> float:
    return 2 * math.pi * hertz * farad * volts * 1e3


@pytest.mark.parametrize("limit", [0.25, 0.5, 0.75])
@pytest.mark.parametrize(
    ("rule", "text"),
    [
        ("line-capacitor-class", "C1 .05 mfd 400 V: B- to CHASSIS\n"),
        ("two-in-series", "C1 .05 mfd 630 V: B- to M\nC2 .05 mfd 630 V: M to CHASSIS\n"),
        (
            "antenna-isolation",
            "J1 antenna: ANT\nL1 coil 5 ohm: AIN to B-\nC1 .05 mfd 500 V mica: ANT to AIN\n",
        ),
    ],
)
def test_every_rule_follows_the_one_limit(rule: str, text: str, limit: float) -> None:
    rules = [each for each in builtin() if each.name == rule]
    said = lint(read(TURNING + f"policy touch-current limit {limit}\n" + text), rules).findings
    (each,) = said
    assert {c.limit for c in each.calc if c.unit == "mA"} == {limit}
    fitted = _fitted(each.action)
    assert _alone_ma(fitted) <= limit
    # The next of E6 above would be over: the limit is used, not a smaller one.
    assert _alone_ma(fitted * 1.55) > limit


@pytest.mark.parametrize("limit", [0.25, 0.5])
def test_two_capacitors_to_one_metal_share_the_limit(limit: float) -> None:
    text = TURNING + f"policy touch-current limit {limit}\n"
    text += "C1 .05 mfd 400 V paper: B- to CHASSIS\nC2 .02 mfd 400 V paper: B- to CHASSIS\n"
    told = found(text, "line-capacitor-class")
    values = [_fitted(each.action) for each in told]
    assert len(values) == 2
    assert _alone_ma(sum(values)) <= limit  # elementary: capacitors side by side add up
    assert _alone_ma(2 * max(values) * 1.55) > limit
    for each in told:
        whole = next(c for c in each.calc if "with all that bridges" in c.name)
        assert whole.value == pytest.approx(_alone_ma(sum(values)), rel=0.01)
        assert "C1 as" in whole.sum
        assert "C2 as" in whole.sum


def test_a_good_capacitor_that_takes_all_makes_both_smaller() -> None:
    """Of .01 mfd (0.49 mA at line high) and a bleeder nothing is left: all get their share."""
    text = TURNING + f"R1 470K: B- to CHASSIS\nC1 .01 mfd {Y2}: B- to CHASSIS\n"
    text += "C2 .05 mfd 400 V paper: B- to CHASSIS\n"
    (told,) = found(text, "line-capacitor-class")
    farad = _fitted(told.action)
    (rest,) = found(text)
    one = re.search(r"C1 as ([\d.]+) mfd", rest.action)
    assert one is not None, rest.action
    mended = text.replace(".05 mfd 400 V paper", f"{farad * 1e6:g} mfd {Y2}")
    mended = mended.replace(f".01 mfd {Y2}", f"{one.group(1)} mfd {Y2}")
    assert [each.harm for each in found(mended)] == [Harm.RECORD]


def test_without_a_line_voltage_each_gets_an_equal_share() -> None:
    text = TURNING.removeprefix(LINE) + "C1 .05 mfd 400 V paper: B- to CHASSIS\n"
    alone = [_fitted(each.action) for each in found(text, "line-capacitor-class")]
    text += "C2 .05 mfd 400 V paper: B- to CHASSIS\n"
    both = [_fitted(each.action) for each in found(text, "line-capacitor-class")]
    assert _alone_ma(*alone, 264, 50) <= 0.5
    assert _alone_ma(sum(both), 264, 50) <= 0.5


@pytest.mark.parametrize(("volts", "hertz"), [(117, 60), (230, 50)])
@pytest.mark.parametrize("limit", [0.25, 0.5])
def test_what_is_to_part_a_live_chassis_keeps_the_limit(
    volts: int, hertz: int, limit: float
) -> None:
    text = TURNING.replace("117 V 60 Hz", f"{volts} V {hertz} Hz")
    text += f"policy touch-current limit {limit}\n"
    (live,) = found(text + "wire CHASSIS to B-\n", "live-chassis")
    farad = _fitted(live.action)
    beside = re.search(r"with ([\d.]+(?:K| meg|M)) beside", live.action)
    assert beside is not None, live.action
    bridge = f"C1 {farad * 1e6:g} mfd {Y2}: B- to CHASSIS\nR1 {beside.group(1)}: B- to CHASSIS\n"
    assert [each.harm for each in found(text + bridge)] == [Harm.RECORD]
