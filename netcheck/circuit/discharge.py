"""How the capacitors of the plate supply lose their charge when the set is off or a plug is out.

Belongs here: the states that may cut them off, and the way that is left in each. Does not belong
here: volts, energy, what is too long (rules/stored_charge.py).

Warm tubes empty a supply while they cool; a filament is cold at once, and rectifiers do not conduct
backwards. Batteries are taken as lifted. (Common practice, no source.)
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from math import prod

from netcheck.circuit.edits import without
from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.ohms import power_off
from netcheck.circuit.paths import OHMIC
from netcheck.circuit.pieces import pieces
from netcheck.circuit.states import switch_positions
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved

__all__ = ["Held", "held_charges"]

_MOST_STATES = 32


@dataclass(frozen=True, slots=True)
class Held:
    """A filter capacitor that no tube empties in a state: `ohm` across it, None for no way at all.

    `state` says it in words; `unknown` is why the ohms could not be told.
    """

    ref: str
    plus: str
    minus: str
    state: str
    ohm: float | None
    unknown: str = ""


def held_charges(wiring: Wiring) -> Iterator[Held]:
    """Yield the filter capacitors of B+ that no tube empties, for each state with one."""
    chassis = wiring.chassis
    yield from _held_with(wiring, wiring, "")
    for plug in chassis.of_kind("plug"):
        if plug not in wiring.poles.plugs and any(p.on == plug.ref for p in chassis.parts):
            yield from _held_with(wiring, Wiring(without(chassis, [plug.ref])), plug.ref)


def _held_with(whole: Wiring, left: Wiring, plug: str) -> Iterator[Held]:
    """The same in every switch state of what is left with a plug out; alike states as one."""
    filters = [e for e in whole.elements if _is_filter(whole, e) and left.of(e.ref)]
    streams = [e for e in left.elements if _is_warm_stream(whole, e)]
    states = list(_switch_states(whole))
    cut_off: dict[Element, list[Mapping[str, str]]] = {}
    slow: dict[Element, list[Mapping[str, str]]] = {}
    for closed in states:
        ohmic = (e.nets for e in left.elements if _carries(left, e, closed))
        piece = {net: number for number, nets in enumerate(pieces((), ohmic)) for net in nets}
        drained = {(piece.get(s.a, s.a), piece.get(s.b, s.b)) for s in streams}
        for e in filters:
            plus, minus = (piece.get(net, net) for net in e.nets)
            if (plus, minus) not in drained:
                (slow if plus == minus else cut_off).setdefault(e, []).append(closed)
    for e, held in {**slow, **cut_off}.items():
        ohm, unknown = (None, "") if e in cut_off else _ohms(left, e, held[0])
        yield Held(e.ref, e.a, e.b, _said(plug, held, states), ohm, unknown)


def _said(plug: str, held: list[Mapping[str, str]], states: list[Mapping[str, str]]) -> str:
    """A state in words: the plug that is out, the switches whose position matters."""
    said = [f"{plug} out"] if plug else []
    for body in held[0]:
        positions = dict.fromkeys(closed[body] for closed in held)
        if len(positions) < len({closed[body] for closed in states if body in closed}):
            said.append(f"{body} {' or '.join(positions)}")
    return ", ".join(said) or "the set off"


def _ohms(wiring: Wiring, e: Element, closed: Mapping[str, str]) -> tuple[float | None, str]:
    positions = {**switch_positions(wiring.chassis), **closed}
    try:
        return power_off(wiring, positions).between(e.a, e.b), ""
    except NotSolved as fault:
        return None, fault.reason


def _is_filter(wiring: Wiring, element: Element) -> bool:
    if element.kind is not Kind.CAPACITOR or not wiring.supply.is_large(element):
        return False
    return element.a in wiring.b_plus and element.a != element.b


def _is_warm_stream(wiring: Wiring, element: Element) -> bool:
    """Whether something draws current until there is none: a warm tube, what a load stands for.

    Not a filament, which is cold at once, and no rectifier.
    """
    if element.kind is Kind.LOAD:
        return True
    part = wiring.chassis.part(element.ref)
    tube = part.tube if part is not None and element.kind is Kind.STREAM else None
    warm = tube is not None and tube.heating == "indirect" and not tube.is_rectifier
    return warm and element not in wiring.supply.power_diodes


def _carries(wiring: Wiring, element: Element, closed: Mapping[str, str]) -> bool:
    """Whether direct current passes an element in a state, with the batteries lifted."""
    if element.kind is Kind.BATTERY or element.kind not in OHMIC:
        return False
    part = wiring.chassis.part(element.ref)
    if element.kind is not Kind.CONTACT or part is None or part.kind != "switch":
        return element.kind is not Kind.CONTACT
    return closed.get(part.body_ref, element.position) == element.position


def _switch_states(wiring: Wiring) -> Iterator[Mapping[str, str]]:
    """Positions of the switches that have a contact on B+ or on a return; a lone one is also off.

    Of too many combinations: each switch by itself.
    """
    near = wiring.b_plus | wiring.supply.returns
    bodies: dict[str, dict[str, None]] = {}
    for part in wiring.chassis.of_kind("switch"):
        if any(net in near for e in wiring.of(part.ref) for net in e.nets):
            bodies.setdefault(part.body_ref, {}).update(dict.fromkeys(part.positions))
    positions = {b: (*p, "OFF") if len(p) == 1 else tuple(p) for b, p in bodies.items()}
    if prod(map(len, positions.values())) <= _MOST_STATES:
        for chosen in product(*positions.values()):
            yield dict(zip(positions, chosen, strict=True))
        return
    yield from ({body: each} for body, named in positions.items() for each in named)
