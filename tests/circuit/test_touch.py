"""Touch current tables: which states there are, what each does, what is not known.

The sets are invented. Figures are hand sums beside the test, or properties that must hold.
"""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.circuit import Circuit
from netcheck.circuit.touch import Touch, TouchTable
from netcheck.circuit.touch_body import body_a
from netcheck.findings import NotSolved
from netcheck.language import read

LINE = "line 117 V 60 Hz\n"
TURNING = "P1 plug, not polarized: 1 LINE, 2 N\n"
FIXED = "P1 plug, polarized: hot LINE, neutral N\n"
# The switch in the B- lead, 780 ohm of running heaters behind it.
STRING = "S1 power: ON N to B-\nV1 50C5: heater LINE to H1\nV2 35W4: heater H1 to B-\n"


def touch(text: str) -> Touch:
    return Circuit(read(text)).touch


def table(text: str, name: str = "CHASSIS") -> TouchTable:
    return next(t for t in touch(text).tables if name in t.names)


def amperes(of: TouchTable) -> dict[str, float]:
    return {row.state.text: row.touch_a for row in of.rows}


def test_a_switch_in_the_b_minus_lead_makes_the_chassis_live_when_it_is_off() -> None:
    found = amperes(table(LINE + FIXED + STRING + "C1 .01 mfd 250 VAC class Y2: B- to CHASSIS\n"))
    assert found["P1 as drawn, S1 ON"] < 1e-6
    # 2 x pi x 60 x 10 nF x 117 V = 0.441 mA
    assert found["P1 as drawn, S1 OFF"] == pytest.approx(0.441e-3, rel=0.01)
    turned = "P1 in an outlet wired the wrong way round"
    assert found[f"{turned}, S1 ON"] == pytest.approx(0.441e-3, rel=0.01)
    assert found[f"{turned}, S1 OFF"] < 1e-6


def test_a_wrong_outlet_counts_as_a_failure_and_a_turned_plug_does_not() -> None:
    bridge = "C1 .01 mfd 250 VAC class Y2: LINE to CHASSIS\n"
    turning, fixed = table(LINE + TURNING + bridge), table(LINE + FIXED + bridge)
    assert {r.state.plug.is_fault for r in turning.rows} == {False}
    assert {r.state.plug.text for r in fixed.rows if r.state.plug.is_fault} == {
        "P1 in an outlet wired the wrong way round"
    }


def test_turning_the_plug_of_a_symmetrical_set_changes_nothing() -> None:
    both = (
        "C1 .01 mfd 250 VAC class Y2: LINE to CHASSIS\nC2 .01 mfd 250 VAC class Y2: N to CHASSIS\n"
    )
    found = amperes(table(LINE + TURNING + both))
    one, other = found["P1 with pin 1 hot"], found["P1 with pin 2 hot"]
    assert one == pytest.approx(other, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.floats(100e-12, 1e-6), st.floats(1.01, 10.0))
def test_more_capacitance_passes_more(farad: float, times: float) -> None:
    """A capacitor alone: beside a resistor the hand's own capacitance may turn a part in 10^6."""

    def passing(value: float) -> float:
        text = f"C1 {value * 1e6:.9f} mfd 250 VAC class Y2: LINE to CHASSIS\n"
        worst = table(LINE + TURNING + text).worst()
        assert worst is not None
        return worst.touch_a

    assert passing(farad * times) > passing(farad)


@settings(max_examples=40, deadline=None)
@given(st.floats(1e-9, 100e-9), st.floats(50e3, 10e6), st.sampled_from([50.0, 60.0]))
def test_a_capacitor_and_a_resistor_pass_the_root_of_their_squares(
    farad: float, ohm: float, hertz: float
) -> None:
    """Far above the hand's 2000 ohm the two currents stand at right angles (elementary)."""
    text = f"line 117 V {hertz:.0f} Hz\n" + TURNING
    text += f"C1 {farad * 1e6:.9f} mfd 250 VAC class Y2: LINE to CHASSIS\n"
    text += f"R1 {ohm:.3f} ohm 1 W: LINE to CHASSIS\n"
    of = table(text)
    worst = of.worst()
    assert worst is not None
    siemens = 1 / ohm + 2j * math.pi * hertz * farad
    behind = 1 / siemens
    expected = float(body_a(np.array([117.0 + 0j]), np.array([behind]), hertz)[0])
    assert worst.touch_a == pytest.approx(expected, rel=1e-3)
    alone = touch(text).alone_a(of, worst.state)
    assert math.hypot(*alone.values()) == pytest.approx(worst.touch_a, rel=0.12)


