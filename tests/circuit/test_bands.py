"""Bands: what is drawn shows, and the short way to a metered band is the long way's result."""

from __future__ import annotations

import numpy as np
import pytest

from netcheck.circuit import Circuit, bands
from netcheck.circuit.bands import DRAWS, _Metered, voltage_band
from netcheck.circuit.operating import Operating
from netcheck.circuit.spreads import TUBE_SPREADS, part_spreads
from netcheck.circuit.states import NOMINAL, Edit, State
from netcheck.language import read

DIVIDER = "line none\nmeasure from B-\nhold TOP 100 V\n"


def operating(text: str) -> Operating:
    return Circuit(read(text)).operating


def test_a_divider_of_two_tolerances() -> None:
    """100 V x R2 / (R1 + R2), both 20 %: nine of ten lie between 43.4 and 56.6 V.

    Drawn here by another generator and without the solver: 200,000 pairs.
    """
    band = voltage_band(
        operating(DIVIDER + "R1 100K: TOP to MID\nR2 100K: MID to B-"), NOMINAL, ["MID"]
    )
    upper, lower = np.random.default_rng(1).uniform(80e3, 120e3, (2, 200_000))
    low, high = np.percentile(100 * lower / (upper + lower), (5, 95))
    assert band.draws == band.settled == DRAWS >= 400
    assert band.low["MID"] == pytest.approx(low, abs=0.6)
    assert band.high["MID"] == pytest.approx(high, abs=0.6)


@pytest.mark.parametrize(("words", "spread"), [("5%", 0.05), ("20%, measured 100K", 0.02)])
def test_tolerance_and_measurement_are_what_is_drawn(words: str, spread: float) -> None:
    """One resistor of the divider is exact: the reading moves by half its own spread."""
    text = f"{DIVIDER}R1 100K .001%: TOP to MID\nR2 100K {words}: MID to B-"
    band = voltage_band(operating(text), NOMINAL, ["MID"])
    half = (band.high["MID"] - band.low["MID"]) / 2
    assert half == pytest.approx(50 * spread / 2 * 0.9, rel=0.1)  # nine tenths of the range


@pytest.mark.parametrize(
    ("reading", "spread"),
    [
        ("reading R2 100K, accuracy 0.5%", 0.005),
        ("reading R2 100K", 0.02),
        ("reading MID 50 V, accuracy 5%", 0.02),
        ("reading R1 100K, accuracy 5%", 0.02),
        ("reading R2 100K, accuracy 3%\nreading R2 100K, accuracy 1%", 0.01),
    ],
)
def test_a_measured_part_is_as_sure_as_the_meter_its_reading_names(
    reading: str, spread: float
) -> None:
    of = operating(
        f"{DIVIDER}R1 100K: TOP to MID\nR2 100K 20%, measured 100K: MID to B-\n{reading}"
    )
    assert part_spreads(of, of.point())["R2"] == spread
    assert part_spreads(of, of.point())["R1"] == 0.2


SUPPLY = """\
line 117 V 60 Hz
measure from B-
P1 plug, polarized: hot LINE, neutral B-
R1 100 ohm 20%: LINE to PLATE
CR1 silicon 1000 V 1 A: anode PLATE, cathode B1
C1 20 mfd 150 V electrolytic: + B1, - B-
R2 1K .001%: B1 to B-
R3 68 ohm 20%: NEAR to B-
R4 10K .001%: B1 to NEAR
"""


def test_what_is_ahead_of_a_rectifier_is_drawn_too() -> None:
    """Of the line at one value and R2 exact: R1 and C1 are left, and each moves B1."""
    text = SUPPLY.replace("60 Hz", "60 Hz +0% -0%")
    band = voltage_band(operating(text), NOMINAL, ["B1", "NEAR"])
    moved = []
    for low, high in (("80 ohm", "120 ohm"), ("16 mfd", "24 mfd")):
        was = "100 ohm" if "ohm" in low else "20 mfd"
        ends = [operating(text.replace(was, now)).point().volts("B1") or 0.0 for now in (low, high)]
        moved.append(abs(ends[1] - ends[0]))
    width = band.high["B1"] - band.low["B1"]
    assert max(moved) > 2.0
    # the wider cause alone tells nine tenths of its range, both together never more than the sum
    assert 0.8 * max(moved) < width < sum(moved)


def test_a_resistor_at_the_return_is_drawn_by_itself() -> None:
    """R3 hangs on the line's neutral and drives nothing: it moves its own volts by its 20 %."""
    of = operating(SUPPLY)
    assert not of.moves_supply("R3")
    assert of.moves_supply("R1")
    assert of.moves_supply("C1")
    scaled = of.point(State("R3 up", edits=(Edit("scale", "R3", 1.2),)))
    edited = operating(SUPPLY.replace("R3 68 ohm", "R3 81.6 ohm")).point()
    for net in ("B1", "NEAR"):
        assert scaled.volts(net) == pytest.approx(edited.volts(net), abs=1e-4)
    assert scaled.volts("NEAR") == pytest.approx(1.19 * (of.point().volts("NEAR") or 0), rel=0.01)


