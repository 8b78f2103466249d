"""Which heaters are lit and at what volts, because a cold tube conducts nothing.

Belongs here: volts across each heater, from the line's AC and from the direct currents of the
operating point. Does not belong here: those currents themselves, warm-up, emission.

Heaters are taken at their rated ohms: within a tenth of the rated volts that is good to some
percent (tungsten law, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.operating import Point
from netcheck.circuit.source_network import Branch, seen_from
from netcheck.circuit.source_side import line_branches
from netcheck.circuit.source_windings import winding_source
from netcheck.circuit.wiring import Wiring

__all__ = ["LEAST_LIT", "heater_volts", "line_network", "line_volts_at"]

LEAST_LIT = 0.5
"""Below half its volts a heater gives no emission to speak of (common practice, no source)."""


def line_network(wiring: Wiring, line_v: float | None) -> tuple[Branch, ...]:
    """The line, the windings and what they drive but rectifiers; () without an AC line."""
    line = wiring.chassis.line
    if line is None or line_v is None or not line.hertz:
        return ()
    side = line_branches(wiring, line_v)
    found = [] if isinstance(side, str) else list(side)
    for winding in wiring.supply.windings:
        if winding.driven:
            continue
        made = winding_source(wiring, winding.ref, winding.path, side, None)
        if not isinstance(made, str):
            found += made.branches
    return tuple(found)


def line_volts_at(network: Sequence[Branch], nets: Sequence[str], common: str) -> dict[str, float]:
    """AC volts of nets against `common`, of those that the line reaches."""
    on = {net for branch in network for net in (branch.a, branch.b)}
    found = {}
    for net in nets:
        if net in on and net != common:
            seen = seen_from(network, [net], common)
            if seen is not None and not seen.doubtful:
                found[net] = abs(float(seen.volts[0]))
    return found


def heater_volts(
    wiring: Wiring, network: Sequence[Branch], point: Point | None
) -> Mapping[str, float]:
    """Volts across the heater of each tube that anything computed drives, by bulb.

    Args:
        wiring: the set.
        network: what `line_network` gave.
        point: the operating point, for heaters fed with direct current.
    """
    direct = {} if point is None else _direct(point)
    sections: dict[str, list[tuple[Element, float]]] = {}
    for element in wiring.elements:
        part = wiring.chassis.part(element.ref)
        if element.kind is not Kind.HEATER or part is None or part.kind != "tube":
            continue
        ac = _across(network, element)
        dc = direct.get((element.ref, element.terminals), 0.0)
        sections.setdefault(part.body_ref, []).append((element, math.hypot(ac, dc)))
    return {ref: _whole(own) for ref, own in sections.items()}


def _whole(sections: Sequence[tuple[Element, float]]) -> float:
    """Volts across a heater: of its sections in series, or of one where they are in parallel."""
    volts = [each for _, each in sections]
    parallel = len(sections) > 1 and sections[0][0].a == sections[-1][0].b
    return max(volts) if parallel else sum(volts)


def _across(network: Sequence[Branch], heater: Element) -> float:
    seen = seen_from(network, [heater.a], heater.b)
    return 0.0 if seen is None or seen.doubtful else abs(float(seen.volts[0]))


def _direct(point: Point) -> dict[tuple[str, tuple[str, str]], float]:
    return {
        (branch.ref, branch.terminals): abs(point.between(branch.a, branch.b) or 0.0)
        for branch in point.model.branches
        if branch.kind is Kind.HEATER
    }
