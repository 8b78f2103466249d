"""What stands ahead of a rectifier's plates as volts and ohms, by solving the AC side itself.

Belongs here: the linear network of line, heaters, lamps, resistors and windings, and the volts and
ohms seen at its nets (L. Thevenin's theorem). Does not belong here: which elements it is made of
(source_side), rectifiers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from netcheck.circuit.phasor import Admittance, Complex, phasors
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
    """The first variant has the sources; each other an ampere into one of the nets."""
    size = 1 + len(nets)
    sources = np.zeros(size, dtype=complex)
    sources[0] = 1.0
    lines = [
        Admittance(b.a, b.b, 1.0 / max(b.ohm or 0.0, _LEAST_OHM), complex(b.volts) * sources, b.ref)
        for b in branches
    ]
    injected: dict[str, complex | Complex] = {}
    for k, net in enumerate(nets, start=1):
        amperes = np.zeros(size, dtype=complex)
        amperes[k] = 1.0
        injected[net] = injected.get(net, 0.0) + amperes
    found = phasors(lines, {common: 0.0}, (), injected, size).volts
    if any(net not in found for net in nets):
        return None
    volts = np.stack([found[net].real for net in nets])
    return Seen(volts[:, 0], volts[:, 1:])
