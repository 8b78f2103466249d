"""What a direct-current network is to the engine: the linear part, devices, variants, solutions.

Belongs here: the records that model and engine exchange. Does not belong here: solving.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "ACCEPTED_A", "ACCEPTED_V", "Array", "Change", "Changes", "Device", "Indices", "Linear",
    "RestingDevice", "Solutions", "SparseDevice", "Variant",
]  # fmt: skip

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

ACCEPTED_A = 1e-9
ACCEPTED_V = 1e-6


class Device(Protocol):
    """A nonlinear part on some nodes (each once), evaluated for all variants at once."""

    nodes: tuple[int, ...]

    def evaluate(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        """Currents into the device and their slopes.

        Args:
            volts: (n, len(nodes)) node volts [V].
            variants: (n,) which variant each row belongs to.

        Returns:
            (n, len(nodes)) currents [A] and (n, len(nodes), len(nodes)) slopes [S].
        """


@runtime_checkable
class SparseDevice(Device, Protocol):
    """A device of many nodes most of whose slopes are nothing always."""

    @property
    def places(self) -> Indices:
        """The others, each as row x nodes + column."""

    def sparse(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        """What `evaluate` gives, with the slopes at `places` only: (n, len(places)) [S]."""


@runtime_checkable
class RestingDevice(Device, Protocol):
    """A device that tells where its nodes may rest: there the search begins, wherever it ends.

    `start_v` (nodes,) are volts above those without any device current.
    """

    start_v: Array


@dataclass(frozen=True, slots=True)
class Change:
    """`siemens` more (or less) between nodes `a` and `b`."""

    a: int
    b: int
    siemens: float


@dataclass(frozen=True, slots=True)
class Variant:
    """One state of the network: changed conductances and sources, volts of its fixed nodes.

    `sources` are pairs of a node and the amperes that flow into it besides those of the base.
    """

    changes: tuple[Change, ...] = ()
    sources: tuple[tuple[int, float], ...] = ()
    fixed_v: tuple[float, ...] | None = None


class Changes:
    """What all variants change, laid one after the other.

    `a`, `b`, `siemens` are those of the changes, `row` the variant of each; `source_node` and
    `source_a` the further sources, `source_row` likewise.
    """

    def __init__(self, variants: Sequence[Variant]) -> None:
        self.count = len(variants)
        many = [len(variant.changes) for variant in variants]
        self.row: Indices = np.repeat(np.arange(self.count), many)
        flat = [(each.a, each.b) for variant in variants for each in variant.changes]
        ends = np.array(flat, dtype=np.intp).reshape(-1, 2)
        self.a: Indices = ends[:, 0]
        self.b: Indices = ends[:, 1]
        self.siemens: Array = np.array(
            [each.siemens for variant in variants for each in variant.changes], dtype=float
        )
        sources = [(row, *each) for row, v in enumerate(variants) for each in v.sources]
        self.source_row: Indices = np.array([row for row, _, _ in sources], dtype=np.intp)
        self.source_node: Indices = np.array([node for _, node, _ in sources], dtype=np.intp)
        self.source_a: Array = np.array([amperes for _, _, amperes in sources], dtype=float)

    def of(self, rows: Indices) -> tuple[Indices, Indices]:
        """The changes of these variants (each once) by number, and where in `rows` theirs is."""
        return self._of(self.row, rows)

    def sources_of(self, rows: Indices) -> tuple[Indices, Indices]:
        """The same of their sources."""
        return self._of(self.source_row, rows)

    def _of(self, of_row: Indices, rows: Indices) -> tuple[Indices, Indices]:
        place = np.full(self.count, -1, dtype=np.intp)
        place[rows] = np.arange(len(rows))
        some = np.flatnonzero(place[of_row] >= 0)
        return some, place[of_row[some]]


@dataclass(frozen=True)
class Linear:
    """The linear part: `count` nodes, conductances between node pairs, sources, fixed nodes.

    `a`, `b` (m,) node indices, `siemens` (m,); `source_a` (count,) amperes that flow into each
    node from sources; `fixed` the indices of nodes whose volts `fixed_v` are given.
    """

    count: int
    a: Indices
    b: Indices
    siemens: Array
    source_a: Array
    fixed: tuple[int, ...]
    fixed_v: tuple[float, ...]

    def matrix(self) -> Array:
        """The (count, count) conductance matrix [S]."""
        made = np.zeros((self.count, self.count))
        np.add.at(made, (self.a, self.a), self.siemens)
        np.add.at(made, (self.b, self.b), self.siemens)
        np.add.at(made, (self.a, self.b), -self.siemens)
        np.add.at(made, (self.b, self.a), -self.siemens)
        return made


@dataclass(frozen=True)
class Solutions:
    """What was solved, a row a variant.

    `volts` (B, count) [V]; `solved` (B,) whether it is accepted (rows that are not hold NaN);
    `residual_a` (B,) the largest current sum of a node [A]; `unsettled` the nodes of rows that
    were not accepted.
    """

    volts: Array
    solved: NDArray[np.bool_]
    residual_a: Array
    unsettled: dict[int, tuple[int, ...]]
