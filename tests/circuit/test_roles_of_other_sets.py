"""Roles in live, three-way, battery, car and phonograph sets, whole and with a line lost.

Each set is invented; the role that a part must have stands behind it.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from netcheck.circuit.source import RectifierSource, rectifier_sources
from netcheck.circuit.wiring import Role, Wiring
from netcheck.language import read

Wired = Callable[[str], Wiring]

# The chassis is one line pole; jacks hang behind capacitors; a tapped surge resistor, of which a
# voltage selector bridges a part; reaction from the triode's plate by way of a band switch.
LIVE = """
line 230 V 50 Hz
P1 plug, not polarized: 1 MAINS, 2 CHASSIS
touchable: ANT, GRAM, GRAMLOW
C1 .05 mfd: MAINS to CHASSIS                 # ACROSS_LINE
S2 voltage selector: 150 MAINS to TAP150, 150 MAINS to HTTAP, 220 MAINS to TAP220
R1 dropper, 500-300 ohm: TAP220 to TAP150 to CHAIN    # HEATER_DROPPER
RT1 thermistor, 1500 ohm hot 45 ohm 100 mA: CHAIN to H5
R3 dropper, 110-110 ohm: MAINS to HTTAP to ANODE      # SURGE
V5 UY85: plate ANODE, cathode B1, heater H5 to H4
C3 .005 mfd: ANODE to B1                     # HUM_FILTER
C2 50 mfd 350 V electrolytic: + B1, - CHASSIS   # RESERVOIR
R4 1.5K: B1 to B2                            # FILTER
C12 50 mfd 350 V electrolytic: + B2, - CHASSIS  # SMOOTHING
J1 antenna: ANT
C4 .002 mfd: ANT to ANTIN                    # ANTENNA_ISOLATION
L1 antenna coil, 18 ohm: ANTIN to CHASSIS
J3 gram: tip GRAM, sleeve GRAMLOW
C6 .01 mfd: GRAM to GRAMIN                   # ANTENNA_ISOLATION
C7 .01 mfd: GRAMLOW to CHASSIS               # ANTENNA_ISOLATION
S3 band: MW BACK to BACKMW, TA GRAMIN to TOP
R14 control, 1 meg: TOP to VOL to CHASSIS    # CONTROL
C26 .01 mfd: VOL to VOLGRID                  # COUPLING
R15 10 meg: VOLGRID to CHASSIS               # GRID_LEAK
V3 UBC81: plate AUDIO, grid VOLGRID, cathode CHASSIS, heater H3 to CHASSIS
R16 220K: B2 to AUDIO                        # PLATE_LOAD
C28 .01 mfd: AUDIO to DRIVE                  # COUPLING
R17 680K: DRIVE to CHASSIS                   # GRID_LEAK
V4 UL84: plate OUT, screen B2, grid DRIVE, cathode KOUT, heater H4 to H3
R18 270 ohm: KOUT to CHASSIS                 # CATHODE_BIAS
C30 .005 mfd: OUT to B1                      # TONE
T3 output, 3500 ohm to 5 ohm: primary B1 to OUT, secondary VC to VCR
V1 UCH81: triode-plate OSCPLATE, triode-grid OSCGRID, cathode K1, heater H3 to H3
R5 180 ohm: K1 to CHASSIS                    # CATHODE_BIAS
R6 47K: OSCGRID to K1                        # GRID_LEAK
R7 33K: B2 to OSCPLATE                       # PLATE_LOAD
L3 oscillator coil, mw 4 ohm: mw OSC to CHASSIS
L4 oscillator coil, mw 2.5 ohm: mw BACKMW to CHASSIS
C14 100 mmf: OSC to OSCGRID                  # COUPLING
C15 470 mmf: OSCPLATE to BACK                # COUPLING
"""

# On the line a rectifier gives B+ and, by a dropper, the filaments; else two batteries.
THREE_WAY = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
S2: LINE LINE to ACIN, LINE RECTB to B+, LINE RECTA to STRING,
     BATTERY BBAT to B+, BATTERY ABAT to STRING
BT1 90 V B-battery: + BBAT, - B-
BT2 7.5 V A-battery: + ABAT, - B-
R3 27 ohm: ACIN to MID                       # SURGE
R21 56 ohm: MID to ANODE                     # SURGE
CR1 silicon 1000 V 1 A: anode ANODE, cathode RAW
C1 47 mfd 250 V electrolytic: + RAW, - B-    # RESERVOIR
R22 220K: RAW to B-                          # BLEEDER
R10 2.2K: RAW to RECTB                       # FILTER
R5 dropper, 2500 ohm: RAW to RECTA           # HEATER_DROPPER
C2 33 mfd 250 V electrolytic: + B+, - B-     # SMOOTHING
C3 220 mfd 25 V electrolytic: + STRING, - B-    # HEATER_BYPASS
V4 3V4: plate OUT, screen B+, grid DRIVE, filament FIL to OUTMID to STRING
V3 1U5: plate AUDIO, screen SCR, grid VOLGRID, diode1 DIODE, filament B- to FIL
R14 300 ohm: OUTMID to FIL                   # HEATER_SHUNT
T3 output, 10K to 3.2 ohm: primary B+ to OUT, secondary VC to VCR
C24 .0022 mfd: OUT to B+                     # TONE
C23 .0047 mfd: AUDIO to DRIVE                # COUPLING
R12 2.2 meg: DRIVE to B-                     # GRID_LEAK
R9 1 meg: B+ to AUDIO                        # PLATE_LOAD
R8 4.7 meg: B+ to SCR                        # SCREEN_DROPPER
C15 .022 mfd: SCR to B-                      # SCREEN_BYPASS
"""

