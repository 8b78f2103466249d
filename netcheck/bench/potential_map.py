"""The potential map: every node at its computed voltage, parts drawn between their nodes.

Belongs here: which panel a part stands in, the order of the panels along the signal, rows by
voltage, columns without overlap. Does not belong here: drawing (output/), the solution (circuit/).

A panel is a stage: a tube with what hangs on its electrodes. The panels follow the signal from left
to right, then come supply and line. In a panel a row is a node, the highest voltage on top; a part
stands upright in a column of its own between its two rows. A node that several panels share
has a row in each.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import networkx as nx

from netcheck.bench.workup import Workup
from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Finding, Harm, NotSolved
from netcheck.parts import Part

__all__ = ["COLUMNS", "Electrode", "MapPart", "MapRow", "Panel", "PotentialMap", "potential_map"]

COLUMNS = 4  # of a panel: what is legible on a phone
_DANGEROUS = Harm.BURST
_LEFT_OUT = (Kind.STREAM, Kind.STRAP)


@dataclass(frozen=True, slots=True)
class MapRow:
    """A node's row: volts (None: nothing tells them), AC volts of the line instead, its sides."""

    net: str
    volts: float | None
    ac_v: float | None
    line_side: bool
    touchable: bool


@dataclass(frozen=True, slots=True)
class MapPart:
    """A part between two rows, in column `column`; `line` is where the text has it."""

    ref: str
    label: str
    kind: Kind
    polarized: bool
    top: str
    bottom: str
    column: int
    line: int
    harm: Harm | None


@dataclass(frozen=True, slots=True)
class Electrode:
    """An electrode of the panel's tube on its row."""

    name: str
    duty: str
    net: str


@dataclass(frozen=True, slots=True)
class Panel:
    """A stage: its tube (if it has one) in the first column, its rows from top to bottom."""

    title: str
    ref: str
    line: int
    rows: tuple[MapRow, ...]
    parts: tuple[MapPart, ...]
    electrodes: tuple[Electrode, ...]
    columns: int
    harm: Harm | None


