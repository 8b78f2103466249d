"""The power-up plan: figures that are the chart's, lamps by the tungsten law, limits that stop."""

from __future__ import annotations

import json
import math
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from netcheck import read
from netcheck.bench.asked import NO_METER, with_line
from netcheck.bench.powerup import PowerUp, power_up
from netcheck.bench.powerup_steps import AtLine, Slow
from netcheck.bench.voltage_chart import voltage_chart
from netcheck.bench.workup import Workup
from netcheck.chassis import Chassis
from netcheck.circuit.emission import emission_share
from netcheck.cli import app
from netcheck.output.columns import width
from tests.bench.conftest import EXAMPLES

SETS = sorted(EXAMPLES.glob("*.chassis"))
LINED = ("larkfield-five-restored", "tansley-console-restored", "ellernbach-live-restored",
         "hollin-lock-in-restored", "pennick-phonograph-restored")  # fmt: skip


def run(*arguments: str, stdin: str | None = None) -> Result:
    return CliRunner().invoke(app, list(arguments), input=stdin)


@cache
def chassis_of(name: str) -> Chassis:
    path = EXAMPLES / f"{name}.chassis"
    return read(path.read_text(), str(path))


@cache
def plan_of(name: str) -> PowerUp:
    return power_up(Workup(chassis_of(name)))


@pytest.mark.parametrize("line", [None, "124"])
@pytest.mark.parametrize("name", LINED[:2])
def test_the_last_step_is_the_chart(name: str, line: str | None) -> None:
    chassis = chassis_of(name) if line is None else with_line(chassis_of(name), line)
    plan = power_up(Workup(chassis))
    chart = voltage_chart(chassis, NO_METER, band=False)
    volts = {node.name: node.volts for node in chart.nodes}
    looked = 0
    for reading in plan.stages[-1].readings:
        ends = reading.what.split(", ")[0].split(" to ")
        if len(ends) == 2 and ends[0] in volts and ends[1] in volts and reading.value is not None:
            high, low = volts[ends[0]], volts[ends[1]]
            assert high is not None
            assert low is not None
            assert reading.value == pytest.approx(high - low, rel=1e-3, abs=0.01)
            looked += 1
    assert looked >= 2


@pytest.mark.parametrize("name", LINED)
def test_at_85_percent_it_is_near_the_chart_of_that_line(name: str) -> None:
    """The chart has its tubes at their right heat, the plan at the heat of that line: a tenth."""
    slow = Slow(Workup(chassis_of(name)))
    assert slow.line_v is not None
    found = slow.at(0.85 * slow.line_v)
    assert isinstance(found, AtLine)
    chart = voltage_chart(
        with_line(chassis_of(name), f"{0.85 * slow.line_v}"), NO_METER, band=False
    )
    assert found.point.supplies[0].volts == pytest.approx(chart.supplies[0].dc_v, rel=0.1)


@pytest.mark.parametrize("name", LINED)
def test_the_supply_rises_with_the_line(name: str) -> None:
    curve = plan_of(name).curve
    assert len(curve) >= 6
    assert all(b[1] > a[1] for a, b in pairwise(curve))


@pytest.mark.parametrize(("watts", "set_v"), [(40, 82.1), (60, 95.5), (100, 107.5), (150, 113.2)])
def test_a_set_of_thirty_watts_behind_a_lamp(watts: float, set_v: float) -> None:
    """x + q x^0.58 = 1 with q = lamp W / set W at 120 V: own sum of the tungsten law.

    The set is not resistive: 5 % is allowed.
    """
    q = watts / 30
    x = next(x for x in np.linspace(0, 1, 100001) if x + q * x**0.58 >= 1)
    assert 120 * (1 - x) == pytest.approx(set_v, abs=0.1)  # the table of the sum itself
    slow = Slow(Workup(chassis_of("larkfield-five-restored")))
    (lamp,) = [each for each in slow.lamps() if each.watts == watts]
    assert lamp.set_v / 117 == pytest.approx(set_v / 120, rel=0.05)


