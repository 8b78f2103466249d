"""The Pennick: a stereo record player without a transformer, selenium as found, then silicon.

Belongs here: what this set as found must show, and what it is when restored. Does not belong here:
what every example promises (test_examples.py).
"""

from __future__ import annotations

import pytest

from netcheck.circuit.wiring import Wiring

from .shown import chassis_of, shown

FOUND, RESTORED = "pennick-phonograph-as-found", "pennick-phonograph-restored"


def test_the_set_as_found_shows_what_was_done_to_it() -> None:
    assert {
        ("plug-not-polarized", "P1", "not"),
        ("aged-cord", "P1", "rubber"),
        ("unfused-hot-lead", "P1", "LINE"),
        # Across the turntable's switch, against the click.
        ("line-capacitor-class", "C20", ".05 mfd"),
        ("line-capacitor-class", "C21", ".1 mfd"),
        ("aged-rectifier", "CR1", "selenium"),
        ("parallel-original", "C1A", "80 mfd"),
        # A 6 V part where the cathode of a 50C5 stands at 8 V.
        ("replacement-rating", "C34", "6 V"),
        ("aged-capacitor", "C20", "paper"),
        ("coupling-leakage", "C12", "paper"),
        ("coupling-leakage", "C32", "paper"),
        ("resistor-drift", "R12", "measured 287K"),
    } <= shown(FOUND)


def test_the_switch_of_the_turntable_is_in_one_lead_only() -> None:
    """With a plug that goes in both ways round that lead is the hot one by chance."""
    wiring = Wiring(chassis_of(FOUND))

    switched = {lead.pole: "S1" in lead.refs for lead in wiring.hot_leads}
    assert switched == {"LINE": True, "B-": False}


def test_the_cartridge_hangs_on_classed_capacitors_alone() -> None:
    chassis = chassis_of(RESTORED)
    wiring = Wiring(chassis)
    for cartridge in ("PULEFT", "PURIGHT"):
        refs = {e.ref for e in wiring.at(chassis.net(cartridge))}
        capacitors = [part for part in chassis.of_kind("capacitor") if part.ref in refs]

        # Beside them only the muting and the mono switch, which join it to the chassis.
        assert refs - {part.ref for part in capacitors} == {"S2", "S3"}
        assert [name for part in capacitors for name, _ in part.description.classes] == ["Y2"]


@pytest.mark.parametrize("stem", [FOUND, RESTORED])
def test_the_string_adds_up_to_the_line(stem: str) -> None:
    """The 12AX7, two 50C5 and the dropper R8, at 0.15 A; the motor stands in parallel."""
    chassis = chassis_of(stem)
    bulbs = {part.body_ref: part.tube for part in chassis.of_kind("tube") if part.tube}
    dropper = chassis.part("R8")
    assert dropper is not None
    dropper_v = 0.15 * (dropper.value("resistance") or 0.0)

    assert {tube.heater_a for tube in bulbs.values()} == {0.15}
    heaters_v = sum(tube.heater_v or 0.0 for tube in bulbs.values())
    assert heaters_v + dropper_v == pytest.approx(117, rel=0.01)
