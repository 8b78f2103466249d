"""The voltage chart against the circuit itself: meters, suppositions, bands, currents."""

from __future__ import annotations

import re
from collections import defaultdict
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.bench.asked import NO_METER, USUAL_METER, Meter, meter_of, with_line
from netcheck.bench.voltage_chart import NodeRow, TubeRow, VoltageChart, voltage_chart
from netcheck.chassis import Chassis
from netcheck.language import read
from tests.bench.conftest import EXAMPLES, example

SETS = sorted(path.stem for path in EXAMPLES.glob("*.chassis"))


@cache
def charted(name: str, meter: Meter = USUAL_METER, *supposed: str) -> VoltageChart:
    chart = voltage_chart(example(name), meter, supposed, band=False)
    assert chart.solved, chart.reason
    return chart


@cache
def banded() -> VoltageChart:
    return voltage_chart(example("larkfield-five-restored"))


def node(chart: VoltageChart, name: str) -> NodeRow:
    return next(each for each in chart.nodes if name in (each.name, *each.also))


def volts(chart: VoltageChart, name: str) -> float:
    found = node(chart, name).volts
    assert found is not None
    return found


def tube(chart: VoltageChart, ref: str) -> TubeRow:
    return next(each for each in chart.tubes if each.ref == ref)


@pytest.mark.parametrize("name", SETS)
def test_currents_at_every_node_sum_to_nothing(name: str) -> None:
    """Kirchhoff's law on what the chart states, below 1 nA."""
    chart = charted(name, NO_METER)
    sums: dict[str, float] = defaultdict(float)
    for row in chart.currents:
        sums[row.node] += row.amperes
    held = {example(name).net(hold.node) for hold in example(name).holds}
    assert len(sums) > 10
    assert {n: a for n, a in sums.items() if n not in held and abs(a) > 1e-9} == {}


@pytest.mark.parametrize("name", SETS)
def test_every_tube_and_node_of_the_text_is_told(name: str) -> None:
    chassis, chart = example(name), charted(name)
    assert [n.name for n in chart.nodes] == list(chassis.nodes)
    refs = dict.fromkeys(part.body_ref for part in chassis.of_kind("tube"))
    assert [t.ref for t in chart.tubes] == list(refs)


@pytest.mark.parametrize("name", [each for each in SETS if each.endswith("restored")])
def test_heaters_of_restored_sets_get_their_volts(name: str) -> None:
    chassis, chart = example(name), charted(name)
    assert not [remark for remark in chart.remarks if "heater" in remark]
    for row in chart.tubes:
        rated = _rated_heater_v(chassis, row.ref)
        if rated is not None:
            assert row.heater_v == pytest.approx(rated, rel=0.2)


def _rated_heater_v(chassis: Chassis, ref: str) -> float | None:
    """Rated volts; half of them where the two halves of a tapped heater are in parallel."""
    part = next(p for p in chassis.of_kind("tube") if p.body_ref == ref)
    if part.tube is None or part.tube.heater_v is None:
        return None
    ends = [part.terminal(name) for name in ("heater1", "heater2")]
    nets = {chassis.net(t.node) for t in ends if t is not None}
    return part.tube.heater_v / (2 if len(nets) == 1 else 1)


def test_a_heater_of_another_voltage_is_remarked() -> None:
    """A 6.3 V 0.3 A tube in a string of 0.15 A: (1 / 2)^(1 / 0.58) of its volts."""
    remarks = charted("hollin-lock-in-as-found").remarks
    assert [remark for remark in remarks if "heater of V2 gets 1.94 V of its 6.3 V" in remark]


def test_five_tube_set_with_an_electronic_voltmeter() -> None:
    """The limits of trade experience for a transformerless five-tube set at 117 V."""
    chart = charted("larkfield-five-restored")
    assert 115 < volts(chart, "B1") < 132
    assert 85 < volts(chart, "B2") < 112
    assert 5.5 < volts(chart, "KOUT") < 8.0
    assert 3 < volts(chart, "B1") - volts(chart, "T2.plate") < 12
    assert abs(volts(chart, "DRIVE")) < 0.1
    assert 25 < volts(chart, "V3.plate") < 65
    assert -0.9 < volts(chart, "AVC") < -0.3
    assert -12 < volts(chart, "OSCGRID") < -4


# --- the meter


