"""Bands: what is drawn shows, and the short way to a metered band is the long way's result."""

from __future__ import annotations

import numpy as np
import pytest

from netcheck.circuit import Circuit, bands
from netcheck.circuit.bands import DRAWS, _Metered, voltage_band
from netcheck.circuit.operating import Operating
from netcheck.circuit.states import NOMINAL, State
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
    monkeypatch.setattr(bands, "TUBE_SPREADS", bands.TUBE_SPREADS._replace(grid_v=0.0))
    without = voltage_band(operating(cathode), NOMINAL, ["PL", "K"])
    for net in ("PL", "K"):
        assert band.low[net] == pytest.approx(without.low[net], rel=2e-3)
        assert band.high[net] == pytest.approx(without.high[net], rel=2e-3)


def test_what_the_state_of_a_chart_shifts_is_the_middle_of_its_band() -> None:
    of = operating(LEAK)
    shifted = State("gassy", grid_shift_v=(("V3", -0.3),))
    band = voltage_band(of, shifted, ["G"])
    rest = of.point(shifted).volts("G") or 0.0
    assert rest > -0.6
    assert (band.low["G"] + band.high["G"]) / 2 == pytest.approx(rest, abs=0.03)
