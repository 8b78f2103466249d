"""One solved state: volts of nets, currents and watts of parts, tubes and supplies.

Belongs here: reading a solution. Does not belong here: solving (operating.py), judgements.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from netcheck.circuit.direct_devices import Supplies, load_share
from netcheck.circuit.direct_model import DirectModel
from netcheck.circuit.direct_parts import Branch
from netcheck.circuit.direct_types import Array, Variant
from netcheck.circuit.rectify import RectifierState, solve_rectifier
from netcheck.circuit.source import RectifierSource
from netcheck.circuit.state_changes import branch_changes, opened
from netcheck.circuit.states import State

__all__ = ["Batch", "Electrodes", "Point", "SupplyPoint", "TubePoint"]


@dataclass(frozen=True, slots=True)
class Electrodes:
    """One electrode at a point: its net, volts against the reference, amperes into it."""

    name: str
    net: str
    volts: float
    amperes: float


@dataclass(frozen=True, slots=True)
class TubePoint:
    """A tube at a point. Watts are plate (or screen) to cathode volts times amperes."""

    ref: str
    electrodes: tuple[Electrodes, ...]

    def electrode(self, name: str) -> Electrodes | None:
        """The electrode of this name, or None."""
        return next((each for each in self.electrodes if each.name == name), None)

    @property
    def cathode_v(self) -> float:
        """Volts of the cathode; of a filament, the mean of its ends."""
        own = [e.volts for e in self.electrodes if e.name.startswith("cathode")]
        ends = [e.volts for e in self.electrodes if e.name in ("heater1", "heater2")]
        chosen = own or ends
        return sum(chosen) / len(chosen) if chosen else 0.0

    def watts(self, name: str) -> float:
        """Watts that an electrode turns into heat, 0 for one that is not there."""
        found = self.electrode(name)
        return 0.0 if found is None else (found.volts - self.cathode_v) * found.amperes


@dataclass(frozen=True)
class SupplyPoint:
    """A rectifier supply at a point: its volts and load, and the cycle behind them."""

    source: RectifierSource
    line_row: int
    supplies: Supplies
    volts: float
    amperes: float

    @cached_property
    def cycle(self) -> RectifierState:
        """Ripple, peak and rms currents, peak inverse volts at this load."""
        spec = self.supplies.spec_of(self.line_row)
        return solve_rectifier(spec, np.array([[max(self.amperes, 0.0)]]))

    @property
    def no_load_v(self) -> float:
        """Volts without any load."""
        return float(self.supplies.curves.no_load_v[self.line_row])


class Batch:
    """States that were solved together; their points read their rows of it."""

    def __init__(self, model: DirectModel, variants: Sequence[Variant], volts: Array) -> None:
        self.model = model.frozen()
        self.variants = tuple(variants)
        self.volts = volts  # (B, nodes)

    def taken(self, rows: Sequence[int]) -> tuple[DirectModel, list[Variant]]:
        """Model and variants of these rows only (one may stand more than once)."""
        return self.model.taken(rows), [self.variants[row] for row in rows]

    @cached_property
    def terminal_a(self) -> list[Array]:
        """For each tube the amperes into its terminals, (B, terminals)."""
        tubes = self.model.tubes
        return [] if tubes is None else tubes.terminal_a(self.volts[:, list(tubes.nodes)])


class Point:
    """One solved state."""

    def __init__(self, state: State, applied: State, batch: Batch, row: int) -> None:
        self.state = state
        self._applied = applied  # the state without what the model itself was made with
        self.batch = batch
        self.row = row
        self._volts = batch.volts[row]

    @cached_property
    def model(self) -> DirectModel:
        """The model that was solved, as this state has it."""
        return self.batch.model.row(self.row)

    def named(self, state: State) -> Point:
        """This point as that of a state of the same content and another name."""
        one = copy(self)
        one.state = state
        return one

    def volts(self, net: str) -> float | None:
        """Volts of a net against the reference; None for one that nothing gives volts to."""
        model = self.batch.model
        net = model.chassis.net(net)  # a short may have made two nets one
        at = model.index.get(net)
        if at is None or net in model.apart:
            return None
        return float(self._volts[at])

    def between(self, a: str, b: str) -> float | None:
        """Volts of `a` against `b`, None when either has none."""
        first, second = self.volts(a), self.volts(b)
        return None if first is None or second is None else first - second

    @cached_property
    def branch_siemens(self) -> tuple[tuple[Branch, float], ...]:
        """Every branch with its conductance in this state."""
        return tuple(zip(self.batch.model.branches, self._siemens.tolist(), strict=True))

    @cached_property
    def _siemens(self) -> Array:
        """The conductance of every branch in this state."""
        model = self.batch.model
        siemens = model.linear.siemens[: len(model.branches)].copy()
        for number, more in branch_changes(model, self._applied):
            siemens[number] += more
        return np.asarray(siemens)

    @cached_property
    def branch_amperes(self) -> tuple[tuple[Branch, float], ...]:
        """Every branch with the amperes that flow through it from its `a` to its `b`."""
        model = self.batch.model
        amperes = self._siemens * (self._across - model.emf_v)
        gone = opened(model, self._applied)
        for number, load_a in model.drawing:
            if number not in gone:
                amperes[number] += load_a * float(load_share(self._across[number]))
        return tuple(zip(model.branches, amperes.tolist(), strict=True))

    @cached_property
    def _across(self) -> Array:
        """The volts of every branch's `a` above its `b`."""
        linear, count = self.batch.model.linear, len(self.batch.model.branches)
        return np.asarray(self._volts[linear.a[:count]] - self._volts[linear.b[:count]])

    def _of(self, ref: str) -> tuple[int, ...]:
        return self.batch.model.numbers.get(ref, ())

    def amperes(self, ref: str, path: str = "") -> float | None:
        """The largest current through a part (or one path of it), from its first terminal on."""
        found = [self.branch_amperes[number] for number in self._of(ref)]
        currents = [amperes for branch, amperes in found if path in ("", branch.path)]
        return max(currents, key=abs) if currents else None

    def watts(self, ref: str) -> float | None:
        """Watts that a part's branches turn into heat, None for a part without any."""
        numbers = self._of(ref)
        if not numbers:
            return None
        return float(sum(self._across[n] * self.branch_amperes[n][1] for n in numbers))

    @cached_property
    def tubes(self) -> dict[str, TubePoint]:
        """Every tube with a law, by its bulb."""
        device = self.batch.model.tubes
        if device is None:
            return {}
        volts, index = self._volts.tolist(), self.batch.model.index
        points = {}
        for tube, into in zip(device.tubes, self.batch.terminal_a, strict=True):
            terminals = zip(tube.law.terminals, tube.nets, into[self.row].tolist(), strict=True)
            points[tube.ref] = TubePoint(
                tube.ref, tuple(Electrodes(name, net, volts[index[net]], amperes)
                                for name, net, amperes in terminals),
            )  # fmt: skip
        return points

    @cached_property
    def supplies(self) -> tuple[SupplyPoint, ...]:
        """Every rectifier supply with its volts and load."""
        found = []
        for supply in self.model.supplies:
            volts = self.between(supply.source.plus, supply.source.minus) or 0.0
            row = int(supply.line[0])
            found.append(SupplyPoint(supply.source, row, supply, volts, supply.delivered_a(volts)))
        return tuple(found)