# Filaments in parallel and nothing near the line: an antenna capacitor is a coupling.
PORTABLE = """
line none
BT1 1.5 V A-battery: + A+, - CHASSIS
BT2 67.5 V B-battery: + B+, - CHASSIS
J1 antenna: ANT
C20 47 mmf: ANT to LOOP                      # COUPLING
L1 loop antenna, 1.5 ohm: LOOP to AVC
R2 3.3 meg: AVC to CHASSIS                   # GRID_LEAK
L2 oscillator coil, grid 3.5 ohm, tickler 1.2 ohm: grid OSC to CHASSIS, tickler SCR to B+
C1 10-140 mmf: OSC to CHASSIS                # TUNED
C5 47 mmf: OSC to OSCGRID                    # COUPLING
R1 100K: OSCGRID to CHASSIS                  # GRID_LEAK
V1 1R5: plate IFP, screen SCR, g1 OSCGRID, g3 LOOP, filament CHASSIS to A+
T1 IF, 455 kc: primary IFP to B+, secondary IFG to AVC
C6 100 mmf: IFP to B+                        # TUNED
"""

# A vibrator, its noise kept in by coils and capacitors; push-buttons tune coils with a tap.
CAR = """
line none
BT1 6.3 V storage A-battery, running 7.2 V: + ALEAD, - CHASSIS
C30 500 mmf: ALEAD to CHASSIS                # RF_BYPASS
L5 choke, .01 ohm: ALEAD to A+
C31 .47 mfd: A+ to CHASSIS                   # HEATER_BYPASS
L6 choke, .02 ohm: A+ to TAP
C32 .47 mfd: TAP to CHASSIS                  # RF_BYPASS
G1 vibrator, non-synchronous, 115 Hz 6.3 V: reed CHASSIS, contacts VA to VB, coil VA
R30 150 ohm: VA to TAP                       # DAMPING
R31 150 ohm: TAP to VB                       # DAMPING
T1 vibrator, primary .08 ohm each, high 235-0-235 V 65 mA 230 ohm each:
     primary VA to TAP to VB, high HTA to CHASSIS to HTB
C33 .0075 mfd: HTA to HTB                    # BUFFER
V6 6X5GT: plate1 HTA, plate2 HTB, cathode RAW, heater A+ to CHASSIS
L7 HASH 9 ohm: RAW to B1
C34 .01 mfd: RAW to CHASSIS                  # RF_BYPASS
C2 20 mfd 400 V electrolytic: + B1, - CHASSIS   # RESERVOIR
R20 1.2K: B1 to B2                           # FILTER
C3 20 mfd 400 V electrolytic: + B2, - CHASSIS   # SMOOTHING
L2 oscillator coil, .5-3 ohm: CHASSIS to OSCTAP to OSC
S2 push-button: DIAL OSC to GANG, 1 OSC to SET1
C21 15-80 mmf: SET1 to CHASSIS               # TUNED
C7 50 mmf: OSC to OSCGRID                    # COUPLING
R4 22K: OSCGRID to OSCTAP                    # GRID_LEAK
T2 IF, 262 kc: primary IFP to B2, secondary IFG to CHASSIS
V2 6SA7: plate IFP, screen B2, g1 OSCGRID, cathode OSCTAP, heater A+ to CHASSIS
"""

