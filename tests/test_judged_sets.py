"""Sets typed from drawings of others: what is told of each is what was judged, and no more.

Belongs here: the one run of the tables in tests/published/judged.py (drawings that were seen) and
tests/recalled/judged.py (from memory). Does not belong here: rules one by one, sets that we
invented (tests/examples), the volts that a drawing states (beside the tables).

At most one false finding of harm damage or worse may stand.
"""

from __future__ import annotations

from collections import Counter

import pytest

from netcheck.findings import Harm

from .judging import FALSE, PRACTICE, RIGHT, Judged, report
from .published import judged as published
from .recalled import judged as recalled

ALL = (*published.JUDGED, *recalled.JUDGED)
_SETS = pytest.mark.parametrize("judged", ALL, ids=lambda each: each.path.stem)


# --- what the texts are


@pytest.mark.parametrize("table", [published, recalled], ids=["published", "recalled"])
def test_every_set_is_judged(table: object) -> None:
    folder, judged = vars(table)["FOLDER"], vars(table)["JUDGED"]

    assert {each.path for each in judged} == set(folder.iterdir())


@_SETS
def test_the_text_names_its_drawing_and_is_read_whole(judged: Judged) -> None:
    chassis = report(judged.path).chassis
    lines = judged.path.read_text(encoding="utf-8").splitlines()

    assert chassis.findings == ()
    assert chassis.travels["source"]
    assert lines[0].startswith(judged.begins)
    assert len(chassis.parts) >= 25
    assert [line for line in lines if len(line) > 78] == []


@pytest.mark.parametrize("judged", recalled.JUDGED, ids=lambda each: each.path.stem)
def test_what_is_remembered_says_so_wherever_it_goes(judged: Judged) -> None:
    assert "from memory" in report(judged.path).chassis.travels["source"]


# --- the findings


@_SETS
def test_the_findings_are_those_that_were_judged(judged: Judged) -> None:
    found = report(judged.path).findings
    told = Counter((f.harm.value, f.rule, " ".join(f.parts)) for f in found)

    assert told == Counter(row[:3] for row in judged.rows)


@_SETS
def test_what_was_not_checked_is_said(judged: Judged) -> None:
    assert {each.rule for each in report(judged.path).not_checked} == judged.not_checked


def test_at_most_one_false_alarm_of_damage_or_worse() -> None:
    grave = {harm.value for harm in Harm if harm.rank <= Harm.DAMAGE.rank}
    rows = [row for judged in ALL for row in judged.rows]

    assert {row[3] for row in rows} <= {RIGHT, PRACTICE, FALSE}
    assert all(row[4] for row in rows)
    assert sum(row[0] in grave for row in rows) >= 20
    assert sum(row[0] in grave and row[3] == FALSE for row in rows) <= 1
