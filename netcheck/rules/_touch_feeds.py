"""How plate volts may come to metal that a hand reaches, because that is direct current's way.

Belongs here: the pieces of metal, what leads from each to plate volts, which capacitors keep them
apart, which switches matter. Does not belong here: volts, amperes, any verdict (_touch_direct.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from math import prod

from netcheck.circuit.paths import OHMIC, ohmic_ohm
from netcheck.circuit.states import switch_positions
from netcheck.circuit.wiring import BRIDGE_OHM, Element, Kind
from netcheck.findings import NotSolved
from netcheck.parts import Part
from netcheck.rules._barrier import barriers, class_policy
from netcheck.rules._base import Case
from netcheck.rules._line import OUTSIDE_METAL, is_line_fed, metal_with

__all__ = ["Metal", "ground_of", "pieces_fed", "places", "switch_settings", "unread"]

_MOST_SETTINGS = 8


@dataclass(frozen=True, slots=True)
class Metal:
    """A piece of metal: what it is called, its nets, what leads from near it to plate volts.

    `ways` carry direct current as they are; `barriers` are the parts that do when they short.
    `near` are the nets that they lead from; `on_rail`: the metal is at plate volts itself.
    `unsolved` are rails beside it whose volts are not computed.
    """

    names: tuple[str, ...]
    nets: tuple[str, ...]
    ways: tuple[Element, ...] = ()
    barriers: tuple[Element, ...] = ()
    near: frozenset[str] = frozenset()
    on_rail: bool = False
    unsolved: tuple[str, ...] = ()


def ground_of(case: Case) -> frozenset[str]:
    """What the plate volts return to: the common net, its metal, and the line pin it is joined to.

    On a line without a transformer between, earth is the pin that the common net is joined to. A
    chassis behind a bias resistor is ground too, one behind a bleeder is not.
    """
    wiring = case.circuit.wiring
    common = wiring.common or _measured_from(case)
    chassis = case.chassis.net("CHASSIS")
    nets = metal_with(wiring, common)
    between = wiring.dc_path(chassis, nets)
    if between is not None and sum(ohmic_ohm(e) or 0.0 for e in between) < BRIDGE_OHM:
        nets |= metal_with(wiring, chassis)
    if is_line_fed(wiring):
        nets |= {net for feed in wiring.supply.feeds.values() if feed & nets for net in feed}
    return nets


def _measured_from(case: Case) -> str:
    from netcheck.circuit.direct_model import reference_of

    try:
        return reference_of(case.circuit.wiring)
    except NotSolved:  # there is nothing of the kind
        return case.chassis.net("CHASSIS")


def places(case: Case) -> list[Metal]:
    """Every piece of metal that a hand reaches, and earth where the line joins the set to it."""
    touch, wiring = case.circuit.touch, case.circuit.wiring
    wired_only = (tuple(n for n in p if n in wiring.nets) for p in touch.network.pieces)
    pieces = [piece for piece in wired_only if piece]
    found = [Metal(touch.names(piece), piece) for piece in pieces]
    known = {net for piece in pieces for net in piece}
    if case.chassis.touchable is None:
        for part in case.chassis.parts:
            for name, net in _outside(case, part):
                if net not in known:
                    known.add(net)
                    found.append(Metal((f"the {name} of {part.ref}",), (net,)))
    pole = next((p for p in sorted(wiring.line_poles) if p in ground_of(case)), None)
    if pole is not None and is_line_fed(wiring):
        found.append(Metal(("earth",), (pole,)))
    return found


def _outside(case: Case, part: Part) -> Iterator[tuple[str, str]]:
    for terminal in part.terminals if part.fitted and not part.broken else ():
        name = OUTSIDE_METAL.get((part.kind, terminal.name))
        if name is not None and not terminal.unused:
            yield name, case.chassis.net(terminal.node)


def pieces_fed(case: Case, all_of_it: list[Metal]) -> list[Metal]:
    """The pieces, ground apart, to which plate volts come as wired or when one part shorts."""
    wiring = case.circuit.wiring
    ground = ground_of(case)
    live = {n for n in wiring.line_side if (wiring.line_ohm(n) or 0.0) < BRIDGE_OHM}
    kept = _kept(case)
    found = []
    for metal in all_of_it:
        others = {net for other in all_of_it if other is not metal for net in other.nets}
        told = live & set(metal.nets) if is_line_fed(wiring) else set()
        if not ground & set(metal.nets) and not told:  # else live-chassis, antenna-isolation tell
            fed = _fed(case, metal, ground | others, kept)
            if fed.ways or fed.barriers or fed.on_rail:
                found.append(fed)
    return found


def unread(case: Case, all_of_it: list[Metal]) -> list[Metal]:
    """The pieces, ground apart, at which there is a part that could not be read."""
    ground, wiring = ground_of(case), case.circuit.wiring
    return [
        metal
        for metal in all_of_it
        if not ground & set(metal.nets) and any(wiring.incomplete(net) for net in metal.nets)
    ]


def _fed(case: Case, metal: Metal, stops: frozenset[str], kept: frozenset[str]) -> Metal:
    """A piece with what leads from it, and from what resistors and coils join to it, to B+.

    Other metal that is at plate volts leads them to it too. Nothing leads to the start of a rail.
    """
    wiring = case.circuit.wiring
    bias = _bias(case)
    positive = wiring.positive | wiring.b_plus | _held(case) | bias
    rails = positive - stops
    if not (wiring.supplies | _held(case)).isdisjoint(metal.nets):
        return replace(metal, near=frozenset(metal.nets), on_rail=True)
    near, queue = set(metal.nets), list(metal.nets)
    ways: dict[Element, None] = {}
    shorting: dict[Element, None] = {}
    while queue:
        net = queue.pop()
        for element in wiring.at(net):
            far = element.other(net)
            if far in stops or far in near:
                if far in stops and far in positive and element.kind in OHMIC:
                    ways[element] = None
                continue
            if element.kind in OHMIC:
                if far in rails:
                    ways[element] = None
                else:
                    near.add(far)
                    queue.append(far)
            elif element.kind is Kind.CAPACITOR and far in rails and element.ref not in kept:
                shorting[element] = None
    if class_policy(case) == "strict":
        large = (e for e in ways if e.kind is Kind.RESISTOR and (e.ohm or 0.0) >= BRIDGE_OHM)
        shorting.update(dict.fromkeys(large))
    on_rail = not rails.isdisjoint(metal.nets)
    ends = {net for e in (*ways, *shorting) for net in e.nets} | set(metal.nets)
    return Metal(
        metal.names, metal.nets, tuple(ways), tuple(shorting), frozenset(near), on_rail,
        tuple(sorted(ends & _not_computed(case, bias))),
    )  # fmt: skip


def _held(case: Case) -> frozenset[str]:
    return frozenset(case.chassis.net(hold.node) for hold in case.chassis.holds)


def _bias(case: Case) -> frozenset[str]:
    """The rails of bias diodes, but for those that the text holds."""
    wiring = case.circuit.wiring
    diodes = wiring.supply.power_diodes - set(wiring.rectifiers)
    return frozenset(diode.a for diode in diodes) - _held(case) - wiring.positive - wiring.b_plus


def _not_computed(case: Case, bias: frozenset[str]) -> frozenset[str]:
    """Of the rails of bias diodes those whose diode makes no supply that is computed."""
    if not bias:
        return bias
    from netcheck.circuit.source import RectifierSource, rectifier_sources

    wiring = case.circuit.wiring
    sources = (s for s in rectifier_sources(wiring) if isinstance(s, RectifierSource))
    known = {ref for source in sources for ref in source.refs}
    return bias - {diode.a for diode in wiring.supply.power_diodes if diode.ref in known}


def _kept(case: Case) -> frozenset[str]:
    """Capacitors that are not shorted here: another rule judges them, or their class holds.

    A barrier that does not fail is class Y1 or Y2, by policy strict Y1 alone.
    """
    enough = {"Y1"} if class_policy(case) == "strict" else {"Y1", "Y2"}
    judged = {part.ref for barrier in barriers(case) for part in barrier.capacitors}
    return frozenset(judged).union(
        part.ref
        for part in case.chassis.of_kind("capacitor")
        if any(mark in enough for mark, _ in part.description.classes)
    )


def switch_settings(case: Case, metals: list[Metal]) -> list[tuple[tuple[str, str], ...]]:
    """Positions of the switches near the metal or plate volts, as states take them.

    As the text says first. Of more than eight combinations each switch is turned by itself.
    """
    wiring = case.circuit.wiring
    near = frozenset(net for metal in metals for net in metal.near) | wiring.b_plus
    bodies: dict[str, dict[str, None]] = {}
    touching = {
        part.body_ref
        for part in case.chassis.of_kind("switch")
        for element in wiring.of(part.ref)
        if element.kind is Kind.CONTACT and near & set(element.nets)
    }
    for part in case.chassis.of_kind("switch"):
        if part.body_ref in touching:
            bodies.setdefault(part.body_ref, {}).update(dict.fromkeys(part.positions))
    several = {body: tuple(named) for body, named in bodies.items() if len(named) > 1}
    if prod(map(len, several.values())) <= _MOST_SETTINGS:
        turned = [tuple(zip(several, each, strict=True)) for each in product(*several.values())]
    else:
        turned = [((body, position),) for body, named in several.items() for position in named]
    now = set(switch_positions(case.chassis).items())
    moved = (tuple(pair for pair in each if pair not in now) for each in turned)
    return list(dict.fromkeys([(), *moved]))