# A crystal on floating B-: the volume control turned up joins its capacitor to B-.
PHONO = """
line 117 V 60 Hz
P1 plug, not polarized: 1 LINE, 2 B-
touchable: CHASSIS, PU
J1 phono: tip PU, sleeve CHASSIS
S2 rotary: PLAY open, MUTE PU to CHASSIS
C10 .01 mfd: PU to IN                        # ANTENNA_ISOLATION
R5 volume control, 1 meg: IN to VOL to B-    # CONTROL
R6 control, 2 meg: VOL to B-                 # CONTROL
V1 12AV6: plate AUDIO, grid VOL, cathode B-, heater H1 to B-
R12 220K: B1 to AUDIO                        # PLATE_LOAD
C12 .01 mfd: AUDIO to DRIVE                  # COUPLING
R13 470K: DRIVE to B-                        # GRID_LEAK
C13 .005 mfd: DRIVE to TONED                 # TONE
R7 tone control, 1 meg: TONED to B-          # CONTROL
V2 50C5: plate OUT, screen B1, grid DRIVE, cathode K2, heater H3 to H1
R15 180 ohm: K2 to B-                        # CATHODE_BIAS
T1 output, 3000 ohm to 3.2 ohm: primary B1 to OUT, secondary VC to VCR
R1 22 ohm: LINE to ANODE                     # SURGE
CR1 selenium 130 VAC 100 mA: anode ANODE, cathode B1
R8 27 ohm: LINE to H3                        # HEATER_DROPPER
C1 80 mfd 150 V electrolytic: + B1, - B-     # RESERVOIR
"""

HASH = "rf choke, 1.5 mH"
SETS = {
    "live": LIVE, "three-way": THREE_WAY, "portable": PORTABLE, "car": CAR.replace("HASH", HASH),
    "phonograph": PHONO,
}  # fmt: skip
CASES = [
    pytest.param(text, match[1], match[2], id=f"{name}-{match[1]}")
    for name, text in SETS.items()
    for match in re.finditer(r"^(\w+) [^#\n]*# ([A-Z_]+)$", text, re.MULTILINE)
]


def without(text: str, *refs: str) -> Wiring:
    """The set with the statements of some parts lost; what the reader says of it is not asked."""
    lines = text.splitlines()
    for part in (read(text).part(ref) for ref in refs):
        assert part is not None
        for number in range(part.span.line - 1, part.span.end_line):
            lines[number] = ""
    return Wiring(read("\n".join(lines)))


@pytest.mark.parametrize(("text", "ref", "role"), CASES)
def test_role(wired: Wired, text: str, ref: str, role: str) -> None:
    assert wired(text).role_of(ref) is Role[role]


def test_a_pick_up_capacitor_of_a_transformer_set_is_a_coupling(wired: Wired) -> None:
    w = wired(
        "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral NEUT\n"
        "T1 power: primary LINE to NEUT, high HA to CHASSIS\n"
        "J1 phono: tip PU, sleeve CHASSIS\nC1 .01 mfd: PU to TOP\n"
        "R1 control, 1 meg: TOP to VOL to CHASSIS\n"
        "V1 6AV6: plate B+, grid VOL, cathode CHASSIS\n"
    )
    assert w.role_of("C1") is Role.COUPLING


# --- a filter choke makes a capacitor the second, a hash choke does not


