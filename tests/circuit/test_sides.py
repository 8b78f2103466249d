"""Line side, touchable side and what bridges them, on hand-drawn small sets."""

from __future__ import annotations

import pytest

FLOATING = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V: LINE to FUSED
S1: ON FUSED to SWITCHED
C21 .0047 mfd 250 VAC class Y2: B- to CHASSIS
R20 470K: B- to CHASSIS
V5 35W4: plate PILOT, cathode B1, heater SWITCHED to PILOT to H4
DS1 lamp 47: SWITCHED to PILOT
C1 40 mfd 150 V electrolytic: + B1, - B-
V4 50C5: plate PL, g2 B1, g1 GRID, cathode KOUT, heater H4 to B-
R9 470K: GRID to B-
R12 150 ohm: KOUT to B-
T2 output, primary 190 ohm: primary B1 to PL, secondary VC to CHASSIS
LS1 3.2 ohm: VC to CHASSIS
"""


def refs(chains):
    return {tuple(e.ref for e in chain) for chain in chains}


def test_floating_b_minus_leaves_the_chassis_touchable(wired):
    w = wired(FLOATING)
    # Through the fuse, switch, lamp, heaters, rectifier, output primary, resistors: all galvanic.
    assert w.line_side == {
        "LINE", "FUSED", "SWITCHED", "PILOT", "H4", "B-", "B1", "PL", "KOUT", "GRID",
    }  # fmt: skip
    # The voice coil is wired to the chassis; the transformer insulates it from the line.
    assert w.touchable == {"CHASSIS", "VC"}
    assert w.isolated == frozenset()
    assert refs(w.barrier_chains) == {("C21",), ("R20",)}
    assert {e.ref for e in w.barrier()} == {"C21", "R20"}


def test_the_way_to_the_line_goes_by_wires_before_it_goes_by_a_load(wired):
    w = wired(
        "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\n"
        "F1 1/2 A 250 V: LINE to FUSED\n"
        "S1: ON FUSED to SW\nZ1 load 250 mA: SW to B-\nZ2 load: B- to FAR\n"
    )
    assert [e.ref for e in w.line_path("SW")] == ["S1", "F1"]
    assert [e.ref for e in w.line_path("FAR")] == ["Z2"]


def test_line_path_tells_how_a_net_is_joined(wired):
    w = wired(FLOATING)
    assert [e.ref for e in w.line_path("GRID")] == ["R9"]
    assert [e.ref for e in w.line_path("SWITCHED")] == ["S1", "F1"]
    assert w.line_path("B-") == ()
    assert w.line_ohm("B-") == 0
    assert w.line_path("CHASSIS") == ()
    assert w.line_ohm("CHASSIS") is None
    assert w.line_ohm("GRID") == pytest.approx(470e3)


@pytest.mark.parametrize(
    "joint",
    ["wire B- to CHASSIS", "R1 100 ohm: B- to CHASSIS", "L1 choke, 2 ohm: B- to CHASSIS",
     "F2 1 A: B- to CHASSIS", "R1 4.7K: B- to CHASSIS"],
)  # fmt: skip
def test_a_chassis_joined_by_a_conductor_is_live(wired, joint):
    w = wired(FLOATING + joint)
    metal = w.chassis.net("CHASSIS")
    assert w.touchable & w.line_side == {metal}
    assert "VC" in w.line_side


@pytest.mark.parametrize("ohm", ["10K", "220K", "?"])
def test_ten_kilohm_and_more_is_a_bridge(wired, ohm):
    # A resistor of unknown value cannot be called a conductor either.
    w = wired(FLOATING + f"R1 {ohm}: B- to CHASSIS")
    assert not w.touchable & w.line_side
    assert ("R1",) in refs(w.barrier_chains)


def test_resistors_in_series_count_together(wired):
    w = wired(FLOATING + "R1 6K: B- to MID\nR2 6K: MID to CHASSIS")
    assert not w.touchable & w.line_side
    w = wired(FLOATING + "R1 4K: B- to MID\nR2 4K: MID to CHASSIS")
    assert w.touchable & w.line_side == {"CHASSIS"}


def test_signal_windings_do_not_carry_the_line_to_the_chassis_through_megohms(wired):
    # AVC is line side through 2.2 M; a coil from the chassis to it is touchable metal, bridged.
    w = wired(FLOATING + "R1 2.2M: B- to AVC\nL1 rf, 4 ohm: AVC to CHASSIS")
    assert w.touchable == {"CHASSIS", "VC", "AVC"}
    assert ("R1",) in refs(w.barrier_chains)


def test_two_capacitors_in_series_are_one_chain(wired):
    w = wired(FLOATING + "C30 .0047 mfd: B- to MID\nC31 .0047 mfd: MID to CHASSIS")
    assert ("C30", "C31") in refs(w.barrier_chains)
    assert "MID" in w.isolated


def test_a_dead_end_between_the_sides_bridges_nothing(wired):
    w = wired(FLOATING + "C30 .0047 mfd: B- to MID\nC31 .0047 mfd: MID to LONE")
    assert refs(w.barrier_chains) == {("C21",), ("R20",)}


def test_antenna_jack_is_touchable_with_its_coil(wired):
    w = wired(
        FLOATING + "J1 antenna: ANT\nL1 antenna, 20 ohm: ANT to ANT2\nC3 .001 mfd: ANT2 to B-"
    )
    assert {"ANT", "ANT2"} <= w.touchable
    assert w.bare == {"CHASSIS", "ANT"}
    assert ("C3",) in refs(w.barrier_chains)


def test_antenna_jack_on_a_coil_to_b_minus_is_live(wired):
    w = wired(FLOATING + "J1 antenna: ANT\nL1 antenna, 20 ohm: ANT to B-")
    assert w.touchable & w.line_side == {"ANT"}
    assert [e.ref for e in w.line_path("ANT")] == ["L1"]


def test_the_statement_says_what_a_hand_can_reach(wired):
    text = (
        FLOATING + "R6 control, 500K: GRID to VOL to B-, shaft B-\ntouchable: R6.shaft, LS1.frame"
    )
    w = wired(text)
    assert w.bare == {"B-", "LS1.frame"}
    assert w.touchable & w.line_side == {"B-"}
    # A chassis that nobody can reach is only one more net behind the bleeder.
    assert "CHASSIS" in w.line_side
    assert [e.ref for e in w.line_path("CHASSIS")] == ["R20"]


def test_switch_in_the_b_minus_leg_counts_as_closed(wired):
    w = wired(
        """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUT
