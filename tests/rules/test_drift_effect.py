"""What a drifted resistor does to the chart, against the set solved twice by itself."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.circuit import Circuit
from netcheck.language import read
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]
RULE = "resistor-drift"

STAGE = """
{policy}
hold B+ 90 V
V3 12AV6: plate PLATE, grid VOL, cathode B-, diode1 open, diode2 open, heater H1 to B-
R8 10 meg 1/2 W, new: VOL to B-
R7 470K 1/2 W {band}, new{measured}: B+ to PLATE
"""


def stage(measured: str = "", policy: str = "", band: str = "10%") -> str:
    return STAGE.format(measured=measured, policy=policy, band=band)


def plate_v(text: str) -> float:
    return Circuit(read(text)).operating.point().volts("PLATE") or 0.0


def test_the_effect_is_the_difference_of_two_charts(linted: Linted) -> None:
    (found,) = linted(RULE, stage(", measured 705K")).findings
    printed, measured = plate_v(stage()), plate_v(stage(", measured 705K"))
    assert printed - measured > 3
    assert f"V3's plate by {measured - printed:+.3g} V" in found.message
    moved = {each.name: each.value for each in found.calc}["V3 plate"]
    assert moved == pytest.approx(measured, abs=1e-3)


@pytest.mark.parametrize(
    ("measured", "band", "policy", "fires"),
    [
        # 13 % up moves the plate by 4 %, 80 % up by more than a tenth.
        ("531K", "10%", "tolerance", True),
        ("531K", "10%", "effect", False),
        ("850K", "10%", "effect", True),
        # Within a wide band, and yet seen on the chart.
        ("300K", "50%", "tolerance", False),
        ("300K", "50%", "effect", True),
    ],
)
def test_who_judges_by_the_effect(
    linted: Linted, measured: str, band: str, policy: str, fires: bool
) -> None:
    text = stage(f", measured {measured}", f"policy resistor-drift limit {policy}", band)
    assert bool(linted(RULE, text).findings) is fires


def test_where_nothing_moves_it_is_said(linted: Linted) -> None:
    text = stage() + "R9 1M 10%, new, measured 1.5M: X1 to X2\n"
    (found,) = linted(RULE, text).findings
    assert found.message.endswith("it moves no electrode's volts")


def test_a_set_that_is_not_solved_is_judged_by_tolerance(linted: Linted) -> None:
    text = stage(", measured 705K") + "R9 ?: B+ to B-\n"
    (found,) = linted(RULE, text).findings
    assert "moves" not in found.message
    by_effect = linted(RULE, stage(", measured 705K", "policy resistor-drift limit effect")
                       + "R9 ?: B+ to B-\n")  # fmt: skip
    assert by_effect.findings
    assert [n.parts for n in by_effect.not_checked] == [("R7",)]
