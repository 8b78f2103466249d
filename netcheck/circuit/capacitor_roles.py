"""Tells what each capacitor is for from where it sits and how large it is.

Belongs here: one question after the other, the most dangerous places first. Does not belong here:
any name, note or trade word of the part.
"""

from __future__ import annotations

from collections.abc import Callable

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.role import Role, Situation

__all__ = ["capacitor_role"]

# Sizes that part one use from another at the same place (common practice, no source): tuning
# and trimming below 1 nF, padders below 5 nF, AVC and audio parts from 5 nF, plate-to-B- RF
# bypass up to 0.5 nF and tone parts from 1 nF.
_TUNING_F = 1e-9
_PADDER_F = 5e-9
_AUDIO_F = 5e-9
_PLATE_RF_F = 0.75e-9
# Straight on a grid: a tone part up to here, an AVC or eye filter from here.
_EYE_F = 20e-9


def capacitor_role(s: Situation, e: Element) -> Role:
    """The role of one capacitor; the first question that is answered decides."""
    if e.a == e.b:
        return Role.UNKNOWN
    for question in _QUESTIONS:
        role = question(s, e)
        if role is not None:
            return role
    return Role.UNKNOWN


def _variable(s: Situation, e: Element) -> Role | None:
    part = s.network.chassis.part(e.ref)
    value = part.description.values.get("capacitance") if part else None
    spread = value is not None and value.known and value.spread and value.highest < _PADDER_F
    return Role.TUNED if spread else None


def _on_line(s: Situation, e: Element) -> Role | None:
    if s.across_line(e.a, e.b):
        return Role.ACROSS_LINE
    fed = any(e.a in feed and e.b in feed for feed in s.supply.feeds.values())
    contacts = (x for x in s.network.at[e.a] if x.kind is Kind.CONTACT)
    if fed and any(x.other(e.a) == e.b for x in contacts):
        return Role.ACROSS_SWITCH
    return None


def _to_metal(s: Situation, e: Element) -> Role | None:
    bridge = s.bridge(e)
    if bridge is None:
        return None
    line, metal = bridge
    if metal in s.jacks:
        return Role.ANTENNA_ISOLATION
    return Role.COMMON_TO_CHASSIS if line == s.supply.common else Role.LINE_TO_CHASSIS


def _heater(s: Situation, e: Element) -> Role | None:
    on = [net in s.supply.heaters and net not in s.supply.returns for net in e.nets]
    other = e.b if on[0] else e.a
    plain = other in s.supply.returns or other in s.supply.heaters or other in s.metal
    return Role.HEATER_BYPASS if any(on) and plain else None


def _winding(s: Situation, e: Element) -> Role | None:
    """Across a winding of a power transformer, a rectifier or a choke."""
    for winding in s.supply.windings:
        ends = {winding.nets[0], winding.nets[-1]} - s.supply.returns - s.supply.b_plus
        at = [net for net in e.nets if net in ends]
        other = e.b if at and at[0] == e.a else e.a
        if at and (other in winding.nets or other in s.supply.returns):
            return None if s.supply.is_large(e) else Role.BUFFER
    if any(set(e.nets) == {r.a, r.b} for r in s.supply.rectifiers):
        return Role.HUM_FILTER
    for ref in s.windings_between(e.a, e.b):
        supplied = s.supply.b_plus - s.plates | s.supply.returns
        if len(s.network.of[ref]) == 1 and supplied.issuperset(e.nets):
            return Role.HUM_FILTER
    return None


def _filter(s: Situation, e: Element) -> Role | None:
    """Large capacitors: reservoir, smoothing, doubler, back-bias bypass."""
    if not s.supply.is_large(e):
        return None
    on_supply = [net for net in e.nets if net in s.supply.b_plus]
    low = s.supply.returns | {n for feed in s.supply.feeds.values() for n in feed}
    ac = {n for w in s.supply.windings for n in w.nets} | low | s.supply.doubler_nets
    if len(on_supply) == 1:
        other = e.other(on_supply[0])
        if on_supply[0] in s.reservoirs and (other in ac):
            return Role.RESERVOIR if other in _ground(s) else Role.SMOOTHING
        if on_supply[0] in s.screens:
            return Role.SCREEN_BYPASS
        return Role.SMOOTHING if other in s.supply.returns else None
    if s.supply.returns.issuperset(e.nets):
        return Role.BIAS_BYPASS
    if on_supply or not s.supply.rectifiers:
        return None
    doubles = s.supply.doubler_nets & set(e.nets)
    return Role.RESERVOIR if doubles and ac.issuperset(e.nets) else None


def _ground(s: Situation) -> frozenset[str]:
    """Where the minus of a reservoir goes: anywhere but CHASSIS when the set has back bias."""
    common = s.supply.common
    everything = frozenset(s.network.at)
    return everything - (s.supply.returns - {common}) if common else everything


def _coupling(s: Situation, e: Element) -> Role | None:
    """A large capacitor onto a net without any way to a return is of a set still in work."""
    if e.ref not in s.coupling_refs:
        return None
    returned = any(c.leak or c.returns_to for c in s.grids.couplings if c.ref == e.ref)
    return None if s.supply.is_large(e) and not returned else Role.COUPLING


def _cathode(s: Situation, e: Element) -> Role | None:
    for net in e.nets:
        other = e.other(net)
        low = other in s.supply.returns or (
            other in s.grids.returns and other not in s.grids.reach and other not in s.plates
        )
        if net in s.cathodes and low and other not in s.supply.positive:
            return Role.CATHODE_BYPASS
    return None


