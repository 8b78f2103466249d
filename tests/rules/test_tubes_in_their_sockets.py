"""Heaters in series, and tubes against sockets and text: what fires, and what must not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from netcheck.catalog.tubes import find_tube
from netcheck.rules._runner import Report
from netcheck.rules._tube_types import pin_differences

Linted = Callable[[str, str], Report]

MIXED = "heater-current-mixed"
SOCKET = "socket-mismatch"


def string(*types: str, more: str = "") -> str:
    lines = [f"V{n} {name}: heater H{n} to H{n + 1}" for n, name in enumerate(types, start=1)]
    return "\n".join((*lines, "wire H1 to LINE", f"wire H{len(types) + 1} to B-", more))


@pytest.mark.parametrize(
    ("types", "odd"),
    [
        (("12BE6", "12BA6", "12AV6", "50C5", "35W4"), []),
        (("12SA7", "12SK7", "12SQ7", "50L6GT", "35Z5GT"), []),
        (("6A7", "6D6", "75", "43", "25Z5"), []),
        (("UCH81", "UBF89", "UCL82", "UY85"), []),
        (("12SA7", "6SK7", "12SQ7", "50L6GT"), ["V2"]),
        (("6V6GT", "UBF89", "UCH81"), ["V1"]),
    ],
)
def test_strings_of_the_trade(linted: Linted, types: tuple[str, ...], odd: list[str]) -> None:
    report = linted(MIXED, string(*types))
    assert [found.parts[0] for found in report.findings] == odd
    assert not report.not_checked


def test_the_resistor_beside_the_heater_is_computed(linted: Linted) -> None:
    (found,) = linted(MIXED, string("25Z5", "43", "12SQ7")).findings
    resistor = next(c for c in found.calc if c.unit == "ohm")
    assert resistor.value == pytest.approx(12.6 / 0.15)


@pytest.mark.parametrize("beside", ["R1 84 ohm: H3 to B-", "DS1 lamp 47: H3 to B-"])
def test_a_part_beside_a_heater_is_said_not_judged(linted: Linted, beside: str) -> None:
    report = linted(MIXED, string("25Z5", "43", "12SQ7", more=beside))
    assert not report.findings
    assert len(report.not_checked) == 1
    assert {"V2", "V3"} <= set(report.not_checked[0].parts)


@pytest.mark.parametrize(
    "text",
    [
        "V1 6V6GT: heater HA to HB\nV2 6SK7: heater HA to HB",
        "T1 power, heater 6.3 V: primary LINE to COLD, heater HA to HB\n"
        "V1 6V6GT: heater HA to HB\nV2 6SK7: heater HA to HB",
        "P1 plug, polarized: hot LINE, neutral B-\n"
        "V1 12SQ7: heater LINE to B-\nV2 6SK7: heater LINE to B-",
        # 12.6 V at 0.15 A with its halves in series, 0.3 A with its halves beside each other.
        "V1 6SK7: heater HA to HB\nV2 12AX7: heater HB to B- to HB, plate1 X1",
    ],
)
def test_heaters_beside_each_other_are_not_a_string(linted: Linted, text: str) -> None:
    assert not linted(MIXED, text).findings


WHOLE = "plate X1, screen X2, g1 X3, cathode X4, heater X5 to X6"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (f"V4 50C5: {WHOLE}", None),
        ("V4 50C5: plate X1, screen X2, g1 open, cathode X4, heater X5 to X6", None),
        ("V4 50C5: 7 X1, 6 X2, 2 X3, 1 X4, 3 X5, 4 X6", None),
        ("V4 50C5: 7 X1, 6 X2, 2 X3, 1 X4", "heater1 and heater2 nowhere"),
        ("V4 50C5: plate X1, g1 X3, cathode X4, heater X5 to X6", "its g2 nowhere"),
        ("V4 42: " + WHOLE, None),
        ("V5 35W4: plate X1, cathode X2, heater X1 to X3", None),
        (f"V4 50L6GT: {WHOLE}, 1 CHASSIS", "pin 1"),
        (f"V4 25L6: {WHOLE}, shell CHASSIS", None),
        (f"V4 6V6GT, metal: {WHOLE}", "has no shell"),
        (f"V4 6V6GT, replaces 6V6: {WHOLE}", None),
        (f"V4 6V6GT, replaces 6L6: {WHOLE}", None),
        (f"V4 6V6GT, replaces 42: {WHOLE}", "its base is octal"),
        (f"V4 6V6GT, replaces 25L6: {WHOLE}", None),
    ],
)
def test_sockets(linted: Linted, text: str, says: str | None) -> None:
    messages = [found.message for found in linted(SOCKET, text).findings]
    assert len(messages) == (says is not None)
    assert all(says is not None and says in message for message in messages)


def test_the_volts_of_a_heater_on_a_winding_are_compared(linted: Linted) -> None:
    power = (
        "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral COLD\n"
        "T1 power, heater 6.3 V: primary LINE to COLD, heater X5 to X6\n"
    )
    (found,) = linted(SOCKET, power + f"V4 6V6GT, replaces 25L6: {WHOLE}").findings
    assert "6.3 V and not 25 V" in found.message


def test_an_old_type_that_is_not_known_is_said(linted: Linted) -> None:
    report = linted(SOCKET, f"V4 6V6GT, replaces 99XQ9: {WHOLE}")
    assert not report.findings
    assert "99XQ9" in report.not_checked[0].reason


def test_two_lines_of_one_bulb_are_taken_together(linted: Linted) -> None:
    text = (
        "V7A 12AX7: plate1 X1, grid1 X2, cathode1 X3\n"
        "V7B 12AX7: plate2 X4, grid2 X5, cathode2 X6, heater X7 to X8\n"
    )
    assert not linted(SOCKET, text).findings


def test_the_plates_of_a_full_wave_rectifier_may_change_places(linted: Linted) -> None:
    """0Z4: plate1 on 5 and plate2 on 3; 6X5GT the other way round, and a heater on 2 and 7."""
    text = "V6 6X5GT, replaces 0Z4: plate1 X1, plate2 X2, cathode X3, heater X4 to X5"
    (found,) = linted(SOCKET, text).findings
    assert "pin 2" in found.message
    assert "plate" not in found.message


def test_plates_over_cathodes_of_their_own_may_not() -> None:
    doubler = find_tube("25Z5")
    assert doubler is not None
    plates = {"2": doubler.pins["5"], "5": doubler.pins["2"]}
    turned = replace(doubler, pins={**doubler.pins, **plates})
    assert pin_differences(turned, doubler) == [
        "pin 2 is plate1 and not plate2",
        "pin 5 is plate2 and not plate1",
    ]


@pytest.mark.parametrize("section", ["A", "B"])
def test_a_bulb_of_which_one_line_is_lost_is_called_by_its_name(
    linted: Linted, section: str
) -> None:
    n = "12"["AB".index(section)]
    (found,) = linted(
        SOCKET, f"V7{section} 12AX7: plate{n} X1, grid{n} X2, cathode{n} X3, heater X7 to X8\n"
    ).findings
    assert f"V7 (12AX7; V7{section}) has its" in found.message
