"""Something of another distribution could not be loaded.

Why: Rules or tube data that are installed and cannot be used look for nothing: the report says
    less than it says with them, and nothing is known of what they would have found.

False alarm: Never: what is named was not used. Install a version that can be loaded, or take the
    distribution out; `netcheck plugins` lists all of them.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Harm, NotChecked
from netcheck.rules._base import Case, rule


# What is installed is no matter of a set, so there are no examples: tests/test_plugins.py installs
# distributions that fail.
@rule(harm=Harm.RECORD)
def check(case: Case) -> Iterator[NotChecked]:
    """Say with every set what could not be loaded."""
    from netcheck.plugins import faults

    for fault in faults():
        yield case.not_checked(fault)
