"""Heater strings as published, from the text of a set to the volts of each heater."""

from __future__ import annotations

import pytest

from netcheck.circuit import Circuit
from netcheck.circuit.heaters import HeaterState, heater_states
from netcheck.circuit.line_side import LinePoint
from netcheck.language import read

# Cape old radio site, page on AC/DC radio resistors (capeoldradio.com), RCA 4X3: heaters of 6.3,
# 6.3, 25 and 25 V at 0.3 A on 117 V. The second 6.3 V tube here is one the catalogue has.
STRING = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
{dropper}
V1 6A7: heater H4 to H3
V2 6D6: heater H3 to B-
V3 43: heater H5 to H4
V4 25Z5: heater H6 to H5
"""


def solved(dropper: str) -> tuple[LinePoint, dict[str, HeaterState]]:
    chassis = read(STRING.format(dropper=dropper))
    assert not chassis.findings
    circuit = Circuit(chassis)
    point = circuit.line_side.point()
    return point, dict(heater_states(circuit.wiring, point, circuit.operating.point()))


def test_the_resistor_of_181_ohm_gives_every_heater_its_volts_and_loses_16_watts() -> None:
    point, heaters = solved("R1 cord, 181 ohm 20 W: LINE to H6")
    for state in heaters.values():
        assert state.share == pytest.approx(1.0, rel=0.005)
    assert sum(state.volts or 0.0 for state in heaters.values()) == pytest.approx(62.6, rel=0.005)
    (cord,) = (e for e in point.branches if e.ref == "R1")
    assert point.amperes(cord) == pytest.approx(0.3, rel=0.005)
    assert point.across(cord) == pytest.approx(54.4, rel=0.005)
    assert point.watts("R1") == pytest.approx(16.3, rel=0.01)


def test_a_series_capacitor_adds_at_right_angles() -> None:
    """The rule: PIC list archive, March 2000 (hallikainen.org); the sum: 98.8 V, 8.05 mfd."""
    point, heaters = solved("C1 8.05 mfd 250 VAC class X2: LINE to H6")
    for state in heaters.values():
        assert state.share == pytest.approx(1.0, rel=0.003)
    (capacitor,) = (e for e in point.branches if e.ref == "C1")
    assert point.across(capacitor) == pytest.approx(98.8, rel=0.002)
    assert point.amperes(capacitor) == pytest.approx(0.3, rel=0.002)


def test_a_ballast_drops_what_its_number_says() -> None:
    """L49 in a string of 0.3 A drops 49 V, 163 ohm, 14.7 W (capeoldradio.com, ballast page)."""
    point, _ = solved("RT1 ballast L49: LINE to H6")
    (ballast,) = (e for e in point.branches if e.ref == "RT1")
    assert point.branches[ballast][1] == pytest.approx(163.3, rel=0.001)


def test_a_diode_gives_the_root_of_half_the_line_and_not_its_mean() -> None:
    """117 V gives about 83 V rms of half waves (Electronics World, 1971); the mean is 53 V."""
    _, heaters = solved("D1 silicon 1000 V 1 A: anode LINE, cathode H6")
    assert sum(state.volts or 0.0 for state in heaters.values()) == pytest.approx(82.7, rel=0.01)
