"""The supply as a curve: monotone, smooth, true to the states it was made from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from netcheck.circuit.rectify import critical_current_a, solve_rectifier
from netcheck.circuit.rectify_curve import LEAK_S, supply_curve
from netcheck.circuit.rectify_law import RectifierLaw
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec, Wave

Record = Callable[[str, object], None]
TUBE = RectifierLaw("vacuum", perveance=2.9e-4)
HALF_35 = RectifierLaw("vacuum", perveance=2.96e-3)
SILICON = RectifierLaw("silicon", threshold_v=0.7, ohm=0.2)
LINE = [105.0, 117.0, 129.0]

SPECS = {
    "half wave from the line": RectifierSpec(RectifierKind.HALF_WAVE, HALF_35, LINE, 60, 20, 40e-6),
    "silicon": RectifierSpec(RectifierKind.HALF_WAVE, SILICON, LINE, 60, 5, 100e-6),
    "full wave": RectifierSpec(RectifierKind.FULL_WAVE, TUBE, [315, 350, 385], 60, 100, 10e-6),
    "no reservoir": RectifierSpec(RectifierKind.FULL_WAVE, TUBE, 300, 60, 100, [1e-5, 1e-7, 0.0]),
    "cascade": RectifierSpec(RectifierKind.CASCADE_DOUBLER, SILICON, LINE, 60, 15, 40e-6, 40e-6),
    "doubler": RectifierSpec(RectifierKind.FULL_WAVE_DOUBLER, SILICON, LINE, 60, 15, 40e-6, 40e-6),
    "choke": RectifierSpec(
        RectifierKind.FULL_WAVE, TUBE, [360, 400, 440], 60, 100, 8e-6, choke_h=10, choke_ohm=200
    ),
    "vibrator": RectifierSpec(
        RectifierKind.FULL_WAVE, TUBE, [250, 300, 345], 115, 350, 8e-6, wave=Wave.SQUARE
    ),
    "dc line": RectifierSpec(
        RectifierKind.HALF_WAVE, HALF_35, [200, 220, -220], 0, 50, 16e-6, wave=Wave.STEADY
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", list(SPECS))
def test_the_curve_gives_the_solved_states_between_its_points(
    name: str, record_property: Record
) -> None:
    spec = SPECS[name]
    curve = supply_curve(spec)
    assert curve.settled.all()
    loads = np.linspace(0.003, 0.09, 30)
    state = solve_rectifier(spec, loads)
    current = np.stack([curve.current(state.dc_v[:, k])[0] for k in range(loads.size)], axis=1)
    volts = np.stack([curve.output_v(np.full(3, load)) for load in loads], axis=1)
    good = state.deliverable & state.settled & (state.dc_v > 0.3 * state.no_load_v)
    assert good.sum() > 25
    volt_error = np.abs(volts / np.where(good, state.dc_v, 1.0) - 1)[good].max()
    ampere_error = np.abs(current / loads - 1)[good].max()
    record_property("volts off by, %", round(100 * float(volt_error), 4))
    record_property("amperes off by, %", round(100 * float(ampere_error), 3))
    assert volt_error < 0.003
    assert ampere_error < (0.015 if name in ("choke", "no reservoir") else 0.006)


@pytest.mark.parametrize("name", list(SPECS))
def test_current_falls_everywhere_and_its_slope_is_its_slope(name: str) -> None:
    spec = SPECS[name]
    curve = supply_curve(spec)
    top = 1.5 * curve.no_load_v.max()
    volts = np.linspace(-0.3 * top, top, 4000)
    found = [curve.current(np.full(3, v)) for v in volts]
    amperes = np.array([a for a, _ in found])
    slope = np.array([s for _, s in found])
    assert (np.diff(amperes, axis=0) < 0).all()
    assert (slope <= -LEAK_S * 0.999).all()
    middle = 0.5 * (slope[:-1] + slope[1:])
    step = np.diff(amperes, axis=0) / (volts[1] - volts[0])
    assert step == pytest.approx(middle, rel=0.1, abs=0.02 * np.abs(slope).max())


def test_above_no_load_a_tiny_current_flows_back() -> None:
    curve = supply_curve(SPECS["full wave"])
    amperes, slope = curve.current(curve.no_load_v + 100.0)
    assert amperes == pytest.approx(np.full(3, -100.0 * LEAK_S))
    assert slope == pytest.approx(np.full(3, -LEAK_S))
    assert curve.current(curve.no_load_v)[0] == pytest.approx(np.zeros(3), abs=1e-12)


def test_below_the_lowest_point_the_curve_goes_on_straight() -> None:
    curve = supply_curve(SPECS["full wave"])
    (one, slope), (two, same) = curve.current(-10.0), curve.current(-30.0)
    assert slope == pytest.approx(same)
    assert two - one == pytest.approx(-20.0 * slope)
    exact = solve_rectifier(SPECS["full wave"], [1e9])
    assert curve.short_circuit_a == pytest.approx(exact.load_a[:, 0] / 0.97, rel=0.03)


def test_a_dead_source_gives_nothing_and_stays_monotone() -> None:
    curve = supply_curve(replace(SPECS["silicon"], volts=[0.0, 0.1, -5.0]))
    amperes, slope = curve.current(50.0)
    assert curve.settled.all()
    assert np.abs(amperes).max() < 1e-6
    assert (slope < 0).all()


def test_a_choke_regulates_around_its_critical_current() -> None:
    spec = SPECS["choke"]
    curve = supply_curve(spec)
    critical = critical_current_a(spec)
    above = curve.output_v(1.2 * critical) - curve.output_v(2.0 * critical)
    below = curve.output_v(0.2 * critical) - curve.output_v(critical)
    assert (below > 3 * above).all()


def test_newtons_method_meets_a_load_line() -> None:
    curve = supply_curve(SPECS["half wave from the line"])
    volts = np.full(3, 10.0)
    for _ in range(30):
        amperes, slope = curve.current(volts)
        volts = np.maximum(volts - (amperes - volts / 2000.0) / (slope - 1 / 2000.0), 0.0)
    assert curve.current(volts)[0] == pytest.approx(volts / 2000.0, rel=1e-12)
