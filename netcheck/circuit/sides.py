"""Which nets belong to the line and which a hand can reach, because that decides about shock.

Belongs here: the line plug and its poles, the line side, touchable metal, what bridges the two.
Does not belong here: how much current flows (line), or what a rule makes of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from math import prod

from netcheck.chassis import Chassis
from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import GALVANIC, METAL, Adjacency, Network, Walk, adjacency, walk
from netcheck.circuit.wipers import worst_walk
from netcheck.parts import Part

__all__ = ["BRIDGE_OHM", "Poles", "Sides", "find_poles", "find_sides"]

BRIDGE_OHM = 10e3
"""From this resistance on, what joins the line to touchable metal is a bridge, below a conductor.

117 V through 10 kilohm is 11.7 mA, above the 10 mA at which a hand may not let go (IEC 60479-1,
threshold of let-go for AC); the bleeders that makers fitted between B- and CHASSIS are 100 kilohm
to 1 megohm, cathode and surge resistors below 3.3 kilohm, so no usual part is near the border.
A resistor of unknown value counts as a bridge: its current cannot be stated.
"""

_LOAD_OHM = 100.0
"""A load of unknown ohms: few, so that it joins what it is on, but more than a wire beside it."""

_MOST_STATES = 32
"""More combinations of switch positions than this are not told apart: all contacts closed."""


@dataclass(frozen=True, slots=True)
class Poles:
    """The line plug(s) and the nets of their pins. Not polarized: either pin may be either."""

    plugs: tuple[Part, ...]
    hot: frozenset[str]
    neutral: frozenset[str]
    earth: frozenset[str]

    @property
    def line(self) -> frozenset[str]:
        """The nets of all line pins."""
        return self.hot | self.neutral


@dataclass(frozen=True, slots=True)
class SwitchState:
    """One combination of switch positions: what can be walked, and the three walks over it."""

    at: Adjacency
    line: Walk
    touch: Walk
    earth: Walk


@dataclass(frozen=True)
class Sides:
    """The walks from the line poles and from touchable metal, in every switch state."""

    bare: frozenset[str]
    states: tuple[SwitchState, ...]

    @cached_property
    def line(self) -> dict[str, Walk]:
        """By line-side net: the walk that reached it with the least ohms."""
        best: dict[str, Walk] = {}
        for state in self.states:
            for net, step in state.line.items():
                if net not in best or step.ohm < best[net][net].ohm:
                    best[net] = state.line
        return best

    @cached_property
    def line_side(self) -> frozenset[str]:
        """Nets galvanically joined to a line pole in some switch state."""
        return frozenset(self.line)

    @cached_property
    def touchable(self) -> frozenset[str]:
        """Bare metal, and what plain conductors join to it (unless that is line side)."""
        joined = frozenset(net for state in self.states for net in state.touch)
        return self.bare | (joined - self.line_side)

    @cached_property
    def earthed(self) -> frozenset[str]:
        """Nets that plain conductors join to the plug's earth pin or to EARTH."""
        return frozenset(net for state in self.states for net in state.earth)

    def path(self, net: str) -> tuple[Element, ...]:
        """The elements from a line-side net to its line pole."""
        return self.line[net].chain(net) if net in self.line else ()

    def ohm(self, net: str) -> float | None:
        """The ohms from a line-side net to its line pole with every control at its worst."""
        return self.line[net][net].ohm if net in self.line else None


def _is_line_plug(part: Part) -> bool:
    if part.description.has("speaker", "battery"):
        return False
    named = any(part.terminal(name) is not None for name in ("hot", "neutral"))
    return named or part.description.has("polarized", "not-polarized")


def find_poles(chassis: Chassis) -> Poles:
    """Find the line plug: pins called hot and neutral, or the words (not) polarized."""
    plugs = tuple(part for part in chassis.of_kind("plug") if _is_line_plug(part))
    hot: set[str] = set()
    neutral: set[str] = set()
    earth: set[str] = set()
    for plug in plugs:
        named = plug.terminal("hot") is not None or plug.terminal("neutral") is not None
        fixed = named and not plug.description.has("not-polarized")
        for terminal in plug.terminals:
            net = chassis.net(terminal.node)
            if terminal.unused:
                continue
            if terminal.name == "earth":
                earth.add(net)
                continue
            if terminal.name != "neutral" or not fixed:
                hot.add(net)
            if terminal.name != "hot" or not fixed:
                neutral.add(net)
    return Poles(plugs, frozenset(hot), frozenset(neutral), frozenset(earth))


