"""Tubes are found under every name they go by, and under no other."""

from __future__ import annotations

import collections
import re

import pytest

from netcheck.catalog.tables import read_csv
from netcheck.catalog.tubes import all_tubes, find_tube, nearest_tubes


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("12ax7", "12AX7/ECC83"),
        ("ECC83", "12AX7/ECC83"),
        ("12AX7/ECC83", "12AX7/ECC83"),
        ("ecc83/12ax7", "12AX7/ECC83"),
        ("35", "35/51"),
        ("51", "35/51"),
        ("6Z4", "84/6Z4"),
        ("uch 42", "UCH42"),
        ("6SN7-GT", "6SN7GT"),
        ("6SN7GT/G", "6SN7GT"),
        ("6V6", "6V6"),
        ("6F6-G", "6F6G"),
        ("EF93", "6BA6"),
        ("14A7/12B7", "14A7"),
        ("80", "80"),
    ],
)
def test_a_tube_is_found(asked: str, name: str) -> None:
    tube = find_tube(asked)
    assert tube is not None
    assert tube.name == name


@pytest.mark.parametrize("asked", ["", "/", "12BQ9", "12AX7/6SN7", "1", "GT", "12SA7/12SA7GT"])
def test_what_is_no_tube_is_not_found(asked: str) -> None:
    assert find_tube(asked) is None


def test_no_name_belongs_to_two_types() -> None:
    spellings: list[str] = []
    for row in read_csv("tubes.csv"):
        own = {row["name"], *row["name"].split("/")}
        extra = f"{row['aliases']} {row['glass']} {row['metal']}".split()
        assert len(set(extra)) == len(extra)
        spellings += [*own, *extra]
    twice = [name for name, times in collections.Counter(spellings).items() if times > 1]
    assert twice == []


def test_every_alias_finds_its_type() -> None:
    checked = 0
    for tube in all_tubes().values():
        for alias in tube.aliases:
            assert find_tube(alias.lower()) is tube
            checked += 1
    assert checked >= 80


def test_glass_and_metal_forms_differ_on_pin_1_only() -> None:
    checked = 0
    for row in read_csv("tubes.csv"):
        parent = find_tube(row["name"])
        assert parent is not None
        for form in ("glass", "metal"):
            for name in row[form].split():
                tube = find_tube(name)
                assert tube is not None
                assert tube.pins["1"] == (("shell",) if form == "metal" else ())
                assert {**tube.pins, "1": ()} == {**parent.pins, "1": ()}
                assert tube.pins != parent.pins
                checked += 1
    assert checked >= 15


def test_the_two_forms_of_the_converter_are_types_of_their_own() -> None:
    metal, glass = find_tube("12SA7"), find_tube("12SA7GT")
    assert metal is not None
    assert glass is not None
    assert metal.pins["1"] == ("shell", "g5")
    assert glass.pins["1"] == ()
    assert glass.pins["6"] == ("cathode", "g5")
    assert glass.heater_v == metal.heater_v
    assert glass.points == metal.points


@pytest.mark.parametrize(("typed", "meant"), [("12BE7", "12BE6"), ("6SN8GT", "6SN7GT")])
def test_the_nearest_names_hold_the_one_that_was_meant(typed: str, meant: str) -> None:
    found = nearest_tubes(typed)
    assert meant in found
    assert len(found) <= 3


def test_nothing_is_near_to_nonsense() -> None:
    assert nearest_tubes("loudspeaker") == []


def test_names_are_spelled_as_the_trade_prints_them() -> None:
    assert all(re.fullmatch(r"[0-9A-Z/]+", name) for name in all_tubes())
