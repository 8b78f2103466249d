"""Hard regimes against scipy.integrate.solve_ivp on equations written here a second time.

The rectifier's current comes from the closed form of its cubic (hyperbolic or trigonometric), the
periodic state from running whole cycles until they repeat: nothing is shared with the solver.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from netcheck.circuit.rectify import RectifierState, solve_into_ohms, solve_rectifier
from netcheck.circuit.rectify_law import RectifierLaw
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec, Wave

Record = Callable[[str, object], None]
SILICON = RectifierLaw("silicon", threshold_v=0.7, ohm=0.2)
HALF_35 = RectifierLaw("vacuum", perveance=2.4e-3)
FULL_80 = RectifierLaw("vacuum", perveance=2.7e-4)


def amperes(volts: float, ohm: float, perveance: float) -> float:
    """`volts = ohm I + (I/perveance)^(2/3)`: y^3 + y^2 = w with y = ohm I^(1/3) / c."""
    if volts <= 0:
        return 0.0
    if perveance == 0:
        return volts / ohm
    c = perveance ** (-2 / 3)
    w = volts * ohm**2 / c**3
    k = 27 * w / 2 - 1
    z = np.cosh(np.arccosh(k) / 3) if k > 1 else np.cos(np.arccos(k) / 3)
    y = 2 / 3 * z - 1 / 3
    return float((y * c / ohm) ** 3)


def repeated(
    rate: Callable[[float, np.ndarray], list[float]], start: list[float], cycle_s: float,
    cycles: int, method: str = "LSODA",
) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """States over one cycle after so many, in even steps (time, states)."""
    y = np.array(start)
    steps = cycle_s / 200
    for _ in range(cycles):
        y = solve_ivp(rate, (0, cycle_s), y, method=method, rtol=1e-6, atol=1e-8, max_step=steps).y[
            :, -1
        ]
    last = solve_ivp(
        rate, (0, cycle_s), y, method=method, rtol=1e-7, atol=1e-9, max_step=steps,
        t_eval=np.linspace(0, cycle_s, 4001),
    )  # fmt: skip
    return last.t, last.y


CAPACITOR = {
    "half wave, tapped heater": (RectifierKind.HALF_WAVE, HALF_35, 117, 60, 20.0, 40e-6, 0.1),
    "half wave, silicon, 5 ohm": (RectifierKind.HALF_WAVE, SILICON, 117, 60, 5.0, 100e-6, 0.08),
    "full wave, filament": (RectifierKind.FULL_WAVE, FULL_80, 340, 60, 120.0, 8e-6, 0.09),
    "full wave, silicon, light": (RectifierKind.FULL_WAVE, SILICON, 250, 50, 40.0, 50e-6, 0.005),
    "bridge, 0.22 uF left of 16": (RectifierKind.BRIDGE, SILICON, 220, 50, 30.0, 0.22e-6, 0.05),
}


@pytest.mark.parametrize("name", list(CAPACITOR))
def test_capacitor_input(name: str, record_property: Record) -> None:
    kind, law, volts, hertz, ohm, farad, load_a = CAPACITOR[name]
    spec = RectifierSpec(kind, law, volts, hertz, ohm, farad)
    state = solve_rectifier(spec, [load_a])
    arms = 2 if kind is RectifierKind.BRIDGE else 1
    full = kind is not RectifierKind.HALF_WAVE
    cycle_s = 1 / hertz / (2 if full else 1)
    load_ohm = state.load_ohm[0, 0]

    def through(t: float, v: float) -> float:
        e = volts * np.sqrt(2) * np.sin(2 * np.pi * hertz * t)
        e = abs(e) if full else e
        return amperes(e - v - arms * law.threshold_v, ohm + arms * law.ohm, law.perveance)

    def rate(t: float, y: np.ndarray) -> list[float]:
        return [(through(t, y[0]) - y[0] / load_ohm) / farad]

    cycles = max(4, int(14 * min(load_ohm, 2e3) * farad / cycle_s) + 4)
    t, (v,) = repeated(rate, [float(state.dc_v[0, 0])], cycle_s, cycles)
    i = np.array([through(a, b) for a, b in zip(t, v, strict=True)])
    span = t[-1]
    check(
        state, record_property, dc_v=np.trapezoid(v, t) / span, ripple_v=np.ptp(v),
        peak=i.max(), rms=np.sqrt(np.trapezoid(i * i, t) / span / (2 if full else 1)),
    )  # fmt: skip


def check(
    state: RectifierState, record: Record, *, dc_v: float, ripple_v: float, peak: float, rms: float
) -> None:
    errors = {
        "mean %": 100 * (state.filter_v[0, 0] / dc_v - 1),
        "ripple %": 100 * (state.ripple_v[0, 0] / ripple_v - 1),
        "peak %": 100 * (state.plate_peak_a[0, 0] / peak - 1),
        "rms %": 100 * (state.plate_rms_a[0, 0] / rms - 1),
    }
    for key, value in errors.items():
        record(key, round(float(value), 4))
    assert abs(errors["mean %"]) < 0.1
    assert max(abs(e) for e in errors.values()) < 1.0


@pytest.mark.parametrize("load_a", [0.01, 0.03, 0.08], ids=["broken off", "near critical", "flows"])
def test_choke_input(load_a: float, record_property: Record) -> None:
    spec = RectifierSpec(
        RectifierKind.FULL_WAVE, FULL_80, 400, 60, 100.0, 8e-6, choke_h=10.0, choke_ohm=200.0
    )
    state = solve_rectifier(spec, [load_a])
    load_ohm = state.load_ohm[0, 0]

    def rate(t: float, y: np.ndarray) -> list[float]:
        current, v = max(y[0], 0.0), y[1]
        e = 400 * np.sqrt(2) * abs(np.sin(2 * np.pi * 60 * t))
        drop = (current / FULL_80.perveance) ** (2 / 3)
        rise = (e - drop - 300 * current - v) / 10.0
        return [rise if current > 0 else max(rise, 0.0), (current - v / load_ohm) / 8e-6]

    # From near the answer: three time constants leave a twentieth of any error in it.
    cycles = int(3 * load_ohm * 8e-6 * 120) + 20
    t, (i, v) = repeated(rate, [load_a, float(state.filter_v[0, 0])], 1 / 120, cycles, "RK45")
    i = np.maximum(i, 0)
    check(
        state, record_property, dc_v=np.trapezoid(v, t) * 120, ripple_v=np.ptp(v), peak=i.max(),
        rms=np.sqrt(np.trapezoid(i * i, t) * 120 / 2),
    )  # fmt: skip


@pytest.mark.parametrize("cascade", [True, False], ids=["cascade", "full wave"])
def test_doublers(cascade: bool, record_property: Record) -> None:
    kind = RectifierKind.CASCADE_DOUBLER if cascade else RectifierKind.FULL_WAVE_DOUBLER
    spec = RectifierSpec(kind, HALF_35, 117, 60, 30.0, 40e-6, 30e-6)
    state = solve_rectifier(spec, [0.06])
    load_ohm = state.load_ohm[0, 0]

    def streams(t: float, y: np.ndarray) -> tuple[float, float, float]:
        e = 117 * np.sqrt(2) * np.sin(2 * np.pi * 60 * t)
        if cascade:
            low, high = -e - y[1], e + y[1] - y[0]
            return amperes(high, 30, 2.4e-3), amperes(low, 30, 2.4e-3), y[0] / load_ohm
        both = (y[0] + y[1]) / load_ohm
        return amperes(e - y[0], 30, 2.4e-3), amperes(-e - y[1], 30, 2.4e-3), both

    def rate(t: float, y: np.ndarray) -> list[float]:
        high, low, load = streams(t, y)
        second = low - high if cascade else low - load
        return [(high - load) / 40e-6, second / 30e-6]

    start = [250.0, 140.0] if cascade else [130.0, 130.0]
    t, y = repeated(rate, start, 1 / 60, 60)
    v = y[0] if cascade else y[0] + y[1]
    i = np.array([streams(a, b)[0] for a, b in zip(t, y.T, strict=True)])
    check(
        state, record_property, dc_v=np.trapezoid(v, t) * 60, ripple_v=np.ptp(v), peak=i.max(),
        rms=np.sqrt(np.trapezoid(i * i, t) * 60),
    )  # fmt: skip


def test_vibrator(record_property: Record) -> None:
    spec = RectifierSpec(
        RectifierKind.FULL_WAVE, RectifierLaw("gas", 0.075, 23.0), 300, 115, 350.0, 8e-6,
        wave=Wave.SQUARE, dwell=0.15,
    )  # fmt: skip
    state = solve_into_ohms(spec, [5000.0])
    half_s = 1 / 230

    def through(t: float, v: float) -> float:
        part = t / half_s
        swing = min(max((part - 0.85) / 0.15, 0), 1)
        return amperes(300 * abs(1 - 2 * swing) - 23 - v, 350, 0.075)

    def rate(t: float, y: np.ndarray) -> list[float]:
        return [(through(t, y[0]) - y[0] / 5000) / 8e-6]

    t, (v,) = repeated(rate, [float(state.dc_v[0, 0])], half_s, 40)
    i = np.array([through(a, b) for a, b in zip(t, v, strict=True)])
    check(
        state, record_property, dc_v=np.trapezoid(v, t) / half_s, ripple_v=np.ptp(v),
        peak=i.max(), rms=np.sqrt(np.trapezoid(i * i, t) / half_s / 2),
    )  # fmt: skip
