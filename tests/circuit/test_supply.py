"""Where B+ begins and where it returns, in every kind of set, on hand-drawn small sets."""

from __future__ import annotations

LINE = "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral NEUT\n"
TRANSFORMER = LINE + (
    "T1 power: primary LINE to NEUT, high HA to HCT to HB, heater H to CHASSIS, rectifier "
    "RA to RB\n"
)
AMPLIFIER = "V2 6V6: plate PL, g2 SCR, g1 GR, cathode CHASSIS, heater H to CHASSIS\n"


def test_full_wave_centre_tap_on_the_chassis(wired):
    w = wired(TRANSFORMER + AMPLIFIER + "wire HCT to CHASSIS\n"
              "V1 6X5: plate1 HA, plate2 HB, cathode B1, heater H to CHASSIS\n"
              "R1 1K: B1 to SCR\nT2 output: primary SCR to PL, secondary S to CHASSIS")  # fmt: skip
    assert w.supplies == {"B1"}
    assert w.common == "CHASSIS"
    assert w.returns == {"CHASSIS"}
    assert w.b_plus == {"B1", "SCR", "PL"}
    assert w.supply.power_refs == {"T1"}
    assert len(w.rectifiers) == 2


def test_back_bias_returns_to_the_centre_tap(wired):
    w = wired(TRANSFORMER + AMPLIFIER + "L1 field, 1000 ohm: HCT to CHASSIS\n"
              "V1 80: plate1 HA, plate2 HB, filament RA to RB\nR1 1K: RA to SCR\n"
              "R2 22K: SCR to CHASSIS")  # fmt: skip
    assert w.common == "HCT"
    assert w.returns == {"HCT", "CHASSIS"}
    assert {"RA", "RB"} == w.supplies  # both ends of the filament
    assert w.b_plus == {"RA", "RB", "SCR"}  # not through the bleeder into the chassis


def test_half_wave_from_a_winding(wired):
    w = wired(LINE + AMPLIFIER + "T1 power: primary LINE to NEUT, high HA to HB, heater H "
    "to CHASSIS\n"
              "D1 selenium: anode HA, cathode SCR\nR1 47 ohm: HB to CHASSIS")  # fmt: skip
    assert w.supplies == {"SCR"}
    assert w.common == "HB"


def test_bridge(wired):
    w = wired(LINE + AMPLIFIER + "T1 power: primary LINE to NEUT, high HA to HB, heater H "
    "to CHASSIS\n"
              "D1: anode HA, cathode SCR\nD2: anode HB, cathode SCR\n"
              "D3: anode CHASSIS, cathode HA\nD4: anode CHASSIS, cathode HB")  # fmt: skip
    assert w.supplies == {"SCR"}
    assert w.common == "CHASSIS"
    assert [e.ref for e in w.rectifiers] == ["D1", "D2"]


def test_half_wave_from_the_line_with_the_plate_on_the_lamp_tap(wired):
    w = wired(LINE + "S1: ON NEUT to B-\nV5 35W4: plate PILOT, cathode B1, heater LINE to "
    "PILOT to H4\n"
              "V4 50C5: plate PL, g2 B1, g1 GR, cathode B-, heater H4 to B-\nR1 47K: GR to B-\n"
              "T2 output: primary B1 to PL, secondary VC to VCR")  # fmt: skip
    assert w.supplies == {"B1"}
    assert w.common == "B-"
    assert w.b_plus == {"B1", "PL"}


def test_voltage_doubler_from_the_line(wired):
    # C1 charges through D1, D2 adds the line: X is not a supply.
    w = wired(LINE + "V2 25L6: plate PL, g2 B1, g1 GR, cathode NEUT, heater LINE to NEUT\n"
              "C1 40 mfd 150 V electrolytic: + X, - LINE\nD1: anode NEUT, cathode X\n"
              "D2: anode X, cathode B1\nC2 40 mfd 350 V electrolytic: + B1, - NEUT")  # fmt: skip
    assert w.supplies == {"B1"}
    assert w.role_of("C1") is w.role_of("C2")
    assert w.role_of("C2").name == "RESERVOIR"


def test_detector_and_bias_diodes_are_no_supply(wired):
    w = wired(TRANSFORMER + AMPLIFIER + "wire HCT to CHASSIS\n"
              "V1 6X5: plate1 HA, plate2 HB, cathode SCR, heater H to CHASSIS\n"
              "D1 silicon: anode BIAS, cathode HA\nC1 20 mfd 50 V electrolytic: + CHASSIS, - BIAS\n"
              "R1 10K: BIAS to CHASSIS\nT3 IF: primary SCR to V3.plate, secondary DI to DET\n"
              "V3 6K7: plate V3.plate, g2 SCR, g1 GR, cathode CHASSIS, heater H to CHASSIS\n"
              "D2 germanium: anode DI, cathode CHASSIS\nR2 470K: DET to CHASSIS")  # fmt: skip
    assert w.supplies == {"SCR"}
    assert {e.ref for e in w.rectifiers} == {"V1"}
    assert "BIAS" not in w.positive
    assert "DET" not in w.positive


