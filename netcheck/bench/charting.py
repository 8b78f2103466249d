"""Fills a voltage chart from solved states: the plain set, each node with the meter on it, draws.

Belongs here: which states are asked for, tubes that go cold, rows of nodes and supplies. Does not
belong here: rows of tubes (tube_rows.py), the chart's own objects (voltage_chart.py), solving.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from netcheck.bench.current_rows import current_rows
from netcheck.bench.suppose import Supposed
from netcheck.bench.tube_rows import tube_rows
from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.circuit.bands import Band, voltage_band
from netcheck.circuit.direct_parts import Branch
from netcheck.circuit.elements import Kind
from netcheck.circuit.heaters import HeaterState, heater_states
from netcheck.circuit.line_side import LEAST_LIT, LinePoint
from netcheck.circuit.pieces import pieces
from netcheck.circuit.source import Off, RectifierSource, Unknown, rectifier_sources
from netcheck.circuit.source_bias import untold_nets
from netcheck.circuit.states import State
from netcheck.findings import Assumed, NotSolved
from netcheck.language.mistakes import joined

if TYPE_CHECKING:
    from netcheck.bench.voltage_chart import NodeRow, SupplyRow, VoltageChart
    from netcheck.circuit.operating import Point

__all__ = ["filled"]

# From so many nodes that the meter pulls down on, each draw is not solved again for each of them.
MOST_METERED = 40
# A meter that changes a reading by less is not solved for again in every draw of the band.
_PULLS = 0.005
# Nets joined through this part of the meter's ohms read alike within as much.
_ALIKE = 1e-4
_LEAST_V = 1e-3
# No converter oscillates on less (from memory: battery types work down to some 30 V).
_LEAST_TO_OSCILLATE_V = 10.0
# Heaters are good for a tenth either way; beyond twice that something is wrong (common practice).
_HEATER_OFF = 0.2
_SHOWN_AC_V = 1.0


@dataclass(frozen=True)
class _Bench:
    """The set as it is on the bench: solved, with what its heaters get."""

    circuit: Circuit
    state: State
    point: Point
    line: LinePoint | NotSolved
    heaters: Mapping[str, HeaterState]
    cold: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


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
    bench = _on_bench(chassis, changed)
    model = bench.point.model
    plain = {net: bench.point.volts(net) for net in model.nets}
    reads = _with_meter(bench, plain, chart.conditions.meter.ohm)
    own = bench.circuit.chassis
    ac = _line_volts(bench, tuple(own.nodes))
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


# --- the set on the bench


def _is_fed(found: _Bench) -> bool:
    """Whether the text names anything that could feed the set, even if it is off or out."""
    wiring = found.circuit.wiring
    batteries = any(e.kind is Kind.BATTERY for e in wiring.elements)
    named = wiring.rectifiers or wiring.supply.rectified or batteries
    return bool(named or found.circuit.chassis.holds or _undriven(found))


def _on_bench(chassis: Chassis, changed: Supposed) -> _Bench:
    """Solve the set, with what follows from its supply and its heaters."""
    found = _solved(changed.chassis, changed.state)
    if changed.said:
        found = _darkened(found, chassis, changed)
    remarks = (*_undriven(found), *found.remarks, *_unlike_heaters(found))
    return _quiet(replace(found, remarks=remarks))


def _undriven(found: _Bench) -> list[str]:
    """Why a supply of the set gives nothing."""
    return [supply.reason for supply in _sources(found) if isinstance(supply, Off)]


def _sources(found: _Bench) -> tuple[RectifierSource | Off | Unknown, ...]:
    return rectifier_sources(found.circuit.wiring, found.circuit.operating.line["nominal"])


def _darkened(found: _Bench, chassis: Chassis, changed: Supposed) -> _Bench:
    """Where a supposition darkens heaters: the set without what those tubes conduct."""
    before = _lit(chassis)
    cold = [
        ref for ref, volts in before.items()
        if ref not in changed.pulled and _is_dark(found, ref, volts)
    ]  # fmt: skip
    if not cold:
        return found
    rectifiers = dict.fromkeys(e.ref for e in found.circuit.wiring.rectifiers)
    tubes = [p for p in changed.chassis.of_kind("tube") if p.body_ref in cold]
    dead = dict.fromkeys(p.ref if p.ref in rectifiers else p.body_ref for p in tubes)
    state = replace(
        changed.state, emission=(*changed.state.emission, *((ref, 0.0) for ref in dead))
    )
    remarks = [_gone_cold(cold, changed)]
    if out := [ref for ref in dead if ref in rectifiers]:
        remarks.append(f"With {joined(out, 'and')} cold, what it feeds has no supply.")
    point = found.circuit.operating.point(state)
    return replace(found, state=state, point=point, cold=tuple(cold), remarks=tuple(remarks))


def _is_dark(found: _Bench, ref: str, lit_v: float) -> bool:
    """Whether a heater that was lit gets less than half of that; one not known counts as lit."""
    state = found.heaters.get(ref)
    volts = 0.0 if state is None else state.volts
    return volts is not None and volts < LEAST_LIT * lit_v


def _quiet(found: _Bench) -> _Bench:
    """The set with its oscillator dead where no converter has the volts to oscillate."""
    tubes = found.point.model.tubes
    converting = [t for t in tubes.tubes if t.law.swing is not None] if tubes is not None else []
    if not converting or found.state.oscillator == "dead":
        return found
    for tube in converting:
        own = found.point.tubes[tube.ref]
        if max(e.volts for e in own.electrodes) - own.cathode_v > _LEAST_TO_OSCILLATE_V:
            return found
    state = replace(found.state, oscillator="dead")
    said = (
        f"{joined([t.ref for t in converting], 'and')} has no plate supply: its oscillator is dead."
    )
    point = found.circuit.operating.point(state)
    return replace(found, state=state, point=point, remarks=(*found.remarks, said))


def _unlike_heaters(found: _Bench) -> Iterator[str]:
    """A heater at the wrong volts: the chart has its tube as if it were at the right ones."""
    for ref, state in found.heaters.items():
        volts, share = state.volts, state.share
        if not volts or share is None or ref in found.cold or abs(share - 1) <= _HEATER_OFF:
            continue
        yield (
            f"The heater of {ref} gets {volts:.3g} V of its {state.rated_v:.3g} V; the figures"
            " are those of a tube at its right heat."
        )


def _solved(chassis: Chassis, state: State) -> _Bench:
    circuit = Circuit(chassis)
    point = circuit.operating.point(state)
    return _Bench(circuit, state, point, *_heated(circuit, point))


def _heated(
    circuit: Circuit, point: Point | None
) -> tuple[LinePoint | NotSolved, Mapping[str, HeaterState]]:
    """The line side beside an operating point, and the heaters."""
    line: LinePoint | NotSolved
    try:
        line = circuit.line_side.beside(point)
    except NotSolved as fault:
        line = fault
    return line, heater_states(circuit.wiring, line, point)


def _line_volts(bench: _Bench, nets: Sequence[str]) -> dict[str, float]:
    """AC volts of nets against where is measured from, of those that the line reaches."""
    found: dict[str, float] = {}
    if isinstance(bench.line, NotSolved) or not bench.line.network.hertz:
        return found
    for net in nets:
        volts = bench.line.volts(net, bench.point.model.reference)
        if volts is not None and volts >= _SHOWN_AC_V:
            found[net] = volts
    return found


def _lit(chassis: Chassis) -> dict[str, float]:
    """Heater volts of the set as its text says it, of the tubes that something computed lights."""
    circuit = Circuit(chassis)
    point = None if circuit.unsolved is not None else circuit.operating.point()
    _, heaters = _heated(circuit, point)
    return {ref: v for ref, each in heaters.items() if (v := each.volts) and v > _LEAST_V}


def _gone_cold(cold: Sequence[str], changed: Supposed) -> str:
    why = f"With {joined(changed.pulled, 'and')} out of its socket" if changed.pulled else "So"
    one = len(cold) == 1
    return (
        f"{why}, the {'heater' if one else 'heaters'} of {joined(cold, 'and')}"
        f" {'gets' if one else 'get'} less than half of the right volts: taken as cold, without"
        " emission."
    )


def _oscillator(bench: _Bench) -> str | None:
    tubes = bench.point.model.tubes
    if tubes is None:
        return None
    converting = [t.ref for t in tubes.tubes if t.law.swing is not None]
    if not converting:
        return None
    return "dead" if all(ref in bench.cold for ref in converting) else bench.state.oscillator


# --- the meter and the band


def _with_meter(
    bench: _Bench, plain: Mapping[str, float | None], ohm: float | None
) -> dict[str, float | None]:
    """What the meter reads at each net, each solved anew with the meter connected there."""
    if ohm is None:
        floating = bench.point.model.floating
        return {net: None if net in floating else v for net, v in plain.items()}
    nodes = bench.circuit.chassis.nodes
    nets = [net for net, volts in plain.items() if volts is not None and net in nodes]
    states = [
        replace(bench.state, name=f"{bench.state.name}, meter at {net}", meter=(net, ohm))
        for net in nets
    ]
    points = bench.circuit.operating.points(states)
    reads: dict[str, float | None] = dict.fromkeys(plain)
    reads.update((net, point.volts(net)) for net, point in zip(nets, points, strict=True))
    return reads


def _band(
    bench: _Bench,
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
    bench: _Bench,
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


def _supplies(bench: _Bench) -> tuple[SupplyRow, ...]:
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


def _line_a(bench: _Bench) -> float | None:
    """Rms amperes from the line, None without an AC line or where some part of it is unknown."""
    from netcheck.circuit.line_current import line_current

    volts = bench.circuit.operating.line["nominal"]
    drawing = [each for each in bench.point.supplies if each.amperes > 0.0]
    if volts is None or isinstance(bench.line, NotSolved) or not bench.line.network.hertz:
        return None
    found = line_current(bench.circuit.wiring, drawing, volts)
    if isinstance(found, str) or found.left_out:
        return None
    return found.rms_a if math.isfinite(found.rms_a) else None


def _assumed(bench: _Bench) -> tuple[Assumed, ...]:
    return tuple(dict.fromkeys((*bench.point.model.assumed, *bench.circuit.assumed)))
