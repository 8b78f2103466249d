"""A supply as one smooth curve of current against volts, because the operating point needs that.

Belongs here: the monotone curve through solved points of a supply, for a Newton solver to call.
Does not belong here: solving the points (rectify), the set's network.

Near no load a rectifier's current rises about as the three-halves power of the volts it falls
(narrow conduction angle; space-charge law), so `I^(2/3)` against volts is nearly straight and is
what is interpolated, by monotone cubics (F. N. Fritsch and R. E. Carlson, SIAM J. Numer. Anal. 17
(1980) 238, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from netcheck.circuit.rectify import (
    RectifierState,
    critical_current_a,
    short_circuit_a,
    solve_into_ohms,
)
from netcheck.circuit.rectify_cycle import NDArrayBool
from netcheck.circuit.rectify_law import Array
from netcheck.circuit.rectify_spec import RectifierSpec

__all__ = ["LEAK_S", "SupplyCurve", "supply_curve"]

LEAK_S = 1e-9
"""Above its no-load volts a supply takes this many siemens back: 0.1 uA at 100 V above. A real
rectifier leaks more (a selenium stack a thousand times as much); here it only keeps the curve
monotone."""

_POWER = 1.5
_POINTS = 16
_DEEPEST = 0.97
_BEHIND_CHOKE = 0.8
_NEAR_CRITICAL = np.array([0.1, 0.2, 0.3, 0.45, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0, 1.05, 1.1, 1.3])
"""Output volts bend at the critical current of an input choke: points stand close there, in
parts of it."""


@dataclass(frozen=True, slots=True)
class SupplyCurve:
    """Current against volts of B supplies, strictly falling everywhere.

    `volts` (B, K) rising to the no-load volts, `amperes` (B, K) falling to 0: the solved points.
    `peak_a` (B, K) is the peak of a plate's current there. `settled` (B,) is False where a point
    was not found: that supply must not be used. Made by `supply_curve`.
    """

    volts: Array
    amperes: Array
    peak_a: Array
    settled: NDArrayBool
    _cubics: Array

    @property
    def no_load_v(self) -> Array:
        """Volts without load (B,)."""
        return self.volts[:, -1]

    @property
    def short_circuit_a(self) -> Array:
        """Amperes at zero volts (B,)."""
        return self.current(np.zeros(self.volts.shape[0]))[0]

    def current(
        self, volts: ArrayLike, rows: NDArray[np.intp] | None = None
    ) -> tuple[Array, Array]:
        """Amperes delivered at the output volts (B,), and their slope dI/dV (negative), (B,).

        With `rows` both are of those rows, in this order (a row may stand more than once).
        `LEAK_S` times the volts above no load flows back. Below the lowest solved point the
        curve goes on straight, with the slope it has there.
        """
        rows = np.arange(len(self.volts)) if rows is None else rows
        at = np.broadcast_to(np.asarray(volts, dtype=float), rows.shape)
        points = self.volts[rows]
        least, most = points[:, 0], points[:, -1]
        inside = np.minimum(np.maximum(at, least), most)
        k = (points[:, 1:-1] <= inside[:, None]).sum(axis=1)
        root, slope = _cubic(inside, *self._cubics[rows, k].T)
        root = np.maximum(root, 0.0)
        amperes = root**_POWER
        steep = np.minimum(_POWER * np.sqrt(root) * slope, 0.0)
        below = np.minimum(at - least, 0.0)
        above = at - most
        steep_here = np.where(above > 0.0, 0.0, steep)
        return amperes + steep * below - LEAK_S * above, steep_here - LEAK_S

    def peak(self, volts: ArrayLike, rows: NDArray[np.intp] | None = None) -> tuple[Array, Array]:
        """Peak amperes of a plate at output volts (B,), and their slope (straight lines).

        `rows` as in `current`.
        """
        rows = np.arange(len(self.volts)) if rows is None else rows
        at = np.broadcast_to(np.asarray(volts, dtype=float), rows.shape)
        points, peaks = self.volts[rows], self.peak_a[rows]
        each = np.arange(rows.size)
        k = np.sum(points[:, 1:-1] <= at[:, None], axis=1)
        left, right = points[each, k], points[each, k + 1]
        low, high = peaks[each, k], peaks[each, k + 1]
        inside = (at > left) & (at < right)
        slope = (high - low) / (right - left)
        peak_a = low + slope * (np.clip(at, left, right) - left)
        return peak_a, np.where(inside, slope, 0.0)

    def output_v(self, amperes: ArrayLike) -> Array:
        """Output volts (B,) at a load current (B,), by bisection of `current`."""
        wanted = np.broadcast_to(np.asarray(amperes, dtype=float), self.volts.shape[:1])
        low, high = np.zeros(wanted.size) - 1e-9, self.no_load_v + 1e-9
        for _ in range(60):
            middle = 0.5 * (low + high)
            more = self.current(middle)[0] > wanted
            low, high = np.where(more, middle, low), np.where(more, high, middle)
        return np.asarray(0.5 * (low + high))


def supply_curve(spec: RectifierSpec, points: int = _POINTS) -> SupplyCurve:
    """The curve of every variant of a spec, through `points` solved load resistances.

    They crowd towards no load, where a set works, and end just short of the short circuit. With an
    input choke the volts are those before the choke, which stays in the set's network; its ohms
    still count in the currents at which points are taken.
    """
    state = solve_into_ohms(spec, *_loads(spec, points))
    idle = spec.no_load_v[:, None]
    volts = np.concatenate([state.dc_v[:, ::-1], idle], axis=1)
    amperes = np.concatenate([state.load_a[:, ::-1], np.zeros_like(idle)], axis=1)
    peak_a = np.concatenate([state.plate_peak_a[:, ::-1], np.zeros_like(idle)], axis=1)
    volts, amperes = _falling(np.nan_to_num(volts), np.nan_to_num(amperes))
    dead = spec.no_load_v <= 0.0
    volts[dead] = np.arange(1.0 - volts.shape[1], 1.0)
    amperes[dead] = 0.0
    peak_a = np.where(dead[:, None], 0.0, np.nan_to_num(peak_a))
    root = amperes ** (1.0 / _POWER)
    return SupplyCurve(volts, amperes, peak_a, _all_settled(state) | dead, _cubics(volts, root))


def _all_settled(state: RectifierState) -> NDArrayBool:
    return np.asarray(state.settled.all(axis=1))


def _loads(spec: RectifierSpec, points: int) -> tuple[Array, Array]:
    """Load ohms (B, points), heaviest last, evenly spread in the square root of `I^(2/3)`.

    With them about what part of the volts without load stands at each (points,).
    """
    part = _DEEPEST * (np.arange(1, points + 1) / points) ** 2
    no_load_v = np.maximum(spec.no_load_v, 1e-6)[:, None]
    most = short_circuit_a(spec)[:, None]
    ohms = no_load_v * (1.0 - part) / np.maximum(most * part**_POWER, 1e-12)
    critical = critical_current_a(spec)[:, None]
    if np.any(critical > 0.0):
        near = 2.0 / np.pi * no_load_v / np.maximum(critical * _NEAR_CRITICAL, 1e-12)
        ohms = -np.sort(-np.concatenate([ohms, near], axis=1))
    return ohms, 1.0 - part if ohms.shape[1] == points else np.full(ohms.shape[1], _BEHIND_CHOKE)


def _falling(volts: Array, amperes: Array) -> tuple[Array, Array]:
    """The points with volts strictly rising and amperes strictly falling (rounding evened out)."""
    least_v = 1e-9 * np.maximum(volts[:, -1:], 1e-3)
    steps = np.arange(volts.shape[1])
    volts = np.maximum.accumulate(volts - least_v * steps, axis=1) + least_v * steps
    amperes = np.maximum.accumulate(amperes[:, ::-1], axis=1)[:, ::-1]
    return volts, amperes


def _monotone_slopes(x: Array, y: Array) -> Array:
    """Slopes at the points that keep a cubic through them monotone (weighted harmonic means)."""
    width, rise = np.diff(x, axis=1), np.diff(y, axis=1)
    chord = rise / width
    slopes = np.empty_like(x)
    slopes[:, 0], slopes[:, -1] = chord[:, 0], chord[:, -1]
    first = 2.0 * width[:, 1:] + width[:, :-1]
    second = width[:, 1:] + 2.0 * width[:, :-1]
    flat = np.minimum(chord, -1e-30)
    divisor = first / flat[:, :-1] + second / flat[:, 1:]
    slopes[:, 1:-1] = (first + second) / divisor
    return slopes


def _cubics(volts: Array, root: Array) -> Array:
    """The Hermite cubics between the points, (B, K - 1, 7), as `_cubic` takes them."""
    slope = _monotone_slopes(volts, root)
    width = np.diff(volts, axis=1)
    chord = np.diff(root, axis=1) / width
    ends = [root[:, :-1], root[:, 1:]]
    return np.stack(
        [volts[:, :-1], width, *ends, chord, slope[:, :-1] - chord, chord - slope[:, 1:]], axis=-1
    )


def _cubic(
    x: Array, x0: Array, h: Array, y0: Array, y1: Array, c: Array, a: Array, b: Array
) -> tuple[Array, Array]:
    """The Hermite cubic between two points and its slope.

    The points are `h` apart; `c` is the slope of their chord, `a` by how much that of the cubic is
    more at the first, `b` by how much it is less at the second.
    """
    t = (x - x0) / h
    u = 1.0 - t
    value = u * y0 + t * y1 + h * t * u * (a * u + b * t)
    slope = c + (1.0 - 2.0 * t) * (a * u + b * t) + t * u * (b - a)
    return value, slope
