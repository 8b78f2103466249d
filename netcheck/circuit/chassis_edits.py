"""States that cannot be told as a change of the network, because they change what drives it.

Belongs here: which edits a rectifier supply depends on, and the chassis with them made. Does not
belong here: edits of the network itself (state_changes.py).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from netcheck.chassis import Chassis, Wire
from netcheck.circuit.edits import interrupted
from netcheck.circuit.elements import Kind
from netcheck.circuit.roles import Role
from netcheck.circuit.source import RectifierSource, rectifier_sources
from netcheck.circuit.states import Edit
from netcheck.circuit.supply_bias import rail_nets
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved
from netcheck.parts import Condition, Part, Value

__all__ = ["driving_refs", "edited"]

_DRIVING_KINDS = frozenset({"fuse", "switch", "lamp", "vibrator", "diode", "plug"})
_DRIVING_ROLES = frozenset(
    {
        Role.SURGE, Role.HEATER_DROPPER, Role.HEATER_SHUNT, Role.RESERVOIR, Role.ACROSS_LINE,
        Role.BUFFER,
    }
)  # fmt: skip
_HELD_BY_SIZE = {
    "resistor": "resistance", "thermistor": "resistance", "capacitor": "capacitance",
}  # fmt: skip


def driving_refs(wiring: Wiring) -> frozenset[str]:
    """References of the parts from which the rectifier supplies are computed."""
    rectifiers = {element.ref for element in wiring.rectifiers}
    returns = wiring.supply.returns
    nets = {net for feed in wiring.supply.feeds.values() for net in feed}
    nets |= {element.a for element in wiring.rectifiers}
    nets |= {net for winding in wiring.supply.windings for net in winding.nets}
    biasing = wiring.supply.bias_diodes
    nets |= {net for each in biasing for e in each.way for net in e.nets}
    alternating = nets - returns - wiring.b_plus
    rectifiers |= {e.ref for each in biasing for e in (each.element, *each.way)}
    rectifiers |= {ref for each in biasing for ref in _smoothing(wiring, each.rail)}
    found = rectifiers | wiring.supply.power_refs
    for source in rectifier_sources(wiring):
        if isinstance(source, RectifierSource):  # a doubler's two capacitors have not one role
            found |= set(source.reservoir.refs)
    for part in wiring.chassis.parts:
        on_it = any(
            net in alternating
            for element in wiring.of(part.ref)
            if element.kind is Kind.RESISTOR
            for net in element.nets
        )
        if part.kind in _DRIVING_KINDS or on_it or wiring.role_of(part.ref) in _DRIVING_ROLES:
            found |= {part.ref}
    return frozenset(found)


def _smoothing(wiring: Wiring, rail: str) -> set[str]:
    """The first capacitors of a bias rail, and what lies between them and the rail."""
    nets = rail_nets(wiring.adjacency, rail, wiring.returns | wiring.b_plus)
    for net in nets:
        own = {
            e.ref
            for e in wiring.at(net)
            if e.kind is Kind.CAPACITOR and e.other(net) in wiring.returns
        }
        if own:
            return own | {e.ref for e in nets.chain(net)}
    return set()


def edited(chassis: Chassis, edits: Iterable[Edit]) -> Chassis:
    """The chassis with parts opened, shorted, or of other values.

    Raises:
        NotSolved: an edit that cannot be told as a change of the part.
    """
    for edit in edits:
        part = chassis.part(edit.ref)
        if part is None:
            raise NotSolved(f"there is no part {edit.ref}")
        if edit.kind == "short":
            chassis = replace(chassis, wires=(*chassis.wires, _shorted(part, edit)))
            continue
        opens = edit.kind == "open"
        other = _opened(part, edit) if opens else _resized(part, edit)
        changed = replace(
            chassis, parts=tuple(other if each is part else each for each in chassis.parts)
        )
        chassis = interrupted(changed, chassis) if opens else changed
    return chassis


def _shorted(part: Part, edit: Edit) -> Wire:
    paths = [p for p in part.paths if edit.path in ("", p.name) and len(p.terminals) > 1]
    both = tuple(t.name for t in part.terminals) if len(part.terminals) == 2 else ("+", "-")
    ends = (paths[0].terminals[0], paths[0].terminals[-1]) if paths else both
    first, last = (part.terminal(name) for name in ends)
    if first is None or last is None or first.unused or last.unused:
        raise NotSolved(f"{part.ref} has no two ends to be shorted")
    return Wire((first.node, last.node), part.span)


def _opened(part: Part, edit: Edit) -> Part:
    if not edit.path:
        return replace(part, condition=Condition.REMOVED)
    gone = {name for p in part.paths if p.name == edit.path for name in p.terminals}
    return replace(
        part,
        paths=tuple(p for p in part.paths if p.name != edit.path),
        terminals=tuple(t for t in part.terminals if t.name not in gone),
    )


def _resized(part: Part, edit: Edit) -> Part:
    role = _HELD_BY_SIZE.get(part.kind)
    now = part.value(role) if role is not None else None
    if role is None or now is None or edit.kind not in ("value", "scale"):
        raise NotSolved(f"what another value of {part.ref} does to the supply is not computed")
    amount = edit.ohm if edit.kind == "value" else now * edit.ohm
    listed = part.description.values.get(role)
    if part.measured is None and listed is not None and len(listed.amounts) > 1 and now:
        shares = tuple(each * amount / now for each in listed.amounts)  # a tapped part stays so
        values = {**part.description.values, role: replace(listed, amounts=shares)}
        return replace(part, description=replace(part.description, values=values))
    return replace(part, measured=Value((amount,), role, f"{amount:g}", part.span))
