"""The role of every part, from topology and value, on sets drawn by hand."""

from __future__ import annotations

import re

import pytest

from netcheck.circuit.wiring import Role

# A table set with a power transformer, back bias, diode detector and simple AVC.
TABLE_SET = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUT
F1 1 A 250 V slow: LINE to FUSED
S1: ON FUSED to PRI
T1 power: primary PRI to NEUT, high HA to HCT to HB, rectifier RA to RB, heater H to CHASSIS
C1 .01 mfd: NEUT to CHASSIS                  # LINE_TO_CHASSIS
C2 .02 mfd: FUSED to NEUT                    # ACROSS_LINE
C3 .01 mfd: FUSED to PRI                     # ACROSS_SWITCH
C4 .01 mfd: HA to CHASSIS                    # BUFFER
V1 80: plate1 HA, plate2 HB, filament RA to RB
C5 16 mfd 450 V electrolytic: + RA, - HCT    # RESERVOIR
R1 1K: RA to BB                              # FILTER
C6 16 mfd 450 V electrolytic: + BB, - HCT    # SMOOTHING
C30 .1 mfd: BB to CHASSIS                    # RF_BYPASS
R2 47K: RA to CHASSIS                        # BLEEDER
R3 40 ohm: HCT to CHASSIS                    # BACK_BIAS
R4 220K: HCT to BIAS                         # BIAS_SUPPLY
C7 .25 mfd: BIAS to CHASSIS                  # BIAS_BYPASS
C8 20 mfd 50 V electrolytic: + CHASSIS, - HCT   # BIAS_BYPASS
V2 6F6: plate PL, g2 BB, g1 GR, cathode CHASSIS, heater H to CHASSIS
R5 470K: DRIVE to BIAS                       # GRID_LEAK
R6 1K: DRIVE to GR                           # GRID_STOPPER
T2 output: primary BB to PL, secondary VC to CHASSIS
C9 .005 mfd: PL to CHASSIS                   # TONE
C10 .01 mfd: PL to BB                        # TONE
C11 .02 mfd: V3.plate to DRIVE               # COUPLING
V3 6Q7: plate V3.plate, grid VOLGRID, cathode KAUDIO, diode1 DI, diode2 DI, heater H to CHASSIS
R7 220K: BB to V3.plate                      # PLATE_LOAD
R8 2.2K: KAUDIO to CHASSIS                      # CATHODE_BIAS
C12 10 mfd 25 V electrolytic: + KAUDIO, - CHASSIS   # CATHODE_BYPASS
C13 250 mmf: V3.plate to CHASSIS             # RF_BYPASS
R9 1M: VOLGRID to CHASSIS                    # GRID_LEAK
C14 .01 mfd: VOL to VOLGRID                  # COUPLING
R10 control, 500K: TOP to TAPPED to CHASSIS, wiper VOL   # CONTROL
C15 .01 mfd: TAPPED to LOW                   # TONE
R31 22K: LOW to CHASSIS
C16 .01 mfd: DET to TOP
R11 470K: DET to KAUDIO                         # DETECTOR_LOAD
C17 100 mmf: DET to CHASSIS                  # RF_BYPASS
R12 2.2M: DET to AVC                         # AVC_FILTER
C18 .05 mfd: AVC to CHASSIS                  # AVC_BYPASS
T3 IF: primary V4.plate to BB, secondary DI to DET
C19 70 mmf: V4.plate to BB                   # TUNED
C20 70 mmf: DI to DET                        # TUNED
R16 47K: V4.plate to BB                      # DAMPING
V4 6K7: plate V4.plate, g2 SCR, g3 KIF, cathode KIF, g1 GRID, heater H to CHASSIS
R13 300 ohm: KIF to CHASSIS                  # CATHODE_BIAS
C21 .1 mfd: KIF to CHASSIS                   # CATHODE_BYPASS
R14 33K: BB to SCR                           # SCREEN_DROPPER
C22 .1 mfd: SCR to CHASSIS                   # SCREEN_BYPASS
L1 rf, 4 ohm: GRID to AVC
C23 10-420 mmf: GRID to CHASSIS              # TUNED
J1 antenna: ANT
C24 .002 mfd: ANT to ANTCOIL                 # ANTENNA_ISOLATION
L2 antenna, 20 ohm: ANTCOIL to CHASSIS
R15 100 ohm: H to CHASSIS                    # HEATER_SHUNT
C25 .01 mfd: H to CHASSIS                    # HEATER_BYPASS
L3 rf, 3 ohm: OSC to PAD
C26 400 mmf: PAD to CHASSIS                  # TUNED
"""

# A transformerless set whose chassis hangs on a capacitor and a bleeder.
AC_DC = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
S1: ON LINE to HOT
C1 .047 mfd: PILOT to B-                     # ACROSS_LINE
C2 .05 mfd: B- to CHASSIS                    # COMMON_TO_CHASSIS
R1 220K: B- to CHASSIS                       # COMMON_TO_CHASSIS
C3 .01 mfd: LINE to CHASSIS                  # LINE_TO_CHASSIS
R2 33 ohm: PILOT to ANODE                    # SURGE
V5 35W4: plate ANODE, cathode B1, heater HOT to PILOT to H4
DS1 lamp 47: HOT to PILOT
R3 150 ohm: HOT to PILOT                     # HEATER_SHUNT
R4 47 ohm: H4 to H5                          # HEATER_DROPPER
V4 50C5: plate PL, g2 B2, g1 DRIVE, cathode K, heater H5 to B-
C4 40 mfd 150 V electrolytic: + B1, - B-     # RESERVOIR
R5 1.2K: B1 to B2                            # FILTER
C5 40 mfd 150 V electrolytic: + B2, - B-     # SMOOTHING
T2 output: primary B1 to PL, secondary VC to VCR
C6 .01 mfd: PL to B1                         # TONE
C7 .02 mfd: PL to TONED                      # TONE
R6 control, 50K: TONED to B-
R7 150 ohm: K to B-                          # CATHODE_BIAS
R8 470K: DRIVE to B-                         # GRID_LEAK
J1 antenna: ANT
C8 .002 mfd: ANT to LOOP                     # ANTENNA_ISOLATION
L1 loop antenna, 2 ohm: LOOP to B-
C9 .05 mfd: H5 to B-                         # HEATER_BYPASS
"""

