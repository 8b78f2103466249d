"""Touch current against sums and readings that were published or follow from published networks.

The readings on 1500 ohm with 0.15 uF and the largest capacitance within a limit are computed from
2 x pi x f x C x V and the network of the leakage check (Panasonic TH-42PW5, safety page); the
limits are those of UL 1711:2006 clause 39 and IEC 60950 (emc-pstc list msg25765).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from netcheck.circuit import Circuit
from netcheck.circuit.touch import TouchRow
from netcheck.circuit.touch_body import bench_ohm, body_a, body_ohm
from netcheck.language import read

US, EUROPE = "120 V 60 Hz", "230 V 50 Hz"


def chassis_row(line: str, *bridge: str) -> TouchRow:
    """CHASSIS beside the parts between it and the hot pin, the other pin hot or not, worst way."""
    text = f"line {line}\nP1 plug, not polarized: 1 LIVE, 2 COLD\n" + "\n".join(bridge) + "\n"
    (table,) = Circuit(read(text)).touch.tables
    worst = table.worst()
    assert worst is not None
    return worst


@pytest.mark.parametrize(
    ("micro", "us_ma", "us_v", "europe_ma", "europe_v"),
    [
        ("0.0022", 0.0995, 0.149, 0.1590, 0.238),
        ("0.0033", 0.1493, 0.223, 0.2384, 0.357),
        ("0.0047", 0.2126, 0.318, 0.3396, 0.508),
        ("0.005", 0.2262, 0.338, 0.3613, 0.541),
        ("0.01", 0.4524, 0.676, 0.7226, 1.081),
        ("0.015", 0.6786, 1.014, 1.0838, 1.621),
        ("0.02", 0.9048, 1.351, 1.4451, 2.161),
        ("0.022", 0.9953, 1.486, 1.5896, 2.377),
        ("0.047", 2.1262, 3.170, 3.3961, 5.072),
        ("0.05", 2.2619, 3.371, 3.6128, 5.395),
    ],
)
def test_a_capacitor_from_the_line_reads_as_the_leakage_check_says(
    micro: str, us_ma: float, us_v: float, europe_ma: float, europe_v: float
) -> None:
    bridge = f"C1 {micro} mfd 250 VAC class Y2: LIVE to CHASSIS"
    for line, milliamps, volts in ((US, us_ma, us_v), (EUROPE, europe_ma, europe_v)):
        row = chassis_row(line, bridge)
        assert row.bench_v == pytest.approx(volts, rel=0.01)
        # The hand formula leaves the 1500 ohm out: it is above what flows, by less than 1 %.
        assert row.bench_a * 1e3 == pytest.approx(milliamps, rel=0.01)
        assert row.touch_a * 1e3 == pytest.approx(milliamps, rel=0.02)


@pytest.mark.parametrize(
    ("limit_ma", "line", "nano"),
    [
        (0.25, US, 5.526), (0.5, US, 11.05), (0.75, US, 16.58), (0.5, "117 V 60 Hz", 11.34),
        (0.25, EUROPE, 3.460), (0.5, EUROPE, 6.920), (0.75, EUROPE, 10.38),
        (0.5, "240 V 50 Hz", 6.631),
    ],
)  # fmt: skip
def test_the_largest_capacitor_within_a_limit_passes_just_that(
    limit_ma: float, line: str, nano: float
) -> None:
    row = chassis_row(line, f"C1 {nano / 1000:.6f} mfd 250 VAC class Y2: LIVE to CHASSIS")
    assert row.bench_a * 1e3 == pytest.approx(limit_ma, rel=0.01)


def test_the_usual_bleeder_passes_half_a_milliampere() -> None:
    """117 V / 220 K = 0.53 mA (Ohm's law); 1500 ohm beside 220 K take 0.7 % off it."""
    row = chassis_row("117 V 60 Hz", "R1 220K 1/2 W: LIVE to CHASSIS")
    assert row.bench_a * 1e3 == pytest.approx(0.532, rel=0.01)
    assert row.touch_a * 1e3 == pytest.approx(0.532, rel=0.015)


def test_a_chassis_on_the_line_draws_eighty_milliamperes() -> None:
    """120 V on 1500 ohm: 80 mA; 230 V: 153 mA (Ohm's law; 0.15 uF adds 0.3 % at most)."""
    for line, milliamps in ((US, 80.0), (EUROPE, 153.3)):
        text = f"line {line}\nP1 plug, not polarized: 1 LIVE, 2 CHASSIS\n"
        (table,) = Circuit(read(text)).touch.tables
        worst = table.worst()
        assert worst is not None
        assert worst.bench_a * 1e3 == pytest.approx(milliamps, rel=0.01)


def test_equal_capacitors_to_both_poles_leave_the_chassis_at_half_the_line() -> None:
    row = chassis_row(
        US, "C1 .01 mfd 250 VAC class Y2: LIVE to CHASSIS",
        "C2 .01 mfd 250 VAC class Y2: COLD to CHASSIS",
    )  # fmt: skip
    assert row.open_v == pytest.approx(60.0, rel=1e-4)
    # Short-circuit current is that of the capacitor on the hot pole: 2 x pi x f x C x V.
    assert row.touch_a * 1e3 == pytest.approx(0.4524, rel=0.02)


@pytest.mark.parametrize(
    ("hertz", "ohm"), [(50.0, 1496.3), (60.0, 1494.6), (120.0, 1478.9), (1000.0, 866.2)]
)
def test_the_network_of_the_leakage_check(hertz: float, ohm: float) -> None:
    assert abs(bench_ohm(hertz)) == pytest.approx(ohm, rel=1e-4)


def test_the_body_network_of_iec_60990_figure_4() -> None:
    """By hand at 60 Hz: 1500 ohm beside 0.22 uF, 500 ohm beside 10 kohm with 0.022 uF in series."""
    omega = 2 * math.pi * 60
    skin = 1 / (1 / 1500 + 1j * omega * 0.22e-6)
    inner = 1 / (1 / 500 + 1 / (10e3 + 1 / (1j * omega * 0.022e-6)))
    assert body_ohm(60.0) == pytest.approx(skin + inner, rel=1e-12)
    assert body_ohm(0.0) == pytest.approx(2000.0)
    # 1 mA through it, read as U2 / 500 behind 10 kohm and 0.022 uF.
    read_a = body_a(np.array([1e-3 * (skin + inner)]), np.array([0j]), 60.0)[0]
    u2 = 1e-3 * inner * (1 / (1j * omega * 0.022e-6)) / (10e3 + 1 / (1j * omega * 0.022e-6))
    assert read_a == pytest.approx(abs(u2) / 500, rel=1e-12)
    assert body_a(np.array([2.0 + 0j]), np.array([0j]), 0.0)[0] == pytest.approx(1e-3)
