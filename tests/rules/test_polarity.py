"""Polarized capacitors the wrong way round, in the states that show it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]


BACK_BIAS = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
T1 power, high 285-0-285 V 180 ohm each, rectifier 5 V 2 A:
   primary LINE to COLD, high HA to CT to HB, rectifier B+ to FIL
V5 80: plate1 HA, plate2 HB, filament B+ to FIL
R25 250 ohm 5 W: CHASSIS to CT
R1 10K 25 W: B+ to CHASSIS
C16 10 mfd 500 V electrolytic, new: + B+, - CT
"""


@pytest.mark.parametrize(("ends", "fires"), [("+ CT, - CHASSIS", True), ("+ CHASSIS, - CT", False)])
def test_in_the_negative_lead_the_chassis_is_plus(linted: Linted, ends: str, fires: bool) -> None:
    text = BACK_BIAS + f"C25 10 mfd 50 V electrolytic, new: {ends}\n"
    found = linted("polarity", text).findings
    assert bool(found) is fires
    for each in found:
        assert each.harm is Harm.BURST
        assert "+ belongs on CHASSIS" in each.action
        assert each.span.line == 10


@pytest.mark.parametrize(("volts", "fires"), [("0.4", False), ("0.6", True)])
def test_half_a_volt_does_no_harm(linted: Linted, volts: str, fires: bool) -> None:
    text = f"line none\nhold RAIL {volts} V\nR1 1K 1 W: RAIL to B-\n"
    text += "C1 1 mfd 9 V electrolytic: + B-, - RAIL\n"
    assert bool(linted("polarity", text).findings) is fires


def test_what_is_reversed_only_while_cold_is_found(linted: Linted) -> None:
    """Warm, the cathode of V4 stands above the divider; cold, it rests below it."""
    text = """
line none
hold B+ 250 V
V4 6V6GT: plate B+, screen B+, g1 DRIVE, cathode KOUT, heater H1 to B-
R9 470K 1/2 W: DRIVE to B-
R12 470 ohm 2 W: KOUT to B-
R1 100K 2 W: B+ to MID
R2 4.7K 1 W: MID to B-
C15 22 mfd 50 V electrolytic, new: + KOUT, - MID
"""
    (found,) = linted("polarity", text).findings
    assert found.state == "no load, line high"


def test_without_a_solution_a_plain_reversal_is_still_told(linted: Linted) -> None:
    more = "R99 ? 1 W: B+ to X\nC17 10 mfd 500 V electrolytic, new: {}\n"
    wrong = linted("polarity", BACK_BIAS + more.format("+ CT, - B+"))
    (found,) = wrong.findings
    assert found.parts == ("C17",)
    assert any("R99" in each.reason for each in wrong.not_checked)
    right = linted("polarity", BACK_BIAS + more.format("+ B+, - CT"))
    assert not right.findings
    assert right.not_checked