def test_a_meter_loads_as_a_resistor_put_there_in_the_text() -> None:
    """Grid with a 10 megohm leak: an 11 megohm meter reads what 11 megohm to B- makes of it."""
    text = (EXAMPLES / "larkfield-five-restored.chassis").read_text("utf-8")
    plain = charted("larkfield-five-restored", NO_METER)
    for name in ("VOLGRID", "V3.plate", "AVC"):
        wired = voltage_chart(read(f"{text}\nR99 11 meg: {name} to B-\n"), NO_METER, band=False)
        reading = volts(charted("larkfield-five-restored"), name)
        assert reading == pytest.approx(volts(wired, name), abs=1e-6)
        assert abs(reading) < abs(volts(plain, name))
    drop = 1 - volts(charted("larkfield-five-restored"), "VOLGRID") / volts(plain, "VOLGRID")
    assert 0.05 < drop < 0.5  # neither nothing nor the half that a bare divider would make


def test_the_meter_of_an_old_service_sheet() -> None:
    """1,000 ohm/V on 250 V beside 11 megohm: as old sheets differ from modern readings."""
    old = charted("larkfield-five-restored", meter_of("1k/V:250V"))
    new = charted("larkfield-five-restored")
    for name in ("V3.plate", "AVC", "VOLGRID", "DET"):
        assert volts(old, name) < 0 or volts(old, name) <= 0.8 * volts(new, name)
        assert abs(volts(old, name)) <= 0.8 * abs(volts(new, name))
    for name in ("B1", "B2", "T2.plate", "KOUT"):
        assert volts(old, name) == pytest.approx(volts(new, name), rel=0.01)


def test_currents_are_those_without_the_meter() -> None:
    without = charted("larkfield-five-restored", NO_METER)
    assert charted("larkfield-five-restored").currents == without.currents


def test_the_meter_reads_each_node_with_no_other_node_loaded() -> None:
    """The plate is not lower because the grid was measured too."""
    new, plain = charted("larkfield-five-restored"), charted("larkfield-five-restored", NO_METER)
    assert volts(new, "B1") == pytest.approx(volts(plain, "B1"), abs=0.01)


# --- suppositions


def test_a_leaky_coupling_capacitor_lifts_the_grid() -> None:
    """While no grid current flows the grid is at Vp x Rg / (Rg + Rleak)."""
    chart = charted("larkfield-five-restored", NO_METER, "C14 leaks 20M")
    expected = volts(chart, "V3.plate") * 470e3 / (470e3 + 20e6)
    assert volts(chart, "DRIVE") == pytest.approx(expected, rel=0.01)
    assert volts(chart, "KOUT") > volts(charted("larkfield-five-restored", NO_METER), "KOUT")


def test_a_value_changes_what_hangs_on_it() -> None:
    before = charted("larkfield-five-restored", NO_METER)
    after = charted("larkfield-five-restored", NO_METER, "R12 300 ohm")
    current = next(c.amperes for c in after.currents if (c.part, c.terminal) == ("R12", "a"))
    assert volts(after, "KOUT") == pytest.approx(300 * current, rel=1e-6)
    assert volts(after, "KOUT") > volts(before, "KOUT")


def test_pulling_a_tube_of_a_series_string_darkens_the_string() -> None:
    chart = charted("larkfield-five-restored", USUAL_METER, "V4 pulled")
    conditions = {t.ref: t.condition for t in chart.tubes}
    assert conditions == {"V1": "cold", "V2": "cold", "V3": "cold", "V4": "pulled", "V5": "cold"}
    assert all(abs(n.volts) < 0.01 for n in chart.nodes if n.volts is not None)
    assert "V1, V2, V3 and V5" in chart.remarks[0]
    assert "V5" in chart.remarks[1]
    assert chart.conditions.oscillator == "dead"
    assert node(chart, "H4").ac_v == pytest.approx(117, rel=0.01)  # the open end is at the line


def test_pulling_a_tube_of_a_parallel_string_leaves_the_others_lit() -> None:
    chart = charted("tansley-console-restored", USUAL_METER, "V4 pulled")
    conditions = {t.ref: t.condition for t in chart.tubes}
    assert set(conditions.values()) == {"", "pulled"}
    assert chart.remarks == ()
    before = charted("tansley-console-restored")
    assert volts(chart, "B+") > volts(before, "B+")  # less load
    assert tube(chart, "V4").plate_w is None
    assert next(e for e in tube(chart, "V4").electrodes if e.name == "plate").node is not None


