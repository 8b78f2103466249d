"""A mechanical vibrator is fitted, and policy asks for none.

Why: Its contacts burn and its reed tires: it starts badly, sticks, or welds, and then the fuse
blows. An electronic one has no contacts.
False alarm: With the right buffer and no more than its volts a vibrator is reliable, by many, and
so this is silent unless `policy aged-vibrator vibrator replace` is set.
Source: reliable where buffer and supply volts are right: cool386.com vibrator life page; unreliable
in any case, and an electronic one in its place: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm, Related
from netcheck.parts import Condition, Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._words import listed, named

_REPLACE = "policy aged-vibrator vibrator replace\n"
_ONE = "G1 vibrator, non-synchronous, 115 Hz 6.3 V{}: reed CHASSIS, contacts VA to VB, coil VA"


@rule(
    harm=Harm.PERFORMANCE,
    options={
        "vibrator": Option(
            "keep",
            ("keep", "replace"),
            "whether an original vibrator stays where its buffer and volts are right, or goes in "
            "any case",
        )
    },
    bad=(
        Example(_REPLACE + _ONE.format("") + "   # <-\n", "is the original vibrator"),
        Example(
            _REPLACE + "G2 vibrator, synchronous: reed CHASSIS, contacts VA to VB, coil VA   # <-\n"
            "G3 vibrator: reed CHASSIS, contacts WA to WB, coil WA\n",
            "2 original vibrators are still fitted: G2 and G3",
        ),
    ),
    good=(
        _ONE.format("") + "\n",
        _REPLACE + _ONE.format(', new, "electronic"') + "\n",
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Yield one finding that lists every original vibrator, if the policy is to replace them."""
    if case.option("vibrator") == "keep":
        return
    found = [p for p in case.chassis.of_kind("vibrator") if p.condition is Condition.ORIGINAL]
    if not found:
        return
    first, refs = found[0], [part.ref for part in found]
    message = (
        f"{named(first)} is the original vibrator"
        if len(found) == 1
        else f"{len(found)} original vibrators are still fitted: {listed(refs)}"
    )
    rectifying = [part.ref for part in found if part.description.has("synchronous")]
    yield case.finding(
        message,
        first.ref_span or first.span,
        parts=refs,
        nodes=_nets(case, found),
        related=[Related(part.ref_span or part.span, named(part)) for part in found[1:]],
        action="fit an electronic vibrator of the same base and volts, made for the pole of the "
        "battery that is on the chassis"
        + (f", and for {listed(rectifying)} one that rectifies too" if rectifying else ""),
    )


def _nets(case: Case, parts: list[Part]) -> list[str]:
    return [case.chassis.net(node) for part in parts for node in part.nodes]
