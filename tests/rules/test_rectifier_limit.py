"""Rectifiers against their limits, one figure at a time, and what is told elsewhere."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Finding, Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]
RULE = "rectifier-limit"

LIVE = """
line {line}
P1 plug, polarized: hot LINE, neutral B-
{rectifier}
C1 {reservoir}: + B1, - B-
Z1 load {load}: B1 to B-
"""
TUBE = (
    "R2 {ohm} ohm 5 W: LINE to PLATE\nV5 35W4: plate PLATE, cathode B1, heater LINE to open to H4\
\nR1 550 ohm 30 W: H4 to B-"
)


def live(
    linted: Linted, rectifier: str, *, load: str = "60 mA", line: str = "117 V 60 Hz",
    reservoir: str = "33 mfd 250 V electrolytic",
) -> Report:  # fmt: skip
    return linted(RULE, LIVE.format(line=line, rectifier=rectifier, load=load, reservoir=reservoir))


def names(findings: tuple[Finding, ...]) -> list[str]:
    return [calculation.name for each in findings for calculation in each.calc]


@pytest.mark.parametrize(
    ("load", "over"), [("60 mA", []), ("99 mA", []), ("110 mA", ["mean output"])]
)
def test_output_of_a_tube(linted: Linted, load: str, over: list[str]) -> None:
    report = live(linted, TUBE.format(ohm=47), load=load)
    assert names(report.findings) == over
    assert not report.not_checked


def test_a_thin_source_raises_the_peak_and_is_named(linted: Linted) -> None:
    """35W4: at least 15 ohm, 600 mA of peak plate current."""
    (bare,) = live(linted, TUBE.format(ohm=1), load="95 mA").findings
    assert names((bare,)) == ["peak plate current", "resistance before a plate"]
    assert bare.harm is Harm.DAMAGE
    (light,) = live(linted, TUBE.format(ohm=1), load="30 mA").findings
    assert names((light,)) == ["resistance before a plate"]
    assert light.harm is Harm.PERFORMANCE
    assert "14 ohm" in light.action


def test_a_reservoir_that_somebody_fitted_is_told_by_replacement_rating(linted: Linted) -> None:
    """The peak that follows from it is the same cause; the maker's own reservoir has no other."""
    text = TUBE.format(ohm=16)
    new = "220 mfd 250 V electrolytic, replaces 40 mfd 150 V electrolytic"
    assert "peak plate current" not in names(
        live(linted, text, load="95 mA", reservoir=new).findings
    )
    old = "220 mfd 250 V electrolytic"
    assert names(live(linted, text, load="95 mA", reservoir=old).findings) == ["peak plate current"]


@pytest.mark.parametrize(
    ("diode", "over"),
    [
        ("silicon 1000 V 1 A", []),
        ("silicon 400 V 1 A", []),
        # 2 x 1.414 x 128.7 V = 364 V without load at the highest line.
        ("silicon 350 V 1 A", ["peak inverse volts"]),
        ("selenium 130 VAC 100 mA", []),
        ("selenium 115 VAC 100 mA", ["input volts"]),
        ("selenium 130 VAC 50 mA", ["mean current"]),
    ],
)
def test_diodes_at_the_highest_line(linted: Linted, diode: str, over: list[str]) -> None:
    text = f"R2 47 ohm 5 W: LINE to ANODE\nCR1 {diode}: anode ANODE, cathode B1"
    assert names(live(linted, text, line="117 V 60 Hz 10%").findings) == over


def test_what_has_no_figure_is_not_cleared(linted: Linted) -> None:
    text = "R2 47 ohm 5 W: LINE to ANODE\nCR1 silicon: anode ANODE, cathode B1"
    report = live(linted, text)
    assert not report.findings
    assert [n.parts for n in report.not_checked] == [("CR1",)]


def test_volts_are_checked_where_the_set_is_not_solved(linted: Linted) -> None:
    text = "R2 47 ohm 5 W: LINE to ANODE\nCR1 silicon 200 V 1 A: anode ANODE, cathode B1"
    report = live(linted, text + "\nR9 ?: B1 to B-")
    assert names(report.findings) == ["peak inverse volts"]
    assert any("currents" in n.reason for n in report.not_checked)


def test_a_line_that_is_far_too_high_for_the_tube(linted: Linted) -> None:
    """35W4: 330 V of peak inverse, design-centre; 234 V rms give some 560 V."""
    text = TUBE.format(ohm=220).replace("550 ohm", "1400 ohm")
    (found,) = live(linted, text, line="234 V 50 Hz").findings
    assert "peak inverse volts" in names((found,))


@pytest.mark.parametrize(
    ("across", "load", "fires"),
    [
        ("DS1 lamp 47: LINE to TAP\n", "55 mA", False),
        ("DS1 lamp 47: LINE to TAP\n", "70 mA", True),
        ("DS1 lamp 47: LINE to TAP\nR3 150 ohm: LINE to TAP\n", "70 mA", False),
        ("DS1 lamp 47: LINE to TAP\nR3 150 ohm: LINE to TAP\n", "98 mA", True),
        ("R3 39 ohm: LINE to TAP\n", "70 mA", False),
    ],
)
def test_a_lamp_on_the_tap_takes_its_share(
    linted: Linted, across: str, load: str, fires: bool
) -> None:
    text = (
        "V5 35W4: plate TAP, cathode B1, heater LINE to TAP to H4\nR1 550 ohm 30 W: H4 to B-\n"
        + across
    )
    assert ("mean output" in names(live(linted, text, load=load).findings)) is fires


def test_a_short_is_told_by_supply_short(linted: Linted) -> None:
    text = TUBE.format(ohm=47) + "\nR9 470 ohm 50 W: B1 to B-"
    assert "mean output" not in names(live(linted, text).findings)


def test_a_cold_output_tube_leaves_a_heated_rectifier_without_load(linted: Linted) -> None:
    """2 x 1.414 x 127 V = 359 V, less what lamp and tap take, against 330 V; loaded it is below."""
    text = """line 127 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
V5 35W4: plate TAP, cathode B1, heater LINE to TAP to H4
DS1 lamp 47: LINE to TAP
R1 600 ohm 20 W: H4 to B-
C1 33 mfd 250 V electrolytic, new: + B1, - B-
Z1 load 55 mA: B1 to B-
"""
    (found,) = linted("rectifier-limit", text).findings
    assert "V of peak inverse once nothing loads it" in found.message
    assert 340 < found.calc[0].value < 359
    assert found.harm is Harm.RECORD
    assert found.state == "nominal, no load"
