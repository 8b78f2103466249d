"""One solved state: volts of nets, currents and watts of parts, tubes and supplies.

Belongs here: reading a solution. Does not belong here: solving (operating.py), judgements.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from netcheck.circuit.direct_devices import BiasSupplies, Supplies, TubeOnNets, load_share
from netcheck.circuit.direct_model import DirectModel
from netcheck.circuit.direct_parts import Branch
from netcheck.circuit.direct_types import Array, Variant
from netcheck.circuit.rectify import RectifierState, solve_rectifier
from netcheck.circuit.rectify_spec import stacked
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


def _emitting(names: Sequence[str]) -> list[int]:
    """Which electrodes are cathodes; of a filament its ends."""
    own = [k for k, name in enumerate(names) if name.startswith("cathode")]
    return own or [k for k, name in enumerate(names) if name in ("heater1", "heater2")]


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
        chosen = _emitting([e.name for e in self.electrodes])
        return sum(self.electrodes[k].volts for k in chosen) / len(chosen) if chosen else 0.0

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
    with_others: Callable[[], RectifierState | None] = lambda: None

    @cached_property
    def cycle(self) -> RectifierState:
        """Ripple, peak and rms currents, peak inverse volts at this load."""
        found = self.with_others()
        if found is not None:
            return found
        spec = self.supplies.spec_of(self.line_row)
        return solve_rectifier(spec, np.array([[max(self.amperes, 0.0)]]))

    @property
    def rail(self) -> tuple[str, float]:
        """The net it feeds and its volts against the other: of a bias below its return, minus."""
        below = self.source.is_negative
        return (self.source.minus, -self.volts) if below else (self.source.plus, self.volts)

    @property
    def no_load_v(self) -> float:
        """Volts without any load."""
        return float(self.supplies.curves.no_load_v[self.line_row])


class Batch:
    """States that were solved together; their points read their rows of it."""

    def __init__(
        self,
        model: DirectModel,
        variants: Sequence[Variant],
        volts: Array,
        plain: Sequence[int] = (),
    ) -> None:
        """`plain` are solved rows with nothing changed but the line."""
        self.model = model.frozen()
        self.variants = tuple(variants)
        self.volts = volts  # (B, nodes)
        self._plain = tuple(plain)
        self._cycles: dict[int, dict[int, RectifierState]] = {}

    def cycle(self, number: int, row: int) -> RectifierState | None:
        """The cycle of a supply in a plain row, solved with all of them; None in any other."""
        if row not in self._plain:
            return None
        if number not in self._cycles:
            self._cycles[number] = self._plain_cycles(self.model.supplies[number])
        return self._cycles[number].get(row)

    def _plain_cycles(self, supply: Supplies) -> dict[int, RectifierState]:
        if len(supply.nodes) != 2 or isinstance(supply, BiasSupplies):
            return {}  # a bias hangs on what another supply leaves it: each state by itself
        lines = supply.line[list(self._plain)]
        across = self.volts[np.ix_(self._plain, supply.nodes)] @ [1.0, -1.0]
        amperes, _ = supply.curves.current(across, lines)
        spec = stacked([supply.spec_of(int(line)) for line in lines])
        found = solve_rectifier(spec, np.maximum(amperes, 0.0)[:, None])
        return {row: found.variant(k) for k, row in enumerate(self._plain)}

    def taken(self, rows: Sequence[int]) -> tuple[DirectModel, list[Variant]]:
        """Model and variants of these rows only (one may stand more than once)."""
        return self.model.taken(rows), [self.variants[row] for row in rows]

    @cached_property
    def terminal_a(self) -> list[Array]:
        """For each tube the amperes into its terminals, (B, terminals)."""
        tubes = self.model.tubes
        return [] if tubes is None else tubes.terminal_a(self.volts[:, list(tubes.nodes)])

    @cached_property
    def tubes(self) -> dict[str, tuple[TubeOnNets, Array]]:
        """Every tube with a law and the amperes into its terminals, by its bulb."""
        tubes = () if self.model.tubes is None else self.model.tubes.tubes
        return {tube.ref: (tube, into) for tube, into in zip(tubes, self.terminal_a, strict=True)}

    @cached_property
    def terminals(self) -> dict[tuple[str, str], int]:
        """The column of `terminal_w` for each tube's electrode, by its bulb and name."""
        tubes = self.model.tubes
        named = [] if tubes is None else [(t.ref, n) for t in tubes.tubes for n in t.law.terminals]
        return {each: column for column, each in reversed([*enumerate(named)])}

    @cached_property
    def terminal_w(self) -> Array:
        """Watts that electrodes turn into heat, (B, electrodes): as `TubePoint.watts` has them."""
        found, index = [], self.model.index
        tubes = () if self.model.tubes is None else self.model.tubes.tubes
        for tube, amperes in zip(tubes, self.terminal_a, strict=True):
            volts = self.volts[:, [index[net] for net in tube.nets]]
            own = _emitting(tube.law.terminals)
            cathode = volts[:, own].mean(axis=1, keepdims=True) if own else 0.0
            found.append((volts - cathode) * amperes)
        return np.concatenate(found, axis=1) if found else np.zeros((len(self.volts), 0))


