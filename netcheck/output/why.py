"""A rule's page for people: why it matters, when it is wrong, and sets it bites on or passes.

Belongs here: the look of a rule and of the list of rules. Does not belong here: their words,
which stand in the rules themselves.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final

from netcheck.findings import Harm
from netcheck.output.columns import WIDTH, width, wrapped
from netcheck.rules._base import Example, Rule

__all__ = ["by_harm", "list_lines", "rule_lines"]

_LABEL_COLUMNS: Final = 13
_CLAUSE_END: Final = re.compile(r"(?<=[,:]) +")
_CODE_INDENT: Final = "    "


def by_harm(rules: Sequence[Rule]) -> list[Rule]:
    """Return the rules by the worst harm they report, worst first, then by name."""
    return sorted(rules, key=lambda each: (each.harm.rank, each.name))


def list_lines(rules: Sequence[Rule]) -> Iterator[str]:
    """Yield every rule by the worst harm it reports, with its title."""
    column = max((len(each.name) for each in rules), default=0) + 4
    for harm in Harm:
        chosen = [each for each in by_harm(rules) if each.harm is harm]
        if chosen:
            yield f"{harm.signal.value.upper()} ({harm.value})"
            for each in chosen:
                by = "" if each.distribution == "netcheck" else f" (brought by {each.distribution})"
                yield from wrapped(each.doc.title + by, first=f"  {each.name}".ljust(column))
            yield ""
    yield "netcheck why RULE tells the whole of one."


def rule_lines(rule: Rule) -> Iterator[str]:
    """Yield the page of one rule."""
    yield rule.name
    yield from wrapped(rule.doc.title)
    yield "=" * WIDTH
    yield from _labelled("harm", f"{rule.harm.value}: {rule.harm.signal.value.upper()} at worst")
    yield from _labelled("why", rule.doc.why)
    yield from _labelled("false alarm", rule.doc.false_alarm)
    yield from _labelled("to accept", f'accept {rule.name} on REF: "your reason"')
    for name, option in rule.options.items():
        allowed = " or ".join(option.allowed)
        said = f"{name} {allowed} (if not set: {option.default}). {option.meaning}"
        yield from _labelled("policy", f"policy {rule.name} {said}")
    yield from _labelled("source", rule.doc.source)
    if rule.distribution != "netcheck":
        yield from _labelled("brought by", rule.distribution)
    for example in rule.bad:
        yield ""
        yield "Found fault with, at the line marked # <-"
        yield from _example(example)
        if example.says:
            yield from wrapped(f'"... {example.says} ..."', first="  it says: ")
    for example in rule.good:
        yield ""
        yield "Content with"
        yield from _example(example)


def _labelled(label: str, text: str) -> Iterator[str]:
    yield from wrapped(text, first=label.ljust(_LABEL_COLUMNS))


def _example(example: Example) -> Iterator[str]:
    for line in example.text.strip("\n").split("\n"):
        yield from _code(line)


def _code(line: str) -> Iterator[str]:
    """A line of a set, broken after a comma or colon if need be: there it may go on."""
    if width(_CODE_INDENT + line) <= WIDTH:
        yield (_CODE_INDENT + line).rstrip()
        return
    shown = _CODE_INDENT
    for clause in _CLAUSE_END.split(line):
        if shown.strip() and width(f"{shown} {clause}") > WIDTH:
            yield shown
            shown = _CODE_INDENT + "    "
        shown += clause if not shown.strip() else f" {clause}"
    yield from wrapped(shown, first=_CODE_INDENT, rest=_CODE_INDENT * 2)