# A push-pull amplifier: fixed bias from a diode, long-tailed splitter, tone network, feedback.
AMPLIFIER = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUT, earth CHASSIS
S3: STANDBY HVC to CHASSIS
T1 power: primary LINE to NEUT, high HA to BT to HVC to HB, rectifier RA to RB, heater H to CHASSIS
V5 5U4: plate1 HA, plate2 HB, filament RA to RB
C1 20 mfd 475 V electrolytic: + RA, - CHASSIS    # RESERVOIR
L1 choke, 100 ohm: RA to BB
C2 20 mfd 475 V electrolytic: + BB, - CHASSIS    # SMOOTHING
R1 4.7K: BB to BC                            # FILTER
C3 20 mfd 475 V electrolytic: + BC, - CHASSIS    # SMOOTHING
R27 220K: BB to CHASSIS                      # BLEEDER
R3 10K: BT to BD                             # BIAS_SUPPLY
D1: anode BIAS, cathode BD
R4 56K: BIAS to CHASSIS                      # BIAS_SUPPLY
C5 25 mfd 50 V electrolytic: + CHASSIS, - BIAS   # BIAS_BYPASS
R5 220K: BIAS to GA                          # GRID_LEAK
R6 220K: BIAS to GB                          # GRID_LEAK
R7 1.5K: GA to GC                            # GRID_STOPPER
R8 1.5K: GB to GD                            # GRID_STOPPER
V3 6L6: plate PLA, g2 SA, g1 GC, cathode CHASSIS, heater H to CHASSIS
V4 6L6: plate PLB, g2 SB, g1 GD, cathode CHASSIS, heater H to CHASSIS
R9 470 ohm: BC to SA                         # FILTER
R10 470 ohm: BC to SB                        # FILTER
T2 output: primary PLA to BB to PLB, secondary SPK to CHASSIS
J9 speaker: SPK
C6 .1 mfd: PIA to GA                         # COUPLING
C7 .1 mfd: PIB to GB                         # COUPLING
V2 12AX7: plate1 PIA, grid1 PIG, cathode1 PIK, plate2 PIB, grid2 PIH, cathode2 PIK,
     heater H to CHASSIS
