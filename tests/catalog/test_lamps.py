"""Numbers on lamps and ballasts are read, and what is not a code is not."""

from __future__ import annotations

import pytest

from netcheck.catalog.lamps import ballast, barretter, lamp, lamps


@pytest.mark.parametrize("text", ["47", "No. 47", "#47", "no 47", "type 47"])
def test_a_lamp_by_its_number(text: str) -> None:
    found = lamp(text)
    assert found is not None
    assert (found.v, found.a) == (6.3, 0.15)
    assert found.hot_ohm == pytest.approx(42)


def test_european_lamps_go_by_their_rating() -> None:
    found = lamp("6.3 V 0.3 A")
    assert found is not None
    assert found.hot_ohm == pytest.approx(21)


def test_every_lamp_names_its_source() -> None:
    assert len(lamps()) >= 15
    assert all(each.source and each.v > 0 and 0.01 < each.a < 1 for each in lamps().values())


@pytest.mark.parametrize("text", ["", "470", "lamp", "4 7 7"])
def test_no_such_lamp(text: str) -> None:
    assert lamp(text) is None


def test_a_ballast_with_every_part_of_its_code() -> None:
    found = ballast("bkx-55-b")
    assert found is not None
    assert (found.regulates_lamp, found.four_pin, found.arrangement) == (True, True, "B")
    assert (found.lamp_v, found.lamp_a, found.drop_v) == (6.3, 0.15, 55.0)


def test_a_plain_ballast_code() -> None:
    found = ballast("M30")
    assert found is not None
    assert (found.regulates_lamp, found.four_pin, found.arrangement) == (False, False, "")
    assert found.lamp_types == ("50", "51")


@pytest.mark.parametrize("text", ["", "55B", "K", "Q55", "B55", "K0", "KXX55", "K1234", "K55B1"])
def test_what_is_no_ballast_code(text: str) -> None:
    assert ballast(text) is None


def test_barretter() -> None:
    found = barretter("303")
    assert found is not None
    assert found.from_v < found.to_v
    assert barretter("47") is None