class _Tubes(Mapping[str, TubePoint]):
    """The tubes of a point, each made when it is asked for."""

    def __init__(self, batch: Batch, row: int) -> None:
        self._batch = batch
        self._row = row
        self._found: dict[str, TubePoint] = {}

    def __getitem__(self, ref: str) -> TubePoint:
        if ref not in self._found:
            tube, into = self._batch.tubes[ref]
            volts, index = self._batch.volts[self._row], self._batch.model.index
            amperes = into[self._row].tolist()
            self._found[ref] = TubePoint(
                ref, tuple(Electrodes(name, net, float(volts[index[net]]), ampere)
                           for name, net, ampere in
                           zip(tube.law.terminals, tube.nets, amperes, strict=True)),
            )  # fmt: skip
        return self._found[ref]

    def __contains__(self, ref: object) -> bool:
        return ref in self._batch.tubes

    def __iter__(self) -> Iterator[str]:
        return iter(self._batch.tubes)

    def __len__(self) -> int:
        return len(self._batch.tubes)


class Point:
    """One solved state."""

    def __init__(self, state: State, applied: State, batch: Batch, row: int) -> None:
        self.state = state
        self._applied = applied  # the state without what the model itself was made with
        self.batch = batch
        self.row = row
        self._volts = batch.volts[row]

    @property
    def terminal_w(self) -> Array:
        """Watts of every electrode (`Batch.terminals` tells which), as a row."""
        return np.asarray(self.batch.terminal_w[self.row])

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
        return tuple(zip(self.batch.model.branches, self.branch_a.tolist(), strict=True))

    @cached_property
    def branch_a(self) -> Array:
        """The amperes of every branch, from its `a` to its `b`, as a row."""
        model = self.batch.model
        amperes = self._siemens * (self._across - model.emf_v)
        gone = opened(model, self._applied)
        for number, load_a in model.drawing:
            if number not in gone:
                amperes[number] += load_a * float(load_share(self._across[number]))
        return np.asarray(amperes)

    @property
    def branch_w(self) -> Array:
        """The watts that every branch turns into heat, as a row."""
        return self._across * self.branch_a

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
    def tubes(self) -> Mapping[str, TubePoint]:
        """Every tube with a law, by its bulb."""
        return _Tubes(self.batch, self.row)

    @cached_property
    def supplies(self) -> tuple[SupplyPoint, ...]:
        """Every rectifier supply with its volts and load."""
        found = []
        for number, supply in enumerate(self.model.supplies):
            volts = self.between(supply.source.plus, supply.source.minus) or 0.0
            row = int(supply.line[0])
            as_is, cycle = supply, partial(self.batch.cycle, number, self.row)
            if isinstance(supply, BiasSupplies):
                other = supply.main.source
                as_is = supply.crested(self.between(other.plus, other.minus) or 0.0)
            amperes = as_is.delivered_a(volts)
            found.append(SupplyPoint(supply.sources[row], row, as_is, volts, amperes, cycle))
        return tuple(found)
