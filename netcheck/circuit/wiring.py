"""Who is joined to whom in a chassis: the one view that rules ask about wiring.

Belongs here: the face of the wiring modules, each answer computed once when first asked for.
Does not belong here: the answers themselves (elements, sides, leads, supply, couplings, roles),
volts and amperes, or any judgement.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import cached_property
from itertools import chain
from typing import TYPE_CHECKING

from netcheck.chassis import Chassis
from netcheck.circuit import elements as _elements
from netcheck.circuit import sides as _sides
from netcheck.circuit.couplings import Coupling, Grids
from netcheck.circuit.elements import Electrode, Element, Kind
from netcheck.circuit.paths import Adjacency, Network, ohmic_ohm, walk
from netcheck.circuit.roles import Role, find_roles
from netcheck.circuit.sides import BRIDGE_OHM, Poles, Sides
from netcheck.circuit.supply import Supply
from netcheck.parts import Part

if TYPE_CHECKING:
    import networkx as nx

    from netcheck.circuit.leads import FusePosition, Lead

__all__ = ["BRIDGE_OHM", "Coupling", "Electrode", "Element", "Kind", "Role", "Wiring"]


class Wiring:
    """The connections of one chassis. Nets are called by their chief name (`chassis.net`)."""

    def __init__(self, chassis: Chassis, before: Wiring | None = None) -> None:
        """`before` is the set that this one was, with parts open or of other sizes since."""
        self.chassis = chassis
        self.before = before
        self._network = Network(chassis)

    # --- elements and nets

    @property
    def elements(self) -> tuple[Element, ...]:
        """Every element, in the order of the text."""
        return self._network.elements

    def of(self, ref: str) -> tuple[Element, ...]:
        """The elements of a part; () for one that is unknown, not fitted or joins nothing."""
        return self._network.of.get(ref.upper(), ())

    def at(self, net: str) -> tuple[Element, ...]:
        """The elements on a net."""
        return self._network.at.get(net, ())

    @cached_property
    def nets(self) -> frozenset[str]:
        """Every net that an element or a connected terminal is on."""
        return frozenset(self._network.at) | frozenset(self.chassis.nodes)

    @cached_property
    def graph(self) -> nx.MultiGraph[str]:
        """The nets as a networkx multigraph; each edge carries its `element`."""
        import networkx

        graph: nx.MultiGraph[str] = networkx.MultiGraph()
        graph.add_nodes_from(sorted(self.nets))
        graph.add_edges_from((e.a, e.b, {"element": e}) for e in self.elements)
        return graph

    @cached_property
    def unknown_parts(self) -> tuple[str, ...]:
        """Fitted parts whose connections are not (wholly) known: broken, or unknown tubes."""
        parts = self.chassis.parts
        return tuple(p.ref for p in parts if p.fitted and not _elements.is_known(p))

    def incomplete(self, net: str) -> bool:
        """Whether an unknown part touches the net, or may (its terminals are not all known).

        A rule that concludes from something not being there must stay quiet about such a net.
        """
        return self._anywhere or net in self._touched

    @cached_property
    def _unknown(self) -> tuple[Part, ...]:
        return tuple(p for r in self.unknown_parts if (p := self.chassis.part(r)) is not None)

    @cached_property
    def _anywhere(self) -> bool:
        if any(f.line_text.split()[:1] == ["wire"] for f in self.chassis.findings):
            return True  # a `wire` that could not be read may join anything
        return any(
            (p.broken or p.misplaced) and not _elements.terminals_seem_whole(p)
            for p in self._unknown
        )

    @cached_property
    def _touched(self) -> frozenset[str]:
        return frozenset(self.chassis.net(node) for part in self._unknown for node in part.nodes)

    def electrodes_on(self, net: str) -> tuple[Electrode, ...]:
        """The tube electrodes on a net (types known), with their duty."""
        return self._network.on.get(net, ())

    @property
    def electrodes(self) -> tuple[Electrode, ...]:
        """Every connected tube electrode (types known), in the order of the text."""
        return self._network.electrodes

    @cached_property
    def bulbs(self) -> Mapping[str, tuple[Part, ...]]:
        """The tubes of the text by bulb: a twin tube may be drawn as two parts."""
        found: dict[str, list[Part]] = {}
        for part in self.chassis.of_kind("tube"):
            found.setdefault(part.body_ref, []).append(part)
        return {ref: tuple(parts) for ref, parts in found.items()}

    @cached_property
    def electrodes_of(self) -> Mapping[str, tuple[Electrode, ...]]:
        """The connected electrodes of each tube (a part), by its reference."""
        found: dict[str, list[Electrode]] = {}
        for electrode in self.electrodes:
            found.setdefault(electrode.ref, []).append(electrode)
        return {ref: tuple(own) for ref, own in found.items()}

    # --- line and touch

    @cached_property
    def poles(self) -> Poles:
        """The line plug(s) and the nets of their pins."""
        return _sides.find_poles(self.chassis)

    @property
    def line_plug(self) -> Part | None:
        """The (first) line plug, or None: then nothing about the line can be checked."""
        return self.poles.plugs[0] if self.poles.plugs else None

    @property
    def line_poles(self) -> frozenset[str]:
        """Nets of the line pins."""
        return self.poles.line

    @property
    def hot(self) -> frozenset[str]:
        """Nets of the pins that may be hot (both of a plug that is not polarized)."""
        return self.poles.hot

    @property
    def neutral(self) -> frozenset[str]:
        """Nets of the pins that may be neutral (both of a plug that is not polarized)."""
        return self.poles.neutral

    @property
    def earth(self) -> frozenset[str]:
        """Nets of the plug's earth pin."""
        return self.poles.earth

    @cached_property
    def sides(self) -> Sides:
        """The walks behind `line_side` and `touchable`."""
        return _sides.find_sides(self._network, self.poles)

    @cached_property
    def line_side(self) -> frozenset[str]:
        """Nets galvanically joined to a line pin, in any plug and switch position.

        Through everything but capacitors and varistors (tubes and diodes conduct); not across a
        transformer; not into touchable metal through `BRIDGE_OHM` or more.
        """
        return self.sides.line_side

    @cached_property
    def touchable(self) -> frozenset[str]:
        """Nets a hand can reach, and what plain conductors join to them (unless line side).

        `touchable & line_side` is the live metal.
        """
        return self.sides.touchable

    @property
    def bare(self) -> frozenset[str]:
        """The metal itself: nets the text says can be touched, else CHASSIS and every jack."""
        return self.sides.bare

    @cached_property
    def isolated(self) -> frozenset[str]:
        """Nets that are neither line side nor touchable."""
        return self.nets - self.line_side - self.touchable

    def line_path(self, net: str) -> tuple[Element, ...]:
        """How a line-side net is joined to a line pin: elements from `net` to the pin, else ()."""
        return self.sides.path(net)

    def line_ohm(self, net: str) -> float | None:
        """Least ohms from a line-side net to a line pin (unknown resistor: 10 kilohm), or None.

        A control counts where it does most harm: from its wiper to either end of it 0 ohm.
        """
        return self.sides.ohm(net)

    @cached_property
    def barrier_chains(self) -> tuple[tuple[Element, ...], ...]:
        """Chains of elements from a line-side net to touchable or earthed metal.

        One element bridges directly; several are in series through nets that are neither.
        """
        return tuple(_sides.barrier_chains(self.sides))

    def barrier(self) -> tuple[Element, ...]:
        """All elements of `barrier_chains`, each once."""
        return tuple(dict.fromkeys(chain.from_iterable(self.barrier_chains)))

    # --- leads, fuses, switch

    @cached_property
    def leads(self) -> Mapping[str, Lead]:
        """The lead of every line pin, by the pin's net."""
        from netcheck.circuit.leads import find_leads

        return find_leads(self._network, self.poles, self.sides)

    def lead(self, pole: str) -> Lead:
        """The lead of one line pin. Raises KeyError for a net that is no line pin."""
        return self.leads[pole]

    @property
    def hot_leads(self) -> tuple[Lead, ...]:
        """The leads that may be hot: one, or two of a plug that is not polarized."""
        return tuple(lead for pole, lead in self.leads.items() if pole in self.hot)

    @property
    def neutral_leads(self) -> tuple[Lead, ...]:
        """The leads that may be neutral: one, or two of a plug that is not polarized."""
        return tuple(lead for pole, lead in self.leads.items() if pole in self.neutral)

    @cached_property
    def fuses(self) -> Mapping[str, FusePosition]:
        """Where each fuse sits, by reference."""
        from netcheck.circuit.leads import fuse_position

        fuses = (e for e in self.elements if e.kind is Kind.FUSE)
        leads = dict(self.leads)
        return {e.ref: fuse_position(self._network, self.poles, leads, e) for e in fuses}

    # --- supply

    @cached_property
    def supply(self) -> Supply:
        """Rectifiers, power transformers, line-fed nets (see `Supply`)."""
        return Supply(self._network, self.poles)

    @property
    def supplies(self) -> frozenset[str]:
        """Nets where B+ begins: rectifier cathodes, B batteries, held rails, else one named B+."""
        return self.supply.supplies

    @property
    def b_plus(self) -> frozenset[str]:
        """Nets fed from a supply through resistors, windings, contacts; plates and screens too."""
        return self.supply.b_plus

    @property
    def positive(self) -> frozenset[str]:
        """`b_plus`, and plates, screens, followers' cathodes whose feed is not shown."""
        return self.supply.positive

    @property
    def common(self) -> str | None:
        """The net the supply returns to (with back bias the centre tap), or None."""
        return self.supply.common

    @property
    def returns(self) -> frozenset[str]:
        """Nets that signals return to: `common`, B- and CHASSIS, as far as they exist."""
        return self.supply.returns

    @property
    def rectifiers(self) -> tuple[Element, ...]:
        """The streams and diodes that feed B+."""
        return self.supply.rectifiers

    # --- grids, couplings, roles

    @cached_property
    def grids(self) -> Grids:
        """What leads to grids and how nets return (see `Grids`)."""
        return Grids(self._network, self.supply)

    @property
    def couplings(self) -> tuple[Coupling, ...]:
        """Every capacitor from a positive net to a grid, with its DC paths."""
        return self.grids.couplings

    def return_path(self, net: str) -> tuple[Element, ...] | None:
        """The DC path from a net to its return (not through B+), or None."""
        return self.grids.returns.chain(net) if net in self.grids.returns else None

    @cached_property
    def roles(self) -> Mapping[str, Role]:
        """What each capacitor and resistor is for, by reference, from topology and value."""
        return find_roles(self._network, self.poles, self.sides, self.supply, self.grids)

    def role_of(self, ref: str) -> Role:
        """The role of a part; UNKNOWN if it has none we can tell."""
        return self.roles.get(ref.upper(), Role.UNKNOWN)

    # --- walks

    @property
    def adjacency(self) -> Adjacency:
        """Which elements touch each net, for walks of their own."""
        return self._network.at

    def dc_path(self, net: str, targets: Collection[str]) -> tuple[Element, ...] | None:
        """The least-resistance DC path from `net` to one of `targets`, from `net` on, or None.

        Through resistors, windings, contacts, fuses, heaters, lamps, speakers, meters and
        batteries, every switch closed; () when `net` is a target.
        """
        reached = walk(self._network.at, [net], ohmic_ohm, until=frozenset(targets))
        goal = next((n for n in reached if n in targets), None)
        return None if goal is None else tuple(reversed(reached.chain(goal)))
