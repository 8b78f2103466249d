"""Two parts carry the same reference.

Why: Every line that names the reference can mean only one of the two parts; the other is not
    checked at all, and a repairer who follows the list changes the wrong one.

False alarm: A section of one body needs a letter of its own (C1A, C1B); an old part stands behind
    `replaces` in the line of the new one.

Source: IEEE Std 315-1975 clause 22 (a reference designation identifies one item).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm
from netcheck.rules._base import Case, Example, rule


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example("line none\nR1 1K 1 W 10%: B+ to B-\nR1 2K 1 W 10%: B+ to B-  # <-", says="twice"),
        Example(
            "line none\nC1 .1 mfd 400 V film: B+ to B-\nc1 .1 mfd 400 V film: B+ to B-  # <-",
            says="line 2",
        ),
    ),
    good=(
        Example("line none\nR1 1K 1 W 10%: B+ to B-\nR2 2K 1 W 10%: B+ to B-"),
        Example(
            "line none\nC1A 8 mfd 450 V electrolytic, new: + B+, - B-\n"
            "C1B 8 mfd 450 V electrolytic, new: + B+, - B-"
        ),
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Pass on the references that the reader met twice."""
    yield from case.from_reading()
