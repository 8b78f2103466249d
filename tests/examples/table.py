"""The findings of an example as a table that a person can check, one file for each example.

Belongs here: making and finding the tables. Does not belong here: what should stand in them. They
are written anew, to be read before they are committed, by `python tests/examples/table.py`.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from netcheck.findings import Finding, NotChecked
from netcheck.language import read_file
from netcheck.rules import builtin
from netcheck.rules._base import Rule
from netcheck.rules._runner import Report, lint

FOLDER = Path(__file__).resolve().parents[2] / "examples"
EXPECTED = Path(__file__).resolve().parent / "expected"
EXAMPLES = tuple(sorted(FOLDER.rglob("*.chassis")))


@cache
def rules() -> tuple[Rule, ...]:
    """netcheck's own rules, so that the tables do not depend on what else is installed."""
    return tuple(builtin())


@cache
def report(example: Path) -> Report:
    """The report of an example, made once."""
    return lint(read_file(example), rules())


def expected(example: Path) -> Path:
    """Where the table of an example lies."""
    return EXPECTED / f"{example.stem}.txt"


def marked(of: Report, found: Finding) -> str:
    """The text that a finding marks; of several lines the first."""
    line = of.chassis.line_text(found.span)
    end = found.span.end_column if found.span.end_line == found.span.line else len(line) + 1
    return line[found.span.column - 1 : end - 1].strip()


def table(of: Report) -> str:
    """Line, harm, rule, marked text and parts of every finding, and what was not checked."""
    counts = ", ".join(f"{count} {word}" for word, count in of.counts.items())
    lines = [f"{len(of.findings)} findings: {counts}", ""]
    lines += [_row(of, found) for found in of.findings]
    if of.not_checked:
        lines += ["", "not checked:", *(_unchecked(each) for each in of.not_checked)]
    return "\n".join(lines) + "\n"


def _row(of: Report, found: Finding) -> str:
    accepted = " (accepted)" if found.accepted is not None else ""
    names = " ".join(found.parts) or "-"
    mark = f"[{marked(of, found)}]"
    place = f"{found.span.line:>4}  {found.harm.value:<11}  {found.rule:<20}"
    return f"{place}  {mark:<24}  {names}{accepted}"


def _unchecked(each: NotChecked) -> str:
    return f"      {each.rule:<20}  {' '.join(each.parts) or '-'}".rstrip()


def main() -> None:
    """Write every table anew, and take away those without an example."""
    EXPECTED.mkdir(exist_ok=True)
    for old in EXPECTED.glob("*.txt"):
        old.unlink()
    for example in EXAMPLES:
        expected(example).write_text(table(report(example)), encoding="utf-8")


if __name__ == "__main__":
    main()
