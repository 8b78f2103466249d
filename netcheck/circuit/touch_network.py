"""What lies between the line and a hand as admittances, because that is all touch current passes.

Belongs here: the elements on a way from a line pin or earth to touchable metal, their siemens at
the line's frequency, the positions of switches, plug and controls that change them. Does not
belong here: solving and the table (touch.py), what stands for the hand (touch_body.py).

Taken so: a heater or lamp is cold (the set is off, or its share of the string is the same), a
winding is its ohms and what the line induces in it (touch_windings.py), an open contact and the
insulation of transformers pass nothing, tubes and rectifiers pass nothing (B+ follows B- through
its filter). Only where nothing else holds the common net, a rectifier is a plain conductor to it:
the most it can pass. (Common practice, no source.)
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import METAL
from netcheck.circuit.pieces import pieces
from netcheck.circuit.touch_windings import Windings
from netcheck.circuit.wiring import BRIDGE_OHM, Wiring
from netcheck.parts import Part

__all__ = ["CONTACT_S", "LEAK_S", "Strand", "TouchNetwork", "farads"]

CONTACT_S = 1e3
"""A closed contact, fuse or strap, and a shorted part: 0.001 ohm, small beside every part."""

LEAK_S = 1e-12
"""Holds a net that nothing else holds: 1e12 ohm, a thousandth of 1 pF at line frequency."""

_COLD_HEATER, _COLD_LAMP = 7.0, 10.0
"""Running ohms over cold ohms of tungsten (common practice, no source)."""

_CONDUCTOR_OHM = 1.0
"""A winding, heater, meter or load of unknown ohms: a conductor, the most it can pass."""

_CONDUCTORS = frozenset(
    {
        Kind.WINDING, Kind.HEATER, Kind.LAMP, Kind.SPEAKER, Kind.METER, Kind.BATTERY, Kind.LOAD,
    }
)  # fmt: skip
_JOINS = frozenset({Kind.CONTACT, Kind.FUSE, Kind.STRAP})
_MOST_STATES = 64
_MOST_CONTROLS = 3


@dataclass(frozen=True, slots=True)
class Strand:
    """An element between line and hand: siemens at the line's frequency, None if not known.

    `insulates`: a capacitor, or a resistor too large to be called a conductor.
    """

    element: Element
    siemens: complex | None
    insulates: bool = False

    @property
    def ref(self) -> str:
        """The part it stands for."""
        return self.element.ref


def farads(part: Part) -> float | None:
    """The most farads a capacitor may have: as measured, else the largest that is written."""
    measured = part.measured
    if measured is not None and measured.known and measured.dimension == "capacitance":
        return measured.highest
    written = part.description.values.get("capacitance")
    values = [written] if written is not None else []
    known = [v.highest for v in (*values, *part.description.alternates) if v.known]
    return max(known, default=None)


class TouchNetwork:
    """The strands of one set at one frequency (0: direct current)."""

    def __init__(self, wiring: Wiring, hertz: float) -> None:
        self.wiring = wiring
        self.hertz = hertz
        self.omega = 2 * math.pi * hertz

    @cached_property
    def earth(self) -> frozenset[str]:
        """The nets of the plug's earth pin and of EARTH."""
        named = self.wiring.chassis.net("EARTH")
        return self.wiring.earth | (frozenset({named}) & self.wiring.nets)

    @cached_property
    def ends(self) -> frozenset[str]:
        """Where a way begins or ends: line pins, earth, touchable metal."""
        return self.wiring.line_poles | self.earth | self.wiring.bare

    @cached_property
    def strands(self) -> tuple[Strand, ...]:
        """The elements on some way between two ends, every contact closed."""
        candidates = [s for e in self.wiring.elements if (s := self._strand(e)) is not None]
        return tuple(_on_a_way(candidates, self._joints, self.ends))

    @property
    def _joints(self) -> Mapping[str, str]:
        """Each net of a piece of metal by the piece's first net: a piece is one end."""
        return {net: piece[0] for piece in self.whole_pieces for net in piece}

    @cached_property
    def nets(self) -> frozenset[str]:
        """The nets of the strands, and the line pins."""
        return frozenset(n for s in self.strands for n in s.element.nets) | self.wiring.line_poles

    def _strand(self, element: Element) -> Strand | None:
        if element.a == element.b:
            return None
        if element.kind in _JOINS:
            return Strand(element, CONTACT_S)
        if element.kind in _CONDUCTORS:
            return Strand(element, 1 / max(self._conductor_ohm(element), 1 / CONTACT_S))
        if element.kind is Kind.RESISTOR:
            ohm = element.ohm
            if "wiper" in element.terminals and ohm == 0.0:
                return Strand(element, CONTACT_S)
            insulates = ohm is None or ohm >= BRIDGE_OHM
            known = None if ohm is None else 1 / max(ohm, 1 / CONTACT_S)
            return Strand(element, known, insulates)
        if element.kind is Kind.CAPACITOR:
            part = self.wiring.chassis.part(element.ref)
            farad = farads(part) if part is not None else None
            unknown = farad is None and self.hertz > 0
            return Strand(
                element, None if unknown else 1j * self.omega * (farad or 0.0), insulates=True
            )
        return Strand(element, None, insulates=True) if element.kind is Kind.VARISTOR else None

    def _conductor_ohm(self, element: Element) -> float:
        if element.kind is Kind.HEATER and element.ohm:
            return element.ohm / _COLD_HEATER
        if element.kind is Kind.LAMP and element.ohm:
            return element.ohm / _COLD_LAMP
        if element.kind is Kind.BATTERY:
            return _CONDUCTOR_OHM
        return element.ohm if element.ohm is not None else _CONDUCTOR_OHM

    # --- what changes it

    @cached_property
    def switch_states(self) -> tuple[Mapping[str, str], ...]:
        """Every combination of positions of the switches on a way, by body reference.

        A switch that no position opens (one position, or all of them close) is also off: "OFF".
        Of more than 64 combinations only those of the line's own switches are told apart.
        """
        closing: dict[str, set[str]] = {}
        for strand in self.strands:
            part = self.wiring.chassis.part(strand.ref)
            if strand.element.kind is Kind.CONTACT and part is not None and part.kind == "switch":
                closing.setdefault(part.body_ref, set()).add(strand.element.position)
        positions = {body: self._positions(body, used) for body, used in closing.items()}
        if math.prod(map(len, positions.values())) > _MOST_STATES:
            cuts = {ref for lead in self.wiring.leads.values() for ref in lead.refs}
            bodies = {p.body_ref for r in cuts if (p := self.wiring.chassis.part(r)) is not None}
            positions = {body: named for body, named in positions.items() if body in bodies}
        return tuple(
            dict(zip(positions, chosen, strict=True)) for chosen in product(*positions.values())
        )[:_MOST_STATES]

    def _positions(self, body: str, closing: set[str]) -> tuple[str, ...]:
        said: dict[str, None] = {}
        for part in self.wiring.chassis.of_kind("switch"):
            if part.body_ref == body:
                said.update(dict.fromkeys(part.positions))
        all_close = set(said) <= closing and not any(name.upper() == "OFF" for name in said)
        off = len(said) == 1 or (all_close and self._is_in_line(body))
        return (*said, "OFF") if off else tuple(said)

    def _is_in_line(self, body: str) -> bool:
        """Whether a section of a switch is in a lead of the line, and no selector."""
        refs = {ref for lead in self.wiring.leads.values() for ref in lead.refs}
        parts = (self.wiring.chassis.part(ref) for ref in refs)
        return any(
            part is not None
            and part.body_ref == body
            and not part.description.has("voltage-selector", "selector", "interlock")
            for part in parts
        )

    @cached_property
    def windings(self) -> Windings:
        """What the line induces in the windings among the strands; none on a DC line."""
        elements = [s.element for s in self.strands] if self.hertz else []
        return Windings(self.wiring, elements, self.is_closed)

    def is_closed(self, element: Element, state: Mapping[str, str]) -> bool:
        """Whether an element conducts in a state: all do but the contacts that are open in it."""
        if element.kind is not Kind.CONTACT:
            return True
        chosen = state.get(self._bodies.get(element.ref, ""))
        return chosen is None or chosen == element.position

    @cached_property
    def _bodies(self) -> Mapping[str, str]:
        return {part.ref: part.body_ref for part in self.wiring.chassis.of_kind("switch")}

    @cached_property
    def control_settings(self) -> tuple[Mapping[int, complex], ...]:
        """Siemens of the halves of each control on a way: in the middle, and at either end.

        Keys are places in `strands`. Of more than three controls all stand alike.
        """
        halves: dict[str, list[int]] = {}
        for k, strand in enumerate(self.strands):
            element = strand.element
            if element.kind is Kind.RESISTOR and "wiper" in element.terminals and element.ohm:
                halves.setdefault(element.ref, []).append(k)
        tracks = [(ref, places) for ref, places in halves.items() if len(places) <= 2]
        choices: Iterable[tuple[int, ...]] = product((0, 1), repeat=len(tracks))
        if len(tracks) > _MOST_CONTROLS:
            choices = ((0,) * len(tracks), (1,) * len(tracks))
        found: list[Mapping[int, complex]] = [{}]
        for chosen in choices if tracks else ():
            setting: dict[int, complex] = {}
            for (ref, places), end in zip(tracks, chosen, strict=True):
                whole = 1 / sum(e.ohm or 0.0 for e in self.wiring.of(ref))
                for number, k in enumerate(places):
                    setting[k] = CONTACT_S if number == end else whole
            found.append(setting)
        return tuple(found)

    def lifted(self, state: Mapping[str, str]) -> Strand | None:
        """A rectifier as a conductor to the common net, in a state where nothing else holds it."""
        common = self.wiring.common
        if common is None or common not in self.nets:
            return None
        island = self._islands
        contacts = (e for e in self.wiring.elements if e.kind is Kind.CONTACT)
        closed = ((island[e.a], island[e.b]) for e in contacts if self.is_closed(e, state))
        joined = {number: all_of_it for all_of_it in pieces(island.values(), closed)
                  for number in all_of_it}  # fmt: skip
        poles = {island[pole]: pole for pole in sorted(self.wiring.line_poles)}
        if not poles.keys().isdisjoint(joined[island[common]]):
            return None
        for rectifier in self.wiring.rectifiers:
            near = joined[island[rectifier.a]]
            source = next((pole for number, pole in poles.items() if number in near), None)
            if source is not None:
                return Strand(replace(rectifier, a=source, b=common), CONTACT_S)
        return None

    @cached_property
    def _islands(self) -> Mapping[str, int]:
        """Every net by a number that nets have alike which conductors other than contacts join."""
        conducting = [
            element.nets
            for element in self.wiring.elements
            if element.kind is not Kind.CONTACT
            and (strand := self._strand(element)) is not None
            and not strand.insulates
        ]
        islands = enumerate(pieces(self.wiring.nets | self.wiring.line_poles, conducting))
        return {net: number for number, nets in islands for net in nets}

    # --- metal

    @cached_property
    def whole_pieces(self) -> tuple[tuple[str, ...], ...]:
        """Every piece of touchable metal with all its nets, touchable ones first."""
        # What hangs on the line through many ohms only is metal of the piece that a contact joins.
        ohms = {net: self.wiring.line_ohm(net) or 0.0 for net in self.wiring.line_side}
        live = {net for net, ohm in ohms.items() if ohm < BRIDGE_OHM}
        metal = (e.nets for e in self.wiring.elements if e.kind in METAL and not live & set(e.nets))
        chassis, bare = self.wiring.chassis.net("CHASSIS"), self.wiring.bare
        whole = (
            tuple(sorted(nets, key=lambda n: (n not in bare, n != chassis, n)))
            for nets in pieces(bare, metal)
        )
        touched = (piece for piece in whole if piece[0] in bare)
        return tuple(sorted(touched, key=lambda piece: (piece[0] != chassis, piece)))

    @cached_property
    def pieces(self) -> tuple[tuple[str, ...], ...]:
        """Touchable nets that plain conductors make one piece of metal, CHASSIS first."""
        bare = self.wiring.bare
        return tuple(tuple(n for n in piece if n in bare) for piece in self.whole_pieces)

    @cached_property
    def variable(self) -> frozenset[int]:
        """Places in `strands` of those whose siemens a case may change: between line and metal."""
        crossing = {e.ref for e in self.wiring.barrier()}
        live = self.wiring.line_side & self.wiring.bare
        metal = {n for piece in self.whole_pieces if not live & set(piece) for n in piece}
        turned = {k for setting in self.control_settings for k in setting}
        return frozenset(
            k
            for k, s in enumerate(self.strands)
            if k in turned
            or k in self.windings.places
            or s.siemens is None
            or (s.insulates and (s.ref in crossing or metal & set(s.element.nets)))
        )


