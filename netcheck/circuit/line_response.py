"""What every net of the line side shows to the line and to each rectifier, for any ohms.

Belongs here: the equations of a line network as rows of figures, solved piece by piece, because
ohms hang on their own heat and the same network is solved again and again. Does not belong here:
which branches there are (line_network), waves (line_waves), the ohms (line_solver).

Nets that only the line or the reference joins have nothing to do with each other: each such piece
is a system of its own, and only what draws from it is a right side of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

from netcheck.circuit.line_network import LineBranch, LineNetwork
from netcheck.circuit.phasor import Complex
from netcheck.circuit.pieces import pieces
from netcheck.circuit.rectify_law import Array

__all__ = ["Responder", "Response"]

_HARMONICS = 40
_OPEN_S = 1e-10

# Real in a network of resistors, else complex.
Numbers = NDArray[Any]


@dataclass(frozen=True)
class Response:
    """What each net shows: `line` (S,) by the sources alone, `port` (P, S, H) by an ampere each.

    S states; H is 1 in a network of resistors, else the harmonics from 0 on.
    """

    network: LineNetwork
    states: int
    line: Mapping[str, Complex]
    port: Mapping[str, Complex]

    def between(self, a: str, b: str) -> tuple[Complex, Complex]:
        """The same of one net against another."""
        return self.line[a] - self.line[b], self.port[a] - self.port[b]


class Responder:
    """A network with its ports.

    Ports are pairs of nets; an ampere is drawn from the first and given back to the second.
    """

    def __init__(self, network: LineNetwork, ports: Sequence[tuple[str, str]]) -> None:
        self._network = network
        self._ports = len(ports)
        harmonic = network.reactive and network.hertz > 0
        # By the line alone a network stands at the line's own order, the first.
        self._orders = np.arange(_HARMONICS + 1) if harmonic and ports else np.ones(1)
        self._line_order = 1 if harmonic and ports else 0
        self._held = (network.zero, *network.pieces)
        self._ends = [
            *((b.a, b.b) for b in network.branches),
            *((d.a, d.b) for d in network.droppers),
            # What a part of unknown ohms or one taken out leaves loose is held: it has volts.
            *((net, network.zero) for net in sorted(network.nets)),
        ]
        self._groups = list(self._grouped(ports))

    def _grouped(self, ports: Sequence[tuple[str, str]]) -> Iterator[_Group]:
        """The pieces between held nets, those of one size together."""
        loose = sorted(self._network.nets - {*self._held, self._network.hot})
        known = set(loose)
        joined = pieces(loose, (pair for pair in self._ends if known.issuperset(pair)))
        by_size: dict[int, list[list[str]]] = {}
        for piece in joined:
            by_size.setdefault(len(piece), []).append(sorted(piece))
        for blocks in by_size.values():
            yield _Group(self._network, self._ends, blocks, ports)

    def __call__(self, ohms: Sequence[Array], line_v: Array) -> Response:
        """Solve for what every net shows.

        Args:
            ohms: of each branch, (S,); infinite where a state opens it.
            line_v: volts of the line, (S,).
        """
        network, states, orders = self._network, line_v.size, self._orders
        siemens = self._siemens(ohms, states)
        nothing = np.zeros((self._ports, states, orders.size), dtype=complex)
        volts = line_v.astype(np.complex128)
        line = dict.fromkeys(self._held, np.zeros(states, dtype=complex))
        line[network.hot] = volts
        port = dict.fromkeys((*self._held, network.hot), nothing)
        own = slice(self._line_order * states, (self._line_order + 1) * states)
        for group in self._groups:
            found = group.solved(siemens, own, line_v)
            shaped = found.reshape(len(group.blocks), orders.size, states, *found.shape[2:])
            for nets, drawing, block in zip(group.blocks, group.drawing, shaped, strict=True):
                shown = np.zeros((len(nets), *nothing.shape), dtype=complex)
                shown[:, drawing] = block[..., 1 : 1 + len(drawing)].transpose(2, 3, 1, 0)
                line |= zip(nets, block[self._line_order, :, :, 0].T.astype(complex), strict=True)
                port |= zip(nets, shown, strict=True)
        return Response(network, states, line, port)

    def _siemens(self, ohms: Sequence[Array], states: int) -> Numbers:
        """Of every conductance, (C, H x S); real in a network of resistors."""
        network = self._network
        omega = np.repeat(2 * pi * network.hertz * self._orders, states)
        whole = np.reshape(ohms, (len(network.branches), states))
        with np.errstate(divide="ignore"):
            found = np.where(np.isinf(whole), 0.0, 1.0 / whole)
        if network.reactive:
            found = np.tile(found, (1, self._orders.size)).astype(complex)
            for row, b in enumerate(network.branches):
                if b.farad or b.henry:
                    found[row] = _reactive(b, np.tile(whole[row], self._orders.size), omega)
        rest = np.full((len(self._ends) - len(found), found.shape[1]), _OPEN_S)
        return np.concatenate([found, rest])


def _reactive(b: LineBranch, ohm: Array, omega: Array) -> Complex:
    """Of a coil with its ohms in series, of a capacitor with its leak abreast."""
    if b.farad:
        return np.asarray(np.where(np.isinf(ohm), 0.0, 1.0 / ohm + 1j * omega * b.farad))
    return np.asarray(np.where(np.isinf(ohm), 0.0, 1.0 / (ohm + 1j * omega * b.henry)))


class _Group:
    """Pieces of one size: `blocks` their nets, `drawing` the ports that draw from each."""

    def __init__(
        self,
        network: LineNetwork,
        ends: Sequence[tuple[str, str]],
        blocks: Sequence[Sequence[str]],
        ports: Sequence[tuple[str, str]],
    ) -> None:
        self.blocks = blocks
        size = self._size = len(blocks[0])
        at = {net: row for row, net in enumerate(net for block in blocks for net in block)}
        cells: list[tuple[int, int, float]] = []
        drives: list[tuple[int, int, float]] = []
        emf_v = [b.emf_v / network.line_v for b in network.branches]
        emf_v += [0.0] * (len(ends) - len(emf_v))
        for number, (a, b) in enumerate(ends):
            for net, other, sign in ((a, b, 1.0), (b, a, -1.0)):
                row = at.get(net)
                if row is None or a == b:
                    continue
                cells.append((row * size + row % size, number, 1.0))
                if other in at:
                    cells.append((row * size + at[other] % size, number, -1.0))
                drive = sign * emf_v[number] + (other == network.hot)
                if drive:
                    drives.append((row, number, drive))
        cells.sort(key=lambda cell: cell[0])
        place = np.array([cell for cell, _, _ in cells], dtype=np.intp)
        self._first = np.flatnonzero(np.diff(place, prepend=-1))
        self._cells = place[self._first]
        self._of = np.array([number for _, number, _ in cells], dtype=np.intp)
        self._sign = np.array([[sign] for *_, sign in cells])
        self._drives = drives
        self.drawing, self._drawn = self._draws(at, ports)

    def _draws(
        self, at: Mapping[str, int], ports: Sequence[tuple[str, str]]
    ) -> tuple[list[list[int]], Array]:
        """The ports of each piece, and the amperes that each of them gives its nets."""
        drawing = [
            [k for k, pair in enumerate(ports) if not own.isdisjoint(pair)]
            for own in map(set, self.blocks)
        ]
        most = max(map(len, drawing))
        drawn = np.zeros((len(self.blocks), self._size, most))
        for block, (nets, own) in enumerate(zip(self.blocks, drawing, strict=True)):
            for column, k in enumerate(own):
                for net, sign in zip(ports[k], (-1.0, 1.0), strict=True):
                    if net in nets:
                        drawn[block, at[net] % self._size, column] += sign
        return drawing, drawn

    def solved(self, siemens: Numbers, own: slice, line_v: Array) -> Numbers:
        """Volts (K, M, n, 1 + ports): by the line in the variants `own`, by an ampere each."""
        count, size, variants = len(self.blocks), self._size, siemens.shape[1]
        kind = siemens.dtype
        flat = np.zeros((count * size * size, variants), dtype=kind)
        flat[self._cells] = np.add.reduceat(siemens[self._of] * self._sign, self._first, axis=0)
        matrix = flat.reshape(count, size, size, variants).transpose(0, 3, 1, 2)
        driven = np.zeros((count * size, variants), dtype=kind)
        for row, number, drive in self._drives:
            driven[row, own] += siemens[number, own] * (drive * line_v)
        right = np.empty((count, variants, size, 1 + self._drawn.shape[2]), dtype=kind)
        right[..., 0] = driven.reshape(count, size, variants).transpose(0, 2, 1)
        right[..., 1:] = self._drawn[:, None]
        return np.asarray(np.linalg.solve(matrix, right))
