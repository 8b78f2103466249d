"""Whether the role of a part is sure enough to judge its value by it.

Belongs here: what the wiring must show beside the role itself before a rule holds a value against
it. Does not belong here: telling the role (circuit/roles.py), or the limits of any role.

A role is read from what is there; while a set is being typed in, a tube or resistor that is still
missing turns one role into another (a tone capacitor into a tuned circuit).
"""

from __future__ import annotations

from netcheck.circuit.wiring import Element, Kind, Role, Wiring
from netcheck.parts import Part

__all__ = ["is_sure"]

_RADIO = (
    "if", "rf", "oscillator", "antenna", "loop-antenna", "wave-trap", "detector", "discriminator",
)  # fmt: skip
# The electrode that must be on one end for a role to be sure.
_DUTY = {
    Role.PLATE_LOAD: "plate",
    Role.SCREEN_DROPPER: "screen",
    Role.CATHODE_BIAS: "cathode",
    Role.GRID_LEAK: "grid",
    Role.TONE: "plate",
}


def is_sure(wiring: Wiring, part: Part, role: Role) -> bool:
    """Whether the wiring shows what makes the role certain (of other roles: what it says)."""
    elements = wiring.of(part.ref)
    if role is Role.TUNED:
        return any(_winds_radio(wiring, net, e.other(net)) for e in elements for net in e.nets)
    if role is Role.COUPLING:
        grids = (e for each in elements for net in each.nets for e in wiring.electrodes_on(net))
        return any(part.ref == coupling.ref for coupling in wiring.couplings) or any(
            electrode.duty == "grid" for electrode in grids
        )
    duty = _DUTY.get(role)
    return duty is None or any(_ends_well(wiring, e, net, duty) for e in elements for net in e.nets)


def _ends_well(wiring: Wiring, element: Element, net: str, duty: str) -> bool:
    """Whether the electrode is on `net`, and the far end is where such a part ends."""
    far = element.other(net)
    if not any(electrode.duty == duty for electrode in wiring.electrodes_on(net)):
        return False
    return duty not in ("grid", "plate") or far in wiring.returns or far in wiring.supply.fed


def _winds_radio(wiring: Wiring, net: str, far: str) -> bool:
    """Whether a winding of radio frequency lies between the nets, or ends at `net` alone (padder).

    An output or power transformer has no tuned winding.
    """
    ends = [(e, _is_radio(wiring, e)) for e in wiring.at(net) if e.kind is Kind.WINDING]
    spanning = {(e.ref, e.path) for e in wiring.at(far) if e.kind is Kind.WINDING}
    across = [radio for e, radio in ends if (e.ref, e.path) in spanning]
    if across:
        return any(across)
    return bool(ends) and all(radio for _, radio in ends) and far in wiring.returns


def _is_radio(wiring: Wiring, winding: Element) -> bool:
    part = wiring.chassis.part(winding.ref)
    if part is None:
        return False
    return part.description.has(*_RADIO) or "frequency" in part.description.values