def test_each_part_between_line_and_metal_is_shorted_in_turn_unless_assessed() -> None:
    y2 = "250 VAC class Y2"
    cases = {
        f"C1 .0047 mfd {y2}: LINE to CHASSIS\nR1 470K: LINE to CHASSIS\n": ("C1", "R1"),
        "C1 .0047 mfd 250 VAC class Y1: LINE to CHASSIS\n": (),
        # Rated under the line's volts its class says nothing.
        "C1 .0047 mfd 100 VAC class Y1: LINE to CHASSIS\n": ("C1",),
        f"C1 .01 mfd {y2}: LINE to MID\nC2 .01 mfd {y2}: MID to CHASSIS\n": (),
        f"C1 .01 mfd {y2}: LINE to MID\nC2 .01 mfd 630 V film: MID to CHASSIS\n": ("C1", "C2"),
    }
    for bridge, shorted in cases.items():
        assert touch(LINE + TURNING + bridge).insulating == shorted, bridge
    found = table(LINE + TURNING + next(iter(cases)))
    worst = max(r.touch_a for r in found.rows if r.state.failed == "R1")
    assert worst == pytest.approx(117 / 1993, rel=0.01)  # the body network alone


def test_the_earth_wire_takes_it_all_until_it_opens() -> None:
    text = "P1 plug, earthed: hot LINE, neutral N, earth CHASSIS\n"
    found = amperes(table(LINE + text + "C1 .01 mfd 250 VAC class Y2: LINE to CHASSIS\n"))
    assert found["P1 as drawn"] < 1e-6
    assert found["P1 as drawn, earth wire open"] == pytest.approx(0.441e-3, rel=0.01)


def test_a_control_counts_where_it_does_most_harm() -> None:
    """A capacitor on the wiper of a control to B-: at its end nothing is in series with it."""
    text = LINE + "P1 plug, not polarized: 1 LINE, 2 B-\n" + "Z1 load 250 mA: LINE to B-\n"
    text += "R5 control, 1 meg: TOP to VOL to B-\nC1 .01 mfd 250 VAC class Y2: CHASSIS to VOL\n"
    worst = table(text).worst()
    assert worst is not None
    assert worst.touch_a == pytest.approx(0.441e-3, rel=0.01)


def test_a_muting_switch_adds_up_what_it_joins() -> None:
    text = LINE + TURNING + "touchable: CHASSIS, PU\nS2: PLAY open, MUTE PU to CHASSIS\n"
    text += (
        "C1 .01 mfd 250 VAC class Y2: LINE to CHASSIS\nC2 .01 mfd 250 VAC class Y2: LINE to PU\n"
    )
    found = amperes(table(text))
    play, mute = found["P1 with pin 1 hot, S2 PLAY"], found["P1 with pin 1 hot, S2 MUTE"]
    assert mute == pytest.approx(2 * play, rel=0.01)


def test_a_rectifier_lifts_b_minus_where_no_heater_does() -> None:
    text = (
        LINE + FIXED + "S1 power: ON N to B-\nCR1 selenium 130 VAC 100 mA: anode LINE, cathode B1\n"
    )
    text += "C1A 40 mfd 150 V electrolytic: + B1, - B-\nZ1 load 40 mA: B1 to B-\n"
    found = amperes(table(text + "R1 220K 1/2 W: B- to CHASSIS\n"))
    assert found["P1 as drawn, S1 OFF"] == pytest.approx(117 / 222e3, rel=0.01)


