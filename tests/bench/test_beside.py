"""What stands beside a chart: causes of a band, and the readings of the set's day."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from netcheck import read
from netcheck.bench.asked import NO_METER, NotUnderstood, meter_of
from netcheck.bench.because import because
from netcheck.bench.beside import as_printed
from netcheck.bench.controls import at_maximum
from netcheck.bench.voltage_chart import voltage_chart
from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.circuit.bands import voltage_band
from netcheck.circuit.causes import causes
from netcheck.circuit.states import NOMINAL, Edit, State
from netcheck.cli import app
from netcheck.output.columns import width
from tests.bench.conftest import EXAMPLES

LARKFIELD = str(EXAMPLES / "larkfield-five-restored.chassis")

# A stage by itself: every resistor has a known share. hold B 200 V; 100K over 100K.
DIVIDER = """
line none
hold B 200 V
R1 100K 1 W 10%: B to MIDDLE
R2 100K 1 W 10%, measured 100K: MIDDLE to CHASSIS
"""


def run(*arguments: str, stdin: str | None = None) -> Result:
    return CliRunner().invoke(app, list(arguments), input=stdin)


def test_the_shares_of_a_divider_are_those_of_the_hand_sum() -> None:
    """R1 10 %: 200 x 100/(90+100) = 105.26 and 200 x 100/(110+100) = 95.24 V (divider rule)."""
    (found,) = because(read(DIVIDER), ["MIDDLE"], NO_METER)
    by_ref = {c.ref: c for c in found.causes}
    assert found.volts == pytest.approx(100)
    assert by_ref["R1"].low_v == pytest.approx(105.263, abs=1e-3)
    assert by_ref["R1"].high_v == pytest.approx(95.238, abs=1e-3)
    wide, narrow = 105.263 - 95.238, 200 * (102 / 202 - 98 / 198)  # measured: 2 %
    assert by_ref["R2"].share == pytest.approx(narrow**2 / (narrow**2 + wide**2), rel=1e-3)
    assert found.causes[0].ref == "R1"
    assert sum(c.share or 0 for c in found.causes) == pytest.approx(1)


def test_an_end_is_what_a_text_with_that_value_gives(larkfield: Chassis) -> None:
    """R10 at +10 % against the same set with the value changed in the chassis."""
    rows = {c.ref: c for c in causes(Circuit(larkfield).operating, NOMINAL, "B2")}
    parts = []
    for part in larkfield.parts:
        if part.ref == "R10":
            value = part.description.values["resistance"]
            changed = replace(value, amounts=(value.si * 1.1,))
            words = {**part.description.values, "resistance": changed}
            part = replace(part, description=replace(part.description, values=words))  # noqa: PLW2901
        parts.append(part)
    moved = Circuit(replace(larkfield, parts=tuple(parts))).operating.point().volts("B2")
    assert rows["R10"].high_v == pytest.approx(moved, abs=1e-3)


def test_a_tubes_ends_are_its_states(larkfield: Chassis) -> None:
    operating = Circuit(larkfield).operating
    rows = {c.what: c for c in causes(operating, NOMINAL, "V3.plate")}
    (row,) = [c for what, c in rows.items() if what.startswith("V3 current")]
    low = operating.point(State("low", emission=(("V3", 0.8),))).volts("V3.plate")
    assert row.low_v == pytest.approx(low, abs=1e-6)


def test_the_causes_together_make_the_band(larkfield: Chassis) -> None:
    """Uniform causes add as variances; nine of ten then lie within 1.645 deviations (normal law).

    The band is of 400 draws and not quite straight: a fifth is allowed.
    """
    operating = Circuit(larkfield).operating
    for net in ("V3.plate", "KOUT", "B2"):
        rows = causes(operating, NOMINAL, net)
        spread = sum((c.high_v - c.low_v) ** 2 / 12 for c in rows if c.high_v and c.low_v)
        band = voltage_band(operating, NOMINAL, [net])
        assert band.high[net] - band.low[net] == pytest.approx(2 * 1.645 * spread**0.5, rel=0.2)


@pytest.mark.slow
def test_the_band_against_four_thousand_solves(larkfield: Chassis) -> None:
    """Percentiles of the 400 draws within 10 % of the width of 4,000 full solves drawn here.

    Drawn anew: other numbers, parts by what their text says, 400 supplies (line, R11 across the
    lamp, reservoir C1A, rectifier) that share nothing with the steps of the band.
    """
    operating = Circuit(larkfield).operating
    nets = ["B1", "B2", "KOUT", "V3.plate", "AVC"]
    rng = np.random.default_rng(1938)
    reach = {"T2": 0.1}
    for part in larkfield.of_kind("resistor"):
        measured = part.measured is not None
        reach[part.ref] = 0.02 if measured else part.description.number("tolerance") or 0.2
    ahead = {"R11": reach.pop("R11"), "C1A": 0.2}
    supplies = [
        (
            float(rng.uniform(117 * 0.9, 117 * 1.1)),
            tuple(Edit("scale", ref, 1 + r * rng.uniform(-1, 1)) for ref, r in ahead.items()),
            ("V5", 1 + 0.2 * rng.uniform(-1, 1)),
        )
        for _ in range(400)
    ]
    tubes = ["V1", "V2", "V3", "V4"]
    states = [
        State(
            f"own draw {k}",
            line_v=supplies[k % 400][0],
            edits=supplies[k % 400][1]
            + tuple(Edit("scale", ref, 1 + r * rng.uniform(-1, 1)) for ref, r in reach.items()),
            emission=(*((t, 1 + 0.2 * rng.uniform(-1, 1)) for t in tubes), supplies[k % 400][2]),
            contact_shift_v=tuple((t, 0.2 * rng.uniform(-1, 1)) for t in tubes),
            grid_shift_v=tuple((t, 0.15 * rng.uniform(-1, 1)) for t in tubes),
        )
        for k in range(4000)
    ]
    points = operating.points(states)
    few = voltage_band(Circuit(larkfield).operating, NOMINAL, nets)
    for net in nets:
        low, high = np.percentile([p.volts(net) for p in points], (5, 95))
        assert abs(few.low[net] - low) <= 0.1 * (high - low), net
        assert abs(few.high[net] - high) <= 0.1 * (high - low), net


@pytest.mark.parametrize(
    ("ref", "was", "now"),
    [
        ("R10", "R10  1.2K", "R10  1.32K"),
        ("R12", "R12  150 ohm", "R12  165 ohm"),  # at the line's neutral, and no part of its path
        ("R11", "R11  150 ohm", "R11  180 ohm"),  # ahead of the rectifier
        ("C1A", "C1A  33 mfd", "C1A  39.6 mfd"),  # the reservoir
        ("R7", "measured 531K", "measured 541.62K"),  # 2 % of the meter
    ],
)
def test_the_upper_end_of_a_cause_is_the_edited_text(ref: str, was: str, now: str) -> None:
    text = Path(LARKFIELD).read_text(encoding="utf-8")
    assert text.count(was) == 1
    nets = ("B1", "B2", "KOUT", "V3.plate")
    operating, edited = Circuit(read(text)).operating, Circuit(read(text.replace(was, now)))
    for net in nets:
        (row,) = [c for c in causes(operating, NOMINAL, net) if c.ref == ref]
        assert row.high_v == pytest.approx(edited.operating.point().volts(net), abs=2e-3)


@pytest.mark.parametrize("supposed", [(), ("V4 pulled",), ("V4 weak",), ("C14 leaks 2M",)])
def test_what_a_cause_moves_is_the_reading_of_the_chart(
    supposed: tuple[str, ...], larkfield: Chassis
) -> None:
    """Also where a pulled tube darkens the whole string."""
    meter = meter_of("20k/V:250V")
    chart = voltage_chart(larkfield, meter, supposed, band=False)
    for name in ("V3.plate", "KOUT", "B2"):
        (found,) = because(larkfield, [name], meter, supposed)
        (node,) = [n for n in chart.nodes if n.name == found.node]
        assert found.volts == pytest.approx(node.volts, abs=1e-9)


def test_nothing_is_told_of_a_text_that_was_not_read_whole() -> None:
    chassis = read(DIVIDER + "R3 100K: MIDDLE to\n")
    assert not chassis.was_read
    (found,) = because(chassis, ["MIDDLE"], NO_METER)
    printed = as_printed(chassis)
    assert found.volts is None
    assert not found.causes
    assert not printed.volts
    assert "could not be read" in found.reason
    assert "could not be read" in printed.reason


def test_a_node_of_the_line_is_not_told(larkfield: Chassis) -> None:
    (found,) = because(larkfield, ["LINE"], NO_METER)
    assert found.volts is None
    assert "line" in found.reason
    assert as_printed(larkfield).volts.get("LINE") is None


def test_a_name_that_is_not_there_gets_the_nearest(larkfield: Chassis) -> None:
    with pytest.raises(NotUnderstood, match=r"did you mean V3\.plate|V3\.PLATE"):
        because(larkfield, ["V3.plat"], NO_METER)


def test_a_node_without_dc_says_so(larkfield: Chassis) -> None:
    (found,) = because(larkfield, ["VC"], NO_METER)
    assert found.volts is None
    assert found.reason


# --- as printed


def test_the_meter_of_the_day_pulls_as_the_circuit_says() -> None:
    """1M over 1M from 200 V on 250 kohm: 200 x (1M || 250K) / (1M + 1M || 250K) = 33.3 V."""
    text = "line none\nhold B 200 V\nR1 1M 1 W: B to X\nR2 1M 1 W: X to CHASSIS\n"
    printed = as_printed(read(text))
    assert printed.volts["X"] == pytest.approx(200 * 200e3 / 1.2e6, rel=1e-6)
    chart = voltage_chart(read(text), meter_of("11M"), band=False)
    (node,) = [n for n in chart.nodes if n.name == "X"]
    # 11 M: 200 x (1M || 11M) / (1M + 1M || 11M) = 95.65 V
    assert node.volts == pytest.approx(200 * 916666.7 / 1916666.7, rel=1e-6)


def test_a_grid_leak_of_ten_megohm_is_pulled_to_nothing_by_the_meter_of_its_day(
    larkfield: Chassis,
) -> None:
    """The meter on its 10 V range is 10K, on 250 V 250K: so is a resistor put into the text."""
    text = Path(LARKFIELD).read_text(encoding="utf-8")
    as_was = text.replace(", measured 531K", "").replace(", measured 11.1 meg", "")
    as_was = as_was.replace("C1A  33 mfd", "C1A  30 mfd")
    assert as_was.count("measured") == text.count("measured") - 2
    printed = as_printed(larkfield)
    for net, ohm in (("VOLGRID", "10K"), ("V3.plate", "250K"), ("KOUT", "10K"), ("B1", "250K")):
        turned = at_maximum(read(as_was)).chassis
        chassis = read(as_was + f"R99 {ohm}: {net} to B-\n")
        loaded = Circuit(at_maximum(chassis).chassis).operating.point().volts(net)
        alone = Circuit(turned).operating.point().volts(net)
        assert printed.volts[net] == pytest.approx(loaded, abs=1e-3)
        assert loaded is not None
        assert alone is not None
        if net == "VOLGRID":  # next to nothing is left of the rest of the grid
            assert alone < -0.6
            assert -0.2 < loaded < 0


def test_another_tube_and_a_held_rail_are_told_to_be_of_today() -> None:
    text = """
