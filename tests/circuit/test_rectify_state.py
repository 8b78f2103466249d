"""What must hold of any steady state, whatever its figures: balances, scaling, no nonsense."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import fields, replace
from itertools import product

import numpy as np
import pytest

from netcheck.circuit.rectify import (
    RectifierState,
    critical_current_a,
    short_circuit_a,
    solve_into_ohms,
    solve_rectifier,
)
from netcheck.circuit.rectify_law import RectifierLaw, forward_current
from netcheck.circuit.rectify_spec import (
    FIGURES,
    RectifierKind,
    RectifierSpec,
    Wave,
    stacked,
)

Record = Callable[[str, object], None]
TUBE = RectifierLaw("vacuum", perveance=2.7e-4)
SWITCH = RectifierLaw("ideal switch")
SILICON = RectifierLaw("silicon", threshold_v=0.7, ohm=0.2)

SPECS = {
    "half wave": RectifierSpec(RectifierKind.HALF_WAVE, TUBE, 250, 60, 50, 16e-6),
    "full wave": RectifierSpec(RectifierKind.FULL_WAVE, TUBE, 350, 60, 100, 10e-6),
    "bridge": RectifierSpec(RectifierKind.BRIDGE, SILICON, 250, 50, 40, 47e-6),
    "cascade": RectifierSpec(RectifierKind.CASCADE_DOUBLER, SILICON, 117, 60, 15, 40e-6, 40e-6),
    "doubler": RectifierSpec(RectifierKind.FULL_WAVE_DOUBLER, SILICON, 117, 60, 15, 40e-6, 20e-6),
    "choke": RectifierSpec(
        RectifierKind.FULL_WAVE, TUBE, 400, 60, 100, 8e-6, choke_h=10, choke_ohm=200
    ),
    "vibrator": RectifierSpec(RectifierKind.FULL_WAVE, TUBE, 300, 115, 350, 8e-6, wave=Wave.SQUARE),
    "dc line": RectifierSpec(RectifierKind.HALF_WAVE, TUBE, 220, 0, 50, 16e-6, wave=Wave.STEADY),
}


def finite(state: RectifierState) -> bool:
    return all(np.isfinite(getattr(state, f.name)).all() for f in fields(state))


@pytest.mark.parametrize("name", list(SPECS))
def test_the_rectifiers_deliver_what_the_load_draws(name: str) -> None:
    asked = np.array([0.002, 0.02, 0.05])
    state = solve_rectifier(SPECS[name], asked)
    assert state.settled.all()
    assert state.deliverable.all()
    assert state.load_a[0] == pytest.approx(asked, rel=1e-7)
    plates = 2 if SPECS[name].kind.repeats_each_half else 1
    assert plates * state.plate_mean_a[0] == pytest.approx(asked, rel=1e-6)
    assert (np.diff(state.dc_v[0]) < 0).all()
    assert (state.dc_v[0] < state.no_load_v[0]).all()


@pytest.mark.parametrize("name", ["half wave", "full wave", "bridge", "cascade", "doubler"])
def test_power_in_is_power_out(name: str, record_property: Record) -> None:
    spec = replace(SPECS[name], law=SILICON, reservoir_f=100e-6, second_f=100e-6)
    state = solve_rectifier(spec, [0.06])
    load_w = (state.dc_v**2 + (state.harmonic_v**2).sum(axis=-1)) / state.load_ohm
    arms = {RectifierKind.BRIDGE: 2, RectifierKind.FULL_WAVE_DOUBLER: 2}.get(spec.kind, 1)
    arms = 2 if spec.kind is RectifierKind.CASCADE_DOUBLER else arms
    in_each = 2 if spec.kind is RectifierKind.BRIDGE else 1
    both = state.source_rms_a**2 * (2 if spec.kind is RectifierKind.FULL_WAVE else 1)
    ohm = float(np.asarray(spec.source_ohm)) + in_each * SILICON.ohm
    lost_w = ohm * both + arms * SILICON.threshold_v * 0.06
    error = float((load_w + lost_w)[0, 0] / state.source_w[0, 0] - 1)
    record_property("power out over in - 1, %", round(100 * error, 4))
    assert abs(error) < 0.002


@pytest.mark.parametrize("name", list(SPECS))
def test_twice_the_volts_and_amperes_is_the_same_supply(name: str) -> None:
    # Ohms stay, so an ideal switch is needed: a tube's drop does not scale.
    spec = replace(SPECS[name], law=SWITCH)
    one = solve_rectifier(spec, [0.03])
    two = solve_rectifier(replace(spec, volts=2 * np.asarray(spec.volts)), [0.06])
    for figure in ("dc_v", "ripple_v", "plate_peak_a", "plate_rms_a", "peak_inverse_v"):
        assert getattr(two, figure) == pytest.approx(2 * getattr(one, figure), rel=1e-5, abs=1e-9)


@pytest.mark.parametrize("name", ["full wave", "cascade", "choke"])
def test_impedances_and_frequency_scale(name: str) -> None:
    # Ten times all ohms and henries, a tenth of all farads and amperes: the same volts.
    spec = replace(SPECS[name], law=SWITCH)
    scaled = replace(
        spec, source_ohm=10 * np.asarray(spec.source_ohm),
        reservoir_f=np.asarray(spec.reservoir_f) / 10, second_f=np.asarray(spec.second_f) / 10,
        choke_h=10 * np.asarray(spec.choke_h), choke_ohm=10 * np.asarray(spec.choke_ohm),
    )  # fmt: skip
    slower = replace(
        spec, hertz=np.asarray(spec.hertz) / 2, reservoir_f=2 * np.asarray(spec.reservoir_f),
        second_f=2 * np.asarray(spec.second_f), choke_h=2 * np.asarray(spec.choke_h),
    )  # fmt: skip
    base = solve_rectifier(spec, [0.03])
    assert solve_rectifier(scaled, [0.003]).dc_v == pytest.approx(base.dc_v, rel=1e-5)
    assert solve_rectifier(slower, [0.03]).dc_v == pytest.approx(base.dc_v, rel=1e-7)


def test_a_batch_is_its_variants_one_by_one() -> None:
    spec = replace(
        SPECS["full wave"], volts=[320.0, 350.0, 385.0], reservoir_f=[8e-6, 0.0, 40e-6],
        emission=[1.0, 0.5, 1.0],
    )  # fmt: skip
    state = solve_rectifier(spec, [[0.02, 0.1], [0.01, 0.05], [0.03, 0.1]])
    for k, loads in enumerate(([0.02, 0.1], [0.01, 0.05], [0.03, 0.1])):
        alone = replace(
            spec, volts=spec.figure("volts")[k], reservoir_f=spec.figure("reservoir_f")[k],
            emission=spec.figure("emission")[k],
        )  # fmt: skip
        one = solve_rectifier(alone, loads)
        assert state.dc_v[k] == pytest.approx(one.dc_v[0], rel=1e-7)
        assert state.harmonic_v[k] == pytest.approx(one.harmonic_v[0], rel=1e-5, abs=1e-7)


def test_no_load_and_peak_inverse_of_each_circuit() -> None:
    peak = 100.0 * np.sqrt(2)
    wanted = {  # output, inverse across one rectifier, both in peaks
        RectifierKind.HALF_WAVE: (1, 2), RectifierKind.FULL_WAVE: (1, 2),
        RectifierKind.BRIDGE: (1, 1), RectifierKind.CASCADE_DOUBLER: (2, 2),
        RectifierKind.FULL_WAVE_DOUBLER: (2, 2),
    }  # fmt: skip
    for kind, (output, inverse) in wanted.items():
        state = solve_rectifier(RectifierSpec(kind, SWITCH, 100, 60, 10, 50e-6, 50e-6), [0, 1e-5])
        assert state.dc_v[0, 0] == pytest.approx(output * peak)
        assert state.dc_v[0, 1] == pytest.approx(output * peak, rel=0.005)
        assert state.peak_inverse_v[0] == pytest.approx([inverse * peak] * 2, rel=0.01)
        assert state.ripple_v[0, 0] == 0.0


def test_dc_line_goes_straight_through_the_drop() -> None:
    law = RectifierLaw("vacuum", perveance=2.6e-3)
    spec = RectifierSpec(RectifierKind.HALF_WAVE, law, 220, 0, 30, 16e-6, wave=Wave.STEADY)
    state = solve_rectifier(spec, [0.1])
    assert state.dc_v[0, 0] == pytest.approx(220 - 3 - law.drop_v(0.1), rel=1e-9)
    assert state.ripple_v[0, 0] == pytest.approx(0.0, abs=1e-9)
    reversed_plug = solve_rectifier(replace(spec, volts=-220.0), [0.1])
    assert reversed_plug.dc_v[0, 0] == 0.0
    assert not reversed_plug.deliverable[0, 0]


def test_choke_input_regulates_above_its_critical_current() -> None:
    # Critical inductance R / (6 pi f): 5 kilohm at 60 Hz need 4.42 H (from memory: Terman).
    spec = RectifierSpec(RectifierKind.FULL_WAVE, SWITCH, 350, 60, 1.0, 8e-6, choke_h=4.42)
    mean_v = 350 * np.sqrt(2) * 2 / np.pi
    assert mean_v / critical_current_a(spec)[0] == pytest.approx(5000, rel=0.002)
    state = solve_rectifier(spec, critical_current_a(spec)[0] * np.array([0.2, 1.1, 1.3]))
    assert state.dc_v[0, 1:] == pytest.approx([mean_v] * 2, rel=0.002)
    assert state.dc_v[0, 0] > 1.15 * mean_v


def test_the_law_through_a_resistance_and_its_slope() -> None:
    volts = np.repeat(np.geomspace(1e-6, 1e4, 60)[:, None], 5, axis=1)
    ohm, drop = np.array([0.0, 1.0, 50.0, 1e4, 0.3]), np.array([60.0, 300.0, 250.0, 100.0, 0.0])
    amperes, slope = forward_current(volts, ohm, drop)
    back = drop * amperes ** (2 / 3) + np.maximum(ohm, 1e-3) * amperes
    assert back == pytest.approx(np.broadcast_to(volts, back.shape), rel=1e-7)
    step, _ = forward_current(volts * 1.00001, ohm, drop)
    assert (step - amperes) / (volts * 1e-5) == pytest.approx(slope, rel=1e-3)
    assert not forward_current(-volts, ohm, drop)[0].any()


ABSURD = {
    "volts": [0.0, -117.0, 1e-6, 1e5], "hertz": [0.0, 1e-9, 1e6], "source_ohm": [-5.0, 0.0, 1e9],
    "reservoir_f": [-1e-6, 0.0, 1e-15, 10.0], "second_f": [0.0, 1e-15], "emission": [0.0, 1e-12],
    "choke_h": [-1.0, 1e-9, 1e6],
}  # fmt: skip


@pytest.mark.parametrize("figure", list(ABSURD))
@pytest.mark.parametrize("name", list(SPECS))
def test_absurd_figures_give_figures(name: str, figure: str) -> None:
    spec = replace(SPECS[name], **{figure: ABSURD[figure]})
    state = solve_rectifier(spec, [0.0, 1e-12, 0.05, 1e6, -3.0, np.nan])
    assert finite(state)
    assert not state.deliverable[:, 3].any()


def test_several_absurd_figures_at_once_give_figures() -> None:
    volts, farad, ohm = map(
        np.array, zip(*product([0.0, 1e4], [0.0, 1.0], [0.0, 1e8]), strict=True)
    )
    for spec in SPECS.values():
        odd = replace(spec, volts=volts, reservoir_f=farad, second_f=farad, source_ohm=ohm)
        assert finite(solve_rectifier(odd, [0.0, 1e-3, 10.0]))
        assert finite(solve_into_ohms(odd, [0.0, 1.0, 1e12]))


def test_hundreds_of_likely_supplies_all_settle(record_property: Record) -> None:
    rng = np.random.default_rng(7)
    points, unsettled, brim, worst_balance = 0, 0, 0, 0.0
    for kind, law, choke in product(RectifierKind, (TUBE, SILICON), (False, True)):
        if choke and kind not in (RectifierKind.FULL_WAVE, RectifierKind.BRIDGE):
            continue
        n = 24
        spec = RectifierSpec(
            kind, law, rng.uniform(90, 500, n), rng.choice([25.0, 50.0, 60.0], n),
            10 ** rng.uniform(0.5, 3, n), 10 ** rng.uniform(-6, -3.7, n),
            10 ** rng.uniform(-6, -3.7, n), choke_h=rng.uniform(1, 30, n) if choke else 0.0,
            choke_ohm=rng.uniform(50, 800, n) if choke else 0.0,
            loop_ohm=10 ** rng.uniform(2.5, 4.5, n), share=rng.uniform(0.5, 1, n),
        )  # fmt: skip
        loads = np.array([0.001, 0.01, 0.05, 0.1])
        state = solve_rectifier(spec, loads)
        assert finite(state)
        good = state.deliverable
        points += int(good.sum())
        # Within a tenth of a short circuit a doubler may stay unsolved; it then says so.
        near_short = loads > 0.9 * short_circuit_a(spec)[:, None]
        unsettled += int((good & ~near_short & ~state.settled).sum())
        brim += int((good & near_short & ~state.settled).sum())
        plates = 2 if kind.repeats_each_half else 1
        miss = np.abs(plates * state.plate_mean_a / state.load_a - 1)[good & state.settled]
        worst_balance = max(worst_balance, float(miss.max()))
    record_property(f"not settled of {points} deliverable points", unsettled)
    record_property("not settled near a short circuit", brim)
    record_property("worst current balance", f"{worst_balance:.1e}")
    assert unsettled == 0
    assert brim <= 2
    assert worst_balance < 1e-6


def test_speed(record_property: Record) -> None:
    """48 states (16 loads at 3 line voltages) against one stacked solve of (16, 60, 60)."""
    stack = np.random.default_rng(1).normal(size=(16, 60, 60)) + 60 * np.eye(60)
    right = np.ones((16, 60, 1))
    loads = np.linspace(0.002, 0.1, 16)
    spec = replace(SPECS["full wave"], volts=[315.0, 350.0, 385.0])
    times: dict[str, list[float]] = {"yardstick": [], "curve": []}
    for _ in range(7):
        began = time.perf_counter()
        np.linalg.solve(stack, right)
        middle = time.perf_counter()
        solve_rectifier(spec, loads)
        times["yardstick"].append(middle - began)
        times["curve"].append(time.perf_counter() - middle)
    best = {key: min(values) for key, values in times.items()}
    record_property("48 states, ms", round(best["curve"] * 1e3, 2))
    record_property("in stacked solves (16, 60, 60)", round(best["curve"] / best["yardstick"], 1))
    assert best["curve"] < 100 * best["yardstick"]


def test_variants_laid_one_after_the_other_are_what_each_is_alone() -> None:
    """Of every figure, and so of the loop ahead of a bias diode: its parts have tolerances too."""
    one = RectifierSpec(
        RectifierKind.COUPLED_HALF_WAVE, SILICON, 40, 60, 900, 25e-6, 0.5e-6,
        loop_ohm=10e3, share=0.9,
    )  # fmt: skip
    other = replace(one, volts=44.0, source_ohm=990, loop_ohm=[12e3, 14e3], share=[0.8, 0.7])
    both = stacked([one, other])
    for name in FIGURES:
        assert both.figure(name) == pytest.approx([*one.figure(name), *other.figure(name)]), name
    alone = [solve_rectifier(each, 1e-4).dc_v for each in (one, other)]
    assert solve_rectifier(both, 1e-4).dc_v == pytest.approx(np.concatenate(alone), rel=1e-9)
