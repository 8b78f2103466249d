"""Which panel of the potential map each part stands in, because a reader looks for it by stage.

Belongs here: the homes of the elements, the order of the tubes along the signal. Does not belong
here: rows, columns and labels of a panel (potential_map.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import networkx as nx

from netcheck.bench.workup import Workup
from netcheck.circuit.wiring import Element, Kind

__all__ = ["LINE", "SUPPLY", "bulb_of", "homes_of"]

SUPPLY, LINE = "supply", "heaters and line"  # panels of no single tube
_SHARED = (SUPPLY, LINE)
_LEFT_OUT = (Kind.STREAM, Kind.STRAP)


def homes_of(work: Workup) -> dict[str, list[Element]]:
    """The elements by the panel they stand in: bulbs in signal order, then supply, then line."""
    wiring = work.circuit.wiring
    order = _signal_order(work)
    near = _nearest(work, order)
    homes: dict[str, list[Element]] = {bulb: [] for bulb in order}
    homes |= {name: [] for name in _SHARED}
    lit = wiring.supply.heaters
    drawn: set[tuple[str, str, str]] = set()
    for element in wiring.elements:
        key = (element.ref, element.path, "/".join(element.terminals))
        rectifies = element in wiring.rectifiers
        if (element.kind in _LEFT_OUT and not rectifies) or element.a == element.b or key in drawn:
            continue
        drawn.add(key)
        if rectifies:
            homes["supply"].append(element)
            continue
        staged = any(net in near for net in element.nets) and element not in wiring.barrier()
        on_line = element.kind is Kind.HEATER or (not staged and _is_line(work, element))
        if on_line or (set(element.nets) <= lit | wiring.returns and set(element.nets) & lit):
            homes["heaters and line"].append(element)
            continue
        found = [near[net] for net in element.nets if net in near]
        home = min(found, key=lambda each: each[0])[1] if found else "supply"
        homes[home].append(element)
    _across_transformers(work, homes)
    return homes


def _across_transformers(work: Workup, homes: dict[str, list[Element]]) -> None:
    """Move from the supply what only a signal transformer joins to a tube: voice coil, antenna."""
    at = {e.ref: home for home, own in homes.items() for e in own if home not in _SHARED}
    coils = {p.ref for p in work.chassis.of_kind("transformer", "coil")}
    coils -= work.circuit.wiring.supply.power_refs
    rails = _rails(work)
    moved: dict[str, str] = {}  # net off the rails: the panel that reaches it
    left = list(homes["supply"])
    while True:
        found = {}
        for e in left:
            own = at.get(e.ref) if e.ref in coils and not set(e.nets) & moved.keys() else None
            own = own or next((moved[net] for net in e.nets if net in moved), None)
            if own is not None and not set(e.nets) <= rails:
                found[id(e)] = own
                moved |= dict.fromkeys(set(e.nets) - rails, own)
        if not found:
            break
        for e in left:
            if id(e) in found:
                homes[found[id(e)]].append(e)
        left = [e for e in left if id(e) not in found]
    homes["supply"] = left


def _is_line(work: Workup, element: Element) -> bool:
    """Whether an element is of the line itself: both ends on its feeds, or a bridge to metal."""
    wiring = work.circuit.wiring
    feeds = {net for feed in wiring.supply.feeds.values() for net in feed} - _own(work)
    ends = set(element.nets)
    within = ends <= feeds | wiring.returns and bool(ends & (feeds - wiring.returns))
    return within or element in wiring.barrier()


def _rails(work: Workup) -> frozenset[str]:
    """Nets that belong to no stage: returns, supplies, heaters, and what several tubes share."""
    wiring = work.circuit.wiring
    fed = wiring.b_plus - wiring.supply.supplies - _own(work)
    fixed = wiring.returns | wiring.supplies | wiring.supply.heaters | fed
    users: dict[str, set[str]] = {}
    for each in wiring.electrodes:
        users.setdefault(each.net, set()).add(each.ref)
    shared = {net for net, refs in users.items() if len(refs) > 1}
    return frozenset(fixed | {net for net in shared if _many(work, net)})


def _own(work: Workup) -> frozenset[str]:
    """Nets of an amplifying tube's own: its plate, its grids, a cathode off the return."""
    duties = ("plate", "grid", "cathode", "diode")
    electrodes = [e for e in work.circuit.wiring.electrodes if e.section_kind != "rectifier"]
    users: dict[str, set[str]] = {}
    for e in electrodes:
        users.setdefault(e.net, set()).add(bulb_of(work, e.ref))
    return (
        frozenset(
            e.net
            for e in electrodes
            if e.duty in duties
            or (e.duty == "screen" and len(users[e.net]) == 1 and not _many(work, e.net))
        )
        - work.circuit.wiring.returns
        - work.circuit.wiring.supplies
    )


