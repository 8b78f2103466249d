"""The pages of surviving slips tell of functions as they stand, and give a reason for each.

Belongs here: the pages read back. Does not belong here: running mutants (mutation.py).
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from .survivors import NO_REASON, PAGES, is_there, listed, module_of

LISTED = sorted(PAGES.glob("*.txt"))


@pytest.mark.parametrize("page", LISTED, ids=lambda page: page.stem)
def test_each_slip_that_no_test_sees_is_one_of_what_stands_there(page: Path) -> None:
    module = module_of(page)
    gone = [slip for _, slip in listed(page) if not is_there(module, slip)]
    assert not gone, "take them out with: python -m tests.told.survivors"


@pytest.mark.parametrize("page", LISTED, ids=lambda page: page.stem)
def test_each_slip_has_a_reason(page: Path) -> None:
    reasons = Counter(reason for reason, _ in listed(page))
    assert NO_REASON not in reasons
    assert all(len(reason.split()) > 3 for reason in reasons), "a reason is a sentence"


def test_there_are_pages() -> None:
    assert LISTED
