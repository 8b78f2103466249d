"""A rectifier that open switches keep from the line is off, and the set runs on what it has."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.circuit.operating import Operating
from netcheck.circuit.source import Off, RectifierSource, Unknown, rectifier_sources
from netcheck.circuit.states import State
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved

Wired = Callable[[str], Wiring]

# 90 V behind 20 ohm (as assumed) into 10K: 90 x 10000 / 10020 = 89.82 V.
THREE_WAY = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
measure from B-
S2: LINE LINE to ACIN, LINE RAW to B+, BATTERY BBAT to B+
BT1 90 V B-battery: + BBAT, - B-
R3 100 ohm: ACIN to ANODE
CR1 silicon 1000 V 1 A: anode ANODE, cathode RAW
C1 47 mfd 250 V electrolytic: + RAW, - B-
R10 10K: B+ to B-
"""
BATTERY_V = 90 * 10e3 / 10.02e3
ON, OFF = "switch S2 at LINE\n", "switch S2 at BATTERY\n"

TRANSFORMER = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUT
measure from CHASSIS
S1: OFF open, ON LINE to PRI
T1 power, primary 117 V 5 ohm, high 300-0-300 V 70 mA 200 ohm each:
     primary PRI to NEUT, high HA to CHASSIS to HB
V1 6X5GT: plate1 HA, plate2 HB, cathode B+
C1 10 mfd 450 V electrolytic: + B+, - CHASSIS
R1 10K: B+ to CHASSIS
"""


def test_on_batteries_the_rectifier_is_off_and_the_set_solves(wired: Wired) -> None:
    w = wired(THREE_WAY + OFF)
    (off,) = rectifier_sources(w)
    assert off == Off(("CR1",), "RAW", "In the stated switch positions nothing drives CR1.")
    point = Operating(w).point()
    assert point.volts("B+") == pytest.approx(BATTERY_V, rel=1e-4)
    assert point.supplies == ()


def test_on_the_line_it_is_a_source(wired: Wired) -> None:
    w = wired(THREE_WAY + ON)
    assert isinstance(rectifier_sources(w)[0], RectifierSource)
    volts = Operating(w).point().volts("B+")
    assert volts is not None
    assert 120 < volts < 165


def test_a_state_may_throw_the_switch(wired: Wired) -> None:
    """Both ways: rectifier and contacts go by the state's position, not by the text's."""
    battery = State("on batteries", closed=(("S2", "BATTERY"),))
    on_line = State("on the line", closed=(("S2", "LINE"),))
    for text in (THREE_WAY + ON, THREE_WAY + OFF):
        first, second = Operating(wired(text)).points([battery, on_line])
        assert first.volts("B+") == pytest.approx(BATTERY_V, rel=1e-4)
        assert first.supplies == ()
        assert len(second.supplies) == 1
        assert (second.volts("B+") or 0) > 120


def test_a_position_that_is_not_stated_is_unknown_not_off(wired: Wired) -> None:
    (found,) = rectifier_sources(wired(THREE_WAY))
    assert isinstance(found, Unknown)
    assert "S2" in found.reason


def test_a_lead_that_is_missing_in_every_position_is_unknown_not_off(wired: Wired) -> None:
    """The text lacks something: no switch position would drive the tube's plate."""
    w = wired(
        "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\n"
        "V1 35W4: plate ANODE, cathode B+, heater LINE to H\nV2 50C5: plate B+, grid G, cathode B-,"
        " heater H to B-\nC1 40 mfd 150 V electrolytic: + B+, - B-\n"
    )
    (found,) = rectifier_sources(w)
    assert isinstance(found, Unknown)
    with pytest.raises(NotSolved):
        Operating(w).point()


def test_a_battery_that_reaches_the_plate_keeps_it_from_being_off(wired: Wired) -> None:
    """Current may flow through the rectifier: an open circuit would be a wrong answer."""
    w = wired(THREE_WAY + OFF + "R9 100 ohm: BBAT to ANODE\n")
    (found,) = rectifier_sources(w)
    assert isinstance(found, Unknown)


def test_a_transformer_set_that_is_switched_off_has_no_volts(wired: Wired) -> None:
    w = wired(TRANSFORMER + "switch S1 at OFF\n")
    (off,) = rectifier_sources(w)
    assert isinstance(off, Off)
    assert (off.refs, off.plus) == (("V1",), "B+")
    assert Operating(w).point().volts("B+") == pytest.approx(0.0, abs=1e-6)
    assert isinstance(rectifier_sources(wired(TRANSFORMER + "switch S1 at ON\n"))[0],
                      RectifierSource)  # fmt: skip


# --- loads that no rectifier feeds

AC_DC = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
measure from B-
S1: ON LINE to SW
R3 100 ohm: SW to ANODE
CR1 silicon 1000 V 1 A: anode ANODE, cathode B+
C1 47 mfd 250 V electrolytic: + B+, - B-
R10 10K: B+ to B-
"""


@pytest.mark.parametrize("load", ["14 W", "120 mA", "1000 ohm"])
def test_a_motor_across_the_line_is_no_direct_load(wired: Wired, load: str) -> None:
    plain = Operating(wired(AC_DC)).point().volts("B+")
    driven = Operating(wired(AC_DC + f"Z1 load {load}: SW to B-\n")).point()
    assert driven.volts("B+") == pytest.approx(plain)
    assert driven.amperes("Z1") is None


def test_a_load_along_a_winding_is_no_direct_load(wired: Wired) -> None:
    text = TRANSFORMER + "switch S1 at ON\nZ1 load 2 W: HA to CHASSIS\n"
    assert (Operating(wired(text)).point().volts("B+") or 0) > 250


@pytest.mark.parametrize("load", ["5 mA", "24K"])
def test_a_load_on_b_plus_is_one(wired: Wired, load: str) -> None:
    plain = Operating(wired(AC_DC)).point().volts("B+") or 0
    loaded = Operating(wired(AC_DC + f"Z1 load {load}: B+ to B-\n")).point().volts("B+") or 0
    assert loaded < plain - 0.5


def test_watts_on_b_plus_are_not_enough(wired: Wired) -> None:
    """The amperes follow from watts only with the volts that are sought: unknown, and said so."""
    with pytest.raises(NotSolved, match="Z1 has no mA and no ohms"):
        Operating(wired(AC_DC + "Z1 load 2 W: B+ to B-\n")).point()
