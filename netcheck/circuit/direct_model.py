"""The set as a direct-current network: nodes, branches, tubes, supplies, in one model.

Belongs here: which nodes there are, what holds them, and the devices the engine calls. Does not
belong here: the engine (direct.py), what single parts are (direct_parts.py), what states a rule
asks for (operating.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from netcheck.chassis import Chassis
from netcheck.circuit.direct import Array, Device, Linear
from netcheck.circuit.direct_devices import (
    STAND_IN_S,
    BiasSupplies,
    Leaks,
    Loads,
    Supplies,
    TubeOnNets,
    Tubes,
)
from netcheck.circuit.direct_parts import CONTACT_OHM, Branch, direct_parts
from netcheck.circuit.elements import Kind
from netcheck.circuit.mains import Mains, sources_at
from netcheck.circuit.pieces import pieces
from netcheck.circuit.rectify_curve import SupplyCurve, supply_curve
from netcheck.circuit.rectify_spec import stacked
from netcheck.circuit.source import Off, RectifierSource, Unknown
from netcheck.circuit.tube_laws import law_of, why_no_law
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed, NotSolved
from netcheck.parts import Part

__all__ = ["DirectModel", "direct_model", "reference_of"]


@dataclass
class DirectModel:
    """A set ready to be solved.

    `nets` in the order of the nodes of `linear`; `branches` in the order of its conductances (the
    leaks behind them are no parts). `floating` are nets that only insulation holds; `apart` are
    nets of pieces without any source or reference, which have no volts. `unknown` are sentences
    for what the text does not tell; with any of them nothing may be solved.
    """

    nets: tuple[str, ...]
    index: Mapping[str, int]
    linear: Linear
    branches: tuple[Branch, ...]
    tubes: Tubes | None
    supplies: tuple[Supplies, ...]
    loads: Loads | None
    leaks: Leaks | None
    floating: frozenset[str]
    apart: frozenset[str]
    assumed: tuple[Assumed, ...]
    unknown: tuple[str, ...]
    reference: str
    chassis: Chassis
    ends: Mapping[str, tuple[str, str]]

    def frozen(self) -> DirectModel:
        """The model with its variants as they are now, whatever is solved with it afterwards."""
        one = copy(self)
        one.tubes, one.loads = copy(self.tubes), copy(self.loads)
        one.supplies = tuple(copy(each) for each in self.supplies)
        return one

    def row(self, row: int) -> DirectModel:
        """The model as one variant has it."""
        return self.taken([row])

    def taken(self, rows: Sequence[int]) -> DirectModel:
        """The model as these variants have it."""
        one = copy(self)
        one.tubes = self.tubes.at(rows) if self.tubes is not None else None
        one.supplies = tuple(each.at(rows) for each in self.supplies)
        one.loads = self.loads.at(rows) if self.loads is not None else None
        return one

    def ends_of(self, ref: str) -> tuple[int, int]:
        """The nodes of a part's two ends (of its first section).

        Raises:
            NotSolved: the part is not there, or an end is on nothing that has volts.
        """
        ends = self.ends.get(ref)
        if ends is None:
            raise NotSolved(f"{ref} joins nothing in this set")
        for net in ends:
            if net not in self.index:
                raise NotSolved(f"{ref}: nothing gives volts to {net}", (net,))
        return self.index[ends[0]], self.index[ends[1]]

    @cached_property
    def numbers(self) -> Mapping[str, tuple[int, ...]]:
        """The branches of each part, by their numbers."""
        found: dict[str, list[int]] = {}
        for number, branch in enumerate(self.branches):
            found.setdefault(branch.ref, []).append(number)
        return {ref: tuple(numbers) for ref, numbers in found.items()}

    @cached_property
    def emf_v(self) -> Array:
        """The battery volts of every branch."""
        return np.array([branch.emf_v for branch in self.branches])

    @cached_property
    def drawing(self) -> tuple[tuple[int, float], ...]:
        """The branches that draw stated amperes: number, amperes."""
        return tuple((n, b.load_a) for n, b in enumerate(self.branches) if b.load_a)

    @property
    def devices(self) -> list[Device]:
        """Tubes first (if any), then supplies, loads, leaks."""
        found: list[Device] = [] if self.tubes is None else [self.tubes]
        found.extend(self.supplies)
        if self.loads is not None:
            found.append(self.loads)
        return found if self.leaks is None else [*found, self.leaks]

    def check(self) -> None:
        """Raise NotSolved when something needed is not in the text."""
        if self.unknown:
            raise NotSolved("; ".join(self.unknown))


def direct_model(
    wiring: Wiring,
    closed: dict[str, str],
    mains: Sequence[Mains],
    oscillator: str = "running",
    added: Sequence[tuple[str, str, float]] = (),
    reference: str | None = None,
) -> DirectModel:
    """Build the model of a set.

    Args:
        wiring: the set.
        closed: position of each switch by body reference.
        mains: the walls and rectifiers that variants may have; the first is the nominal one.
        oscillator: `running` or `dead`, for converters.
        added: pairs of nets with the ohms that a state puts between them.
        reference: where the meter's black lead is; None: as the wiring tells. A state must name the
            one of the whole set, because a blown fuse does not move the lead.

    Raises:
        NotSolved: there is no net to measure from.
    """
    parts = direct_parts(wiring, closed)
    parts.branches += [
        Branch("", "added", ("a", "b"), a, b, max(ohm, CONTACT_OHM), Kind.RESISTOR)
        for a, b, ohm in added
    ]
    unknown = [*parts.unknown]
    unknown += [f"{ref} could not be read" for ref in wiring.unknown_parts]
    tubes, tube_faults = _tubes(wiring)
    by_line, source_faults, curves = _sources(wiring, mains)
    sources = [same[0] for same in by_line]
    unknown += tube_faults + source_faults
    reference = reference if reference in wiring.nets else reference_of(wiring)
    held = _held(wiring, reference)
    groups = [{b.a, b.b} for b in parts.branches]
    groups += [{s.minus, s.plus} for s in sources]
    groups += [set(t.nets) for t in tubes]
    nets = tuple(dict.fromkeys([reference, *held, *(n for g in groups for n in sorted(g))]))
    index = {net: k for k, net in enumerate(nets)}
    leaking, apart = _loose(nets, parts.branches, groups, [reference, *held])
    driven = {n for s in sources for n in (s.minus, s.plus)} | _pushed(parts.branches)
    floating = {net for piece in leaking for net in piece if not piece & driven}
    kept = [b for b in parts.branches if b.a not in apart]
    leaks = [(min(piece), reference) for piece in leaking]
    held_by_leak = [index[net] for net, _ in leaks]
    made_tubes = Tubes(tubes, index, oscillator) if tubes else None
    supplies = tuple(_supplies(by_line, curves, index))
    taken = [*parts.assumed, *(a for s in sources for a in s.assumed)]
    fixed = {index[reference]: 0.0, **{index[net]: volts for net, volts in held.items()}}
    fixed |= {index[net]: 0.0 for net in apart}
    return DirectModel(
        nets=nets,
        index=index,
        linear=_linear(len(nets), index, kept, leaks, fixed),
        branches=tuple(kept),
        tubes=made_tubes,
        supplies=supplies,
        loads=_loads(kept, index),
        leaks=Leaks(held_by_leak, index[reference], _resting_v(leaking, tubes)) if leaks else None,
        floating=frozenset(net for net in floating if net in wiring.chassis.nodes),
        apart=frozenset(apart),
        assumed=tuple(taken),
        unknown=tuple(dict.fromkeys(unknown)),
        reference=reference,
        chassis=wiring.chassis,
        ends={e.ref: (e.a, e.b) for e in reversed(wiring.elements)},
    )


def reference_of(wiring: Wiring) -> str:
    """The net that all volts are measured from.

    Raises:
        NotSolved: the text has no B-, CHASSIS or other such node.
    """
    chassis = wiring.chassis
    for name in (chassis.measure_from, wiring.common, "B-", "CHASSIS"):
        if name is not None and chassis.net(name) in wiring.nets:
            return chassis.net(name)
    raise NotSolved("there is no B-, CHASSIS or other node to measure from")


def _held(wiring: Wiring, reference: str) -> dict[str, float]:
    chassis = wiring.chassis
    held = {chassis.net(hold.node): hold.value.si for hold in chassis.holds if hold.value.known}
    held.pop(reference, None)
    return held


def _tubes(wiring: Wiring) -> tuple[list[TubeOnNets], list[str]]:
    """Tubes other than rectifiers, each electrode on its net; unconnected ones on their own."""
    found: list[TubeOnNets] = []
    faults: list[str] = []
    bulbs: dict[str, list[Part]] = {}
    for part in wiring.chassis.of_kind("tube"):
        bulbs.setdefault(part.body_ref, []).append(part)
    for body, sections in bulbs.items():
        tube = sections[0].tube
        if tube is None or tube.is_rectifier or not tube.sections:
            continue
        law = law_of(tube)
        if law is None:
            faults.append(f"{body}: {why_no_law(tube)}")
            continue
        nets = tuple(_net_of(wiring, body, sections, name) for name in law.terminals)
        found.append(TubeOnNets(body, law, nets))
    return found, faults


def _net_of(wiring: Wiring, body: str, sections: Iterable[Part], electrode: str) -> str:
    for part in sections:
        terminal = part.terminal(electrode)
        if terminal is not None and not terminal.unused:
            return wiring.chassis.net(terminal.node)
    return f"{body}.{electrode}"


def _sources(
    wiring: Wiring, mains: Sequence[Mains]
) -> tuple[list[list[RectifierSource]], list[str], list[SupplyCurve]]:
    """For each supply: its source at every line voltage, and its curves; and what is unknown."""
    by_line = sources_at(wiring, mains)
    found: list[list[RectifierSource]] = []
    faults: list[str] = []
    curves: list[SupplyCurve] = []
    held = {wiring.chassis.net(h.node) for h in wiring.chassis.holds}
    for same in zip(*by_line, strict=True):
        unknown = next((each for each in same if isinstance(each, Unknown)), None)
        if unknown is not None:
            if not (unknown.drives | unknown.beyond) & held:  # a held rail needs no supply
                faults.append(unknown.reason)
            continue
        if any(isinstance(each, Off) for each in same):  # an open circuit, on batteries
            continue
        sources = [each for each in same if isinstance(each, RectifierSource)]
        if {sources[0].plus, sources[0].minus} & held:
            continue
        curve = supply_curve(stacked([each.spec for each in sources]))
        if not curve.settled.all():
            faults.append(f"the supply of {sources[0].refs[0]} did not settle")
            continue
        found.append(sources)
        curves.append(curve)
    return found, faults, curves


def _supplies(
    by_line: Sequence[Sequence[RectifierSource]],
    curves: Sequence[SupplyCurve],
    index: Mapping[str, int],
) -> Iterator[Supplies]:
    """The supplies as devices; a bias beside another supply of its transformer hangs on that."""
    made: dict[tuple[str, ...], Supplies] = {}
    for same, curve in zip(by_line, curves, strict=True):
        minus, plus = index[same[0].minus], index[same[0].plus]
        main = made.get(same[0].shared_with)
        if main is not None and minus != plus:
            yield BiasSupplies(same, curve, minus, plus, main)
            continue
        found = Supplies(same, curve, minus, plus)
        made[same[0].refs] = found
        yield found


def _loose(
    nets: Sequence[str],
    branches: Sequence[Branch],
    groups: Sequence[set[str]],
    held: Iterable[str],
) -> tuple[list[frozenset[str]], set[str]]:
    """Pieces that need a leak because nothing holds them, and the nets of pieces left out.

    A piece is what branches join. It is held when the reference or a held rail is in it. A piece
    that tubes or supplies touch gets a leak; a piece of bare copper is left out.
    """
    touched = {net for group in groups[len(branches) :] for net in group} | _pushed(branches)
    anchored = set(held)
    leaking: list[frozenset[str]] = []
    apart: set[str] = set()
    for piece in pieces(nets, ((b.a, b.b) for b in branches)):
        if piece & anchored:
            continue
        if piece & touched:
            leaking.append(frozenset(piece))
        else:
            apart |= piece
    return leaking, apart


# An electrode that only insulation holds, beside a hot cathode, gathers electrons until it rests
# some 14 e-folds of 0.1 V below it: there microamperes have become the leak's 0.1 nA.
_FLOATING_V = -1.4


def _resting_v(leaking: Iterable[frozenset[str]], tubes: Iterable[TubeOnNets]) -> tuple[float, ...]:
    """About where each piece that only insulation holds rests; one with a cathode anywhere."""
    emitting = {
        net
        for tube in tubes
        for name, net in zip(tube.law.terminals, tube.nets, strict=True)
        if name.startswith(("cathode", "heater"))
    }
    return tuple(_FLOATING_V if piece.isdisjoint(emitting) else 0.0 for piece in leaking)


def _pushed(branches: Iterable[Branch]) -> set[str]:
    """The nets that batteries and stated loads push current through."""
    return {net for b in branches if b.emf_v or b.load_a for net in (b.a, b.b)}


def _loads(branches: Sequence[Branch], index: Mapping[str, int]) -> Loads | None:
    drawing = [b for b in branches if b.load_a]
    if not drawing:
        return None
    return Loads([(index[b.a], index[b.b]) for b in drawing], [b.load_a for b in drawing])


def _linear(
    count: int,
    index: Mapping[str, int],
    branches: Sequence[Branch],
    leaks: Sequence[tuple[str, str]],
    fixed: Mapping[int, float],
) -> Linear:
    pairs = [(index[b.a], index[b.b], 1 / b.ohm) for b in branches]
    pairs += [(index[a], index[b], STAND_IN_S) for a, b in leaks]
    source = np.zeros(count)
    for b in branches:
        drive = b.emf_v / b.ohm
        source[index[b.a]] += drive
        source[index[b.b]] -= drive
    return Linear(
        count,
        np.array([a for a, _, _ in pairs], dtype=np.intp),
        np.array([b for _, b, _ in pairs], dtype=np.intp),
        np.array([siemens for _, _, siemens in pairs], dtype=float),
        source,
        tuple(fixed),
        tuple(fixed.values()),
    )