@pytest.mark.parametrize(
    ("ref", "was", "now"),
    [("R1", "R1 100 ohm", "R1 120 ohm"), ("C1", "C1 20 mfd", "C1 24 mfd")],
)
def test_a_part_ahead_of_a_rectifier_scaled_is_the_text_with_that_value(
    ref: str, was: str, now: str
) -> None:
    scaled = operating(SUPPLY).point(State("scaled", edits=(Edit("scale", ref, 1.2),)))
    edited = operating(SUPPLY.replace(was, now)).point()
    assert scaled.volts("B1") == pytest.approx(edited.volts("B1"), abs=1e-3)
    assert scaled.volts("B1") != pytest.approx(operating(SUPPLY).point().volts("B1"), abs=0.1)


def test_a_tapped_resistor_scaled_keeps_its_shares() -> None:
    tapped = SUPPLY.replace(
        "R1 100 ohm 20%: LINE to PLATE", "R1 tapped, 70-30 ohm: LINE to PLATE to FREE"
    )
    assert "70-30" in tapped
    scaled = operating(tapped).point(State("scaled", edits=(Edit("scale", "R1", 1.2),)))
    edited = operating(tapped.replace("70-30", "84-36")).point()
    assert scaled.volts("B1") == pytest.approx(edited.volts("B1"), abs=1e-3)


def test_the_line_and_what_drives_with_it_go_together_by_no_chance() -> None:
    levels = bands._levels(6, np.random.default_rng(3))
    assert np.ptp(levels) == pytest.approx(2 - 2 / len(levels))
    together = np.corrcoef(levels.T) - np.eye(6)
    assert np.max(np.abs(together)) < 0.25


@pytest.mark.parametrize("meter_ohm", [11e6, 250e3])
def test_solving_only_the_outer_draws_gives_the_same_band(
    meter_ohm: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = DIVIDER + "R1 470K: TOP to MID\nR2 330K: MID to LOW\nR3 1 meg: LOW to B-"
    short = operating(text)
    quick = voltage_band(short, NOMINAL, ["MID", "LOW"], meter_ohm, ["MID", "LOW"])
    monkeypatch.setattr(_Metered, "_apart", lambda *_: False)
    whole = operating(text)
    full = voltage_band(whole, NOMINAL, ["MID", "LOW"], meter_ohm, ["MID", "LOW"])
    assert quick == full
    assert 0 < quick.low["LOW"] < quick.high["LOW"] < 100


STAGE = "line none\nmeasure from B-\nhold B2 90 V\nR7 470K 10%: B2 to PL\n"
LEAK = STAGE + "R8 10 meg: G to B-\nV3 12AV6: plate PL, grid G, cathode B-\n"


def test_a_grid_leak_biased_stage_is_as_wide_as_its_tubes_differ() -> None:
    """A grid on 10 megohm rests from -0.6 to -0.9 V from tube to tube (common practice, no source).

    That range alone, on one and the same tube, must be inside the band.
    """
    of = operating(LEAK)
    band = voltage_band(of, NOMINAL, ["PL", "G"])
    assert band.low["G"] == pytest.approx(-0.88, abs=0.02)
    assert band.high["G"] == pytest.approx(-0.62, abs=0.02)
    ends = of.points([State(f"{v} V", grid_shift_v=(("V3", v),)) for v in (-0.15, 0.15)])
    (low, high), (low_rest, high_rest) = (
        [p.volts(net) or 0.0 for p in ends] for net in ("PL", "G")
    )
    assert low_rest == pytest.approx(-0.61, abs=0.02)
    assert high_rest == pytest.approx(-0.89, abs=0.02)
    assert high - low > 12.0
    assert band.low["PL"] < low < high < band.high["PL"]


def test_a_cathode_biased_stage_does_not_see_where_grid_current_starts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    cathode = STAGE + (
        "R8 47K: G to B-\nR3 8.2K 10%: K to B-\nV3 12AV6: plate PL, grid G, cathode K\n"
    )
    band = voltage_band(operating(cathode), NOMINAL, ["PL", "K"])
    monkeypatch.setattr(bands, "TUBE_SPREADS", TUBE_SPREADS._replace(grid_v=0.0))
    without = voltage_band(operating(cathode), NOMINAL, ["PL", "K"])
    for net in ("PL", "K"):
        fiftieth = (without.high[net] - without.low[net]) / 50
        assert band.low[net] == pytest.approx(without.low[net], abs=fiftieth)
        assert band.high[net] == pytest.approx(without.high[net], abs=fiftieth)


def test_what_the_state_of_a_chart_shifts_is_the_middle_of_its_band() -> None:
    of = operating(LEAK)
    shifted = State("gassy", grid_shift_v=(("V3", -0.3),))
    band = voltage_band(of, shifted, ["G"])
    rest = of.point(shifted).volts("G") or 0.0
    assert rest > -0.6
    assert (band.low["G"] + band.high["G"]) / 2 == pytest.approx(rest, abs=0.03)
