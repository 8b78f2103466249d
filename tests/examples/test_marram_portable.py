"""The Marram: a battery portable, its filaments in parallel and its bias in the B- lead.

Belongs here: what this set as found must show, and what it is when restored. Does not belong here:
what every example promises (test_examples.py).
"""

from __future__ import annotations

import pytest

from netcheck.circuit.wiring import Kind, Role, Wiring

from .shown import chassis_of, shown

FOUND, RESTORED = "marram-portable-as-found", "marram-portable-restored"


def test_the_set_as_found_shows_what_was_done_to_it() -> None:
    assert {
        ("aged-capacitor", "C18", "electrolytic"),
        ("aged-capacitor", "C19", "paper"),
        ("parallel-original", "C17", "8 mfd"),
        # A screen bypass of half the volts of the one it replaces.
        ("replacement-rating", "C12", "100 V"),
        # 90 V of blocks in place of the drawing's battery.
        ("replacement-rating", "BT2", "90 V"),
        ("coupling-leakage", "C10", "paper"),
        # The bias resistor in the negative lead, and the plate load of the 1S5.
        ("resistor-drift", "R12", "measured 640 ohm"),
        ("resistor-drift", "R9", "measured 1.42 meg"),
    } <= shown(FOUND)


@pytest.mark.parametrize("stem", [FOUND, RESTORED])
def test_halves_of_a_filament_in_parallel_are_no_short(stem: str) -> None:
    assert "shorted-part" not in {rule for rule, _, _ in shown(stem)}


@pytest.mark.parametrize("stem", [FOUND, RESTORED])
def test_every_filament_hangs_on_the_one_cell(stem: str) -> None:
    """The 3S4 with its halves side by side: 1.4 V 0.1 A; so five filaments of 50 mA each."""
    chassis = chassis_of(stem)
    heaters = [e for e in Wiring(chassis).elements if e.kind is Kind.HEATER]

    assert {frozenset(heater.nets) for heater in heaters} == {frozenset({"A+", "CHASSIS"})}
    assert len(heaters) == 5


@pytest.mark.parametrize("stem", [FOUND, RESTORED])
def test_the_output_tube_is_biased_by_the_current_of_the_whole_set(stem: str) -> None:
    wiring = Wiring(chassis_of(stem))
    (coupling,) = [each for each in wiring.couplings if each.tube == "V4"]

    assert wiring.role_of("R12") is Role.BACK_BIAS
    assert (coupling.ref, coupling.returns_to) == ("C10", "B-")


def test_the_as_found_b_battery_is_not_the_one_of_the_drawing() -> None:
    found, restored = (chassis_of(stem).part("BT2") for stem in (FOUND, RESTORED))
    assert found is not None
    assert restored is not None
    assert found.replaces is not None

    assert found.value("voltage") == 90.0
    assert found.replaces.number("voltage") == restored.value("voltage") == 67.5
