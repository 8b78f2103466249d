"""Which classes each place on the line takes, against the ladder, and what is said besides.

The ladder as used in the trade. Sources: X across the line, Y to metal (electrical.codidact.com
post 291478; audiokarma.org thread 763137); a Y2 may stand in for an X2, an X2 must not for a Y2 (X
and Y Capacitors note); one Y2 between a pole and protective earth (UL Solutions 62368-1 question
page on table G.9); one Y1 or two Y2 across reinforced insulation (emc-pstc list msg21132); Y4 only
below 150 V (vcf-midatlantic list, Dec 2015); antenna leads as Y (AVX/TPC data sheet).
"""

from __future__ import annotations

import pytest

from netcheck.findings import Finding, Harm
from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._runner import Report, lint

RULES = [
    rule
    for rule in builtin()
    if rule.name in ("line-capacitor-class", "antenna-isolation", "two-in-series", "live-chassis")
]
AMERICAN = "line 117 V 60 Hz\n"
EUROPEAN = "line 230 V 50 Hz\n"
LEADS = (
    "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\n"
    "V1 35Z5: heater SW to PILOT to H1, plate PILOT, cathode B1\nV2 50L6: heater H1 to B-\n"
    "C1 40 mfd 150 V electrolytic: + B1, - B-\nR9 2.7K 2 W: B1 to B-\n"
)
POLARIZED = "P1 plug, polarized: hot LINE, neutral B-\n" + LEADS
EARTHED = (
    "P1 plug, earthed: hot LINE, neutral N, earth CHASSIS\nF1 1/2 A 250 V: LINE to FUSED\n"
    "S1 power: ON FUSED to SW\nT1 power, primary 117 V, high 300 V:\n"
    "   primary SW to N, high HA to CHASSIS\nZ1 load 60 mA: HA to CHASSIS\n"
)
TWO_WIRE = EARTHED.replace("earthed:", "polarized:").replace(", earth CHASSIS", "")
STRICT = "policy line-capacitor-class class strict\n"

# place: (set, where the part goes, the rule that speaks)
PLACES = {
    "across the line, before the switch": (POLARIZED, "FUSED to B-", "line-capacitor-class"),
    "across the line, behind the switch": (POLARIZED, "SW to B-", "line-capacitor-class"),
    "across the switch": (POLARIZED, "FUSED to SW", "line-capacitor-class"),
    "rectifier plate to B-": (POLARIZED, "PILOT to B-", "line-capacitor-class"),
    "line to earthed metal": (EARTHED, "SW to CHASSIS", "line-capacitor-class"),
    "line to metal not earthed": (TWO_WIRE, "SW to CHASSIS", "line-capacitor-class"),
    "neutral to metal not earthed": (TWO_WIRE, "N to CHASSIS", "line-capacitor-class"),
    "B- to chassis": (POLARIZED, "B- to CHASSIS", "line-capacitor-class"),
    "antenna to B-": (POLARIZED + "J1 antenna: ANT\n", "ANT to B-", "antenna-isolation"),
}
X_DUTY = {"X1", "X2", "Y1", "Y2"}
Y_DUTY = {"Y1", "Y2"}
ACCEPTED = {place: X_DUTY if index < 4 else Y_DUTY for index, place in enumerate(PLACES)}
REINFORCED = ("line to metal not earthed", "neutral to metal not earthed", "B- to chassis",
              "antenna to B-")  # fmt: skip
MARKS = ("", "X1", "X2", "X3", "Y1", "Y2", "Y3", "Y4")


def findings(text: str) -> list[Finding]:
    return list(report(text).findings)


def report(text: str) -> Report:
    chassis = read(text)
    assert not chassis.findings, [found.message for found in chassis.findings]
    return lint(chassis, RULES)


def part(mark: str, where: str, rated: str = "250 VAC ") -> str:
    return f"C20 .0047 mfd {rated}{'class ' + mark if mark else ''}: {where}\n"


