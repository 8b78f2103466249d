"""A bias made by its own rectifier is computed, held or refused by name, never taken as 0 V.

The figures of its cycle are checked in test_bias_independent.
"""

from __future__ import annotations

import pytest

from netcheck.bench.voltage_chart import voltage_chart
from netcheck.circuit import Circuit
from netcheck.circuit.operating import Point
from netcheck.circuit.rectify_spec import RectifierKind
from netcheck.circuit.source import RectifierSource, rectifier_sources
from netcheck.circuit.states import NOMINAL, Edit, State
from netcheck.findings import NotSolved
from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._runner import lint

SET = """line 117 V 60 Hz
measure from CHASSIS
P1 plug, polarized: hot LINE, neutral N
T1 power, primary 117 V 6 ohm, high {volts} 150 ohm, heater 6.3 V 3 A, rectifier 5 V 2 A:
   primary LINE to N, high {path}, heater H to CHASSIS, rectifier B1 to FIL2
V5 5Y3GT: plate1 HTA, plate2 HTB, filament B1 to FIL2
C1 16 mfd 600 V electrolytic: + B1, - CHASSIS
R27 10K 1 W: {tap} to RAW
CR1 silicon 1N4007: cathode RAW, anode BIAS
C2 25 mfd 50 V electrolytic: + CHASSIS, - BIAS
R28 56K 1/2 W: BIAS to CHASSIS
V3 6V6GT: plate T2.plate, screen B1, grid DRIVE, cathode CHASSIS, heater H to CHASSIS
R9 220K 1/2 W: DRIVE to BIAS
T2 output, 5000 ohm to 4 ohm, primary 250 ohm: primary B1 to T2.plate, secondary VC to CHASSIS
LS1 4 ohm: VC to CHASSIS
"""
PLAIN = SET.format(volts="300-0-300 V 100 mA", path="HTA to CHASSIS to HTB", tap="HTB")
TAPPED = SET.format(volts="300-50-250 V 100 mA", path="HTA to CHASSIS to HTTAP to HTB", tap="HTTAP")
UNTOLD = TAPPED.replace("300-50-250 V 100 mA 150 ohm", "150 ohm")
HELD = "hold BIAS -20 V\n"


NO_CAPACITOR = TAPPED.replace("C2 25 mfd 50 V electrolytic: + CHASSIS, - BIAS\n", "")
LOADED = TAPPED.replace("R28 56K", "R28 27K")
REVERSED = TAPPED.replace("cathode RAW, anode BIAS", "anode RAW, cathode BIAS")


def with_feed(lines: str) -> str:
    return TAPPED.replace("R27 10K 1 W: HTTAP to RAW", lines)


def bias_of(text: str) -> RectifierSource:
    source = rectifier_sources(Circuit(read(text)).wiring)[-1]
    assert isinstance(source, RectifierSource), source
    assert source.bias
    return source


def volts_of(text: str) -> float:
    volts = Circuit(read(text)).operating.point().volts("BIAS")
    assert volts is not None
    return volts


# --- computed


def test_a_bias_is_computed_against_the_return() -> None:
    """Hand check: half wave, 10 K ahead and 56 K behind (O. H. Schade's curves: some 0.55)."""
    source = bias_of(TAPPED)
    point = Circuit(read(TAPPED)).operating.point()
    assert (source.plus, source.minus) == ("CHASSIS", "BIAS")
    assert source.spec.kind is RectifierKind.HALF_WAVE
    assert -0.6 < (point.volts("BIAS") or 0.0) / (50 * 2**0.5) < -0.5
    assert point.volts("DRIVE") == pytest.approx(point.volts("BIAS"), abs=0.01)
    main, bias = point.supplies
    assert main.source.plus == "B1"
    assert bias.amperes == pytest.approx(-(point.volts("BIAS") or 0.0) / 56e3, rel=1e-6)
    assert bias.cycle.dc_v[0, 0] == pytest.approx(bias.volts, rel=2e-3)


@pytest.mark.parametrize(
    ("feed", "kind"),
    [
        ("C27 .1 mfd 600 V: HTTAP to RAW\nR27 47K 1 W: RAW to CHASSIS", "COUPLED_HALF_WAVE"),
        (
            "C27 .1 mfd 600 V: HTTAP to RAW\nCR2 silicon 1N4007: anode RAW, cathode CHASSIS",
            "CASCADE_DOUBLER",
        ),
        ("R26 100K 1 W: HTB to RAW\nR27 22K 1 W: RAW to CHASSIS", "HALF_WAVE"),
        ("R26 4.7K 1 W: HTTAP to X\nF9 1/8 A 250 V: X to RAW", "HALF_WAVE"),
    ],
)
def test_other_ways_from_winding_to_diode(feed: str, kind: str) -> None:
    source = bias_of(with_feed(feed))
    assert source.spec.kind is RectifierKind[kind]
    volts = Circuit(read(with_feed(feed))).operating.point().volts("BIAS")
    assert -130.0 < (volts or 0.0) < -15.0


