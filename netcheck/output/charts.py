"""The voltage chart for people: 78 columns of plain text that survive a forum post.

Belongs here: the order and look of a voltage chart. Does not belong here: its figures (bench/),
the resistance chart (charts_ohms.py), JSON (charts_machine.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from netcheck.bench.voltage_chart import (
    Conditions,
    ElectrodeRow,
    NodeRow,
    SupplyRow,
    TubeRow,
    VoltageChart,
)
from netcheck.findings import Assumed
from netcheck.output.cautions import CAUTIONS
from netcheck.output.columns import WIDTH, clipped, width, wrapped
from netcheck.output.numbers import chart_figure, figure

__all__ = [
    "assumed_lines", "caution_lines", "heading", "labelled", "padded", "resistance", "volt_lines",
]  # fmt: skip

LABEL_COLUMNS: Final = 15
_HEADER: Final = f"  {'electrode':<15}{'pin':<5}{'volts':>9}{'low':>9}{'high':>9}{'mA':>9}  node"
_NODE_HEADER: Final = f"  {'node':<20}{'volts':>9}{'low':>9}{'high':>9}"
_BAND: Final = (
    "Low and high: nine of ten sound sets lie between, drawn from the tolerances of the"
    " resistors (20 % where none is marked; where measured, what its reading names as accuracy,"
    " else 2 %), of coils and of the first filter capacitor, a spread of tubes of 20 % in current,"
    " 0.2 V in contact potential and 0.15 V in where grid current starts, and the line over its"
    " range, if it has one. Batteries, held rails, lamps and heaters are taken as stated."
)


def volt_lines(chart: VoltageChart, beside: Iterable[str] = ()) -> Iterator[str]:
    """Yield a voltage chart; of one that was not solved only what is missing, and no figure.

    `beside` are lines of what was asked for besides.
    """
    yield from heading("VOLTAGE CHART", chart.title, chart.file)
    if not chart.solved:
        yield from _unsolved(chart)
        yield from caution_lines()
        return
    yield from _conditions(chart)
    for remark in chart.remarks:
        yield from wrapped(remark, first="NOTE  ")
    yield ""
    yield _HEADER
    for tube in chart.tubes:
        yield from _tube(tube)
    yield from _other_nodes(chart)
    yield from _supplies(chart.supplies)
    yield from _marks(chart)
    yield from beside
    yield from assumed_lines(chart.assumed)
    yield from caution_lines()


def heading(paper: str, title: str, file: str) -> Iterator[str]:
    """Yield the head of a paper."""
    yield from wrapped(title or file, first=f"{paper}  ")
    if title:
        yield from wrapped(file, first="file ")
    yield "=" * WIDTH


def labelled(label: str, text: str) -> Iterator[str]:
    """Yield a text behind its label; nothing for an empty text."""
    if text:
        yield from wrapped(text, first=label.ljust(LABEL_COLUMNS))


def padded(text: str, columns: int, *, right: bool = False) -> str:
    """Return a text as shown, cut or filled with blanks to so many columns."""
    shown = clipped(text, columns)
    blanks = " " * (columns - width(shown))
    return blanks + shown if right else shown + blanks


def resistance(ohm: float) -> str:
    """Return ohms as the trade writes them.

    >>> resistance(250e3), resistance(11e6), resistance(150.0)
    ('250K', '11 meg', '150 ohm')
    """
    if ohm >= 999.5e3:
        return f"{figure(ohm * 1e-6)} meg"
    return f"{figure(ohm * 1e-3)}K" if ohm >= 999.5 else f"{figure(ohm)} ohm"


def assumed_lines(assumed: Sequence[Assumed]) -> Iterator[str]:
    """Yield what was taken for granted, if anything."""
    if not assumed:
        return
    yield ""
    yield "Assumed, because the text does not say"
    for each in assumed:
        subject = f"{each.part}: " if each.part else ""
        said = f"{subject}{each.what} {figure(each.value)} {each.unit} ({each.basis})"
        yield from wrapped(said, first="  * ")


def caution_lines() -> Iterator[str]:
    """Yield the words that end every paper."""
    yield ""
    yield "Before you touch the set"
    for caution in CAUTIONS:
        yield from wrapped(caution, first="  * ")


def _unsolved(chart: VoltageChart) -> Iterator[str]:
    yield from wrapped(f"NOT SOLVED: {chart.reason.rstrip('.')}.")
    if chart.unsettled:
        yield from wrapped(", ".join(chart.unsettled), first="did not settle  ")
    yield from wrapped("No voltage is told, because none was found that can be relied upon.")


def _conditions(chart: VoltageChart) -> Iterator[str]:
    conditions = chart.conditions
    yield from labelled("line", _line(conditions))
    yield from labelled("meter", _meter(conditions))
    yield from labelled("measured from", f"{chart.measure_from}, DC volts")
    yield from labelled("volume", _volume(conditions))
    yield from labelled("signal", "none")
    switches = ", ".join(f"{ref} {at}" for ref, at in conditions.switches.items())
    yield from labelled("switches", switches)
    yield from labelled("oscillator", conditions.oscillator or "")
    yield from labelled("supposed", "; ".join(conditions.supposed))


def _line(conditions: Conditions) -> str:
    if conditions.line_v is None:
        return "none"
    kind = f"{figure(conditions.hertz)} Hz" if conditions.hertz else "DC"
    said = f"{figure(conditions.line_v)} V {kind}"
    low, high = conditions.line_low_v, conditions.line_high_v
    if conditions.band_draws and low is not None and low != high:
        said += f" (the band takes in {figure(low)} to {figure(high)} V)"
    return said


def _meter(conditions: Conditions) -> str:
    ohm = conditions.meter.ohm
    if ohm is None:
        return "none: volts without any meter connected"
    return f"{conditions.meter.text} ({resistance(ohm)}), at one point at a time"


def _volume(conditions: Conditions) -> str:
    said = ["maximum"]
    said += [f"{ref} at {net}" for ref, net in conditions.turned]
    said += [f"{ref} halfway" for ref in conditions.halfway]
    return ", ".join(said)


def _tube(tube: TubeRow) -> Iterator[str]:
    said = [tube.condition.upper()] if tube.condition else []
    if tube.heater_v is not None:
        pins = f" (pins {', '.join(tube.heater_pins)})" if tube.heater_pins else ""
        said.append(f"heater {chart_figure(tube.heater_v, 0.005)} V{pins}")
    for name, watts in (("plate", tube.plate_w), ("screen", tube.screen_w)):
        if watts is not None and tube.condition not in ("pulled", "cold"):
            said.append(f"{name} {chart_figure(watts)} W")
    yield ""
    yield from wrapped(f"{tube.ref} {tube.type}{': ' if said else ''}{', '.join(said)}")
    for row in tube.electrodes:
        yield _electrode(row)


def _electrode(row: ElectrodeRow) -> str:
    node = row.node
    current = "" if row.amperes is None else chart_figure(row.amperes * 1e3)
    shown = (
        f"  {padded(row.name, 15)}{padded(row.pin or '-', 5)}"
        f"{_three(node)}{current:>9}  {node.name if node else '-'}"
    )
    return clipped(shown + _mark(node), WIDTH).rstrip()


def _three(node: NodeRow | None) -> str:
    """Volts, low and high in three columns of nine."""
    if node is None or (node.volts is None and node.ac_v is None):
        return f"{'-':>9}{'':>18}"
    if node.volts is None:
        return f"{figure(node.ac_v) + ' AC':>9}{'':>18}"
    shown = [node.volts, node.low, node.high]
    return "".join(f"{'' if each is None else chart_figure(each):>9}" for each in shown)


def _mark(node: NodeRow | None) -> str:
    return " *" if node is not None and node.floating else ""


def _other_nodes(chart: VoltageChart) -> Iterator[str]:
    told = {row.node.name for tube in chart.tubes for row in tube.electrodes if row.node}
    rest = [n for n in chart.nodes if n.name not in told and n.name != chart.measure_from]
    shown = [n for n in rest if n.volts is not None or n.ac_v is not None]
    if not shown:
        return
    yield ""
    yield _NODE_HEADER
    for node in shown:
        also = f"  also {', '.join(node.also)}" if node.also else ""
        yield clipped(f"  {padded(node.name, 20)}{_three(node)}{_mark(node)}{also}", WIDTH).rstrip()


def _supplies(supplies: Iterable[SupplyRow]) -> Iterator[str]:
    for supply in supplies:
        yield ""
        yield from wrapped(f"Supply  {supply.rectifier}, {supply.plus} against {supply.minus}")
        for name, value, unit in (
            ("DC", supply.dc_v, "V"),
            ("load", supply.dc_a * 1e3, "mA"),
            ("ripple", supply.ripple_v, "V peak to peak at the first capacitor"),
            ("without load", supply.no_load_v, "V"),
            ("peak inverse", supply.peak_inverse_v, "V across the rectifier"),
            ("line current", supply.line_rms_a, "A rms of the whole set"),
        ):
            shown = "not known" if value is None else f"{chart_figure(value)} {unit}"
            yield f"  {name:<13}{shown}"


def _marks(chart: VoltageChart) -> Iterator[str]:
    floating = [n.name for n in chart.nodes if n.floating]
    apart = [n.name for n in chart.nodes if n.volts is None and n.ac_v is None and not n.floating]
    yield ""
    if chart.conditions.band_draws:
        yield from wrapped(f"{_BAND} {_settled(chart.conditions)}")
    yield from wrapped("Milliamperes flow into the electrode, with no meter connected.")
    if any(n.ac_v is not None for n in chart.nodes):
        yield from wrapped(
            "AC: these points carry the line or a heater supply, in volts rms against"
            f" {chart.measure_from}; their direct voltage is not told."
        )
    if floating:
        held = "the meter alone gives them their reading" if chart.conditions.meter.ohm else "-"
        what = f"only insulation holds these{', ' + held if held != '-' else ''}: "
        yield from wrapped(what + ", ".join(floating), first="* FLOATING  ")
    if apart:
        yield from wrapped(", ".join(apart), first="No direct voltage is defined at: ", rest="  ")


def _settled(conditions: Conditions) -> str:
    if conditions.band_settled < conditions.band_draws:
        lost = conditions.band_draws - conditions.band_settled
        return f"{lost} of {conditions.band_draws} drawn sets were not solved."
    return f"{conditions.band_draws} sets were drawn."
