"""Worked examples of text books on rectifiers and filters, against the computed steady state.

Sources: E1: A. P. Malvino and D. J. Bates, Electronic Principles, 7th edition, example 4-7, p. 109.
E2: example 2.23 of the FOSSEE companion 2498 (the book's title was not seen). E4: M. H. Rashid,
Power Electronics, 4th edition, example 3.12 (its capacitor only, not its ripple figure). All read
in the FOSSEE text-book companions (public scripts that quote the books' figures).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from netcheck.circuit.rectify import solve_into_ohms, solve_rectifier
from netcheck.circuit.rectify_law import RectifierLaw
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec
from netcheck.circuit.ripple import FilterBranch, ripple_volts

Record = Callable[[str, object], None]
SWITCH = RectifierLaw("ideal switch")


def test_e1_centre_tapped_full_wave_five_kilohms(record_property: Record) -> None:
    """120 V 60 Hz, 5:1, centre tap, 5 k, 100 uF: 17 V ideal peak, 0.28 V peak to peak.

    The book's ripple is I / (f C): the upper bound, which a real pulse undercuts by its own length.
    """
    spec = RectifierSpec(RectifierKind.FULL_WAVE, SWITCH, 120 / 5 / 2, 60, 0.05, 100e-6)
    state = solve_into_ohms(spec, [5000.0])
    record_property("no-load volts (17)", round(float(state.no_load_v[0, 0]), 3))
    record_property("ripple volts (0.28)", round(float(state.ripple_v[0, 0]), 4))
    assert state.no_load_v[0, 0] == pytest.approx(17.0, rel=0.01)
    assert state.load_a[0, 0] / (120 * 100e-6) == pytest.approx(0.28, rel=0.01)
    assert 0.9 * 0.28 < state.ripple_v[0, 0] < 0.28


def test_e2_choke_input_of_fifteen_volts(record_property: Record) -> None:
    """15 V rms full wave, 50 mH, 1,000 uF, 5 ohm, 50 Hz: 13.5 V, 2.7 A, ripple factor 0.0239.

    The book's factor `sqrt2 / (12 w^2 L C)` at w of the line counts the second harmonic alone, its
    current set by the choke. The steady state holds no such shortcut.
    """
    omega = 2 * np.pi * 50
    formula = np.sqrt(2) / (12 * omega**2 * 0.05 * 1e-3)
    assert formula == pytest.approx(0.0239, rel=0.005)
    spec = RectifierSpec(RectifierKind.FULL_WAVE, SWITCH, 15, 50, 1e-3, 1e-3, choke_h=0.05)
    state = solve_into_ohms(spec, [5.0], finer=4)
    factor = np.sqrt((state.harmonic_v**2).sum()) / state.filter_v[0, 0]
    for name, value in (("volts (13.5)", state.dc_v), ("amperes (2.7)", state.load_a)):
        record_property(name, round(float(value[0, 0]), 4))
    record_property("ripple factor (0.0239)", round(float(factor), 5))
    assert state.dc_v[0, 0] == pytest.approx(13.5, rel=0.005)
    assert state.load_a[0, 0] == pytest.approx(2.7, rel=0.005)
    assert factor == pytest.approx(0.0239, rel=0.005)


def test_e2_by_phasors(record_property: Record) -> None:
    """The second harmonic `4 Vm / (3 pi sqrt2)` of the bare rectifier down the same choke."""
    peak_v = 15 * np.sqrt(2)
    second = 4 * peak_v / (3 * np.pi) / np.sqrt(2)
    network = [
        FilterBranch("raw", "out", henry=0.05),
        FilterBranch("out", "minus", farad=1e-3),
        FilterBranch("out", "minus", ohm=5.0),
    ]
    left = ripple_volts(network, "raw", "minus", 100.0, [second])["out"][0]
    record_property("ripple factor (0.0239)", round(float(left / 13.5), 5))
    assert left / 13.5 == pytest.approx(0.0239, rel=0.005)


def test_e4_bridge_of_120_volts(record_property: Record) -> None:
    """120 V 60 Hz bridge, 500 ohm, 175 uF: average 161.6 V by Vm - Vm / (4 f R C)."""
    spec = RectifierSpec(RectifierKind.BRIDGE, SWITCH, 120, 60, 0.02, 175e-6)
    state = solve_into_ohms(spec, [500.0])
    record_property("volts (161.6)", round(float(state.dc_v[0, 0]), 2))
    assert state.dc_v[0, 0] == pytest.approx(161.6, rel=0.01)
    finer = solve_rectifier(replace(spec, source_ohm=0.02), state.load_a[0], finer=4)
    assert state.dc_v[0, 0] == pytest.approx(finer.dc_v[0, 0], rel=1e-3)
