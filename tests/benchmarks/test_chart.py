"""The band of a chart: what 400 drawn sets cost, and how that grows with the set.

Stressed: the whole voltage chart of an invented set of 120 parts, with the meter on each net that
it pulls down; the bare draws of sets of 100 and of 400 parts, in which every part differs from
every other draw's. The yardstick is a stacked numpy.linalg.solve of stated shape, timed in the same
run. What counts is processor time of this process. Left out: whether the band is right
(tests/circuit/test_bands.py, tests/bench/test_beside.py).
"""

from __future__ import annotations

from collections.abc import Callable

from netcheck.bench.voltage_chart import voltage_chart
from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.circuit.bands import DRAWS, voltage_band
from netcheck.circuit.states import NOMINAL
from netcheck.language import read

from ..circuit.generated import a_set
from ..plausible import a_plausible_set
from .test_solver import seconds, stacked

Note = Callable[[str, object], None]

# In solves of (3600, 60, 60). Measured 15 to 19; the bound leaves room for a busy machine.
CHART_BOUND = 30.0
# Of the draws, by part; measured 0.7 to 0.9.
GROWTH_BOUND = 2.0


def test_a_chart_with_its_band_costs_few_solves(record_property: Note) -> None:
    chassis = read(a_plausible_set(3, 120))
    assert 115 <= len(chassis.parts) <= 125
    charts = []
    ours = seconds(lambda: charts.append(voltage_chart(chassis)), 6)
    assert all(chart.conditions.band_settled == DRAWS for chart in charts)
    assert sum(row.low is not None for row in charts[0].nodes) > 60
    yardstick = seconds(stacked(3600))
    ratio = ours / yardstick
    record_property("chart of 120 parts [s]", f"{ours:.2f}")
    record_property("3600 solves [s]", f"{yardstick:.3f}")
    record_property(f"ratio (bound {CHART_BOUND:g})", f"{ratio:.1f}")
    assert ratio <= CHART_BOUND


def test_the_draws_of_a_part_cost_little_more_in_a_large_set(record_property: Note) -> None:
    each = []
    for parts, runs in ((100, 3), (400, 2)):
        chassis = read(a_set(29, parts))
        assert len(chassis.parts) >= 0.95 * parts

        def draw(chassis: Chassis = chassis) -> None:
            operating = Circuit(chassis).operating
            nets = operating.point().model.nets
            band = voltage_band(operating, NOMINAL, nets)
            assert band.settled == DRAWS

        taken = seconds(draw, runs)
        record_property(f"draws of {parts} parts [s]", f"{taken:.2f}")
        each.append(taken / len(chassis.parts))
    record_property(f"growth (bound {GROWTH_BOUND:g})", f"{each[1] / each[0]:.2f}")
    assert each[1] <= GROWTH_BOUND * each[0]
