"""Bands: what is drawn shows, and the short way to a metered band is the long way's result."""

from __future__ import annotations

import numpy as np
import pytest

from netcheck.circuit import Circuit
from netcheck.circuit.bands import DRAWS, _Metered, voltage_band
from netcheck.circuit.operating import Operating
from netcheck.circuit.states import NOMINAL
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
