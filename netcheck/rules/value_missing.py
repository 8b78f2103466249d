"""A part's chief value is not given.

Why: A part without a value is in the wiring but not in the arithmetic: its current, its time
    constant and what may replace it stay unknown.

False alarm: A value that nobody knows: write `?`, or put a load in its place, and accept the
    finding with what is known: `accept value-missing on R5: "burnt, drawing unreadable"`.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._words import listed

# The value without which a part of this kind cannot be computed.
_CHIEF = {
    "capacitor": ("capacitance",),
    "resistor": ("resistance",),
    "fuse": ("current",),
    "battery": ("voltage",),
    "load": ("current", "resistance", "power"),
    "lamp": ("voltage", "power"),
}
# Set by turning, in place: their range is wanted for tracking, not for this.
_ADJUSTABLE = ("variable", "gang", "trimmer", "padder")
_REST = "\nZ1 load 35 mA: B+ to B-"


@rule(
    harm=Harm.RECORD,
    bad=(
        Example("line none\nR1 1 W 10%: B+ to B-  # <-" + _REST, says="R1"),
        Example("line none\nC1 ? 400 V film: B+ to B-  # <-" + _REST, says="C1"),
    ),
    good=(
        Example("line none\nR1 470K 1/2 W 10%: B+ to B-" + _REST),
        Example("line none\nC1 trimmer: B+ to B-\nDS1 lamp 47: B+ to B-" + _REST),
        "line none\nZ2 load 14 W: B+ to B-" + _REST,
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Report all parts without their chief value as one finding with many lines."""
    without = [part for part in case.chassis.of_kind(*_CHIEF) if _lacks_value(case, part)]
    if not without:
        return
    first, *others = without
    yield case.finding(
        f"no value is given for {listed(part.ref for part in without)}",
        first.ref_span or first.span,
        parts=[part.ref for part in without],
        related=[Related(part.ref_span or part.span, "no value") for part in others],
        action="read it from the part or the drawing, or measure it",
    )


def _lacks_value(case: Case, part: Part) -> bool:
    description = part.description
    body = case.chassis.part(part.body_ref)  # a section of a gang is what its body is
    turned = description.has(*_ADJUSTABLE) or (body and body.description.has(*_ADJUSTABLE))
    if description.designation or turned:
        return False
    # The line of a body (a can, a wafer) has no value of its own: its sections have.
    if {"a", "+"}.isdisjoint(t.name for t in part.terminals):
        return False
    return all(part.value(role) is None for role in _CHIEF[part.kind])