@pytest.mark.parametrize(
    "diode",
    [
        "CR1 selenium: cathode RAW, anode BIAS",
        "V9 6X4: plate1 BIAS, plate2 BIAS, cathode RAW, heater H to CHASSIS",
        "V9 6H6: diode1 BIAS, cathode1 RAW, diode2 CHASSIS, cathode2 CHASSIS, heater H to CHASSIS",
    ],
)
def test_other_diodes(diode: str) -> None:
    text = TAPPED.replace("CR1 silicon 1N4007: cathode RAW, anode BIAS", diode)
    assert read(text).findings == ()
    silicon, other = (
        Circuit(read(t)).operating.point().volts("BIAS") or 0.0 for t in (TAPPED, text)
    )
    assert other == pytest.approx(silicon, abs=5.0)
    assert other < 0.0


def test_both_ends_of_a_winding_make_it_full_wave() -> None:
    text = PLAIN.replace(
        "CR1 silicon",
        "R26 10K 1 W: HTA to RAW2\nCR2 silicon: cathode RAW2, anode BIAS\nCR1 silicon",
    )
    half, full = bias_of(PLAIN), bias_of(text)
    assert full.spec.kind is RectifierKind.FULL_WAVE
    assert full.drawn == (("CHASSIS", "RAW2"), ("CHASSIS", "RAW"))
    points = [Circuit(read(t)).operating.point() for t in (PLAIN, text)]
    assert (points[1].volts("BIAS") or 0.0) < 1.2 * (points[0].volts("BIAS") or 0.0)
    assert half.transformer == full.transformer == "T1"


def test_a_filter_between_diode_and_capacitor() -> None:
    text = TAPPED.replace("anode BIAS", "anode FIRST").replace(
        "R28", "R26 15K 1/2 W: FIRST to BIAS\nR28"
    )
    source = bias_of(text)
    point = Circuit(read(text)).operating.point()
    assert source.reservoir.refs == ("C2",)
    assert source.spec.choke_ohm == pytest.approx(15e3)
    drop = (point.volts("BIAS") or 0.0) - (point.volts("FIRST") or 0.0)
    assert drop == pytest.approx(15e3 * point.supplies[1].amperes, rel=1e-6)


def test_what_it_takes_from_the_other_supply_is_bounded_and_told() -> None:
    (told,) = [a for a in bias_of(TAPPED).assumed if "left out" in a.what]
    assert told.part == "CR1"
    assert 0.0 < told.value < 0.2
    heavy = TAPPED.replace("R27 10K", "R27 10 ohm").replace("R28 56K", "R28 220 ohm")
    with pytest.raises(NotSolved, match=r"CR1: the bias .* it loads the winding of V5, by up to"):
        Circuit(read(heavy)).operating.point()


def test_the_main_rectifier_lowers_it() -> None:
    """Of a transformer with more ohms in its primary it takes more."""
    weak = TAPPED.replace("primary 117 V 6 ohm", "primary 117 V 12 ohm").replace(
        "R28 56K", "R28 27K"
    )
    loaded, idle = Circuit(read(weak)).operating.points([NOMINAL, State("cold", out=("V3",))])
    assert (idle.volts("BIAS") or 0.0) < 1.015 * (loaded.volts("BIAS") or 0.0) < 0.0


# --- faults


def faulty(kind: str, ref: str, text: str = LOADED) -> Point:
    return Circuit(read(text)).operating.point(State(f"{ref} {kind}", edits=(Edit(kind, ref),)))


@pytest.mark.parametrize(
    ("kind", "ref"), [("open", "CR1"), ("short", "CR1"), ("open", "R27"), ("short", "C2")]
)
def test_without_its_rectifier_the_grids_go_to_nothing(kind: str, ref: str) -> None:
    point = faulty(kind, ref)
    plain = Circuit(read(LOADED)).operating.point()
    assert abs(point.volts("BIAS") or 0.0) < 0.1
    assert (point.amperes("T2") or 0.0) > 3 * (plain.amperes("T2") or 0.0)


def test_an_open_reservoir_is_not_computed() -> None:
    with pytest.raises(NotSolved, match=r"No capacitor smooths BIAS|no capacitor smooths BIAS"):
        faulty("open", "C2")
    with pytest.raises(NotSolved, match=r"CR1: .*no capacitor smooths BIAS.*`hold BIAS"):
        Circuit(read(NO_CAPACITOR)).operating.point()


def test_a_reversed_diode_drives_the_grids_positive_and_is_found() -> None:
    text = REVERSED.replace("R28 56K", "R28 27K")
    point = Circuit(read(text)).operating.point()
    assert (point.volts("BIAS") or 0.0) > 20.0
    assert 0.0 < (point.volts("DRIVE") or 0.0) < 3.0  # behind 220 K the grid draws
    told = {(f.rule, f.parts) for f in lint(read(text), tuple(builtin())).findings}
    assert ("polarity", ("C2",)) in told
    assert ("bias-wrong", ("V3",)) in told


