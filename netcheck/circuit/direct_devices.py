"""What is not linear in a set: tubes, rectifier supplies, and the insulation that holds loose ends.

Belongs here: the devices the engine calls for all variants at once. Does not belong here: tube laws
and rectifier cycles themselves, which nets there are (direct_model.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from netcheck.circuit.direct_parts import LEAK_OHM
from netcheck.circuit.direct_types import Array, Indices
from netcheck.circuit.rectify_curve import SupplyCurve
from netcheck.circuit.rectify_spec import RectifierSpec
from netcheck.circuit.source import RectifierSource
from netcheck.circuit.tube_law_stack import LawStack
from netcheck.circuit.tube_laws import TubeLaw

__all__ = [
    "STAND_IN_S",
    "BiasSupplies",
    "Leaks",
    "Loads",
    "Supplies",
    "TubeOnNets",
    "Tubes",
    "load_share",
]

STAND_IN_S = 1e-4
# Below some times this a load of stated amperes draws less: a dead rail feeds nothing.
_LOAD_KNEE_V = 0.5
# No supply takes more than this from the crest of another's source.
_LEAST_CREST = 0.5


@dataclass(frozen=True)
class TubeOnNets:
    """A tube with a law, and the nets of the law's terminals."""

    ref: str
    law: TubeLaw
    nets: tuple[str, ...]


