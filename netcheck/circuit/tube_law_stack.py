"""Evaluates the laws of all tubes of a set and all its variants in one call, for a Newton solver.

Belongs here: gathering node volts, summing currents and slopes of streams into columns.
Does not belong here: the streams (tube_law_kernel.py), where laws come from (tube_laws.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from netcheck.circuit.tube_law_build import Devices
from netcheck.circuit.tube_law_forms import DIODE, SPLIT, TRIODE, Array
from netcheck.circuit.tube_law_kernel import Group, Kernel

__all__ = ["GROUND", "LawStack", "Stackable"]

GROUND = -1
"""The column of a terminal that is the reference of all volts: zero, and not solved for."""


class Stackable(Protocol):
    """What a stack needs of a law."""

    @property
    def terminals(self) -> tuple[str, ...]:
        """The electrodes, in the order of their columns."""

    @property
    def filament(self) -> Mapping[str, float]:
        """The weight of each filament terminal in the mean cathode potential (may be empty)."""

    def devices(self, oscillator: str) -> Devices:
        """The devices with the oscillator `running` or `dead`."""


class LawStack:
    """Several laws evaluated together.

    `columns` names for every law the column of each of its terminals, so that the columns may be
    the nodes of a circuit and several terminals may share one; `GROUND` stands for the reference.
    Without it every terminal has a column of its own, law after law. `oscillators` says `running`
    or `dead` for each law. (To mix both in one batch, stack the tube twice and let `emission`
    choose.)
    """

    def __init__(
        self,
        laws: Sequence[Stackable],
        columns: Sequence[Sequence[int]] | None = None,
        oscillators: Sequence[str] | None = None,
    ) -> None:
        states = ["running"] * len(laws) if oscillators is None else list(oscillators)
        if columns is None:
            starts = np.cumsum([0, *(len(law.terminals) for law in laws)])
            columns = [
                range(start, start + len(law.terminals))
                for start, law in zip(starts, laws, strict=False)
            ]
        self.n_laws = len(laws)
        self.width = 1 + max((c for group in columns for c in group), default=-1)
        # Further rows: one mean cathode for each filament, and the reference in the last row.
        self._filaments: list[tuple[int, list[tuple[int, float]]]] = []
        extra = self.width
        wiring: list[dict[str, int]] = []
        for law, group in zip(laws, columns, strict=True):
            at = dict(zip(law.terminals, group, strict=True))
            if law.filament:
                weights = [(at[name], weight) for name, weight in law.filament.items()]
                self._filaments.append((extra, weights))
                at.update(dict.fromkeys(law.filament, extra))
                extra += 1
            wiring.append(at)
        self._rows = extra + 1
        built = [law.devices(state) for law, state in zip(laws, states, strict=True)]
        groups = (
            self._group([d.diodes for d in built], wiring, DIODE, 2),
            self._group([d.triodes for d in built], wiring, TRIODE, 3),
            self._group([d.splits for d in built], wiring, SPLIT, 5),
        )
        self._kernel = Kernel(*groups, self._rows)
        means = [(row, column, weight) for row, some in self._filaments for column, weight in some]
        self._mean = np.zeros((self._rows, self.width))
        for row, column, weight in means:
            self._mean[row, column] += weight
        parts = dict(self._filaments)
        parts |= {row: [(row, 1.0)] for row in range(self.width)}
        self._sums = _Sums(groups, parts, self.width)

    def _group(
        self,
        rows: Sequence[Sequence[tuple[tuple[float, ...], tuple[str, ...]]]],
        wiring: Sequence[Mapping[str, int]],
        table: type[tuple[float, ...]],
        electrodes: int,
    ) -> Group:
        flat = [(k, row, names) for k, group in enumerate(rows) for row, names in group]
        columns = [[wiring[k][name] % self._rows for name in names] for k, _, names in flat]
        parameters = len(table.__annotations__)
        return Group(
            np.array([row for _, row, _ in flat], dtype=float).reshape(-1, parameters),
            np.array(columns, dtype=np.intp).reshape(-1, electrodes).T,
            np.array([k for k, _, _ in flat], dtype=np.intp),
        )

    def currents(
        self,
        volts: ArrayLike,
        *,
        emission: ArrayLike = 1.0,
        contact_shift_v: ArrayLike = 0.0,
        grid_shift_v: ArrayLike = 0.0,
    ) -> tuple[Array, Array]:
        """Return the currents (A) into the tubes at every column and their slopes (S).

        `volts` is (variants, columns); the answer is (variants, columns) and (variants, columns,
        columns), slope [b, i, j] being that of current i against volts j. `emission` scales every
        current (0 = cold, 0.5 = weak), `contact_shift_v` adds to the contact potentials of streams
        and diodes, `grid_shift_v` to that of control grids' own current; each is a number,
        (variants,) or (variants, laws).
        """
        currents, slopes = self.sparse(volts, emission, contact_shift_v, grid_shift_v)
        whole = np.zeros((len(currents), self.width * self.width))
        whole[:, self.places] = slopes
        return currents, whole.reshape(-1, self.width, self.width)

    @property
    def places(self) -> NDArray[np.intp]:
        """Where the slopes are that can be other than nothing, as row x width + column."""
        return self._sums.places

    def sparse(
        self,
        volts: ArrayLike,
        emission: ArrayLike,
        contact_shift_v: ArrayLike,
        grid_shift_v: ArrayLike,
    ) -> tuple[Array, Array]:
        """The same as `currents` with the slopes at `places` only, (variants, places)."""
        given = np.asarray(volts, dtype=float).T
        full = np.zeros((self._rows, given.shape[1]))
        full[: self.width] = given
        if self._filaments:
            full += self._mean @ given
        shifts = (self._per_law(each, 0.0) for each in (contact_shift_v, grid_shift_v))
        flows, slopes = self._kernel.evaluate(full, *shifts)
        return self._sums(flows, slopes, self._per_law(emission, 1.0))

    def _per_law(self, value: ArrayLike, usual: float) -> Array | None:
        """A figure as (laws, variants or 1); None where it is as usual throughout."""
        each = np.asarray(value, dtype=float)
        if (each == usual).all():
            return None
        if each.ndim == 1:
            each = each[:, None]
        return np.broadcast_to(each, (each.shape[0] if each.ndim else 1, self.n_laws)).T


class _Sums:
    """Adds the currents and slopes of streams into columns, several to one place.

    A stream enters at its taker and leaves at its cathode; a filament's share of it leaves at each
    end. So every slope counts with a sign at four places, and more with a filament.
    """

    def __init__(
        self,
        groups: tuple[Group, Group, Group],
        parts: Mapping[int, Sequence[tuple[int, float]]],
        width: int,
    ) -> None:
        self._width = width
        flows: list[tuple[int, int, float]] = []  # place, stream, weight
        slopes: list[tuple[int, int, float]] = []
        of_slope: list[NDArray[np.intp]] = []
        stream = slope = 0
        for group, takers in zip(groups, (1, 1, 2), strict=True):
            cathode = group.electrodes[-1]
            for taker in group.electrodes[:takers]:
                numbers = np.arange(stream, stream + len(group))
                ends = [(taker, 1.0), (cathode, -1.0)]
                flows += _placed(parts, numbers, ends)
                for control in group.electrodes[:-1]:
                    own = np.arange(slope, slope + len(group))
                    by = [(control, 1.0), (cathode, -1.0)]
                    slopes += _placed_pairs(parts, own, ends, by, width)
                    of_slope.append(group.law)
                    slope += len(group)
                stream += len(group)
        self._flow, self._slope = _sorted(flows), _sorted(slopes)
        self.places = self._slope[0]
        self._law_of_flow = np.concatenate(
            [group.law for group, n in zip(groups, (1, 1, 2), strict=True) for _ in range(n)]
        )
        self._law_of_slope = np.concatenate(of_slope)

    def __call__(self, flows: Array, slopes: Array, scale: Array | None) -> tuple[Array, Array]:
        """Currents (n, columns) and slopes (n, places); `scale` is (laws, n or 1)."""
        if scale is not None:
            flows = flows * scale[self._law_of_flow]
            slopes = slopes * scale[self._law_of_slope]
        currents = np.zeros((flows.shape[1], self._width))
        currents[:, self._flow[0]] = _added(flows, *self._flow[1:])
        return currents, _added(slopes, *self._slope[1:])


def _added(
    given: Array, source: NDArray[np.intp], weight: Array, starts: NDArray[np.intp]
) -> Array:
    """Sums of weighted rows, (n, places)."""
    if not len(starts):
        return np.zeros((given.shape[1], 0))
    return np.asarray(np.add.reduceat(given[source] * weight, starts, axis=0).T)


_Parts = Mapping[int, Sequence[tuple[int, float]]]
_Ends = Sequence[tuple[NDArray[np.intp], float]]


def _placed(parts: _Parts, numbers: NDArray[np.intp], ends: _Ends) -> list[tuple[int, int, float]]:
    """Where currents go: column, number of the stream, weight (none at the reference)."""
    return [
        (column, int(number), sign * weight)
        for rows, sign in ends
        for row, number in zip(rows, numbers, strict=True)
        for column, weight in parts.get(int(row), ())
    ]


def _placed_pairs(
    parts: _Parts, numbers: NDArray[np.intp], ends: _Ends, by: _Ends, width: int
) -> list[tuple[int, int, float]]:
    """The same of slopes, at a place for each pair of columns."""
    return [
        (column * width + other, int(number), sign * weight * by_sign * by_weight)
        for rows, sign in ends
        for by_rows, by_sign in by
        for row, by_row, number in zip(rows, by_rows, numbers, strict=True)
        for column, weight in parts.get(int(row), ())
        for other, by_weight in parts.get(int(by_row), ())
    ]


def _sorted(
    placed: Sequence[tuple[int, int, float]],
) -> tuple[NDArray[np.intp], NDArray[np.intp], Array, NDArray[np.intp]]:
    """Places (each once), and in their order the sources, weights and first of each."""
    place = np.array([each[0] for each in placed], dtype=np.intp)
    order = np.argsort(place, kind="stable")
    ordered = place[order]
    starts = np.flatnonzero(np.diff(ordered, prepend=-1))
    places = ordered[starts]
    source = np.array([each[1] for each in placed], dtype=np.intp)[order]
    weight = np.array([each[2] for each in placed], dtype=float)[order][:, None]
    return places, source, weight, starts