def test_pulling_the_rectifier_takes_the_supply() -> None:
    chart = charted("tansley-console-restored", NO_METER, "V5 pulled")
    # What is left is the contact potential of grids and diode plates, whose heaters are lit.
    assert all(abs(n.volts) < 1.0 for n in chart.nodes if n.volts is not None)
    assert {t.condition for t in chart.tubes if t.ref != "V5"} == {""}
    assert chart.conditions.oscillator == "dead"


def test_a_weak_tube_draws_less() -> None:
    weak = tube(charted("larkfield-five-restored", USUAL_METER, "V4 weak"), "V4")
    sound = tube(charted("larkfield-five-restored"), "V4")
    assert weak.condition == "weak"
    assert (weak.plate_w or 0) < (sound.plate_w or 0)


def test_a_weak_rectifier_lowers_the_supply() -> None:
    weak = charted("larkfield-five-restored", USUAL_METER, "V5 weak")
    assert volts(weak, "B1") < volts(charted("larkfield-five-restored"), "B1") - 3


def test_a_dead_oscillator_has_no_grid_volts() -> None:
    chart = charted("larkfield-five-restored", USUAL_METER, "oscillator dead")
    assert chart.conditions.oscillator == "dead"
    assert -1.5 < volts(chart, "OSCGRID") < 0


def test_the_speaker_plug_out_leaves_the_output_plate_dead() -> None:
    chart = charted("tansley-console-restored", USUAL_METER, "P2 out")
    assert abs(node(chart, "T2.plate").volts or 0.0) < 5


def test_todays_line_scales_the_supply() -> None:
    high = voltage_chart(with_line(example("larkfield-five-restored"), "124"), band=False)
    ratio = volts(high, "B1") / volts(charted("larkfield-five-restored"), "B1")
    assert ratio == pytest.approx(124 / 117, abs=0.015)
    assert high.conditions.line_v == 124


# --- what is not known


def test_a_set_that_was_not_read_whole_has_no_figures() -> None:
    chart = voltage_chart(read("line 117 V 60 Hz\nR1 zzz: X to Y\nR2 1K: X to B-"))
    assert not chart.solved
    assert "could not be read whole" in chart.reason
    assert (chart.nodes, chart.tubes, chart.currents, chart.supplies) == ((), (), (), ())


def test_a_missing_value_is_named_and_no_figure_told() -> None:
    text = (EXAMPLES / "larkfield-five-restored.chassis").read_text("utf-8")
    chart = voltage_chart(read(text.replace("R10  1.2K 2 W 10%:", "R10  ?:")), band=False)
    assert not chart.solved
    assert "R10" in chart.reason
    assert chart.nodes == ()


def test_a_node_that_nothing_holds_is_marked() -> None:
    chassis = read(
        "line none\nmeasure from B-\nBT1 B-battery 90 V: + B+, - B-\nR1 100K: B+ to X1\n"
        "V1 6C5: plate X1, grid X2, cathode B-, heater B- to H1\n"
        "BT2 A-battery 6.3 V: + H1, - B-\nC1 .1 mfd 400 V: X1 to X2\n"
    )
    chart = voltage_chart(chassis, NO_METER, band=False)
    assert chart.solved, chart.reason
    assert node(chart, "X2").floating
    assert node(chart, "X2").volts is None
    metered = node(voltage_chart(chassis, band=False), "X2")
    assert metered.floating
    assert metered.volts is not None


def test_points_on_the_line_are_not_told_as_no_volts() -> None:
    chart = charted("larkfield-five-restored")
    for name in ("LINE", "SWITCHED", "PILOT"):
        assert node(chart, name).volts is None
        assert (node(chart, name).ac_v or 0) > 100
    assert (node(charted("tansley-console-restored"), "HTA").ac_v or 0) > 250


# --- the band


def test_the_band_holds_the_reading_and_is_the_same_every_time() -> None:
    chart = banded()
    assert chart.conditions.band_draws >= 400
    assert chart.conditions.band_settled >= 0.98 * chart.conditions.band_draws
    told = [n for n in chart.nodes if n.volts is not None]
    assert len(told) > 15
    for row in told:
        assert row.low is not None
        assert row.high is not None
        assert row.low - 1e-6 <= (row.volts or 0.0) <= row.high + 1e-6, row
    again = voltage_chart(example("larkfield-five-restored"))
    assert again.nodes == chart.nodes


def test_the_band_of_the_supply_follows_the_line() -> None:
    """B+ of a set on 117 V +-10 % moves by somewhat less than the line."""
    row = node(banded(), "B1")
    assert row.volts is not None
    assert 0.85 < (row.low or 0) / row.volts < 0.95
    assert 1.05 < (row.high or 0) / row.volts < 1.15


