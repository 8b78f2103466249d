"""The tube data files are whole, consistent with the sockets and with Ohm and Barkhausen."""

from __future__ import annotations

import collections

import pytest

from netcheck.catalog.bases import legal_pins
from netcheck.catalog.sections import terminal_names
from netcheck.catalog.tables import CatalogueError, numbers, pairs, read_csv
from netcheck.catalog.tubes import all_tubes, find_tube
from netcheck.parts import TubeType

TUBES = all_tubes()
NAMES = sorted(TUBES)

# The types every edition of the catalogue must keep.
REQUIRED_TEXT = """
12SA7 6SA7 12SK7 6SK7 12SQ7 6SQ7 50L6GT 35Z5GT 35L6GT 25L6GT 25Z6GT 12BE6 6BE6 12BA6 6BA6 12AV6
6AV6 12AT6 6AT6 50C5 35C5 50B5 35W4 6V6GT 6K6GT 6F6 5Y3GT 80 6X5GT 6X4 5U4G 5Z3 5Y4G 7A8 7B7 7A7
14A7 7C6 14B6 7C5 7B5 7Y4 14Q7 50A5 35A5 35Y4 35Z3 6A8 6A7 6K7 78 6Q7 6J7 6SJ7 6SN7GT 6SL7GT 6SC7
6J5 6C5 6L6 42 2A5 41 43 45 47 2A3 75 55 85 6D6 58 6C6 57 77 56 76 27 24A 35/51 25Z5 84/6Z4 1V
0Z4 6AQ5 6AU6 12AX7/ECC83 12AU7/ECC82 12AT7/ECC81 EL84/6BQ5 EZ80 EZ81 ECH81 EF89 EABC80 6E5 6U5
1A7GT 1N5GT 1H5GT 1A5GT 3Q5GT 1R5 1T4 1U4 1U5 1S5 3S4 3V4
"""
REQUIRED = REQUIRED_TEXT.split()

# Electrodes that really are brought out twice, by type.
TWICE = {
    "50C5": {"g1"}, "35C5": {"g1"}, "50B5": {"g1"}, "6AQ5": {"g1"}, "6AQ5A": {"g1"},
    "12AQ5": {"g1"}, "1R5": {"heater1", "g5"}, "1T4": {"heater1", "g3"}, "1U4": {"heater1", "g3"},
    "DF96": {"heater1", "g3"}, "3S4": {"plate"}, "EF80": {"cathode"}, "EF85": {"cathode"},
    "UF80": {"cathode"}, "UF85": {"cathode"}, "6SG7": {"cathode"}, "12SG7": {"cathode"},
    "6C4": {"plate"}, "EF89": {"shield"}, "UF89": {"shield"},
}  # fmt: skip

LIMITS = {
    "plate-v", "screen-v", "plate-w", "screen-w", "cathode-a", "heater-cathode-v", "inverse-v",
    "output-a", "reservoir-f", "impedance-ohm", "drop-v", "drop-a", "grid-ohm-fixed",
    "grid-ohm-cathode", "peak-a", "plate-ac-v", "screen-supply-v", "oscillator-plate-v",
    "oscillator-plate-w", "triode-plate-v", "triode-plate-w", "triode-cathode-a", "target-v",
    "target-min-v", "diode-a",
}  # fmt: skip


@pytest.fixture(params=NAMES)
def tube(request: pytest.FixtureRequest) -> TubeType:
    return TUBES[request.param]


def test_every_required_type_is_there_under_its_own_name() -> None:
    assert len(REQUIRED) == 109
    missing = [name for name in REQUIRED if name not in TUBES]
    assert missing == []


def test_pins_are_those_of_the_base(tube: TubeType) -> None:
    legal = legal_pins(tube.base)
    assert legal is not None, tube.base
    assert set(tube.pins) <= set(legal)


def test_no_electrode_is_on_two_pins_unless_it_is_brought_out_twice(tube: TubeType) -> None:
    count = collections.Counter(e for group in tube.pins.values() for e in group)
    assert {e for e, times in count.items() if times > 1} == TWICE.get(tube.name, set())


def test_a_pin_written_twice_is_refused() -> None:
    with pytest.raises(CatalogueError):
        pairs("1=plate 1=cathode")


def test_every_type_has_a_heater_on_two_pins_or_none(tube: TubeType) -> None:
    if tube.heating == "none":
        assert tube.heater_v is None
        assert "heater1" not in tube.electrodes
        return
    assert tube.heating in ("direct", "indirect")
    assert {"heater1", "heater2"} <= set(tube.electrodes)
    assert tube.heater_v is not None
    assert 1 <= tube.heater_v <= 120
    assert tube.heater_a is not None
    assert 0.02 <= tube.heater_a <= 3
    assert tube.tap_v is None or 0 < tube.tap_v < tube.heater_v


