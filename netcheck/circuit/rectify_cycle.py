"""Finds the state that repeats every cycle, for any number of supplies at once, quickly.

Belongs here: the cyclic solution of `d q(x)/dt = f(t, x)` with one or two states and an unknown
load. Does not belong here: what the states are (rectify_forms), what is read off (rectify).

The cycle is discretised by an implicit method in which stiff parts die at once, so a supply
without a capacitor is no special case. All steps are solved together: Newton's method on the whole
cycle, where each step is an affine map of its start, the maps are chained, and the chain is
closed. Space-charge and ideal-switch laws are convex, so it converges from any start.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck.circuit.rectify_law import Array

__all__ = [
    "TR_BDF2",
    "TWICE_EULER",
    "Cycle",
    "Flow",
    "Form",
    "Grid",
    "NDArrayBool",
    "Scheme",
    "solve_cycle",
]

NDArrayBool = NDArray[np.bool_]

_TOLERANCE = 1e-10
_MOST_STEPS = 60
_FURTHEST = 20.0
"""Longest step of a state, in first guesses."""

_NOTHING = 1e-150


class Scheme(NamedTuple):
    """A method of one stage at `at` of the step, and the step's end.

    `stage` weighs the rates at start and stage in the way to the stage, `end` those at start,
    stage and end in the whole step.
    """

    at: float
    stage: tuple[float, float]
    end: tuple[float, float, float]


_ROOT = float(np.sqrt(2.0))
_BACK = 1.0 - _ROOT / 2.0
TR_BDF2 = Scheme(2.0 - _ROOT, (_BACK, _BACK), (_ROOT / 4.0, _ROOT / 4.0, _BACK))
"""R. E. Bank et al., IEEE Trans. CAD 4 (1985) 436 (from memory)."""

TWICE_EULER = Scheme(0.5, (0.0, 0.5), (0.0, 0.5, 0.5))
"""Two steps of Euler's implicit method: first order, but no rate of an earlier instant counts, so
a choke whose current stops cannot throw Newton's method off."""


@dataclass(frozen=True, slots=True)
class Grid:
    """The steps of one cycle: `start` and `width` as fractions of it, both (N,), summing to 1."""

    start: Array
    width: Array
    scheme: Scheme = TR_BDF2

    @property
    def samples(self) -> Array:
        """The instants (2, N) at which states are known: each step's start, each step's stage."""
        return np.stack([self.start, self.start + self.scheme.at * self.width])

    @property
    def weights(self) -> Array:
        """The weight (2, N) of each sample in a mean: that of the method, so charge balances."""
        start, stage, end = self.scheme.end
        return np.stack([self.width * start + np.roll(self.width, 1) * end, self.width * stage])


class Flow(NamedTuple):
    """What a form gives at its samples; states first, then samples, then supplies.

    `charge` and `capacity` (its slope): q and dq/dx of each state. `rate`: f. `slope[i, j]`:
    df_i/dx_j. `by_load`: df/dG for a load of G siemens.
    """

    charge: Array
    capacity: Array
    rate: Array
    slope: Array
    by_load: Array


Form = Callable[[Array, Array], Flow]
"""States (m, 2, N, P) and load siemens (P,) -> Flow."""


class Cycle(NamedTuple):
    """The solved cycle: states (m, 2, N, P), load siemens (P,), which supplies settled (P,)."""

    states: Array
    load_s: Array
    settled: NDArrayBool


