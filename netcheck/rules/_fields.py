"""Finds what stands in place of a field coil, and the watts it must have by the policy in force.

Belongs here: the substitutes of a set, with the parts as they were before, and their rating. Does
not belong here: what a rule says of it, and any voltage.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from netcheck.catalog.preferred import next_rating
from netcheck.parts import Condition, Part
from netcheck.rules._base import Case, Option

__all__ = ["WATTS_OPTION", "Swap", "field_swaps", "watts_asked", "watts_to_fit"]

WATTS_OPTION = Option(
    "twice",
    ("twice", "25"),
    "the watts a resistor must have in place of a field. twice: twice the heat it is solved to "
    "make, some 10 W in a table set. 25: 25 W, and twice its heat where that is more",
)

_TIMES = 2.0  # common practice, no source
_LARGE_W = 25.0


@dataclass(frozen=True, slots=True)
class Swap:
    """A part that stands for a field coil: its ohms and henries, and the parts as before."""

    part: Part
    ohm: float | None
    henry: float | None
    back: tuple[Part, ...]
    nets: tuple[str, str]


def field_swaps(case: Case) -> Iterator[Swap]:
    """Yield each resistor or choke that replaces a field, or lies where a field was taken out."""
    wiring, chassis = case.circuit.wiring, case.chassis
    fields = [
        p for p in chassis.parts
        if p.kind == "coil" and not p.fitted and p.description.has("field") and not p.broken
    ]  # fmt: skip
    for part in chassis.of_kind("resistor", "coil"):
        elements = wiring.of(part.ref)
        if len(elements) != 1:
            continue
        nets, old = elements[0].nets, part.replaces
        if old is not None and old.has("field") and not part.description.has("field"):
            back = replace(part, kind="coil", description=old, replaces=None, measured=None,
                           condition=Condition.ORIGINAL)  # fmt: skip
            ohm, henry = old.number("resistance"), old.number("inductance")
            yield Swap(part, ohm, henry, (back,), nets)
            continue
        for field in fields:
            ends = {chassis.net(node) for node in field.nodes}
            if ends == set(nets) and part.condition is Condition.NEW:
                back = replace(field, condition=Condition.ORIGINAL)
                gone = replace(part, condition=Condition.REMOVED)
                yield Swap(part, field.value("resistance"), field.value("inductance"),
                           (back, gone), nets)  # fmt: skip


def watts_asked(case: Case, heat_w: float) -> float:
    """The watts that `policy field-substitute watts` asks of a substitute that makes this heat."""
    asked = case.policy.get(("field-substitute", "watts"), WATTS_OPTION.default)
    return max(_TIMES * heat_w, _LARGE_W if asked == "25" else 0.0)


def watts_to_fit(case: Case, heat_w: float) -> float:
    """The standard rating to fit for it."""
    asked = watts_asked(case, heat_w)
    return next_rating(asked, "resistor-w") or asked
