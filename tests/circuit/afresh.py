"""The equations of a set written a second time, so that the solver is not judged by its own words.

Belongs here: resistors from the parts list, a supply between its solved points, the current sum of
every net, and the whole as equations for scipy. Does not belong here: the tube laws
(afresh_laws.py), what is asserted. Nothing of direct, operating or the tube laws is called.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property, partial

import networkx as nx
import numpy as np
from scipy.interpolate import CubicHermiteSpline

from netcheck.chassis import Chassis
from netcheck.circuit.elements import Kind
from netcheck.circuit.operating import Point, SupplyPoint
from netcheck.parts import Part, TubeType

from .afresh_laws import Bulb, bulb_on

__all__ = ["Equations", "resistors", "supply_amperes"]

LEAK_S = 1e-10  # ten gigohms of insulation hold what nothing else holds


# --- the parts list


def resistors(chassis: Chassis) -> Iterator[tuple[str, str, str, float]]:
    """(reference, net, net, ohms) of every section of every resistor, from the text."""
    for part in chassis.parts:
        if part.kind == "resistor" and part.fitted and not part.broken:
            yield from _sections(chassis, part)


def _sections(chassis: Chassis, part: Part) -> Iterator[tuple[str, str, str, float]]:
    names = part.paths[0].terminals if part.paths else ("a", "b")
    value = part.description.values["resistance"]
    ohms = list(value.amounts)
    if part.measured is not None and part.measured.dimension == "resistance":
        ohms = [part.measured.si]
    if len(ohms) != len(names) - 1:  # one figure for the whole track: a control at half its turn
        ohms = [ohms[0] / (len(names) - 1)] * (len(names) - 1)
    hot = part.description.values.get("hot")
    scale = hot.si / value.si if hot is not None else 1.0
    start, passed = None, 0.0
    nodes = {t.name: None if t.unused else chassis.net(t.node) for t in part.terminals}
    for number, name in enumerate(names):
        passed += ohms[number - 1] * scale if number else 0.0
        if nodes[name] is None:
            continue
        if start is not None:
            yield part.ref, start, nodes[name] or "", passed
        start, passed = nodes[name], 0.0


# --- a supply between the points that were solved of it


def supply_amperes(supply: SupplyPoint, volts: float) -> float:
    """Amperes at these volts: monotone cubics through I^(2/3), 1 nS back above the no-load volts.

    The points are the solver's own (they have their own tests); what lies between is not.
    """
    return _Curve.of(supply).amperes(volts)


@dataclass(frozen=True)
class _Curve:
    cubic: CubicHermiteSpline
    first_v: float
    last_v: float

    @staticmethod
    @cache
    def _at(volts: tuple[float, ...], amperes: tuple[float, ...]) -> _Curve:
        x, y = np.array(volts), np.array(amperes) ** (2.0 / 3.0)
        h, chord = np.diff(x), np.diff(y) / np.diff(x)
        first, second = 2 * h[1:] + h[:-1], h[1:] + 2 * h[:-1]
        inner = (first + second) / (first / chord[:-1] + second / chord[1:])
        slopes = np.concatenate([chord[:1], inner, chord[-1:]])
        return _Curve(CubicHermiteSpline(x, y, slopes), volts[0], volts[-1])

    @classmethod
    def of(cls, supply: SupplyPoint) -> _Curve:
        curves, row = supply.supplies.curves, supply.line_row
        return cls._at(tuple(curves.volts[row]), tuple(curves.amperes[row]))

    def amperes(self, volts: float) -> float:
        at = min(max(volts, self.first_v), self.last_v)
        root = max(float(self.cubic(at)), 0.0)
        found = root**1.5 - 1e-9 * (volts - self.last_v)
        if volts < self.first_v:
            found += 1.5 * math.sqrt(root) * float(self.cubic(at, 1)) * (volts - self.first_v)
        return found


# --- the set

Currents = Callable[[Mapping[str, float]], dict[str, float]]


def _drawn(supply: SupplyPoint, volts: Mapping[str, float]) -> dict[str, float]:
    plus, minus = supply.source.plus, supply.source.minus
    current = supply_amperes(supply, volts[plus] - volts[minus])
    return {plus: -current, minus: current}


class Equations:
    """The current sum of every net of a set in its nominal state.

    Resistors come from the parts list; the other branches (contacts, windings, heaters, batteries)
    are taken as the model has them, which tests of their own check. `free` are the nets whose sum
    must be nothing; `given` those whose volts are fixed.
    """

    def __init__(self, chassis: Chassis, point: Point) -> None:
        self.chassis = chassis
        self.point = point
        self.reference = point.model.reference
        self.branches = [*resistors(chassis)]
        self.sources: list[tuple[str, str, float]] = []  # amperes driven from a net to another
        for b in point.model.branches:
            if b.kind is not Kind.RESISTOR or self._is_no_resistor(b.ref):
                self.branches.append((b.ref, b.a, b.b, b.ohm))
                self.sources.append((b.b, b.a, b.emf_v / b.ohm - b.load_a))
        self.bulbs = [*_bulbs(chassis)]
        self.supplies = point.supplies

    def _is_no_resistor(self, ref: str) -> bool:
        part = self.chassis.part(ref)
        return part is not None and part.kind != "resistor"

    @cached_property
    def given(self) -> dict[str, float]:
        held = {self.chassis.net(h.node): h.value.si for h in self.chassis.holds}
        return {**held, self.reference: 0.0}

    @cached_property
    def leaks(self) -> list[str]:
        """One net of each piece of the network that only a tube or a supply touches."""
        graph = nx.Graph([(a, b) for _, a, b, _ in self.branches])
        graph.add_nodes_from([*self.device_nets, *self.given])
        driven = {n for a, b, amperes in self.sources if amperes for n in (a, b)}
        touched = {*self.device_nets, *driven}
        pieces = [p for p in nx.connected_components(graph) if not p & self.given.keys()]
        return [min(piece) for piece in pieces if piece & touched]

    @cached_property
    def device_nets(self) -> list[str]:
        nets = [net for bulb in self.bulbs for net in bulb.nets.values()]
        nets += [net for s in self.supplies for net in (s.source.plus, s.source.minus)]
        return list(dict.fromkeys(nets))

    def device_sums(self, volts: Mapping[str, float]) -> dict[str, float]:
        """Amperes out of each net into tubes and supplies, by the laws as written here."""
        sums = dict.fromkeys(self.device_nets, 0.0)
        for _, currents in self._devices():
            for net, current in currents(volts).items():
                sums[net] += current
        return sums

    def _devices(self) -> Iterator[tuple[set[str], Currents]]:
        for bulb in self.bulbs:
            yield set(bulb.nets.values()), bulb.currents
        for supply in self.supplies:
            yield {supply.source.plus, supply.source.minus}, partial(_drawn, supply)

    def sums(self, volts: Mapping[str, float]) -> dict[str, float]:
        """Amperes out of each net that is not fixed through everything that is on it."""
        sums = dict(self.device_sums(volts))
        for _, a, b, ohm in self.branches:
            if a in volts and b in volts:  # a piece of bare copper has no volts
                current = (volts[a] - volts[b]) / ohm
                sums[a] = sums.get(a, 0.0) + current
                sums[b] = sums.get(b, 0.0) - current
        for a, b, amperes in self.sources:
            if amperes:
                sums[a] = sums.get(a, 0.0) + amperes
                sums[b] = sums.get(b, 0.0) - amperes
        for net in self.leaks:
            sums[net] += LEAK_S * volts[net]
            sums[self.reference] = sums.get(self.reference, 0.0) - LEAK_S * volts[net]
        fixed = self.given.keys()  # what holds a rail feeds it, and it all comes back
        if len(fixed) == 1:
            fixed = frozenset()
        return {net: s for net, s in sums.items() if net not in fixed}

    # --- for scipy

    @cached_property
    def unknown(self) -> list[str]:
        """The nets of tubes and supplies whose volts are not fixed: all others follow linearly."""
        return [net for net in self.device_nets if net not in self.given]

    @cached_property
    def _stand_in_s(self) -> np.ndarray:
        """D of `misfit`: of the order of what holds a net. It does not move the root."""
        return np.array([1e-9 if net in self.leaks else 1e-5 for net in self.unknown])

    @cached_property
    def _linear(self) -> tuple[list[str], np.ndarray, np.ndarray]:
        """Every free net, the inverse of their conductances and of D at each unknown, sources."""
        pieces = nx.Graph([(a, b) for _, a, b, _ in self.branches])
        pieces.add_nodes_from(self.device_nets)
        anchors = {*self.given, *self.device_nets}
        anchors |= {n for a, b, amperes in self.sources if amperes for n in (a, b)}
        live = {n for piece in nx.connected_components(pieces) if piece & anchors for n in piece}
        nets = sorted(live - self.given.keys())
        at = {net: k for k, net in enumerate(nets)}
        g, s = np.zeros((len(nets), len(nets))), np.zeros(len(nets))
        for _, a, b, ohm in self.branches:
            for here, there in ((a, b), (b, a)):
                if here in at:
                    g[at[here], at[here]] += 1 / ohm
                    if there in at:
                        g[at[here], at[there]] -= 1 / ohm
                    else:
                        s[at[here]] += self.given[there] / ohm
        for a, b, amperes in self.sources:
            for net, sign in ((a, -1), (b, 1)):
                if net in at:
                    s[at[net]] += sign * amperes
        for net in self.leaks:
            g[at[net], at[net]] += LEAK_S
        for net, siemens in zip(self.unknown, self._stand_in_s, strict=True):
            g[at[net], at[net]] += siemens
        return nets, np.linalg.inv(g), s

    def device_slopes(self, unknown_v: np.ndarray) -> np.ndarray:
        """Slopes of `device_sums` at the unknowns, by central differences, device by device."""
        place = {net: k for k, net in enumerate(self.unknown)}
        volts = {**self.given, **dict(zip(self.unknown, map(float, unknown_v), strict=True))}
        found = np.zeros((len(place), len(place)))
        for nets, currents in self._devices():
            own = {net: volts[net] for net in nets}
            for net in nets & place.keys():
                step = 1e-6 * max(1.0, abs(volts[net]))
                high = currents({**own, net: volts[net] + step})
                low = currents({**own, net: volts[net] - step})
                for other in high.keys() & place.keys():
                    slope = (high[other] - low[other]) / (2 * step)
                    found[place[other], place[net]] += slope
        return found

    def jacobian(self, unknown_v: np.ndarray) -> np.ndarray:
        """Slopes of `misfit`."""
        _, inverse, _ = self._linear
        at = self._places
        inner = np.diag(self._stand_in_s) - self.device_slopes(unknown_v)
        return np.asarray(np.eye(len(at)) - inverse[np.ix_(at, at)] @ inner)

    def misfit(self, unknown_v: np.ndarray) -> np.ndarray:
        """Volts by which each unknown differs from what the rest of the set makes of it.

        `G v + i(v) = s` as `v = (G + D)^-1 (s + D v - i(v))`, with any D.
        """
        return np.asarray(unknown_v - self.all_volts(unknown_v)[self._places])

    @cached_property
    def _places(self) -> np.ndarray:
        at = {net: k for k, net in enumerate(self._linear[0])}
        return np.array([at[net] for net in self.unknown], dtype=int)

    def all_volts(self, unknown_v: np.ndarray) -> np.ndarray:
        """Volts of every free net (`_linear[0]`) when the unknowns have these."""
        _, inverse, source = self._linear
        volts = {**self.given, **dict(zip(self.unknown, map(float, unknown_v), strict=True))}
        sums = self.device_sums(volts)
        right = source.copy()
        drawn = np.array([sums[net] for net in self.unknown])
        np.add.at(right, self._places, self._stand_in_s * unknown_v - drawn)
        return np.asarray(inverse @ right)

    @property
    def nets(self) -> list[str]:
        """The nets of `all_volts`."""
        return self._linear[0]


def _bulbs(chassis: Chassis) -> Iterator[Bulb]:
    terminals: dict[str, dict[str, str]] = {}
    types: dict[str, TubeType] = {}
    for part in chassis.parts:
        if part.kind == "tube" and part.fitted and part.tube and not part.tube.is_rectifier:
            types[part.body_ref] = part.tube
            here = terminals.setdefault(part.body_ref, {})
            here |= {t.name: chassis.net(t.node) for t in part.terminals if not t.unused}
    for ref, tube in types.items():
        yield bulb_on(ref, tube, terminals[ref])
