"""Finds what a set rectifies beside its rails, so that no figure rests on volts nobody computed.

Belongs here: rectifiers that make a bias of a winding, and nets behind a rail that is held while
its winding is not told. Does not belong here: the supplies that are computed (source).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from netcheck.circuit.elements import Kind
from netcheck.circuit.source import Off, RectifierSource, Unknown
from netcheck.circuit.source_reservoir import joined_nets, large_between
from netcheck.circuit.wiring import Wiring

__all__ = ["bias_not_computed", "untold_nets"]

_Source = RectifierSource | Off | Unknown


def bias_not_computed(wiring: Wiring, sources: Iterable[_Source]) -> Iterator[str]:
    """A sentence for each rectifier that fills a capacitor whose plus is on the return.

    Its rail would stand at 0 V in the sums, and every tube it biases would seem to run away. Not
    one whose bias is held, nor of a set whose supplies are off.
    """
    chassis = wiring.chassis
    driven = [each for each in sources if not isinstance(each, Off)]
    if not driven or any(h.value.known and h.value.si < 0 for h in chassis.holds):
        return
    counted = {ref for each in driven if isinstance(each, RectifierSource) for ref in each.refs}
    base = frozenset({chassis.net("B-"), chassis.net("CHASSIS")})
    for e in wiring.elements:
        if e not in wiring.supply.power_diodes or e in wiring.rectifiers or e.ref in counted:
            continue
        if e.a not in base and large_between(wiring, base, joined_nets(wiring, e.a)):
            yield (
                f"{e.ref}: the bias that it makes at {e.a} is not computed; "
                f"measure it and state it (`hold {e.a} -20 V`, with the volts you read)."
            )


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
