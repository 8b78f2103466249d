"""Which diodes make a bias and no B+, because their rail and their source lie the other way round.

Belongs here: a diode, its driven end and its rail, told by the wiring alone. Does not belong here:
volts and ohms of it (source_bias), the rectifiers of B+ (supply).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import Adjacency, Network, Walk, walk

if TYPE_CHECKING:
    from netcheck.circuit.supply import Supply

__all__ = ["BiasDiode", "bias_diodes", "is_backward", "rail_nets"]

_PLAIN = frozenset({Kind.CONTACT, Kind.FUSE, Kind.STRAP, Kind.METER})
_ALONG = _PLAIN | {Kind.RESISTOR, Kind.WINDING}

_MOST_OHM = 1e6
"""Between a winding and a bias diode stand at most some hundreds of kilohms (common practice)."""

_UNKNOWN_OHM = 10e3
_COUPLED = 1e7
"""The weight of a capacitor on the way: a way without one is taken where there is one."""
_MOST_COUPLED = 3.5 * _COUPLED


@dataclass(frozen=True, slots=True)
class BiasDiode:
    """A diode that makes a bias: `driven` is its net with alternating volts, `rail` the other.

    `way` are the elements from `source`, a net of a winding or of the line, to `driven`.
    """

    element: Element
    driven: str
    rail: str
    source: str
    way: tuple[Element, ...]

    @property
    def is_negative(self) -> bool:
        """Whether it draws its rail below the return (its plate is on the rail)."""
        return self.rail == self.element.a

    @property
    def coupling(self) -> tuple[Element, ...]:
        """The capacitors on the way."""
        return tuple(e for e in self.way if e.kind is Kind.CAPACITOR)


def bias_diodes(network: Network, supply: Supply) -> tuple[BiasDiode, ...]:
    """Every diode that a winding or the line drives at one end, with a bias at the other."""
    low = supply.returns
    walls = low | supply.b_plus | supply.supplies
    rectifying = set(supply.rectifiers)
    goals = _goals(supply) - walls
    found = []
    for e in _diodes(network):
        if e in rectifying or e.a == e.b or walls.intersection(e.nets):
            continue
        ways = {net: _way(network, net, goals, walls) for net in e.nets}
        reached = [net for net, way in ways.items() if way is not None]
        if len(reached) == 1 and _serves_bias(network, supply, e.other(reached[0]), walls, low):
            source, steps = ways[reached[0]] or ("", ())
            found.append(BiasDiode(e, reached[0], e.other(reached[0]), source, steps))
    return tuple(found)


def is_backward(network: Network, supply: Supply, e: Element, base: frozenset[str]) -> bool:
    """Whether a rectifier tube's section has its cathode driven and its plate on a bias."""
    own = {net for h in network.of[e.ref] if h.kind is Kind.HEATER for net in h.nets} - base
    heating = {n for w in supply.windings if own.intersection(w.nets) for n in w.nets}
    goals = _goals(supply) - base - heating
    if e.a in base or e.b in base or e.b in heating:
        return False
    if _way(network, e.a, goals, base) is not None:
        return False
    driven = _way(network, e.b, goals, base) is not None
    return driven and _serves_bias(network, supply, e.a, base, base)


def rail_nets(at: Adjacency, rail: str, walls: frozenset[str]) -> Walk:
    """The nets that resistors and chokes join to a bias rail, without the walls."""

    def ohm_of(e: Element) -> float | None:
        if e.kind not in _ALONG:
            return None
        return (_UNKNOWN_OHM if e.kind is Kind.RESISTOR else 0.0) if e.ohm is None else e.ohm

    return walk(at, [rail], ohm_of, admit=lambda net, _: net not in walls)


def _goals(supply: Supply) -> frozenset[str]:
    driving = {net for w in supply.windings for net in w.nets}
    return frozenset(driving.union(*supply.feeds.values()))


def _diodes(network: Network) -> Iterator[Element]:
    tubes = {
        (e.ref, e.section) for e in network.electrodes if e.section_kind in ("rectifier", "diode")
    }
    for e in network.elements:
        if e.kind is Kind.DIODE or (e.kind is Kind.STREAM and (e.ref, e.path) in tubes):
            yield e


def _way(
    network: Network, net: str, goals: frozenset[str], walls: frozenset[str]
) -> tuple[str, tuple[Element, ...]] | None:
    """The driving net from which a net is reached, and the elements from there; None for none."""

    def ohm_of(e: Element) -> float | None:
        if e.kind is Kind.CAPACITOR:
            return _COUPLED
        if e.kind is Kind.RESISTOR:
            return _UNKNOWN_OHM if e.ohm is None else e.ohm
        return 0.0 if e.kind in _PLAIN else None

    def admit(net: str, ohm: float) -> bool:
        return net not in walls and ohm % _COUPLED < _MOST_OHM and ohm < _MOST_COUPLED

    reached = walk(network.at, [net], ohm_of, admit=admit, until=goals)
    goal = next((each for each in reached if each in goals), None)
    return None if goal is None else (goal, reached.chain(goal))


def _serves_bias(
    network: Network, supply: Supply, rail: str, walls: frozenset[str], low: frozenset[str]
) -> bool:
    """Whether a filter capacitor to a return or a grid is on a rail."""
    for net in rail_nets(network.at, rail, walls):
        for e in network.at.get(net, ()):
            if e.kind is Kind.CAPACITOR and supply.is_large(e) and e.other(net) in low:
                return True
        if any(e.duty == "grid" for e in network.on.get(net, ())):
            return True
    return False
