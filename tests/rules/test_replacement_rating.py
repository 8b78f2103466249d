"""Replacements against the parts they replace: volts, values, watts, amperes, reservoirs."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]
RULE = "replacement-rating"


@pytest.mark.parametrize(
    ("part", "fires"),
    [
        # Standard values for old ones, as the trade substitutes them: none may fire.
        ("C1 470 mmf 500 V mica, replaces .0005 mfd 500 V mica", False),
        ("C1 .0022 mfd 630 V film, replaces .002 mfd 600 V paper", False),
        ("C1 .0047 mfd 630 V film, replaces .004 mfd 600 V paper", False),
        ("C1 .0068 mfd 630 V film, replaces .006 mfd 600 V paper", False),
        ("C1 .022 mfd 630 V film, replaces .02 mfd 600 V paper", False),
        ("C1 .047 mfd 630 V film, replaces .05 mfd 600 V paper", False),
        ("C1 .22 mfd 630 V film, replaces .25 mfd 600 V paper", False),
        # Off in value.
        ("C1 .1 mfd 630 V film, replaces .01 mfd 600 V paper", True),
        ("C1 .0047 mfd 630 V film, replaces .01 mfd 600 V paper", True),
        ("C1 .01 mfd 630 V film or .1 mfd, replaces .01 mfd 600 V paper", True),
        ("C1 .01 mfd 630 V film, measured .013 mfd, replaces .01 mfd 600 V paper", True),
        # Fewer volts, whatever the value; the worse of two alternates counts.
        ("C1 .01 mfd 400 V film, replaces .01 mfd 600 V paper", True),
        ("C1 .01 mfd 630 V film or 400 V, replaces .01 mfd 600 V paper", True),
        ("C1 .01 mfd 630 V film or 1 kV, replaces .01 mfd 600 V paper", False),
        # AC and DC.
        ("C1 .01 mfd 250 VAC film, replaces .01 mfd 400 V paper", True),
        ("C1 .01 mfd 300 VAC film, replaces .01 mfd 400 V paper", False),
        ("C1 .01 mfd 630 V film, replaces .01 mfd 250 VAC paper", True),
        ("C1 .01 mfd 275 VAC film, replaces .01 mfd 250 VAC paper", False),
        ("C1 .01 mfd 250 VAC class Y2, replaces .2 mfd 400 V paper", False),
    ],
)
def test_capacitors(linted: Linted, part: str, fires: bool) -> None:
    assert bool(linted(RULE, f"{part}: X1 to X2").findings) is fires


@pytest.mark.parametrize(
    ("mfd", "fires"), [("39", True), ("40", False), ("100", False), ("102", True)]
)
def test_electrolytics_from_a_fifth_less_to_twice(linted: Linted, mfd: str, fires: bool) -> None:
    part = f"C1 {mfd} mfd 160 V electrolytic, replaces 50 mfd 150 V electrolytic: + X1, - B-"
    assert bool(linted(RULE, part).findings) is fires


@pytest.mark.parametrize(("mmf", "fires"), [("101", False), ("97", True), ("120", True)])
def test_tuned_circuits_are_held_to_two_percent(linted: Linted, mmf: str, fires: bool) -> None:
    text = (
        f"C1 {mmf} mmf 500 V mica, replaces 100 mmf 500 V mica: X1 to X2\n"
        "T1 IF, 455 kc: primary X1 to X2, secondary X3 to X4\n"
    )
    found = linted(RULE, text).findings
    assert bool(found) is fires
    assert all("tuned circuit" in each.message for each in found)


@pytest.mark.parametrize(
    ("part", "harm"),
    [
        ("R1 47K 1/2 W, replaces 47K 1 W", Harm.DAMAGE),
        ("R1 47K 1 W, replaces 47K 1 W", None),
        ("R1 56K 1 W, replaces 47K 1 W", None),
        ("R1 68K 1 W, replaces 47K 1 W", Harm.PERFORMANCE),
        ("R1 51K 1 W, replaces 47K 1 W 5%", Harm.PERFORMANCE),
        ("F1 1/2 A 250 V, replaces 1/2 A 125 V", None),
        ("F1 1/2 A 125 V, replaces 1/2 A 250 V", Harm.SHOCK),
        ("F1 0.8 A 250 V, replaces 0.25 A 250 V", Harm.SHOCK),
        ("F1 0.2 A 250 V, replaces 0.25 A 250 V", None),
    ],
)
def test_resistors_and_fuses(linted: Linted, part: str, harm: Harm | None) -> None:
    found = linted(RULE, f"{part}: X1 to X2").findings
    assert [each.harm for each in found] == ([] if harm is None else [harm])


def test_too_few_ohms_under_a_cathode_are_worse(linted: Linted) -> None:
    stage = "V4 50C5: plate B+, screen B+, g1 B-, cathode KOUT, heater H1 to B-\nR12 "
    (low,) = linted(RULE, stage + "100 ohm 1 W, replaces 150 ohm 1 W: KOUT to B-").findings
    (high,) = linted(RULE, stage + "220 ohm 1 W, replaces 150 ohm 1 W: KOUT to B-").findings
    assert (low.harm, high.harm) == (Harm.DAMAGE, Harm.PERFORMANCE)


def test_an_unstated_rating_is_not_cleared(linted: Linted) -> None:
    report = linted(RULE, "C1 .01 mfd film, replaces .01 mfd 600 V paper: X1 to X2")
    assert not report.findings
    assert [n.parts for n in report.not_checked] == [("C1",)]


RECTIFIER = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
V5 {tube}: plate LINE, cathode B1, heater LINE to H4
R1 47 ohm 1 W: B1 to B2
C2 100 mfd 160 V electrolytic, new: + B3, - B-
R2 1K 2 W: B2 to B3
"""


@pytest.mark.parametrize(
    ("tube", "part", "fires"),
    [
        ("35W4", "47 mfd 160 V electrolytic, new", False),
        ("35W4", "47 mfd 160 V electrolytic, replaces 50 mfd 150 V electrolytic", False),
        ("35W4", "50 mfd 160 V electrolytic, replaces 50 mfd 150 V electrolytic", False),
        ("35W4", "68 mfd 160 V electrolytic, replaces 50 mfd 150 V electrolytic", True),
        ("35W4", "68 mfd 160 V electrolytic, new", True),
        ("35W4", "68 mfd 160 V electrolytic", False),
        ("1V", "68 mfd 450 V electrolytic, new", False),
    ],
)
def test_reservoirs_against_their_tube(linted: Linted, tube: str, part: str, fires: bool) -> None:
    """An original one is the maker's choice; a tube without a published figure is not judged."""
    text = RECTIFIER.format(tube=tube) + f"C1 {part}: + B2, - B-\n"
    found = linted(RULE, text).findings
    assert bool(found) is fires
    assert all(each.parts == ("C1", "V5") for each in found)


def test_too_large_a_reservoir_is_one_finding(linted: Linted) -> None:
    part = "C1 220 mfd 160 V electrolytic, replaces 50 mfd 150 V electrolytic: + B2, - B-\n"
    assert len(linted(RULE, RECTIFIER.format(tube="35W4") + part).findings) == 1
