"""A restuffed capacitor does not say what is inside.

Why: A new capacitor in an old case looks like the old one: the next owner tests it as paper, throws
it out or trusts the printed value. A note on the case and in the text saves that work and keeps the
set's history honest.
False alarm: The case itself is marked inside or underneath, and the text only lacks the note: add
it in quotation marks.
Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm, Related
from netcheck.parts import Condition
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._words import listed, named


@rule(
    harm=Harm.RECORD,
    bad=(
        Example(
            "C3 .047 mfd 630 V film, restuffed: AVC to B-   # <-\n",
            "C3 (.047 mfd 630 V film, restuffed) does not say what is in its case",
        ),
        Example(
            """
C1A 47 mfd 160 V electrolytic, restuffed: + B1, - B-   # <-
C1B 33 mfd 160 V electrolytic, restuffed: + B2, - B-
""",
            "2 restuffed parts do not say what is in their cases: C1A and C1B",
        ),
    ),
    good=(
        'C3 .047 mfd 630 V film, restuffed, "film inside the wax case, May 2024": AVC to B-\n',
        """
C1A 47 mfd 160 V electrolytic, restuffed, mark half-moon: + B1, - B-
C2 .01 mfd 630 V film, new: X to B-
""",
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Yield one finding that lists the restuffed parts without a note or mark."""
    found = [
        part
        for part in case.chassis.parts
        if part.condition is Condition.RESTUFFED and not (part.broken or part.note or part.mark)
    ]
    if not found:
        return
    first, refs = found[0], [part.ref for part in found]
    message = (
        f"{named(first)} does not say what is in its case"
        if len(found) == 1
        else f"{len(found)} restuffed parts do not say what is in their cases: {listed(refs)}"
    )
    yield case.finding(
        message,
        first.span_of("condition"),
        parts=refs,
        related=[Related(part.span_of("condition"), named(part)) for part in found[1:]],
        action='put the new part and the date on the case and as a note here, in "…"',
    )
