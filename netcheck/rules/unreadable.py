"""Something in the text cannot be read.

Why: What cannot be read is not checked. The part or statement counts as unknown until it is
    written so that it can be read; nothing is guessed where a guess could hurt.

False alarm: A way of writing that the reference allows and the reader refuses is a fault of
    netcheck: report it. Until then write it in another of the allowed ways; it cannot be
    accepted, because what was not read cannot be vouched for.

Source: the language reference (grammar/README.md).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm
from netcheck.rules._base import Case, Example, rule


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example("line 117 V 60 Hz\nC1 0,05 mfd 400 V paper: B+ to B-  # <-", says="comma inside"),
        Example("line 117 V 60 Hz\nR1 470K 1/2 W: B+ to V9.plate  # <-", says="no part V9"),
    ),
    good=(
        Example("line 117 V 60 Hz\nR1 470K 1/2 W: B+ to B-\nZ1 load 35 mA: B+ to B-"),
        Example("line none\nBT1 90 V B-battery: + B+, - B-\nZ1 load 10 mA: B+ to B-"),
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Pass on what the reader could not read."""
    yield from case.from_reading()
