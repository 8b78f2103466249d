"""The highest volts a plate supply can reach with nothing drawn from it: a bound, not a chart.

Belongs here: the peak behind a rectifier, a battery, a held rail. Does not belong here: volts
under load (they need the supply solved), or what they do to a part.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from netcheck.circuit.wiring import Element, Kind
from netcheck.parts import Description
from netcheck.rules._base import Case
from netcheck.rules._words import amount

__all__ = ["Unloaded", "unloaded_supply"]


@dataclass(frozen=True, slots=True)
class Unloaded:
    """Volts of a supply without load, and the sum they come from."""

    volts: float
    sum: str


def unloaded_supply(case: Case, net: str) -> Unloaded | None:
    """Return the unloaded volts of the supply that feeds a positive net, None if not known.

    The peak of what feeds the rectifier, 1.414 x rms, at the line's highest; twice that behind a
    voltage doubler (elementary rectifier theory). A winding's volts are taken as written, which
    is under load: the unloaded winding gives some percent more.
    """
    supply = case.circuit.wiring.supply
    start = supply.feed_walk.origin(net)
    if start is None:
        return None
    for hold in case.chassis.holds:
        if case.chassis.net(hold.node) == start and hold.value.known:
            return Unloaded(hold.value.si, f"{amount(hold.value.si, 'V')} as held")
    for element in case.circuit.wiring.at(start):
        battery = case.chassis.part(element.ref)
        volts = battery.value("voltage") if battery is not None else None
        if element.kind is Kind.BATTERY and element.a == start and volts is not None:
            return Unloaded(volts, f"{amount(volts, 'V')} of {element.ref}")
    return _rectified(case, start)


def _rectified(case: Case, start: str) -> Unloaded | None:
    """The peak behind the rectifiers of a supply net; unknown if one of them is unknown."""
    rectifiers = case.circuit.wiring.rectifiers
    # A filament rectifier's supply may be drawn at either end of its filament.
    own = {e.ref for e in case.circuit.wiring.at(start) if e.kind is Kind.HEATER}
    near = [r for r in rectifiers if r.b == start or r.ref in own] or list(rectifiers)
    peaks = [_peak(case, r) for r in near]
    known = [peak for peak in peaks if peak is not None]
    if not known or len(known) < len(peaks):
        return None
    highest = max(known, key=lambda peak: peak.volts)
    if not case.circuit.wiring.supply.doubler_nets:
        return highest
    return Unloaded(2 * highest.volts, f"2 x ({highest.sum}), voltage doubler")


def _peak(case: Case, rectifier: Element) -> Unloaded | None:
    line = case.chassis.line
    supply = case.circuit.wiring.supply
    source = supply.source_of(rectifier)
    if line is None or line.volts is None or source is None:
        return None
    above = 1 + line.tolerance.above
    if any(source in feed for feed in supply.feeds.values()):
        return _times(line.volts, above, "line", ac=line.hertz > 0)
    rms = _winding_v(case, source)
    return None if rms is None or line.hertz <= 0 else _times(rms, above, "winding", ac=True)


def _times(volts: float, above: float, what: str, *, ac: bool) -> Unloaded:
    peak = (math.sqrt(2) if ac else 1.0) * volts * above
    factor = "1.414 x " if ac else ""
    said = f"{factor}{amount(volts, 'V')} of the {what} x {above:.3g} = {amount(peak, 'V')}"
    return Unloaded(peak, said)


def _winding_v(case: Case, source: str) -> float | None:
    """RMS volts from a winding's end to its centre (or its other end), as the text says."""
    for winding in case.circuit.wiring.supply.windings:
        part = case.chassis.part(winding.ref)
        if part is None or source not in (winding.nets[0], winding.nets[-1]) or winding.driven:
            continue
        own = part.description.windings.get(winding.path)
        return _volts(own or part.description)
    return None


def _volts(description: Description) -> float | None:
    """Of `340-0-340 V` and `340 V each` one half; a single number is taken whole (a bound)."""
    for role in ("voltage", "voltage-ac", "voltage-each", "voltage-ac-each"):
        value = description.values.get(role)
        if value is not None and value.known:
            return value.highest
    return None
