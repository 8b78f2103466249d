"""What a shorted bypass burns, by hand."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]


STAGE = """
line none
hold B+ 250 V
V2 6SK7: plate V2.plate, screen SCREEN, suppressor B-, grid IN, cathode K2, shell B-,
   heater H1 to B-
R2 300 ohm 1/2 W: K2 to B-
R3 1 meg 1/2 W: IN to B-
T1 IF, 455 kc, primary 10 ohm, secondary 10 ohm: primary B+ to V2.plate, secondary X to Y
R1 {dropper}: B+ to SCREEN
C9 .1 mfd 630 V film, new: SCREEN to B-
C8 .1 mfd 630 V film, new: K2 to B-
"""


@pytest.mark.parametrize(("dropper", "fires"), [("33K 1 W", True), ("33K 2 W", False)])
def test_the_screen_resistor_takes_the_whole_supply(
    linted: Linted, dropper: str, fires: bool
) -> None:
    found = linted("bypass-short", STAGE.format(dropper=dropper)).findings
    assert bool(found) is fires
    for each in found:
        assert each.harm is Harm.RECORD
        assert each.parts == ("C9",), "C8 costs the bias only: nothing burns"
        assert each.calc[0].value == pytest.approx(250**2 / 33e3, rel=1e-4)
        assert each.calc[0].limit == 1.0


def test_all_of_a_set_are_one_finding_with_a_line_for_each(linted: Linted) -> None:
    more = "R5 10K 1 W: B+ to FEED\nR6 100K 1 W: FEED to B-\nC7 .05 mfd 630 V film: FEED to B-\n"
    (found,) = linted("bypass-short", STAGE.format(dropper="33K 1 W") + more).findings
    assert found.parts == ("C9", "C7")
    assert len(found.related) == 2
    assert "C7 would burn other parts" in found.message


def test_bypasses_of_one_resistor_are_told_alike(linted: Linted) -> None:
    text = STAGE.format(dropper="33K 1 W") + "C10 .05 mfd 630 V film, new: SCREEN to B-\n"
    (found,) = linted("bypass-short", text).findings
    assert found.parts == ("C9", "C10")
    assert found.message.endswith("; C10 likewise")


def test_the_winding_behind_a_plate_bypass_is_told_by_its_current(linted: Linted) -> None:
    text = """
line none
hold B+ 250 V
V4 6V6GT: plate T2.plate, screen B+, g1 DRIVE, cathode KOUT, heater H1 to B-
R9 470K 1/2 W: DRIVE to B-
R12 250 ohm 2 W: KOUT to B-
T2 output, 5000 ohm to 4 ohm, primary 300 ohm: primary B+ to T2.plate, secondary VC to VCR
C20 .006 mfd 1600 V film, new: T2.plate to B-
"""
    (found,) = linted("bypass-short", text).findings
    assert "through T2" in found.message
    hot_ohm = 300 * 1.10  # copper of a running output primary
    assert found.calc[0].value == pytest.approx(250 / hot_ohm * 1e3, rel=1e-3)


def test_an_unsolved_set_is_not_cleared(linted: Linted) -> None:
    report = linted("bypass-short", STAGE.format(dropper="? 1 W"))
    assert not report.findings
    assert any("R1" in each.reason for each in report.not_checked)
