"""The club's rules show what they say, its tubes are known, its card hides nothing."""

from __future__ import annotations

import pytest
from club_rules import data, rules
from club_rules.bench_card import write

from netcheck import lint, read
from netcheck.catalog.added import added
from netcheck.catalog.tubes import find_tube
from netcheck.circuit.tube_laws import law_of
from netcheck.plugins import everything_brought
from netcheck.testing import rule_tests

test_house_rules = rule_tests(rules())


def test_the_distribution_is_installed_and_all_of_it_is_taken_in() -> None:
    ours = [each for each in everything_brought() if each.distribution == "club-rules"]
    assert {name for each in ours for name in each.names} == {
        "film-under-630", "keeper-missing", "12A6", "6AG5", "bench-card",
    }  # fmt: skip
    assert [fault for each in ours for fault in each.faults] == []


@pytest.mark.parametrize("name", ["12A6", "12A6GT", "6AG5"])
def test_a_tube_type_of_the_club_is_solved_and_says_that_it_is_from_memory(name: str) -> None:
    tube = find_tube(name)
    assert tube is not None
    assert "brought by club-rules" in tube.note
    assert all(source.startswith("from memory") for source in tube.sources.values())
    assert law_of(tube).name == name


def test_its_data_are_where_it_says() -> None:
    assert {path.stem for path in data().glob("*.csv")} <= set(added().rows)


def test_the_card_has_a_box_for_each_finding_and_tells_what_was_not_read() -> None:
    text = 'set "Kitchen five"\nline none\nC14 .01 mfd 400 V film, new: X1 to X2\nR1 ][: X1 to X2\n'
    report = lint(read(text), rules())
    card = "\n".join(write([report]))
    assert card.count("[ ] ") == len(report.findings) == 2
    assert "fit one of 630 V from the drawer" in card
    assert "not read whole" in card
    assert "no clearance" in card or report.findings
    assert max(map(len, card.splitlines())) <= 78
