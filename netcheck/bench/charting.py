"""Fills a voltage chart from solved states: the plain set, each node with the meter on it, draws.

Belongs here: which states are asked for, rows of nodes and supplies. Does not belong here: the set
on the bench (on_bench.py), rows of tubes (tube_rows.py), a chart's own objects (voltage_chart.py).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from netcheck.bench.current_rows import current_rows
from netcheck.bench.on_bench import Bench, line_volts_of, metered, on_bench, undriven
from netcheck.bench.suppose import Supposed
from netcheck.bench.tube_rows import tube_rows
from netcheck.chassis import Chassis
from netcheck.circuit.bands import Band, voltage_band
from netcheck.circuit.direct_parts import Branch
from netcheck.circuit.elements import Kind
from netcheck.circuit.pieces import pieces
from netcheck.circuit.source import Off, RectifierSource, Unknown, rectifier_sources
from netcheck.circuit.source_untold import untold_nets
from netcheck.findings import Assumed, NotSolved

if TYPE_CHECKING:
    from netcheck.bench.voltage_chart import NodeRow, SupplyRow, VoltageChart

__all__ = ["filled"]

# From so many nodes that the meter pulls down on, each draw is not solved again for each of them.
MOST_METERED = 40
# A meter that changes a reading by less is not solved for again in every draw of the band.
_PULLS = 0.005
# Nets joined through this part of the meter's ohms read alike within as much.
_ALIKE = 1e-4
_LEAST_V = 1e-3


def filled(chart: VoltageChart, chassis: Chassis, changed: Supposed, band: bool) -> VoltageChart:
    """The chart with its figures.

    Args:
        chart: the chart with its conditions.
        chassis: the set as its text says it.
        changed: the set as supposed.
        band: whether to draw low and high.

    Raises:
        NotSolved: a state did not settle, or the text lacks something that decides.
    """
    bench = on_bench(chassis, changed)
    model = bench.point.model
    plain = {net: bench.point.volts(net) for net in model.nets}
    reads = _with_meter(bench, plain, chart.conditions.meter.ohm)
    own = bench.circuit.chassis
    ac = line_volts_of(bench, tuple(own.nodes))
    reads |= dict.fromkeys(untold_nets(bench.circuit.wiring, _sources(bench)))
    drawn = _band(bench, plain, reads, chart.conditions.meter.ohm) if band else None
    nodes = _nodes(bench, reads, drawn, ac)
    conditions = replace(
        chart.conditions,
        oscillator=_oscillator(bench),
        band_draws=drawn.draws if drawn else 0,
        band_settled=drawn.settled if drawn else 0,
    )
    if not _is_fed(bench):
        raise NotSolved("nothing in this set gives any node a voltage")
    return replace(
        chart,
        solved=True,
        conditions=conditions,
        measure_from=model.reference,
        nodes=tuple(nodes.values()),
        tubes=tube_rows(chassis, changed, bench.circuit, bench.point, nodes, bench.heaters,
                        bench.cold),
        currents=current_rows(bench.point),
        supplies=_supplies(bench),
        assumed=_assumed(bench),
        remarks=bench.remarks,
    )  # fmt: skip


def _is_fed(found: Bench) -> bool:
    """Whether the text names anything that could feed the set, even if it is off or out."""
    wiring = found.circuit.wiring
    batteries = any(e.kind is Kind.BATTERY for e in wiring.elements)
    named = wiring.rectifiers or wiring.supply.rectified or batteries
    return bool(named or found.circuit.chassis.holds or undriven(found))


def _sources(found: Bench) -> tuple[RectifierSource | Off | Unknown, ...]:
    return rectifier_sources(found.circuit.wiring, found.circuit.operating.line["nominal"])


def _oscillator(bench: Bench) -> str | None:
    tubes = bench.point.model.tubes
    if tubes is None:
        return None
    converting = [t.ref for t in tubes.tubes if t.law.swing is not None]
    if not converting:
        return None
    return "dead" if all(ref in bench.cold for ref in converting) else bench.state.oscillator


# --- the meter and the band


def _with_meter(
    bench: Bench, plain: Mapping[str, float | None], ohm: float | None
) -> dict[str, float | None]:
    """What the meter reads at each net, each solved anew with the meter connected there."""
    if ohm is None:
        floating = bench.point.model.floating
        return {net: None if net in floating else v for net, v in plain.items()}
    nodes = bench.circuit.chassis.nodes
    nets = [net for net, volts in plain.items() if volts is not None and net in nodes]
    return {**dict.fromkeys(plain), **metered(bench, dict.fromkeys(nets, ohm))}


def _band(
    bench: Bench,
    plain: Mapping[str, float | None],
    reads: Mapping[str, float | None],
    ohm: float | None,
) -> Band:
    """Low and high of what the meter reads.

    Where the meter hardly pulls, and in a very large set everywhere, the draws are solved without
    it and their band is brought down by as much as the reading is.
    """
    told = [net for net, volts in reads.items() if volts is not None]
    loaded = [net for net in told if ohm is not None and _pulled(plain[net], reads[net])]
    if len(loaded) > MOST_METERED:
        loaded = []  # hundreds of parts: their band is brought down as the reading is
    chief = _joined(bench.point.model.branches, _ALIKE * (ohm or 0.0))
    loaded_chiefs = list(dict.fromkeys(chief.get(net, net) for net in loaded))
    asked = [net for net in told if net not in loaded] + loaded_chiefs
    found = voltage_band(bench.circuit.operating, bench.state, asked, ohm, loaded_chiefs)
    low, high = dict(found.low), dict(found.high)
    for side in (low, high):
        side.update((n, side[c]) for n in loaded if (c := chief.get(n, n)) in side)
    for net in set(low) - set(loaded):
        unloaded, read = plain[net], reads[net]
        if unloaded and read and abs(unloaded) > _LEAST_V:
            ends = low[net] * read / unloaded, high[net] * read / unloaded
            low[net], high[net] = min(ends), max(ends)
    return replace(found, low=low, high=high)


def _joined(branches: Sequence[Branch], most_ohm: float) -> dict[str, str]:
    """For each net one that stands for all it is joined to through at most so many ohms."""
    joined = pieces((), ((b.a, b.b) for b in branches if b.ohm <= most_ohm and not b.emf_v))
    return {net: min(piece) for piece in joined for net in piece}


def _pulled(unloaded: float | None, read: float | None) -> bool:
    if unloaded is None or read is None:
        return False
    return abs(unloaded - read) > max(_PULLS * abs(unloaded), _LEAST_V)


# --- rows


def _nodes(
    bench: Bench,
    reads: Mapping[str, float | None],
    drawn: Band | None,
    ac: Mapping[str, float],
) -> dict[str, NodeRow]:
    from netcheck.bench.voltage_chart import NodeRow

    rows = {}
    for net, node in bench.circuit.chassis.nodes.items():
        volts = None if net in ac else reads.get(net)
        told = volts is not None and drawn is not None
        rows[net] = NodeRow(
            net,
            node.also,
            volts,
            drawn.low.get(net) if told and drawn else None,
            drawn.high.get(net) if told and drawn else None,
            net in bench.point.model.floating,
            ac.get(net),
        )
    return rows


def _supplies(bench: Bench) -> tuple[SupplyRow, ...]:
    from netcheck.bench.voltage_chart import SupplyRow

    rms_a = _line_a(bench)
    rows = []
    for supply in bench.point.supplies:
        cycle = supply.cycle
        known = bool(cycle.settled.all() and cycle.deliverable.all())
        rows.append(
            SupplyRow(
                ", ".join(supply.source.refs),
                supply.source.plus,
                supply.source.minus,
                supply.volts,
                supply.amperes,
                float(cycle.ripple_v[0, 0]) if known else None,
                supply.no_load_v,
                float(cycle.peak_inverse_v[0, 0]) if known else None,
                rms_a,
            )
        )
    return tuple(rows)


def _line_a(bench: Bench) -> float | None:
    """Rms amperes from the line, None without an AC line or where some part of it is unknown."""
    from netcheck.circuit.line_current import line_current

    if isinstance(bench.line, NotSolved) or not bench.line.network.hertz:
        return None
    found = line_current(bench.line)
    if isinstance(found, str):
        return None
    return found.rms_a if math.isfinite(found.rms_a) else None


def _assumed(bench: Bench) -> tuple[Assumed, ...]:
    return tuple(dict.fromkeys((*bench.point.model.assumed, *bench.circuit.assumed)))
