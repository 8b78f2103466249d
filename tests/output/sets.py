"""Sets and reports made by hand, so that the writers are tested without reader or rules.

Belongs here: texts of our own invention with findings put on them. Does not belong here: any
claim about what a rule would find.
"""

from __future__ import annotations

from typing import Any

from netcheck.chassis import Chassis
from netcheck.findings import Assumed, Calculation, Finding, Harm, NotChecked, Related, Span
from netcheck.rules._runner import Report

FILE = "invented.chassis"


def span_of(text: str, words: str, file: str = FILE) -> Span:
    """The span of the first `words` in `text`."""
    before, found, _ = text.partition(words)
    assert found, words
    line = before.count("\n") + 1
    column = len(before.rpartition("\n")[2]) + 1
    return Span(file, line, column, line, column + len(words))


def finding(text: str, words: str, **changes: Any) -> Finding:
    """A finding on the first `words` of `text`."""
    span = span_of(text, words)
    given: dict[str, Any] = {
        "rule": "made-up",
        "harm": Harm.DAMAGE,
        "message": "something is wrong here",
        "why": "it does harm",
        "action": "mend it",
        "line_text": text.split("\n")[span.line - 1],
    }
    return Finding(span=span, **{**given, **changes})


def report(text: str, *findings: Finding, **changes: Any) -> Report:
    """A report on `text` with these findings."""
    chassis = Chassis(file=FILE, texts={FILE: text}, findings=(), **changes)
    return Report(chassis, findings)


TEXT = """\
set "Larkfield five"
line 117 V 60 Hz
P1   plug, polarized:       hot LINE, neutral B-
S1   on R6:                 ON B- to SWITCHED
C21  .05 mfd 400 V paper:   B- to CHASSIS
C14  .01 mfd 400 V paper:   V3.plate to DRIVE
C15  .02 mfd 400 V paper:   B1 to T2.plate
"""


def full_report() -> Report:
    """One report with everything a report can hold."""
    touch = finding(
        TEXT,
        "C21",
        rule="line-capacitor-class",
        harm=Harm.SHOCK,
        message="C21 joins B- and CHASSIS and has no class; when it shorts, CHASSIS is live",
        parts=("C21",),
        nodes=("B-", "CHASSIS"),
        state="line high, plug reversed",
        why="A paper capacitor of that age leaks, then shorts. " * 3,
        calc=(
            Calculation(
                "current if CHASSIS is touched",
                2.2054,
                "mA",
                0.5,
                "2 x pi x 60 Hz x 0.05 uF x 117 V = 2.21 mA",
            ),
            Calculation("resistance", float("nan"), "ohm"),
        ),
        action="fit 0.0047 uF class Y2",
    )
    aged = finding(
        TEXT,
        "C14",
        rule="aged-capacitor",
        harm=Harm.DAMAGE,
        message="3 paper capacitors are original",
        parts=("C14", "C15", "C21"),
        related=tuple(
            Related(span_of(TEXT, ref), "paper, original") for ref in ("C14", "C15", "C21")
        ),
        accepted="for show only, never powered",
    )
    live = finding(TEXT, "neutral B-", rule="live-chassis", harm=Harm.SHOCK_NOW, parts=("P1",))
    return Report(
        Chassis(file=FILE, title="Larkfield five", texts={FILE: TEXT}),
        (live, touch, aged),
        (
            NotChecked("touch-current", "no line voltage is stated", ("C21",)),
            NotChecked("fuse-rating", "no line voltage is stated"),
        ),
        (
            Assumed("T2", "primary resistance", 200.0, "ohm", "common practice, no source"),
            Assumed(None, "line tolerance", float("nan"), "%", "common practice, no source"),
        ),
    )