def net_of_name(chassis: Chassis, name: str) -> str:
    """The net of a node, or of a dotted part terminal that is wired to a node."""
    ref, dot, terminal_name = name.partition(".")
    part = chassis.part(ref) if dot else None
    terminal = part.terminal(terminal_name) if part else None
    if terminal is not None and not terminal.unused:
        return chassis.net(terminal.node)
    return chassis.net(name)


def _bare(network: Network) -> frozenset[str]:
    """What the text says a hand can reach; else CHASSIS and every jack."""
    chassis = network.chassis
    if chassis.touchable is not None:
        return frozenset(net_of_name(chassis, name) for name in chassis.touchable)
    jacks = {
        chassis.net(t.node) for j in chassis.of_kind("jack") for t in j.terminals if not t.unused
    }
    return frozenset(jacks | {chassis.net("CHASSIS")})


def _metal_ohm(element: Element) -> float | None:
    if element.kind not in METAL:
        return None
    return element.ohm or 0.0


def _line_ohm(element: Element) -> float | None:
    if element.kind not in GALVANIC:
        return None
    if element.ohm is None and element.kind is Kind.RESISTOR:
        return BRIDGE_OHM
    if element.ohm is None and element.kind is Kind.LOAD:
        return _LOAD_OHM
    return max(element.ohm or 0.0, 0.0)


def find_sides(network: Network, poles: Poles) -> Sides:
    """Spread from the line poles and from touchable metal, in every plug and switch position."""
    bare = _bare(network)
    closed = _state(network, network.at, poles, bare)
    reached = frozenset(closed.line) | frozenset(closed.touch)
    states = tuple(_state(network, at, poles, bare) for at in _positions(network, reached))
    return Sides(bare, states or (closed,))


def _state(network: Network, at: Adjacency, poles: Poles, bare: frozenset[str]) -> SwitchState:
    touch = walk(at, sorted(bare), _metal_ohm)
    earth = walk(at, sorted(poles.earth | {network.chassis.net("EARTH")}), _metal_ohm)

    def admit(net: str, ohm: float) -> bool:
        return ohm < BRIDGE_OHM or not (net in touch or net in earth)

    line = worst_walk(network, at, sorted(poles.line), _line_ohm, admit)
    return SwitchState(at, line, touch, earth)


def _positions(network: Network, nets: frozenset[str]) -> Iterator[Adjacency]:
    """The adjacency in each combination of positions of the switches that matter on `nets`.

    A switch of one position (on and off) stays closed: opening it joins nothing. Sections of one
    body move together. Too many combinations: nothing, so that all contacts count as closed.
    """
    bodies: dict[str, dict[str, None]] = {}
    for part in network.chassis.of_kind("switch"):
        if any(net in nets for e in network.of.get(part.ref, ()) for net in e.nets):
            bodies.setdefault(part.body_ref, {}).update(dict.fromkeys(part.positions))
    several = {body: tuple(positions) for body, positions in bodies.items() if len(positions) > 1}
    if not several or prod(map(len, several.values())) > _MOST_STATES:
        return
    body_of = {p.ref: p.body_ref for p in network.chassis.of_kind("switch")}
    for chosen in product(*several.values()):
        position = dict(zip(several, chosen, strict=True))
        yield adjacency(
            e
            for e in network.elements
            if e.kind is not Kind.CONTACT
            or position.get(body_of.get(e.ref, ""), e.position) == e.position
        )


def barrier_chains(sides: Sides) -> Iterator[tuple[Element, ...]]:
    """Yield each chain of elements from a line-side net to touchable (or earthed) metal.

    A chain of one element bridges directly; longer ones pass nets that are neither (two
    capacitors in series). Every element on such a chain is in at least one of them.
    """
    seen: set[tuple[Element, ...]] = set()
    for state in sides.states:
        line = frozenset(state.line)
        metal = (sides.bare | frozenset(state.touch) | frozenset(state.earth)) - line
        inward = _through(state.at, metal, line | metal)
        outward = _through(state.at, line, line | metal)
        for chain in _crossings(state.at, line, metal, inward, outward):
            if chain not in seen:
                seen.add(chain)
                yield chain


def _through(at: Adjacency, starts: frozenset[str], known: frozenset[str]) -> Walk:
    """The walk from one side over whatever lies between the sides."""
    return walk(at, sorted(starts), lambda _: 1.0, admit=lambda net, _: net not in known)


def _crossings(
    at: Adjacency, line: frozenset[str], metal: frozenset[str], inward: Walk, outward: Walk
) -> Iterator[tuple[Element, ...]]:
    for net in sorted(line):
        for element in at.get(net, ()):
            if element.other(net) in inward:
                yield (element, *inward.chain(element.other(net)))
    for net in sorted(metal):
        for element in at.get(net, ()):
            far = element.other(net)
            if far in outward and outward[far].by is not None:
                yield (*reversed(outward.chain(far)), element)
