"""Heater and lamp rules: what they advise is tried, and what they cannot know is said."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]

STRING = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
{first}
V4 50L6GT: heater H5 to H4
V2 12SK7: heater H4 to H3
V1 12SA7: heater H3 to H2
V3 12SQ7: heater H2 to B-
"""
TAPPED = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
V5 35W4: plate PILOT, cathode B1, heater LINE to PILOT to H4
{lamp}
V4 50C5: heater H4 to H3
R9 250 ohm 10 W: H3 to B-
C1 40 mfd 250 V electrolytic, new: + B1, - B-
Z1 load 60 mA: B1 to B-
"""


def advised_ohm(action: str) -> float:
    """The first ohms in an action."""
    found = re.search(r"([\d.]+) ohm", action)
    assert found is not None, action
    return float(found[1])


def test_the_resistor_that_is_advised_brings_the_heaters_right(linted: Linted) -> None:
    (found,) = linted("heater-voltage", STRING.format(first="R1 50 ohm 5 W: LINE to H5")).findings
    assert found.harm is Harm.DAMAGE
    assert found.parts == ("V4", "V2", "V1", "V3")
    ohm = 50 + advised_ohm(found.action)
    # By hand: (117 - 50 - 3 x 12.6) / 0.15.
    assert ohm == pytest.approx((117 - 87.8) / 0.15, rel=0.01)
    right = STRING.format(first=f"R1 {ohm:g} ohm 10 W: LINE to H5")
    assert not linted("heater-voltage", right).findings


def test_too_many_ohms_are_performance_and_to_be_taken_out(linted: Linted) -> None:
    (found,) = linted("heater-voltage", STRING.format(first="R1 400 ohm 9 W: LINE to H5")).findings
    assert found.harm is Harm.PERFORMANCE
    assert 400 - advised_ohm(found.action) == pytest.approx((117 - 87.8) / 0.15, rel=0.01)


def test_volts_at_the_other_lines_are_told(linted: Linted) -> None:
    (found,) = linted("heater-voltage", STRING.format(first="R1 50 ohm 5 W: LINE to H5")).findings
    low, high = (next(c for c in found.calc if c.name.endswith(name)) for name in ("low", "high"))
    assert low.value < found.calc[0].value < high.value


def test_a_heater_of_another_current_is_told_once(linted: Linted) -> None:
    text = STRING.format(first="R1 195 ohm 5 W: LINE to H5").replace("12SK7", "6SK7")
    assert not any("V2" in f.parts for f in linted("heater-voltage", text).findings)
    assert any("V2" in f.parts for f in linted("heater-current-mixed", text).findings)


def test_a_string_whose_volts_are_not_known_is_not_cleared(linted: Linted) -> None:
    report = linted("heater-voltage", STRING.format(first="R1 cord, ? ohm 9 W: LINE to H5"))
    assert not report.findings
    assert any("V4" in each.parts and "R1" in each.reason for each in report.not_checked)


@pytest.mark.parametrize("position", ["220", "110"])
def test_a_selector_that_is_not_set_is_not_cleared(linted: Linted, position: str) -> None:
    text = """line 220 V 50 Hz
P1 plug, polarized: hot LINE, neutral B-
S2 voltage selector: 110 LINE to TAP110, 220 LINE to TAP220
R1 dropper, 1100-270 ohm 30 W: TAP220 to TAP110 to H5
V5 UY85: heater H5 to H4
V4 UL84: heater H4 to B-
"""
    report = linted("mains-tap", text)
    assert not report.findings
    assert any("S2" in each.reason for each in report.not_checked)
    set_to = linted("mains-tap", text + f"switch S2 at {position}\n")
    assert not set_to.not_checked
    assert bool(set_to.findings) is (position == "110")


def test_the_shunt_that_is_advised_in_place_of_a_lamp_spares_the_tap(linted: Linted) -> None:
    (found,) = linted("pilot-lamp", TAPPED.format(lamp="")).findings
    assert found.harm is Harm.DAMAGE
    ohm = advised_ohm(found.action)
    shunted = TAPPED.format(lamp=f"R11 {ohm:g} ohm 5 W: LINE to PILOT")
    assert not linted("pilot-lamp", shunted).findings


def test_a_diode_lamp_is_told_and_a_right_lamp_is_not_damage(linted: Linted) -> None:
    (led,) = linted("pilot-lamp", TAPPED.format(lamp="DS1 led 6.3 V 20 mA: LINE to PILOT")).findings
    assert led.harm is Harm.DAMAGE
    assert led.parts == ("V5", "DS1")
    right = linted("pilot-lamp", TAPPED.format(lamp="DS1 lamp 47: LINE to PILOT")).findings
    assert all(f.harm is Harm.RECORD and f.state == "DS1 out" for f in right)


def test_a_tap_whose_pulses_are_not_solved_is_not_cleared(linted: Linted) -> None:
    text = TAPPED.format(lamp="DS1 lamp 47: LINE to PILOT").replace("40 mfd", "?")
    report = linted("pilot-lamp", text)
    assert not report.findings
    assert report.not_checked


def test_a_diode_behind_a_transformer_set_is_no_dropper(linted: Linted) -> None:
    text = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral N
T1 power, primary 117 V 6 ohm, high 250-0-250 V 70 mA 180 ohm each, heater 6.3 V 1 A:
   primary LINE to N, high HA to CHASSIS to HB, heater H to CHASSIS
V5 6X5GT: plate1 HA, plate2 HB, cathode B+, heater H to CHASSIS
D1 silicon 400 V 1 A: anode BIAS, cathode HA
C1 10 mfd 450 V electrolytic, new: + B+, - CHASSIS
C2 10 mfd 450 V electrolytic, new: + CHASSIS, - BIAS
Z1 load 30 mA: B+ to CHASSIS
"""
    assert not linted("diode-dropper", text).findings


