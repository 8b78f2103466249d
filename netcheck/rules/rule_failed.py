"""A rule itself failed on this set.

Why: What the rule looks for was not checked in this set. The other rules ran as usual.

False alarm: Never: it is a fault of the rule, not of the set, and is reported to the makers of the
    distribution it names. Until it is mended, check by hand what the rule looks for.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm
from netcheck.rules._base import Case, rule


# The runner makes these findings when a rule raises; a set cannot show one, so the bad examples
# are in tests/rules/test_runner.py, where a rule raises on purpose.
@rule(harm=Harm.DAMAGE)
def check(case: Case) -> Iterator[Finding]:
    """Pass on nothing: the runner reports under this name."""
    yield from case.from_reading()
