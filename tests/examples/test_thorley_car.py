"""The Thorley: a 6 V car set with a vibrator, its rectifier and buffer changed by a repairer.

Belongs here: what this set as found must show, and what it is when restored. Does not belong here:
what every example promises (test_examples.py).
"""

from __future__ import annotations

import pytest

from netcheck.circuit.wiring import Role, Wiring

from .shown import chassis_of, shown

FOUND, RESTORED = "thorley-car-as-found", "thorley-car-restored"


def test_the_set_as_found_shows_what_was_done_to_it() -> None:
    assert {
        # 30 A where the label says 10 A.
        ("replacement-rating", "F1", "30 A"),
        # The buffer: too few volts, and not the capacitance that times the vibrator.
        ("replacement-rating", "C33", "600 V"),
        ("replacement-rating", "C33", ".02 mfd"),
        ("socket-mismatch", "V6", "6X5GT"),
        ("parallel-original", "C2A", "20 mfd"),
        ("aged-capacitor", "C2A", "electrolytic"),
        ("aged-capacitor", "C31", "paper"),
        ("resistor-drift", "R11", "measured 1.45 meg"),
        ("resistor-drift", "R12", "measured 291K"),
    } <= shown(FOUND)


@pytest.mark.parametrize("stem", [FOUND, RESTORED])
def test_the_vibrator_drives_the_supply(stem: str) -> None:
    wiring = Wiring(chassis_of(stem))

    assert wiring.supply.rectified == {"RAW"}
    assert wiring.common == "CHASSIS"
    assert wiring.role_of("C33") is Role.BUFFER


@pytest.mark.parametrize("stem", [FOUND, RESTORED])
def test_the_fuse_lies_ahead_of_all_that_the_battery_feeds(stem: str) -> None:
    wiring = Wiring(chassis_of(stem))

    assert {e.ref for e in wiring.at("BATTERY")} == {"BT1", "F1"}


def test_the_new_fuse_carries_heaters_lamp_and_vibrator_with_room() -> None:
    """57 mA at 247 V, put in at 7.2 V with some 65 % (common for such supplies, no source)."""
    chassis = chassis_of(RESTORED)
    fuse = chassis.part("F1")
    assert fuse is not None
    heaters_a = sum(part.tube.heater_a or 0.0 for part in chassis.of_kind("tube") if part.tube)
    lamp_a = 0.25  # lamp 44
    vibrator_a = 0.057 * 247 / 7.2 / 0.65

    assert heaters_a == pytest.approx(1.65)
    current_a = heaters_a + lamp_a + vibrator_a
    assert 1.5 * current_a < (fuse.value("current") or 0.0) < 2.5 * current_a