def test_lamp_and_set_carry_the_same_current() -> None:
    slow = Slow(Workup(chassis_of("tansley-console-restored")))
    for lamp in slow.lamps():
        found = slow.at(lamp.set_v)
        if isinstance(found, AtLine) and found.rms_a is not None and lamp.set_v > 50:
            passed = lamp.watts / 120 * lamp.lamp_share**0.58
            assert passed == pytest.approx(found.rms_a, rel=0.05)


def test_emission_falls_as_the_cathode_cools() -> None:
    """Richardson's law by hand at 80 %: 1050 K x 0.8^0.395 = 961 K; 0.20 of the emission."""
    kelvin = 1050 * 0.8**0.395
    emitted = (kelvin / 1050) ** 2 * math.exp(-12765 * (1 / kelvin - 1 / 1050))
    assert emission_share(0.8) == pytest.approx(1.1 / (1 + 0.1 / emitted), rel=1e-3)
    shares = [emission_share(s / 20) for s in range(21)]
    assert shares == sorted(shares)
    assert emission_share(1.2) == 1.0
    assert emission_share(0.4) < 0.05  # nothing to speak of below half (common practice)


def test_a_set_with_findings_that_kill_is_not_to_be_powered() -> None:
    assert any("DO NOT APPLY POWER" in each for each in plan_of("larkfield-five-as-found").first)
    restored = plan_of("larkfield-five-restored").first
    assert not any("DO NOT APPLY POWER" in each for each in restored)
    assert any("isolation transformer" in each for each in restored)


def test_transformer_sets_start_without_the_rectifier() -> None:
    titles = [stage.title for stage in plan_of("tansley-console-restored").stages]
    assert titles[0].startswith("Rectifier out")
    assert titles[1].startswith("Rectifier in, other tubes out")
    assert not any("Rectifier out" in s.title for s in plan_of("larkfield-five-restored").stages)


def test_unloaded_it_does_not_go_over_its_running_volts() -> None:
    stages = {s.title.split(",")[0]: s for s in plan_of("tansley-console-restored").stages}
    alone, last = stages["Rectifier in"], plan_of("tansley-console-restored").stages[-1]
    assert (alone.readings[0].value or 0) <= (last.readings[0].value or 0)


def test_every_reading_says_when_to_stop() -> None:
    for path in SETS:
        for stage in plan_of(path.stem).stages:
            assert stage.readings
            assert all("stop" in r.stop for r in stage.readings)


def test_a_positive_grid_stops_the_job() -> None:
    (grid,) = [r for r in plan_of("larkfield-five-restored").stages[-1].readings
               if "grid" in r.what]  # fmt: skip
    assert grid.value is not None
    assert grid.value < -4
    assert "stop at -0.3 V or more positive" in grid.stop


def test_what_nothing_empties_is_told() -> None:
    kept = [d for d in plan_of("tansley-console-as-found").discharges if d.seconds is None]
    assert "C16" in {d.ref for d in kept}


def test_a_set_that_is_not_solved_gets_no_figures() -> None:
    text = "line 117 V 60 Hz\nhold B1 250 V\nV1 6V6: plate PLATE, cathode B-\nR1 ?: B1 to PLATE\n"
    found = run("powerup", "-", stdin=text)
    assert found.exit_code == 2
    assert "NOT SOLVED" in found.stdout
    assert not power_up(Workup(read(text))).stages


@pytest.mark.parametrize("path", SETS, ids=lambda path: path.stem)
def test_text_and_json_of_every_example(path: Path) -> None:
    schema = json.loads(run("powerup", "--schema").stdout)
    Draft202012Validator.check_schema(schema)
    whole = json.loads(run("powerup", str(path), "--as", "json").stdout)
    Draft202012Validator(schema).validate(whole)
    found = run("powerup", str(path))
    assert found.exit_code == 0
    assert max(width(line) for line in found.stdout.split("\n")) <= 78
    assert "lethal voltages" in found.stdout
