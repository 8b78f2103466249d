"""An acceptance or a policy does nothing.

Why: An `accept` line that fits no finding hides nothing today, but it tells the next reader that
    something is wrong and known; and after the next change it may hide what nobody has looked at.

False alarm: A rule of a plugin that is not installed here: install it, or take the line out.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm
from netcheck.rules._base import Case, Example, rule

_SET = "line none\nR1 1K 1 W 10%: B+ to B-\nR2 1K 1 W 10%: B+ to B-\n"


@rule(
    harm=Harm.RECORD,
    bad=(
        Example(_SET + 'accept loose-end on R1: "kept"  # <-', says="nothing of the kind"),
        Example(_SET + 'accept loos-end: "kept"  # <-', says="no rule loos-end"),
        Example(_SET + "policy line-capacitor-clas class strict  # <-", says="no rule"),
    ),
    good=(
        Example(_SET),
        Example("line none\nR1 1K 1 W 10%: B+ to XX\nR2 1K 1 W 10%: B+ to B-\n"
                "R3 1K 1 W 10%: B+ to B-\n"
                'accept loose-end on XX: "goes to a coil not yet drawn"'),
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding]:
    """Pass on nothing: the runner reports under this name once every rule has run."""
    yield from case.from_reading()
