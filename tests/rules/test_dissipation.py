"""Watts of resistors against their rating, by hand where a hand can do it."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from netcheck.circuit import Circuit
from netcheck.circuit.roles import Role
from netcheck.circuit.states import Edit, State
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


DRIED = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
CR1 silicon 1000 V 1 A: anode SURGE, cathode B1
R1 47 ohm 5 W: LINE to SURGE
C1 47 mfd 250 V electrolytic, {condition}: + B1, - B-
R10 1K {watts} W: B1 to B2
C2 1000 mfd 250 V electrolytic, new: + B2, - B-
R2 10K 20 W: B2 to B-
"""


def _pulses(ohm: float, load_ohm: float, emf_v: float) -> float:
    """Rms amperes of half waves above the steady volts that they keep up across `load_ohm`."""
    steps = [emf_v * math.sin(2 * math.pi * k / 20000) for k in range(20000)]
    low, high = 0.0, emf_v
    for _ in range(60):
        volts = (low + high) / 2
        flows = [max(each - volts, 0.0) / ohm for each in steps]
        more = sum(flows) / len(flows) * load_ohm > volts
        low, high = (volts, high) if more else (low, volts)
    return math.sqrt(sum(each * each for each in flows) / len(flows))


@pytest.mark.parametrize(("condition", "watts"), [("original", "1/4"), ("new", "0.4")])
def test_a_filter_resistor_gets_the_whole_pulses_of_a_dried_out_reservoir(
    linted: Linted, condition: str, watts: str
) -> None:
    """On record: that an old electrolytic must go is told by `aged-capacitor`."""
    text = DRIED.format(condition=condition, watts=watts)
    found = [f for f in linted("dissipation", text).findings if f.state == "C1 open, line high"]
    (one,) = found
    amperes = _pulses(47 + 1000, 10000, 2**0.5 * 117 * 1.1 - 0.75)
    assert one.calc[0].value == pytest.approx(amperes**2 * 1000, rel=0.03)
    assert one.harm is Harm.RECORD
    assert "once C1 " in one.message
    assert "dries out and is open" in one.message


def test_what_is_drawn_ahead_of_the_resistor_does_not_heat_it(linted: Linted) -> None:
    """All the current drawn at B1, none at B2: pulses in, and the steady current out again."""
    text = DRIED.format(condition="new", watts="1/100").replace("B2 to B-", "B1 to B-")
    text = text.replace("R2 10K 20 W", "Z1 load 40 mA").replace("- B1 to B-", "- B-")
    operating = Circuit(read(text)).operating
    state = State("", line_v=117 * 1.1, edits=(Edit("open", "C1"),))
    (supply,) = operating.point(state).supplies
    pulses_a = float(supply.cycle.plate_rms_a[0, 0])
    (found,) = [f for f in linted("dissipation", text).findings if f.state.startswith("C1 open")]
    assert found.calc[0].value == pytest.approx((pulses_a**2 - 0.04**2) * 1000, rel=1e-3)


def test_a_resistor_beside_a_dial_lamp_takes_its_current_over(linted: Linted) -> None:
    """230 V through 1430 + 100 ohm when the lamp is out, before it mostly through the lamp."""
    text = """line 230 V 50 Hz
P1 plug, polarized: hot LINE, neutral B-
DS1 lamp 6.3 V 0.15 A: LINE to H
R1 100 ohm 1 W: LINE to H
R2 1430 ohm 50 W: H to B-
CR1 silicon 1000 V 1 A: anode SURGE, cathode B1
R3 100 ohm 5 W: LINE to SURGE
C1 47 mfd 450 V electrolytic, new: + B1, - B-
Z1 load 20 mA: B1 to B-
"""
    (found,) = [f for f in linted("dissipation", text).findings if f.state == "DS1 out"]
    assert found.parts == ("R1",)
    assert found.message.startswith("once DS1 (lamp 6.3 V 0.15 A) burns out, R1 (100 ohm 1 W)")
    assert found.calc[0].value == pytest.approx((230 / 1530) ** 2 * 100, rel=1e-3)
    assert found.harm is Harm.DAMAGE
