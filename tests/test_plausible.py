"""Sets nobody tuned anything for: they read, they are solved, they are judged without a fault.

Belongs here: what must hold for every invented set, small or large. Does not belong here: what
rules say of them, how fast, or their layout (language/test_layout.py).
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck import Circuit, Report, lint, read
from netcheck.rules._runner import RULE_FAILED

from .plausible import FEWEST, MOST, a_plausible_set, plausible_sets


def _faultless(report: Report) -> None:
    assert [found.message for found in report.findings if found.rule == RULE_FAILED] == []
    assert [each for each in report.not_checked if "itself failed" in each.reason] == []


@given(plausible_sets())
@settings(max_examples=12)
def test_an_invented_set_is_solved_and_linted_without_a_fault(text: str) -> None:
    report = lint(read(text))
    _faultless(report)
    assert report.solved is True


@given(seed=st.integers(0, 10**6), parts=st.integers(FEWEST, MOST))
@settings(max_examples=60)
def test_a_seed_gives_the_same_text_of_about_so_many_parts(seed: int, parts: int) -> None:
    text = a_plausible_set(seed, parts)
    assert text == a_plausible_set(seed, parts)
    lines = [line for line in text.splitlines() if re.match(r"[A-Z]+\d+[A-Z]? .*: ", line)]
    assert abs(len(lines) - parts) <= max(8, 0.1 * parts)
    refs = [line.split(maxsplit=1)[0] for line in lines]
    assert len(set(refs)) == len(refs)


@pytest.mark.parametrize("seed", [1, 2])
def test_two_thousand_parts_are_read_and_wired(seed: int) -> None:
    chassis = read(a_plausible_set(seed, MOST))
    assert chassis.findings == ()
    assert len(Circuit(chassis).wiring.supplies) >= MOST / 200  # a rail or more of each chassis


@pytest.mark.slow
def test_several_chassis_on_one_plug_are_linted_without_a_fault() -> None:
    report = lint(read(a_plausible_set(3, 240)))
    _faultless(report)
    assert report.solved is True


def test_the_sets_are_of_many_kinds() -> None:
    texts = [a_plausible_set(seed, parts) for seed in range(12) for parts in (25, 110)]
    together = "\n".join(texts)
    for words in (
        "line none", "line 120 V", "line 230 V", "hold B1", "35W4", "silicon", "choke",
        "BIASTAP", "measured", "replaces", " 20%", "paper", "mica", "output, ",
    ):  # fmt: skip
        assert words in together