def test_a_dead_rectifier_tube_makes_no_bias() -> None:
    diode = "V9 6X4: plate1 BIAS, plate2 BIAS, cathode RAW, heater H to CHASSIS"
    text = TAPPED.replace("CR1 silicon 1N4007: cathode RAW, anode BIAS", diode)
    point = Circuit(read(text)).operating.point(State("dead", emission=(("V9", 0.0),)))
    assert abs(point.volts("BIAS") or 0.0) < 0.1


# --- sizes


def test_sizes_that_the_bias_hangs_on_move_it_as_their_new_value_does() -> None:
    circuit = Circuit(read(TAPPED))
    scaled, valued, wound = circuit.operating.points(
        [
            State("scaled", edits=(Edit("scale", "R27", 1.5),)),
            State("valued", edits=(Edit("value", "R27", 15e3),)),
            State("wound", edits=(Edit("scale", "T1", 2.0),)),
        ]
    )
    plain = circuit.operating.point().volts("BIAS") or 0.0
    assert scaled.volts("BIAS") == pytest.approx(valued.volts("BIAS"), rel=1e-6)
    assert (scaled.volts("BIAS") or 0.0) > 0.9 * plain
    assert wound.volts("BIAS") == pytest.approx(plain, rel=0.03)
    assert wound.volts("BIAS") != pytest.approx(plain, rel=1e-4)


# --- held, or refused by name


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (UNTOLD, "volts of the winding high are not given"),
        (with_feed("C27 .1 mfd 600 V: HTTAP to RAW"), "C27 lets no direct current through"),
        (TAPPED.replace("C2 25 mfd", "C2"), "capacitance of the reservoir C2 is not given"),
        (
            with_feed("C27 .1 mfd: HTTAP to X\nC28 .1 mfd: X to RAW\nR27 47K: RAW to CHASSIS"),
            "this circuit of CR1 is not known",
        ),
    ],
)
def test_a_bias_that_is_not_computed_is_refused_by_name(text: str, why: str) -> None:
    """At 0 V the tube would draw some 90 mA, and rules would tell of a fault that is not there."""
    with pytest.raises(
        NotSolved, match=rf"CR1: the bias that it makes at BIAS .*{why}.*`hold BIAS"
    ):
        Circuit(read(text)).operating.point()
    if text != UNTOLD:
        held = Circuit(read(text + HELD)).operating.point()
        assert held.volts("DRIVE") == pytest.approx(-20.0, abs=0.05)


def test_a_rail_that_is_held_behind_the_first_suffices() -> None:
    text = UNTOLD + "R26 10K 1/2 W: BIAS to BACK\nhold BACK -18 V\nhold B1 320 V\n"
    point = Circuit(read(text)).operating.point()
    assert point.volts("BACK") == pytest.approx(-18.0)


def test_a_held_bias_is_solved_from() -> None:
    point = Circuit(read(PLAIN + HELD)).operating.point()
    assert point.volts("DRIVE") == pytest.approx(-20.0, abs=0.05)
    assert 0.005 < (point.amperes("T2") or 0.0) < 0.06


def test_a_diode_that_makes_no_bias_is_none() -> None:
    """A diode with neither a filter capacitor nor a grid behind it is a dropper, or a load."""
    text = NO_CAPACITOR.replace("DRIVE to BIAS", "DRIVE to CHASSIS")
    circuit = Circuit(read(text))
    assert circuit.wiring.supply.bias_diodes == ()
    assert circuit.operating.point().volts("B1")


def test_the_centre_of_a_winding_with_a_bias_tap_is_its_return() -> None:
    source, _ = rectifier_sources(Circuit(read(TAPPED)).wiring)
    assert isinstance(source, RectifierSource)
    assert source.minus == "CHASSIS"
    plain, tapped = (Circuit(read(t + HELD)).operating.point() for t in (PLAIN, TAPPED))
    assert tapped.volts("B1") == pytest.approx(plain.volts("B1"), rel=0.02)


def test_a_rail_that_is_held_needs_no_winding() -> None:
    with pytest.raises(NotSolved, match="volts of the winding high are not given"):
        Circuit(read(UNTOLD + HELD)).operating.point()
    point = Circuit(read(UNTOLD + HELD + "hold B1 320 V\n")).operating.point()
    assert point.volts("B1") == pytest.approx(320.0, rel=1e-6)


def test_a_winding_of_unknown_volts_is_never_charted_as_0_v() -> None:
    chart = voltage_chart(read(UNTOLD + HELD + "hold B1 320 V\n"), band=False)
    assert chart.solved
    volts = {node.name: node.volts for node in chart.nodes}
    assert [volts[net] for net in ("HTA", "HTB", "HTTAP", "RAW")] == [None] * 4
    assert volts["B1"] == pytest.approx(320.0, rel=1e-6)
    assert volts["BIAS"] == pytest.approx(-20.0, rel=1e-6)
