"""Findings for people: at most 78 columns, the user's line with the part underlined, the remedy.

Belongs here: the order and the look of a report in plain text. Does not belong here: measuring
columns (columns.py), the fixed words of caution (cautions.py), deciding what is a finding.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import click

from netcheck.findings import Calculation, Finding, NotChecked, Related, Signal, Span
from netcheck.output.cautions import CAUTIONS, NEVER_CHECKED
from netcheck.output.columns import WIDTH, clipped, marked, visible, width, wrapped
from netcheck.output.narrowing import count_words, heading_lines, left_out_lines, nothing_found
from netcheck.output.numbers import figure
from netcheck.rules._runner import Report

__all__ = ["lines"]

_INDENT: Final = "   "
_LABEL_COLUMNS: Final = 10
_RELATED_SHOWN: Final = 12
_NUMBER_COLUMNS: Final = 6
_RELATED_INDENT: Final = " " * 19
_PLAIN_STATES: Final = ("as wired", "as written")


def lines(
    reports: Iterable[Report], looked_for: Sequence[str] = (), colour: bool = False
) -> Iterator[str]:
    """Yield the report on each set, worst finding first, and then the cautions.

    Args:
        reports: what linting gave, taken one at a time.
        looked_for: the names of the rules that ran, told where nothing was found.
        colour: whether signal words are coloured for a terminal.
    """
    totals = _Totals()
    for report in reports:
        if totals.sets:
            yield ""
            yield ""
        yield from _one(report, looked_for, colour)
        totals.count(report)
    yield from totals.lines()
    yield ""
    yield "Before you touch the set"
    for caution in CAUTIONS:
        yield from wrapped(caution, first="  * ")


def _one(report: Report, looked_for: Sequence[str], colour: bool) -> Iterator[str]:
    yield from _heading(report)
    told: dict[str, int] = {}
    for number, found in enumerate(report.findings, start=1):
        yield ""
        first = told.setdefault(found.why, number)
        why = found.why if first == number else f"as under {first}"
        yield from _finding(number, found, why, report, colour)
    yield ""
    yield from _what_was_not_checked(report, looked_for)


def _heading(report: Report) -> Iterator[str]:
    title = report.chassis.title
    yield from wrapped(title or report.chassis.file, rest="  ")
    if title:
        yield from wrapped(report.chassis.file, first="file ")
    yield count_words(report.counts)
    yield "=" * WIDTH
    if not report.was_read:
        yield from wrapped(
            "NOT READ WHOLE. Parts of this text could not be understood, and nothing is known of"
            " them: correct what is marked, then lint again."
        )
    yield from heading_lines(report)


class _Totals:
    """What a run of many sets comes to; only sums are kept, however many there are."""

    def __init__(self) -> None:
        self.sets = self.unread = self.unsolved = 0
        self.counts: dict[str, int] = {}

    def count(self, report: Report) -> None:
        """Add one set."""
        self.sets += 1
        self.unread += not report.was_read
        self.unsolved += report.was_read and report.solved is False
        for word, number in report.counts.items():
            self.counts[word] = self.counts.get(word, 0) + number

    def lines(self) -> Iterator[str]:
        """The summary; nothing for one set, which has said it all."""
        if self.sets < 2:
            return
        yield ""
        yield "=" * WIDTH
        yield f"{self.sets} sets: {count_words(self.counts)}"
        if self.unread:
            yield f"{self.unread} of them not read whole"
        if self.unsolved:
            yield f"{self.unsolved} of them read but not solved: no voltage in them was checked"


def _finding(number: int, found: Finding, why: str, report: Report, colour: bool) -> Iterator[str]:
    word = found.signal.value.upper()
    opening = f"{number}. {word}"
    rest = f" ({found.harm.value})  {visible(found.rule)}"
    yield (_coloured(opening, found.signal) if colour else opening) + clipped(
        rest, WIDTH - width(opening)
    )
    yield from wrapped(_place(found, report), first=_INDENT, rest=_INDENT)
    yield from _user_line(found, report)
    yield from wrapped(found.message, first=_INDENT, rest=_INDENT)
    if found.state not in _PLAIN_STATES:
        yield from _labelled("state", found.state)
    yield from _labelled("why", why)
    for calculation in found.calc:
        yield from _sum(calculation)
    yield from _labelled("to do", found.action)
    yield from _related(found, report)
    if found.accepted is not None:
        yield from _labelled("accepted", f'"{found.accepted}"')


def _coloured(text: str, signal: Signal) -> str:
    match signal:
        case Signal.DANGER:
            return click.style(text, fg="white", bg="red", bold=True)
        case Signal.WARNING:
            return click.style(text, fg="red", bold=True)
        case Signal.CAUTION:
            return click.style(text, fg="yellow", bold=True)
        case Signal.NOTICE:
            return click.style(text, fg="blue", bold=True)


def _place(found: Finding, report: Report) -> str:
    span = found.span
    if not found.line_text and span.file not in report.chassis.texts:
        return span.file  # nothing of it was read: it has no lines to speak of
    last = f" to {span.end_line}" if span.end_line > span.line else ""
    return f"{span.file}, line{'s' if last else ''} {span.line}{last}"


def _user_line(found: Finding, report: Report) -> Iterator[str]:
    span = found.span
    text = report.chassis.line_text(span) or found.line_text
    if not text.strip():
        return
    end = span.end_column - 1 if span.end_line == span.line else len(text)
    gutter = f"{span.line:>{_NUMBER_COLUMNS}}  "
    shown, under = marked(text, span.column - 1, end, WIDTH - len(gutter))
    yield ""
    yield gutter + shown
    yield " " * len(gutter) + under


def _labelled(label: str, text: str) -> Iterator[str]:
    if text:
        yield from wrapped(text, first=_INDENT + label.ljust(_LABEL_COLUMNS))


def _sum(calculation: Calculation) -> Iterator[str]:
    said = f"{calculation.name}: {figure(calculation.value)} {calculation.unit}".rstrip()
    if calculation.limit is not None:
        said += f"; limit {figure(calculation.limit)} {calculation.unit}".rstrip()
    yield from _labelled("sum", said)
    if calculation.sum:
        yield from wrapped(calculation.sum, first=_INDENT + " " * _LABEL_COLUMNS)


def _related(found: Finding, report: Report) -> Iterator[str]:
    """The other places, grouped by what is said of them; the first few with their line."""
    groups: dict[str, list[Related]] = {}
    for each in found.related:
        groups.setdefault(each.message, []).append(each)
    label = "also"
    for message, places in groups.items():
        yield from _labelled(label, message or "the same at")
        label = ""
        for place in places[:_RELATED_SHOWN]:
            yield from _related_line(place.span, found.span.file, report)
        hidden = [_short_place(p.span, found.span.file) for p in places[_RELATED_SHOWN:]]
        if hidden:
            said = f"and {len(hidden)} more: line {', '.join(hidden)}"
            yield from wrapped(said, first=_RELATED_INDENT)


def _related_line(span: Span, file: str, report: Report) -> Iterator[str]:
    gutter = f"{span.line:>{len(_RELATED_INDENT) - 2}}  "
    if span.file != file:
        yield from wrapped(f"in {span.file}:", first=_RELATED_INDENT)
    text = " ".join(report.chassis.line_text(span).split())
    if text:
        yield gutter + clipped(text, WIDTH - len(gutter))
    else:
        yield f"{gutter}(the text of this line is not at hand)"


def _short_place(span: Span, file: str) -> str:
    return f"{span.line}" if span.file == file else f"{span.line} of {span.file}"


def _what_was_not_checked(report: Report, looked_for: Sequence[str]) -> Iterator[str]:
    silent = {each.rule for each in report.not_checked}
    if not report.findings:
        yield from wrapped(nothing_found(report))
        ran = [name for name in looked_for if name not in silent]
        if ran:
            yield from wrapped(", ".join(ran), first="Looked for: ", rest="  ")
    yield "Not checked"
    if not report.was_read:
        yield from wrapped("whatever could not be read", first="  * ")
    for reason, rules in _grouped(report.not_checked).items():
        yield from wrapped(f"{', '.join(rules)}: {reason}", first="  * ")
    if report.solved is False:
        yield from wrapped(
            "voltages, currents and dissipation inside the set: it is not solved", first="  * "
        )
    yield from wrapped(NEVER_CHECKED, first="  * ")
    yield from left_out_lines(report)


def _grouped(not_checked: Iterable[NotChecked]) -> dict[str, list[str]]:
    """The rules that could not give a verdict, by reason, with the parts it concerns."""
    groups: dict[str, list[str]] = {}
    for each in not_checked:
        parts = f" ({', '.join(each.parts)})" if each.parts else ""
        names = groups.setdefault(each.reason, [])
        if each.rule + parts not in names:
            names.append(each.rule + parts)
    return groups