@pytest.mark.parametrize("mark", MARKS, ids=lambda mark: mark or "no class")
@pytest.mark.parametrize("place", PLACES)
def test_the_ladder(place: str, mark: str) -> None:
    setting, where, rule = PLACES[place]
    accepted = mark in ACCEPTED[place] or (mark == "Y4" and place == "line to earthed metal")
    found = findings(AMERICAN + setting + part(mark, where))
    assert [f.rule for f in found] == ([] if accepted else [rule])
    for each in found:
        assert each.parts[0] == "C20"
        assert each.span.line == (AMERICAN + setting).count("\n") + 1
        assert each.harm is Harm.SHOCK


@pytest.mark.parametrize("mark", MARKS, ids=lambda mark: mark or "no class")
@pytest.mark.parametrize("place", PLACES)
def test_the_strict_ladder(place: str, mark: str) -> None:
    setting, where, rule = PLACES[place]
    allowed = {"Y1"} if place in REINFORCED else ACCEPTED[place]
    accepted = mark in allowed or (mark == "Y4" and place == "line to earthed metal")
    found = findings(AMERICAN + STRICT + setting + part(mark, where))
    assert [f.rule for f in found] == ([] if accepted else [rule])


def test_y4_is_refused_from_150_volts_on_and_on_a_line_not_stated() -> None:
    place = EARTHED + part("Y4", "SW to CHASSIS")
    assert not findings(AMERICAN + place)
    assert len(findings(EUROPEAN + place)) == 1
    assert len(findings(place)) == 1


def test_a_dual_mark_counts_as_either() -> None:
    assert not findings(AMERICAN + POLARIZED + part("X1/Y2", "B- to CHASSIS"))
    assert not findings(AMERICAN + POLARIZED + part("X1/Y2", "SW to B-"))


def test_a_class_for_too_few_volts_does_not_do() -> None:
    (found,) = findings(EUROPEAN + POLARIZED + part("Y2", "B- to CHASSIS", "125 VAC "))
    assert "with class Y2 for 125 V AC, under the line's 230 V" in found.message
    assert "250 V AC class Y2" in found.action


def test_the_old_part_behind_replaces_does_not_count() -> None:
    new = "C20 .0047 mfd 250 VAC class Y2, replaces .05 mfd 400 V paper: B- to CHASSIS\n"
    assert not findings(AMERICAN + POLARIZED + new)
    old = "C20 .0047 mfd 630 V film, replaces .0047 mfd 250 VAC class Y2: B- to CHASSIS\n"
    assert len(findings(AMERICAN + POLARIZED + old)) == 1


def test_the_currents_at_the_line_at_line_high_and_shorted() -> None:
    (found,) = findings(
        "line 120 V 60 Hz +5% -10%\n" + POLARIZED + "C20 .05 mfd 400 V paper: B- to CHASSIS\n"
    )
    normal, high, shorted = found.calc
    assert normal.value == pytest.approx(2.2619, abs=5e-5)
    assert high.value == pytest.approx(2.2619 * 1.05, abs=1e-4)
    assert shorted.value == pytest.approx(80.0)
    assert {each.limit for each in found.calc} == {0.5}


def test_more_than_ten_milliamperes_is_danger_only_if_the_wire_can_be_hot() -> None:
    large = "C20 .25 mfd 400 V paper: B- to CHASSIS\n"
    turning = POLARIZED.replace("polarized: hot LINE, neutral", "not polarized: 1 LINE, 2")
    (safe,) = findings(AMERICAN + POLARIZED + large)
    (danger,) = findings(AMERICAN + turning + large)
    assert safe.harm is Harm.SHOCK
    assert danger.harm is Harm.SHOCK_NOW
    assert "plug one way round" in danger.state


def test_a_direct_current_line_passes_current_only_through_a_short() -> None:
    (found,) = findings("line 220 V DC\n" + POLARIZED + part("", "B- to CHASSIS", "400 V "))
    (shorted,) = found.calc
    assert "shorted" in shorted.name
    assert shorted.value == pytest.approx(220 / 1.5, abs=0.1)


def test_without_a_stated_line_the_class_is_missed_and_the_current_said_unknown() -> None:
    result = report(POLARIZED + part("", "B- to CHASSIS", "400 V "))
    (found,) = result.findings
    assert "its current is not computed" in found.message
    assert not found.calc
    (silent,) = result.not_checked
    assert silent.rule == "line-capacitor-class"
    assert "no line voltage is stated" in silent.reason