def _many(work: Workup, net: str) -> bool:
    return len(work.circuit.wiring.at(net)) > 4


def bulb_of(work: Workup, ref: str) -> str:
    """The reference of the bulb that a tube or a section of it is in."""
    part = work.chassis.part(ref)
    return part.body_ref if part is not None else ref


def _nearest(work: Workup, order: Sequence[str]) -> dict[str, tuple[int, str]]:
    """For each net off the rails the steps to the nearest tube's electrode, and that tube."""
    wiring, rails = work.circuit.wiring, _rails(work)
    graph = nx.Graph()
    graph.add_nodes_from(wiring.nets - rails)
    graph.add_edges_from(
        e.nets for e in wiring.elements
        if e.kind not in _LEFT_OUT and not set(e.nets) & rails and e.kind is not Kind.HEATER
    )  # fmt: skip
    found: dict[str, tuple[int, str]] = {}
    rank = {bulb: k for k, bulb in enumerate(order)}
    for electrode in wiring.electrodes:
        bulb = bulb_of(work, electrode.ref)
        if electrode.net not in graph or electrode.section_kind == "rectifier" or bulb not in rank:
            continue
        # What couples two tubes belongs to the one that drives: plates count half a step nearer.
        extra = 0 if electrode.duty == "plate" else 1
        for net, steps in nx.single_source_shortest_path_length(graph, electrode.net).items():
            each = (2 * steps + extra, bulb)
            if net not in found or (each[0], rank[bulb]) < (found[net][0], rank[found[net][1]]):
                found[net] = each
    return found


def _signal_order(work: Workup) -> list[str]:
    """The bulbs along the signal: a tube stands before those whose grids its plate leads to."""
    wiring, rails = work.circuit.wiring, _rails(work)
    text = list(dict.fromkeys(
        p.body_ref for p in work.chassis.of_kind("tube")
        if p.tube is not None and not p.tube.is_rectifier and not p.broken
    ))  # fmt: skip
    near = nx.Graph()
    near.add_edges_from(
        e.nets for e in wiring.elements
        if e.kind in (Kind.CAPACITOR, Kind.RESISTOR, Kind.CONTACT) and not set(e.nets) & rails
    )  # fmt: skip
    for path in _transformers(work):
        near.add_edges_from((path[0], net) for net in path[1:] if not {path[0], net} & rails)
    grids = {
        (e.net, bulb_of(work, e.ref)) for e in wiring.electrodes if e.duty in ("grid", "diode")
    }
    flow = nx.DiGraph()
    flow.add_nodes_from(text)
    for e in wiring.electrodes:
        if e.duty != "plate" or e.net not in near or e.section_kind == "rectifier":
            continue
        reached = nx.single_source_shortest_path_length(near, e.net, cutoff=3)
        one = bulb_of(work, e.ref)
        flow.add_edges_from((one, other) for net, other in grids if net in reached and other != one)
    return _ordered(flow, text)


def _transformers(work: Workup) -> Iterable[list[str]]:
    """The nets of each transformer whose windings pass the signal on."""
    wiring = work.circuit.wiring
    for part in work.chassis.of_kind("transformer"):
        if part.ref not in wiring.supply.power_refs:
            nets = [net for e in wiring.of(part.ref) for net in e.nets]
            if nets:
                yield list(dict.fromkeys(nets))


def _ordered(flow: nx.DiGraph, text: Sequence[str]) -> list[str]:
    """Along the flow; where it runs in a circle (feedback, AVC) in the order of the text."""
    rank = {bulb: k for k, bulb in enumerate(text)}
    pieces = nx.condensation(flow)
    at = {k: min(rank[b] for b in pieces.nodes[k]["members"]) for k in pieces}
    order = nx.lexicographical_topological_sort(pieces, key=at.__getitem__)
    return [b for k in order for b in sorted(pieces.nodes[k]["members"], key=rank.__getitem__)]