def test_on_a_dc_line_only_ohms_count() -> None:
    text = "line 220 V DC\n" + TURNING + "C1 .01 mfd 250 VAC class Y2: LINE to CHASSIS\n"
    worst = table(text + "R1 220K 1/2 W: LINE to CHASSIS\n").worst()
    assert worst is not None
    assert worst.touch_a == pytest.approx(220 / 222e3, rel=1e-4)  # 220 K and the 2000 ohm


def test_what_is_not_known_is_said() -> None:
    unknown = table(LINE + TURNING + "C1 ? 400 V paper: LINE to CHASSIS\n")
    assert unknown.doubts == ("the value of C1 is not known",)
    # An unknown part that is on no way to the metal makes no doubt.
    far = "R1 220K: LINE to CHASSIS\nC2 ? 400 V paper: LINE to N\n"
    assert table(LINE + TURNING + far).doubts == ()
    with pytest.raises(NotSolved, match="no line voltage"):
        _ = touch(TURNING + "R1 220K: LINE to CHASSIS\n").tables
    with pytest.raises(NotSolved, match="no line plug"):
        _ = touch(LINE + "R1 220K: LINE to CHASSIS\n").tables
    with pytest.raises(NotSolved, match="two line pins"):
        _ = touch(
            LINE + "P1 plug, polarized: hot LINE, neutral LINE\nR1 220K: LINE to CHASSIS\n"
        ).tables


def test_metal_that_nothing_joins_to_the_line_has_no_table() -> None:
    found = touch(LINE + TURNING + "LS1 3.2 ohm: VC to VCR\nJ4 speaker: 1 VC, 2 VCR\n")
    assert found.tables == ()
    assert {"VC", "VCR"} <= set(found.apart)


def test_the_transformer_keeps_the_line_off() -> None:
    text = LINE + TURNING + "T1 power, primary 117 V, high 300 V:\n   primary LINE to N, "
    text += "high HA to CHASSIS\nZ1 load 60 mA: HA to CHASSIS\n"
    assert touch(text).tables == ()


# An autotransformer joins its secondary to the line: the volts to earth are sums of turns.
UP = "T1 auto, primary 0-117-234 V: primary N to LINE to UP\n"
BRIDGE = "C1 .01 mfd 250 VAC class Y2: UP to CHASSIS\n"


def _passed_a(volts: float) -> float:
    """2 x pi x 60 Hz x 10 nF x V: 0.377 mA for 100 V (the body adds 2000 ohm to 265 K)."""
    return 2 * math.pi * 60 * 10e-9 * volts


def test_a_winding_above_the_line_puts_its_own_volts_on_metal() -> None:
    rows = {row.state.text: row for row in table(LINE + TURNING + UP + BRIDGE).rows}
    # LINE hot: 117 V of the line and 117 V on top of it.
    hot = rows["P1 with pin 1 hot"]
    assert hot.open_v == pytest.approx(234, rel=1e-3)
    assert hot.touch_a == pytest.approx(_passed_a(234), rel=0.01)
    # N hot: the winding counts down from it, 117 V - 234 V.
    turned = rows["P1 with pin 2 hot"]
    assert turned.open_v == pytest.approx(117, rel=1e-3)
    assert rows["P1 with pin 1 hot, C1 shorted"].touch_a == pytest.approx(234 / 1993, rel=0.01)


def test_a_tap_below_the_line_has_its_share_of_it() -> None:
    text = "line 230 V 50 Hz\n" + FIXED
    text += "T1 auto, primary 0-117-230 V: primary N to UP to LINE\n" + BRIDGE
    found = amperes(table(text))
    per_v = 2 * math.pi * 50 * 10e-9
    assert found["P1 as drawn"] == pytest.approx(per_v * 117, rel=0.01)
    wrong = "P1 in an outlet wired the wrong way round"
    assert found[wrong] == pytest.approx(per_v * (230 - 117), rel=0.01)
    # Ohms that do not go with the turns (a thicker wire) do not move it.
    uneven = text.replace("0-117-230 V:", "0-117-230 V 40 ohm:")
    assert amperes(table(uneven))["P1 as drawn"] == pytest.approx(per_v * 117, rel=0.01)


