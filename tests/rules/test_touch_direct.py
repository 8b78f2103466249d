"""Direct current through a hand: hand sums with the 2000 ohm that the body network has at DC.

IEC 60990 figure 4: 1500 ohm with 0.22 mfd across, in series with 500 ohm; a capacitor passes no
direct current. Limits: IEC 60065, 2 mA, of metal over 60 V, 120 V with one part failed.
"""

from __future__ import annotations

import math
import re

import pytest

from netcheck.circuit.touch_body import body_ohm
from netcheck.findings import Finding, Harm
from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._runner import Report, lint

RULES = [rule for rule in builtin() if rule.name == "touch-current"]
PHONES = "J1 phones: tip TIP, sleeve CHASSIS\n"
BATTERY = "line none\nBT1 90 V B-battery: + B+, - CHASSIS\n" + PHONES
HELD = "line none\nhold B1 300 V\nR1 4.7K 10 W: B1 to PL\n" + PHONES
PAPER = "C1 .1 mfd 400 V paper: PL to TIP\n"
MAINS = (
    "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\n"
    "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\n"
    "D1 silicon 400 V 1 A: anode SW, cathode B1\nC1 40 mfd 200 V electrolytic: + B1, - B-\n"
    "R9 2.7K 10 W: B1 to B-\n"
)


def report(text: str) -> Report:
    return lint(read(text), RULES)


def found(text: str) -> list[Finding]:
    return [each for each in report(text).findings if each.harm is not Harm.RECORD]


def milliamps(of: Finding) -> list[float]:
    return [each.value for each in of.calc if each.name.endswith("direct current")]


def reasons(text: str) -> list[str]:
    return [each.reason for each in report(text).not_checked]


def test_the_body_is_two_kilohms_to_direct_current() -> None:
    assert body_ohm(0.0) == pytest.approx(2000.0)


@pytest.mark.parametrize(
    ("volts", "ohm", "harm"),
    [
        (90, 10e3, Harm.BURST),  # 90 V / 12 K = 7.5 mA
        (90, 100e3, None),  # 0.88 mA
        (45, 10e3, None),  # under 60 V
        (90, 100, Harm.BURST),  # 43 mA, but of 90 V: under 120 V
        (180, 1e3, Harm.SHOCK_NOW),  # 60 mA of 180 V
        (180, 22e3, Harm.BURST),  # 7.5 mA
    ],
)
def test_phones_on_the_b_battery(volts: float, ohm: float, harm: Harm | None) -> None:
    text = BATTERY.replace("90 V", f"{volts} V") + f"R1 {ohm} ohm 1/2 W: B+ to TIP\n"
    told = found(text)
    assert [each.harm for each in told] == ([] if harm is None else [harm])
    for each in told:
        # The battery has some ohms of its own, as assumed for its kind.
        assert milliamps(each) == [pytest.approx(volts / (ohm + 2000) * 1e3, rel=0.02)]
        assert each.calc[0].limit == 2.0


def test_the_larger_resistor_that_is_named_does() -> None:
    text = BATTERY + "R1 10K 1/2 W: B+ to TIP\n"
    (each,) = found(text)
    value = re.search(r"R1 as ([\d.]+K)", each.action)
    assert value is not None, each.action
    assert value.group(1) == "47K"  # 90 V / 2 mA - 2 K = 43 K
    assert found(text.replace("10K", value.group(1))) == []


def test_a_divider_counts_with_its_own_ohms() -> None:
    (each,) = found(
        BATTERY.replace("90 V", "180 V") + "R1 10K: B+ to TIP\nR2 22K: TIP to CHASSIS\n"
    )
    open_v, behind = 180 * 22 / 32, 22e3 * 10e3 / 32e3
    assert milliamps(each) == [pytest.approx(open_v / (behind + 2000) * 1e3, rel=0.02)]
    assert set(each.parts) == {"R1"}


@pytest.mark.parametrize(
    ("part", "harm"),
    [
        (PAPER, Harm.SHOCK),  # 300 V / (4.7 K + 2 K) = 44.8 mA, if it shorts
        (PAPER.replace("400 V paper", "400 VAC class Y1"), None),
        (PAPER.replace("400 V paper", "400 VAC class Y2"), None),
        ("C1 .1 mfd 400 V: PL to MID\nC2 .1 mfd 400 V: MID to TIP\n", None),  # one at a time
    ],
)
def test_a_capacitor_from_a_plate_to_the_phones(part: str, harm: Harm | None) -> None:
    told = found(HELD + part)
    assert [each.harm for each in told] == ([] if harm is None else [harm])
    for each in told:
        assert max(milliamps(each)) == pytest.approx(300 / 6.7, rel=0.01)
        assert each.parts == ("C1",)
        assert "C1 shorted" in each.state