def test_a_measured_line_and_measured_resistors_narrow_the_band() -> None:
    text = (EXAMPLES / "larkfield-five-restored.chassis").read_text("utf-8")
    measured = text.replace("R12  150 ohm 1 W 10%:", "R12  150 ohm 1 W, measured 150 ohm:")
    assert measured != text
    known = voltage_chart(with_line(read(measured), "117"), NO_METER)
    wide, narrow = node(banded(), "KOUT"), node(known, "KOUT")
    assert (narrow.high or 0) - (narrow.low or 0) < 0.8 * ((wide.high or 0) - (wide.low or 0))


def test_the_band_can_be_left_out() -> None:
    chart = charted("larkfield-five-restored")
    assert chart.conditions.band_draws == 0
    assert all(n.low is None and n.high is None for n in chart.nodes)


# --- names mean nothing

RENAMED = ("DET", "VOL", "VOLGRID", "DRIVE", "KOUT", "OSC", "OSCTAP", "OSCGRID", "K2", "B2", "AVC",
           "LOOP", "DIODE", "IFLOW", "PILOT", "H1", "H2", "H3", "H4")  # fmt: skip
_NAMES = st.lists(
    st.from_regex(r"N[A-Z]{2,6}Q", fullmatch=True),
    min_size=len(RENAMED), max_size=len(RENAMED), unique=True,
)  # fmt: skip


@settings(max_examples=12)
@given(names=_NAMES)
def test_renaming_nodes_changes_no_figure(names: list[str]) -> None:
    text = (EXAMPLES / "larkfield-five-restored.chassis").read_text("utf-8")
    new = dict(zip(RENAMED, names, strict=True))
    word = re.compile(r"(?<![\w.+-])[A-Z][A-Z0-9]*(?![\w.+-])")
    renamed = word.sub(lambda found: new.get(found[0], found[0]), text)
    chart = voltage_chart(read(renamed), band=False)
    assert chart.solved, chart.reason
    for old in charted("larkfield-five-restored").nodes:
        found = node(chart, new.get(old.name, old.name))
        for now, before in ((found.volts, old.volts), (found.ac_v, old.ac_v)):
            assert (now is None) == (before is None)
            assert (now or 0.0) == pytest.approx(before or 0.0, rel=1e-7, abs=1e-7)


@pytest.mark.parametrize(
    ("name", "supposed", "at"),
    [
        ("larkfield-five-restored", "F1 blown", "F1"),
        ("larkfield-five-restored", "cut F1.a", "F1"),
        ("larkfield-five-restored", "S1 open", "S1"),
        ("larkfield-five-restored", "P1 out", "P1"),
        ("tansley-console-restored", "F1 open", "F1"),
        ("tansley-console-restored", "T1 primary open", "T1"),
        ("ellernbach-live-restored", "F1 out", "F1"),
        ("thorley-car-restored", "F1 blown", "F1"),
    ],
)
def test_a_set_whose_supply_is_interrupted_is_dead_and_says_where(
    name: str, supposed: str, at: str
) -> None:
    chart = charted(name, USUAL_METER, supposed)
    assert {n.name for n in chart.nodes if n.volts and abs(n.volts) > 1e-3} <= {"BATTERY"}
    assert {row.condition for row in chart.tubes} == {"cold"} or name.startswith("thorley")
    assert not chart.supplies
    assert chart.remarks[0].startswith(f"The supply is interrupted at {at}: nothing drives V")


def test_of_two_that_are_out_the_one_that_matters_is_named() -> None:
    chart = charted("larkfield-five-restored", USUAL_METER, "R9 open", "F1 open")
    assert chart.remarks[0].startswith("The supply is interrupted at F1: ")
    both = charted("larkfield-five-restored", USUAL_METER, "S1 off", "F1 open")
    assert both.remarks[0] == "In the stated switch positions nothing drives V5."
    two = charted("larkfield-five-restored", USUAL_METER, "S1 open", "F1 open")
    assert two.remarks[0].startswith("The supply is interrupted at S1, F1: ")


@pytest.mark.parametrize("supposed", ["S1 off", "F1 blown"])
def test_a_car_set_without_its_battery_has_no_high_voltage(supposed: str) -> None:
    """The vibrator's rail was told as with the battery on, though no current came to it."""
    chart = charted("thorley-car-restored", USUAL_METER, supposed)
    assert volts(chart, "B1") == pytest.approx(0.0, abs=1e-3)


