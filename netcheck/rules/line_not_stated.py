"""The text does not state the line.

Why: Currents to the chassis, ratings and heater volts all follow from the wall's volts and hertz.
    None is taken for granted: a set for 110 V on 125 V, or at 50 Hz, is another case.

False alarm: None; a battery set says `line none`.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm, Span
from netcheck.rules._base import Case, Example, rule


@rule(
    harm=Harm.RECORD,
    bad=(
        Example("R1 1K 1 W 10%: B+ to B-  # <-\nR2 1K 1 W 10%: B+ to B-", says="line"),
        Example("C1 .1 mfd 400 V film: B+ to B-  # <-\nR2 1K 1 W 10%: B+ to B-", says="line"),
    ),
    good=(
        Example("line none\nR1 1K 1 W 10%: B+ to B-\nR2 1K 1 W 10%: B+ to B-"),
        Example("line 117 V 60 Hz\nR1 1K 1 W 10%: B+ to B-\nR2 1K 1 W 10%: B+ to B-"),
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Report a set with parts whose line is neither stated nor misread."""
    chassis = case.chassis
    # A `line` that could not be read is one finding already.
    misread = any(found.line_text.split()[:1] == ["line"] for found in chassis.findings)
    if chassis.line is not None or misread or not chassis.parts:
        return
    first = (
        min(part.span for part in chassis.parts if part.span.file == chassis.file)
        if any(part.span.file == chassis.file for part in chassis.parts)
        else Span(chassis.file, 1, 1, 1, 2)
    )
    yield case.finding(
        "the line is not stated, so nothing that depends on its volts is computed",
        first,
        action="write `line 117 V 60 Hz` with your wall's figures, `line 220 V DC`, or `line none`",
    )
