"""A bias made by its own rectifier is stated or refused, never taken as 0 V; held rails suffice."""

from __future__ import annotations

import pytest

from netcheck.bench.voltage_chart import voltage_chart
from netcheck.circuit import Circuit
from netcheck.circuit.source import RectifierSource, rectifier_sources
from netcheck.findings import NotSolved
from netcheck.language import read

SET = """line 117 V 60 Hz
measure from CHASSIS
P1 plug, polarized: hot LINE, neutral N
T1 power, primary 117 V 6 ohm, high {volts} 150 ohm, heater 6.3 V 3 A, rectifier 5 V 2 A:
   primary LINE to N, high {path}, heater H to CHASSIS, rectifier B1 to FIL2
V5 5Y3GT: plate1 HTA, plate2 HTB, filament B1 to FIL2
C1 16 mfd 600 V electrolytic: + B1, - CHASSIS
R27 10K 1 W: {tap} to RAW
CR1 silicon 1N4007: cathode RAW, anode BIAS
C2 25 mfd 50 V electrolytic: + CHASSIS, - BIAS
R28 56K 1/2 W: BIAS to CHASSIS
V3 6V6GT: plate T2.plate, screen B1, grid DRIVE, cathode CHASSIS, heater H to CHASSIS
R9 220K 1/2 W: DRIVE to BIAS
T2 output, 5000 ohm to 4 ohm, primary 250 ohm: primary B1 to T2.plate, secondary VC to CHASSIS
LS1 4 ohm: VC to CHASSIS
"""
PLAIN = SET.format(volts="300-0-300 V 100 mA", path="HTA to CHASSIS to HTB", tap="HTB")
TAPPED = SET.format(volts="300-50-250 V 100 mA", path="HTA to CHASSIS to HTTAP to HTB", tap="HTTAP")
UNTOLD = TAPPED.replace("300-50-250 V 100 mA 150 ohm", "150 ohm")
HELD = "hold BIAS -20 V\n"


def test_a_bias_nobody_computed_is_no_bias_of_nothing() -> None:
    """At 0 V the tube would draw some 90 mA, and rules would tell of a fault that is not there."""
    with pytest.raises(NotSolved, match=r"CR1: the bias that it makes at BIAS .*`hold BIAS"):
        Circuit(read(PLAIN)).operating.point()


def test_a_held_bias_is_solved_from() -> None:
    point = Circuit(read(PLAIN + HELD)).operating.point()
    assert point.volts("DRIVE") == pytest.approx(-20.0, abs=0.05)
    assert 0.005 < (point.amperes("T2") or 0.0) < 0.06


def test_a_diode_that_makes_no_bias_is_none() -> None:
    """A dropper diode in a heater string is driven by the line too, and fills no capacitor."""
    text = PLAIN.replace("C2 25 mfd 50 V electrolytic: + CHASSIS, - BIAS\n", "")
    assert Circuit(read(text)).operating.point().volts("B1")


def test_the_centre_of_a_winding_with_a_bias_tap_is_its_return() -> None:
    (source,) = rectifier_sources(Circuit(read(TAPPED)).wiring)
    assert isinstance(source, RectifierSource)
    assert source.minus == "CHASSIS"
    plain, tapped = (Circuit(read(t + HELD)).operating.point() for t in (PLAIN, TAPPED))
    assert tapped.volts("B1") == pytest.approx(plain.volts("B1"), rel=0.02)


def test_a_rail_that_is_held_needs_no_winding() -> None:
    with pytest.raises(NotSolved, match="volts of the winding high are not given"):
        Circuit(read(UNTOLD + HELD)).operating.point()
    point = Circuit(read(UNTOLD + HELD + "hold B1 320 V\n")).operating.point()
    assert point.volts("B1") == pytest.approx(320.0, rel=1e-6)


def test_a_winding_of_unknown_volts_is_never_charted_as_0_v() -> None:
    chart = voltage_chart(read(UNTOLD + HELD + "hold B1 320 V\n"), band=False)
    assert chart.solved
    volts = {node.name: node.volts for node in chart.nodes}
    assert [volts[net] for net in ("HTA", "HTB", "HTTAP", "RAW")] == [None] * 4
    assert volts["B1"] == pytest.approx(320.0, rel=1e-6)
    assert volts["BIAS"] == pytest.approx(-20.0, rel=1e-6)