def test_up_to_120_volts_a_single_failure_is_let_pass() -> None:
    low = HELD.replace("300 V", "110 V") + PAPER
    assert found(low) == []
    assert len(found(low.replace("110 V", "130 V"))) == 1


def test_strict_asks_for_y1_and_shorts_resistors() -> None:
    strict = "policy line-capacitor-class class strict\n"
    y2 = PAPER.replace("400 V paper", "400 VAC class Y2")
    assert found(HELD + y2) == []
    assert [each.parts for each in found(HELD + y2 + strict)] == [("C1",)]
    large = HELD + "R3 470K: PL to TIP\n"
    assert found(large) == []
    (each,) = found(large + strict)
    assert each.parts == ("R3",)
    assert max(milliamps(each)) == pytest.approx(300 / 6.7, rel=0.01)


def test_a_resistor_behind_the_capacitor_is_in_the_sum() -> None:
    text = HELD + PAPER.replace("TIP", "MID") + "R4 100K: MID to TIP\n"
    (each,) = found(text)
    assert each.harm is Harm.BURST
    assert max(milliamps(each)) == pytest.approx(300 / 106.7, rel=0.01)


def test_a_switch_counts_in_each_position() -> None:
    text = HELD + "S2: OFF open, PHONES PL to TIP\n"
    (each,) = found(text)
    assert each.harm is Harm.SHOCK_NOW
    assert each.state == "S2 PHONES"
    assert max(milliamps(each)) == pytest.approx(300 / 6.7, rel=0.01)


def test_a_changeover_of_the_supply_counts_in_each_position() -> None:
    text = "line none\nBT1 67.5 V B-battery: + LOWB, - CHASSIS\n"
    text += "BT2 135 V B-battery: + HIGHB, - CHASSIS\n"
    text += "S3: LOW LOWB to B+, HIGH HIGHB to B+\nR1 33K: B+ to TIP\n" + PHONES
    (each,) = found(text)
    assert each.state == "S3 HIGH"
    assert sorted(milliamps(each)) == [
        pytest.approx(67.5 / 35, rel=0.02),
        pytest.approx(135 / 35, rel=0.02),
    ]


def test_a_frame_on_plate_volts_is_touched_though_the_text_does_not_say_so() -> None:
    text = "line none\nhold B1 300 V\nR2 22K 5 W: B1 to CHASSIS\nLS1 3.2 ohm: VC to VCR, frame B1\n"
    (each,) = found(text)
    assert "the frame of LS1 passes" in each.message
    assert each.harm is Harm.SHOCK_NOW
    said = text + "touchable: CHASSIS\n"
    assert found(said) == []


def test_a_pin_or_cap_of_a_tube_counts_where_the_text_calls_it_touchable() -> None:
    """The tube is biased off, so that only R1 feeds the hand: 300 V / (4.7 K + 2 K)."""
    text = (
        "line none\nhold B1 300 V\nhold BIAS -150 V\nR1 4.7K 10 W: B1 to PL\n"
        "R3 1 meg: G to BIAS\nV1 6J5: plate PL, g1 G, cathode CHASSIS,\n"
        "   heater H to CHASSIS\n"
    )
    assert found(text) == []
    (each,) = found(text + "touchable: CHASSIS, V1.plate\n")
    assert "PL passes" in each.message
    assert each.parts == ("R1",)
    assert max(milliamps(each)) == pytest.approx(300 / 6.7, rel=0.02)


def test_plate_volts_on_a_chassis_that_floats_on_the_line() -> None:
    """R21 passes alternating current, the plug turned, and direct current, the plug right."""
    (each,) = found(MAINS + "R21 22K 2 W: B1 to CHASSIS\nR20 470K: B- to CHASSIS\n")
    (ampere,) = milliamps(each)
    (row,) = [c for c in each.calc if c.name.endswith("direct current")]
    open_v = float(row.sum.split(" V ")[0])
    # Half wave of 1.1 x 117 V: between its mean and its peak of 182 V, over 22 K and 470 K.
    assert 117 < open_v < 182 * 470 / 492
    behind = 1 / (1 / 22e3 + 1 / 470e3)
    assert ampere == pytest.approx(open_v / (behind + 2000) * 1e3, rel=0.02)