LITTLE = """line 117 V 60 Hz
measure from B-
P1 plug, polarized: hot LINE, neutral B-
{fuse}
D1 silicon 1000 V 1 A: anode FUSED, cathode B1
{reservoir}
R1 10K 10 W: B1 to B-
"""
FUSE, RESERVOIR = "F1 1/2 A 250 V: LINE to FUSED", "C1 40 mfd 250 V electrolytic: + B1, - B-"


@pytest.mark.parametrize(
    ("text", "supposed"),
    [
        # The text itself has no fuse: nothing is known of what drives the rectifier.
        (LITTLE.format(fuse=f"{FUSE.replace(':', ', removed:')}", reservoir=RESERVOIR), "R1 11K"),
        # The fuse is out, but of the whole set the volts were not known either.
        (LITTLE.format(fuse=FUSE, reservoir="C1 ? mfd electrolytic: + B1, - B-"), "F1 blown"),
        # The reservoir is out: the rectifier is still driven.
        (LITTLE.format(fuse=FUSE, reservoir=RESERVOIR), "C1 open"),
    ],
    ids=["as described", "unknown reservoir", "still driven"],
)
def test_no_zeros_where_something_is_unknown(text: str, supposed: str) -> None:
    whole = voltage_chart(read(LITTLE.format(fuse=FUSE, reservoir=RESERVOIR)), band=False)
    dead = voltage_chart(
        read(LITTLE.format(fuse=FUSE, reservoir=RESERVOIR)), supposed=["F1 blown"], band=False
    )
    assert volts(whole, "B1") > 100.0
    assert volts(dead, "B1") == 0.0
    chart = voltage_chart(read(text), supposed=[supposed], band=False)
    assert not chart.solved
    assert chart.reason


@pytest.mark.parametrize("supposed", ["D1 out", "cut D1.anode"])
def test_a_rectifier_that_is_out_leaves_its_supply_dead(supposed: str) -> None:
    text = LITTLE.format(fuse=FUSE, reservoir=RESERVOIR)
    chart = voltage_chart(read(text), supposed=[supposed], band=False)
    assert volts(chart, "B1") == 0.0
    assert chart.remarks[0] == "D1 out of the circuit: what it feeds has no supply."


def test_a_tube_in_a_text_without_any_source_has_no_chart_of_zeros() -> None:
    text = LITTLE.format(fuse=FUSE.replace(":", ", removed:"), reservoir=RESERVOIR)
    stage = "V1 6J5: plate PL, grid B-, cathode B-\nR2 100K: B1 to PL\n"
    assert not voltage_chart(read(text + stage), band=False).solved


def test_another_line_moves_a_set_whose_primary_volts_are_not_printed(tansley: Chassis) -> None:
    """Its windings hold at the line of the text, not at today's: B+ and heaters follow it."""
    usual, high = (
        voltage_chart(chassis, NO_METER, band=False)
        for chassis in (tansley, with_line(tansley, "130"))
    )
    before, after = usual.supplies[0].dc_v, high.supplies[0].dc_v
    assert after / before == pytest.approx(130 / 117, rel=0.03)
    heaters = [(a.heater_v, b.heater_v) for a, b in zip(usual.tubes, high.tubes, strict=True)]
    assert heaters
    assert all(a and b and b / a == pytest.approx(130 / 117, rel=0.02) for a, b in heaters)


def test_both_ends_of_a_rectifiers_filament_are_told_as_the_rail_they_are() -> None:
    """Their 5 V of heater supply, held at nothing in the sums, hid 350 V of direct current."""
    text = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral N
T1 power, high 300-0-300 V 100 mA 150 ohm each, rectifier 5 V 2 A: primary LINE to N,
   high HTA to CHASSIS to HTB, rectifier {rail} to FIL2
V5 5Y3GT: plate1 HTA, plate2 HTB, filament {rail} to FIL2
C1 16 mfd 600 V electrolytic: + {rail}, - CHASSIS
R1 4.7K 50 W: {rail} to CHASSIS
"""
    for rail in ("B1", "RAW"):  # one before FIL2 by its letters, one behind
        chart = voltage_chart(read(text.format(rail=rail)), band=False)
        nodes = {node.name: node for node in chart.nodes}
        for net in (rail, "FIL2"):
            assert nodes[net].ac_v is None
            assert (nodes[net].volts or 0.0) > 250.0
        assert nodes["HTA"].volts is None
        assert (nodes["HTA"].ac_v or 0.0) > 300.0
