"""Rectifier supplies found in small sets drawn by hand, with every figure worked out by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from netcheck.circuit.rectify import solve_rectifier
from netcheck.circuit.rectify_spec import RectifierKind, Wave
from netcheck.circuit.source import Off, RectifierSource, Unknown, rectifier_sources
from netcheck.circuit.wiring import Wiring

Wired = Callable[[str], Wiring]
LINE = "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral NEUT\n"
HIGH = "high 300-0-300 V 70 mA 200 ohm each"


def transformer(high: str = HIGH, primary: str = "primary 117 V 5 ohm") -> str:
    return (
        f"T1 power, {primary}, {high}: primary LINE to NEUT, high HA to HCT to HB, "
        "heater H to CHASSIS, rectifier RA to RB\n"
    )


AMPLIFIER = "V2 6V6: plate PL, g2 SCR, g1 GR, cathode CHASSIS, heater H to CHASSIS\n"
FULL = "V1 80: plate1 HA, plate2 HB, filament RA to RB\nR1 1K: RA to SCR\n"
C1 = "C1 10 mfd 450 V electrolytic: + RA, - CHASSIS\n"
PLAIN = LINE + "V2 25L6: plate PL, g2 SCR, g1 GR, cathode NEUT, heater LINE to NEUT\n"


def the_source(wiring: Wiring, line_v: float | None = None) -> RectifierSource:
    (found,) = rectifier_sources(wiring, line_v)
    assert isinstance(found, RectifierSource), found
    return found


def why_not(wiring: Wiring) -> Unknown:
    (found,) = rectifier_sources(wiring)
    assert isinstance(found, Unknown), found
    assert found.reason.endswith(".")
    return found


def figure(source: RectifierSource, name: str) -> float:
    return float(source.spec.figure(name)[0])


def assumed(source: RectifierSource) -> set[str]:
    return {f"{a.part} {a.what}" for a in source.assumed}


# --- windings


def test_full_wave_from_a_centre_tap(wired: Wired) -> None:
    text = LINE + transformer() + AMPLIFIER + "wire HCT to CHASSIS\n" + FULL + C1
    source = the_source(wired(text))
    # Hot copper 1.15; the primary seen through 300/117.
    ohm = 200 * 1.15 + (300 / 117) ** 2 * 5 * 1.15
    assert source.spec.kind is RectifierKind.FULL_WAVE
    assert (source.plus, source.minus) == ("RA", "CHASSIS")
    assert figure(source, "source_ohm") == pytest.approx(ohm, rel=1e-4)
    assert figure(source, "volts") == pytest.approx(300 + 0.07 * ohm, rel=1e-4)
    assert figure(source, "reservoir_f") == pytest.approx(10e-6)
    assert figure(source, "hertz") == 60.0
    assert source.reservoir.refs == ("C1",)
    assert source.assumed == ()


def test_line_volts_scale_the_winding(wired: Wired) -> None:
    w = wired(LINE + transformer() + AMPLIFIER + "wire HCT to CHASSIS\n" + FULL + C1)
    low, high = the_source(w, 100.0), the_source(w, 130.0)
    assert figure(high, "volts") / figure(low, "volts") == pytest.approx(1.3)
    assert figure(high, "source_ohm") == pytest.approx(figure(low, "source_ohm"))


def test_what_is_not_printed_is_assumed_and_listed(wired: Wired) -> None:
    bare = transformer(high="high 300-0-300 V", primary="primary")
    source = the_source(
        wired(LINE + bare.replace(", primary,", ",") + AMPLIFIER + "wire HCT to CHASSIS\n"
              + FULL + C1)
    )  # fmt: skip
    assert assumed(source) == {
        "T1 primary volts", "T1 primary resistance", "T1 high resistance each half",
        "T1 load at which high has its volts",
    }  # fmt: skip
    assert all(a.basis for a in source.assumed)
    # 5 % of 300 V at the tube's 125 mA; 3 % of 117 V squared over 70 VA.
    ohm = 1.15 * (120 + (300 / 117) ** 2 * 0.03 * 117**2 / 70)
    assert figure(source, "source_ohm") == pytest.approx(ohm, rel=1e-3)


def test_hot_ohms_are_taken_as_they_are(wired: Wired) -> None:
    high = "high 300-0-300 V 70 mA hot 460 ohm"
    source = the_source(
        wired(LINE + transformer(high) + AMPLIFIER + "wire HCT to CHASSIS\n" + FULL + C1)
    )
    assert figure(source, "source_ohm") == pytest.approx(230 + (300 / 117) ** 2 * 5.75, rel=1e-4)


def test_a_dropping_resistor_ahead_of_the_primary_counts(wired: Wired) -> None:
    text = LINE.replace("hot LINE", "hot PLUG") + "R9 20 ohm: PLUG to LINE\n" + transformer()
    source = the_source(wired(text + AMPLIFIER + "wire HCT to CHASSIS\n" + FULL + C1))
    ohm = 230 + (300 / 117) ** 2 * (5.75 + 20)
    assert figure(source, "source_ohm") == pytest.approx(ohm, rel=1e-3)


@pytest.mark.parametrize(("at", "volts"), [("110", 110), ("127", 127), ("220", 220)])
def test_the_primary_tap_in_use_makes_the_turns(wired: Wired, at: str, volts: float) -> None:
    text = (
        f"line {volts} V 50 Hz\nP1 plug, polarized: hot LINE, neutral NEUT\nswitch S2 at {at}\n"
        "S2 selector: 110 LINE to TAP110, 127 LINE to TAP127, 220 LINE to TAP220\n"
        "T1 power, primary 0-110-127-220 V 10-2-8 ohm, " + HIGH + ": "
        "primary NEUT to TAP110 to TAP127 to TAP220, high HA to HCT to HB, heater H to CHASSIS, "
        "rectifier RA to RB\n"
    )
    source = the_source(wired(text + AMPLIFIER + "wire HCT to CHASSIS\n" + FULL + C1))
    own = {110: 10, 127: 12, 220: 20}[int(volts)]
    ohm = 230 + (300 / volts) ** 2 * own * 1.15
    assert figure(source, "source_ohm") == pytest.approx(ohm, rel=1e-3)
    assert figure(source, "volts") == pytest.approx(300 + 0.07 * ohm, rel=1e-3)


def test_bridge_takes_the_whole_winding(wired: Wired) -> None:
    source = the_source(wired(
        LINE + "T1 power, primary 117 V 5 ohm, high 250 V 60 mA 100 ohm: primary LINE to NEUT, "
        "high HA to HB, heater H to CHASSIS\n" + AMPLIFIER + "C1 47 mfd 400 V electrolytic: "
        "+ SCR, - CHASSIS\n"
        "D1 silicon: anode HA, cathode SCR\nD2 silicon: anode HB, cathode SCR\n"
        "D3 silicon: anode CHASSIS, cathode HA\nD4 silicon: anode CHASSIS, cathode HB\n"
    ))  # fmt: skip
    ohm = 115 + (250 / 117) ** 2 * 5.75
    assert source.spec.kind is RectifierKind.BRIDGE
    assert source.minus == "CHASSIS"
    assert figure(source, "source_ohm") == pytest.approx(ohm, rel=1e-3)
    assert figure(source, "volts") == pytest.approx(250 + 0.06 * ohm, rel=1e-3)


def test_a_bias_diode_on_one_end_makes_no_bridge(wired: Wired) -> None:
    source, bias = rectifier_sources(wired(
        LINE + transformer() + AMPLIFIER + "wire HCT to CHASSIS\n" + FULL + C1
        + "D1 silicon: anode BIAS, cathode HA\nC2 20 mfd 50 V electrolytic: + CHASSIS, - BIAS\n"
        "R2 10K: BIAS to CHASSIS\n"
    ))  # fmt: skip
    assert isinstance(source, RectifierSource)
    assert source.spec.kind is RectifierKind.FULL_WAVE
    assert not source.bias
    assert isinstance(bias, Unknown)  # 300 V across 10 K: it would load the winding


def test_back_bias_returns_to_the_centre_tap(wired: Wired) -> None:
    text = LINE + transformer() + AMPLIFIER + FULL + "R8 100 ohm 5 W: HCT to CHASSIS\n"
    direct = the_source(wired(text + C1.replace("- CHASSIS", "- HCT")))
    assert (direct.minus, direct.reservoir.series) == ("HCT", ())
    # To CHASSIS instead, the pulses pass the resistor; it stays in the set's network.
    behind = the_source(wired(text + C1))
    assert behind.minus == "HCT"
    assert [e.ref for e in behind.reservoir.series] == ["R8"]
    assert figure(behind, "choke_ohm") == 100.0


def test_a_surge_resistor_behind_the_cathode_costs_more_than_its_mean(wired: Wired) -> None:
    text = LINE + transformer() + AMPLIFIER + "wire HCT to CHASSIS\n" + FULL
    source = the_source(wired(text.replace("1K", "220 ohm") + C1.replace("+ RA", "+ SCR")))
    state = solve_rectifier(source.spec, [0.06])
    plain = solve_rectifier(replace(source.spec, choke_ohm=0.0), [0.06])
    assert state.dc_v[0, 0] - state.filter_v[0, 0] == pytest.approx(0.06 * 220, rel=1e-6)
    assert plain.dc_v[0, 0] - state.filter_v[0, 0] > 1.3 * 0.06 * 220


def test_choke_input_in_either_lead(wired: Wired) -> None:
    text = LINE + transformer() + AMPLIFIER + "V1 80: plate1 HA, plate2 HB, filament RA to RB\n"
    plus = the_source(wired(
        text + "wire HCT to CHASSIS\nL1 choke, 10 H 200 ohm: RA to SCR\n"
        "C1 8 mfd 450 V electrolytic: + SCR, - CHASSIS\n"
    ))  # fmt: skip
    minus = the_source(wired(
        text + "wire RA to SCR\nL1 field, 1000 ohm: HCT to CHASSIS\n"
        "C1 8 mfd 450 V electrolytic: + SCR, - CHASSIS\n"
    ))  # fmt: skip
    assert (figure(plus, "choke_h"), figure(plus, "choke_ohm")) == (10.0, pytest.approx(240.0))
    assert minus.minus == "HCT"
    assert figure(minus, "choke_ohm") == pytest.approx(1200.0)
    assert "L1 inductance" in assumed(minus)


def test_no_capacitor_at_all(wired: Wired) -> None:
    source = the_source(wired(LINE + transformer() + AMPLIFIER + "wire HCT to CHASSIS\n" + FULL))
    assert source.reservoir.refs == ()
    assert figure(source, "reservoir_f") == 0.0
    assert solve_rectifier(source.spec, [0.05]).settled.all()


# --- the line


TAPPED = (
    "V5 35W4: plate PILOT, cathode SCR, heater LINE to PILOT to H4\n"
    "V2 50C5: plate PL, g2 SCR, g1 GR, cathode NEUT, heater H4 to NEUT\n"
    "C1 40 mfd 150 V electrolytic: + SCR, - NEUT\n"
)


def test_the_tapped_heater_with_its_lamp(wired: Wired) -> None:
    with_lamp = the_source(wired(LINE + TAPPED + "DS1 lamp 47: LINE to PILOT\n"))
    without = the_source(wired(LINE + TAPPED))
    section, rest, lamp = 7.5 / 0.15, (27.5 + 50) / 0.15, 6.3 / 0.15
    for source, ahead in ((with_lamp, section * lamp / (section + lamp)), (without, section)):
        ohm = ahead * rest / (ahead + rest)
        assert figure(source, "source_ohm") == pytest.approx(ohm, rel=1e-3)
        assert figure(source, "volts") == pytest.approx(117 * rest / (ahead + rest), rel=1e-3)
    assert with_lamp.spec.kind is RectifierKind.HALF_WAVE
    assert with_lamp.minus == "NEUT"
    assert with_lamp.spec.law.kind == "vacuum"


def test_surge_resistor_and_selenium(wired: Wired) -> None:
    text = PLAIN + "R1 33 ohm: LINE to IN\nC1 40 mfd 150 V electrolytic: + SCR, - NEUT\n"
    source = the_source(wired(text + "D1 selenium 130 V 75 mA: anode IN, cathode SCR\n"))
    assert figure(source, "source_ohm") == pytest.approx(33.0, rel=1e-3)
    assert figure(source, "volts") == pytest.approx(117.0, rel=1e-3)
    assert source.spec.law.kind == "selenium"
    assert source.spec.law.drop_v(0.075) == pytest.approx(5.0)  # five plates of a volt
    assert "D1 drop at its rated current" in assumed(source)
    silicon = the_source(wired(text + "D1 silicon 1 A 400 V: anode IN, cathode SCR\n"))
    new, old = solve_rectifier(silicon.spec, [0.06]), solve_rectifier(source.spec, [0.06])
    assert 3.0 < new.dc_v[0, 0] - old.dc_v[0, 0] < 20.0


def test_plates_abreast_share_the_current(wired: Wired) -> None:
    text = PLAIN + "C1 40 mfd 150 V electrolytic: + SCR, - NEUT\n"
    both = the_source(wired(
        text + "V1 25Z6: plate1 LINE, plate2 LINE, cathode1 SCR, cathode2 SCR, "
        "heater LINE to NEUT\n"
    ))  # fmt: skip
    one = the_source(wired(
        text + "V1 25Z6: plate1 LINE, plate2 open, cathode1 SCR, cathode2 open, "
        "heater LINE to NEUT\n"
    ))  # fmt: skip
    assert both.spec.kind is RectifierKind.HALF_WAVE
    assert both.spec.law.perveance == pytest.approx(2 * one.spec.law.perveance)


def test_doublers(wired: Wired) -> None:
    cascade = the_source(wired(
        PLAIN + "R1 22 ohm: LINE to IN\nC1 40 mfd 150 V electrolytic: + X, - IN\n"
        "D1 silicon: anode NEUT, cathode X\nD2 silicon: anode X, cathode SCR\n"
        "C2 30 mfd 350 V electrolytic: + SCR, - NEUT\n"
    ))  # fmt: skip
    assert cascade.spec.kind is RectifierKind.CASCADE_DOUBLER
    assert cascade.minus == "NEUT"
    assert figure(cascade, "source_ohm") == pytest.approx(22, rel=1e-3)
    assert (figure(cascade, "second_f"), figure(cascade, "reservoir_f")) == (40e-6, 30e-6)
    full = the_source(wired(
        LINE + "V2 25L6: plate PL, g2 SCR, g1 GR, cathode B-, heater LINE to NEUT\n"
        "D1 silicon: anode LINE, cathode SCR\nD2 silicon: anode B-, cathode LINE\n"
        "C1 40 mfd 150 V electrolytic: + SCR, - NEUT\nC2 20 mfd 150 V electrolytic: + NEUT, - B-\n"
    ))  # fmt: skip
    assert full.spec.kind is RectifierKind.FULL_WAVE_DOUBLER
    assert (full.plus, full.middle, full.minus) == ("SCR", "NEUT", "B-")
    assert (figure(full, "reservoir_f"), figure(full, "second_f")) == (40e-6, 20e-6)


def test_dc_line(wired: Wired) -> None:
    text = PLAIN.replace("117 V 60 Hz", "220 V DC")
    source = the_source(wired(
        text + "V1 25Z6: plate1 LINE, plate2 open, cathode1 SCR, cathode2 open, "
        "heater LINE to NEUT\nC1 40 mfd 250 V electrolytic: + SCR, - NEUT\n"
    ))  # fmt: skip
    assert source.spec.wave is Wave.STEADY
    drop_v = source.spec.law.drop_v(0.06)
    assert solve_rectifier(source.spec, [0.06]).dc_v[0, 0] == pytest.approx(220 - drop_v, rel=1e-4)


def test_two_supplies_of_one_tube_are_two(wired: Wired) -> None:
    found = rectifier_sources(wired(
        PLAIN + "V1 25Z6: plate1 LINE, plate2 LINE, cathode1 SCR, cathode2 FIELD, heater LINE to "
        "NEUT\nC1 16 mfd 150 V electrolytic: + SCR, - NEUT\nC2 8 mfd 150 V electrolytic: "
        "+ FIELD, - NEUT\nL1 field, 3000 ohm: FIELD to NEUT\n"
    ))  # fmt: skip
    assert [s.plus for s in found if isinstance(s, RectifierSource)] == ["SCR", "FIELD"]


# --- vibrators


VIBRATOR = (
    "line none\nBT1 6 V storage, running 6.6 V: + A+, - CHASSIS\nS1: ON A+ to AS\n"
    "T1 vibrator, primary .05 ohm each, high 280-0-280 V 60 mA 200 ohm each: "
    "primary VA to AS to VB, high HA to HCT to HB\n"
    "V2 6V6: plate PL, g2 SCR, g1 GR, cathode CHASSIS, heater AS to CHASSIS\n"
    "C1 10 mfd 450 V electrolytic: + SCR, - CHASSIS\n"
)


def test_vibrator_with_a_rectifier_tube(wired: Wired) -> None:
    source = the_source(wired(
        VIBRATOR + "wire HCT to CHASSIS\nG1 vibrator, 100 Hz: reed CHASSIS, contacts VA to VB, "
        "coil AS\nV1 6X5: plate1 HA, plate2 HB, cathode SCR, heater AS to CHASSIS\n"
    ))  # fmt: skip
    ohm = 230 + (280 / 6) ** 2 * 0.05 * 1.15
    assert source.spec.wave is Wave.SQUARE
    assert figure(source, "hertz") == 100.0
    assert figure(source, "source_ohm") == pytest.approx(ohm, rel=1e-3)
    assert figure(source, "volts") == pytest.approx((280 + 0.06 * ohm) * 6.6 / 6, rel=1e-3)
    assert source.spec.peak_v[0] == figure(source, "volts")  # no square root of two
    assert "G1 dwell of the contacts" in assumed(source)


def test_synchronous_vibrator(wired: Wired) -> None:
    w = wired(
        VIBRATOR + "wire HCT to SCR\nG1 vibrator: reed CHASSIS, contacts VA to VB, contacts2 HA to "
        "HB, coil AS\n"
    )  # fmt: skip
    source = the_source(w)
    assert source.refs == ("G1",)
    assert (source.plus, source.minus) == (w.chassis.net("SCR"), "CHASSIS")
    assert source.spec.law.kind == "contacts"
    assert "G1 frequency" in assumed(source)


# --- what is not known is said


def test_switches_decide(wired: Wired) -> None:
    text = LINE.replace("hot LINE", "hot PLUG") + transformer() + AMPLIFIER + FULL + C1
    text += "wire HCT to CHASSIS\n"
    assert the_source(wired(text + "S1: ON PLUG to LINE\n"))
    two = "S1 rotary: RADIO PLUG to LINE, PHONO open\n"
    (off,) = rectifier_sources(wired(text + two + "switch S1 at PHONO\n"))
    assert isinstance(off, Off)
    assert "primary" in off.reason
    assert the_source(wired(text + two + "switch S1 at RADIO\n"))


def test_a_position_that_is_not_stated_is_asked_for(wired: Wired) -> None:
    text = LINE.replace("hot LINE", "hot PLUG") + AMPLIFIER + FULL + C1 + "wire HCT to CHASSIS\n"
    text += transformer() + "S2: LOW PLUG to X, HIGH PLUG to LINE\nR9 100 ohm: X to LINE\n"
    found = why_not(wired(text))
    assert "S2" in found.reason


def test_standby_opens_the_return(wired: Wired) -> None:
    text = LINE + transformer() + AMPLIFIER + FULL + C1
    text += "S3: PLAY HCT to CHASSIS, WAIT open\n"
    assert the_source(wired(text + "switch S3 at PLAY\n")).minus == "CHASSIS"
    assert "S3" in why_not(wired(text + "switch S3 at WAIT\n")).reason


@pytest.mark.parametrize(
    ("remove", "put", "word"),
    [
        ("300-0-300 V 70 mA ", "", "300-0-300 V"),
        ("line 117 V 60 Hz", "line none", "line 117 V 60 Hz"),
        ("10 mfd 450 V", "450 V", "C1"),
        ("117 V 60 Hz", "117 V DC", "DC"),
    ],
)
def test_a_missing_figure_is_named(wired: Wired, remove: str, put: str, word: str) -> None:
    text = LINE + transformer() + AMPLIFIER + "wire HCT to CHASSIS\n" + FULL + C1
    assert word in why_not(wired(text.replace(remove, put))).reason


def test_a_resistor_whose_ohms_decide_is_named_and_others_are_not(wired: Wired) -> None:
    text = (
        PLAIN
        + "C1 40 mfd 150 V electrolytic: + SCR, - NEUT\n"
        + ("V1 35Z3: plate IN, cathode SCR, heater LINE to NEUT\n")
    )
    assert why_not(wired(text + "R1 ?: LINE to IN\n")).parts[-1] == "R1"
    assert the_source(wired(text + "R1 33 ohm: LINE to IN\nR2 ?: NEUT to CHASSIS\n"))


def test_no_rectifier_no_source(wired: Wired) -> None:
    assert rectifier_sources(wired("line none\nBT1 90 V: + B+, - B-\n")) == ()


def test_the_unloaded_peak_is_that_of_the_open_winding(wired: Wired) -> None:
    source = the_source(
        wired(LINE + transformer() + AMPLIFIER + "wire HCT to CHASSIS\n" + FULL + C1), 117 * 1.1
    )
    assert solve_rectifier(source.spec, [0.0]).dc_v[0, 0] == pytest.approx(
        np.sqrt(2) * figure(source, "volts")
    )
    assert np.sqrt(2) * figure(source, "volts") > 1.1 * 300 * np.sqrt(2)
