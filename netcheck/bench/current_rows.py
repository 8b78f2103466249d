"""Currents of a chart, part by part and terminal by terminal, so that anybody can add them up.

Belongs here: rows of amperes out of a solved point. Does not belong here: volts (charting.py).
"""

from __future__ import annotations

from netcheck.bench.voltage_chart import CurrentRow
from netcheck.circuit.direct_parts import LEAK_OHM
from netcheck.circuit.operating import Point

__all__ = ["INSULATION", "current_rows"]

INSULATION = "insulation"
"""Stands for a part in the rows: what leaks from nets that nothing else holds."""


def current_rows(point: Point) -> tuple[CurrentRow, ...]:
    """Every part's currents by terminal; those of a tube and its filament are added.

    Insulation carries some nanoamperes from what nothing else joins to the reference.
    """
    found: dict[tuple[str, str, str], float] = {}

    def add(part: str, terminal: str, node: str, amperes: float) -> None:
        key = (part, terminal, node)
        found[key] = found.get(key, 0.0) + amperes

    for branch, amperes in point.branch_amperes:
        add(branch.ref, branch.terminals[0], branch.a, amperes)
        add(branch.ref, branch.terminals[1], branch.b, -amperes)
    for tube in point.tubes.values():
        for each in tube.electrodes:
            add(tube.ref, each.name, each.net, each.amperes)
    if point.model.leaks is not None:
        *leaking, reference = (point.model.nets[node] for node in point.model.leaks.nodes)
        for net in leaking:
            amperes = (point.between(net, reference) or 0.0) / LEAK_OHM
            add(INSULATION, "a", net, amperes)
            add(INSULATION, "b", reference, -amperes)
    for supply in point.supplies:
        name = supply.source.refs[0]
        add(name, "output", supply.source.plus, -supply.amperes)
        add(name, "return", supply.source.minus, supply.amperes)
    return tuple(CurrentRow(*key, amperes) for key, amperes in found.items())
