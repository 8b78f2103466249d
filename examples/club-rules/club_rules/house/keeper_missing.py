"""The set does not say who keeps its text.

Why: At the club's table a text goes from hand to hand. Who finds a mistake in it must know whom to
tell, or the next member orders parts by the same mistake.
False alarm: A set that never leaves your own bench: accept it, or lint `--without keeper-missing`.
Source: common practice, no source (a house rule of an invented club).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck import Case, Example, Finding, Harm, rule


@rule(
    harm=Harm.RECORD,
    bad=(
        Example('set "Kitchen five"   # <-\nline none\n', says="does not say by whom"),
        Example(
            'line none\nset "Kitchen five", source "its own label"   # <-\n',
            says="the text of Kitchen five",
        ),
    ),
    good=(
        Example('set "Kitchen five", by "the Tuesday table"\nline none\n'),
        Example("line none\n"),  # a fragment is no set
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Yield a finding for a set without `by`."""
    place = case.chassis.spans.get("set")
    if place is not None and not case.chassis.travels.get("by"):
        yield case.finding(
            f"the text of {case.chassis.title} does not say by whom it is",
            place,
            action='write `by "your name"` behind the title',
        )