def test_directly_heated_types_have_no_cathode_pin(tube: TubeType) -> None:
    has_cathode = any(e.startswith("cathode") for e in tube.electrodes)
    unplaced = tube.name in ("117Z3", "UCH21", "UBL21", "UY21")
    assert has_cathode == (tube.heating != "direct") or unplaced


def test_every_stated_value_names_its_source(tube: TubeType) -> None:
    assert tube.sources["pins"]
    if tube.heater_v is not None:
        assert tube.sources["heater"]
    for limit in tube.limits:
        assert tube.sources.get(limit) or tube.sources.get("limits"), limit
    if tube.points:
        assert tube.sources["points"]
    assert all(point.source for point in tube.points)


def test_limits_are_positive_numbers_under_known_names(tube: TubeType) -> None:
    assert set(tube.limits) <= LIMITS
    assert all(value > 0 for value in tube.limits.values())
    assert ("drop-v" in tube.limits) == ("drop-a" in tube.limits)
    assert tube.limits.get("cathode-a", 0) < 0.2
    assert tube.limits.get("reservoir-f", 0) < 200e-6


def test_rating_system_is_one_of_four(tube: TubeType) -> None:
    known = ("design-centre", "design-maximum", "absolute", "unknown")
    assert tube.rating_system in known
    assert tube.sources["rating-system"] or tube.rating_system == "unknown"


def test_the_ratings_printed_as_design_maximum_are_marked_so() -> None:
    tube = find_tube("50C5")
    assert tube is not None
    assert tube.rating_system == "design-maximum"
    assert "135 V plate" in tube.note


def test_sections_use_terminals_of_the_tube(tube: TubeType) -> None:
    assert tube.sections
    names = terminal_names(tube.pins)
    for section in tube.sections:
        parts = (section.plate, section.cathode, *section.controls, section.screen or "")
        for part in filter(None, parts):
            placed = names.get(part)
            assert placed == part or placed is None, (section.name, part)
        assert section.cathode


def test_section_names_are_unique(tube: TubeType) -> None:
    names = [section.name for section in tube.sections]
    assert len(set(names)) == len(names)


def test_points_speak_of_a_section_in_its_own_electrodes(tube: TubeType) -> None:
    sections = {section.name: section for section in tube.sections}
    names = set(terminal_names(tube.pins).values())
    for point in tube.points:
        section = sections[point.section]
        assert section.plate in point.volts or section.kind == "triode"
        assert {*point.volts, *point.amperes} <= names
        assert all(abs(volts) <= 600 for volts in point.volts.values())
        assert all(0 < amperes < 0.2 for amperes in point.amperes.values())


def test_mu_is_transconductance_times_plate_resistance() -> None:
    checked = 0
    for tube in TUBES.values():
        for point in tube.points:
            if point.mu and point.gm_s and point.rp_ohm:
                assert point.gm_s * point.rp_ohm == pytest.approx(point.mu, rel=0.15), tube.name
                checked += 1
    assert checked >= 40


def test_plate_watts_of_each_class_a_point_stay_within_the_limit() -> None:
    checked = 0
    for tube in TUBES.values():
        limit = tube.limits.get("plate-w")
        for point in tube.points:
            if limit is None or "plate" not in point.amperes or "two tubes" in point.use:
                continue
            if point.use == "class A1 amplifier":
                watts = point.volts["plate"] * point.amperes["plate"]
                assert watts <= 1.06 * limit, (tube.name, watts)
                checked += 1
    assert checked >= 60


def test_every_point_row_belongs_to_a_type_that_has_no_borrowed_points() -> None:
    rows = {row["name"]: row for row in read_csv("tubes.csv")}
    for point in read_csv("points.csv"):
        assert rows[point["type"]]["points_like"] == ""


def test_a_type_like_another_borrows_no_limit_that_is_said_to_be_unknown() -> None:
    parent, child = find_tube("EF89"), find_tube("UF89")
    assert parent is not None
    assert child is not None
    assert "heater-cathode-v" in parent.limits
    assert "heater-cathode-v" not in child.limits
    assert child.limits["plate-v"] == parent.limits["plate-v"]
    assert child.sources["limits"].endswith("as EF89")


def test_pins_that_are_not_known_stay_unknown() -> None:
    tube = find_tube("35Y4")
    assert tube is not None
    assert tube.pin_of("plate") is None
    assert [section.plate for section in tube.sections] == ["plate"]
    assert tube.limits.get("drop-v") is None


def test_numbers_are_scaled_exactly() -> None:
    assert numbers("plate=1.2", 1e3) == {"plate": 0.0012}
