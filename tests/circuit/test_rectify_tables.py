"""The steady state against an ideal switch with source resistance: tables, limits, invariants.

Source of the two tables: computed outside this project from the ideal-switch model (a switch in
series with Rs, reservoir, resistive load; 2,000 time steps a cycle), meant for 1 point of output
and 5 % of ripple and currents. They are not measurements and not O. H. Schade's curves (Proc. IRE
31 (1943) 341), whose axes they share. The limits at C = 0 and C = infinity are exact.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from netcheck.circuit.rectify import RectifierState, solve_into_ohms
from netcheck.circuit.rectify_law import RectifierLaw
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec

SWITCH = RectifierLaw("ideal switch")
WCR = (1, 2, 4, 10, 20, 40, 100)
LOAD_OHM, OMEGA = 5000.0, 2 * np.pi * 60.0

# Rs/RL %: for each wCRL: output % of peak, ripple rms %, peak and rms plate current over dc.
FULL = {
    0.5: "67.5 36.7 2.1 1.33|73.3 25.7 3.0 1.55|80.8 15.7 4.5 1.82|89.3 7.24 6.5 2.21|"
    "93.3 3.81 7.7 2.44|95.2 1.94 8.1 2.54|95.9 0.78 8.3 2.57",
    1: "67.2 36.7 2.1 1.32|73.0 25.7 3.0 1.54|80.4 15.6 4.3 1.80|88.6 7.14 5.9 2.12|"
    "92.0 3.70 6.4 2.25|93.3 1.87 6.6 2.29|93.7 0.75 6.6 2.30",
    2: "66.5 36.7 2.1 1.32|72.2 25.7 3.0 1.53|79.5 15.5 4.1 1.77|86.9 6.91 5.0 1.99|"
    "89.3 3.53 5.3 2.04|90.1 1.77 5.3 2.06|90.3 0.71 5.3 2.06",
    5: "64.6 36.5 2.1 1.32|70.0 25.4 2.9 1.50|76.5 15.0 3.6 1.68|81.7 6.38 3.9 1.77|"
    "82.8 3.22 4.0 1.79|83.1 1.61 4.0 1.79|83.2 0.65 4.0 1.79",
    10: "61.6 36.2 2.1 1.31|66.5 24.6 2.7 1.46|71.5 14.0 3.1 1.57|74.5 5.84 3.3 1.61|"
    "75.0 2.94 3.3 1.62|75.1 1.47 3.3 1.62|75.2 0.59 3.3 1.62",
    20: "56.2 35.4 2.0 1.29|60.0 23.1 2.5 1.40|62.9 12.7 2.7 1.46|64.3 5.21 2.7 1.47|"
    "64.5 2.62 2.7 1.48|64.5 1.31 2.7 1.48|64.5 0.52 2.7 1.48",
    35: "49.7 34.0 2.0 1.26|52.1 21.3 2.3 1.34|53.6 11.4 2.4 1.37|54.2 4.67 2.4 1.38|"
    "54.3 2.34 2.4 1.38|54.3 1.17 2.4 1.38|54.3 0.47 2.4 1.38",
}
HALF = {
    0.5: "38.0 91.1 3.8 1.78|47.9 61.3 4.7 1.98|61.7 35.5 6.6 2.25|78.6 15.6 9.8 2.70|"
    "87.1 8.11 11.8 3.02|91.5 4.12 12.8 3.19|93.4 1.65 13.2 3.25",
    1: "37.8 91.1 3.7 1.77|47.7 61.3 4.6 1.97|61.4 35.4 6.5 2.24|78.0 15.5 9.0 2.63|"
    "85.7 7.99 10.1 2.82|89.0 4.03 10.5 2.89|90.1 1.62 10.7 2.92",
    2: "37.4 91.1 3.7 1.76|47.2 61.2 4.6 1.95|60.7 35.4 6.2 2.21|76.4 15.3 7.9 2.49|"
    "82.4 7.80 8.4 2.59|84.5 3.92 8.6 2.61|85.2 1.57 8.6 2.62",
    5: "36.4 91.0 3.7 1.75|45.8 61.0 4.6 1.93|58.4 34.9 5.7 2.12|70.6 14.8 6.4 2.26|"
    "73.9 7.45 6.6 2.28|74.8 3.73 6.6 2.29|75.1 1.49 6.6 2.29",
    10: "34.6 90.8 3.7 1.74|43.3 60.5 4.5 1.89|54.1 34.0 5.1 2.02|62.2 14.2 5.4 2.08|"
    "63.9 7.14 5.5 2.09|64.4 3.57 5.5 2.09|64.5 1.43 5.5 2.09",
    20: "31.6 90.2 3.7 1.73|38.8 59.2 4.2 1.83|46.3 32.8 4.5 1.90|50.6 13.5 4.6 1.92|"
    "51.4 6.80 4.7 1.92|51.6 3.40 4.7 1.93|51.7 1.36 4.7 1.93",
    35: "27.8 89.2 3.6 1.70|33.2 57.7 4.0 1.77|37.8 31.6 4.1 1.81|40.1 13.0 4.2 1.82|"
    "40.4 6.53 4.2 1.82|40.5 3.27 4.2 1.82|40.6 1.31 4.2 1.82",
}
INFINITE = {  # Rs/RL %: output % of peak, full wave and half wave
    0.5: (96.01, 93.76), 1: (93.76, 90.35), 2: (90.35, 85.29), 5: (83.22, 75.18),
    10: (75.18, 64.55), 20: (64.55, 51.70), 35: (54.30, 40.58),
}  # fmt: skip


def ideal(kind: RectifierKind, rs: float, wcr: float, peak_v: float = 100.0) -> RectifierState:
    farad = wcr / (OMEGA * LOAD_OHM)
    spec = RectifierSpec(kind, SWITCH, peak_v / np.sqrt(2), 60.0, rs * LOAD_OHM, farad)
    state = solve_into_ohms(spec, [LOAD_OHM])
    assert state.settled.all()
    return state


def ripple_rms(state: RectifierState) -> float:
    """From the capacitor's own current, so harmonics above the fourth count too."""
    return float(np.sqrt((state.harmonic_v**2).sum()))


