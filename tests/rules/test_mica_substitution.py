"""The dial error of a padder, against a three-point tracking table worked by hand."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]

# 540 to 1600 kHz, 455 kHz, points 600, 1000, 1500: the signal circuit has 420 pF at 540 kHz
# (L1 206.825 uH); padder 426.118 pF, trimmer 10.0134 pF, L2 118.391 uH. The identity is that of
# F. Langford-Smith, Radiotron Designer's Handbook, 4th ed., ch. 25 (citation from memory).
WORKED = """
C1A 10-420 mmf air gang: SIGNAL to B-
C1B 10-420 mmf air gang: OSC to B-
C3 10.0134 mmf mica: OSC to B-
L1 antenna coil, secondary 206.825 uH: primary ANT to B-, secondary SIGNAL to B-
L2 oscillator coil, grid 118.391 uH: grid OSC to PAD, tickler TICK to FEED
T3 IF, 455 kc: primary PLATE to B+, secondary DIODE to DET
C5 {now} mmf mica, replaces 426.118 mmf mica: PAD to B-
"""


def test_the_printed_padder_tracks_at_its_three_points(linted: Linted) -> None:
    (found,) = linted("mica-substitution", WORKED.format(now=443)).findings
    errors = {c.name: c for c in found.calc if c.name.startswith("dial error")}
    assert len(errors) == 3
    for name in errors:
        before = float(errors[name].sum.partition("; ")[2].split(" kHz")[0])
        assert abs(before) < 0.01, name
    # Four per cent more padder puts the bottom of the dial some kilohertz low, the top hardly.
    assert errors["dial error at 600 kHz"].value == pytest.approx(-8.9, abs=1.0)
    assert abs(errors["dial error at 1500 kHz"].value) < 5


def test_the_shift_is_that_of_the_resonance_formula(linted: Linted) -> None:
    (found,) = linted("mica-substitution", WORKED.format(now=443)).findings
    gang = 420 + 10.0134
    was, now = (gang * pad / (gang + pad) for pad in (426.118, 443))
    hertz = 1 / (2 * 3.141592653589793 * (118.391e-6 * was * 1e-12) ** 0.5)
    by_hand = hertz * ((was / now) ** 0.5 - 1) / 1e3
    assert found.calc[0].value == pytest.approx(by_hand, rel=1e-6)


def test_an_equal_padder_is_no_finding(linted: Linted) -> None:
    assert not linted("mica-substitution", WORKED.format(now=427)).findings


def test_what_is_not_in_the_text_is_not_checked(linted: Linted) -> None:
    text = (
        "L2 oscillator coil: grid OSC to PAD\nC5 460 mmf mica, replaces 430 mmf mica: PAD to B-\n"
    )
    report = linted("mica-substitution", text)
    assert not report.findings
    assert any("gang" in each.reason for each in report.not_checked)


def test_one_cause_is_told_once(linted: Linted) -> None:
    """Where the kilohertz are told, the ratio of the values is not told besides."""
    assert not linted("replacement-rating", WORKED.format(now=443)).findings
    coil = "L2 oscillator coil: grid OSC to PAD\n"
    text = coil + "C5 460 mmf mica, replaces 430 mmf mica: PAD to B-"
    assert linted("replacement-rating", text).findings
