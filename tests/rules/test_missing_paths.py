"""Grids, cathodes, plates without their DC path: what is told, and what is left unsaid."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]

SUPPLY = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
V5 35W4: plate LINE, cathode B1, heater LINE to H4
C1 47 mfd 160 V electrolytic, new: + B1, - B-
"""
TUBE = "V4 50C5: plate PLATE, screen B1, g1 DRIVE, cathode KOUT, heater H4 to B-\n"
LOAD = "T2 output, 2500 ohm to 4 ohm: primary B1 to PLATE, secondary VC to VCR\n"
LEAK = "R9 470K: DRIVE to B-\n"
BIAS = "R12 150 ohm: KOUT to B-\n"
COUPLING = "C14 .01 mfd 400 V film: X1 to DRIVE\n"
BYPASS = "C7 22 mfd 25 V electrolytic: + KOUT, - B-\n"
TONE = "C9 .02 mfd 600 V film: PLATE to B-\n"
RULES = {
    "grid-return": (TUBE + LOAD + BIAS + COUPLING, "DRIVE"),
    "cathode-return": (TUBE + LOAD + LEAK + BYPASS, "KOUT"),
    "plate-supply": (TUBE + LEAK + BIAS + TONE, "PLATE"),
}
WAYS = [pytest.param(name, text, node, id=name) for name, (text, node) in RULES.items()]


@pytest.mark.parametrize(("name", "text", "node"), WAYS)
def test_the_missing_path_is_told_once(linted: Linted, name: str, text: str, node: str) -> None:
    (found,) = linted(name, SUPPLY + text).findings
    assert found.nodes == (node,)
    assert found.harm is Harm.DAMAGE
    assert node in found.action


@pytest.mark.parametrize(("name", "text", "node"), WAYS)
@pytest.mark.parametrize(
    "more",
    [
        "J1 phono: {node}",
        "Z1 load 35 mA: {node} to FURTHER",
        "R99 10K: {node} to FURTHER\nP2 speaker: 1 FURTHER",
    ],
)
def test_what_leads_out_or_is_not_traced_is_not_judged(
    linted: Linted, name: str, text: str, node: str, more: str
) -> None:
    report = linted(name, SUPPLY + text + more.format(node=node) + "\n")
    assert not report.findings
    assert report.not_checked


@pytest.mark.parametrize(("name", "text", "node"), WAYS)
def test_a_part_that_cannot_be_read_quiets_the_rule(name: str, text: str, node: str) -> None:
    from netcheck.language import read
    from netcheck.rules import builtin
    from netcheck.rules._runner import lint

    chassis = read(SUPPLY + text + f"R99 470K 1/2 X: {node} to B-\n")
    assert chassis.findings
    report = lint(chassis, [rule for rule in builtin() if rule.name == name])
    assert not report.findings
    assert report.not_checked


@pytest.mark.parametrize("name", RULES)
def test_a_whole_stage_is_silent(linted: Linted, name: str) -> None:
    report = linted(name, SUPPLY + TUBE + LOAD + LEAK + BIAS + COUPLING + BYPASS + TONE)
    assert not report.findings
    assert not report.not_checked


@pytest.mark.parametrize("name", ["grid-return", "cathode-return"])
def test_without_any_return_nothing_is_judged(linted: Linted, name: str) -> None:
    text = "V4 50C5: plate PLATE, g1 DRIVE, cathode KOUT\nC1 .1 mfd film: DRIVE to KOUT\n"
    report = linted(name, text)
    assert not report.findings
    assert len(report.not_checked) == 1


def test_without_any_supply_no_plate_is_judged(linted: Linted) -> None:
    report = linted("plate-supply", TUBE + TONE)
    assert not report.findings
    assert len(report.not_checked) == 1


@pytest.mark.parametrize(
    ("ohm", "harm"),
    [("470K", None), ("500K", None), ("680K", Harm.PERFORMANCE), ("1.2 meg", Harm.DAMAGE)],
)
def test_the_grid_circuit_against_the_published_maximum(
    linted: Linted, ohm: str, harm: Harm | None
) -> None:
    text = SUPPLY + TUBE + LOAD + BIAS + COUPLING + f"R9 {ohm}: DRIVE to B-\n"
    found = linted("grid-return", text).findings
    assert [each.harm for each in found] == ([] if harm is None else [harm])


def test_a_battery_in_the_return_is_fixed_bias(linted: Linted) -> None:
    text = TUBE + BIAS + COUPLING + "R9 220K: DRIVE to BIAS\nBT1 4.5 V C-battery: + B-, - BIAS\n"
    (found,) = linted("grid-return", SUPPLY + LOAD + text).findings
    assert "with fixed bias" in found.message
    assert found.calc[0].limit == pytest.approx(100)


def test_an_unknown_resistor_in_the_return_is_not_cleared(linted: Linted) -> None:
    report = linted("grid-return", SUPPLY + TUBE + LOAD + BIAS + "R9 ?: DRIVE to B-\n")
    assert not report.findings
    assert [n.parts for n in report.not_checked] == [("R9",)]


def test_one_open_choke_is_one_finding_for_all_it_feeds(linted: Linted) -> None:
    text = SUPPLY + LEAK + BIAS + (
        "V4 50C5: plate PLATE, screen B2, g1 DRIVE, cathode KOUT, heater H4 to H3\n"
        "T2 output, 2500 ohm: primary B2 to PLATE\n"
        "V3 12AV6: plate PL3, grid B-, cathode B-, diode1 B-, diode2 B-, heater H3 to B-\n"
        "R7 470K: B2 to PL3\nL1 choke 10 H, removed: B1 to B2\n"
    )  # fmt: skip
    (found,) = linted("plate-supply", text).findings
    assert found.parts == ("V4", "V3")
    assert len(found.related) == 2


@pytest.mark.parametrize(
    ("resistor", "harm"),
    [
        ("470K 10%, measured 505K", None),
        # A good one that has come down to the limit returns the grid well enough.
        ("560K 10%, measured 490K", None),
        ("560K 10%", Harm.PERFORMANCE),
        ("560K 10%, measured 600K", Harm.PERFORMANCE),
        # Drifted so far it no longer matters what is printed on it.
        ("470K 10%, measured 1.2 meg", Harm.DAMAGE),
        ("470K 10%, measured 2.2 meg", Harm.DAMAGE),
    ],
)
def test_the_maximum_is_held_against_the_printed_value(
    linted: Linted, resistor: str, harm: Harm | None
) -> None:
    text = SUPPLY + TUBE + LOAD + BIAS + f"R9 {resistor}: DRIVE to B-\n"
    assert [f.harm for f in linted("grid-return", text).findings] == ([harm] if harm else [])
