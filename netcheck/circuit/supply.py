"""Where the plate supply comes from and returns to, because roles and couplings hang on it.

Belongs here: rectifiers, B+ nets, the common net, what is positive. Does not belong here: what
drives the rectifiers (power), volts and amperes.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import Network, Walk, walk
from netcheck.circuit.power import Power, PowerWinding, series_ohm
from netcheck.circuit.sides import Poles
from netcheck.circuit.supply_bias import BiasDiode, bias_diodes, is_backward

__all__ = ["Supply"]

_FILTER_FARAD = 1e-6
"""Filter capacitors are 2 uF and more, bypasses 0.5 uF and less (common practice, no source)."""

_FOLLOWER_OHM = 10e3
"""From here on a cathode resistor makes a follower or phase splitter: its cathode stands tens of
volts up. Cathode bias resistors are at most some kilohms (common practice, no source)."""

_FEEDING = frozenset(
    {
        Kind.RESISTOR, Kind.WINDING, Kind.CONTACT, Kind.FUSE, Kind.STRAP, Kind.METER, Kind.LAMP,
        Kind.SPEAKER,
    }
)  # fmt: skip

_GROUNDING = frozenset({Kind.WINDING, Kind.FUSE, Kind.STRAP, Kind.SPEAKER, Kind.METER})

_BIAS_OHM = 100e3
"""Between a winding and a bias diode stand at most some tens of kilohms (common practice)."""


class Supply:
    """The supply side of one network; each view is computed when first asked for."""

    def __init__(self, network: Network, poles: Poles) -> None:
        self._network = network
        self.power = Power(network, poles)
        self._driving: dict[Element, str | None] = {}

    @property
    def feeds(self) -> dict[str, frozenset[str]]:
        """By line pin: the nets joined to it through contacts, fuses, small resistors, chokes."""
        return self.power.feeds

    @property
    def windings(self) -> tuple[PowerWinding, ...]:
        """Every winding of every transformer that the line or a vibrator drives."""
        return self.power.windings

    @property
    def power_refs(self) -> frozenset[str]:
        """The references of the power transformers."""
        return self.power.power_refs

    @cached_property
    def returns(self) -> frozenset[str]:
        """Nets that signals and supplies return to: common, B-, CHASSIS (those that exist)."""
        return self._base if self.common is None else self._base | {self.common}

    @cached_property
    def _base(self) -> frozenset[str]:
        """Nets that are returns whatever the rectifier says (to find the rectifier with)."""
        names = {self._network.chassis.net(name) for name in ("B-", "CHASSIS")}
        return frozenset(names & set(self._network.at))

    @cached_property
    def rectifiers(self) -> tuple[Element, ...]:
        """Streams and diodes that feed B+ (bias and detector diodes, bridge returns left out)."""
        tubes = {
            (e.ref, e.section) for e in self._network.electrodes if e.section_kind == "rectifier"
        }
        candidates = [
            e
            for e in self._network.elements
            if (
                e.kind is Kind.STREAM
                and (e.ref, e.path) in tubes
                and not is_backward(self._network, self, e, self._base)
            )
            or (e.kind is Kind.DIODE and self.source_of(e) is not None and self._leads_on(e.b))
        ]
        plates = {e.a for e in candidates}
        kept = tuple(e for e in candidates if e.b not in plates or e.a == e.b)
        return kept or tuple(candidates)

    @cached_property
    def doubler_nets(self) -> frozenset[str]:
        """Nets where one rectifier's cathode meets another's plate (voltage doublers, bridges)."""
        return frozenset({e.a for e in self._diodes} & {e.b for e in self._diodes})

    @cached_property
    def power_diodes(self) -> frozenset[Element]:
        """Diodes and rectifier streams that a winding or the line drives, bias diodes too."""
        driven = {e for e in self._diodes if e in self.rectifiers or self._is_driven(e)}
        return frozenset(driven | {each.element for each in self.bias_diodes})

    @cached_property
    def bias_diodes(self) -> tuple[BiasDiode, ...]:
        """The diodes that make a bias, with their driven ends and their rails."""
        return bias_diodes(self._network, self)

    def _is_driven(self, diode: Element) -> bool:
        low = self.returns
        driving = {net for w in self.windings for net in w.nets}
        driving |= {net for feed in self.feeds.values() for net in feed}
        near = walk(
            self._network.at, set(diode.nets) - low, _down_ohm,
            admit=lambda net, ohm: net not in low and ohm < _BIAS_OHM, until=driving - low,
        )  # fmt: skip
        return any(net in driving for net in near)

    def _leads_on(self, net: str) -> bool:
        """Whether a net feeds plates, screens or the plus of a filter capacitor."""
        reached = self._spread([net], self._base)
        wanted = self._network.nets_of("plate", "screen")
        return any(
            n in wanted or any(self._is_filter(e, n) for e in self._network.at.get(n, ()))
            for n in reached
        )

    def _is_filter(self, element: Element, positive: str) -> bool:
        return self._is_big(element) and positive == element.a

    def _is_big(self, element: Element) -> bool:
        return element.kind is Kind.CAPACITOR and self.is_large(element)

    def is_large(self, element: Element) -> bool:
        """Whether a capacitor is of filter size (unknown: whether it is polarized)."""
        part = self._network.chassis.part(element.ref)
        farad = part.value("capacitance") if part else None
        return element.terminals[0] == "+" if farad is None else farad >= _FILTER_FARAD

    def source_of(self, rectifier: Element) -> str | None:
        """The winding end or line-fed net that drives the plate of a rectifier, or None."""
        if rectifier not in self._driving:
            self._driving[rectifier] = self._found_source(rectifier)
        return self._driving[rectifier]

    def _found_source(self, rectifier: Element) -> str | None:
        ends = frozenset(net for w in self.windings for net in (w.nets[0], w.nets[-1]))
        fed = frozenset(net for feed in self.feeds.values() for net in feed)
        doubles = rectifier.a in self.doubler_nets

        def ohm_of(e: Element) -> float | None:
            own = e.ref == rectifier.ref and e.kind is Kind.HEATER
            pumps = doubles and rectifier.a in e.nets and self._is_big(e)
            return (e.ohm or 0.0) if own or pumps or e.kind is Kind.LAMP else series_ohm(e)

        goals = ends | fed
        reached = walk(self._network.at, [rectifier.a], ohm_of, until=goals)
        return next((net for net in reached if net in goals), None)

    @cached_property
    def supplies(self) -> frozenset[str]:
        """Nets where B+ begins: rectifier cathodes, batteries, held rails, else one named B+."""
        found = self.rectified | self._held_rails
        found |= {e.a for e in self._network.elements if e.kind is Kind.BATTERY and self._is_b(e)}
        if not found:
            found = frozenset({self._network.chassis.net("B+")} & set(self._network.at))
        return found

    @cached_property
    def rectified(self) -> frozenset[str]:
        """Nets where rectified B+ begins (both ends of a rectifier's filament)."""
        found = {e.b for e in self.rectifiers} | self._vibrator_rails
        for e in self._network.electrodes:
            if e.section_kind == "rectifier" and e.duty == "cathode" and "heater" in e.name:
                found |= self._heater_ends(e.ref) if e.net in found else set()
        return frozenset(found)

    def _heater_ends(self, ref: str) -> set[str]:
        return {n for e in self._network.of[ref] if e.kind is Kind.HEATER for n in e.nets}

    @property
    def _held_rails(self) -> frozenset[str]:
        chassis = self._network.chassis
        held = (h.node for h in chassis.holds if h.value.known and h.value.si > 0)
        return frozenset(chassis.net(node) for node in held)

    def _is_b(self, battery: Element) -> bool:
        reached = self._spread([battery.a], self._base | self.heaters)
        plates = self._network.nets_of("plate", "screen")
        return battery.a not in self._base and any(net in plates for net in reached)

    @cached_property
    def _vibrator_rails(self) -> set[str]:
        """Synchronous vibrator: the tap of the winding that its second contacts rectify."""
        driven = [
            w
            for w in self.windings
            if w.driven and set(w.nets[::2]) <= self.power.vibrator_contacts
        ]
        batteries = {n for e in self._network.elements if e.kind is Kind.BATTERY for n in e.nets}
        rails: set[str] = set()
        for winding in driven if len(driven) > 1 else ():
            for tap in winding.nets[1:-1]:
                reached = walk(self._network.at, [tap], series_ohm)
                if not batteries & set(reached):
                    rails.add(tap)
        return rails

    @cached_property
    def common(self) -> str | None:
        """The net the supply returns to (back bias: the centre tap, not CHASSIS)."""
        for rectifier in self.rectifiers:
            found = self._return_of(rectifier)
            if found is not None:
                return self._through_contacts(found)
        for e in self._network.elements:
            if e.kind is Kind.BATTERY and self._is_b(e) and e.b not in self.supplies_of_batteries:
                return e.b
        nets = self._network.at
        names = (self._network.chassis.net(name) for name in ("B-", "CHASSIS"))
        return next((net for net in names if net in nets), None)

    @cached_property
    def back_bias(self) -> tuple[Element, ...]:
        """The elements from the common net to CHASSIS when the supply returns through them."""
        if self.common is None or self.common in self._base:
            return ()
        reached = walk(self._network.at, [self.common], _down_ohm, until=self._base)
        goal = next((net for net in reached if net in self._base), None)
        return () if goal is None else reached.chain(goal)[::-1]

    def _through_contacts(self, net: str) -> str:
        """The bus behind a standby switch or a fuse in the centre-tap lead, else the net."""
        plain = (Kind.CONTACT, Kind.FUSE, Kind.STRAP)
        near = walk(self._network.at, [net], lambda e: 0.0 if e.kind in plain else None)
        return next((n for n in sorted(self._base) if n in near), net)

    @cached_property
    def supplies_of_batteries(self) -> frozenset[str]:
        """The plus nets of all batteries."""
        return frozenset(e.a for e in self._network.elements if e.kind is Kind.BATTERY)

    def _return_of(self, rectifier: Element) -> str | None:
        """Centre tap, other end of the winding, minus of the bridge, or the other line pole."""
        end = self.source_of(rectifier)
        if end is None:
            return None
        bridge = next((e.a for e in self._diodes if e.b == end and e.a != rectifier.b), None)
        if bridge is not None:
            return bridge
        ends = {self.source_of(r) for r in self.rectifiers}
        for winding in self.windings:
            if end in (winding.nets[0], winding.nets[-1]) and not self._fed(end):
                opposite = winding.nets[-1] if end == winding.nets[0] else winding.nets[0]
                centre = winding.centre(self._base) if opposite in ends else None
                return centre or opposite
        return self._busiest(end)

    @cached_property
    def _diodes(self) -> tuple[Element, ...]:
        tubes = {e.ref for e in self._network.electrodes if e.section_kind == "rectifier"}
        return tuple(
            e
            for e in self._network.elements
            if e.kind is Kind.DIODE or (e.kind is Kind.STREAM and e.ref in tubes)
        )

    def _fed(self, net: str) -> bool:
        return any(net in feed for feed in self.feeds.values())

    def _busiest(self, end: str) -> str | None:
        """Of the nets fed by the pole that `end` is not fed by, the one most parts are on.

        An output of a rectifier is none, though a short may join it to that pole.
        """
        outputs = {r.b for r in self.rectifiers} - self._base
        far = [feed for feed in self.feeds.values() if end not in feed]
        across = [net for feed in far for net in sorted(feed) if net not in outputs]
        at = self._network.at
        return max(across, key=lambda net: (len(at.get(net, ())), net in self._base), default=None)

    @cached_property
    def sinks(self) -> frozenset[str]:
        """Where following B+ ends: returns and windings to them, cathodes and heaters.

        Those of rectifiers do not count.
        """
        grounded = walk(
            self._network.at, sorted(self.returns), lambda e: 0.0 if e.kind in _GROUNDING else None
        )
        return frozenset(grounded) | self._network.nets_of("cathode") | self.heaters

    @cached_property
    def heaters(self) -> frozenset[str]:
        """Nets on heaters of all tubes but rectifiers."""
        rectifiers = {e.ref for e in self._network.electrodes if e.section_kind == "rectifier"}
        return frozenset(
            net
            for e in self._network.elements
            if e.kind is Kind.HEATER and e.ref not in rectifiers
            for net in e.nets
        )

    @cached_property
    def b_plus(self) -> frozenset[str]:
        """All nets fed from a supply through resistors, windings and contacts, plates included."""
        return frozenset(self._spread(sorted(self.supplies), self.sinks))

    @cached_property
    def fed(self) -> frozenset[str]:
        """`b_plus`, and every plate and screen with what they are joined to by resistors."""
        plates = self._network.nets_of("plate", "screen") - self.returns
        return frozenset(self._spread(sorted(self.b_plus | plates), self.sinks))

    @cached_property
    def positive(self) -> frozenset[str]:
        """Nets of positive mean voltage: `fed`, and what stands on a follower's cathode."""
        raised = walk(
            self._network.at, sorted(self.followers), _down_ohm,
            admit=lambda net, _: self._above(net),
        )  # fmt: skip
        return self.fed | frozenset(raised)

    @cached_property
    def followers(self) -> frozenset[str]:
        """Cathodes behind so many ohms that they stand far above their return."""
        cathodes = {
            e.net
            for e in self._network.electrodes
            if e.duty == "cathode"
            and "heater" not in e.name
            and e.section_kind not in ("rectifier", "diode")
        }
        return frozenset(net for net in cathodes - self.fed if self._above(net))

    def _above(self, net: str) -> bool:
        step = self._raised.get(net)
        return step is not None and step.ohm >= _FOLLOWER_OHM

    @cached_property
    def _raised(self) -> Walk:
        """How many ohms each net is above the returns."""
        return walk(self._network.at, sorted(self.returns), _down_ohm)

    def _spread(self, starts: Iterable[str], sinks: frozenset[str]) -> Walk:
        own = {e.ref for e in self._network.electrodes if e.section_kind == "rectifier"}

        def ohm_of(e: Element) -> float | None:
            passes = e.kind in _FEEDING or (e.kind is Kind.HEATER and e.ref in own)
            return (e.ohm or 0.0) if passes else None

        return walk(
            self._network.at, [s for s in starts if s not in sinks], ohm_of,
            admit=lambda net, _: net not in sinks,
        )  # fmt: skip

    @cached_property
    def feed_walk(self) -> Walk:
        """The walk from the supplies over the positive nets: how each of them is fed."""

        def ohm_of(e: Element) -> float | None:
            return (e.ohm or 0.0) if e.kind in _FEEDING else None

        return walk(
            self._network.at, sorted(self.supplies), ohm_of,
            admit=lambda net, _: net in self.positive,
        )  # fmt: skip


def _down_ohm(e: Element) -> float | None:
    if e.kind is Kind.RESISTOR:
        return _FOLLOWER_OHM if e.ohm is None else max(e.ohm, 0.0)
    return (e.ohm or 0.0) if e.kind in (Kind.WINDING, Kind.CONTACT, Kind.FUSE, Kind.STRAP) else None