@pytest.mark.parametrize("rule", [
    "heater-voltage", "pilot-lamp", "line-cord-resistor", "diode-dropper", "ballast-code",
    "mains-tap", "heater-cathode-voltage", "dissipation",
])  # fmt: skip
@pytest.mark.parametrize("text", [
    "line none\n",
    "R1 1K 1 W: X to Y\n",
    "line 117 V 60 Hz\n",
    "line 220 V DC\nP1 plug, polarized: hot LINE, neutral B-\nV1 UL84: heater LINE to B-\n",
    "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\nDS1 lamp: LINE to B-\n",
    "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\nRT1 ballast: LINE to X to Y\n",
    "line none\nBT1 9 V A-battery: + A+, - B-\nV1 1U5: filament A+ to B-\n",
])  # fmt: skip
def test_what_is_hardly_a_set_is_no_fault_of_the_rule(linted: Linted, rule: str, text: str) -> None:
    assert not [f for f in linted(rule, text).findings if f.rule == "rule-failed"]


def test_with_the_lamp_out_the_tap_carries_what_the_set_then_draws(linted: Linted) -> None:
    """The plate supply comes through the tap: with more ohms there less is drawn, not as before."""
    text = TAPPED.format(lamp="DS1 lamp 47: LINE to PILOT").replace(
        "Z1 load 60 mA: B1", "R1 2K 20 W: B1"
    )
    (found,) = linted("pilot-lamp", text).findings
    assert found.state == "DS1 out"
    # The set without the lamp, solved by itself.
    (bare,) = linted("pilot-lamp", text.replace("DS1 lamp 47: LINE to PILOT", "")).findings
    assert found.calc[0].value == pytest.approx(bare.calc[0].value, rel=1e-3)


UNLOADED = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral N
T1 power, primary 117 V 6 ohm, high {high} V 180 ohm each, heater 6.3 V 2 A:
   primary LINE to N, high HA to CHASSIS to HB, heater H to CHASSIS
V5 6X5GT: plate1 HA, plate2 HB, cathode B+, heater H to CHASSIS
V4 6V6GT: plate T2.plate, screen B+, grid DRIVE, cathode KOUT, heater H to CHASSIS
T2 output, 5000 ohm to 4 ohm, primary 300 ohm: primary B+ to T2.plate, secondary VC to VCR
LS1 4 ohm: VC to VCR
R3 470K 1/2 W: DRIVE to CHASSIS
R4 470 ohm 2 W: KOUT to CHASSIS
C1 10 mfd 600 V electrolytic, new: + B+, - CHASSIS
"""


def test_a_rectifiers_cathode_rises_while_the_output_tube_is_cold(linted: Linted) -> None:
    """325 V x 1.1 x 1.414 = 506 V and up: the cathode of a 6X5 bears 450 V over its heater."""
    (found,) = linted("heater-cathode-voltage", UNLOADED.format(high="325-0-325")).findings
    assert found.state == "V4 cold, line high"
    assert found.parts == ("V5",)
    assert found.harm is Harm.PERFORMANCE
    assert "while V4 is cold or worn out" in found.message
    assert found.calc[0].value > 325 * 1.1 * 2**0.5
    assert not linted("heater-cathode-voltage", UNLOADED.format(high="225-0-225")).findings
