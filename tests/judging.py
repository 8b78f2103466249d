"""The words in which findings of sets by others are judged, and each set linted once.

Belongs here: what the judged tables of tests/published and tests/recalled share. Does not belong
here: any judgement, any set.

`RIGHT`: a careful restorer wants to be told. `PRACTICE`: good practitioners differ, or the drawing
itself did so. `FALSE`: it is not so.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from netcheck.circuit import Circuit
from netcheck.circuit.operating import Point
from netcheck.language import read_file
from netcheck.rules import builtin
from netcheck.rules._runner import Report, lint

RIGHT, PRACTICE, FALSE = "right", "practice", "false"
Row = tuple[str, str, str, str, str]
"""Harm, rule, parts, judgement, and the reason in a few words."""


@dataclass(frozen=True)
class Judged:
    """A set typed from a drawing, its findings judged, and the rules that must say they could not.

    `begins` is how its text must begin: whether the drawing was seen or is remembered.
    """

    path: Path
    begins: str
    rows: tuple[Row, ...]
    not_checked: frozenset[str]


@cache
def report(path: Path) -> Report:
    """What every rule of ours finds in the set."""
    return lint(read_file(path), tuple(builtin()))


def solved(path: Path) -> Point:
    """The operating point of the set as it is written."""
    return Circuit(report(path).chassis).operating.point()
