"""How two types differ in one socket, said in words."""

from __future__ import annotations

import pytest

from netcheck.language import read
from netcheck.parts import TubeType
from netcheck.rules._tube_types import base_difference, heater_difference, pin_differences

KINDS = {
    "full": "full-wave rectifier, base octal, {heater}pins {pins}",
    "twin": "twin triode, base octal, {heater}pins {pins}",
    "triode": "triode, base octal, {heater}pins {pins}",
}


def _type(kind: str, pins: str, heater: str = "") -> TubeType:
    said = f"type 6ZP1 {KINDS[kind].format(pins=pins, heater=heater and f'heater {heater}, ')}\n"
    chassis = read(said)
    assert not chassis.findings, [each.message for each in chassis.findings]
    (found,) = chassis.types
    return found


TRIODE = "1 shell 2 heater 3 plate 5 grid 7 heater 8 cathode"
TWIN = "1 grid1 2 plate1 3 cathode1 4 grid2 5 plate2 6 cathode2 7 heater 8 heater"
FULL = "2 heater 3 plate1 5 plate2 7 heater 8 cathode"
SWAPPED = "2 heater 3 plate2 5 plate1 7 heater 8 cathode"


@pytest.mark.parametrize(
    ("kind", "pins", "was", "told"),
    [
        ("triode", TRIODE, TRIODE, []),
        # The shell is metal, and no electrode.
        ("triode", TRIODE, TRIODE.replace("1 shell ", ""), []),
        ("triode", TRIODE, TRIODE.replace("1 shell", "1 shield"), []),
        (
            "triode",
            TRIODE,
            TRIODE.replace("3 plate 5 grid", "3 grid 5 plate"),
            ["pin 3 is plate and not g1", "pin 5 is g1 and not plate"],
        ),
        (
            "triode",
            TRIODE.replace("5 grid", "4 grid"),
            TRIODE,
            ["pin 4 is g1 and not nothing", "pin 5 is nothing and not g1"],
        ),
        (
            "triode",
            TRIODE,
            TRIODE.replace("5 grid", "5 grid shield cathode"),
            ["pin 5 is g1 and not g1 and cathode"],
        ),
        # The plates of a full-wave rectifier may change places, those of a twin triode not.
        ("full", FULL, SWAPPED, []),
        (
            "full",
            FULL,
            FULL.replace("3 plate1", "4 plate1"),
            ["pin 3 is plate1 and not nothing", "pin 4 is nothing and not plate1"],
        ),
        (
            "twin",
            TWIN,
            TWIN.replace("2 plate1", "2 plate2").replace("5 plate2", "5 plate1"),
            ["pin 2 is plate1 and not plate2", "pin 5 is plate2 and not plate1"],
        ),
    ],
)  # fmt: skip
def test_pins_that_differ_are_told(kind: str, pins: str, was: str, told: list[str]) -> None:
    assert pin_differences(_type(kind, pins), _type(kind, was)) == told


def test_two_rectifiers_over_cathodes_of_their_own_are_no_full_wave_one() -> None:
    two = "2 heater 3 plate1 4 cathode1 5 plate2 7 heater 8 cathode2"
    chassis = read(f"type 6ZP1 doubler rectifier, base octal, pins {two}\n")
    assert not chassis.findings
    tube = chassis.types[0]
    (other,) = read(
        "type 6ZP1 doubler rectifier, base octal, pins "
        + two.replace("3 plate1", "3 plate2").replace("5 plate2", "5 plate1") + "\n"
    ).types  # fmt: skip
    assert pin_differences(tube, other) == [
        "pin 3 is plate1 and not plate2",
        "pin 5 is plate2 and not plate1",
    ]


@pytest.mark.parametrize(
    ("heater", "was", "told"),
    [
        ("6.3 V 0.3 A", "6.3 V 0.15 A", []),
        # A tenth either way is what heaters bear.
        ("11 V 0.3 A", "10 V 0.3 A", []),
        ("11.1 V 0.3 A", "10 V 0.3 A", ["its heater takes 11.1 V and not 10 V"]),
        ("9 V 0.3 A", "10 V 0.3 A", []),
        ("8.9 V 0.3 A", "10 V 0.3 A", ["its heater takes 8.9 V and not 10 V"]),
        ("12.6 V 0.15 A", "6.3 V 0.3 A", ["its heater takes 12.6 V and not 6.3 V"]),
        ("", "6.3 V 0.3 A", []),
        ("6.3 V 0.3 A", "0.3 A", []),
    ],
)
def test_heater_volts_that_differ_are_told(heater: str, was: str, told: list[str]) -> None:
    assert heater_difference(_type("triode", TRIODE, heater), _type("triode", TRIODE, was)) == told


def test_another_base_is_told() -> None:
    octal = _type("triode", TRIODE)
    (loctal,) = read(f"type 6ZP1 triode, base loctal, pins {TRIODE}\n").types
    (unknown,) = read(f"type 6ZP1 triode, pins {TRIODE}\n").types
    assert base_difference(loctal, octal) == ["its base is loctal and not octal"]
    assert base_difference(octal, octal) == []
    assert base_difference(unknown, octal) == base_difference(octal, unknown) == []
