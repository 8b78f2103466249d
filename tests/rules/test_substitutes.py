"""What stands for another part: silicon for tubes, resistors for fields, on hand-worked figures."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]

FULL_WAVE = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 1/2 A 250 V slow: LINE to FUSED
T1 power, high 285-0-285 V 180 ohm each, rectifier 5 V 2 A: primary FUSED to COLD,
   high HA to CHASSIS to HB, rectifier X5 to Y5
{one}
{two}
C16 8 mfd 525 V electrolytic, new: + B+, - CHASSIS
Z1 load 80 mA: B+ to CHASSIS
"""
SILICON = "CR{n} silicon 1000 V 1 A, replaces 80: anode {net}, cathode B+"


def test_two_diodes_for_one_80_are_one_finding_with_the_volts_of_both(linted: Linted) -> None:
    text = FULL_WAVE.format(one=SILICON.format(n=1, net="HA"), two=SILICON.format(n=2, net="HB"))
    (found,) = linted("silicon-for-tube", text).findings
    tube = FULL_WAVE.format(one="V5 80: plate1 HA, plate2 HB, filament B+ to FIL", two="").replace(
        "rectifier X5 to Y5", "rectifier B+ to FIL"
    )
    from netcheck.circuit import Circuit
    from netcheck.language import read

    then = Circuit(read(tube)).operating.point().supplies[0].volts
    now = Circuit(read(text)).operating.point().supplies[0].volts
    (b_plus,) = [c for c in found.calc if c.name == "B+ at B+"]
    assert b_plus.value == pytest.approx(now)
    assert b_plus.limit == pytest.approx(1.1 * then, rel=1e-3)
    assert found.harm is Harm.DAMAGE
    # Its 1 A is no load of the winding: at most the peak of 285 V raised by the 80's 125 mA.
    assert now < 2**0.5 * (285 + 0.125 * 260)


def test_the_resistor_that_is_named_brings_b_plus_back(linted: Linted) -> None:
    text = FULL_WAVE.format(one=SILICON.format(n=1, net="HA"), two=SILICON.format(n=2, net="HB"))
    (found,) = linted("silicon-for-tube", text).findings
    ohm = found.action.removeprefix("put ").split(" of ")[0]
    cured = FULL_WAVE.format(
        one=f"{SILICON.format(n=1, net='SA')}\nR1 {ohm} 10 W, new: HA to SA",
        two=f"{SILICON.format(n=2, net='SB')}\nR2 {ohm} 10 W, new: HB to SB",
    )
    assert not linted("silicon-for-tube", cured).findings


def test_an_unknown_tube_before_is_no_finding(linted: Linted) -> None:
    text = FULL_WAVE.format(
        one="CR1 silicon 1000 V 1 A, new: anode HA, cathode B+",
        two="CR2 silicon 1000 V 1 A, new: anode HB, cathode B+",
    )
    assert not linted("silicon-for-tube", text).findings


SYNCHRONOUS = """line none
BT1 6.3 V storage A-battery, running 7.2 V: + BATT, - CHASSIS
F1 10 A 32 V fast: BATT to TAP
G1 vibrator, synchronous: reed CHASSIS, contacts XA to XB, contacts2 HA to HB, coil XA to COIL
T1 vibrator, primary .08 ohm each, high 235-0-235 V 65 mA 230 ohm each:
   primary XA to TAP to XB, high HA to B+ to HB
C2 10 mfd 450 V electrolytic, new: + B+, - CHASSIS
Z1 load 40 mA: B+ to CHASSIS
"""


def test_a_synchronous_vibrator_wants_its_buffer_too(linted: Linted) -> None:
    (found,) = linted("vibrator-buffer", SYNCHRONOUS).findings
    assert found.parts == ("T1",)
    sound = SYNCHRONOUS + "C33 .0075 mfd 1600 V film, new: HA to HB\n"
    assert not linted("vibrator-buffer", sound).findings


