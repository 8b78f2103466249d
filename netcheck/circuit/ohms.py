"""What an ohmmeter reads with the power off: between any two nets of the cold set.

Belongs here: the resistor network and its readings. Does not belong here: what parts are to direct
current (direct_parts.py), the chart (bench/).

Tubes are cold, capacitors open, rectifiers open (an ohmmeter that drives more than they need shows
otherwise), batteries out, copper at 20 C. Closed contacts, fuses and straps have no ohms.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from heapq import heapify, heappop, heappush

import numpy as np

from netcheck.circuit.direct_parts import CONTACT_OHM, Branch, direct_parts
from netcheck.circuit.direct_types import Array
from netcheck.circuit.elements import Kind
from netcheck.circuit.pieces import pieces
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed, NotSolved

__all__ = ["PowerOff", "power_off"]

_NO_PART = frozenset({Kind.BATTERY})


class PowerOff:
    """The cold network of a set: `branches` with ohms, and what had to be `assumed`."""

    def __init__(
        self, nets: Iterable[str], branches: Sequence[Branch], assumed: Sequence[Assumed] = ()
    ) -> None:
        self.assumed = tuple(dict.fromkeys(assumed))
        self.branches = tuple(branches)
        every = (*nets, *(net for b in branches for net in (b.a, b.b)))
        plain = ((b.a, b.b) for b in branches if b.ohm <= CONTACT_OHM)
        joints = sorted(sorted(piece) for piece in pieces(every, plain))
        self._of = {net: k for k, piece in enumerate(joints) for net in piece}
        self._siemens: list[dict[int, float]] = [{} for _ in joints]  # by neighbour
        for b in branches:
            i, j = self._of[b.a], self._of[b.b]
            if i != j:
                total = self._siemens[i].get(j, 0.0) + 1 / b.ohm
                self._siemens[i][j] = self._siemens[j][i] = total
        pairs = ((i, j) for i, near in enumerate(self._siemens) for j in near)
        self._pieces = pieces(range(len(joints)), pairs)
        self._read: dict[int, dict[int, float]] = {}

    def readings(self, common: str) -> Mapping[str, float | None]:
        """Ohms of every net to `common`; None where there is no path (infinite).

        Raises:
            KeyError: the set has no such net.
        """
        base = self._of[common]
        if base not in self._read:
            self._read[base] = self._to(base)
        return {net: self._read[base].get(joint) for net, joint in self._of.items()}

    def between(self, net: str, common: str) -> float | None:
        """Ohms between two nets, None where no path joins them.

        Raises:
            KeyError: the set has no such net.
        """
        base, joint = self._of[common], self._of[net]
        if base in self._read:
            return self._read[base].get(joint)
        return self._single(joint, base)

    def _single(self, joint: int, base: int) -> float | None:
        """Ohms between two joints: every other is turned from a star into a mesh, least first.

        That only adds, like `_resistances`, and of a sparse network touches little.
        """
        if joint == base:
            return 0.0
        near = {k: dict(self._siemens[k]) for piece in self._pieces if base in piece for k in piece}
        if joint not in near:
            return None
        queue = [(len(star), k) for k, star in near.items() if k not in (joint, base)]
        heapify(queue)
        while queue:
            size, k = heappop(queue)
            if size != len(near[k]):  # it has become another since
                heappush(queue, (len(near[k]), k))
                continue
            star = list(near.pop(k).items())
            total = sum(siemens for _, siemens in star)
            for place, (i, to_i) in enumerate(star):
                del near[i][k]
                for j, to_j in star[:place]:
                    near[i][j] = near[j][i] = near[i].get(j, 0.0) + to_i * to_j / total
        return 1 / near[base][joint]

    def _to(self, base: int) -> dict[int, float]:
        """Ohms to one joint, of all that are joined to it."""
        joined = (piece for piece in self._pieces if base in piece)
        others = sorted(next(joined) - {base})
        index = {joint: k for k, joint in enumerate(others)}
        siemens = np.zeros((len(others), len(others)))
        to_base = np.zeros(len(others))
        for joint, k in index.items():
            for near, amount in self._siemens[joint].items():
                if near == base:
                    to_base[k] = amount
                else:
                    siemens[k, index[near]] = amount
        found = dict(zip(others, _resistances(siemens, to_base), strict=True))
        return {base: 0.0, **found}


def power_off(
    wiring: Wiring,
    closed: Mapping[str, str],
    leaks: Sequence[tuple[str, float]] = (),
) -> PowerOff:
    """The cold network of a set.

    Args:
        wiring: the set.
        closed: position of each switch by body reference.
        leaks: ohms across parts that leak or are shorted, by reference.

    Raises:
        NotSolved: the text does not tell the ohms or the connections of a part.
    """
    parts = direct_parts(wiring, dict(closed), hot=False)
    unknown = [*parts.unknown, *(f"{ref} could not be read" for ref in wiring.unknown_parts)]
    if unknown:
        raise NotSolved("; ".join(dict.fromkeys(unknown)))
    branches = [b for b in parts.branches if b.kind not in _NO_PART]
    for ref, ohm in leaks:
        for element in wiring.of(ref)[:1]:
            ends = (element.a, element.b)
            branches.append(Branch(ref, "", element.terminals, *ends, ohm, element.kind))
    return PowerOff(sorted(wiring.nets), branches, parts.assumed)


def _resistances(siemens: Array, to_base: Array) -> list[float]:
    """The diagonal of the inverse of the grounded conductance matrix.

    Args:
        siemens: (n, n) conductances between the joints, nothing on the diagonal.
        to_base: (n,) conductances to the grounded joint.

    Eliminated without a subtraction, which keeps every figure to the last digits however far the
    ohms of a set lie apart, from a coil's to a grid leak's (W. K. Grassmann, M. I. Taksar and
    D. P. Heyman, Operations Research 33, 1985, from memory).
    """
    count = len(to_base)
    between, ground = siemens.copy(), to_base.copy()
    pivots = np.zeros(count)
    lower = np.eye(count)
    for k in range(count):
        pivots[k] = between[k, k + 1 :].sum() + ground[k]
        share = between[k + 1 :, k] / pivots[k]
        lower[k + 1 :, k] = share
        between[k + 1 :, k + 1 :] += np.outer(share, between[k, k + 1 :])
        np.fill_diagonal(between, 0.0)
        ground[k + 1 :] += share * ground[k]
    # inverse = upper triangle of positive shares, so this too only adds.
    unit = np.eye(count)
    for k in range(count):
        unit[k + 1 :] += np.outer(lower[k + 1 :, k], unit[k])
    return [float(value) for value in (unit**2 / pivots[:, None]).sum(axis=0)]
