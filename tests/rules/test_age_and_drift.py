"""Old parts and drifted ones: grouping, policies, and what is not known."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]

AGED = "aged-capacitor"


@pytest.mark.parametrize(
    ("words", "fires"),
    [
        ("paper", True), ("wax paper", True), ("moulded paper", True), ("moulded", True),
        ("oil", True), ("bathtub", True), ("metallized paper class X2", True), ("mica", False),
        ("moulded mica", False), ("silver mica", False), ("ceramic disc", False), ("film", False),
        ("polyester", False), ("polystyrene", False), ("paper film", True),
        ("tubular ceramic", False),
    ],
)  # fmt: skip
def test_which_kinds_age(linted: Linted, words: str, fires: bool) -> None:
    report = linted(AGED, f"C1 .01 mfd 250 VAC {words}: X1 to X2")
    assert bool(report.findings) is fires
    assert not report.not_checked


@pytest.mark.parametrize(
    "state", ["new", "restuffed", "removed", "not fitted", "replaces .01 mfd 400 V paper"]
)
def test_what_is_not_original_is_silent(linted: Linted, state: str) -> None:
    assert not linted(AGED, f"C1 .01 mfd 400 V paper, {state}: X1 to X2").findings


def test_what_is_not_said_is_not_cleared(linted: Linted) -> None:
    report = linted(AGED, "C1 .01 mfd 400 V: X1 to X2\nC2 10-420 mmf: X1 to X2")
    assert not report.findings
    assert [n.parts for n in report.not_checked] == [("C1",)]


def test_paper_and_electrolytics_are_two_findings_with_all_lines(linted: Linted) -> None:
    text = (
        "C1 .05 mfd 400 V paper: X1 to B-\nC2 8 mfd 450 V electrolytic: + X2, - B-\n"
        "C3 .01 mfd 400 V wax paper: X1 to X2\nC4 25 mfd 25 V electrolytic: + X3, - B-\n"
    )
    paper, electrolytic = linted(AGED, text).findings
    assert (paper.parts, electrolytic.parts) == (("C1", "C3"), ("C2", "C4"))
    assert [related.span.line for related in electrolytic.related] == [4]
    assert [c.value for c in electrolytic.calc] == [pytest.approx(0.62), pytest.approx(0.55)]


@pytest.mark.parametrize(
    ("reading", "cleared"),
    [
        ("reading C1 leakage 1 mA at 450 V", True),  # limit 1.10 mA for 20 mfd 450 V
        ("reading C1 leakage 1.2 mA at 450 V", False),
        ("", False),
    ],
)
def test_a_reformed_electrolytic_has_a_limit(linted: Linted, reading: str, cleared: bool) -> None:
    text = f"C1 20 mfd 450 V electrolytic: + X1, - B-\n{reading}\n"
    reform = "policy aged-capacitor electrolytics reform\n"
    assert bool(linted(AGED, reform + text).findings) is not cleared
    assert linted(AGED, text).findings, "without the policy no reading clears it"


def test_only_a_capacitor_on_the_supply_bursts(linted: Linted) -> None:
    text = (
        "hold B1 250 V\nV4 6V6GT: plate B1, screen B1, g1 B-, cathode KOUT, heater HA to B-\n"
        "R12 220 ohm: KOUT to B-\nC7 25 mfd 25 V electrolytic: + KOUT, - B-\n"
    )
    (bypass,) = linted(AGED, text).findings
    assert bypass.harm is Harm.DAMAGE
    (both,) = linted(AGED, text + "C8 8 mfd 450 V electrolytic: + B1, - B-\n").findings
    assert both.harm is Harm.BURST


@pytest.mark.parametrize(
    ("part", "policy", "fires"),
    [
        ("470K 10%, measured 516K", "", False),
        ("470K 10%, measured 518K", "", True),
        ("470K 5%, measured 500K", "", True),
        ("470K, measured 560K", "", False),
        ("470K, measured 570K", "", True),
        ("470K, measured 375K", "", True),
        ("470K 5%, measured 500K", "10", False),
        ("470K 20%, measured 540K", "10", True),
        ("470K 5%, measured 560K", "20", False),
        ("500K control, measured 640K", "", False),
        ("500K control, measured 660K", "", True),
        ("470K 10%, measured ?", "", False),
    ],
)
def test_drift_against_its_limit(linted: Linted, part: str, policy: str, fires: bool) -> None:
    text = f"policy resistor-drift limit {policy}\n" * bool(policy) + f"R1 {part}: X1 to X2"
    assert bool(linted("resistor-drift", text).findings) is fires


def test_a_low_bias_resistor_is_damage(linted: Linted) -> None:
    stage = "V4 50C5: plate B+, screen B+, g1 B-, cathode KOUT, heater H1 to B-\n"
    (low,) = linted(
        "resistor-drift", stage + "R12 150 ohm 10%, measured 100 ohm: KOUT to B-"
    ).findings
    (high,) = linted(
        "resistor-drift", stage + "R12 150 ohm 10%, measured 200 ohm: KOUT to B-"
    ).findings
    assert (low.harm, high.harm) == (Harm.DAMAGE, Harm.PERFORMANCE)
    assert "lift one end" in low.action
    assert "fit 150 ohm" in high.action


@pytest.mark.parametrize(
    ("other", "fires"),
    [
        ("C9 47 mfd 160 V electrolytic, new: + B1, - B-", True),
        ("C9 47 mfd 160 V electrolytic: + B1, - B-", False),
        ("C9 .1 mfd 630 V film, new: B1 to B-", False),
        ("C9 47 mfd 160 V electrolytic, new: + B2, - B-", False),
        ("C9 47 mfd 160 V electrolytic, removed: + B1, - B-", False),
    ],
)
def test_an_old_one_beside_its_replacement(linted: Linted, other: str, fires: bool | None) -> None:
    old = "C1 50 mfd 150 V electrolytic: + B1, - B-\n"
    assert bool(linted("parallel-original", old + other).findings) is fires


def test_a_reservoir_left_in_parallel_is_held_against_its_tube(linted: Linted) -> None:
    text = (
        "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\n"
        "V5 35W4: plate LINE, cathode B1, heater LINE to H4\n"
        "C1 30 mfd 150 V electrolytic: + B1, - B-\nC9 22 mfd 160 V electrolytic, new: + B1, - B-\n"
    )
    (found,) = linted("parallel-original", text).findings
    assert (found.calc[0].value, found.calc[0].limit) == (pytest.approx(52), pytest.approx(40))
    assert not linted("replacement-rating", text).findings, "one cause is told once"


@pytest.mark.parametrize(
    ("text", "fires"),
    [
        ("P1 plug, polarized, rubber cord: hot LINE, neutral B-", True),
        ("P1 plug, polarized, rubber cord, new: hot LINE, neutral B-", False),
        ("P1 plug, polarized, plastic cord: hot LINE, neutral B-", False),
        ("P2 speaker, cloth cord: 1 X1, 2 X2", False),
        ("R1 cord, 135 ohm: LINE to H5", True),
        ("R1 135 ohm 20 W dropper: LINE to H5", False),
    ],
)
def test_cords(linted: Linted, text: str, fires: bool) -> None:
    report = linted("aged-cord", text)
    assert bool(report.findings) is fires
    assert not report.not_checked


def test_a_cord_that_is_not_described_is_not_cleared(linted: Linted) -> None:
    report = linted("aged-cord", "P1 plug, polarized: hot LINE, neutral B-")
    assert not report.findings
    assert [n.parts for n in report.not_checked] == [("P1",)]


@pytest.mark.parametrize(
    ("anode", "says"), [("LINE", "for 364 V or more inverse"), ("HTB", "2.83 times the AC volts")]
)
def test_inverse_volts_of_the_line_are_not_those_of_a_winding(
    linted: Linted, anode: str, says: str
) -> None:
    """2 x 1.414 x 117 V x 1.1; a bias stack on the high winding stands another voltage."""
    text = (
        "line 117 V 60 Hz\nP1 plug, not polarized: 1 LINE, 2 B-\n"
        "T1 power, primary 117 V, high 300-0-300 V: primary LINE to B-, high HTA to CT to HTB\n"
        f"CR1 selenium 75 mA: anode {anode}, cathode RAIL\n"
    )
    (found,) = linted("aged-rectifier", text).findings
    assert says in found.action


@pytest.mark.parametrize(
    ("tube", "harm"),
    [
        ("V7A 12AU7: plate PLATE, grid B-, cathode KATH", Harm.PERFORMANCE),
        ("V7 12SK7: plate PLATE, screen PLATE, g1 B-, g3 B-, cathode KATH", Harm.PERFORMANCE),
        ("V7 6V6GT: plate PLATE, screen PLATE, g1 B-, cathode KATH", Harm.DAMAGE),
    ],
)
def test_a_low_cathode_resistor_harms_where_there_are_watts(
    linted: Linted, tube: str, harm: Harm
) -> None:
    (found,) = linted("resistor-drift", f"{tube}\nR1 1K 5%, measured 897 ohm: KATH to B-").findings
    assert found.harm is harm


@pytest.mark.parametrize(
    ("told", "fires"), [("", True), (", replaces .05 mfd 400 V paper", True),
                        (", replaces .25 mfd 400 V paper", False)],
)  # fmt: skip
def test_a_new_part_that_replaces_another_value_stands_beside_the_old_one(
    linted: Linted, told: str, fires: bool
) -> None:
    text = f"C3 .05 mfd 400 V paper: B+ to B-\nC9 .1 mfd 630 V film, new{told}: B+ to B-"
    assert bool(linted("parallel-original", text).findings) is fires
