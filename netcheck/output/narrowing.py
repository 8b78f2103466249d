"""What a report was not asked for, in words, so that no list of findings reads as an all-clear.

Belongs here: rules left out, harms not listed, policies from outside, known findings. Does not
belong here: the findings themselves (text.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from netcheck.output.cautions import NO_CLEARANCE
from netcheck.output.columns import wrapped
from netcheck.rules._runner import Report, counts_of
from netcheck.rules._scope import Compared, KnownFinding

__all__ = ["count_words", "heading_lines", "left_out_lines", "nothing_found"]

_POINT: Final = "  * "
_NOTHING_LISTED: Final = "Nothing is listed. That is no clearance: "


def count_words(counts: Mapping[str, int]) -> str:
    """Return `0 dangers, 7 warnings, ...`."""
    return ", ".join(
        f"{number} {word}{'' if number == 1 else 's'}" for word, number in counts.items()
    )


def _some(counts: Mapping[str, int]) -> str:
    """The words that count something."""
    return count_words({word: number for word, number in counts.items() if number})


def heading_lines(report: Report) -> Iterator[str]:
    """Yield what must be seen before the findings: that they are not all, and other policies."""
    scope = report.scope
    reasons = []
    if scope.left_out:
        number = len(scope.left_out)
        reasons.append(f"{number} rule{'' if number == 1 else 's'} left out")
    if scope.hidden:
        reasons.append(f"{len(scope.hidden)} found below {scope.lowest.value} and not listed")
    if scope.compared is not None:
        reasons.append(f"{len(scope.compared.known)} known and not listed")
    if reasons:
        yield from wrapped(f"IN PART ONLY, as asked: {', '.join(reasons)}; see the end.")
    for each in scope.policies:
        said = f"{each.rule} {each.option} {each.value}, set for this run"
        if each.instead_of not in (None, each.value):
            said += f"; the text says {each.instead_of}, which does not hold now"
        yield from wrapped(said, first="policy     ")


def nothing_found(report: Report) -> str:
    """Return the sentence for a report without findings: no clearance, and why none."""
    scope = report.scope
    if scope.compared is not None and scope.compared.known:
        why = f"what is in {scope.compared.file} is there still."
    elif scope.hidden:
        why = f"what was found is below {scope.lowest.value}."
    else:
        return NO_CLEARANCE
    return f"{_NOTHING_LISTED}{why} Only what is named here was looked for, in the text alone."


def left_out_lines(report: Report) -> Iterator[str]:
    """Yield what was left out as asked, and what is known and gone."""
    scope = report.scope
    if scope.left_out or scope.hidden:
        yield "Left out as asked"
        if scope.left_out:
            number = len(scope.left_out)
            said = f"{number} rule{'' if number == 1 else 's'} not run"
            yield from wrapped(f"{said}: {', '.join(scope.left_out)}", first=_POINT)
        if scope.hidden:
            said = f"found and not listed, below {scope.lowest.value}"
            rules = ", ".join(dict.fromkeys(found.rule for found in scope.hidden))
            counted = _some(counts_of(scope.hidden))
            yield from wrapped(f"{said}: {counted} ({rules})", first=_POINT)
    if scope.compared is not None:
        yield from _compared(scope.compared)


def _compared(compared: Compared) -> Iterator[str]:
    yield from wrapped(f"Known from {compared.file}")
    if compared.of is None:
        yield from wrapped("that file has no set like this one: all is new", first=_POINT)
    elif compared.known:
        counted = _some(counts_of(compared.known))
        yield from wrapped(f"there again and not listed: {counted}", first=_POINT)
    elif not compared.dangers:
        yield from wrapped("nothing of it is there again", first=_POINT)
    for found in compared.dangers:
        said = f"known and listed all the same, a danger: {found.rule}: {found.message}"
        yield from wrapped(said, first=_POINT)
    for each in compared.gone:
        yield from wrapped(f"gone: {_told(each)}", first=_POINT)
    for each in compared.not_looked_for:
        yield from wrapped(f"not looked for or not checked now: {_told(each)}", first=_POINT)


def _told(each: KnownFinding) -> str:
    return f"{each.rule}: {each.message}"
