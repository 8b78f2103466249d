"""Newton steps by sparse factors, because in a large network hardly anything touches anything.

Belongs here: the matrices of all variants at all free nodes, and steps by them. Does not belong
here: few variants of a small network (direct_newton.py by way of direct_reduce.py), the factors
themselves (direct_sparse.py).

The steps are those of direct_newton.py. With the nodal matrix G, device currents i and slopes S the
misfit is m = v - v0 + inverse(G) i, and the whole step d = -inverse(I + inverse(G) S) m is found as
d = -m + x with (G + S) x = S m: so a net that only insulation holds is not told by a small
difference of what large conductances carry.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from netcheck.circuit.direct_newton import Newton, Work
from netcheck.circuit.direct_order import Order, Sums, ordered
from netcheck.circuit.direct_sparse import Products, factored, reduced_early
from netcheck.circuit.direct_types import Array, Changes, Device, Indices, Linear

__all__ = ["WideNetwork", "WideNewton"]

_FIGURES = 150_000  # of a matrix at a time: what a processor's cache holds of it
_LEFT = 1e-4  # of the right side; what is more was not solved for want of pivoting


class WideNetwork:
    """The linear network of every variant, at all free nodes."""

    def __init__(
        self, linear: Linear, changes: Changes, free: Indices, fixed_v: Array, touching: Indices
    ) -> None:
        """`touching` (k, 2) are pairs of free nodes between which devices may have slopes."""
        place = np.full(linear.count, -1, dtype=np.intp)
        place[free] = np.arange(len(free))
        ends = np.stack([np.append(linear.a, changes.a), np.append(linear.b, changes.b)])
        ends.sort(axis=0)
        flat, of_branch = np.unique(ends[0] * linear.count + ends[1], return_inverse=True)
        first, second = np.divmod(flat, linear.count)
        base = np.bincount(of_branch[: len(linear.a)], linear.siemens, len(flat))
        self._base: Array = np.asarray(base, dtype=float)
        self._changed = of_branch[len(linear.a) :]
        self._changes = changes
        self._source_a = linear.source_a[free]
        self._place = place
        a, b = place[first], place[second]
        inner = np.flatnonzero((a >= 0) & (b >= 0) & (a != b))
        self.order = _order(len(free), np.stack([a[inner], b[inner]], axis=1), touching)
        self._assembled(a, b, inner)
        # Nodes beside fixed ones: the pair, the free node, which fixed node.
        of_fixed = np.full(linear.count, -1, dtype=np.intp)
        of_fixed[list(linear.fixed)] = np.arange(len(linear.fixed))
        edge = np.flatnonzero((a >= 0) != (b >= 0))
        self._edge = edge
        self._edge_node = np.maximum(a[edge], b[edge])
        self._edge_fixed = of_fixed[np.where(a[edge] >= 0, second[edge], first[edge])]
        self._fixed_v = fixed_v

    def _assembled(self, a: Indices, b: Indices, inner: Indices) -> None:
        """Which pairs make which entries, and with which sign."""
        pairs, rows, columns, signs = [], [], [], []
        for end in (a, b):
            there = np.flatnonzero((end >= 0) & (a != b))
            pairs.append(there)
            rows.append(end[there])
            columns.append(end[there])
            signs.append(np.ones(len(there)))
        for one, other in ((a, b), (b, a)):
            pairs.append(inner)
            rows.append(one[inner])
            columns.append(other[inner])
            signs.append(-np.ones(len(inner)))
        self._sums = Sums(self.order.at(np.concatenate(rows), np.concatenate(columns)))
        self._pairs = np.concatenate(pairs)[self._sums.order]
        self._signs = np.concatenate(signs)[self._sums.order][:, None]

    def siemens(self, rows: Indices) -> Array:
        """The conductance of every pair in these variants, (pairs, n)."""
        found: Array = np.repeat(self._base[:, None], len(rows), axis=1)
        some, column = self._changes.of(rows)
        np.add.at(found, (self._changed[some], column), self._changes.siemens[some])
        return found

    def values(self, siemens: Array) -> Array:
        """The matrices' entries, (entries, n)."""
        found = np.zeros((len(self.order.keys), siemens.shape[1]))
        found[self._sums.keys] = self._sums(np.take(siemens, self._pairs, axis=0) * self._signs)
        return found

    def sources(self, rows: Indices, siemens: Array) -> Array:
        """Amperes that sources and fixed nodes drive into the free nodes, (nodes, n)."""
        found = np.repeat(self._source_a[:, None], len(rows), axis=1)
        driven = siemens[self._edge] * self._fixed_v[rows].T[self._edge_fixed]
        np.add.at(found, self._edge_node, driven)
        extra, column = self._changes.sources_of(rows)
        node = self._place[self._changes.source_node[extra]]
        free = node >= 0
        np.add.at(found, (node[free], column[free]), self._changes.source_a[extra[free]])
        return found


def _order(count: int, pairs: Indices, touching: Indices) -> Order:
    both = np.concatenate([pairs, touching])
    return ordered(count, zip(*both.T.tolist(), strict=True), np.unique(touching).tolist())