@dataclass(frozen=True, slots=True)
class PotentialMap:
    """The panels of a set; `reason` says why volts are missing (then rows are in text order)."""

    panels: tuple[Panel, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class _Volts:
    """What stands on each net."""

    dc: Mapping[str, float | None]
    ac: Mapping[str, float]

    def height(self, net: str) -> tuple[int, float]:
        """Rows run from the highest volts down; then those on AC, then those nothing tells."""
        if net in self.ac:
            return 1, -self.ac[net]
        volts = self.dc.get(net)
        return (2, 0.0) if volts is None else (0, -volts)


def potential_map(work: Workup, ac_v: Mapping[str, float] = MappingProxyType({})) -> PotentialMap:
    """Lay out the set. Nothing is drawn at a voltage that was not solved.

    `ac_v` are the nets on which the line's AC stands, with its volts: they come below the others.
    """
    point = work.point
    volts: dict[str, float | None] = {}
    if not isinstance(point, NotSolved):
        floating = point.model.floating
        volts = {
            net: None if net in floating else point.volts(net) for net in work.circuit.wiring.nets
        }
    panels = [
        panel for home, elements in _homes(work).items()
        for panel in _panels(work, home, elements, _Volts(volts, ac_v))
    ]  # fmt: skip
    reason = point.reason if isinstance(point, NotSolved) else ""
    return PotentialMap(tuple(panels), reason)


# --- which panel


def _homes(work: Workup) -> dict[str, list[Element]]:
    """The elements by the panel they stand in: bulbs in signal order, then supply, then line."""
    wiring = work.circuit.wiring
    order = _signal_order(work)
    near = _nearest(work, order)
    homes: dict[str, list[Element]] = {bulb: [] for bulb in order}
    homes |= {"supply": [], "heaters and line": []}
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
        on_line = element.kind is Kind.HEATER or _is_line(work, element)
        if on_line or (set(element.nets) <= lit | wiring.returns and set(element.nets) & lit):
            homes["heaters and line"].append(element)
            continue
        found = [near[net] for net in element.nets if net in near]
        home = min(found, key=lambda each: each[0])[1] if found else "supply"
        homes[home].append(element)
    return homes


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
    return (
        frozenset(
            e.net
            for e in work.circuit.wiring.electrodes
            if e.duty in duties and e.section_kind != "rectifier"
        )
        - work.circuit.wiring.returns
        - work.circuit.wiring.supplies
    )


def _many(work: Workup, net: str) -> bool:
    return len(work.circuit.wiring.at(net)) > 4


def _bulb(work: Workup, ref: str) -> str:
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
        bulb = _bulb(work, electrode.ref)
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
    grids = {(e.net, _bulb(work, e.ref)) for e in wiring.electrodes if e.duty in ("grid", "diode")}
    flow = nx.DiGraph()
    flow.add_nodes_from(text)
    for e in wiring.electrodes:
        if e.duty != "plate" or e.net not in near or e.section_kind == "rectifier":
            continue
        reached = nx.single_source_shortest_path_length(near, e.net, cutoff=3)
        one = _bulb(work, e.ref)
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


# --- one panel


def _panels(work: Workup, home: str, elements: Sequence[Element], volts: _Volts) -> Iterable[Panel]:
    """The panel of a home, and further ones where it has more parts than fit on a phone."""
    electrodes = [
        Electrode(e.name, e.duty, e.net)
        for e in work.circuit.wiring.electrodes
        if _bulb(work, e.ref) == home
    ]
    nets = dict.fromkeys([*(e.net for e in electrodes), *(n for e in elements for n in e.nets)])
    row_of = {net: k for k, net in enumerate(sorted(nets, key=volts.height))}
    placed, columns = _columns(elements, row_of, 1 if electrodes else 0)
    for start in range(0, max(columns, 1), COLUMNS):
        own = [(e, column - start) for e, column in placed if 0 <= column - start < COLUMNS]
        if own or (electrodes and not start):
            yield _panel(work, home, own, () if start else electrodes, row_of, volts)


def _panel(
    work: Workup,
    home: str,
    placed: Sequence[tuple[Element, int]],
    electrodes: Sequence[Electrode],
    row_of: Mapping[str, int],
    volts: _Volts,
) -> Panel:
    wiring = work.circuit.wiring
    tube = next((p for p in work.chassis.of_kind("tube") if p.body_ref == home), None)
    used = {e.net for e in electrodes} | {net for e, _ in placed for net in e.nets}
    rows = tuple(
        MapRow(
            net,
            volts.dc.get(net),
            volts.ac.get(net),
            net in wiring.line_side,
            net in wiring.touchable,
        )
        for net in row_of
        if net in used
    )
    parts = tuple(_part(work, e, column, row_of) for e, column in placed)
    more = "" if electrodes or tube is None else ", continued"
    return Panel(
        f"{home} {tube.tube_name}{more}" if tube is not None else home,
        tube.ref if tube is not None else "",
        tube.span.line if tube is not None else 0,
        rows,
        parts,
        tuple(electrodes),
        max([0, *(column + 1 for _, column in placed)], default=0) or 1,
        _harm(work, tube.ref) if tube is not None else None,
    )


def _columns(
    elements: Sequence[Element], row_of: Mapping[str, int], first: int
) -> tuple[list[tuple[Element, int]], int]:
    """A column for each part: two share one only where a row at least lies between them."""
    free: list[int] = []  # by column: the first row below what stands in it
    placed = []
    for e in sorted(elements, key=lambda e: (min(map(row_of.__getitem__, e.nets)), e.ref)):
        top, bottom = sorted(row_of[net] for net in e.nets)
        column = next((k for k, row in enumerate(free) if row < top), len(free))
        if column == len(free):
            free.append(bottom)
        else:
            free[column] = bottom
        placed.append((e, first + column))
    return placed, first + len(free)


def _part(work: Workup, e: Element, column: int, row_of: Mapping[str, int]) -> MapPart:
    part = work.chassis.part(e.ref)
    top, bottom = sorted(e.nets, key=row_of.__getitem__)
    words = _value(part) if part is not None else ""
    polarized = part is not None and any(t.name == "+" for t in part.terminals)
    line = part.span.line if part is not None else 0
    return MapPart(
        e.ref, words, e.kind, polarized and e.kind is Kind.CAPACITOR, top, bottom,
        column, line, _harm(work, e.ref),
    )  # fmt: skip


def _value(part: Part) -> str:
    """The few characters that stand beside a symbol: its type, or its chief value as written."""
    if part.kind == "tube":
        return part.tube_name
    words = part.description
    for role in ("capacitance", "resistance", "inductance", "current", "voltage", "impedance"):
        value = words.values.get(role)
        if value is not None:
            return value.text
    return words.designation


def _harm(work: Workup, ref: str) -> Harm | None:
    """The worst harm that stands against a part, if it is one that can hurt."""
    found: Sequence[Finding] = work.by_part.get(ref, ())
    standing = [f.harm for f in found if f.accepted is None or f.harm is Harm.SHOCK_NOW]
    worst = min(standing, key=lambda h: h.rank, default=None)
    return worst if worst is not None and worst.at_least(_DANGEROUS) else None