S1: ON NEUT to B-
V5 35W4: plate LINE, cathode B1, heater LINE to PILOT to B-
C21 .05 mfd: B- to CHASSIS
"""
    )
    assert {"LINE", "NEUT", "B-", "B1", "PILOT"} == w.line_side
    assert refs(w.barrier_chains) == {("C21",)}


ISOLATED = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUT
S1: ON LINE to PRI
T1 power: primary PRI to NEUT, high HA to CHASSIS to HB, heater H to CHASSIS
V1 6X5: plate1 HA, plate2 HB, cathode B1, heater H to CHASSIS
"""


def test_a_transformer_isolates(wired):
    w = wired(ISOLATED + "C1 .01 mfd: NEUT to CHASSIS")
    assert w.line_side == {"LINE", "PRI", "NEUT"}
    assert w.touchable & w.line_side == frozenset()
    assert "B1" in w.isolated  # behind the rectifier, not plain metal
    assert refs(w.barrier_chains) == {("C1",)}


def test_earthed_chassis_is_earth_and_touchable(wired):
    text = ISOLATED.replace("neutral NEUT", "neutral NEUT, earth EARTH") + "wire EARTH to CHASSIS"
    w = wired(text + "\nC1 .01 mfd: LINE to EARTH")
    assert w.earth == {"CHASSIS"}
    assert refs(w.barrier_chains) == {("C1",)}


def test_a_capacitor_to_an_earth_pin_apart_from_the_chassis_is_in_the_barrier(wired):
    text = ISOLATED.replace("neutral NEUT", "neutral NEUT, earth EARTH")
    w = wired(text + "C1 .01 mfd: LINE to EARTH")
    assert "EARTH" not in w.touchable
    assert refs(w.barrier_chains) == {("C1",)}


def test_an_autotransformer_does_not_isolate(wired):
    w = wired(
        """
line 230 V 50 Hz
P1 plug, polarized: hot LINE, neutral NEUT
T1 auto: LINE to TAP to NEUT
V5 UY41: plate TAP, cathode B1, heater TAP to CHASSIS
wire NEUT to CHASSIS
"""
    )
    assert {"TAP", "B1", "CHASSIS"} <= w.line_side
    assert w.touchable & w.line_side == {"CHASSIS"}


def test_a_plug_that_is_not_polarized_has_two_hot_pins(wired):
    w = wired("line 117 V 60 Hz\nP1 plug, not polarized: 1 LA, 2 LB\nR1 1M: LA to LB")
    assert w.hot == w.neutral == w.line_poles == {"LA", "LB"}


def test_hot_and_neutral_of_a_plug_that_can_be_turned(wired):
    w = wired("line 117 V 60 Hz\nP1 plug, not polarized: 1 LA, 2 LB\nR1 1M: LA to LB")
    assert w.hot == w.neutral == {"LA", "LB"}


def test_a_speaker_plug_is_no_line_plug(wired):
    w = wired("line 117 V 60 Hz\nP2 plug: 1 X, 2 Y, 3 Z\nR1 1M: X to Y")
    assert w.line_plug is None
    assert w.line_poles == w.line_side == frozenset()


def test_speaker_and_line_plug_together(wired):
    w = wired(FLOATING + "P2 plug, speaker: 1 PL, 2 B1")
    assert w.line_plug is not None
    assert w.line_plug.ref == "P1"
    assert w.hot == {"LINE"}


def test_a_battery_set_has_no_line_side(wired):
    w = wired("line none\nBT1 90 V B-battery: + B+, - B-\nR1 1M: B+ to B-\nwire B- to CHASSIS")
    assert w.line_side == frozenset()
    assert w.barrier_chains == ()


CHANGEOVER = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUT
R1 2.4K: LINE to DC
S2A: LINE DC to FIL, BATT A+ to FIL
S2B: LINE NEUT to B-, BATT BN to B-
BT1 9 V A-battery: + A+, - BN
V1 1U4: plate PL, g2 SCR, g1 GRID, filament FIL to B-
"""


def test_positions_of_one_body_move_together(wired):
    # With every contact closed at once A+ would be on the line; no position does that.
    w = wired(CHANGEOVER)
    assert {"DC", "FIL", "B-", "PL"} <= w.line_side
    assert "A+" in w.isolated
    assert "BN" in w.isolated


def test_a_second_body_can_be_in_any_position_meanwhile(wired):
    w = wired(CHANGEOVER + "S3: OFF FIL to FIL, CHARGE FIL to A+")
    assert "A+" in w.line_side


def test_too_many_combinations_count_all_contacts_as_closed(wired):
    many = "".join(f"S{n}: ONE DC to X{n}, TWO FIL to X{n}\n" for n in range(10, 16))
    w = wired(CHANGEOVER + many)
    assert "A+" in w.line_side
    assert len(w.sides.states) == 1