@pytest.mark.parametrize(
    ("choke", "role", "choke_h"),
    [
        ("rf choke, 1.5 mH", Role.RESERVOIR, 0.0),
        ("rf choke,", Role.RESERVOIR, 0.0),
        ("choke, 10 mH", Role.RESERVOIR, 0.0),
        ("choke, 8 H", Role.SMOOTHING, 8.0),
        ("filter choke,", Role.SMOOTHING, 10.0),  # henries not given: 10 H is assumed
    ],
)
def test_roles_and_supply_agree_on_the_input_choke(
    wired: Wired, choke: str, role: Role, choke_h: float
) -> None:
    w = wired(CAR.replace("HASH", choke))
    assert w.role_of("C2") is role
    (source,) = rectifier_sources(w)
    assert isinstance(source, RectifierSource)
    assert source.reservoir.refs == ("C2",)
    assert source.reservoir.choke_h == pytest.approx(choke_h)
    assert source.spec.has_choke is (choke_h > 0)
    assert source.reservoir.ohm == pytest.approx(9.0 if choke_h == 0 else 9.0 * 1.2)


# --- no coil but an RF coil is tuned


@pytest.mark.parametrize(
    ("words", "tuned"),
    [
        ("T9 output", False), ("T9 driver", False), ("T9", False), ("L9 choke", False),
        ("L9 field", False), ("T9 IF, 455 kc", True), ("T9 455 kc", True), ("T9 rf", True),
        ("T9 oscillator", True), ("L9 antenna", True), ("L9 loop antenna", True), ("L9", True),
    ],
)  # fmt: skip
def test_only_a_coil_for_radio_frequencies_is_tuned(wired: Wired, words: str, tuned: bool) -> None:
    across = wired(f"line none\n{words}: AA to BB\nC1 470 mmf: AA to BB\n")
    assert (across.role_of("C1") is Role.TUNED) is tuned
    padder = wired(f"line none\n{words}: AA to BB\nC1 470 mmf: AA to CHASSIS\n")
    assert (padder.role_of("C1") is Role.TUNED) is tuned


# --- sets in work: a line lost makes a role unknown, or leaves it, but makes no other of it


@pytest.mark.parametrize(
    ("name", "lost", "ref", "allowed"),
    [
        ("live", "V4", "C30", {"TONE"}),  # once "tuned circuit" across the output transformer
        ("three-way", "V4", "C24", {"TONE"}),
        ("live", "V1", "R5", {"CATHODE_BIAS", "UNKNOWN"}),
        ("live", "V4", "C28", {"COUPLING", "UNKNOWN"}),  # a large leak is no tone control
        ("live", "S3", "C26", {"COUPLING"}),  # at the wiper of a control
        ("live", "V5", "C12", {"SMOOTHING"}),
        ("phonograph", "R7", "C13", {"UNKNOWN"}),  # leads nowhere
        ("phonograph", "CR1", "R1", {"UNKNOWN"}),  # no heater behind it
        ("phonograph", "P1", "R1", {"UNKNOWN"}),  # a selenium rectifier is no detector
    ],
)
def test_a_lost_line_makes_no_wrong_role(name: str, lost: str, ref: str, allowed: set[str]) -> None:
    assert without(SETS[name], lost).role_of(ref).name in allowed


def test_a_cathode_resistor_whose_cathode_is_lost_is_no_grid_leak() -> None:
    """47K from the grid to 180 ohm: the 180 ohm is a small share of that way."""
    lost = LIVE.replace("triode-grid OSCGRID, cathode K1", "triode-grid OSCGRID")
    w = Wiring(read(lost))
    assert w.role_of("R6") is Role.GRID_LEAK
    assert w.role_of("R5") is Role.UNKNOWN


def test_a_small_leak_alone_is_still_one(wired: Wired) -> None:
    """470 ohm for 470K: the slip must keep its role, or nobody would tell it."""
    w = wired("line none\nV1 6C4: plate B+, grid GR, cathode B-\nR1 470 ohm: GR to B-\n")
    assert w.role_of("R1") is Role.GRID_LEAK


def test_avc_capacitor_when_the_avc_resistor_is_lost(wired: Wired) -> None:
    """33 mmf from a plate to a diode's plate couples, with or without a way on to the grids."""
    w = wired(
        "line none\nV2 6SK7: plate IFP, screen B+, grid GR, cathode B-\n"
        "T1 IF, 455 kc: primary B+ to IFP, secondary GR to B-\n"
        "V3 6SQ7: plate B+, grid GG, cathode B-, diode1 AVCDIODE\n"
        "C24 33 mmf: IFP to AVCDIODE\nR12 1 meg: AVCDIODE to B-\n"
    )
    assert w.role_of("C24") is Role.COUPLING
