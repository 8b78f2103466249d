"""Which nets carry AC that nobody knows, because 0 V of direct current would read as harmless.

Belongs here: the nets of a winding whose volts are not written, behind a rail that is held. Does
not belong here: supplies that are computed (source, source_bias).
"""

from __future__ import annotations

from collections.abc import Iterable

from netcheck.circuit.elements import Kind
from netcheck.circuit.source_reservoir import joined_nets
from netcheck.circuit.source_types import Off, RectifierSource, Unknown
from netcheck.circuit.wiring import Wiring

__all__ = ["untold_nets"]

_Source = RectifierSource | Off | Unknown


def untold_nets(wiring: Wiring, sources: Iterable[_Source]) -> frozenset[str]:
    """Nets of a winding whose volts are not written, behind a rectifier whose rail is held.

    They carry AC that nobody knows: 0 V of direct current would read as harmless.
    """
    chassis = wiring.chassis
    found = {net for each in sources if isinstance(each, Unknown) for net in each.drives}
    for winding in wiring.supply.windings:
        if not found.isdisjoint(winding.nets):
            found.update(winding.nets)
    held = [joined_nets(wiring, chassis.net(hold.node)) for hold in chassis.holds]
    base = {chassis.net("B-"), chassis.net("CHASSIS"), wiring.common or ""}
    found.difference_update(base, *held)
    for e in wiring.elements:  # what a resistor joins to nothing but a bias rectifier
        ends = [e.a, e.b] if e.kind is Kind.RESISTOR and not found.isdisjoint(e.nets) else []
        for net in ends:
            rest = [other for other in wiring.at(net) if other is not e]
            if rest and all(other in wiring.supply.power_diodes for other in rest):
                found.add(net)
    return frozenset(found.difference(base, *held))
