"""Meter loading of printed examples, by solving the circuit with the meter connected.

Belongs here: examples that were seen in print. Does not belong here: netcheck's own sets.
"""

from __future__ import annotations

import pytest

from netcheck.bench.asked import meter_of
from netcheck.bench.voltage_chart import VoltageChart, voltage_chart
from netcheck.language import read

BLEEDER = "R2 1 meg: TOP to B-\n"


def chart(text: str, meter: str) -> VoltageChart:
    found = voltage_chart(read(f"line none\nmeasure from B-\n{text}"), meter_of(meter), band=False)
    assert found.solved, found.reason
    return found


def reading(text: str, meter: str, node: str = "MID") -> float:
    found = next(each.volts for each in chart(text, meter).nodes if each.name == node)
    assert found is not None
    return found


def divider(volts: str, upper: str, lower: str) -> str:
    return f"hold TOP {volts}\nR1 {upper}: TOP to MID\nR2 {lower}: MID to B-\n"


def test_equal_divider_with_a_meter_of_its_own_resistance() -> None:
    """US Army correspondence subcourse MM0455, lesson 5, fig. 5-1, p. 93: 3.3 V for 5 V."""
    set_text = divider("10 V", "10K", "10K")
    assert reading(set_text, "none") == pytest.approx(5.0, rel=1e-6)
    assert reading(set_text, "10K") == pytest.approx(10 / 3, rel=1e-3)


def test_apparent_resistance_by_voltmeter_and_ammeter() -> None:
    """Helfrick and Cooper, Modern Electronic Instrumentation and Measurement Techniques, ex. 1-7.

    100 V on a 150 V range of 1,000 ohm/V, 5 mA in the common lead: 20 kohm apparent, 23,077 ohm in
    truth (the book's own figure is a slip; the arithmetic of what is given is 100 / (5 mA - 100 V /
    150 kohm)). The meter stands in the text, so that its current shows.
    """
    meter_ohm = meter_of("1000 ohm/V:150V").ohm
    assert meter_ohm == 150e3
    true_ohm = 100 / (5e-3 - 100 / meter_ohm)
    assert true_ohm == pytest.approx(23076.9, rel=1e-5)
    found = chart(f"hold TOP 100 V\nR1 {true_ohm:.3f} ohm: TOP to B-\nR2 150K: TOP to B-\n", "none")
    common_a = sum(c.amperes for c in found.currents if c.node == "TOP")
    assert common_a == pytest.approx(5e-3, rel=1e-3)
    assert 100 / common_a == pytest.approx(20e3, rel=1e-3)
    assert 1 - 20e3 / true_ohm == pytest.approx(0.1333, rel=1e-3)


@pytest.mark.parametrize(
    ("sensitivity", "volts"), [("500", 120.97), ("1000", 129.31), ("10000", 137.87)]
)
def test_unequal_divider_on_a_150_v_range(sensitivity: str, volts: float) -> None:
    """An instrumentation textbook's ex. 3.14, published as worked code (FOSSEE book 2360): 120.97 V
    with 500 ohm/V of 138.89 V; the two other sensitivities are computed from the same figures."""
    set_text = divider("250 V", "20K", "25K")
    assert reading(set_text, "none") == pytest.approx(138.89, rel=1e-3)
    assert reading(set_text, f"{sensitivity} ohm/V:150V") == pytest.approx(volts, rel=1e-3)


def test_very_high_resistance_divider() -> None:
    """Lessons in Electric Circuits, voltmeter impact: 250 M with 10 M beside it is 9.615 M."""
    set_text = divider("24 V", "250 meg", "250 meg")
    assert reading(set_text, "none") == pytest.approx(12.0, rel=1e-3)
    assert reading(set_text, "10M") == pytest.approx(0.889, rel=1e-3)


def test_the_constant_of_a_meter() -> None:
    """Sanwa U-50D operator's manual, p. 15: 20 kohm/V on the 250 V range is 5 megohm."""
    assert meter_of("20k/V:250V").ohm == 5e6


@pytest.mark.parametrize(
    ("meter", "source_ohm", "percent"),
    [
        ("1k/V:50V", "10K", 83.3),
        ("1k/V:250V", "100K", 71.4),
        ("1k/V:500V", "1 meg", 33.3),
        ("20k/V:50V", "470K", 68.0),
        ("20k/V:250V", "10 meg", 33.3),
        ("10M", "470K", 95.5),
        ("11M", "10 meg", 52.4),
    ],
)
def test_share_of_the_open_circuit_volts(meter: str, source_ohm: str, percent: float) -> None:
    """V = Voc Rm / (Rm + Rth), computed for common meters (elementary circuit theory)."""
    found = reading(f"hold TOP 100 V\nR1 {source_ohm}: TOP to MID\n{BLEEDER}", meter)
    assert found == pytest.approx(percent, abs=0.06)
