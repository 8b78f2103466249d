"""What a report of one example shows, in terms its own text is written in.

Belongs here: reading findings as (rule, part whose line is marked, marked text). Does not belong
here: what a set must show (its own test module), the whole tables (table.py).
"""

from __future__ import annotations

from netcheck.chassis import Chassis
from netcheck.findings import Harm
from netcheck.language import read_file

from .table import FOLDER, marked, report

Shown = tuple[str, str, str]


def chassis_of(stem: str) -> Chassis:
    """The set of an example file, by the file's stem."""
    return read_file(FOLDER / f"{stem}.chassis")


def shown(stem: str, least: Harm = Harm.RECORD) -> set[Shown]:
    """Rule, part in whose lines the mark is ("" for none) and marked text of each finding.

    Findings of harm `least` or worse count, accepted ones too.
    """
    of = report(FOLDER / f"{stem}.chassis")
    return {
        (found.rule, _part_at(of.chassis, found.span.line), marked(of, found))
        for found in of.findings
        if found.harm.at_least(least)
    }


def _part_at(chassis: Chassis, line: int) -> str:
    at = (part.ref for part in chassis.parts if part.span.line <= line <= part.span.end_line)
    return next(at, "")
