"""The potential map: every node at its computed voltage, parts drawn between their nodes.

Belongs here: rows by voltage, columns without overlap, labels. Does not belong here: which panel a
part stands in (map_homes.py), drawing (output/), the solution (circuit/).

A panel is a stage: a tube with what hangs on its electrodes. The panels follow the signal from left
to right, then come supply and line. In a panel a row is a node, the highest voltage on top; a part
stands upright in a column of its own between its two rows. A node that several panels share
has a row in each.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

from netcheck.bench.map_homes import LINE, bulb_of, homes_of
from netcheck.bench.workup import Workup
from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Finding, Harm, NotSolved
from netcheck.parts import Part

__all__ = ["COLUMNS", "Electrode", "MapPart", "MapRow", "Panel", "PotentialMap", "potential_map"]

COLUMNS = 4  # of a panel: what is legible on a phone
_DANGEROUS = Harm.BURST


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
        panel for home, elements in homes_of(work).items()
        for panel in _panels(work, home, elements, _Volts(volts, ac_v))
    ]  # fmt: skip
    reason = point.reason if isinstance(point, NotSolved) else ""
    return PotentialMap(tuple(panels), reason)


def _panels(work: Workup, home: str, elements: Sequence[Element], volts: _Volts) -> Iterable[Panel]:
    """The panel of a home, and further ones where it has more parts than fit on a phone."""
    electrodes = [
        Electrode(e.name, e.duty, e.net)
        for e in work.circuit.wiring.electrodes
        if bulb_of(work, e.ref) == home
    ]
    nets = dict.fromkeys([*(e.net for e in electrodes), *(n for e in elements for n in e.nets)])
    # A heater string runs from the line down to the return, so this panel ends with the DC rows.
    last = home == LINE
    order = sorted(nets, key=lambda net: (last and volts.height(net)[0] == 0, *volts.height(net)))
    row_of = {net: k for k, net in enumerate(order)}
    placed, columns = _columns(elements, row_of, 1 if electrodes else 0)
    for number, (start, end) in enumerate(_shares(max(columns, 1))):
        own = [(e, column - start) for e, column in placed if start <= column < end]
        if own or (electrodes and not number):
            yield _panel(work, home, own, () if number else electrodes, row_of, volts)


def _shares(columns: int) -> Iterable[tuple[int, int]]:
    """First and last column of each panel, evenly: no part is left over in a panel of its own."""
    panels = math.ceil(columns / COLUMNS)
    ends = [columns * k // panels for k in range(panels + 1)]
    return pairwise(ends)


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
    """A column for each part: two share one where the lower begins no higher than the other ends.

    Two that meet at a row are joined there, as a schematic draws parts in series.
    """
    free: list[int] = []  # by column: the first row below what stands in it
    placed = []
    for e in sorted(elements, key=lambda e: (min(map(row_of.__getitem__, e.nets)), e.ref)):
        top, bottom = sorted(row_of[net] for net in e.nets)
        column = next((k for k, row in enumerate(free) if row <= top), len(free))
        if column == len(free):
            free.append(bottom)
        else:
            free[column] = bottom
        placed.append((e, first + column))
    return placed, first + len(free)


def _part(work: Workup, e: Element, column: int, row_of: Mapping[str, int]) -> MapPart:
    part = work.chassis.part(e.ref)
    top, bottom = sorted(e.nets, key=row_of.__getitem__)
    words = _words(part, e) if part is not None else ""
    polarized = part is not None and any(t.name == "+" for t in part.terminals)
    line = part.span.line if part is not None else 0
    return MapPart(
        e.ref, words, e.kind, polarized and e.kind is Kind.CAPACITOR, top, bottom,
        column, line, _harm(work, e.ref),
    )  # fmt: skip


def _words(part: Part, e: Element) -> str:
    """Beside a winding its name (a transformer's ohms are not each winding's), else the value."""
    windings = {path.name for path in part.paths if path.name}
    return e.path if e.kind is Kind.WINDING and len(windings) > 1 and e.path else _value(part)


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
