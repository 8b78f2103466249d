"""The Ellernbach: 230 V, 100 mA tubes in series, its chassis on one pole of the line.

Belongs here: what this set as found must show, and what it is when restored. Does not belong here:
what every example promises (test_examples.py).
"""

from __future__ import annotations

import pytest

from netcheck.circuit.wiring import Wiring
from netcheck.findings import Harm

from .shown import chassis_of, shown

FOUND, RESTORED = "ellernbach-live-as-found", "ellernbach-live-restored"


def test_the_set_as_found_shows_what_was_done_to_it() -> None:
    assert {
        ("plug-not-polarized", "P1", "not"),
        ("aged-cord", "P1", "rubber"),
        # 2 A where 400 mA belong.
        ("replacement-rating", "F1", "2 A"),
        ("switch-in-neutral", "S1", "S1"),
        ("line-capacitor-class", "C1", ".05 mfd"),
        ("antenna-isolation", "C4", ".002 mfd"),
        ("antenna-isolation", "C5", ".005 mfd"),
        # 250 V on a rail that comes up to 325 V and more before the tubes draw.
        ("replacement-rating", "C2B", "250 V"),
        ("aged-capacitor", "C2A", "electrolytic"),
        ("aged-capacitor", "C1", "paper"),
        ("coupling-leakage", "C28", "moulded"),
        ("resistor-drift", "R8", "measured 15.8K"),
        ("resistor-drift", "R13", "measured 1.6 meg"),
        ("resistor-drift", "R16", "measured 305K"),
    } <= shown(FOUND)


def test_the_danger_now_is_the_socket_that_is_wired_to_the_covered_chassis() -> None:
    assert {ref for _, ref, _ in shown(FOUND, Harm.SHOCK_NOW)} == {"J3"}
    assert ("live-chassis", "S1", "CHASSIS") in shown(FOUND, Harm.SHOCK)


def test_the_gram_socket_on_the_live_chassis_is_told_by_its_name() -> None:
    assert ("antenna-isolation", "J3", "GRAMLOW") in shown(FOUND, Harm.SHOCK_NOW)


def test_the_restored_set_keeps_its_live_chassis_and_nothing_else() -> None:
    chassis = chassis_of(RESTORED)

    assert shown(RESTORED, Harm.DAMAGE) == {("live-chassis", "S1", "CHASSIS")}
    assert [each.rule for each in chassis.acceptances] == ["live-chassis"]
    assert shown(RESTORED, Harm.SHOCK_NOW) == set()


def test_every_socket_a_hand_can_reach_hangs_on_a_classed_capacitor_alone() -> None:
    chassis = chassis_of(RESTORED)
    wiring = Wiring(chassis)
    for net, ref in (("ANT", "C4"), ("EARTHSOCKET", "C5"), ("GRAM", "C6"), ("GRAMLOW", "C7")):
        capacitor = chassis.part(ref)
        assert capacitor is not None

        assert [element.ref for element in wiring.at(net)] == [ref]
        assert capacitor.description.classes[0][0] in ("Y1", "Y2")
        assert net in wiring.bare
    assert "CHASSIS" in wiring.line_side


@pytest.mark.parametrize(("position", "ohm"), [("240", 968.0), ("220", 768.0), ("150", 68.0)])
def test_the_chain_adds_up_to_the_volts_of_each_selector_position(
    position: str, ohm: float
) -> None:
    """Tubes, thermistor hot, and the lamp beside R2 (about 10 V of the 100 mA); 5 % of rounding."""
    chassis = chassis_of(RESTORED)
    tubes = [part.tube for part in chassis.of_kind("tube") if part.tube]
    tubes_v = sum(tube.heater_v or 0.0 for tube in tubes)

    assert {tube.heater_a for tube in tubes} == {0.1}
    assert tubes_v == pytest.approx(128.6)
    assert tubes_v + 0.1 * (45 + ohm) + 10 == pytest.approx(float(position), rel=0.05)
    selector = chassis.part("S2")
    assert selector is not None
    assert position in {path.position for path in selector.paths}


@pytest.mark.parametrize("stem", [FOUND, RESTORED])
def test_the_wave_bands_are_wafers_of_one_switch(stem: str) -> None:
    chassis = chassis_of(stem)
    wafers = [part for part in chassis.of_kind("switch") if part.ref.startswith("S3")]
    positions = {path.position for part in wafers for path in part.paths}

    assert len(wafers) == 6
    assert positions == {"LW", "MW", "SW", "TA"}