def _tuned(s: Situation, e: Element) -> Role | None:
    """Across a tuned winding, or between the end of one and a return (padder)."""
    if not s.is_small(e, _PADDER_F):
        return None
    refs = [r for r in s.windings_between(e.a, e.b) if s.is_tunable(r)]
    if refs and (s.is_small(e, _TUNING_F) or not s.plates & set(e.nets)):
        return Role.TUNED
    for net in e.nets:
        rest = [x for x in s.network.at[net] if x.ref != e.ref]
        alone = bool(rest) and all(x.kind is Kind.WINDING and s.is_tunable(x.ref) for x in rest)
        if alone and e.other(net) in s.supply.returns:
            return Role.TUNED
    return None


def _positive(s: Situation, e: Element) -> Role | None:
    """One or both ends at positive volts: screen and plate bypass, decoupling, tone."""
    high = [net for net in e.nets if net in s.supply.positive]
    if not high:
        return None
    on_plate = next((net for net in high if net in s.plates or net in s.output_ends), None)
    net = on_plate or high[0]
    other = e.other(net)
    if on_plate is not None:
        return _plate(s, e, other)
    if other in s.supply.positive:
        return Role.RF_BYPASS
    if net in s.grids.nets and other not in s.supply.sinks:
        return Role.COUPLING
    if net in s.screens and (other in s.supply.sinks):
        return Role.SCREEN_BYPASS
    if other in s.supply.sinks:
        return Role.SMOOTHING if s.supply.is_large(e) else Role.RF_BYPASS
    return Role.TONE if other in s.grids.returns else None


def _plate(s: Situation, e: Element, other: str) -> Role | None:
    """From a plate to a return or B+, or through a resistor to one: by its size RF or tone.

    To a coil it feeds back or on, to a signal diode it feeds the AVC: coupling.
    """
    if other in s.diode_reach or _winds_down(s, other):
        return Role.COUPLING
    if other in s.supply.sinks or other in s.supply.positive:
        return Role.RF_BYPASS if s.is_small(e, _PLATE_RF_F) else Role.TONE
    return Role.TONE if s.is_tone_leg(other) else None


def _winds_down(s: Situation, net: str) -> bool:
    """Whether a net that is no cathode returns through a coil."""
    down = s.grids.returns.chain(net)
    return net not in s.network.nets_of("cathode") and any(x.kind is Kind.WINDING for x in down)


def _grid_side(s: Situation, e: Element) -> Role | None:
    """Between a signal net and a return: AVC, bias, detector filter, tone."""
    low = [net for net in e.nets if net in s.frame]
    if len(low) != 1:
        return None
    net = e.other(low[0])
    if _is_tap(s, net):
        return Role.TONE
    small = s.is_small(e, _AUDIO_F)
    if net in s.bias_nets and not small:
        return Role.BIAS_BYPASS
    least_f = _EYE_F if net in s.grids.nets else _AUDIO_F
    if net in s.grids.reach and not s.is_small(e, least_f):
        step = s.diode_reach.get(net)
        return Role.AVC_BYPASS if step is not None and step.ohm > 0 else Role.BIAS_BYPASS
    if net in s.diode_reach or net in s.grids.reach:
        return Role.RF_BYPASS if small else Role.TONE
    return None


def _is_tap(s: Situation, net: str) -> bool:
    """Whether the net is on a tap of a control (tone compensation)."""
    for e in s.network.at[net]:
        part = s.network.chassis.part(e.ref)
        wiped = part is not None and part.terminal("wiper") is not None
        if wiped and any(t.startswith("tap") for t in _terminals_at(e, net)):
            return True
    return False


def _terminals_at(e: Element, net: str) -> list[str]:
    return [t for t, n in zip(e.terminals, e.nets, strict=True) if n == net]


def _signal(s: Situation, e: Element) -> Role | None:
    """Between two signal nets: a coupling without DC on it, an antenna terminal, tone."""
    at_jack = [net for net in e.nets if net in s.jacks]
    if at_jack and s.poles.plugs:
        wound = any(x.kind is Kind.WINDING for net in e.nets for x in s.network.at[net])
        if wound or any(net in s.sides.line for net in e.nets):
            return Role.ANTENNA_ISOLATION
    if any(net in s.supply.returns for net in e.nets):
        return None
    if at_jack and any(net in s.supply.positive for net in e.nets):
        return Role.COUPLING
    if any(_is_tap(s, net) for net in e.nets):
        return Role.TONE
    apart = [net for net in e.nets if net not in s.jacks]
    alone = any(all(x.ref == e.ref for x in s.network.at[net]) for net in apart)
    on_grid = any(net in s.grids.reach for net in e.nets)
    if alone or not on_grid or s.supply.is_large(e):
        return None
    nowhere = [net for net in e.nets if s.leads_nowhere(net, e)]
    if not nowhere:
        return Role.COUPLING
    return Role.TONE if any(s.is_tone_leg(net) for net in nowhere) else None


def _battery(s: Situation, e: Element) -> Role | None:
    """From a battery's lead to the other: against hash and ignition noise."""
    low = [net for net in e.nets if net in s.supply.returns]
    if len(low) != 1 or s.supply.is_large(e):
        return None
    return Role.RF_BYPASS if e.other(low[0]) in s.battery_leads else None


_QUESTIONS: tuple[Callable[[Situation, Element], Role | None], ...] = (
    _variable, _on_line, _to_metal, _heater, _winding, _filter, _cathode, _tuned, _coupling,
    _positive, _grid_side, _signal, _battery,
)  # fmt: skip