def solve_cycle(
    form: Form, grid: Grid, seconds: Array, start: Array, out: Array, load_s: Array,
    load_a: Array | None = None,
) -> Cycle:  # fmt: skip
    """Solve for the cycle that repeats itself.

    Args:
        form: the circuit.
        grid: its steps.
        seconds: the length of the cycle (P,).
        start: first guess of the states (m, P).
        out: weight (m,) of each state in the output volts.
        load_s: load siemens (P,), a first guess where `load_a` is given.
        load_a: mean load amperes (P,): then the load is a resistance that draws them.
    """
    shape = (start.shape[0], 2, grid.start.size, seconds.size)
    x = np.broadcast_to(start[:, None, None, :], shape).copy()
    g = np.array(load_s, dtype=float)
    scale = np.max(np.abs(start), axis=0) + 1e-12
    settled = np.zeros(seconds.size, dtype=bool)
    lost = np.zeros(seconds.size, dtype=bool)
    for _ in range(_MOST_STEPS):
        with np.errstate(all="ignore"):  # what overflows is found on the next line
            dx, dg = _newton(form(x, g), x, g, grid, seconds, out, load_a)
        # A supply that leaves the numbers stays where it is and counts as not settled.
        lost |= ~(np.isfinite(dx).all(axis=(0, 1, 2)) & np.isfinite(dg))
        x += np.where(lost, 0.0, np.clip(dx, -_FURTHEST * scale, _FURTHEST * scale))
        g += np.where(lost, 0.0, dg)
        small = np.max(np.abs(dx), axis=(0, 1, 2)) < _TOLERANCE * scale
        settled = small & (np.abs(dg) <= _TOLERANCE * g + 1e-30) & ~lost
        if (settled | lost).all():
            break
    return Cycle(x, g, settled)


def _newton(
    flow: Flow, x: Array, g: Array, grid: Grid, seconds: Array, out: Array, load_a: Array | None
) -> tuple[Array, Array]:
    """One Newton step of the whole cycle: changes of the states and of the load."""
    h = grid.width[:, None] * seconds
    gain, shift, stage_gain, stage_shift = _steps(flow, h, grid.scheme)
    chain = _chained(gain, shift)
    m = x.shape[0]
    closing = np.eye(m)[:, :, None] - chain[-1, :, :m]
    free = _times(_inverse(closing), chain[-1, :, m:])  # (m, 2, P): of residual, of load
    basis = chain[:-1, :, m:].copy()
    at_stage = stage_shift
    for j in range(m):
        basis += chain[:-1, :, j, None] * free[j]
    for j in range(m):
        at_stage += stage_gain[:, :, j, None] * basis[:, None, j]
    both = np.moveaxis(np.stack([basis, at_stage]), 2, 0)  # (m, 2, N, 2, P)
    dg = np.zeros_like(g)
    if load_a is not None:
        mean = np.einsum("sn,snkp->kp", grid.weights, np.einsum("i,i...->...", out, both))
        volts = np.einsum("sn,snp->p", grid.weights, np.einsum("i,i...->...", out, x))
        divisor = volts + g * mean[1]
        divisor = np.where(divisor > 1e-3 * np.abs(volts), divisor, np.maximum(volts, 1e-30))
        dg = (load_a - g * (volts + mean[0])) / divisor
        dg = np.clip(dg, -0.75 * g, 3.0 * g)
    return both[..., 0, :] + both[..., 1, :] * dg, dg


