"""Watts of resistors against their rating, by hand where a hand can do it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.circuit import Circuit
from netcheck.circuit.roles import Role
from netcheck.findings import Harm
from netcheck.language import read
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]


HELD = "line none\nhold B+ 250 V\nZ1 load 20 mA: B2 to B-\n"
LINE = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
CR1 silicon diode: anode AC, cathode B1
R3 {surge}: LINE to AC
C1 47 mfd 250 V electrolytic, new: + B1, - B-
R1 10K {watts} W: B1 to B-
"""


@pytest.mark.parametrize(
    ("rating", "harm"),
    [("1/2 W", Harm.DAMAGE), ("1 W", Harm.RECORD), ("2 W", None)],
)
def test_watts_are_those_of_the_hand(linted: Linted, rating: str, harm: Harm | None) -> None:
    found = linted("dissipation", HELD + f"R10 2.2K {rating}: B+ to B2\n").findings
    assert [each.harm for each in found] == ([harm] if harm else [])
    for each in found:
        assert each.calc[0].value == pytest.approx(0.02**2 * 2200, rel=1e-5)


def test_what_is_over_at_the_highest_line_only_is_said_so(linted: Linted) -> None:
    # 165 V peak: 2.7 W at most at 117 V, 3.2 W at 129 V (nearly the peak at this light load).
    (found,) = linted("dissipation", LINE.format(surge="47 ohm 5 W", watts="2.7")).findings
    assert found.state == "line high"
    assert found.harm is Harm.DAMAGE
    nominal, high = (calc.value for calc in found.calc)
    assert nominal <= 2.7 < high
    assert high / nominal == pytest.approx(1.21, rel=0.02)


def test_a_surge_resistor_is_judged_by_rms_current(linted: Linted) -> None:
    text = LINE.format(surge="220 ohm 1/10 W", watts="5")
    found = {f.parts[0]: f for f in linted("dissipation", text).findings if len(f.parts) == 1}
    watts = found["R3"].calc[0].value
    mean_a = 0.0145  # about 145 V on 10K
    assert watts > 2 * mean_a**2 * 220, "the rms of short pulses is far above their mean"
    assert watts < 20 * mean_a**2 * 220


def test_all_above_the_half_are_one_note(linted: Linted) -> None:
    text = HELD + "R10 1K 1/2 W: B+ to B2\nR11 82K 1 W: B+ to B-\nR12 1M 1 W: B+ to B-\n"
    (found,) = linted("dissipation", text).findings
    assert found.harm is Harm.RECORD
    assert found.parts == ("R10", "R11")
    assert not linted("dissipation", "policy dissipation half off\n" + text).findings


SHUNTED = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
V5 35W4: plate H5, cathode B1, heater LINE to H5 to H4
R11 {ohm} 1/2 W: LINE to H5
V4 50C5: plate B1, screen B1, g1 DRIVE, cathode B-, heater H4 to B-
R9 470K 1/2 W: DRIVE to BIAS
hold BIAS -7 V
C1 33 mfd 250 V electrolytic, new: + B1, - B-
"""


def test_a_shunt_across_a_tap_is_judged_by_sine_and_pulses_together(linted: Linted) -> None:
    """Volts and ohms of the same resistor: W = V^2 / R holds at whatever the tap carries."""
    found = linted("dissipation", SHUNTED.format(ohm="150 ohm")).findings
    (own,) = (f for f in found if "R11" in f.parts)
    assert own.calc[0].value > 0.5
    assert "rms" in own.calc[0].sum


def test_what_hangs_on_unknown_ohms_is_not_cleared(linted: Linted) -> None:
    text = SHUNTED.format(ohm="150 ohm").replace("H4 to B-", "H4 to H3")
    report = linted("dissipation", text + "R12 ? ohm 10 W: H3 to B-\n")
    assert report.not_checked
    assert not any("R11" in each.parts for each in report.findings)


def test_a_dropper_of_filaments_on_direct_current_is_judged(linted: Linted) -> None:
    """By hand: 118.7 V over 2374 ohm at 50 mA: 5.9 W; what hangs on the filament is 1.4 V.

    On alternating current the watts of a heater dropper are not solved here.
    """
    text = (
        "line none\nmeasure from B-\nhold RAW 120 V\nR5 dropper, 2374 ohm {watts} W: RAW to FIL\n"
        "V1 1T4: plate B-, screen B-, grid B-, filament FIL to B-\n"
    )
    role = Circuit(read(text.format(watts=5))).wiring.role_of("R5")
    (found,) = linted("dissipation", text.format(watts=5)).findings
    larger = linted("dissipation", text.format(watts=20))

    assert role is Role.HEATER_DROPPER
    assert (found.parts, found.harm) == (("R5",), Harm.DAMAGE)
    assert found.calc[0].value == pytest.approx(118.6**2 / 2374, rel=0.01)
    assert not larger.findings
    assert not larger.not_checked


def test_an_unsolved_set_is_not_cleared(linted: Linted) -> None:
    report = linted("dissipation", HELD + "R10 ? 1 W: B+ to B2\n")
    assert not report.findings
    assert any("R10" in each.reason for each in report.not_checked)