class Tubes:
    """All tubes of a set as one device; emission and contact potential differ by variant."""

    def __init__(
        self, tubes: Sequence[TubeOnNets], index: Mapping[str, int], oscillator: str
    ) -> None:
        self.tubes = tuple(tubes)
        nodes = list(dict.fromkeys(index[net] for tube in tubes for net in tube.nets))
        self.nodes: tuple[int, ...] = tuple(nodes)
        local = {node: k for k, node in enumerate(nodes)}
        self.columns = [[local[index[net]] for net in tube.nets] for tube in tubes]
        self.states = [oscillator if tube.law.swing is not None else "running" for tube in tubes]
        self.stack = LawStack([tube.law for tube in tubes], self.columns, self.states)
        self.emission: Array = np.ones((1, len(tubes)))
        self.contact_shift_v: Array = np.zeros((1, len(tubes)))
        self.grid_shift_v: Array = np.zeros((1, len(tubes)))

    def set_variants(self, emission: Array, contact_shift_v: Array, grid_shift_v: Array) -> None:
        """Give every variant its emission [-] and shifts (see `State`) [V], each (B, tubes)."""
        self.emission = emission
        self.contact_shift_v = contact_shift_v
        self.grid_shift_v = grid_shift_v

    def terminal_a(self, volts: Array) -> list[Array]:
        """For each tube the amperes into its terminals, (B, terminals), at its nodes' volts."""
        apart = LawStack([tube.law for tube in self.tubes], oscillators=self.states)
        into, _ = apart.sparse(
            volts[:, [column for columns in self.columns for column in columns]],
            self.emission, self.contact_shift_v, self.grid_shift_v,
        )  # fmt: skip
        ends = np.cumsum([len(columns) for columns in self.columns])
        return np.split(into, ends[:-1], axis=1)

    def at(self, rows: Sequence[int]) -> Tubes:
        """These tubes as these variants have them."""
        one, some = copy(self), np.array(rows, dtype=np.intp)
        one.set_variants(self.emission[some], self.contact_shift_v[some], self.grid_shift_v[some])
        return one

    @property
    def places(self) -> Indices:
        """Where slopes can be other than nothing (see `direct_types.SparseDevice`)."""
        return self.stack.places

    def sparse(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        """Currents into the tubes' nodes and their slopes at `places`."""
        return self.stack.sparse(volts, *self._figures(variants))

    def evaluate(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        """Currents into the tubes' nodes and their slopes (see `direct_types.Device`)."""
        emission, shift_v, grid_shift_v = self._figures(variants)
        return self.stack.currents(
            volts, emission=emission, contact_shift_v=shift_v, grid_shift_v=grid_shift_v
        )

    def _figures(self, variants: Indices) -> tuple[Array, Array, Array]:
        shared = len(self.emission) == 1
        rows = np.zeros(len(variants), dtype=np.intp) if shared else variants
        return self.emission[rows], self.contact_shift_v[rows], self.grid_shift_v[rows]


class Leaks:
    """The insulation that holds pieces of the network nothing else holds.

    Ten gigohms as a part would give every voltage of such a piece an inverse of ten gigohms to be
    lost in. So the linear network holds it by `STAND_IN_S`, and this device takes the difference
    back; together they are the leak exactly. `start_v` are the volts near which each may rest: they
    say where the search begins.
    """

    def __init__(self, nodes: Sequence[int], reference: int, start_v: Sequence[float]) -> None:
        self.nodes: tuple[int, ...] = (*nodes, reference)
        self.start_v: Array = np.array([*start_v, 0.0])

    @property
    def places(self) -> Indices:
        """Where slopes are (see `direct_types.SparseDevice`): no leak touches another."""
        count, inner = len(self.nodes), np.arange(len(self.nodes) - 1)
        last = count - 1
        beside = [inner * (count + 1), inner * count + last, last * count + inner]
        return np.concatenate([*beside, [last * (count + 1)]])

    def sparse(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        """Currents into the leaks, less what the stand-in conducts, and slopes at `places`."""
        less = 1 / LEAK_OHM - STAND_IN_S
        inner = less * (volts[:, :-1] - volts[:, -1:])
        into = np.concatenate([inner, -inner.sum(axis=1, keepdims=True)], axis=1)
        one = np.full(len(self.nodes) - 1, less)
        slope = np.concatenate([one, -one, -one, [less * len(one)]])
        return into, np.broadcast_to(slope, (len(volts), len(slope)))

    def evaluate(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        """The same with all slopes (see `direct_types.Device`)."""
        count = len(self.nodes)
        into, slope = self.sparse(volts, variants)
        whole = np.zeros((len(volts), count * count))
        whole[:, self.places] = slope
        return into, whole.reshape(len(volts), count, count)


class Loads:
    """Loads of stated amperes: drawn from any rail that has volts, and not from a dead one.

    I = I0 tanh(V / 0.5 V): I0 to 1 nA from 6 V on, nothing at 0 V. A current source instead would
    drive a rail that nothing feeds to millions of volts.
    """

    def __init__(self, pairs: Sequence[tuple[int, int]], amperes: Sequence[float]) -> None:
        self.nodes: tuple[int, ...] = tuple(dict.fromkeys(node for pair in pairs for node in pair))
        # (loads, nodes): volts across each load from the volts of the nodes.
        self.across: Array = np.zeros((len(pairs), len(self.nodes)))
        for load, (a, b) in enumerate(pairs):
            self.across[load, self.nodes.index(a)] += 1.0
            self.across[load, self.nodes.index(b)] -= 1.0
        self.amperes: Array = np.asarray(amperes, dtype=float)
        self.connected: Array = np.ones((1, len(pairs)))

    def set_variants(self, connected: Array) -> None:
        """Say for every variant which loads are connected (1.0) or cut off (0.0), (B, loads)."""
        self.connected = connected

    def at(self, rows: Sequence[int]) -> Loads:
        """These loads as these variants have them."""
        one = copy(self)
        one.set_variants(self.connected[np.array(rows, dtype=np.intp)])
        return one

    def evaluate(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        """Currents into the loads' nodes and their slopes (see `direct.Device`)."""
        rows = np.zeros(len(variants), dtype=np.intp) if len(self.connected) == 1 else variants
        share = load_share(volts @ self.across.T)
        full = self.amperes * self.connected[rows]
        slope = full * (1.0 - share**2) / _LOAD_KNEE_V
        return (full * share) @ self.across, np.einsum(
            "bl,li,lj->bij", slope, self.across, self.across
        )


def load_share(volts: Array | float) -> Array:
    """How much of its stated amperes a load draws at some volts across it, -1 to 1."""
    return np.tanh(np.asarray(volts, dtype=float) / _LOAD_KNEE_V)


class Supplies:
    """One rectifier supply as a device between its minus and plus nets, by line volts.

    A dead short of the reservoir makes them one net: the supply then drives its current through the
    short and through nothing else of the network.
    """

    def __init__(
        self,
        sources: Sequence[RectifierSource],
        curves: SupplyCurve,
        minus: int,
        plus: int,
    ) -> None:
        self.source = sources[0]
        self.sources = tuple(sources)
        self.curves = curves  # a row for each line voltage
        self.nodes: tuple[int, ...] = (plus, minus) if plus != minus else (plus,)
        self.line: Indices = np.zeros(1, dtype=np.intp)

    def set_variants(self, line: Indices) -> None:
        """Say which row of the curves each variant uses, (B,)."""
        self.line = line

    def at(self, rows: Sequence[int]) -> Supplies:
        """This supply as these variants have it."""
        one = copy(self)
        one.set_variants(self.line[np.array(rows, dtype=np.intp)])
        return one

    def spec_of(self, line_row: int) -> RectifierSpec:
        """The rectifier at one of the line voltages."""
        return self.sources[line_row].spec

    def _rows(self, variants: Indices) -> Indices:
        """The rows of the curves that variants use: all the same one, if there is but one."""
        return self.line[np.zeros_like(variants) if len(self.line) == 1 else variants]

    def delivered_a(self, volts: float, row: int = 0) -> float:
        """Amperes that one variant's supply delivers at volts between its nets."""
        return float(self.curves.current(np.array([volts]), self.line[[row]])[0][0])

    def evaluate(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        """Amperes out of the plus net's circuit into the source (negative: it delivers)."""
        if len(self.nodes) == 1:
            return np.zeros((len(volts), 1)), np.zeros((len(volts), 1, 1))
        delivered, slope = self.curves.current(volts[:, 0] - volts[:, 1], self._rows(variants))
        signs = np.array([-1.0, 1.0])
        return delivered[:, None] * signs, slope[:, None, None] * np.outer(signs, [1.0, -1.0])


class BiasSupplies(Supplies):
    """A supply of bias whose source the pulses of another supply lower at the crest.

    All figures of a rectifier in front of ohms grow in step with its source, but for the small
    threshold of its diode: at a share s of the source's volts it delivers `s I(V / s)`.
    """

    def __init__(
        self,
        sources: Sequence[RectifierSource],
        curves: SupplyCurve,
        minus: int,
        plus: int,
        main: Supplies,
    ) -> None:
        super().__init__(sources, curves, minus, plus)
        self.main = main
        ohm = np.array([each.shared_ohm for each in sources])
        peak_v = np.array([float(each.spec.peak_v[0]) for each in sources])
        self._per_a = np.where(peak_v > 0.0, ohm / np.maximum(peak_v, 1e-9), 0.0)
        own = (plus, minus)
        other = main.nodes if len(main.nodes) > 1 else (main.nodes[0],) * 2
        self.nodes = tuple(dict.fromkeys((*own, *other)))
        # From the volts of the nodes to those across this supply, and across the other.
        self._across = np.zeros((2, len(self.nodes)))
        for row, (high, low) in enumerate((own, other)):
            self._across[row, self.nodes.index(high)] += 1.0
            self._across[row, self.nodes.index(low)] -= 1.0

    def share(self, main_v: Array, rows: Indices) -> tuple[Array, Array]:
        """What is left of the source's crest at volts of the other supply, and its slope."""
        peak_a, slope = self.main.curves.peak(main_v, rows)
        per_a = self._per_a[rows]
        left = 1.0 - per_a * peak_a
        low = left < _LEAST_CREST
        return np.where(low, _LEAST_CREST, left), np.where(low, 0.0, -per_a * slope)

    def crested(self, main_v: float) -> BiasSupplies:
        """This supply of one variant, its source as the other supply leaves it."""
        share = float(self.share(np.array([main_v]), self.line[[0]])[0][0])
        one = copy(self)
        one.sources = tuple(
            replace(each, spec=replace(each.spec, volts=np.asarray(each.spec.volts) * share))
            for each in self.sources
        )
        one._crest = share
        return one

    _crest: float = 1.0

    def delivered_a(self, volts: float, row: int = 0) -> float:
        """Amperes that one variant's supply delivers, its source as it is (see `crested`)."""
        return self._crest * super().delivered_a(volts / self._crest, row)

    def evaluate(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        """Amperes out of the plus net's circuit into the source (negative: it delivers)."""
        rows = self._rows(variants)
        own_v, main_v = (volts @ self._across.T).T
        share, by_main = self.share(main_v, rows)
        at_full, slope = self.curves.current(own_v / share, rows)
        by_share = at_full - own_v / share * slope
        own = self._across[0]
        steps = slope[:, None] * own + (by_share * by_main)[:, None] * self._across[1]
        return -(share * at_full)[:, None] * own, -own[None, :, None] * steps[:, None, :]
