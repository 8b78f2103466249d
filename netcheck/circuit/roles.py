"""Gives every capacitor and resistor its role, from topology and value, never from its name.

Belongs here: walking over the parts. Does not belong here: the questions (capacitor_roles,
resistor_roles) and the views they ask (role.Situation).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from netcheck.circuit.capacitor_roles import capacitor_role
from netcheck.circuit.couplings import Grids
from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import Network
from netcheck.circuit.resistor_roles import resistor_role
from netcheck.circuit.role import Role, Situation
from netcheck.circuit.sides import Poles, Sides
from netcheck.circuit.supply import Supply

__all__ = ["Role", "find_roles"]


def find_roles(
    network: Network, poles: Poles, sides: Sides, supply: Supply, grids: Grids
) -> Mapping[str, Role]:
    """The role of each capacitor and resistor, by reference."""
    situation = Situation(network, poles, sides, supply, grids)
    roles: dict[str, Role] = {}
    for ref, elements in network.of.items():
        if elements[0].kind is Kind.CAPACITOR:
            roles[ref] = capacitor_role(situation, elements[0])
        elif elements[0].kind is Kind.RESISTOR:
            roles[ref] = resistor_role(situation, elements)
        if roles.get(ref) in _BY_ABSENCE and _beside_unknown(situation, elements):
            roles[ref] = Role.UNKNOWN
    return MappingProxyType(roles)


# Roles that rest on nothing else (no grid, no diode) being there.
_BY_ABSENCE = frozenset({Role.TONE, Role.RF_BYPASS, Role.DETECTOR_LOAD, Role.GRID_LEAK})


def _beside_unknown(situation: Situation, elements: tuple[Element, ...]) -> bool:
    return any(net in situation.unsure for e in elements for net in e.nets)
