"""The line current against sums by hand and a cycle stepped here by itself."""

from __future__ import annotations

import math

import pytest

from netcheck.circuit import Circuit
from netcheck.circuit.line_current import LineCurrent, line_current
from netcheck.language import read, read_file

HALF_WAVE = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
R1 {heaters} ohm 50 W: LINE to B-
R2 47 ohm 5 W: LINE to ANODE
CR1 silicon 1000 V 1 A: anode ANODE, cathode B1
C1 47 mfd 250 V electrolytic: + B1, - B-
R3 2000 ohm 20 W: B1 to B-
"""


def drawn(text: str) -> LineCurrent:
    found = line_current(Circuit(read(text)).line_side.point())
    assert isinstance(found, LineCurrent), found
    return found


def stepped(heaters: float) -> float:
    """The rms line current of HALF_WAVE, its cycle stepped by hand until it repeats."""
    steps, drop_v = 20000, 0.75
    volts, squares = 140.0, 0.0
    for _ in range(60):
        squares = 0.0
        for step in range(steps):
            emf = math.sqrt(2) * 117 * math.sin(2 * math.pi * step / steps)
            pulse = max((emf - drop_v - volts) / 47, 0.0)
            volts += (pulse - volts / 2000) / 47e-6 / 60 / steps
            squares += (pulse + emf / heaters) ** 2
    return math.sqrt(squares / steps)


@pytest.mark.parametrize("heaters", [780.0, 1e7])
def test_heaters_and_pulses_are_added_as_they_run_in_time(heaters: float) -> None:
    found = drawn(HALF_WAVE.format(heaters=heaters))
    assert found.rms_a == pytest.approx(stepped(heaters), rel=0.01)
    # Neither the plain sum nor the root of squares: they differ by some 15 % here.
    if heaters < 1000:
        assert found.rms_a < 0.97 * (found.steady_a + found.pulse_a)
        assert found.rms_a > 1.1 * math.hypot(found.steady_a, found.pulse_a)


def test_a_resistor_draws_what_ohms_law_says() -> None:
    text = "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\nR1 470 ohm: LINE to B-\n"
    assert drawn(text).rms_a == pytest.approx(117 / 470)


def test_a_transformer_passes_on_pulses_by_its_turns_and_heaters_by_their_watts() -> None:
    circuit = Circuit(read_file("examples/tansley-console-restored.chassis"))
    (supply,) = circuit.operating.point().supplies
    point = circuit.line_side.point()
    found = line_current(point)
    assert isinstance(found, LineCurrent)
    assert found.transformer
    turns = float(supply.source.spec.figure("volts")[0]) / 117
    both_halves_a = math.sqrt(2) * float(supply.cycle.source_rms_a[0, 0])
    assert found.pulse_a == pytest.approx(turns * both_halves_a, rel=0.01)
    # 6A8, 6K7, 6Q7 and 6U5, 6F6, two lamps 40 and the 80's filament, each as it is heated here;
    # what the windings' own ohms take is a few percent more, and the tenth is the iron's.
    refs = [*(p.ref for p in circuit.chassis.of_kind("tube")), "DS1", "DS2"]
    watts = sum(point.watts(ref) or 0.0 for ref in refs)
    rated = 6.3 * (4 * 0.3 + 0.7 + 2 * 0.15) + 5 * 2
    assert watts == pytest.approx(rated, rel=0.1)
    assert 1.0 < found.steady_a / (1.1 * watts / 117) < 1.1


def test_what_the_line_gives_is_what_the_set_turns_into_heat() -> None:
    """Mean power at the wall of a live set: heat of line-side parts, and what the supply takes."""
    circuit = Circuit(read(HALF_WAVE.format(heaters=780)))
    point = circuit.line_side.point()
    (supply,) = circuit.operating.point().supplies
    sine = [math.sqrt(2) * 117 * math.sin(2 * math.pi * k / 240) for k in range(240)]
    at_wall_w = sum(v * i for v, i in zip(sine, point.amperes_at_line, strict=True)) / 240
    assert at_wall_w == pytest.approx(117**2 / 780 + float(supply.cycle.source_w[0, 0]), rel=0.01)


def test_what_has_no_figure_is_named() -> None:
    text = (
        "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral NEUTRAL\n"
        "T1 power, primary 117 V 6 ohm, heater 6.3 V 2 A: primary LINE to NEUTRAL,\n"
        "   heater H to CHASSIS\nDS1 lamp: H to CHASSIS\n"
    )
    found = line_current(Circuit(read(text)).line_side.point())
    assert isinstance(found, str)
    assert "DS1" in found


def test_which_pin_is_hot_does_not_count() -> None:
    one = HALF_WAVE.format(heaters=1e7)
    found = line_current(Circuit(read(one)).line_side.point())
    turned = one.replace("hot LINE, neutral B-", "hot B-, neutral LINE")
    other = line_current(Circuit(read(turned)).line_side.point())
    assert isinstance(found, LineCurrent)
    assert isinstance(other, LineCurrent)
    assert other.rms_a == pytest.approx(found.rms_a, rel=1e-3)


def test_without_the_supply_solved_no_line_current_is_told() -> None:
    circuit = Circuit(read(HALF_WAVE.format(heaters=780)))
    found = line_current(circuit.line_side.beside(None))
    assert found == "what the rectifiers draw is not solved"
