"""Values that several rules share, asked for one by one: worst volts, other parts, policies."""

from __future__ import annotations

import pytest

from netcheck.circuit import Circuit
from netcheck.findings import NotSolved
from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._base import Case
from netcheck.rules._operating import tried
from netcheck.rules._touch_limit import limit_a, limit_of_ac_a
from netcheck.rules._touch_values import (
    are_under,
    candidates,
    high_ratio,
    larger_ohm,
    part_value,
    scaled,
    scales_of,
    smaller_f,
    whole_states,
)
from netcheck.rules._worst_volts import asked_states, worst_volts

LIVE = """line 100 V 50 Hz +10% -6%
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to FUSED
S1 power: ON FUSED to SW
CR1 silicon 1000 V 1 A: anode SURGE, cathode B1
R1 47 ohm 5 W: SW to SURGE
C1 47 mfd 250 V electrolytic: + B1, - B-
R2 1K 2 W: B1 to B2
C2 33 mfd 250 V electrolytic: + B2, - B-
C3 .01 mfd 400 V film: B2 to NOWHERE
C4 .01 mfd 400 V film: B- to B2
Z1 load 40 mA: B2 to B-
C21 .01 mfd 250 VAC class Y2: B- to CHASSIS
R20 470K 1/2 W: B- to CHASSIS
"""
UNKNOWN = "R21: B- to CHASSIS\n"


def case_of(text: str, rule: str = "touch-current") -> Case:
    chassis = read(text)
    assert not chassis.findings
    (one,) = [each for each in builtin() if each.name == rule]
    return Case(one, chassis, Circuit(chassis))


def worst(case: Case, ref: str, *, short: bool) -> tuple[float, str] | None:
    asked = asked_states(case)
    points = tried(case, [each.state for each in asked])
    solved = [(a, p) for a, p in zip(asked, points, strict=True) if not isinstance(p, NotSolved)]
    assert len(solved) == len(asked)
    part = case.chassis.part(ref)
    assert part is not None
    found = worst_volts(case, part, solved, short=short)
    return None if found is None else (found.volts, found.said)


def test_a_reservoir_sees_its_ripple_on_top_of_what_lasts() -> None:
    case = case_of(LIVE)
    (high,) = list(tried(case, [asked_states(case)[0].state]))
    assert not isinstance(high, NotSolved)
    direct = high.between("B1", "B-")
    ripple = float(high.supplies[0].cycle.ripple_v.ravel()[0])
    found = worst(case, "C1", short=False)
    assert direct is not None
    assert found is not None
    assert ripple > 1
    assert found == (pytest.approx(direct + ripple / 2), "running, line high")


def test_a_part_elsewhere_sees_the_direct_volts_whichever_end_is_plus() -> None:
    case = case_of(LIVE)
    (high,) = tried(case, [asked_states(case)[0].state])
    assert not isinstance(high, NotSolved)
    direct = high.between("B2", "B-")
    assert direct is not None
    assert direct > 50
    assert worst(case, "C2", short=False) == (pytest.approx(direct), "running, line high")
    assert worst(case, "C4", short=False) == (pytest.approx(direct), "running, line high")


def test_what_passes_is_the_peak_before_the_tubes_are_warm_without_ripple() -> None:
    tube = "V1 6V6GT: plate B2, screen B2, grid B-, cathode B-, heater H to H2"
    found = worst(case_of(LIVE.replace("Z1 load 40 mA: B2 to B-", tube)), "C1", short=True)
    assert found is not None
    # 1.414 x 110 V less the drop of a diode.
    assert found[0] == pytest.approx(2**0.5 * 110, abs=1.5)
    assert found[1] == "no load, line high: CR1 delivers before the tubes are warm"


def test_a_part_that_floats_or_has_two_elements_has_no_worst_volts() -> None:
    case = case_of(LIVE + "R9 tapped, 1000-2000 ohm: B2 to TAP to B-\n")
    assert worst(case, "C3", short=False) is None
    assert worst(case, "R9", short=False) is None


def test_preferred_values_lie_strictly_beyond_the_part_and_within_what_is_sold() -> None:
    assert larger_ohm(470e3)[:3] == [560e3, 680e3, 820e3]
    assert larger_ohm(469e3)[0] == 470e3
    assert larger_ohm(8.2e6) == [10e6]
    assert larger_ohm(10e6) == []
    assert larger_ohm(1e3)[0] == 1.2e3
    assert smaller_f(10e-9)[:3] == pytest.approx([6.8e-9, 4.7e-9, 3.3e-9])
    assert smaller_f(1e-6)[0] == pytest.approx(0.68e-6)
    assert smaller_f(150e-12) == pytest.approx([100e-12])
    assert smaller_f(100e-12) == []


def test_candidates_are_what_passes_less_than_the_part() -> None:
    case = case_of(LIVE + UNKNOWN)
    c21, r20, r21 = (case.chassis.part(ref) for ref in ("C21", "R20", "R21"))
    assert c21 is not None
    assert r20 is not None
    assert r21 is not None
    assert part_value(c21) == 10e-9
    assert part_value(r20) == 470e3
    assert part_value(r21) is None
    assert candidates(c21)[0] == pytest.approx(6.8e-9)
    assert candidates(r20)[0] == 560e3
    assert candidates(r21)[0] == 1e3


def test_a_part_conducts_as_its_value_and_never_better_than_it_did() -> None:
    case = case_of(LIVE + UNKNOWN)
    assert scaled(case, "C21", 5e-9) == pytest.approx(0.5)
    assert scaled(case, "C21", 20e-9) == 1.0
    assert scaled(case, "R20", 940e3) == pytest.approx(0.5)
    assert scaled(case, "R20", 100e3) == 1.0
    assert scaled(case, "R21", 100e3) == 1.0
    assert scaled(case, "R99", 100e3) == 1.0
    assert scales_of(case, {"C21": 5e-9, "R20": 470e3}) == pytest.approx({"C21": 0.5, "R20": 1.0})


def test_the_line_s_highest_over_its_nominal_and_one_where_none_is_stated() -> None:
    assert high_ratio(case_of(LIVE)) == pytest.approx(1.1)
    assert high_ratio(case_of(LIVE.replace("line 100 V 50 Hz +10% -6%\n", ""))) == 1.0


def test_the_limit_is_the_policy_s_on_alternating_current() -> None:
    case = case_of(LIVE)
    assert limit_a(case) == limit_of_ac_a(case) == pytest.approx(0.5e-3)
    for said, limit in (("0.25", 0.25e-3), ("0.75", 0.75e-3), ("7", 0.5e-3)):
        policy = {("touch-current", "limit"): said}
        chosen = Case(case.rule, case.chassis, case.circuit, policy)
        assert limit_of_ac_a(chosen) == pytest.approx(limit)
    direct = case_of(LIVE.replace("100 V 50 Hz", "110 V DC"))
    assert limit_a(direct) == 2e-3
    assert limit_of_ac_a(direct) == pytest.approx(0.5e-3)


def test_metal_is_under_the_limit_with_parts_that_pass_less() -> None:
    case = case_of(LIVE.replace("C21 .01 mfd", "C21 .1 mfd"))
    table = case.circuit.touch.tables[0]
    assert whole_states(case)
    assert not any(state.failed for state in whole_states(case))
    assert len(whole_states(case)) < len(case.circuit.touch.states)
    assert are_under(case, table, [{}, {"C21": 0.04}]) == [False, True]
    assert are_under(case, table, [{"C21": 0.04}], share=0.1) == [False]