R11 82K: BC to PIA                           # PLATE_LOAD
R12 100K: BC to PIB                          # PLATE_LOAD
R13 470 ohm: PIK to TAIL                     # CATHODE_BIAS
R14 10K: TAIL to LOW                         # CATHODE_BIAS
R15 4.7K: LOW to CHASSIS                     # CATHODE_BIAS
R16 1M: PIG to TAIL                          # GRID_LEAK
R17 1M: PIH to TAIL                          # GRID_LEAK
C8 .1 mfd: PIH to LOW                        # COUPLING
R18 56K: SPK to LOW
C9 .02 mfd: WIPED to PIG                     # COUPLING
C10 500 mmf: PRE to TREBLE                   # TONE
R19 control, 250K: TREBLE to WIPED to BASS   # CONTROL
R21 100K: PRE to SLOPE
C11 .1 mfd: SLOPE to BASS                    # TONE
R22 10K: BASS to CHASSIS
V1 12AX7: plate1 PRE, grid1 PREG, cathode1 PREK, heater H to CHASSIS
R23 100K: BC to PRE                          # PLATE_LOAD
R25 68K: INPUT to PREG                       # GRID_STOPPER
R26 1M: INPUT to CHASSIS                     # GRID_LEAK
J1 phono: INPUT
"""

# Field coil and a tapped strip in the negative lead; the AVC diode rests on the bias.
NEGATIVE_LEAD = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUT
T1 power: primary LINE to NEUT, high HA to HCT to HB, rectifier RA to RB, heater H to CHASSIS
V5 80: plate1 HA, plate2 HB, filament RA to RB
C16 8 mfd 450 V electrolytic: + RA, - HCT        # RESERVOIR
C17 16 mfd 450 V electrolytic: + RA, - CHASSIS   # SMOOTHING
L5 field, 900 ohm: BIAS to HCT
R25 metal clad, 45-210 ohm: CHASSIS to BIASA to BIAS    # BACK_BIAS
C25 10 mfd 50 V electrolytic: + CHASSIS, - BIAS  # BIAS_BYPASS
R18 100K: BIASA to BIASB                         # BIAS_SUPPLY
C27 .25 mfd: BIASB to CHASSIS                    # BIAS_BYPASS
V2 6K7: plate IFPL, g2 RA, g3 CHASSIS, g1 GRID, cathode CHASSIS, heater H to CHASSIS
T4 IF: primary IFPL to RA, secondary DIODE to IFLOW
T3 IF: primary X to Y, secondary GRID to AVC
C13 50 mmf: IFPL to AVCD                         # COUPLING
R8 1M: AVCD to BIASB                             # DETECTOR_LOAD
R11 1M: AVCD to AVC                              # AVC_FILTER
C14 .1 mfd: AVC to CHASSIS                       # AVC_BYPASS
V3 6Q7: plate AUDIO, grid VOLGRID, diode1 DIODE, diode2 AVCD, cathode CHASSIS, heater H to CHASSIS
R12 500K: VOLGRID to BIASB                       # GRID_LEAK
R7 50K: IFLOW to DET                             # DETECTOR_FILTER
R9 500K: DET to CHASSIS                          # DETECTOR_LOAD
R20 470K: IFLOW to EYEGRID                       # AVC_FILTER
C33 .02 mfd: EYEGRID to CHASSIS                  # AVC_BYPASS
V6 6U5: plate EYEPL, grid EYEGRID, target RA, cathode CHASSIS, heater H to CHASSIS
R14 100K: RA to AUDIO                            # PLATE_LOAD
C24 .03 mfd: AUDIO to DRIVE                      # COUPLING
R16 100K: DRIVE to BIAS                          # GRID_LEAK
V4 6F6: plate PL, g2 RA, g1 DRIVE, cathode CHASSIS, heater H to CHASSIS
"""

FIELD = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUT
T1 power: primary LINE to NEUT, high HA to CHASSIS to HB, heater H to CHASSIS
V1 6X5: plate1 HA, plate2 HB, cathode B1, heater H to CHASSIS
R1 100 ohm: B1 to B2                         # SURGE
C1 8 mfd 450 V electrolytic: + B2, - CHASSIS    # RESERVOIR
L1 field, 1000 ohm: B2 to B3
C2 .1 mfd 600 V: B2 to B3                    # HUM_FILTER
C3 8 mfd 450 V electrolytic: + B3, - CHASSIS    # SMOOTHING
V2 6V6: plate PL, g2 B3, g1 GR, cathode CHASSIS, heater H to CHASSIS
"""

# A choke first: there is no reservoir, only smoothing.
CHOKE_INPUT = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUT
T1 power: primary LINE to NEUT, high HA to CHASSIS to HB, heater H to CHASSIS
V1 6X5: plate1 HA, plate2 HB, cathode B1, heater H to CHASSIS
L1 choke, 200 ohm: B1 to B2
C1 8 mfd 450 V electrolytic: + B2, - CHASSIS    # SMOOTHING
V2 6V6: plate PL, g2 B2, g1 GR, cathode CHASSIS, heater H to CHASSIS
"""

