"""A rating is not given, so it cannot be compared.

Why: Whether a capacitor stands the no-load voltage, or a resistor its watts, is a comparison with
    what is printed on it. Without the print there is nothing to compare, and no clearance either.

False alarm: Parts whose print is gone: measure what can be measured, replace what bridges a supply,
    and accept the rest: `accept rating-missing on C7: "print gone, sees 20 V"`.

Source: common practice, no source. Micas, ceramics and trimmers are left out: unmarked ones of the
    time are 500 V parts (RMA colour code, no voltage dot; from memory).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._words import listed

_RATED = {
    "capacitor": ("voltage", "voltage-ac", "surge"),
    "resistor": ("power", "current"),
    "fuse": ("voltage", "voltage-ac"),
}
_LEFT_OUT = ("mica", "silver-mica", "ceramic", "trimmer", "padder", "variable", "gang", "air",
             "control", "rheostat")  # fmt: skip
_REST = "\nZ1 load 35 mA: B+ to B-"


@rule(
    harm=Harm.RECORD,
    bad=(
        Example("line none\nC1 .1 mfd film: B+ to B-  # <-" + _REST, says="C1"),
        Example("line none\nR1 470K 10%: B+ to B-  # <-" + _REST, says="R1"),
    ),
    good=(
        Example("line none\nC1 .1 mfd 400 V film: B+ to B-" + _REST),
        Example("line none\nC1 100 mmf mica: B+ to B-\nR1 control, 500K: B+ to B- to B-" + _REST),
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Report all parts without a rating as one finding with many lines."""
    without = [part for part in case.chassis.of_kind(*_RATED) if _lacks_rating(case, part)]
    if not without:
        return
    first, *others = without
    yield case.finding(
        f"no rating is given for {listed(part.ref for part in without)}",
        first.ref_span or first.span,
        parts=[part.ref for part in without],
        related=[Related(part.ref_span or part.span, "no rating") for part in others],
        action="read the volts or watts from the part or the parts list, and add them",
    )


def _lacks_rating(case: Case, part: Part) -> bool:
    body = case.chassis.part(part.body_ref)  # a section of a gang is what its body is
    if part.description.has(*_LEFT_OUT) or (body is not None and body.description.has(*_LEFT_OUT)):
        return False
    # The line of a body (a can, a wafer) has no rating of its own: its sections have.
    if {"a", "+"}.isdisjoint(t.name for t in part.terminals):
        return False
    return all(part.description.values.get(role) is None for role in _RATED[part.kind])
