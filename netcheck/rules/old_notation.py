"""An old drawing's sign was read as then meant.

Why: mF stood for microfarad, 8-450 on an electrolytic for 8 mfd 450 V. Read with the eyes of
    today they are thousands of times off; so the reading is said, to be compared with the part.

False alarm: None; write the value in full (mfd or uF, and V) and the notice goes away.

Source: common practice, no source (unit abbreviations of US service drawings, 1930s to 1950s).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm
from netcheck.rules._base import Case, Example, rule


@rule(
    harm=Harm.RECORD,
    bad=(
        Example("line none\nC1 0.1 mF 400 V film: B+ to B-  # <-", says="microfarad"),
        Example("line none\nC1 8-450 electrolytic, new: + B+, - B-  # <-", says="8 mfd 450 V"),
    ),
    good=(
        Example("line none\nC1 0.1 mfd 400 V film: B+ to B-\nR1 1K 1 W 10%: B+ to B-"),
        Example("line none\nC1 8 mfd 450 V electrolytic, new: + B+, - B-\nR1 1K 1 W 10%: B+ to B-"),
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Pass on the readings of old signs."""
    yield from case.from_reading()
