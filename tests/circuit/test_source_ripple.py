"""Ripple down the filter against the hand formulas for its sections."""

from __future__ import annotations

import numpy as np
import pytest

from netcheck.circuit.ripple import FilterBranch, ripple_volts


def left(series: FilterBranch, farad: float, hertz: float) -> float:
    shunt = FilterBranch("B2", "B-", farad=farad)
    return 1.0 / float(ripple_volts([series, shunt], "B1", "B-", hertz, [1.0])["B2"][0])


# Hand arithmetic: choke w^2 L C - 1, resistor sqrt(1 + (w R C)^2).
@pytest.mark.parametrize(
    ("henry", "ohm", "farad", "hertz", "ratio"),
    [
        (10, 0, 8e-6, 120, 44.5), (10, 0, 10e-6, 120, 55.8), (10, 0, 16e-6, 120, 90.0),
        (0, 1000, 20e-6, 120, 15.1), (0, 1200, 40e-6, 60, 18.1), (0, 2200, 16e-6, 120, 26.6),
        (0, 1000, 50e-6, 60, 18.9),
    ],
)  # fmt: skip
def test_one_section(henry: float, ohm: float, farad: float, hertz: float, ratio: float) -> None:
    found = left(FilterBranch("B1", "B2", ohm=ohm, henry=henry), farad, hertz)
    assert found == pytest.approx(ratio, rel=0.004)


def test_harmonics_are_each_at_their_own_frequency() -> None:
    series = FilterBranch("B1", "B2", ohm=1000.0)
    shunt = FilterBranch("B2", "B-", farad=20e-6)
    found = ripple_volts([series, shunt], "B1", "B-", 120.0, [10.0, 2.0, 1.0, 0.5])["B2"]
    order = np.arange(1, 5)
    alone = np.array([10, 2, 1, 0.5]) / np.hypot(1, 2 * np.pi * 120 * order * 1000 * 20e-6)
    assert found == pytest.approx(alone, rel=1e-9)


def test_a_plate_load_divides_and_a_bypass_shorts() -> None:
    network = [
        FilterBranch("B1", "plate", ohm=100e3), FilterBranch("plate", "B-", ohm=60e3),
        FilterBranch("B1", "screen", ohm=1e6), FilterBranch("screen", "B-", farad=0.1e-6),
        FilterBranch("B1", "B-", farad=40e-6), FilterBranch("alone", "island", ohm=1.0),
        FilterBranch("B1", "open", farad=0.0),
    ]  # fmt: skip
    found = ripple_volts(network, "B1", "B-", 120.0, [1.0])
    assert found["plate"][0] == pytest.approx(60 / 160)
    assert found["screen"][0] == pytest.approx(1 / np.hypot(1, 2 * np.pi * 120 * 0.1), rel=1e-9)
    assert found["alone"][0] == pytest.approx(0.0, abs=1e-9)
    assert found["B1"][0] == 1.0
    assert found["B-"][0] == 0.0


def test_a_tuned_choke_stops_its_frequency() -> None:
    resonant_f = 1 / ((2 * np.pi * 120) ** 2 * 10)
    network = [
        FilterBranch("B1", "B2", ohm=10.0, henry=10.0), FilterBranch("B1", "B2", farad=resonant_f),
        FilterBranch("B2", "B-", ohm=5000.0),
    ]  # fmt: skip
    found = ripple_volts(network, "B1", "B-", 120.0, [1.0, 1.0])["B2"]
    assert found[0] < 0.01
    assert found[1] > 0.5


def test_one_net_or_no_frequency_is_refused() -> None:
    with pytest.raises(ValueError, match="two nets"):
        ripple_volts([], "B+", "B+", 120.0, [1.0])
    with pytest.raises(ValueError, match="frequency"):
        ripple_volts([], "B+", "B-", 0.0, [1.0])
