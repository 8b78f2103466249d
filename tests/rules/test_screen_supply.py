"""Screens fed too high, too low, or above their plate; what other rules own stays theirs."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]
RULE = "screen-supply"

STAGE = """
hold B+ 200 V
V2 {tube}: plate PLATE, screen SCREEN, g3 K2, grid IN, cathode K2, heater H1 to CHASSIS
R1 470K: IN to CHASSIS
R2 160 ohm: K2 to CHASSIS
T1 IF, 468 kc, primary 8 ohm, secondary 8 ohm: primary B+ to PLATE, secondary X1 to X2
{feed}
"""


@pytest.mark.parametrize(
    ("feed", "says"),
    [
        ("R4 39K: B+ to SCREEN", ""),
        ("R4 1K: B+ to SCREEN", "through R4; the highest published is 100 V"),
        ("wire B+ to SCREEN", "without a dropper"),
        # A divider without its lower leg cannot be seen by itself; its dropper is too small.
        ("R4 10K: B+ to SCREEN\nR5 12K: SCREEN to CHASSIS", ""),
        ("R4 2K: B+ to SCREEN\nR5 12K, removed: SCREEN to CHASSIS", "highest published"),
        ("R4 33 meg: B+ to SCREEN", "published at 100 V and more, fed through R4"),
        ("R4 39K: B+ to SCREEN\nR5 500 ohm: SCREEN to CHASSIS", "fed through R4 and R5"),
    ],
)
def test_the_screen_of_an_if_stage(linted: Linted, feed: str, says: str) -> None:
    report = linted(RULE, STAGE.format(tube="EF89", feed=feed))
    assert [says in each.message for each in report.findings] == ([True] if says else [])
    assert not report.not_checked


@pytest.mark.parametrize(
    ("feed", "told"),
    [("R4 100 ohm: PLATE to SCREEN", 0), ("wire PLATE to SCREEN", 0), ("wire B+ to SCREEN", 1)],
)
def test_a_pentode_connected_as_a_triode_has_its_plate_volts(
    linted: Linted, feed: str, told: int
) -> None:
    assert len(linted(RULE, STAGE.format(tube="EF89", feed=feed)).findings) == told


def test_over_the_maximum_is_left_to_tube_rating(linted: Linted) -> None:
    """6SK7 as an IF stage: published maximum 125 V, and nothing above may be told twice."""
    text = STAGE.format(tube="6SK7", feed="wire B+ to SCREEN").replace("g3 K2", "shell CHASSIS")
    assert not linted(RULE, text.replace("200 V", "300 V")).findings
    assert linted("tube-rating", text.replace("200 V", "300 V")).findings


def test_a_drifted_dropper_is_left_to_resistor_drift(linted: Linted) -> None:
    text = STAGE.format(tube="EF89", feed="R4 39K, measured 10 meg: B+ to SCREEN")
    assert not linted(RULE, text).findings
    drift, *_ = linted("resistor-drift", text).findings
    assert "V2's" in drift.message


def test_a_screen_without_feed_is_left_to_plate_supply(linted: Linted) -> None:
    text = STAGE.format(tube="EF89", feed="C1 .1 mfd 400 V film: SCREEN to CHASSIS")
    assert not linted(RULE, text).findings
    assert linted("plate-supply", text).findings


@pytest.mark.parametrize(("ohm", "fires"), [(190, False), (650, False), (9000, True)])
def test_a_screen_above_its_plate(linted: Linted, ohm: int, fires: bool) -> None:
    text = (
        "hold B+ 250 V\nV4 6V6GT: plate PLATE, screen B+, g1 DRIVE, cathode K, heater H1 to B-\n"
        f"R1 470K: DRIVE to B-\nR2 250 ohm: K to B-\nT2 output, 5000 ohm to 3.2 ohm,\n"
        f"   primary {ohm} ohm: primary B+ to PLATE, secondary VC to VCR\n"
    )
    assert bool(linted(RULE, text).findings) is fires


def test_a_pentode_that_amplifies_audio_may_have_its_plate_low(linted: Linted) -> None:
    text = (
        "hold B+ 250 V\nV3 6SJ7: plate PLATE, screen SCREEN, g3 K, grid IN, cathode K,\n"
        "   shell B-, heater H1 to B-\nR1 470K: IN to B-\nR2 1K: K to B-\nR3 470K: B+ to PLATE\n"
        "R4 1M: B+ to SCREEN\n"
    )
    assert not linted(RULE, text).findings


def test_a_dead_stage_is_not_the_screens_fault(linted: Linted) -> None:
    """No plate supply, or a cathode that is open: another rule's cause."""
    text = STAGE.format(tube="EF89", feed="R4 39K: B+ to SCREEN")
    assert not linted(RULE, text.replace("hold B+ 200 V", "hold B+ 1 V")).findings
    assert not linted(RULE, text.replace("R2 160 ohm:", "R2 160 ohm, removed:")).findings


def test_a_text_that_nothing_feeds_is_not_cleared(linted: Linted) -> None:
    report = linted(
        "screen-supply",
        "line 117 V 60 Hz\nmeasure from B-\nV4 6F6: plate PL, screen B2, g1 B-, cathode B-\n"
        "C1 10 mfd 500 V electrolytic: + B2, - B-\n",
    )
    assert [each.rule for each in report.not_checked] == ["screen-supply"]
    assert "nothing in the text feeds this set" in report.not_checked[0].reason
