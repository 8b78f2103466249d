"""Tells what each resistor is for from where it sits and how large it is.

Belongs here: one question after the other, the most dangerous places first. Does not belong here:
any name, note or trade word of the part.
"""

from __future__ import annotations

from collections.abc import Callable

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import walk
from netcheck.circuit.role import Role, Situation

__all__ = ["resistor_role"]

_AVC_OHM = 100e3
"""AVC filter resistors are 0.5 to 3 megohm, never below this (common practice, no source)."""

_BACK_BIAS_OHM = 5e3
"""Back-bias resistors and fields in the negative lead stay below this (common practice)."""

_SMALL_SHARE = 0.02
"""Of the ohms from a grid to its return a part below this share is there for something else: a
cathode resistor whose cathode is not in the text yet (common practice, no source)."""

_SIGNAL = (Kind.CAPACITOR, Kind.WINDING)


def resistor_role(s: Situation, elements: tuple[Element, ...]) -> Role:
    """The role of one resistor: of its first section that has one; a control is a control."""
    if any("wiper" in e.terminals for e in elements):
        return Role.CONTROL
    for e in elements:
        for question in _QUESTIONS:
            role = question(s, e) if e.a != e.b else None
            if role is not None:
                return role
    return Role.UNKNOWN


def _on_line(s: Situation, e: Element) -> Role | None:
    bridge = s.bridge(e)
    if bridge is not None:
        common = bridge[0] == s.supply.common
        return Role.COMMON_TO_CHASSIS if common else Role.LINE_TO_CHASSIS
    if _is_surge(s, e):
        return Role.SURGE
    return None


def _is_surge(s: Situation, e: Element) -> bool:
    """Between the source and a rectifier's plate, or its cathode and the reservoir."""
    if s.across_line(e.a, e.b):
        return False
    far_ends = _far_ends(s, e)
    if any(s.is_driving(e.other(far)) and _serves_rectifier(s, e, far) for far in far_ends):
        return not _spans_heater(s, e)
    for r in s.supply.rectifiers:
        # A heater dropper at the plate's own net leads away from the line: no surge resistor.
        if r.a in e.nets and r.a in far_ends and s.is_driving(e.other(r.a)):
            return not _spans_heater(s, e)
        if r.b in e.nets and r.b not in s.reservoirs and e.other(r.b) in s.reservoirs:
            return True
    return False


def _far_ends(s: Situation, e: Element) -> list[str]:
    """The end of an element that is further from the line; both when they are alike."""
    ohms = [s.sides.ohm(net) or 0.0 for net in e.nets]
    return [net for net, ohm in zip(e.nets, ohms, strict=True) if ohm == max(ohms)]


def _serves_rectifier(s: Situation, e: Element, far: str) -> bool:
    """Whether all that hangs on the far end of a resistor is the plate of a rectifier."""
    passes = (Kind.RESISTOR, Kind.FUSE, Kind.STRAP)
    behind = walk(
        s.network.at, [far], lambda x: 0.0 if x.kind in passes and x != e else None,
        until=s.poles.line | s.supply.returns,
    )  # fmt: skip
    loads = (Kind.HEATER, Kind.LAMP, Kind.LOAD, Kind.WINDING)
    if any(net in s.poles.line or net in s.supply.returns for net in behind):
        return False
    if any(x.kind in loads for net in behind for x in s.network.at[net]):
        return False
    return any(r.a in behind for r in s.supply.rectifiers)


def _spans_heater(s: Situation, e: Element) -> bool:
    """Whether heaters or lamps alone lead from one end to the other."""
    passes = (Kind.HEATER, Kind.LAMP)
    if not all(any(x.kind in passes for x in s.network.at[net]) for net in e.nets):
        return False
    # From the end with less on it: half of a large set is on the chassis.
    start, end = sorted(e.nets, key=lambda net: len(s.network.at[net]))
    reached = walk(
        s.network.at, [start], lambda x: 0.0 if x.kind in passes else None,
        stop=s.supply.returns, until=(end,),
    )  # fmt: skip
    return end in reached


def _heater(s: Situation, e: Element) -> Role | None:
    if _spans_heater(s, e):
        return Role.HEATER_SHUNT
    on = next((net for net in e.nets if net in s.supply.heaters), None)
    if on is None and not any(e.a in f and e.b in f for f in s.supply.feeds.values()):
        on = next((net for net in e.nets if net in s.heater_feeds), None)
    if on is None or any(net in s.supply.returns for net in e.nets):
        return None
    other = e.other(on)
    fed = any(other in feed for feed in s.supply.feeds.values())
    strung = any(x.kind in (Kind.HEATER, Kind.LAMP) for x in s.network.at[other])
    return Role.HEATER_DROPPER if fed or strung or other in s.supply.b_plus else None