def test_half_the_winding_asks_half_the_volts(linted: Linted) -> None:
    """To the tap; to the chassis, where the other end is in turn, the whole winding stands."""
    halves = "C33 .01 mfd {v} V film, new: HA to {to}\nC34 .01 mfd {v} V film, new: HB to {to}\n"
    tap, chassis = (SYNCHRONOUS + halves.replace("{to}", to) for to in ("B+", "CHASSIS"))
    assert not linted("vibrator-buffer", tap.format(v=1000)).findings
    assert linted("vibrator-buffer", tap.format(v=400)).findings
    assert linted("vibrator-buffer", chassis.format(v=1000)).findings
    assert not linted("vibrator-buffer", chassis.format(v=1600)).findings


SHORTING = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to FUSED
CR1 silicon 1000 V 1 A: anode SURGE, cathode RAW
R3 47 ohm 5 W: FUSED to SURGE
C1 47 mfd 250 V electrolytic, new: + RAW, - B-
BT2 1.5 V A-battery: + ABAT, - B-
S2 changeover{word}: LINE RAW to FEED, BATTERY ABAT to FEED
V1 1T4: plate RAW, screen RAW, grid G, filament B- to {filament}
R5 2500 ohm 10 W: FEED to FIL
R1 1 meg 1/2 W, new: G to B-
"""


@pytest.mark.parametrize(
    ("word", "filament", "told"),
    [
        ("", "FEED", True),
        ("", "FIL", False),
        (", non-shorting", "FIL", False),
        (", shorting", "ABAT", True),
        (", non-shorting", "ABAT", False),
    ],
)
def test_rectified_volts_on_a_filament(
    linted: Linted, word: str, filament: str, told: bool
) -> None:
    text = SHORTING.format(word=word, filament=filament)
    assert bool(linted("battery-cross", text).findings) is told


def test_an_empty_set_and_one_of_resistors_give_nothing(linted: Linted) -> None:
    for name in ("battery-cross", "silicon-for-tube", "vibrator-buffer", "field-substitute",
                 "filter-return", "can-body", "avc-return", "avc-leakage", "metal-clad-short",
                 "output-capacitor", "ripple-current", "high-tension-fuse", "bias-return-open",
                 "mica-substitution"):  # fmt: skip
        report = linted(name, "R1 470K: X1 to X2\n")
        assert not report.findings, name
        assert not any("failed" in each.reason for each in report.not_checked), name


DOUBLER = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
R1 22 ohm 5 W: FUSED to AC
CR1 silicon 1000 V 1 A: anode AC, cathode B+
CR2 silicon 1000 V 1 A: anode LOW, cathode AC
C1 47 mfd 250 V electrolytic, new: + B+, - B-
C2 47 mfd 250 V electrolytic, new: + B-, - LOW
Z1 load 60 mA: B+ to LOW
"""


def test_the_middle_of_a_doubler_is_no_wrong_return(linted: Linted) -> None:
    assert not linted("filter-return", DOUBLER).findings


PUSH_PULL = """line none
hold B+ 250 V
V4 6V6GT: plate PA, screen B+, g1 GA, cathode K, heater H1 to B-
V5 6V6GT: plate PB, screen B+, g1 GB, cathode K, heater H1 to B-
R1 470K 1/2 W, new: GA to B-
R2 470K 1/2 W, new: GB to B-
R12 150 ohm 2 W: K to B-
T2 output, push pull, 10K to 4 ohm, primary 150 ohm each: primary PA to B+ to PB,
   secondary VC to VCR
LS1 4 ohm: VC to VCR
C15 .01 mfd {volts} V film, new: PA to PB
"""


@pytest.mark.parametrize(("volts", "told"), [(400, True), (630, False)])
def test_between_the_plates_of_push_pull_both_swing(linted: Linted, volts: int, told: bool) -> None:
    text = PUSH_PULL.format(volts=volts)
    assert bool(linted("output-capacitor", text).findings) is told
