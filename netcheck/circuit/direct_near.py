"""Newton steps for large networks, because a change of one part moves few of a thousand ports.

Belongs here: steps by one inverse for all variants, corrected where a variant differs. Does not
belong here: small networks and variants that differ everywhere (direct_newton.py).

At a reference the matrix of Newton's method is J* = I + Z* S*, with the slopes S* of the devices.
A variant has Z = Z* - P Q of low rank and slopes S = S* + D, where D matters at few ports. So
J = J* + Z* D - P Q S is J* with a correction of low rank, and its inverse follows from that of J*
(Sherman-Morrison-Woodbury). What is left out of D slows the last steps down and changes no result,
because the misfit is always that of the whole network.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from netcheck.circuit.direct_newton import Newton, Work
from netcheck.circuit.direct_types import Array, Indices

__all__ = ["LargeNewton"]

_ROUNDS = 20
_ROWS = 32  # at a time
_MATTERS = 0.1
"""Changed slopes that move a port's volts by a smaller part of its change are left out of D."""


class _Reference:
    """The point whose inverse serves all rows."""

    def __init__(self, newton: Newton, volts: Array, row: Indices) -> None:
        count = len(newton.ports)
        _, slopes = newton.currents(volts[None], row)
        _, self.values = newton.sparse(volts[None], row)
        flat = np.concatenate([place.flat_at for place in newton.places])
        self.at_row, self.at_column = flat // count, flat % count
        self.slopes = slopes[0]
        self.impedance = newton.network.impedance
        self.inverse = np.linalg.inv(np.eye(count) + self.impedance @ self.slopes)
        self.by_current = self.inverse @ self.impedance
        own = np.maximum(np.diagonal(self.impedance), 1e-3)
        self.matters = (_MATTERS / own)[self.at_row]


class LargeNewton(Newton):
    """Newton's method for a network of many ports."""

    @cached_property
    def _pattern(self) -> tuple[Indices, Indices, Indices]:
        """Where slopes can be: rows by column, the columns, and the first of each."""
        count = len(self.ports)
        some = np.eye(count, dtype=bool)
        for place in self.places:
            some.reshape(-1)[place.flat_at] = True
        columns, rows = np.nonzero(some.T)
        return rows, columns, np.flatnonzero(np.diff(columns, prepend=-1))

    def product(self, impedance: Array, slopes: Array) -> Array:
        """Impedances times slopes, of which nearly all are nothing."""
        rows, columns, starts = self._pattern
        found = np.empty_like(impedance)
        for one, given, by in zip(found, impedance, slopes, strict=True):
            for some in np.array_split(np.arange(len(one)), max(1, len(one) // 64)):
                terms = given[np.ix_(some, rows)] * by[rows, columns]
                one[some] = np.add.reduceat(terms, starts, axis=1)
        return found

    def near(self, rows: Indices, start_v: Array) -> Indices:
        """Settle rows that start near their ends; those that have not are returned."""
        if not len(rows):
            return rows
        reference = _Reference(self, start_v, rows[:1])
        parts = [rows[k : k + _ROWS] for k in range(0, len(rows), _ROWS)]
        left = [self.settle(_NearWork(self, some, reference), _ROUNDS) for some in parts]
        return np.concatenate(left)


class _NearWork(Work):
    """Rows whose matrices are one inverse and a correction each."""

    def __init__(self, newton: Newton, rows: Indices, reference: _Reference) -> None:
        self.reference = reference
        super().__init__(newton, rows)

    def reduce(self) -> None:
        """Take what these rows need of the linear network."""
        pairs = [self.newton.network.low_rank(int(row)) for row in self.rows]
        rank = max(left.shape[1] for left, _ in pairs)
        count, ports = len(pairs), len(self.newton.ports)
        self.left, self.right = np.zeros((count, ports, rank)), np.zeros((count, rank, ports))
        for row, (left, right) in enumerate(pairs):
            self.left[row, :, : left.shape[1]], self.right[row, : left.shape[1]] = left, right
        self.by_left = self.reference.inverse @ self.left
        self.by_slopes = self.right @ self.reference.slopes

    def kept(self) -> tuple[str, ...]:
        """The names of all that has a row a variant."""
        return ("rows", "open_v", "volts", "anchor_v", "currents", "slopes", "misfit", "left",
                "right", "by_left", "by_slopes")  # fmt: skip

    def evaluate(self, volts: Array, rows: Indices) -> tuple[Array, Array]:
        """Currents out of the ports and their slopes, one after the other."""
        return self.newton.sparse(volts, rows)

    def drawn(self, chosen: slice | Indices, currents: Array) -> Array:
        """Volts that currents out of the ports take off them, (n, p)."""
        less = self.left[chosen] @ (self.right[chosen] @ currents[..., None])
        return np.asarray(currents @ self.reference.impedance.T - less[..., 0])

    def direction(self) -> Array:
        """Newton's whole step, (n, p)."""
        plain = self.misfit @ self.reference.inverse.T
        return np.stack([-self._corrected(row, plain[row]) for row in range(len(plain))])

    def _corrected(self, row: int, plain: Array) -> Array:
        reference, ports = self.reference, len(plain)
        change = self.slopes[row] - reference.values[0]
        moved = np.zeros(ports, dtype=bool)
        moved[reference.at_row[np.abs(change) > reference.matters]] = True
        where = np.flatnonzero(moved)
        place = np.cumsum(moved) - 1
        some = np.flatnonzero(moved[reference.at_row])
        flat = place[reference.at_row[some]] * ports + reference.at_column[some]
        moved_by = np.bincount(flat, change[some], len(where) * ports).reshape(len(where), ports)
        rows = np.concatenate(
            [moved_by, self.by_slopes[row] + self.right[row][:, where] @ moved_by]
        )
        columns = np.concatenate([reference.by_current[:, where], -self.by_left[row]], axis=1)
        core = np.eye(len(rows)) + rows @ columns
        return np.asarray(plain - columns @ np.linalg.solve(core, rows @ plain))