def _line_series(s: Situation, e: Element) -> Role | None:
    """A small resistor in a line-fed lead that is no surge resistor drops for the heaters."""
    signal = any(net in s.supply.returns or net in s.cathodes for net in e.nets)
    fed = any(e.a in feed and e.b in feed for feed in s.supply.feeds.values())
    return Role.HEATER_DROPPER if fed and not signal and _leads_to_heaters(s, e) else None


def _leads_to_heaters(s: Situation, e: Element) -> bool:
    """Whether resistors and contacts lead from an element, away from the line, to a heater."""
    passes = (Kind.RESISTOR, Kind.CONTACT, Kind.FUSE, Kind.STRAP)
    stop = s.poles.line | s.supply.returns
    reached = walk(
        s.network.at, set(_far_ends(s, e)) - stop,
        lambda x: 0.0 if x.kind in passes and x != e else None,
        admit=lambda net, _: net not in stop,
    )  # fmt: skip
    loads = (Kind.HEATER, Kind.LAMP)
    return any(x.kind in loads for net in reached for x in s.network.at[net])


def _damping(s: Situation, e: Element) -> Role | None:
    """Across a winding or a part of it."""
    return Role.DAMPING if s.windings_between(e.a, e.b) else None


def _cathode(s: Situation, e: Element) -> Role | None:
    return Role.CATHODE_BIAS if e in s.under_cathodes else None


def _back_bias(s: Situation, e: Element) -> Role | None:
    if e in s.supply.back_bias:
        return Role.BACK_BIAS
    small = e.ohm is not None and e.ohm < _BACK_BIAS_OHM
    if s.supply.returns.issuperset(e.nets):
        return Role.BACK_BIAS if small else Role.BLEEDER
    return None


def _positive(s: Situation, e: Element) -> Role | None:
    """Both ends at positive volts: how plates and screens are fed."""
    high = [net for net in e.nets if net in s.supply.fed]
    if len(high) == 1:
        return Role.BLEEDER if e.other(high[0]) in s.supply.sinks else None
    if len(high) < 2:
        return None
    for net in high:
        step = s.supply.feed_walk.get(net)
        from_here = step is None or step.by == e
        if net in s.plates and net not in s.feeding and from_here:
            return Role.PLATE_LOAD
        if net in s.screens and from_here:
            return Role.SCREEN_DROPPER
    return Role.FILTER


def _bias(s: Situation, e: Element) -> Role | None:
    """At a bias diode, or between a bias line and its return or source."""
    for net in e.nets:
        other = e.other(net)
        low = other in s.supply.returns or other in s.bias_nets
        if low and (net in s.bias_nets or s.is_bias_line(net)):
            return Role.BIAS_SUPPLY
        if net in s.bias_nets and s.is_driving(other):
            return Role.BIAS_SUPPLY
    return None


def _grid(s: Situation, e: Element) -> Role | None:
    if not any(net in s.grids.reach or net in s.diode_reach for net in e.nets):
        return None
    return _stopper(s, e) or _avc(s, e) or _leak(s, e)


def _stopper(s: Situation, e: Element) -> Role | None:
    """The only thing on a grid net, with more on its far end than a return."""
    for net in e.nets:
        far = e.other(net)
        if net not in s.grids.nets or far in s.supply.sinks or far in s.bias_nets:
            continue
        if not all(x.ref == e.ref or x.kind is Kind.STREAM for x in s.network.at[net]):
            continue
        signal = any(x.kind in _SIGNAL or "wiper" in x.terminals for x in s.network.at[far])
        if signal or far in s.jacks:
            return Role.GRID_STOPPER
    return None


def _avc(s: Situation, e: Element) -> Role | None:
    """From the detector to a net that bypasses grids; else the detector's own load."""
    both = all(net in s.grids.reach and net in s.diode_reach for net in e.nets)
    if both and e.ohm is not None and e.ohm >= _AVC_OHM:
        return Role.AVC_FILTER
    if e.ohm is not None and all(net in s.diode_reach for net in e.nets):
        return Role.DETECTOR_FILTER
    starts = [net for net in e.nets if (step := s.diode_reach.get(net)) and step.ohm < _AVC_OHM]
    low = s.supply.sinks | s.bias_nets
    if any(e.other(net) in low for net in starts):
        return Role.DETECTOR_LOAD
    return None


def _leak(s: Situation, e: Element) -> Role | None:
    """On the way from a grid to its return; not what is small beside the rest of that way."""
    for net in e.nets:
        grid = s.grids.reach.origin(net)
        down = s.grids.returns.chain(grid) if grid is not None else ()
        if grid is not None and e in s.grids.returns.chain(net):
            most = max((x.ohm or 0.0 for x in down if x.kind is Kind.RESISTOR), default=0.0)
            small = e.ohm is not None and e.ohm < _SMALL_SHARE * most
            return None if small else Role.GRID_LEAK
    return None


_QUESTIONS: tuple[Callable[[Situation, Element], Role | None], ...] = (
    _on_line, _heater, _back_bias, _cathode, _line_series, _damping, _positive,
    _bias, _grid,
)  # fmt: skip
