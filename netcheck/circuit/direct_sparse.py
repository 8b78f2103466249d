"""Triangular factors of many sparse matrices of one pattern, side by side.

Belongs here: factoring and solving in the order of direct_order.py. Does not belong here: what the
matrices are (direct_wide.py).

A network's matrix has some five entries a node, and a variant changes figures, not the pattern. So
each step of the elimination is a handful of array operations over all variants. There is no
pivoting: the conductances of a network dominate their diagonals. Slopes of tubes need not, and so
whoever solves with them must look at what is left of the equation (`Matrices.times`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from netcheck.circuit.direct_order import Order, Sums
from netcheck.circuit.direct_types import Array, Indices

__all__ = ["Factors", "Products", "factored", "reduced_early"]


def reduced_early(order: Order, values: Array) -> None:
    """Eliminate the nodes without devices in `values` (entries, n), which are overwritten."""
    _eliminate(order, values, 0, order.early)


def factored(order: Order, values: Array, early_done: bool = False) -> Factors:
    """Factor `values` (entries, n), which are overwritten."""
    _eliminate(order, values, order.early if early_done else 0, len(order.levels))
    return Factors(order, values, np.ascontiguousarray(values[order.core_at].transpose(2, 0, 1)))


def _eliminate(order: Order, values: Array, start: int, end: int) -> None:
    for level in order.levels[start:end]:
        if len(level.lower):
            values[level.lower] /= values[level.diagonal[level.owner]]
            products = np.take(values, level.left, axis=0)
            products *= np.take(values, level.right, axis=0)
            values[level.into.keys] -= level.into(products)


@dataclass
class Factors:
    """The factors of n matrices: `values` (entries, n) and the `core` (n, c, c), not factored."""

    order: Order
    values: Array
    core: Array

    def solve(self, right: Array) -> Array:
        """What the matrices turn into `right`, (count, n) each."""
        found = right.copy()
        for level in self.order.levels:
            if len(level.lower):
                sums, below, pivots = level.forward
                part = np.take(self.values, below, axis=0)
                part *= np.take(found, pivots, axis=0)
                found[sums.keys] -= sums(part)
        whole = self.order.core
        if len(whole):
            found[whole] = np.linalg.solve(self.core, found[whole].T[..., None])[..., 0].T
        for level in reversed(self.order.levels):
            if len(level.lower):
                sums, beside, others = level.backward
                part = np.take(self.values, beside, axis=0)
                part *= np.take(found, others, axis=0)
                found[level.pivots[sums.keys]] -= sums(part)
            found[level.pivots] /= self.values[level.diagonal]
        return found

    def kept(self, chosen: Indices | slice) -> Factors:
        """The factors of these matrices only."""
        return Factors(self.order, self.values[:, chosen], self.core[chosen])


class Products:
    """Products of sparse matrices whose entries stand at rows and columns, with vectors."""

    def __init__(self, rows: Indices, columns: Indices) -> None:
        self._sums = Sums(rows)
        self._columns = columns[self._sums.order]

    def __call__(self, entries: Array, vectors: Array) -> Array:
        """Matrices with `entries` (m, n) times `vectors` (count, n)."""
        part = np.take(entries, self._sums.order, axis=0)
        part *= np.take(vectors, self._columns, axis=0)
        found = np.zeros_like(vectors)
        found[self._sums.keys] = self._sums(part)
        return found