VIBRATOR = """
line none
BT1 6 V storage: + A+, - CHASSIS
G1 vibrator: reed CHASSIS, contacts VA to VB, coil A+
T1 vibrator: primary VA to A+ to VB, high HA to CHASSIS to HB
C1 .0075 mfd 1600 V: HA to HB                # BUFFER
C5 .01 mfd 1600 V: HB to CHASSIS             # BUFFER
V1 6X5: plate1 HA, plate2 HB, cathode B1, heater A+ to CHASSIS
C2 16 mfd 350 V electrolytic: + B1, - CHASSIS   # RESERVOIR
V2 6V6: plate PL, g2 B1, g1 GR, cathode K, heater A+ to CHASSIS
R2 250 ohm: K to CHASSIS                     # CATHODE_BIAS
C3 .5 mfd: A+ to CHASSIS                     # HEATER_BYPASS
"""

SETS = {
    "table set": TABLE_SET,
    "ac/dc": AC_DC,
    "amplifier": AMPLIFIER,
    "negative lead": NEGATIVE_LEAD,
    "field": FIELD,
    "choke input": CHOKE_INPUT,
    "vibrator": VIBRATOR,
}

CASES = [
    pytest.param(text, match[1], match[2], id=f"{name}-{match[1]}")
    for name, text in SETS.items()
    for match in re.finditer(r"^(\w+) [^#\n]*# ([A-Z_]+)$", text, re.MULTILINE)
]


@pytest.mark.parametrize(("text", "ref", "role"), CASES)
def test_role(wired, text, ref, role):
    assert wired(text).role_of(ref) is Role[role]


def test_every_role_but_unknown_has_a_case():
    assert {case.values[2] for case in CASES} == {role.name for role in Role} - {"UNKNOWN"}


@pytest.mark.parametrize("text", SETS.values(), ids=SETS)
def test_roles_do_not_come_from_references(wired, text):
    """Numbering all parts the other way round leaves each role where it was."""
    numbers = sorted({int(n) for n in re.findall(r"^C(\d+)", text, re.MULTILINE)})
    turned = dict(zip(numbers, reversed(numbers), strict=True))
    other = re.sub(r"^C(\d+)\b", lambda m: f"C{turned[int(m[1])]}", text, flags=re.MULTILINE)
    before, after = wired(text), wired(other)
    for old, new in turned.items():
        assert before.role_of(f"C{old}") is after.role_of(f"C{new}")


def test_a_part_wired_to_itself_has_no_role(wired):
    assert wired("line none\nC1 .1 mfd: B+ to B+").role_of("C1") is Role.UNKNOWN


def test_a_part_that_is_not_there_has_no_role(wired):
    w = wired("line none\nC1 .1 mfd, removed: B+ to B-")
    assert w.role_of("C1") is Role.UNKNOWN
    assert w.role_of("C99") is Role.UNKNOWN


def test_beside_an_unknown_tube_nothing_is_concluded_from_absence(wired):
    """With the output tube unread, the capacitor to its grid must not pass for a tone part."""
    from netcheck.circuit.wiring import Wiring
    from netcheck.language import read

    known = (
        AC_DC + "V3 12AV6: plate AUDIO, grid X, cathode B-, heater B- to Y\nR9 220K: B2 to AUDIO\n"
    )
    known += "C14 .01 mfd: AUDIO to DRIVE\n"
    assert wired(known).role_of("C14") is Role.COUPLING
    unread = Wiring(read(known.replace("50C5", "99ZZ9")))
    assert unread.unknown_parts == ("V4",)
    assert unread.role_of("C14") is Role.UNKNOWN
    assert unread.role_of("R8") is Role.UNKNOWN
    assert unread.role_of("C4") is Role.RESERVOIR


def test_a_grid_that_no_signal_reaches_has_a_leak_not_a_stopper(wired):
    w = wired(
        "line none\nV1 12AX7: plate1 B+, grid1 GR, cathode1 B-\nR1 1M: GR to MID\nR2 1M: MID to B-"
    )
    assert w.role_of("R1") is w.role_of("R2") is Role.GRID_LEAK


def test_a_capacitor_between_two_line_fed_nets_without_a_contact_is_not_across_a_switch(wired):
    w = wired("line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral NEUT\n"
              "R1 10 ohm: LINE to FED\nC1 .01 mfd: LINE to FED\n"
              "S1: ON FED to OUT\nR2 10K: OUT to NEUT")  # fmt: skip
    assert w.role_of("C1") is not Role.ACROSS_SWITCH


def test_a_capacitor_across_a_contact_elsewhere_is_not_across_the_line_switch(wired):
    w = wired("line none\nS1: ON AA to BB\nC1 .01 mfd: AA to BB\nR1 1K: AA to BB")
    assert w.role_of("C1") is Role.UNKNOWN
