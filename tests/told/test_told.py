"""What every rule tells is what was read and committed, word for word, number for number.

Belongs here: comparing. Does not belong here: which texts are told of, and writing the pages anew
(words.py).
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from .words import CORNERS, RULES, SETS, Told, corners, told_by_rules, told_of_sets

TOLD = (*told_by_rules(), *told_of_sets())
ANEW = "if the new words are right, write them with: python -m tests.told.words"


@cache
def _pages(home: Path) -> dict[str, str]:
    """The committed words of a page by their titles."""
    parts = re.split(r"^=== (.*)\n", home.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def _id(told: Told) -> str:
    return told.title if told.rule is None else f"{told.rule.name}:{told.title}"


@pytest.mark.parametrize("told", TOLD, ids=_id)
def test_what_is_told_is_what_was_read(told: Told) -> None:
    assert told.words().rstrip("\n") == _pages(told.home)[told.title].rstrip("\n"), ANEW


def test_no_page_tells_of_what_is_not_there() -> None:
    for home in (*RULES.iterdir(), *SETS.iterdir()):
        titles = [each.title for each in TOLD if each.home == home]
        assert titles == list(_pages(home)), ANEW
        assert len(set(titles)) == len(titles)


def test_every_corner_case_belongs_to_a_rule_and_says_what_must_be_told() -> None:
    for path in CORNERS.iterdir():
        assert (RULES / path.name).exists(), f"there is no rule {path.stem}"
        assert corners(path.stem)
        for title, _ in corners(path.stem):
            assert len(title.split()) >= 3, f"{path.stem}: {title!r} does not say what must be told"
