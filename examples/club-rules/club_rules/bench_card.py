"""Writes findings as a card for the bench: a box to tick for each thing to do.

Belongs here: the look of the card. Does not belong here: what is found.

A writer takes reports and yields lines. It must not hide what was not read, not solved or left out:
all of it is in the report. What a set says goes to a terminal through `wrapped`, which shows signs
that could act on it by their number.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from netcheck import Report
from netcheck.output.cautions import CAUTIONS
from netcheck.output.columns import wrapped

__all__ = ["write"]


def write(reports: Iterable[Report]) -> Iterator[str]:
    """Yield the card of each set, and the cautions once."""
    for report in reports:
        yield from _card(report)
        yield ""
    for caution in CAUTIONS:
        yield from wrapped(caution, first="! ")


def _card(report: Report) -> Iterator[str]:
    yield from wrapped(report.chassis.title or report.chassis.file, first="BENCH CARD  ")
    if not report.was_read:
        yield "! the text was not read whole: this card is not whole either"
    for found in report.findings:
        about = ", ".join(found.parts) or f"line {found.span.line}"
        word = found.signal.value.upper()
        yield from wrapped(f"{word} {about}: {found.action}", first="[ ] ")
        yield from wrapped(found.message, first="    ")
        if found.accepted is not None:
            yield from wrapped(f"accepted: {found.accepted}", first="    ")
    if not report.findings:
        yield "nothing was found, which is no clearance"
    for silent in report.not_checked:
        yield from wrapped(f"not checked: {silent.rule}: {silent.reason}", first="- ")
    for rule in report.scope.left_out:
        yield from wrapped(f"left out: {rule}", first="- ")
    if report.scope.hidden:
        yield from wrapped(f"{len(report.scope.hidden)} milder findings are not listed", first="- ")
    if report.scope.compared is not None:
        known = len(report.scope.compared.known)
        yield from wrapped(f"{known} known findings are not listed", first="- ")
