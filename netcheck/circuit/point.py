"""One solved state: volts of nets, currents and watts of parts, tubes and supplies.

Belongs here: reading a solution. Does not belong here: solving (operating.py), judgements.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from netcheck.circuit.direct_devices import Supplies, load_share
from netcheck.circuit.direct_model import DirectModel
from netcheck.circuit.direct_parts import Branch
from netcheck.circuit.direct_types import Solutions
from netcheck.circuit.rectify import RectifierState, solve_rectifier
from netcheck.circuit.source import RectifierSource
from netcheck.circuit.state_changes import branch_changes, opened
from netcheck.circuit.states import State

__all__ = ["Electrodes", "Point", "SupplyPoint", "TubePoint"]


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


class Point:
    """One solved state."""

    def __init__(self, state: State, applied: State, model: DirectModel, found: Solutions) -> None:
        self.state = state
        self._applied = applied  # the state without what the model itself was made with
        self.model = model
        self._volts = found.volts[0]
        self._device_a = [each[0] for each in found.device_a]

    def volts(self, net: str) -> float | None:
        """Volts of a net against the reference; None for one that nothing gives volts to."""
        net = self.model.chassis.net(net)  # a short may have made two nets one
        at = self.model.index.get(net)
        if at is None or net in self.model.apart:
            return None
        return float(self._volts[at])

    def between(self, a: str, b: str) -> float | None:
        """Volts of `a` against `b`, None when either has none."""
        first, second = self.volts(a), self.volts(b)
        return None if first is None or second is None else first - second

    @cached_property
    def branch_siemens(self) -> tuple[tuple[Branch, float], ...]:
        """Every branch with its conductance in this state."""
        changed = dict(branch_changes(self.model, self._applied))
        return tuple(
            (branch, 1 / branch.ohm + changed.get(number, 0.0))
            for number, branch in enumerate(self.model.branches)
        )

    @cached_property
    def branch_amperes(self) -> tuple[tuple[Branch, float], ...]:
        """Every branch with the amperes that flow through it from its `a` to its `b`."""
        volts = self._volts
        gone = opened(self.model, self._applied)
        found = []
        for number, (branch, siemens) in enumerate(self.branch_siemens):
            across = volts[self.model.index[branch.a]] - volts[self.model.index[branch.b]]
            load = 0.0 if number in gone else branch.load_a * float(load_share(across))
            current = siemens * (across - branch.emf_v) + load
            found.append((branch, float(current)))
        return tuple(found)

    def amperes(self, ref: str, path: str = "") -> float | None:
        """The largest current through a part (or one path of it), from its first terminal on."""
        currents = [
            amperes
            for branch, amperes in self.branch_amperes
            if branch.ref == ref and path in ("", branch.path)
        ]
        return max(currents, key=abs) if currents else None

    def watts(self, ref: str) -> float | None:
        """Watts that a part's branches turn into heat, None for a part without any."""
        found = [(branch, amperes) for branch, amperes in self.branch_amperes if branch.ref == ref]
        if not found:
            return None
        volts = self._volts
        index = self.model.index
        return float(sum((volts[index[b.a]] - volts[index[b.b]]) * i for b, i in found))

    @cached_property
    def tubes(self) -> dict[str, TubePoint]:
        """Every tube with a law, by its bulb."""
        device = self.model.tubes
        if device is None:
            return {}
        volts = self._volts
        own = volts[list(device.nodes)][None, :]
        points = {}
        for number, tube in enumerate(device.tubes):
            into, _ = tube.law.currents(
                own[:, device.columns[number]],
                emission=device.emission[0, number],
                contact_shift_v=device.contact_shift_v[0, number],
                grid_shift_v=device.grid_shift_v[0, number],
                oscillator=device.states[number],
            )
            points[tube.ref] = TubePoint(
                tube.ref,
                tuple(
                    Electrodes(name, net, float(volts[self.model.index[net]]), float(i))
                    for name, net, i in zip(tube.law.terminals, tube.nets, into[0], strict=True)
                ),
            )
        return points

    @cached_property
    def supplies(self) -> tuple[SupplyPoint, ...]:
        """Every rectifier supply with its volts and load."""
        found = []
        for supply, into in zip(
            self.model.supplies, self._device_a[self._first_supply :], strict=False
        ):
            plus, minus = supply.source.plus, supply.source.minus
            volts = self.between(plus, minus)
            row = int(supply.line[0])
            found.append(SupplyPoint(supply.source, row, supply, volts or 0.0, -float(into[0])))
        return tuple(found)

    @property
    def _first_supply(self) -> int:
        return 0 if self.model.tubes is None else 1
