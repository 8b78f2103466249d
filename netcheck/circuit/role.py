"""What a part can be for, and the views of the set that decide it.

Belongs here: the list of roles and the context that capacitors and resistors are judged in. Does
not belong here: the judging (capacitor_roles, resistor_roles), or any name or note of a part.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from functools import cached_property

from netcheck.circuit.couplings import Grids
from netcheck.circuit.elements import Element, Kind, is_known
from netcheck.circuit.paths import METAL, Network, Walk, walk
from netcheck.circuit.power import is_hash_choke
from netcheck.circuit.sides import BRIDGE_OHM, Poles, Sides
from netcheck.circuit.supply import Supply
from netcheck.circuit.uses import is_audio_transformer, is_signal_diode, is_tunable

__all__ = ["Role", "Situation"]

_SURGE_OHM = 500.0
"""A resistor below this between rectifier and first filter capacitor is a surge resistor: the
capacitor behind it is still the reservoir (common practice, no source)."""

_SCREEN_OHM = 4.7e3
"""Screen droppers start here; what is smaller is a filter resistor (common practice)."""

_TONE_OHM = 100e3
"""A fixed resistor in series with a tone capacitor is below this, a grid leak from here on (common
practice, no source)."""

_BIAS_BYPASS_F = 0.05e-6
"""Bias lines are bypassed with this and more (common practice, no source)."""

_PLAIN = frozenset({Kind.FUSE, Kind.STRAP})
_JOINING = frozenset({Kind.RESISTOR, Kind.WINDING, Kind.CONTACT, Kind.STRAP})


class Role(Enum):
    """What a capacitor or resistor is for."""

    __hash__ = object.__hash__  # a member is one object: its name need not be hashed

    ACROSS_LINE = "across the line"
    ACROSS_SWITCH = "across the line switch"
    LINE_TO_CHASSIS = "line to touchable metal"
    COMMON_TO_CHASSIS = "B- to touchable metal"
    ANTENNA_ISOLATION = "antenna or earth terminal to the set"
    RESERVOIR = "reservoir"
    SMOOTHING = "smoothing"
    BUFFER = "across a high-voltage winding"
    HUM_FILTER = "across a choke, field or rectifier"
    COUPLING = "coupling"
    CATHODE_BYPASS = "cathode bypass"
    SCREEN_BYPASS = "screen bypass"
    AVC_BYPASS = "AVC bypass"
    BIAS_BYPASS = "bias bypass"
    HEATER_BYPASS = "heater bypass"
    RF_BYPASS = "RF bypass or decoupling"
    TONE = "tone"
    TUNED = "tuned circuit"
    PLATE_LOAD = "plate load"
    SCREEN_DROPPER = "screen dropper"
    FILTER = "filter or decoupling"
    BLEEDER = "bleeder"
    SURGE = "surge"
    CATHODE_BIAS = "cathode bias"
    BACK_BIAS = "back bias"
    GRID_LEAK = "grid leak"
    GRID_STOPPER = "grid stopper"
    BIAS_SUPPLY = "bias supply"
    AVC_FILTER = "AVC filter"
    DETECTOR_FILTER = "detector RF filter"
    DETECTOR_LOAD = "detector load"
    HEATER_DROPPER = "heater dropper"
    HEATER_SHUNT = "across a heater or lamp"
    DAMPING = "across a winding"
    CONTROL = "control"
    UNKNOWN = "unknown"


@dataclass
class Situation:
    """The views that the role of a part is read from."""

    network: Network
    poles: Poles
    sides: Sides
    supply: Supply
    grids: Grids

    def farad(self, e: Element) -> float | None:
        """The capacitance of a capacitor, in farads, None if unknown."""
        part = self.network.chassis.part(e.ref)
        return part.value("capacitance") if part else None

    def is_small(self, e: Element, limit_f: float) -> bool:
        """Whether the capacitance is known and below a limit."""
        farad = self.farad(e)
        return farad is not None and farad < limit_f

    @cached_property
    def driven(self) -> dict[str, frozenset[str]]:
        """By line pin: what it feeds, and rectifier plates that hang on it without a winding."""
        driven = dict(self.supply.feeds)
        for rectifier in self.supply.rectifiers:
            source = self.supply.source_of(rectifier)
            for pole, feed in self.supply.feeds.items():
                if source in feed:
                    driven[pole] |= {rectifier.a}
        return driven

    def across_line(self, a: str, b: str) -> bool:
        """Whether two nets belong to different line pins."""
        on_a = {pole for pole, nets in self.driven.items() if a in nets}
        on_b = {pole for pole, nets in self.driven.items() if b in nets}
        return bool(on_a and on_b and not on_a & on_b)

    def is_driving(self, net: str) -> bool:
        """Whether a net is line fed or on a winding of a power transformer."""
        fed = any(net in feed for feed in self.supply.feeds.values())
        return fed or any(net in winding.nets for winding in self.supply.windings)

    @cached_property
    def metal(self) -> frozenset[str]:
        """Touchable or earthed nets that are not line side."""
        return (self.sides.touchable | self.sides.earthed) - self.sides.line_side

    def is_stiff(self, net: str) -> bool:
        """Whether a net is joined to the line by so little that a hand would feel it."""
        ohm = self.sides.ohm(net)
        return ohm is not None and ohm < BRIDGE_OHM

    def bridge(self, e: Element) -> tuple[str, str] | None:
        """(line-side net, metal net) of an element that bridges the two, else None."""
        for line, metal in (e.nets, e.nets[::-1]):
            if metal in self.metal and line not in self.metal and self.is_stiff(line):
                return line, metal
        return None

    @cached_property
    def jacks(self) -> frozenset[str]:
        """Nets that plain conductors join to a jack but not to CHASSIS (a contact may open)."""
        chassis = self.network.chassis
        jacks = chassis.of_kind("jack")
        starts = {chassis.net(t.node) for j in jacks for t in j.terminals if not t.unused}
        frame = self._metal_walk([chassis.net("CHASSIS")], METAL - {Kind.CONTACT})
        joined = self._metal_walk(sorted(starts - set(frame)), METAL)
        return frozenset(joined) - self.supply.returns

    @cached_property
    def frame(self) -> frozenset[str]:
        """Returns and bare or earthed metal: where a signal's bypass ends, not through coils."""
        low = self.supply.returns | (self.sides.bare & self.metal) | self.sides.earthed
        return frozenset(self._metal_walk(sorted(low - self.jacks), _PLAIN)) - self.jacks

    def _metal_walk(self, starts: Iterable[str], kinds: frozenset[Kind]) -> Walk:
        stop = self.supply.returns
        return walk(self.network.at, starts, lambda e: 0.0 if e.kind in kinds else None, stop=stop)

    @cached_property
    def battery_leads(self) -> frozenset[str]:
        """Nets that contacts, fuses and coils join to a battery, but the returns."""
        poles = {n for e in self.network.elements if e.kind is Kind.BATTERY for n in e.nets}
        joined = self._metal_walk(sorted(poles - self.supply.returns), METAL)
        return frozenset(joined) - self.supply.returns

    @cached_property
    def heater_feeds(self) -> frozenset[str]:
        """Nets on heaters, and what contacts and fuses alone join to them (no line, no return)."""
        barred = self.supply.returns | self.poles.line
        return frozenset(
            walk(
                self.network.at, sorted(self.supply.heaters - barred),
                lambda e: 0.0 if e.kind in _PLAIN or e.kind is Kind.CONTACT else None,
                admit=lambda net, _: net not in barred,
            )
        )  # fmt: skip

    @cached_property
    def plates(self) -> frozenset[str]:
        """Nets of plates of amplifying sections."""
        return self.network.nets_of("plate")

    @cached_property
    def cathodes(self) -> frozenset[str]:
        """Nets of cathodes that are not on a return or a heater."""
        return self.network.nets_of("cathode") - self.supply.returns - self.supply.heaters

    @cached_property
    def coupling_refs(self) -> frozenset[str]:
        """References of the coupling capacitors with a positive voltage on them."""
        return frozenset(c.ref for c in self.grids.couplings)

    @cached_property
    def under_cathodes(self) -> frozenset[Element]:
        """The elements on the way from each cathode to its return."""
        returns = self.grids.returns
        return frozenset(e for net in self.cathodes for e in returns.chain(net))

    @cached_property
    def feeding(self) -> frozenset[str]:
        """Nets through which some plate is fed (the plate's own net left out)."""
        feed = self.supply.feed_walk
        nets: set[str] = set()
        for plate in self.plates:
            step = feed.get(plate)
            while step is not None and step.by is not None and step.came_from not in nets:
                nets.add(step.came_from)
                step = feed.get(step.came_from)
        return frozenset(nets | self.supply.supplies)

    @cached_property
    def screens(self) -> frozenset[str]:
        """Nets that feed screens by their own dropper and no plate."""
        alone = self.network.nets_of("screen") - self.feeding - self.plates
        return frozenset(net for net in alone if self._is_dropped(net))

    def _is_dropped(self, net: str) -> bool:
        """Whether a net is fed through a resistor of a screen dropper's size."""
        step = self.supply.feed_walk.get(net)
        by = step.by if step is not None else None
        return (
            by is not None and by.kind is Kind.RESISTOR and (by.ohm or _SCREEN_OHM) >= _SCREEN_OHM
        )

    @cached_property
    def diode_reach(self) -> Walk:
        """The walk from the plates of signal diodes over resistors, windings and contacts."""
        sinks = self.supply.sinks | self.supply.positive | self.bias_nets
        diodes = {
            e.a if e.a not in sinks else e.b
            for e in self.network.elements
            if e.kind is Kind.DIODE
            and e not in self.supply.power_diodes
            and (part := self.network.chassis.part(e.ref)) is not None
            and is_signal_diode(part)
        }

        def ohm_of(e: Element) -> float | None:
            return (e.ohm or 0.0) if e.kind in _JOINING else None

        starts = (self.network.nets_of("diode") | diodes) - sinks
        return walk(self.network.at, sorted(starts), ohm_of, admit=lambda net, _: net not in sinks)

    @cached_property
    def bias_nets(self) -> frozenset[str]:
        """Nets of a fixed bias: at bias diodes, in the negative lead, held, and bypassed ones."""
        chassis = self.network.chassis
        diodes = self.supply.power_diodes - frozenset(self.supply.rectifiers)
        nets = {net for e in (*diodes, *self.supply.back_bias) for net in e.nets}
        nets |= {chassis.net(h.node) for h in chassis.holds}
        low = self.supply.returns | self.supply.b_plus | self.supply.supplies
        spread = walk(
            self.network.at, sorted(nets - low), lambda e: 0.0 if e.kind is Kind.RESISTOR else None,
            admit=lambda net, _: net not in low and self._is_bypassed(net),
        )  # fmt: skip
        return frozenset(spread)

    def _is_bypassed(self, net: str) -> bool:
        """Whether a bypass of a bias line's size goes from a net to a return."""
        return any(
            x.other(net) in self.supply.returns and not self.is_small(x, _BIAS_BYPASS_F)
            for x in self.network.at.get(net, ())
            if x.kind is Kind.CAPACITOR
        )

    def is_bias_line(self, net: str) -> bool:
        """Whether grids return to a bypassed net that no signal diode feeds."""
        fed = net in self.diode_reach or net in self.grids.nets or net not in self.grids.reach
        return not fed and self._is_bypassed(net)

    @cached_property
    def unsure(self) -> frozenset[str]:
        """Nets that parts we do not know are on, and what resistors and contacts join to those."""
        chassis = self.network.chassis
        starts = {
            chassis.net(node)
            for part in chassis.parts
            if part.fitted and not is_known(part)
            for node in part.nodes
        } - self.supply.sinks - self.supply.b_plus  # fmt: skip
        stop = self.supply.sinks | self.supply.positive
        return frozenset(
            walk(
                self.network.at, sorted(starts), lambda e: 0.0 if e.kind in _JOINING else None,
                admit=lambda net, _: net not in stop,
            )
        )  # fmt: skip

    @cached_property
    def reservoirs(self) -> frozenset[str]:
        """Nets of the first filter capacitor behind each rectifier (not behind a filter choke)."""
        found: set[str] = set()
        for supply in self.supply.rectified:
            reached = walk(self.network.at, [supply], self._surge_ohm)
            first: float | None = None
            for net, step in reached.items():
                if first is not None and step.ohm > first:
                    break
                if any(self._filters(e) for e in self.network.at.get(net, ())):
                    first = step.ohm
                    found.add(net)
        return frozenset(found)

    def _filters(self, e: Element) -> bool:
        return e.kind is Kind.CAPACITOR and self.supply.is_large(e)

    def _surge_ohm(self, e: Element) -> float | None:
        if e.kind in (Kind.CONTACT, Kind.FUSE, Kind.STRAP):
            return 0.0
        if e.kind is Kind.WINDING:
            if is_hash_choke(self.network.chassis, e):
                return 1.0 if e.ohm is None else e.ohm
            return 0.0 if e.ref in self.supply.power_refs else None
        small = e.kind is Kind.RESISTOR and e.ohm is not None and e.ohm <= _SURGE_OHM
        return e.ohm if small else None

    @cached_property
    def output_ends(self) -> frozenset[str]:
        """Nets at the ends of an audio transformer's primary that B+ comes to through it."""
        feed = self.supply.feed_walk
        return frozenset(
            net
            for net, step in feed.items()
            if step.by is not None
            and step.by.kind is Kind.WINDING
            and (part := self.network.chassis.part(step.by.ref)) is not None
            and is_audio_transformer(part)
        )

    def is_tunable(self, ref: str) -> bool:
        """Whether the coil of this reference can be part of a tuned circuit."""
        part = self.network.chassis.part(ref)
        return part is not None and ref not in self.supply.power_refs and is_tunable(part)

    def is_tone_leg(self, net: str) -> bool:
        """Whether a net returns through a control or few ohms, as tone parts do and grids not."""
        down = self.grids.returns.chain(net)
        ohm = sum(e.ohm or 0.0 for e in down)
        return bool(down) and (ohm < _TONE_OHM or any("wiper" in e.terminals for e in down))

    def leads_nowhere(self, net: str, e: Element) -> bool:
        """Whether behind a net there is nothing but resistors to a return (a tone control).

        `e` is the part on it that is asked about. At the wiper of a control with both ends wired
        it is a volume control's.
        """
        for x in self.network.at[net]:
            wiper = next((n for t, n in zip(x.terminals, x.nets, strict=True) if t == "wiper"), "")
            if wiper == net and len(self.network.of[x.ref]) > 1:
                return False
        behind = walk(
            self.network.at, [net], lambda x: 0.0 if x.kind in _JOINING else None,
            admit=lambda n, _: n not in self.frame,
        )  # fmt: skip
        if any(n in self.jacks or n in self.network.on for n in behind):
            return False
        at = [x for n in behind for x in self.network.at[n] if x.ref != e.ref]
        return bool(at) and all(x.kind in _JOINING - {Kind.WINDING} for x in at)

    def windings_between(self, a: str, b: str) -> list[str]:
        """References of coils and transformers of which one winding has both nets."""
        few, many = sorted((self.network.at.get(net, ()) for net in (a, b)), key=len)
        own = {(e.ref, e.path) for e in few if e.kind is Kind.WINDING}
        if not own:
            return []
        others = {(e.ref, e.path) for e in many if e.kind is Kind.WINDING}
        return sorted({ref for ref, _ in own & others})