def _steps(flow: Flow, h: Array, scheme: Scheme) -> tuple[Array, Array, Array, Array]:
    """Each step as an affine map of its start: gain (N, m, m, P), shift (N, m, 2, P); stage too.

    The last axis but one of a shift: from the residual, and per siemens of load.
    """
    m = flow.charge.shape[0]
    eye = np.eye(m)[:, :, None, None]
    capacity = flow.capacity[:, None] * eye[..., None]
    q0, q1 = flow.charge[:, 0], flow.charge[:, 1]
    f0, f1 = flow.rate[:, 0], flow.rate[:, 1]
    j0, j1 = flow.slope[:, :, 0], flow.slope[:, :, 1]
    w0, w1 = flow.by_load[:, 0], flow.by_load[:, 1]
    c0, c1 = capacity[:, :, 0], capacity[:, :, 1]
    q2, f2, w2 = (np.roll(a, -1, axis=1) for a in (q0, f0, w0))
    j2, c2 = (np.roll(a, -1, axis=2) for a in (j0, c0))
    (a0, a1), (b0, b1, b2) = scheme.stage, scheme.end
    inverse = _inverse(c1 - a1 * h * j1)
    stage_gain = _times(inverse, c0 + a0 * h * j0)
    left = q0 - q1 + h * (a0 * f0 + a1 * f1)
    stage_shift = _times(inverse, np.stack([left, h * (a0 * w0 + a1 * w1)], axis=1))
    inverse = _inverse(c2 - b2 * h * j2)
    through = b1 * h * j1
    gain = _times(inverse, c0 + b0 * h * j0 + _times(through, stage_gain))
    left = q0 - q2 + h * (b0 * f0 + b1 * f1 + b2 * f2)
    load = h * (b0 * w0 + b1 * w1 + b2 * w2)
    shift = _times(inverse, np.stack([left, load], axis=1) + _times(through, stage_shift))
    gain, shift, stage_gain, stage_shift = (
        np.ascontiguousarray(np.moveaxis(a, 2, 0)) for a in (gain, shift, stage_gain, stage_shift)
    )
    return gain, shift, stage_gain, stage_shift


def _chained(gain: Array, shift: Array) -> Array:
    """The maps from the start of the cycle to each step: (N + 1, m, m + 2, P).

    The cycle is cut into stretches of equal length that are chained side by side, then the
    stretches themselves: of N steps one after the other this leaves about twice its root.
    """
    n, m, _, p = gain.shape
    length = _stretch(n)
    chain = np.empty((n // length, length + 1, m, m + 2, p))
    chain[:, 0] = 0.0
    chain[:, 0, :, :m] = np.eye(m)[:, :, None]
    gains = gain.reshape(-1, length, *gain.shape[1:])
    shifts = shift.reshape(-1, length, *shift.shape[1:])
    for k in range(length):
        _after(gains[:, k], shifts[:, k], chain[:, k], chain[:, k + 1])
    starts = np.empty((n // length + 1, m, m + 2, p))
    starts[0] = chain[0, 0]
    for k, whole in enumerate(chain[:, -1]):
        _after(whole[:, :m], whole[:, m:], starts[k], starts[k + 1])
    found = np.empty((n + 1, m, m + 2, p))
    inner = found[:-1].reshape(-1, length, m, m + 2, p)
    _after(chain[:, :-1, :, :m], chain[:, :-1, :, m:], starts[:-1, None], inner)
    found[-1] = starts[-1]
    return found


def _stretch(n: int) -> int:
    """The divisor of n that is nearest to its root."""
    return min((k for k in range(1, n + 1) if n % k == 0), key=lambda k: abs(k - n**0.5))


def _after(gain: Array, shift: Array, before: Array, out: Array) -> None:
    """Follow one map by another, over the three last axes: states, columns, supplies."""
    m = gain.shape[-3]
    np.multiply(gain[..., 0, None, :], before[..., None, 0, :, :], out=out)
    if m == 2:
        out += gain[..., 1, None, :] * before[..., None, 1, :, :]
    out[..., m:, :] += shift


def _times(a: Array, b: Array) -> Array:
    """Matrix product over the two first axes."""
    if a.shape[0] == 1:
        return a * b
    return a[:, 0, None] * b[None, 0] + a[:, 1, None] * b[None, 1]


def _inverse(a: Array) -> Array:
    """Inverse over the two first axes, one or two states."""
    if a.shape[0] == 1:
        return np.asarray(1.0 / np.where(a == 0.0, _NOTHING, a))
    determinant = a[0, 0] * a[1, 1] - a[0, 1] * a[1, 0]
    determinant = np.where(determinant == 0.0, _NOTHING, determinant)
    turned: Array = np.stack([np.stack([a[1, 1], -a[0, 1]]), np.stack([-a[1, 0], a[0, 0]])])
    return np.asarray(turned / determinant)
