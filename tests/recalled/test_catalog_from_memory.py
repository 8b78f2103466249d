"""Catalogue values that rest on memory: they guard against slips, they prove nothing."""

from __future__ import annotations

import pytest

from netcheck.catalog.capacitors import dielectric, surge_v
from netcheck.catalog.lamps import barretter, lamp
from netcheck.catalog.tubes import find_tube
from netcheck.parts import TubeType


def tube(name: str) -> TubeType:
    found = find_tube(name)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("names", "volts", "current_a"),
    [
        (("UCH42", "UF41", "UBC41", "UL41", "UY41"), 116.6, 0.1),
        (("UCH81", "UF89", "UBC81", "UL84", "UY85"), 128.6, 0.1),
        (("UCC85", "UCH81", "UBF89", "UABC80", "UL84", "UY85"), 175.5, 0.1),
        (("UCH21", "UCH21", "UBL21", "UY21"), 145.0, 0.1),
        (("PCC85", "PCF80", "PABC80", "PL84", "PY82"), 61.5, 0.3),
        (("6A8", "6K7", "6Q7", "25L6GT", "25Z6GT"), 68.9, 0.3),
        (("12A8", "12K7", "12Q7", "35L6GT", "35Z5GT"), 107.8, 0.15),
    ],
)
def test_series_strings(names: tuple[str, ...], volts: float, current_a: float) -> None:
    assert sum(tube(name).heater_v or 0 for name in names) == pytest.approx(volts)
    assert {tube(name).heater_a for name in names} == {current_a}


@pytest.mark.parametrize(
    ("six", "twelve"),
    [
        ("6SA7", "12SA7"),
        ("6SK7", "12SK7"),
        ("6SQ7", "12SQ7"),
        ("6BE6", "12BE6"),
        ("6BA6", "12BA6"),
        ("6AV6", "12AV6"),
        ("7A7", "14A7"),
        ("6K8", "12K8"),
        ("6SJ7", "12SJ7"),
    ],
)
def test_twins_of_the_series_differ_in_the_heater_only(six: str, twelve: str) -> None:
    first, second = tube(six), tube(twelve)
    assert first.pins == second.pins
    assert first.limits == second.limits
    assert first.points == second.points
    assert (first.heater_v, second.heater_v) == (6.3, 12.6)
    assert first.heater_a == pytest.approx(2 * (second.heater_a or 0))


@pytest.mark.parametrize(
    ("name", "pin", "electrode"),
    [
        ("UCL82", "2", "cathode"),
        ("UCL82", "9", "triode-plate"),
        ("UL84", "7", "plate"),
        ("UY85", "9", "plate"),
        ("UCH81", "9", "triode-grid"),
        ("UL41", "6", "g1"),
        ("PCF80", "9", "triode-grid"),
        ("6K8", "cap", "g3"),
        ("6H6", "8", "cathode1"),
        ("1L6", "6", "g4"),
    ],
)
def test_pins(name: str, pin: str, electrode: str) -> None:
    assert tube(name).pins[pin][0] == electrode
    assert tube(name).sources["pins"].startswith("from memory")


def test_output_pentodes_of_the_100_ma_series() -> None:
    for name, plate_v, plate_a, grid_v in (
        ("UL84", 170, 0.070, -12.5),
        ("UL41", 165, 0.0545, -9),
        ("PL84", 170, 0.070, -12.5),
        ("UCL82", 170, 0.041, -11.5),
    ):
        point = tube(name).points[0]
        assert point.volts["plate"] == plate_v
        assert point.amperes["plate"] == pytest.approx(plate_a)
        assert point.volts["g1"] == grid_v


def test_limits_of_the_miniature_rectifier_with_and_without_lamp() -> None:
    each = tube("35W4")
    assert (each.limits["output-a"], each.limits["peak-a"]) == (0.1, 0.6)
    assert "60 mA with lamp" in each.note


@pytest.mark.parametrize(
    ("number", "volts", "amperes", "base"),
    [
        ("40", 6.3, 0.15, "screw"),
        ("44", 6.3, 0.25, "bayonet"),
        ("46", 6.3, 0.25, "screw"),
        ("49", 2.0, 0.06, "bayonet"),
        ("51", 7.5, 0.22, "bayonet"),
        ("1847", 6.3, 0.15, "bayonet"),
    ],
)
def test_lamps(number: str, volts: float, amperes: float, base: str) -> None:
    each = lamp(number)
    assert each is not None
    assert (each.v, each.a, each.base) == (volts, amperes, base)
    assert "from memory" in each.source


def test_barretter_range() -> None:
    each = barretter("C1")
    assert each is not None
    assert (each.a, each.from_v, each.to_v) == (0.2, 80.0, 200.0)


def test_insulation_of_new_paper() -> None:
    """1000 megohm x microfarad: 0.05 uF is 20,000 megohm."""
    paper = dielectric("paper")
    assert paper is not None
    assert paper.insulation_floor_ohm(0.05e-6) == pytest.approx(20e9)


def test_surge_dividing_line() -> None:
    assert surge_v(315) == pytest.approx(1.15 * 315)
    assert surge_v(350) == pytest.approx(385)
