"""What a rectifier and its reservoir deliver at a load: volts, ripple, currents, peak inverse.

Belongs here: the periodic steady state of one line cycle read as the figures a restorer and the
rating rules ask for. Does not belong here: the equations (rectify_forms), their solution
(rectify_cycle), the curve for the operating point (rectify_curve), the parts of a set (source).
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import ArrayLike

from netcheck.circuit.rectify_cycle import TWICE_EULER, Cycle, Grid, NDArrayBool, solve_cycle
from netcheck.circuit.rectify_forms import Waves, form_of
from netcheck.circuit.rectify_law import Array, forward_current
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec, Wave

__all__ = [
    "RectifierState",
    "critical_current_a",
    "short_circuit_a",
    "solve_into_ohms",
    "solve_rectifier",
]

_LIGHTEST = 1e-7
"""Smallest load solved for, as a part of the short-circuit current; below it: no load."""

_DEEPEST = 0.97
"""Largest load solved for, as a part of it; above it the supply cannot deliver."""

_HIGHEST = 0.99
"""Largest part of the volts without load from which a search begins."""

_HARMONICS = 4


@dataclass(frozen=True, slots=True)
class RectifierState:
    """The periodic steady state; arrays are (B, points) unless said otherwise.

    `dc_v` is the mean at the rectifier's output (before an input choke or surge
    resistor), `peak_v` its highest instant; `ripple_v` (peak to
    peak) and `harmonic_v` (B, points, 4; rms, at 1 to 4 times `ripple_hz` (B,)) stand at the first
    capacitor, that is behind an input choke, whose mean is `filter_v`. Peak, rms and mean plate
    current are those of one plate; `source_rms_a` of one half of a tapped winding, else of the
    whole source; `source_w` is the mean power of the whole source's own (open-circuit) volts.
    `conduction_deg` counts degrees of the line cycle in which a plate carries more than a
    thousandth of its peak. `no_load_v` is (B, 1). `deliverable` is False where the load is more
    than the supply can give: the figures are then those of its short circuit. `settled` is False
    where no periodic state was found: those figures must not be used.
    """

    load_a: Array
    load_ohm: Array
    dc_v: Array
    peak_v: Array
    filter_v: Array
    ripple_v: Array
    harmonic_v: Array
    ripple_hz: Array
    plate_mean_a: Array
    plate_peak_a: Array
    plate_rms_a: Array
    source_rms_a: Array
    source_w: Array
    reservoir_rms_a: Array
    peak_inverse_v: Array
    no_load_v: Array
    conduction_deg: Array
    deliverable: NDArrayBool
    settled: NDArrayBool

    def variant(self, row: int) -> RectifierState:
        """One of the B variants, as if it were the only one."""
        return replace(self, **{f.name: getattr(self, f.name)[[row]] for f in fields(self)})


def solve_rectifier(spec: RectifierSpec, load_amperes: ArrayLike, finer: int = 1) -> RectifierState:
    """The steady state of every variant at every mean load current.

    The load is a resistance that draws the mean current; between a resistance and a constant
    current the output differs by less than the square of the ripple.

    Args:
        spec: B variants of one circuit.
        load_amperes: (B, points) or (points,), amperes; negative counts as none.
        finer: that many times as many steps.
    """
    wanted = _by_variant(spec, load_amperes)
    most = short_circuit_a(spec)[:, None]
    asked = np.clip(np.nan_to_num(wanted), 0.0, None)
    solved = np.clip(asked, _LIGHTEST * most, _DEEPEST * most)
    share = solved / most
    guess = np.maximum(1.0 - share ** (2.0 / 3.0), 1e-3)
    load_s = solved / (guess * spec.no_load_v[:, None] + 1e-9)
    state = _solve(spec, load_s, solved, np.minimum(guess, _HIGHEST), finer)
    dead = spec.no_load_v[:, None] <= 0.0
    state = _at_rest(state, dead | (asked <= _LIGHTEST * most))
    deliverable = np.where(dead, asked == 0.0, asked < most * _DEEPEST)
    return replace(state, deliverable=deliverable, settled=state.settled | dead)


def solve_into_ohms(
    spec: RectifierSpec, load_ohm: ArrayLike, near: ArrayLike = 0.8, finer: int = 1
) -> RectifierState:
    """The steady state of every variant at every load resistance (B, points) or (points,).

    `near` is about what part of the volts without load stands at each: where the search begins.
    """
    ohms = np.maximum(_by_variant(spec, load_ohm), 1e-9)
    share = np.broadcast_to(np.minimum(near, _HIGHEST), ohms.shape)
    return _solve(spec, 1.0 / ohms, None, share, finer)


def _by_variant(spec: RectifierSpec, loads: ArrayLike) -> Array:
    """Loads as (B, points)."""
    values = np.atleast_2d(np.asarray(loads, dtype=float))
    return np.broadcast_to(values, (spec.size, values.shape[-1]))


def short_circuit_a(spec: RectifierSpec) -> Array:
    """Mean amperes (B,) into a short circuit of the output (behind an input choke)."""
    grid = spec.grid()
    emf = spec.emf(grid)
    coupled = spec.kind is RectifierKind.COUPLED_HALF_WAVE
    plain = not spec.has_choke and not spec.kind.is_doubler and not coupled
    arms = 2.0 if spec.kind is RectifierKind.BRIDGE else 1.0
    drop = np.zeros(spec.size)
    if spec.law.perveance > 0:
        perveance = spec.law.perveance * np.maximum(spec.figure("emission"), 1e-9)
        drop = arms * perveance ** (-2.0 / 3.0)
    ohm = np.maximum(spec.figure("source_ohm"), 0.0) + arms * spec.law.ohm
    threshold = arms * spec.law.threshold_v
    ohm = ohm + np.maximum(spec.figure("choke_ohm"), 0.0)
    if plain:
        amperes, _ = forward_current(emf - threshold, ohm, drop)
        return np.asarray(np.einsum("sn,snp->p", grid.weights, amperes)) + 1e-12
    estimate, _ = forward_current(spec.peak_v - threshold, ohm, drop)
    short_ohm = 1e-3 * spec.peak_v / np.maximum(estimate, 1e-12)
    return solve_into_ohms(spec, np.maximum(short_ohm, 1e-6)[:, None]).load_a[:, 0] + 1e-12


def critical_current_a(spec: RectifierSpec) -> Array:
    """Load amperes (B,) below which the current of an input choke stops in each cycle.

    Full wave and bridge from a sine: the mean must exceed the amplitude of the ripple current,
    `(4/3) Em / (pi 2 w L)` with `Em` the peak volts; as a resistance, `L = R / (6 pi f)` (standard
    power-supply theory, from memory: F. E. Terman, Radio Engineers' Handbook, 1943). The
    ohms of source and choke are left out. 0 where there is no choke or no such source.
    """
    if not spec.has_choke or not spec.kind.repeats_each_half or spec.wave is not Wave.SINE:
        return np.zeros(spec.size)
    reactance = 2.0 * np.pi * spec.figure("hertz") * np.maximum(spec.figure("choke_h"), 1e-12)
    return np.asarray(2.0 * spec.peak_v / (3.0 * np.pi * reactance))


def _solve(
    spec: RectifierSpec, load_s: Array, load_a: Array | None, share: Array, finer: int
) -> RectifierState:
    state = _solve_on(spec, spec.grid(finer), load_s, load_a, share)
    if state.settled.all() or spec.has_choke:
        return state
    # Where deep ripple lets switches throw the better method off, the plainer one is followed.
    plain = replace(spec.grid(2 * finer), scheme=TWICE_EULER)
    again = _solve_on(spec, plain, load_s, load_a, share)
    return _where(state.settled, state, again)


def _solve_on(
    spec: RectifierSpec, grid: Grid, load_s: Array, load_a: Array | None, share: Array
) -> RectifierState:
    points = load_s.shape[-1]
    form = form_of(spec, grid, points)
    seconds = np.repeat(spec.cycle_s, points)
    flat = None if load_a is None else load_a.reshape(-1)
    start = form.start(share.reshape(-1))
    cycle = solve_cycle(form.flow, grid, seconds, start, form.out, load_s.reshape(-1), flat)
    return _read(spec, grid, cycle, form.waves(cycle.states, cycle.load_s))


def _where(first: NDArrayBool, one: RectifierState, other: RectifierState) -> RectifierState:
    """The figures of `one` where `first` holds, else of `other`."""
    changed = {}
    for field in fields(one):
        mine, theirs = getattr(one, field.name), getattr(other, field.name)
        if mine.shape[:2] == first.shape:
            chosen = first[..., None] if mine.ndim > 2 else first
            changed[field.name] = np.where(chosen, mine, theirs)
    return replace(one, **changed)


def _at_rest(state: RectifierState, idle: NDArrayBool) -> RectifierState:
    """The state with the figures of no load where the supply idles."""
    peak = np.broadcast_to(state.no_load_v, idle.shape)
    nothing = np.zeros(idle.shape)
    quiet = ("load_a", "ripple_v", "plate_mean_a", "plate_peak_a", "plate_rms_a",
             "source_rms_a", "source_w", "reservoir_rms_a", "conduction_deg")  # fmt: skip
    changed = {name: np.where(idle, nothing, getattr(state, name)) for name in quiet}
    changed |= {
        name: np.where(idle, peak, getattr(state, name)) for name in ("dc_v", "peak_v", "filter_v")
    }
    changed["harmonic_v"] = np.where(idle[..., None], 0.0, state.harmonic_v)
    return replace(state, **changed)


def _read(spec: RectifierSpec, grid: Grid, cycle: Cycle, waves: Waves) -> RectifierState:
    weights = grid.weights

    def shaped(values: Array) -> Array:
        return values.reshape(spec.size, -1)

    def mean(wave: Array) -> Array:
        return shaped(np.einsum("sn,snp->p", weights, wave))

    def rms(wave: Array) -> Array:
        return np.asarray(np.sqrt(mean(wave * wave)))

    def highest(wave: Array) -> Array:
        return shaped(np.max(wave, axis=(0, 1)))

    in_turn = 2.0 if spec.kind.repeats_each_half else 1.0
    tapped = 2.0 if spec.kind is RectifierKind.FULL_WAVE else 1.0
    filter_v = mean(waves.filter_v)
    peak_a = highest(waves.plate_a)
    carrying = shaped(waves.plate_a.reshape(-1, waves.plate_a.shape[-1]).max(axis=0))
    carries = waves.plate_a > 1e-3 * carrying.reshape(-1)
    return RectifierState(
        load_a=filter_v * shaped(cycle.load_s),
        load_ohm=1.0 / shaped(cycle.load_s),
        dc_v=mean(waves.plus_v),
        peak_v=highest(waves.plus_v),
        filter_v=filter_v,
        ripple_v=highest(waves.filter_v) + highest(-waves.filter_v),
        harmonic_v=_harmonics(waves.filter_v, grid, spec.size),
        ripple_hz=1.0 / spec.cycle_s,
        plate_mean_a=mean(waves.plate_a) / in_turn,
        plate_peak_a=peak_a,
        plate_rms_a=rms(waves.plate_a) / np.sqrt(in_turn),
        source_rms_a=rms(waves.source_a) / np.sqrt(tapped),
        source_w=mean(waves.source_w),
        reservoir_rms_a=rms(waves.reservoir_a),
        peak_inverse_v=np.maximum(highest(waves.inverse_v), 0.0),
        no_load_v=spec.no_load_v[:, None],
        conduction_deg=mean(carries.astype(np.float64)) * 360.0 / in_turn,
        deliverable=np.ones(peak_a.shape, dtype=bool),
        settled=cycle.settled.reshape(spec.size, -1),
    )


def _harmonics(wave: Array, grid: Grid, size: int) -> Array:
    """Rms of the first harmonics of the cycle, (B, points, 4)."""
    order = np.arange(1, _HARMONICS + 1)
    turn = np.exp(-2j * np.pi * order[:, None, None] * grid.samples) * grid.weights
    if grid.start.size <= 2 * _HARMONICS:
        return np.zeros((size, wave.shape[-1] // size, _HARMONICS))  # a DC line has none
    lines = np.abs(np.einsum("hsn,snp->ph", turn, wave)) * np.sqrt(2.0)
    return np.asarray(lines.reshape(size, -1, _HARMONICS))