@pytest.mark.parametrize(
    ("kind", "table"),
    [(RectifierKind.FULL_WAVE, FULL), (RectifierKind.HALF_WAVE, HALF)],
    ids=["full wave", "half wave"],
)
def test_the_ideal_switch_table(
    kind: RectifierKind, table: dict[float, str], record_property: Callable[[str, object], None]
) -> None:
    worst = {"output points": 0.0, "ripple %": 0.0, "peak %": 0.0, "rms %": 0.0}
    both = np.sqrt(2.0) if kind is RectifierKind.FULL_WAVE else 1.0
    for rs, row in table.items():
        for wcr, cell in zip(WCR, row.split("|"), strict=True):
            output, ripple, peak, rms = map(float, cell.split())
            s = ideal(kind, rs / 100, wcr)
            dc_v, dc_a = float(s.dc_v[0, 0]), float(s.load_a[0, 0])
            found = {
                "output points": abs(dc_v - output),
                "ripple %": 100 * abs(100 * ripple_rms(s) / dc_v / ripple - 1),
                # Peaks are printed to two digits: half a unit of the last is not an error.
                "peak %": 100 * max(abs(s.plate_peak_a[0, 0] / dc_a - peak) - 0.05, 0) / peak,
                "rms %": 100 * abs(both * s.plate_rms_a[0, 0] / dc_a / rms - 1),
            }
            worst = {key: max(worst[key], float(found[key])) for key in worst}
    for key, value in worst.items():
        record_property(key, round(value, 2))
    assert worst["output points"] <= 1.0
    assert max(worst["ripple %"], worst["peak %"], worst["rms %"]) <= 5.0


@pytest.mark.parametrize("rs", [0.005, 0.05, 0.35])
def test_without_a_reservoir_the_mean_is_that_of_the_rectified_sine(rs: float) -> None:
    full = ideal(RectifierKind.FULL_WAVE, rs, 0.0).dc_v[0, 0]
    half = ideal(RectifierKind.HALF_WAVE, rs, 0.0).dc_v[0, 0]
    assert full == pytest.approx(100 * 2 / np.pi / (1 + rs), rel=2e-4)
    assert half == pytest.approx(100 / np.pi / (1 + rs), rel=2e-4)


@pytest.mark.parametrize("rs", list(INFINITE))
def test_a_very_large_reservoir_follows_the_angle_of_flow(rs: float) -> None:
    for kind, printed, factor in (
        (RectifierKind.FULL_WAVE, INFINITE[rs][0], np.pi / 2),
        (RectifierKind.HALF_WAVE, INFINITE[rs][1], np.pi),
    ):
        low, high = 0.0, np.pi / 2 - 1e-9
        for _ in range(80):
            t = (low + high) / 2
            low, high = (t, high) if np.tan(t) - t < factor * rs / 100 else (low, t)
        exact = 100 * np.cos(low)
        assert exact == pytest.approx(printed, abs=0.006)
        found = ideal(kind, rs / 100, 2e4)
        assert found.dc_v[0, 0] == pytest.approx(exact, rel=5e-4)
        angle = np.degrees(2 * low)
        assert found.conduction_deg[0, 0] == pytest.approx(angle, abs=3.0)


@pytest.mark.parametrize("rs", [0.01, 0.1, 0.3])
def test_half_wave_is_full_wave_at_twice_the_source_ohms(rs: float) -> None:
    half = ideal(RectifierKind.HALF_WAVE, rs, 1e4)
    full = ideal(RectifierKind.FULL_WAVE, 2 * rs, 1e4)
    assert half.dc_v[0, 0] == pytest.approx(full.dc_v[0, 0], rel=5e-4)


def test_ripple_stays_below_the_sawtooth_of_the_load() -> None:
    # I/(f C): what the load takes if the pulses take no time (from memory).
    state = ideal(RectifierKind.FULL_WAVE, 0.002, 60.0)
    sawtooth = state.load_a[0, 0] / (120.0 * 60.0 / (OMEGA * LOAD_OHM))
    assert 0.8 * sawtooth < state.ripple_v[0, 0] < sawtooth
