"""The Hollin: a transformerless set of lock-in tubes, its dial lamp in the heater string.

Belongs here: what this set as found must show, and what it is when restored. Does not belong here:
what every example promises (test_examples.py).
"""

from __future__ import annotations

import pytest

from netcheck.findings import Harm

from .shown import chassis_of, shown

FOUND, RESTORED = "hollin-lock-in-as-found", "hollin-lock-in-restored"


def test_the_set_as_found_shows_what_was_done_to_it() -> None:
    assert {
        # A filter capacitor returned to the chassis of a set whose B- floats.
        ("line-capacitor-class", "C23", "20 mfd"),
        ("plug-not-polarized", "P1", "not"),
        ("aged-cord", "P1", "rubber"),
        ("unfused-hot-lead", "P1", "LINE"),
        ("switch-in-neutral", "S1", "S1"),
        ("line-capacitor-class", "C20", ".05 mfd"),
        ("line-capacitor-class", "C21", ".1 mfd"),
        ("antenna-isolation", "C22", ".001 mfd"),
        # A 6.3 V 0.3 A tube that fits the socket of a 12.6 V 0.15 A one.
        ("heater-current-mixed", "V2", "7A7"),
        ("aged-capacitor", "C1A", "electrolytic"),
        ("aged-capacitor", "C20", "paper"),
        ("coupling-leakage", "C14", "moulded"),
        ("resistor-drift", "R2", "measured 3.1 meg"),
        ("resistor-drift", "R7", "measured 590K"),
    } <= shown(FOUND)


def test_only_the_filter_capacitor_on_the_chassis_is_a_danger_now() -> None:
    assert shown(FOUND, Harm.SHOCK_NOW) == {("line-capacitor-class", "C23", "20 mfd")}


def test_the_restored_string_is_of_one_current_and_adds_up_to_the_line() -> None:
    """Five heaters, and the dial lamp (42 ohm hot, as its 6.3 V 0.15 A say) beside R13."""
    chassis = chassis_of(RESTORED)
    tubes = [part.tube for part in chassis.of_kind("tube") if part.tube]
    shunt = chassis.part("R13")
    assert shunt is not None
    shunt_ohm = shunt.value("resistance")
    assert shunt_ohm is not None
    lamp_ohm = 6.3 / 0.15
    lamp_v = 0.15 * lamp_ohm * shunt_ohm / (lamp_ohm + shunt_ohm)

    assert len(tubes) == 5
    assert {tube.heater_a for tube in tubes} == {0.15}
    assert sum(tube.heater_v or 0.0 for tube in tubes) + lamp_v == pytest.approx(117, rel=0.1)


def test_without_its_lamp_the_string_stays_on_and_the_shunt_whole() -> None:
    shunt = chassis_of(RESTORED).part("R13")
    assert shunt is not None
    ohm, watts = shunt.value("resistance"), shunt.value("power")
    assert ohm is not None
    assert watts is not None

    assert 0.15**2 * ohm < 0.6 * watts
