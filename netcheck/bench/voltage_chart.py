"""The voltage chart: per tube and pin, with the meter that will be used, in the state asked for.

Belongs here: the chart as plain objects, and the order of its making. Does not belong here:
solving (circuit/), reading options (asked.py, suppose.py), the look (output/).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from netcheck.bench.asked import USUAL_METER, Meter
from netcheck.bench.controls import at_maximum
from netcheck.bench.suppose import Supposed, suppose
from netcheck.chassis import Chassis
from netcheck.circuit.states import switch_positions
from netcheck.findings import Assumed, NotSolved

__all__ = [
    "Conditions", "CurrentRow", "ElectrodeRow", "NodeRow", "SupplyRow", "TubeRow", "VoltageChart",
    "voltage_chart",
]  # fmt: skip

NOT_READ: Final = (
    "the text could not be read whole, and what is not known may carry current: `netcheck lint`"
    " tells what to correct"
)


@dataclass(frozen=True, slots=True)
class Conditions:
    """What holds for a whole chart.

    `line_v` volts rms (None: no line), `line_low_v` and `line_high_v` what its band takes in;
    `turned` are controls at maximum with the net their wiper is on, `halfway` those left at
    mid-rotation. `oscillator` is None in a set without a converter.
    """

    line_v: float | None
    line_low_v: float | None
    line_high_v: float | None
    hertz: float | None
    meter: Meter
    switches: Mapping[str, str]
    turned: tuple[tuple[str, str], ...] = ()
    halfway: tuple[str, ...] = ()
    oscillator: str | None = None
    supposed: tuple[str, ...] = ()
    band_draws: int = 0
    band_settled: int = 0


@dataclass(frozen=True, slots=True)
class NodeRow:
    """A node: volts as the meter reads them, None where nothing gives it any.

    `ac_v` is what the line puts on it (its direct volts are then not told); `floating`: only
    insulation, or the meter itself, holds it.
    """

    name: str
    also: tuple[str, ...]
    volts: float | None
    low: float | None = None
    high: float | None = None
    floating: bool = False
    ac_v: float | None = None


@dataclass(frozen=True, slots=True)
class ElectrodeRow:
    """An electrode on its socket pin: its node, and the amperes into it (without the meter)."""

    name: str
    pin: str | None
    node: NodeRow | None
    amperes: float | None = None


@dataclass(frozen=True, slots=True)
class TubeRow:
    """A tube: its electrodes, watts of plate and screen to cathode, volts of its heater.

    `condition` is empty, `pulled`, `cold` or `weak`.
    """

    ref: str
    type: str
    electrodes: tuple[ElectrodeRow, ...]
    plate_w: float | None = None
    screen_w: float | None = None
    heater_v: float | None = None
    heater_pins: tuple[str, ...] = ()
    condition: str = ""


@dataclass(frozen=True, slots=True)
class CurrentRow:
    """Amperes that flow from a node into a part at one of its terminals (without the meter)."""

    part: str
    terminal: str
    node: str
    amperes: float


@dataclass(frozen=True, slots=True)
class SupplyRow:
    """A rectifier supply at its load; `line_rms_a` is what the whole set draws from the line."""

    rectifier: str
    plus: str
    minus: str
    dc_v: float
    dc_a: float
    ripple_v: float | None
    no_load_v: float | None
    peak_inverse_v: float | None
    line_rms_a: float | None


@dataclass(frozen=True, slots=True)
class VoltageChart:
    """A voltage chart.

    Where `solved` is False, `reason` and `unsettled` say why, and no figure is told.
    """

    file: str
    title: str
    conditions: Conditions
    measure_from: str | None
    solved: bool
    reason: str = ""
    unsettled: tuple[str, ...] = ()
    nodes: tuple[NodeRow, ...] = ()
    tubes: tuple[TubeRow, ...] = ()
    currents: tuple[CurrentRow, ...] = ()
    supplies: tuple[SupplyRow, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    remarks: tuple[str, ...] = field(default=())


def voltage_chart(
    chassis: Chassis,
    meter: Meter = USUAL_METER,
    supposed: Iterable[str] = (),
    band: bool = True,
) -> VoltageChart:
    """The voltage chart of a set.

    Args:
        chassis: the set; its line is the one the chart is for (see `asked.with_line`).
        meter: the voltmeter, connected to one node at a time.
        supposed: what differs from the text, in words (see `suppose.suppose`).
        band: whether to draw the low and high of every figure.

    Raises:
        NotUnderstood: a supposition cannot be read.
    """
    changed = suppose(chassis, supposed)
    controls = at_maximum(changed.chassis)
    changed = replace(changed, chassis=controls.chassis)
    conditions = _conditions(changed, meter)
    conditions = replace(conditions, turned=controls.turned, halfway=controls.halfway)
    empty = VoltageChart(chassis.file, chassis.title, conditions, chassis.measure_from, False)
    if not chassis.was_read:
        return replace(empty, reason=NOT_READ)
    # numpy comes with the solver; a set that was not read does not need it
    from netcheck.bench.charting import filled

    try:
        return filled(empty, chassis, changed, band)
    except NotSolved as fault:
        return replace(empty, reason=fault.reason, unsettled=fault.nodes)


def _conditions(changed: Supposed, meter: Meter) -> Conditions:
    line = changed.chassis.line
    volts = line.volts if line is not None else None
    return Conditions(
        line_v=volts,
        line_low_v=None if volts is None or line is None else volts * (1 - line.tolerance.below),
        line_high_v=None if volts is None or line is None else volts * (1 + line.tolerance.above),
        hertz=None if volts is None or line is None else line.hertz,
        meter=meter,
        switches=switch_positions(changed.chassis),
        supposed=changed.said,
    )
