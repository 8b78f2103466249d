"""How parts and amounts are spoken of, at the edges of what a text may say."""

from __future__ import annotations

import pytest

from netcheck.language import read
from netcheck.rules._words import amount, described, named


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("R1: B+ to B-", "R1"),
        ('R1 "burnt": B+ to B-', "R1"),
        ('R1 470K, "burnt", 1 W: B+ to B-', "R1 (470K, 1 W)"),
        ("R1 470K 1 W, replaces 1 meg: B+ to B-", "R1 (470K 1 W)"),
        ('V1 6V6GT, "weak": plate B+', "V1 (6V6GT)"),
    ],
)
def test_a_part_is_named_by_what_it_now_is(text: str, words: str) -> None:
    (part,) = read(text + "\n", "x.chassis").parts
    assert named(part) == words
    assert described(part) == words.partition("(")[2].rstrip(")")


@pytest.mark.parametrize("unit", ["ohm", "F", "A", "V"])
def test_what_rounding_left_of_nothing_is_nothing(unit: str) -> None:
    assert amount(0.0, unit) == amount(1e-16, unit) == amount(-1e-16, unit) == f"0 {unit}"
