"""Why a reading has the band it has: the causes of one node's spread, by the name a user writes.

Belongs here: from a name to a node, the state of the chart, rows. Does not belong here: solving
(circuit/causes.py), the look (output/).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from netcheck.bench.asked import Meter, NotUnderstood
from netcheck.bench.controls import at_maximum
from netcheck.bench.suppose import suppose
from netcheck.bench.voltage_chart import NOT_READ
from netcheck.chassis import Chassis
from netcheck.findings import NotSolved
from netcheck.language.mistakes import nearest

if TYPE_CHECKING:
    from netcheck.bench.on_bench import Bench
    from netcheck.circuit.causes import Cause

__all__ = ["Because", "because"]


@dataclass(frozen=True, slots=True)
class Because:
    """The causes of one node's spread; `volts` is what the meter reads, `reason` why none are."""

    name: str
    node: str
    volts: float | None
    causes: tuple[Cause, ...] = ()
    reason: str = ""


def because(
    chassis: Chassis, names: Iterable[str], meter: Meter, supposed: Iterable[str] = ()
) -> tuple[Because, ...]:
    """The causes of each named node or electrode (`B2`, `V4.plate`), in the state of the chart.

    Raises:
        NotUnderstood: a name is not in the set (says the nearest one), or a supposition cannot be
            read.
    """
    nodes = [(name, _node(chassis, name)) for name in names]
    changed = suppose(chassis, supposed)
    changed = replace(changed, chassis=at_maximum(changed.chassis).chassis)
    if not chassis.was_read:
        return tuple(Because(name, node, None, reason=NOT_READ) for name, node in nodes)
    from netcheck.bench.on_bench import on_bench

    try:
        bench = on_bench(chassis, changed)
    except NotSolved as fault:
        return tuple(Because(name, node, None, reason=fault.reason) for name, node in nodes)
    return tuple(_told(bench, name, node, meter.ohm) for name, node in nodes)


def _told(bench: Bench, name: str, node: str, meter_ohm: float | None) -> Because:
    from netcheck.bench.on_bench import line_volts_of, metered
    from netcheck.circuit.causes import causes

    model = bench.point.model
    volts = bench.point.volts(node)
    if line_volts_of(bench, [node]):
        return Because(name, node, None, reason="it carries the line; its DC volts are not told")
    if volts is None or (meter_ohm is None and node in model.floating):
        return Because(name, node, None, reason="nothing gives this node DC volts")
    try:
        if meter_ohm is not None:
            volts = metered(bench, {node: meter_ohm})[node]
        rows = causes(bench.circuit.operating, bench.state, node, meter_ohm)
    except NotSolved as fault:
        return Because(name, node, None, reason=fault.reason)
    return Because(name, node, volts, rows)


def _node(chassis: Chassis, name: str) -> str:
    """The chief name of the node that a name means, in any letters, capital or small."""
    known: dict[str, tuple[str, str]] = {}
    for part in chassis.parts:
        for terminal in part.terminals:
            if not terminal.unused:
                own = f"{part.ref}.{terminal.name}"
                known[own.casefold()] = (own, chassis.net(terminal.node))
    for net, node in chassis.nodes.items():
        known.update((each.casefold(), (each, net)) for each in (net, *node.also))
    wanted = name.strip().casefold()
    if wanted in known:
        return known[wanted][1]
    close = nearest(wanted, known)
    hint = f"; did you mean {known[close][0]}?" if close else ""
    raise NotUnderstood(f"--because {name}: no node or electrode of this set is called so{hint}")