line none
hold B 200 V
V1 6V6GT, replaces 6F6: plate B, g2 B, g1 CHASSIS, cathode K, heater H1 to H2
R1 270 ohm, measured 290 ohm: K to CHASSIS
"""
    printed = as_printed(read(text))
    assert printed.kept == ("V1 6V6GT (was 6F6)", "B held at 200 V")
    assert [(c.part, c.then, c.now) for c in printed.changed] == [("R1", "270 ohm", "290 ohm")]
    moved = as_printed(read(text.replace(", measured 290 ohm", "")))
    assert printed.volts == moved.volts


def test_a_selenium_stack_goes_back_in_place_of_silicon() -> None:
    text = (EXAMPLES / "pennick-phonograph-restored.chassis").read_text(encoding="utf-8")
    was = "silicon 1000 V 1 A, replaces selenium 130 VAC 100 mA"
    assert text.count(was) == 1
    printed = as_printed(read(text))
    told = {each.part: (each.then, each.now) for each in printed.changed}
    assert told["CR1"] == ("selenium", "silicon")
    assert "C11" not in told  # a bypass: direct current does not see it
    never = as_printed(read(text.replace(was, "selenium 130 VAC 100 mA")))
    silicon = as_printed(read(text.replace(was, "silicon 1000 V 1 A")))
    assert printed.volts == never.volts
    assert (silicon.volts["B1"] or 0) - (printed.volts["B1"] or 0) > 3.0


def test_printed_values_are_those_of_the_sheet(larkfield: Chassis) -> None:
    printed = as_printed(larkfield)
    told = {each.part: (each.then, each.now) for each in printed.changed}
    assert told["R7"] == ("470K", "531K")
    assert "R2" not in told  # a new part of the same value


def test_a_whole_meter_holds_for_every_reading() -> None:
    text = "line none\nhold B 200 V\nR1 1M 1 W: B to X\nR2 1M 1 W: X to CHASSIS\n"
    printed = as_printed(read(text), "20k/V:250V")  # 5 megohm
    assert printed.volts["X"] == pytest.approx(200 / (1 + (1 / 1e6 + 1 / 5e6) * 1e6), rel=1e-6)
    with pytest.raises(NotUnderstood):
        as_printed(read(text), "none")


def test_text_and_json_of_both() -> None:
    schema = json.loads(run("volts", "--schema").stdout)
    asked = [LARKFIELD, "--no-band", "--line", "124", "--beside", "--because", "V3.plate"]
    whole = json.loads(run("volts", *asked, "--as", "json").stdout)
    Draft202012Validator(schema).validate(whole)
    assert whole["printed"]["line_volts"] == 117
    assert whole["because"][0]["node"] == "V3.plate"
    shares = [c["share"] for c in whole["because"][0]["causes"]]
    assert np.isclose(sum(shares), 1)
    text = run("volts", *asked).stdout
    assert max(width(line) for line in text.split("\n")) <= 78
    assert "As printed in its day" in text
    assert "Because  V3.plate" in text
    assert run("volts", LARKFIELD, "--because", "V33").exit_code == 2
