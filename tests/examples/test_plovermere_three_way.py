"""The Plovermere: a three-way portable, one 50 mA filament string, selenium and then silicon.

Belongs here: what this set as found must show, and what it is when restored. Does not belong here:
what every example promises (test_examples.py).
"""

from __future__ import annotations

import pytest

from netcheck.circuit.wiring import Role, Wiring

from .shown import chassis_of, shown

FOUND, RESTORED = "plovermere-three-way-as-found", "plovermere-three-way-restored"


def test_the_set_as_found_shows_what_was_done_to_it() -> None:
    assert {
        ("plug-not-polarized", "P1", "not"),
        ("aged-cord", "P1", "rubber"),
        ("unfused-hot-lead", "P1", "LINE"),
        ("line-capacitor-class", "C20", ".05 mfd"),
        ("line-capacitor-class", "C21", ".1 mfd"),
        ("antenna-isolation", "C22", ".001 mfd"),
        ("aged-rectifier", "CR1", "selenium"),
        ("aged-capacitor", "C1A", "electrolytic"),
        ("aged-capacitor", "C20", "paper"),
        # A new filament electrolytic beside the old one of the can.
        ("parallel-original", "C1C", "200 mfd"),
        # And of fewer volts than the old one.
        ("parallel-original", "C27", "6.3 V"),
        # The filament dropper made smaller, against the sinking selenium.
        ("replacement-rating", "R5", "1800 ohm"),
        ("coupling-leakage", "C23", "paper"),
        ("resistor-drift", "R8", "measured 7.9 meg"),
    } <= shown(FOUND)


def test_the_switch_in_the_return_leg_is_seen() -> None:
    assert ("switch-in-neutral", "S1", "S1") in shown(FOUND)


def test_a_bleeder_to_the_chassis_that_passes_less_current_is_no_fault() -> None:
    assert ("replacement-rating", "R20", "470K") not in shown(RESTORED)


@pytest.mark.parametrize("stem", [FOUND, RESTORED])
def test_the_string_is_of_one_current_and_adds_up_to_its_battery(stem: str) -> None:
    chassis = chassis_of(stem)
    tubes = [part.tube for part in chassis.of_kind("tube") if part.tube]
    battery = chassis.part("BT2")
    assert battery is not None
    running_v = battery.value("running")

    assert {tube.heater_a for tube in tubes} == {0.05}
    assert sum(tube.heater_v or 0.0 for tube in tubes) == pytest.approx(running_v)


@pytest.mark.parametrize("stem", [FOUND, RESTORED])
def test_every_tap_of_the_string_has_a_shunt_for_the_tubes_above(stem: str) -> None:
    wiring = Wiring(chassis_of(stem))

    for ref in ("R14", "R15", "R16", "R17"):
        assert wiring.role_of(ref) is Role.HEATER_SHUNT
    assert wiring.supply.rectified == {"RAW"}
    assert wiring.common == "B-"


@pytest.mark.parametrize("stem", [FOUND, RESTORED])
def test_no_position_of_the_changeover_joins_the_two_batteries(stem: str) -> None:
    switch = chassis_of(stem).part("S2")
    assert switch is not None
    nodes = {terminal.name: terminal.node for terminal in switch.terminals}
    pairs = {(path.position, *(nodes[name] for name in path.terminals)) for path in switch.paths}

    assert {("BATTERY", "BBAT", "B+"), ("BATTERY", "ABAT", "STRING")} < pairs
    assert {("LINE", "RECTB", "B+"), ("LINE", "RECTA", "STRING")} < pairs
    assert len(pairs) == 5


def test_the_silicon_has_the_resistance_that_the_selenium_had() -> None:
    """27 ohm as built, and 40 to 60 ohm more (common practice, no source)."""
    chassis = chassis_of(RESTORED)
    rectifier, added = chassis.part("CR1"), chassis.part("R21")
    assert rectifier is not None
    assert added is not None

    assert rectifier.description.has("silicon")
    assert rectifier.replaces is not None
    assert rectifier.replaces.has("selenium")
    assert 40 <= (added.value("resistance") or 0.0) <= 60
    assert Wiring(chassis).role_of("R21") is Role.SURGE
