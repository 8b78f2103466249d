"""By how much each part and tube of a sound set may lie off: one list for bands and causes.

Belongs here: the spreads and their sources. Does not belong here: drawing them (bands.py), taking
them one at a time (causes.py).

- Resistors: their tolerance, 20 % where none is marked (IEC 60062). Measured: what the meter may be
  off, see assumed.py.
- Coils and windings of 20 ohm and more: 10 %; of a value that was only assumed half of it (common
  practice, no source). A power transformer: the ohms that its supply sees, likewise.
- The capacitor that a rectifier meets first: its tolerance, 20 % where none is marked (code letter
  M of IEC 60062, which electrolytic capacitors bear; from memory).
- Tubes: 20 % of current, 0.2 V of drive, 0.15 V in the start of grid current; bands.py says why
  they are three (common practice, no source).

Batteries, held rails, fuses, lamps and heaters are taken as stated.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final, NamedTuple

from netcheck.circuit.assumed import measured_accuracy, resistor_tolerance
from netcheck.circuit.elements import Kind
from netcheck.circuit.wiring import Wiring

if TYPE_CHECKING:
    from netcheck.chassis import Chassis
    from netcheck.circuit.operating import Operating
    from netcheck.circuit.point import Point
    from netcheck.parts import Part

__all__ = ["TUBE_SPREADS", "part_spreads", "rectifier_refs"]


class _TubeSpreads(NamedTuple):
    """How far tubes of one type lie off: a fraction of the current, volts of drive and of grid."""

    current: float
    drive_v: float
    grid_v: float


TUBE_SPREADS: Final = _TubeSpreads(0.20, 0.20, 0.15)

_COIL, _ASSUMED_COIL, _LEAST_COIL_OHM = 0.10, 0.50, 20.0
_RESERVOIR: Final = 0.20
_WIDEST: Final = 0.9  # nothing is drawn down to nothing


def rectifier_refs(wiring: Wiring) -> tuple[str, ...]:
    """The rectifier tubes of a set."""
    return tuple(dict.fromkeys(e.ref for e in wiring.rectifiers if e.kind is Kind.STREAM))


def part_spreads(operating: Operating, point: Point) -> dict[str, float]:
    """By how much each part's ohms (a reservoir's farads) may lie off, as a fraction."""
    chassis = point.model.chassis
    spreads: dict[str, float] = {}
    for ref, reach in (*_of_supplies(operating, point), *_of_branches(point)):
        if chassis.part(ref) is not None and reach > 0.0:
            spreads.setdefault(ref, reach)
    return spreads


def _of_branches(point: Point) -> Iterator[tuple[str, float]]:
    """Parts that direct current flows in."""
    chassis = point.model.chassis
    taken = {each.part for each in point.model.assumed if each.unit == "ohm"}
    for branch in point.model.branches:
        part = chassis.part(branch.ref)
        if part is None:
            continue
        if branch.kind is Kind.RESISTOR:
            yield branch.ref, _resistor(chassis, part)
        elif branch.kind is Kind.WINDING and branch.ohm >= _LEAST_COIL_OHM:
            yield branch.ref, _ASSUMED_COIL if branch.ref in taken else _COIL


def _of_supplies(operating: Operating, point: Point) -> Iterator[tuple[str, float]]:
    """What else decides a supply: resistors that only its plates see, windings, reservoirs."""
    chassis = point.model.chassis
    for part in chassis.parts:
        if not operating.moves_supply(part.ref):
            continue
        if part.kind in ("resistor", "thermistor"):
            yield part.ref, _resistor(chassis, part)
        elif part.kind == "transformer":
            yield part.ref, _winding(point, part)
        elif part.kind == "capacitor":
            yield part.ref, _capacitor(chassis, part)


def _winding(point: Point, part: Part) -> float:
    """Half, where ohms of the transformer that its supply sees had to be assumed."""
    ohms = [
        each
        for supply in point.supplies
        for each in supply.source.assumed
        if each.part == part.ref and each.unit == "ohm"
    ]
    return _ASSUMED_COIL if ohms else _COIL


def _resistor(chassis: Chassis, part: Part) -> float:
    if _is_measured(part, "resistance"):
        return measured_accuracy(chassis, part)[0]
    return min(resistor_tolerance(part)[0], _WIDEST)


def _capacitor(chassis: Chassis, part: Part) -> float:
    if _is_measured(part, "capacitance"):
        return measured_accuracy(chassis, part)[0]
    given = part.description.number("tolerance")
    return _RESERVOIR if given is None else min(abs(given), _WIDEST)


def _is_measured(part: Part, dimension: str) -> bool:
    measured = part.measured
    return measured is not None and measured.known and measured.dimension == dimension
