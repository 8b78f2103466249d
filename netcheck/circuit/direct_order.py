"""In which order the nodes of a network are eliminated, found once for all its variants.

Belongs here: levels of nodes that do not touch each other, which entries each level fills, where
all entries stand. Does not belong here: figures (direct_sparse.py), what the network is.

Nodes of few neighbours go first (minimum degree; A. George and J. W. H. Liu, SIAM Review 31 (1989)
1, from memory). Those of one level share no entry of the matrix as pivots, so that a level is one
step for all of them and all variants. What is left when nearly everything touches everything is
the core, which is solved whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from netcheck.circuit.direct_types import Array, Indices

__all__ = ["Level", "Order", "Sums", "ordered"]

_CORE = 12  # nodes; that few are quicker solved whole
_EARLY = 4  # neighbours; a node without devices that has more would tie too many others together


class Sums:
    """Adds rows of figures that have the same key, without a loop over the keys.

    Rows are to be laid out in `order`: first one row of every key, then the second ones of those
    that have several, and so on, so that each round adds two blocks of memory.
    """

    def __init__(self, keys: Indices) -> None:
        found, inverse, counts = np.unique(keys, return_inverse=True, return_counts=True)
        by_size = np.argsort(-counts, kind="stable")
        place = np.empty_like(by_size)
        place[by_size] = np.arange(len(by_size))
        grouped = np.argsort(inverse, kind="stable")
        first = np.cumsum(counts) - counts
        number = np.empty(len(keys), dtype=np.intp)
        number[grouped] = np.arange(len(keys)) - first[inverse[grouped]]
        self.order: Indices = np.lexsort((place[inverse], number))
        self.keys: Indices = found[by_size]
        self._rounds = np.bincount(number).tolist() if len(keys) else []

    def __call__(self, laid: Array) -> Array:
        """Sums (keys, ...) of rows in `order`, which are overwritten."""
        count = len(self.keys)
        sums, start = laid[:count], count
        for many in self._rounds[1:]:
            sums[:many] += laid[start : start + many]
            start += many
        return sums


@dataclass(frozen=True)
class Level:
    """Nodes that are eliminated in one step.

    `pivots` their numbers, `diagonal` where their own entries stand. Of each entry beside them
    `lower` and `upper` are the places below and right of the pivot `owner`, `other` is the node.
    `into` says which places the products of `left` and `right` are taken off.
    """

    pivots: Indices
    diagonal: Indices
    lower: Indices
    upper: Indices
    owner: Indices
    other: Indices
    left: Indices
    right: Indices
    into: Sums

    @cached_property
    def forward(self) -> tuple[Sums, Indices, Indices]:
        """How the others take their part of the pivots: sums, places below, pivots."""
        sums = Sums(self.other)
        return sums, self.lower[sums.order], self.pivots[self.owner[sums.order]]

    @cached_property
    def backward(self) -> tuple[Sums, Indices, Indices]:
        """How the pivots take their part of the others: sums, places right, others."""
        sums = Sums(self.owner)
        return sums, self.upper[sums.order], self.other[sums.order]


@dataclass(frozen=True)
class Order:
    """The order of a whole network.

    `keys` are all entries (row x count + column), sorted; `levels` in turn, the first `early` of
    them without any device; `core` the nodes left, `core_at` (c, c) their entries.
    """

    count: int
    keys: Indices
    levels: tuple[Level, ...]
    early: int
    core: Indices
    core_at: Indices

    def at(self, rows: Indices, columns: Indices) -> Indices:
        """Where entries stand."""
        return np.searchsorted(self.keys, rows * self.count + columns)

    @cached_property
    def diagonal(self) -> Indices:
        """Where the nodes' own entries stand."""
        every = np.arange(self.count)
        return self.at(every, every)


_Chosen = list[tuple[int, list[int]]]


def ordered(count: int, pairs: Iterable[tuple[int, int]], devices: Iterable[int]) -> Order:
    """The order for `count` nodes of which `pairs` touch each other.

    The nodes of `devices` come late, because their figures change from step to step.
    """
    beside: list[set[int]] = [set() for _ in range(count)]
    for a, b in pairs:
        if a != b:
            beside[a].add(b)
            beside[b].add(a)
    start = [(a, b) for a in range(count) for b in beside[a]]
    late = set(devices)
    left = set(range(count))
    chosen: list[_Chosen] = []
    while some := _apart(beside, [k for k in left - late if len(beside[k]) <= _EARLY]):
        chosen.append(_eliminated(beside, some))
        left.difference_update(some)
    early = len(chosen)
    while len(left) > _CORE:
        least = min(len(beside[k]) for k in left)
        if least > len(left) // 2:
            break
        some = _apart(beside, [k for k in left if len(beside[k]) <= least + 1])
        chosen.append(_eliminated(beside, some))
        left.difference_update(some)
    return _placed(count, start, chosen, early, sorted(left))


def _apart(beside: Sequence[set[int]], nodes: Iterable[int]) -> list[int]:
    """Of these nodes some that do not touch each other, those with few neighbours first."""
    taken: list[int] = []
    barred: set[int] = set()
    for node in sorted(nodes, key=lambda k: (len(beside[k]), k)):
        if node not in barred:
            taken.append(node)
            barred |= beside[node]
    return taken


def _eliminated(beside: Sequence[set[int]], nodes: Iterable[int]) -> _Chosen:
    """Take nodes out: all neighbours of one touch each other from now on."""
    found = []
    for node in nodes:
        around = beside[node]
        for other in around:
            beside[other] |= around
            beside[other] -= {other, node}
        found.append((node, sorted(around)))
    return found


def _placed(
    count: int,
    start: Sequence[tuple[int, int]],
    chosen: Sequence[_Chosen],
    early: int,
    core: Sequence[int],
) -> Order:
    pairs = np.array(start, dtype=np.intp).reshape(-1, 2)
    some = [pairs @ np.array([count, 1]), np.arange(count) * (count + 1)]
    for level in chosen:
        for node, around in level:
            ring = np.array(around, dtype=np.intp)
            some.append((ring[:, None] * count + ring).ravel())
            some += [ring * count + node, node * count + ring]
    whole = np.array(core, dtype=np.intp)
    keys = np.unique(np.concatenate([*some, (whole[:, None] * count + whole).ravel()]))
    core_at = np.searchsorted(keys, whole[:, None] * count + whole)
    levels = tuple(_level(count, keys, level) for level in chosen)
    return Order(count, keys, levels, early, whole, core_at)


def _level(count: int, keys: Indices, chosen: _Chosen) -> Level:
    pivots = np.array([node for node, _ in chosen], dtype=np.intp)
    sizes = np.array([len(around) for _, around in chosen], dtype=np.intp)
    other = np.array([k for _, around in chosen for k in around], dtype=np.intp)
    owner = np.repeat(np.arange(len(pivots)), sizes)
    lower = np.searchsorted(keys, other * count + pivots[owner])
    upper = np.searchsorted(keys, pivots[owner] * count + other)
    # Every entry below a pivot with every entry right of it.
    first = np.cumsum(sizes) - sizes
    row = np.repeat(np.arange(len(other)), sizes[owner])
    within = np.arange(len(row)) - np.repeat(np.cumsum(sizes[owner]) - sizes[owner], sizes[owner])
    column = first[owner[row]] + within
    into = Sums(np.searchsorted(keys, other[row] * count + other[column]))
    return Level(
        pivots, np.searchsorted(keys, pivots * (count + 1)), lower, upper, owner, other,
        lower[row[into.order]], upper[column[into.order]], into,
    )  # fmt: skip