def test_vibrator_set(wired):
    w = wired("line none\nBT1 6 V storage: + A+, - CHASSIS\nS1: ON A+ to AS\n"
              "G1 vibrator: reed CHASSIS, contacts VA to VB, coil AS\n"
              "T1 vibrator: primary VA to AS to VB, high HA to CHASSIS to HB\n"
              "V1 6X5: plate1 HA, plate2 HB, cathode SCR, heater AS to CHASSIS\n"
              "V2 6V6: plate PL, g2 SCR, g1 GR, cathode CHASSIS, heater AS to CHASSIS")  # fmt: skip
    assert w.line_plug is None
    assert w.line_side == frozenset()
    assert w.supply.power_refs == {"T1"}
    assert w.supplies == {"SCR"}
    assert w.common == "CHASSIS"


def test_synchronous_vibrator_feeds_from_the_secondary_tap(wired):
    w = wired("line none\nBT1 6 V storage: + A+, - CHASSIS\n"
              "G1 vibrator: reed CHASSIS, contacts VA to VB, contacts2 SA to SB, coil A+\n"
              "T1 vibrator: primary VA to A+ to VB, high SA to B1 to SB\n"
              "V2 6V6: plate PL, g2 B1, g1 GR, cathode CHASSIS, heater A+ to CHASSIS")  # fmt: skip
    assert w.supplies == {"B1"}


def test_battery_set(wired):
    w = wired("line none\nBT1 1.5 V A-battery: + A+, - B-\nBT2 45 V: + MID, - B-\nBT3 45 V: "
    "+ B+, - MID\n"
              "V2 1U4: plate PL, g2 SCR, g1 GR, filament A+ to B-\nR1 1M: B+ to PL\nR2 3M: "
              "B+ to SCR\n")  # fmt: skip
    assert w.supplies == {"B+"}
    assert w.common == "B-"


def test_held_rail_and_named_rail(wired):
    tube = "V2 6V6: plate PL, g2 SCR, g1 GR, cathode B-, heater H to B-\nR1 1K: B+ to SCR\n"
    assert wired("line none\n" + tube).supplies == {"B+"}
    assert wired("line none\nhold SCR 200 V\n" + tube).supplies == {"SCR"}


def test_plates_are_positive_even_when_their_feed_is_not_drawn(wired):
    w = wired("line none\nV3 12AX7: plate1 PL, grid1 GR, cathode1 B-\nR1 220K: PL to RAIL")
    assert w.b_plus == frozenset()
    assert w.positive == {"PL", "RAIL"}


def test_a_followers_cathode_is_positive_a_biased_one_is_not(wired):
    tube = "line none\nV3 12AX7: plate1 B+, grid1 GR, cathode1 K\n"
    assert "K" in wired(tube + "R1 47K: K to B-").positive
    assert "K" not in wired(tube + "R1 1.5K: K to B-").positive


def test_half_wave_returns_to_the_other_end_even_of_a_tapped_winding(wired):
    w = wired(
        LINE + "T1 power: primary LINE to NEUT, high HA to TAP to HB, heater H to CHASSIS\n"
        "D1 selenium: anode HA, cathode SCR\nR1 47 ohm: HB to CHASSIS\n" + AMPLIFIER
    )
    assert w.common == "HB"
    assert [e.ref for e in w.supply.back_bias] == ["R1"]


def test_a_line_choke_is_passed_a_coil_across_the_line_is_not(wired):
    w = wired(LINE + "L1 choke, 2 ohm: LINE to FED\nR1 1M: FED to NEUT")
    assert w.supply.feeds["LINE"] == {"LINE", "FED"}
    w = wired(LINE + "S1: ON NEUT to COLD\nL1 30 ohm: LINE to COLD\nR1 1M: LINE to COLD")
    assert w.supply.feeds == {"LINE": {"LINE"}, "NEUT": {"NEUT", "COLD"}}


def test_small_resistors_feed_large_ones_load(wired):
    w = wired(LINE + "R1 47 ohm: LINE to FED\nR2 2.2K: FED to NEXT\nR3 ?: FED to UNKNOWN")
    assert w.supply.feeds["LINE"] == {"LINE", "FED"}


def test_a_standby_switch_in_the_centre_tap_lead_is_no_back_bias(wired):
    w = wired(TRANSFORMER + "S1: ON HCT to CHASSIS\n" + AMPLIFIER
              + "V1 6X5: plate1 HA, plate2 HB, cathode SCR, heater H to CHASSIS")  # fmt: skip
    assert w.common == "CHASSIS"
    assert w.supply.back_bias == ()
