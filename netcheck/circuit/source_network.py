"""What stands ahead of a rectifier's plates as volts and ohms, by solving the AC side itself.

Belongs here: the linear network of line, heaters, lamps, resistors and windings, and the volts and
ohms seen at its nets (L. Thevenin's theorem). Does not belong here: which elements it is made of
(source_side), rectifiers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from netcheck.circuit.pieces import pieces
from netcheck.circuit.rectify_law import Array

__all__ = ["Branch", "Seen", "seen_from"]

_LEAST_OHM = 1e-3
_NOTHING_OHM = 1e12
_MATTERS = 0.01
"""An element whose ohms are not known may stay so if they change the answer by less than 1 %."""


@dataclass(frozen=True, slots=True)
class Branch:
    """Ohms between two nets with a source in them: `a` stands `volts` rms above `b` unloaded.

    `ohm` None: not known. `ref` names the part.
    """

    a: str
    b: str
    ohm: float | None
    volts: float = 0.0
    ref: str = ""


@dataclass(frozen=True, slots=True)
class Seen:
    """Open-circuit volts rms (signed: 180 degrees is minus) and ohms of each net to the return.

    `between_ohm[i, j]` is the volts at net i by an ampere into net j. `doubtful` names the parts
    whose unknown ohms decide the answer: then the figures must not be used.
    """

    volts: Array
    between_ohm: Array
    doubtful: tuple[str, ...] = ()


def seen_from(branches: Sequence[Branch], nets: Sequence[str], common: str) -> Seen | None:
    """What the nets show against `common`; None when one of them is not joined to it."""
    used = _loops_only(branches, {*nets, common})
    unknown = tuple(dict.fromkeys(b.ref for b in used if b.ohm is None))
    high = _solve([_with_ohm(b, _NOTHING_OHM) for b in used], nets, common)
    if high is None or not unknown:
        return high
    low = _solve([_with_ohm(b, 1.0) for b in used], nets, common)
    if low is None:
        return None
    if _close(low.volts, high.volts) and _close(low.between_ohm, high.between_ohm):
        return high
    return replace(high, doubtful=unknown)


def _close(one: Array, other: Array) -> bool:
    scale = max(float(np.max(np.abs(other))), 1e-9)
    return bool(np.max(np.abs(one - other)) <= _MATTERS * scale)


def _with_ohm(branch: Branch, ohm: float) -> Branch:
    return branch if branch.ohm is not None else replace(branch, ohm=ohm)


def _loops_only(branches: Iterable[Branch], kept: set[str]) -> list[Branch]:
    """The branches without dead ends: what hangs on one net carries nothing."""
    left = [b for b in branches if b.a != b.b]
    while True:
        count: dict[str, int] = {}
        for b in left:
            count[b.a] = count.get(b.a, 0) + 1
            count[b.b] = count.get(b.b, 0) + 1
        dead = {net for net, n in count.items() if n == 1 and net not in kept}
        if not dead:
            return left
        left = [b for b in left if b.a not in dead and b.b not in dead]


def _solve(branches: Sequence[Branch], nets: Sequence[str], common: str) -> Seen | None:
    """The first right side has the sources; each other an ampere into one of the nets."""
    joined = next(iter(pieces([common], ((b.a, b.b) for b in branches))))
    if not joined.issuperset(nets):
        return None
    index = {net: row for row, net in enumerate(sorted(joined - {common}))}
    # The return stands behind the others: its row is left out, its column has 0 V.
    index[common] = last = len(index)
    matrix, right = np.zeros((last + 1, last + 1)), np.zeros((last + 1, 1 + len(nets)))
    for b in branches:
        if b.a not in joined or b.a == b.b:
            continue
        row, column = index[b.a], index[b.b]
        siemens = 1.0 / max(b.ohm or 0.0, _LEAST_OHM)
        matrix[row, row] += siemens
        matrix[column, column] += siemens
        matrix[row, column] -= siemens
        matrix[column, row] -= siemens
        right[row, 0] += siemens * b.volts
        right[column, 0] -= siemens * b.volts
    at = [index[net] for net in nets]
    for k, row in enumerate(at, start=1):
        right[row, k] += 1.0
    right[:last] = np.linalg.solve(matrix[:last, :last], right[:last])
    right[last] = 0.0
    return Seen(right[at, 0], right[at, 1:])
