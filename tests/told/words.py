"""All that rules tell of a text, written out so that a person can read it and a test can hold it.

Belongs here: which texts are told of (every example and corner case of every rule, every example
set), and how a finding is written out whole. Does not belong here: what should stand there. The
files in rules/ and sets/ are written anew, to be read before they are committed, by
`python -m tests.told.words [NAME ...]`.

A corner case lies in corners/RULE.txt under a line `=== what must be told of it`; its text runs to
the next such line.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from netcheck.circuit import Circuit
from netcheck.findings import Finding, NotChecked
from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._base import Rule
from netcheck.rules._runner import Report, lint

HERE = Path(__file__).resolve().parent
CORNERS = HERE / "corners"
RULES = HERE / "rules"
SETS = HERE / "sets"
FOLDER = HERE.parents[1] / "examples"
# Digits of a number in a sum: what the last bits of a processor's arithmetic cannot reach.
_DIGITS = 4


@dataclass(frozen=True)
class Told:
    """One text that is told of: by one rule (an example, a corner case), else by all of them."""

    title: str
    text: str
    rule: Rule | None = None

    @property
    def home(self) -> Path:
        """The file in which this one's words stand."""
        return SETS / f"{self.title}.txt" if self.rule is None else RULES / f"{self.rule.name}.txt"

    def words(self) -> str:
        """What is told, whole."""
        rules = builtin() if self.rule is None else [self.rule]
        circuit = circuit_of(self.text, f"{self.title}.chassis")
        return "".join(_words(lint(circuit.chassis, rules, circuit=circuit), self.rule))


def circuit_of(text: str, file: str) -> Circuit:
    """The circuit of a text (mutation.py keeps them, where the rules alone are mutated)."""
    return Circuit(read(text, file))


@cache
def told_by_rules() -> tuple[Told, ...]:
    """Every example of every rule, then its corner cases, in the order of the rules' names."""
    found: list[Told] = []
    for rule in sorted(builtin(), key=lambda each: each.name):
        for kind, examples in (("bad", rule.bad), ("good", rule.good)):
            found += [Told(f"{kind} {n}", each.text, rule) for n, each in enumerate(examples)]
        found += [Told(title, text, rule) for title, text in corners(rule.name)]
    return tuple(found)


@cache
def told_of_sets() -> tuple[Told, ...]:
    """Every example set, told of by all rules."""
    paths = sorted(FOLDER.rglob("*.chassis"))
    return tuple(Told(path.stem, path.read_text(encoding="utf-8")) for path in paths)


def corners(rule: str) -> list[tuple[str, str]]:
    """The corner cases of a rule: what must be told, and the text."""
    path = CORNERS / f"{rule}.txt"
    if not path.exists():
        return []
    parts = re.split(r"^=== (.*)\n", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return list(zip(parts[1::2], parts[2::2], strict=True))


def _words(report: Report, rule: Rule | None) -> Iterator[str]:
    for found in report.findings:
        if rule is None or found.rule == rule.name:
            yield from _finding(found, rule)
    for each in report.not_checked:
        yield from _not_checked(each)
    if rule is None:
        for assumed in report.assumed:
            value = f"{assumed.value:.{_DIGITS}g} {assumed.unit}"
            yield f"assumed {assumed.part or '-'}: {assumed.what} {value}: {assumed.basis}\n"


def _finding(found: Finding, rule: Rule | None) -> Iterator[str]:
    at = found.span
    place = f"{at.line}:{at.column} to {at.end_line}:{at.end_column}"
    yield f"{found.harm.value} at {place} by {found.rule}, {found.state}\n"
    yield f"  says: {found.message}\n"
    yield f"  do: {found.action}\n"
    if rule is None or found.why != rule.doc.why:
        yield f"  why: {found.why}\n" if rule is not None else ""
    yield f"  parts: {' '.join(found.parts)}; nodes: {' '.join(found.nodes)}\n"
    yield f"  subject: {found.subject!r}\n"
    for related in found.related:
        yield f"  see {related.span.line}:{related.span.column}: {related.message}\n"
    for each in found.calc:
        limit = "" if each.limit is None else f" (limit {each.limit:.{_DIGITS}g})"
        yield f"  {each.name}: {each.value:.{_DIGITS}g} {each.unit}{limit}: {each.sum}\n"
    if found.accepted is not None:
        yield f"  accepted: {found.accepted}\n"


def _not_checked(each: NotChecked) -> Iterator[str]:
    yield f"not checked by {each.rule}: {each.reason} [{' '.join(each.parts)}]\n"


def page(told: tuple[Told, ...], home: Path) -> str:
    """The words of all that is told in one file."""
    return "\n".join(f"=== {each.title}\n{each.words()}" for each in told if each.home == home)


def main(names: list[str]) -> None:
    """Write the pages of the named rules and sets anew (of all, and no others, without a name)."""
    told = (*told_by_rules(), *told_of_sets())
    for folder in (RULES, SETS):
        folder.mkdir(exist_ok=True)
        for old in folder.glob("*.txt"):
            if not names:
                old.unlink()
    for home in dict.fromkeys(each.home for each in told):
        if not names or home.stem in names:
            home.write_text(page(told, home), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