def test_a_capacitor_from_b_plus_to_a_floating_chassis_is_told_once() -> None:
    text = MAINS + "C23 .05 mfd 400 V paper: B1 to CHASSIS\nR20 470K: B- to CHASSIS\n"
    assert found(text) == []  # line-capacitor-class tells of it
    assert any(each.harm is Harm.RECORD for each in report(text).findings)


def test_a_negative_rail_counts_like_a_positive_one() -> None:
    (each,) = found("line none\nhold BIAS -150 V\n" + PHONES + "R1 10K: BIAS to TIP\n")
    assert milliamps(each) == [pytest.approx(150 / 12, rel=0.01)]


BIAS = (
    "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral N\n"
    "T1 power, primary 117 V, high 106 V 10 mA: primary LINE to N, high HA to CHASSIS\n"
    "D2 silicon 400 V 1 A: anode BIAS, cathode {driven}\n"
    "C2 47 mfd 250 V electrolytic: + CHASSIS, - BIAS\nR4 100K: BIAS to CHASSIS\n"
    "hold B1 300 V\nR5 100K 2 W: B1 to CHASSIS\n" + PHONES + "R1 10K: BIAS to TIP\n"
)


def test_a_bias_supply_that_is_computed_is_told_with_its_volts() -> None:
    text = BIAS.format(driven="HA")
    (each,) = found(text)
    # At most the peak of the winding at line high; a winding of 10 mA gives way under as much.
    (ampere,) = milliamps(each)
    assert 0.7 * 106 * 1.1 * 2**0.5 / 12 < ampere < 1.0 * 106 * 1.1 * 2**0.5 / 12
    assert not any("not computed" in each for each in reasons(text))


def test_a_bias_supply_that_is_not_computed_is_said() -> None:
    text = BIAS.format(driven="RAW") + "R9 ?: HA to RAW\n"
    said = reasons(text)
    assert any(each.startswith("how much direct current TIP passes") for each in said)


def test_the_chassis_behind_a_bias_resistor_is_ground() -> None:
    text = (
        "line none\nBT1 90 V B-battery: + B+, - B-\nR5 560 ohm: B- to CHASSIS\n"
        "R6 10K 2 W: B+ to CHASSIS\n" + PHONES + "R1 10K: B+ to TIP\n"
    )
    (each,) = found(text)
    assert "TIP" in each.message
    # R6 draws 8.5 mA through R5: 4.8 V of the 90 are below the chassis.
    open_v = 90 * 10e3 / 10.56e3
    behind = 10e3 + 1 / (1 / 10e3 + 1 / 560)
    assert milliamps(each) == [pytest.approx(open_v / (behind + 2000) * 1e3, rel=0.02)]


def test_what_is_not_known_is_said() -> None:
    assert any("R1 has no ohms" in each for each in reasons(BATTERY + "R1 ?: B+ to TIP\n"))
    unread = reasons(BATTERY + "R1 10Q: B+ to TIP\n")
    assert any("TIP passes: a part at TIP is not known" in each for each in unread)
    lone = "line none\nBT1 90 V B-battery: + B+, - B-\nR1 10K: B+ to TIP\ntouchable: TIP\n"
    assert any("nothing else of the set" in each for each in reasons(lone))
    tube = BATTERY + "V1 99ZZ9: plate TIP, g1 G, filament CHASSIS to B+\nR1 10K: B+ to TIP\n"
    assert any("TIP" in each for each in reasons(tube))


def test_without_a_line_voltage_direct_current_is_told_all_the_same() -> None:
    text = BATTERY.removeprefix("line none\n") + "R1 10K: B+ to TIP\n"
    text += "P1 plug, not polarized: 1 LINE, 2 N\n"
    assert any("no line voltage" in each for each in reasons(text))
    assert len(found(text)) == 1


@pytest.mark.parametrize("ohm", [1e3, 4.7e3, 22e3, 47e3, 220e3])
def test_more_ohms_pass_less(ohm: float) -> None:
    def most(value: float) -> float:
        told = report(BATTERY.replace("90 V", "270 V") + f"R1 {value} ohm: B+ to TIP\n").findings
        return max((max(milliamps(each)) for each in told), default=0.0)

    assert most(ohm) >= most(ohm * 2)
    assert math.isfinite(most(ohm))
