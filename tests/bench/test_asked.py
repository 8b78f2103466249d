"""Options in words: meters and lines."""

from __future__ import annotations

import pytest

from netcheck.bench.asked import NotUnderstood, meter_of, with_line
from netcheck.chassis import Chassis
from netcheck.language import read


@pytest.mark.parametrize(
    ("text", "ohm"),
    [
        ("11M", 11e6),
        ("10 meg", 10e6),
        ("20k/V:250V", 5e6),
        ("20k/V 250 V", 5e6),
        ("1000 ohm/V:250V", 250e3),
        ("1k/V on 50V", 50e3),
        ("none", None),
    ],
)
def test_a_meter_is_its_resistance_or_its_sensitivity_and_range(
    text: str, ohm: float | None
) -> None:
    assert meter_of(text).ohm == ohm


@pytest.mark.parametrize("text", ["", "banana", "20k/V", "0 ohm", "11M\nR1 1K: X to Y", "5 V"])
def test_what_is_no_meter_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(NotUnderstood, match="--meter"):
        meter_of(text)


@pytest.mark.parametrize("text", ["124", "124V", "124 volts", "124 V 60 Hz"])
def test_todays_line_has_no_band(larkfield: Chassis, text: str) -> None:
    line = with_line(larkfield, text).line
    assert line is not None
    assert (line.volts, line.hertz) == (124.0, 60.0)
    assert (line.tolerance.above, line.tolerance.below) == (0.0, 0.0)


@pytest.mark.parametrize("text", ["", "x", "-5", "0", "9999", "124 mA", "124\nR1 1K: X to Y"])
def test_what_is_no_line_is_refused(larkfield: Chassis, text: str) -> None:
    with pytest.raises(NotUnderstood, match="--line"):
        with_line(larkfield, text)


def test_a_battery_set_has_no_line(marram: Chassis) -> None:
    with pytest.raises(NotUnderstood, match="batteries"):
        with_line(marram, "124")


def test_bare_volts_do_not_make_a_line_ac() -> None:
    silent = read("R1 1K: X to Y")
    with pytest.raises(NotUnderstood, match="AC or DC"):
        with_line(silent, "124")
    assert with_line(silent, "124 V 60 Hz").line is not None