def test_an_autotransformer_that_is_switched_off_adds_nothing() -> None:
    text = LINE + FIXED + "S1 power: ON LINE to SW\n" + UP.replace("LINE", "SW") + BRIDGE
    found = amperes(table(text))
    assert found["P1 as drawn, S1 ON"] == pytest.approx(_passed_a(234), rel=0.01)
    assert found["P1 as drawn, S1 OFF"] < 1e-6
    wrong = "P1 in an outlet wired the wrong way round, S1 OFF"
    assert found[wrong] == pytest.approx(_passed_a(117), rel=0.01)  # the hot N through the winding


@pytest.mark.parametrize("load", ["Z1 load 60 mA", "Z1 load 300 ohm", "DS1 lamp 44"])
def test_what_the_autotransformer_feeds_does_not_pull_its_volts_down(load: str) -> None:
    text = LINE + FIXED + "S1 power: ON LINE to SW\n" + UP.replace("LINE", "SW") + BRIDGE
    found = amperes(table(text + f"{load}: UP to N\n"))
    assert found["P1 as drawn, S1 ON"] == pytest.approx(_passed_a(234), rel=0.01)


def test_a_selector_of_the_tap_counts_in_each_position() -> None:
    text = "line 220 V 50 Hz\n" + FIXED
    text += "S2 voltage selector: 110 LINE to LOW, 220 LINE to MID\n"
    text += "T1 auto, primary 0-110-220-330 V: primary N to LOW to MID to UP\n" + BRIDGE
    found = amperes(table(text))
    per_v = 2 * math.pi * 50 * 10e-9
    # 220 V on the 110 V tap: three times as much at the end (until it burns).
    assert found["P1 as drawn, S2 110"] == pytest.approx(per_v * 660, rel=0.01)
    assert found["P1 as drawn, S2 220"] == pytest.approx(per_v * 330, rel=0.01)


def test_a_winding_tied_to_the_line_is_looked_at_poled_both_ways() -> None:
    text = "T1 power, primary 117 V, secondary 50 V: primary LINE to N, secondary UP to LINE\n"
    worst = table(LINE + FIXED + text + BRIDGE).worst()
    assert worst is not None
    assert worst.touch_a == pytest.approx(_passed_a(167), rel=0.01)  # 117 + 50, not 117 - 50
    common = text.replace("power", "auto").replace("UP to LINE", "LINE to UP")
    worst = table(LINE + FIXED + common + BRIDGE).worst()
    assert worst is not None
    assert worst.touch_a == pytest.approx(_passed_a(67), rel=0.01)  # one winding: poled as drawn


def test_windings_of_unknown_volts_are_said() -> None:
    text = LINE + FIXED + "T1 auto: primary N to LINE to UP\n" + BRIDGE
    assert "the volts of the windings of T1 are not known" in table(text).doubts
    assert table(LINE + FIXED + UP + BRIDGE).doubts == ()


def test_other_values_are_tried_without_a_new_set() -> None:
    text = (
        LINE + TURNING + "C1 .02 mfd 250 VAC class Y2: LINE to CHASSIS\nR1 470K: LINE to CHASSIS\n"
    )
    found = touch(text)
    of = table(text)
    worst = of.worst()
    assert worst is not None
    half, none = found.by_state(of.nets, [worst.state], [{"C1": 0.5}, {"C1": 0.0}])[:, 0]
    anew = table(text.replace(".02 mfd", ".01 mfd")).worst()
    assert anew is not None
    assert half == pytest.approx(anew.touch_a, rel=1e-6)
    assert none == pytest.approx(117 / 472e3, rel=0.01)
    with pytest.raises(KeyError, match="P9"):
        found.by_state(of.nets, [worst.state], [{"P9": 0.5}])


def test_a_table_is_plain_data_too() -> None:
    plain = table(LINE + FIXED + "R1 220K: LINE to CHASSIS\n").plain()
    assert json.loads(json.dumps(plain)) == plain
    assert plain["parts"] == ["R1"]