def _on_a_way(
    strands: list[Strand], joints: Mapping[str, str], ends: frozenset[str]
) -> Iterator[Strand]:
    """Those on a path between two ends that passes no net twice: what hangs aside passes nothing.

    Ends joined to one more node, a strand is on such a path if it shares a biconnected piece of
    the graph with that node (J. Hopcroft and R. Tarjan, Communications of the ACM 16, 1973, 372).
    `joints` are nets that are one with another.
    """
    import networkx as nx

    hub = ""
    nets = [tuple(joints.get(net, net) for net in s.element.nets) for s in strands]
    graph = nx.Graph(pair for pair in nets if pair[0] != pair[1])
    graph.add_edges_from((hub, joints.get(net, net)) for net in ends)
    pieces = [piece for piece in nx.biconnected_components(graph) if hub in piece]
    crossing = [p[0] != p[1] and any(piece.issuperset(p) for piece in pieces) for p in nets]
    reached = {net for pair, crosses in zip(nets, crossing, strict=True) if crosses for net in pair}
    for strand, pair, crosses in zip(strands, nets, crossing, strict=True):
        # What joins two nets of one piece of metal: the contact of a muting switch, a coil.
        inside = pair[0] == pair[1] in reached and strand.element.kind in METAL
        if crosses or inside:
            yield strand