def test_a_value_not_known_is_said() -> None:
    (found,) = findings(AMERICAN + POLARIZED + "C20 ? mfd 400 V paper: B- to CHASSIS\n")
    assert "its value is not known" in found.message


def test_no_line_is_silent_and_no_plug_is_not_checked() -> None:
    place = part("", "B- to CHASSIS", "400 V ")
    nothing = report("line none\n" + POLARIZED + place)
    assert not nothing.findings
    assert not nothing.not_checked
    blind = report(AMERICAN + LEADS + place)
    assert not blind.findings
    assert {each.rule for each in blind.not_checked} == {rule.name for rule in RULES}


@pytest.mark.parametrize(
    "harmless",
    [
        pytest.param("R1 2.2M: DET to AVC\nR2 470K: DET to B-\nC20 .05 mfd 200 V: AVC to CHASSIS\n",
                     id="behind megohms"),
        pytest.param("L2 oscillator coil 2 ohm: OSC to B-\nC20 10-365 mmf air, gang:\n"
                     "   OSC to CHASSIS\n", id="tuning gang"),
        pytest.param("C20 .05 mfd 400 V paper, removed: B- to CHASSIS\n", id="removed"),
        pytest.param("C20 .02 mfd 400 V: B1 to B-\n", id="not at the line"),
    ],
)  # fmt: skip
def test_what_needs_no_class(harmless: str) -> None:
    assert not findings(AMERICAN + POLARIZED + harmless)


def test_a_bypass_that_ends_on_the_chassis_needs_one() -> None:
    (found,) = findings(AMERICAN + POLARIZED + "C20 .02 mfd 400 V: B1 to CHASSIS\n")
    assert found.rule == "line-capacitor-class"
    assert "joins B1 to CHASSIS" in found.message


def test_a_resistor_in_series_that_limits_too_little_changes_nothing() -> None:
    small = "R1 100 ohm: B- to X1\nC20 .05 mfd 400 V: X1 to CHASSIS\n"
    large = small.replace("100 ohm", "1M")
    assert [f.rule for f in findings(AMERICAN + POLARIZED + small)] == ["line-capacitor-class"]
    assert not findings(AMERICAN + POLARIZED + large)


@pytest.mark.parametrize(("mfd", "ampere"), [(".25", 0.010918), ("1", 0.038394), ("20", 0.077697)])
def test_a_hand_and_a_large_capacitor_bound_the_current_together(mfd: str, ampere: float) -> None:
    """117 / sqrt(1500^2 + (1 / (2 pi 60 C))^2): never more than a hand alone passes, 78 mA."""
    (found,) = findings(AMERICAN + POLARIZED + f"C20 {mfd} mfd 400 V film: B- to CHASSIS\n")
    normal, *_ = found.calc
    assert normal.value == pytest.approx(ampere * 1e3, rel=1e-4)
    assert "sqrt" in normal.sum


def test_the_current_into_an_earth_wire_or_across_the_line_has_no_hand_in_it() -> None:
    (earth,) = findings(AMERICAN + EARTHED + "C20 1 mfd 400 V film: SW to CHASSIS\n")
    (across,) = findings(AMERICAN + POLARIZED + "C20 1 mfd 400 V film: SW to B-\n")
    for found in (earth, across):
        assert found.calc[0].value == pytest.approx(44.108, abs=1e-3)


def test_a_filter_capacitor_on_the_chassis_belongs_on_b_minus() -> None:
    part = "C23 20 mfd 150 V electrolytic: + B1, - {}\n"
    (found,) = findings(AMERICAN + POLARIZED + part.format("CHASSIS"))
    assert found.rule == "line-capacitor-class"
    assert found.action == "put its minus on B-"
    assert "class" not in found.message
    assert not findings(AMERICAN + POLARIZED + part.format("B-"))


def test_a_small_bypass_to_the_chassis_still_takes_its_class() -> None:
    (found,) = findings(AMERICAN + POLARIZED + "C23 .02 mfd 400 V film: B1 to CHASSIS\n")
    assert "class Y2" in found.action
