"""Evaluates the laws of all tubes of a set and all its variants in one call, for a Newton solver.

Belongs here: gathering node volts, the three kernels, summing currents and slopes into columns.
Does not belong here: where a law comes from (tube_laws.py, tube_law_build.py), solving.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from netcheck.circuit.tube_law_build import Devices
from netcheck.circuit.tube_law_forms import Array, diode, split, triode

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


class _Group(NamedTuple):
    """All devices of one form: table of parameters, columns of their electrodes, their law."""

    table: Array
    columns: NDArray[np.intp]
    law: NDArray[np.intp]


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
        self._diodes = self._group([d.diodes for d in built], wiring)
        self._triodes = self._group([d.triodes for d in built], wiring)
        self._splits = self._group([d.splits for d in built], wiring)
        self._sums = _Sums(self._plan(), self._rows)

    def _group(
        self,
        rows: Sequence[Sequence[tuple[tuple[float, ...], tuple[str, ...]]]],
        wiring: Sequence[Mapping[str, int]],
    ) -> _Group | None:
        flat = [(k, row, names) for k, group in enumerate(rows) for row, names in group]
        if not flat:
            return None
        columns = [[wiring[k][name] % self._rows for name in names] for k, _, names in flat]
        return _Group(
            np.array([row for _, row, _ in flat], dtype=float),
            np.array(columns, dtype=np.intp).T,
            np.array([k for k, _, _ in flat], dtype=np.intp),
        )

    def _plan(self) -> list[NDArray[np.intp]]:
        """The row of every current and the (row, column) of every slope, in order of evaluation."""
        currents, by_row, by_column = [], [], []
        for group, takers in ((self._diodes, 1), (self._triodes, 1), (self._splits, 2)):
            if group is None:
                continue
            controls, cathode = group.columns[:-1], group.columns[-1]
            for taker in group.columns[:takers]:
                currents += [taker, cathode]
                for other in (*controls, cathode):
                    by_row += [taker, cathode]
                    by_column += [other, other]
        none = [np.zeros(0, dtype=np.intp)]
        return [np.concatenate(part or none) for part in (currents, by_row, by_column)]

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
        given = np.asarray(volts, dtype=float)
        full = np.zeros((self._rows, len(given)))
        full[: self.width] = given.T
        for row, weights in self._filaments:
            for column, weight in weights:
                full[row] += weight * full[column]
        flows, slopes = self._evaluate(
            full,
            *(self._per_law(v, len(given)) for v in (emission, contact_shift_v, grid_shift_v)),
        )
        currents, jacobian = self._sums(flows, slopes, len(given))
        for row, weights in self._filaments:
            for column, weight in weights:
                currents[column] += weight * currents[row]
                jacobian[column] += weight * jacobian[row]
            for column, weight in weights:
                jacobian[:, column] += weight * jacobian[:, row]
        kept = slice(self.width)
        return currents[kept].T, np.moveaxis(jacobian[kept, kept], 2, 0)

    def _per_law(self, value: ArrayLike, variants: int) -> Array:
        each = np.asarray(value, dtype=float)
        if each.ndim == 1:
            each = each[:, None]
        return np.broadcast_to(each, (variants, self.n_laws)).T

    def _evaluate(
        self, full: Array, scale: Array, shift: Array, grid_shift: Array
    ) -> tuple[list[Array], list[Array]]:
        """Every current and slope of every device, in the order of `_plan`."""
        flows: list[Array] = []
        slopes: list[Array] = []

        def take(group: _Group, current: Array, parts: Sequence[Array]) -> None:
            times = scale[group.law]
            flow = current * times
            flows.extend((flow, -flow))
            sloped = [part * times for part in parts]
            for slope in (*sloped, -sum(sloped[1:], sloped[0])):
                slopes.extend((slope, -slope))

        if (group := self._diodes) is not None:
            (plate,) = self._drops(group, full)
            current, slope = diode(group.table, plate, shift[group.law], grid_shift[group.law])
            take(group, current, [slope])
        if (group := self._triodes) is not None:
            plate, grid = self._drops(group, full)
            current, by_plate, by_grid = triode(group.table, plate, grid, shift[group.law])
            take(group, current, [by_plate, by_grid])
        if (group := self._splits) is not None:
            plate, screen, grid, second = self._drops(group, full)
            both, parts = split(group.table, (plate, screen, grid, second), shift[group.law])
            for current, slopes_of in zip(both, parts, strict=True):
                take(group, current, slopes_of)
        return flows, slopes

    @staticmethod
    def _drops(group: _Group, full: Array) -> list[Array]:
        """Volts of every electrode of a group's devices against their cathodes."""
        cathode = full[group.columns[-1]]
        return [full[column] - cathode for column in group.columns[:-1]]


class _Sums:
    """Adds device currents and slopes into rows and columns, several to one place."""

    def __init__(self, plan: Sequence[NDArray[np.intp]], rows: int) -> None:
        row, by_row, by_column = plan
        self._rows = rows
        self._flow = self._sorted(row)
        self._slope = self._sorted(by_row * rows + by_column)

    @staticmethod
    def _sorted(place: NDArray[np.intp]) -> tuple[NDArray[np.intp], ...]:
        order = np.argsort(place, kind="stable")
        places, starts = np.unique(place[order], return_index=True)
        return order, places, starts

    def __call__(
        self, flows: Sequence[Array], slopes: Sequence[Array], variants: int
    ) -> tuple[Array, Array]:
        currents = np.zeros((self._rows, variants))
        jacobian = np.zeros((self._rows * self._rows, variants))
        for target, parts, (order, places, starts) in (
            (currents, flows, self._flow),
            (jacobian, slopes, self._slope),
        ):
            if parts:
                target[places] = np.add.reduceat(np.concatenate(parts)[order], starts, axis=0)
        return currents, jacobian.reshape(self._rows, self._rows, variants)
