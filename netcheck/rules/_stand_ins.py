"""Finds old capacitors that lie across the new part that does their work.

Belongs here: which new part stands in for which old one, for every rule that speaks of the old one.
Does not belong here: what a rule says of it.
"""

from __future__ import annotations

from netcheck.parts import Condition, Part
from netcheck.rules._base import Case
from netcheck.rules._capacitors import dielectric_of

__all__ = ["stand_ins"]

# Two parts this far apart in size have different jobs at one place (common practice, no source).
_LIKE = 5.0
# What stands behind `replaces` is this old part if the two differ by less (a step of E6).
_ALIKE = 1.5


def stand_ins(case: Case) -> dict[str, tuple[Part, Part]]:
    """Return by reference each old capacitor that is still across a new one, and that new one."""
    places: dict[frozenset[str], list[Part]] = {}
    for part in case.chassis.of_kind("capacitor"):
        elements = case.circuit.wiring.of(part.ref)
        if elements and elements[0].a != elements[0].b:
            places.setdefault(frozenset(elements[0].nets), []).append(part)
    found: dict[str, tuple[Part, Part]] = {}
    for parts in places.values():
        for old in parts:
            kind = dielectric_of(old)
            aged = kind is not None and kind.suspect_when_original
            if old.condition is Condition.ORIGINAL and aged:
                new = next((each for each in parts if _stands_in(old, each)), None)
                if new is not None:
                    found[old.ref] = (old, new)
    return found


def _stands_in(old: Part, new: Part) -> bool:
    """Whether the new part is there in place of the old one."""
    if new.condition not in (Condition.NEW, Condition.RESTUFFED):
        return False
    was, now = old.value("capacitance"), new.value("capacitance")
    if not was or not now:
        return True
    told = new.replaces.number("capacitance") if new.replaces is not None else None
    if told is not None and not 1 / _ALIKE <= told / was <= _ALIKE:
        return False  # it says itself that it replaces another one
    return 1 / _LIKE <= now / was <= _LIKE