class WideNewton(Newton):
    """Newton's method at all free nodes of a network."""

    def __init__(
        self,
        linear: Linear,
        devices: Sequence[Device],
        free: Indices,
        fixed_v: Array,
        changes: Changes,
    ) -> None:
        super().__init__(linear, devices, free, free, fixed_v)
        count = len(free)
        at = np.concatenate([np.empty(0, np.intp), *(place.flat_at for place in self.places)])
        rows, columns = np.divmod(at, max(count, 1))
        self.wide = WideNetwork(linear, changes, free, fixed_v, np.stack([rows, columns], axis=1))
        self.sums = Sums(self.wide.order.at(rows, columns))
        keys = self.wide.order.keys[self.sums.keys]
        self.slope_product = Products(*np.divmod(keys, max(count, 1)))
        self.anchored = np.zeros(count)
        self.anchored[np.unique(np.concatenate([rows, columns]))] = 1.0
        early = [level.pivots for level in self.wide.order.levels[: self.wide.order.early]]
        late = np.ones(count, dtype=bool)
        late[np.concatenate([np.empty(0, np.intp), *early])] = False
        every = np.divmod(self.wide.order.keys, max(count, 1))
        self.late_at = np.flatnonzero(late[every[0]] & late[every[1]])
        self.late_product = Products(every[0][self.late_at], every[1][self.late_at])

    def run(self, start_v: Array | None) -> None:
        """Step until every row has settled (see `Newton.run`)."""
        if len(self.sums.keys):
            super().run(start_v)
            return
        self.port_v = self.opened(np.arange(len(self.port_v)))  # no device at a free node
        self.last_step_v[:] = 0.0

    def work(self, rows: Indices) -> Work:
        """These rows side by side."""
        return _WideWork(self, rows)

    def opened(self, rows: Indices) -> Array:
        """Volts with no device current, (n, nodes)."""
        parts = [np.empty((0, len(self.ports)))]
        for some in self.parted(rows):
            siemens = self.wide.siemens(some)
            linear = factored(self.wide.order, self.wide.values(siemens))
            parts.append(linear.solve(self.wide.sources(some, siemens)).T)
        return np.concatenate(parts)

    def parted(self, rows: Indices) -> list[Indices]:
        """Rows in as many parts as keep their matrices in the cache."""
        each = max(1, _FIGURES // max(len(self.wide.order.keys), 1))
        return [rows[k : k + each] for k in range(0, len(rows), each)]

    def all_volts(self, linear: Linear) -> Array:
        """Volts of every node (B, count)."""
        volts = np.zeros((len(self.port_v), linear.count))
        volts[:, list(linear.fixed)] = self.fixed_v
        volts[:, self.free] = self.port_v
        return volts


class _WideWork(Work):
    """Rows with their sparse matrices: `base` with the early nodes eliminated, and its factors."""

    newton: WideNewton

    def reduce(self) -> Array:
        """Take what these rows need of the linear network; the volts without devices (n, p)."""
        wide = self.newton.wide
        siemens = wide.siemens(self.rows)
        values = wide.values(siemens)
        reduced_early(wide.order, values)
        self.base = values.copy()
        self.linear = factored(wide.order, values, early_done=True)
        return self.linear.solve(wide.sources(self.rows, siemens)).T

    def keep(self, chosen: NDArray[np.bool_]) -> None:
        """Go on with these rows only."""
        super().keep(chosen)
        where = np.flatnonzero(chosen)
        self.base, self.linear = self.base[:, where], self.linear.kept(where)

    def evaluate(self, volts: Array, rows: Indices) -> tuple[Array, Array]:
        """Currents out of the nodes and their slopes, one after the other."""
        return self.newton.sparse(volts, rows)

    def drawn(self, chosen: slice | Indices, currents: Array) -> Array:
        """Volts that currents out of the nodes take off them, (n, p)."""
        linear = self.linear if isinstance(chosen, slice) else self.linear.kept(chosen)
        return linear.solve(currents.T).T

    def direction(self) -> Array:
        """Newton's whole step, (n, p)."""
        newton, anchor_s = self.newton, self.newton.anchor_s
        slopes = newton.sums(np.take(self.slopes.T, newton.sums.order, axis=0))
        misfit = self.misfit.T
        right = newton.slope_product(slopes, misfit)
        values = self.base.copy()
        values[newton.sums.keys] += slopes
        if anchor_s:
            held = anchor_s * newton.anchored[:, None]
            right += held * misfit
            values[newton.wide.order.diagonal] += held
        kept = np.take(values, newton.late_at, axis=0)
        with np.errstate(all="ignore"):
            found = factored(newton.wide.order, values, early_done=True).solve(right)
            left = np.abs(newton.late_product(kept, found) - right).max(axis=0)
        for column in np.flatnonzero(~(left <= _LEFT * np.abs(right).max(axis=0))):
            found[:, column] = self._pivoted(int(column), slopes[:, column], right[:, column])
        return (found - misfit).T

    def _pivoted(self, column: int, slopes: Array, right: Array) -> Array:
        """One row's step by its whole matrix, with pivoting."""
        newton = self.newton
        order = newton.wide.order
        values = newton.wide.values(newton.wide.siemens(self.rows[[column]]))[:, 0]
        values[newton.sums.keys] += slopes
        values[order.diagonal] += newton.anchor_s * newton.anchored
        matrix = np.zeros(order.count**2)
        matrix[order.keys] = values
        try:
            return np.asarray(np.linalg.solve(matrix.reshape(order.count, -1), right))
        except np.linalg.LinAlgError:
            return np.zeros_like(right)
