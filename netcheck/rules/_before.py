"""A set as it was before a substitution, so that the change can be solved and not guessed.

Belongs here: putting the old part back into a copy of the chassis, and the case over that copy.
Does not belong here: which substitutions are judged, or any limit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from netcheck.catalog.tubes import find_tube
from netcheck.chassis import Chassis, Wire
from netcheck.circuit import Circuit
from netcheck.findings import NotSolved
from netcheck.parts import Condition, Part, Terminal
from netcheck.rules._base import Case

__all__ = ["as_it_was", "case_of", "tube_in_place_of", "why_not"]


def case_of(case: Case, chassis: Chassis) -> Case:
    """The same rule over another chassis."""
    return replace(case, chassis=chassis, circuit=Circuit(chassis))


def why_not(*solved: object) -> str:
    """The reason of the first set that did not solve, "" if all did."""
    return next((each.reason for each in solved if isinstance(each, NotSolved)), "")


def as_it_was(chassis: Chassis, parts: Mapping[str, Part], joined: Iterable[Part] = ()) -> Chassis:
    """The chassis with parts exchanged by reference; `joined` ones are taken out and bridged."""
    gone = {part.ref: part for part in joined}
    kept = [parts.get(part.ref, part) for part in chassis.parts if part.ref not in gone]
    wires = [Wire(part.nodes, part.span) for part in gone.values() if len(part.nodes) > 1]
    return replace(chassis, parts=tuple(kept), wires=(*chassis.wires, *wires))


def tube_in_place_of(diode: Part, type_name: str, plate: int) -> Part | None:
    """A rectifier tube's section on the two nets of a diode, None for an unknown type.

    `plate` counts the diodes that stand for one tube, from 0. The heater is left out: it gives
    the supply nothing.
    """
    tube = find_tube(type_name)
    anode, cathode = diode.terminal("anode"), diode.terminal("cathode")
    sections = [s for s in tube.sections if s.kind == "rectifier"] if tube is not None else []
    if tube is None or not sections or anode is None or cathode is None:
        return None
    section = sections[plate % len(sections)]
    terminals = (
        Terminal(section.plate, anode.node, anode.span),
        Terminal(section.cathode, cathode.node, cathode.span),
    )
    return replace(
        diode,
        kind="tube",
        tube=tube,
        tube_name=tube.name,
        terminals=terminals,
        paths=(),
        replaces=None,
        condition=Condition.ORIGINAL,
    )
