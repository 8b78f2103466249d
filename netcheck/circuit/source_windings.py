"""Volts, turns and ohms of a power transformer's winding as the text gives or leaves them.

Belongs here: reading printed winding volts and ohms, hot copper, typical values where nothing is
printed, the rise from volts under load to volts without. Does not belong here: what the winding
feeds (source), solving anything.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.source_network import Branch, Seen
from netcheck.circuit.source_side import battery_reaches, driven_volts
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed
from netcheck.parts import Description, Part, Path

__all__ = [
    "HOT_POWER_WINDING",
    "WindingSource",
    "primary_source",
    "primary_volts",
    "winding_source",
]

HOT_POWER_WINDING = 1.15
"""Printed ohms are cold (20 C); a power winding works some 40 degrees warmer (common practice, no
source; copper rises 0.39 % a degree)."""

# Typical values where none is printed (from memory: service sheets of receivers).
_HALF_DROP, _HALF_OHM = 0.05, 200.0
_PRIMARY_DROP, _TYPICAL_VA = 0.03, 70.0
_TYPICAL_BASIS = "from memory: typical of receiver power transformers"
_VIBRATOR_PRIMARY_OHM = 0.05


LineSide = list[Branch] | str
"""The branches of the line side, or why there are none."""


@dataclass(frozen=True, slots=True)
class WindingSource:
    """A secondary as branches between its nets: open-circuit volts and hot ohms, primary included.

    `branches` run along the winding, each with its net further along as `a`.
    """

    ref: str
    branches: tuple[Branch, ...]
    assumed: tuple[Assumed, ...]


def section_volts(described: Description, terminals: int) -> tuple[float, ...] | None:
    """Volts of each section along a winding of so many terminals; None when not given.

    `340-0-340 V` and `0-110-127-220 V` give the volts of each terminal against the one at 0; one
    value fewer than terminals gives the sections; a single value is the whole, in equal shares.
    """
    each = described.number("voltage-each") or described.number("voltage-ac-each")
    if each is not None:
        return (each,) * (terminals - 1)
    value = described.values.get("voltage") or described.values.get("voltage-ac")
    if value is None or not value.known or terminals < 2:
        return None
    amounts = value.amounts
    if len(amounts) == terminals and 0.0 in amounts:
        zero = amounts.index(0.0)
        against = [v if k > zero else -v for k, v in enumerate(amounts)]
        return tuple(abs(b - a) for a, b in pairwise(against))
    if len(amounts) == terminals - 1:
        return amounts
    return (amounts[0] / (terminals - 1),) * (terminals - 1) if len(amounts) == 1 else None


def winding_source(
    wiring: Wiring, ref: str, path: str, supply: LineSide, load_a: float | None
) -> WindingSource | str:
    """The branches of a secondary, or why there are none.

    Args:
        wiring: the set.
        ref: the transformer.
        path: the secondary winding.
        supply: the branches of the line side (not wanted by a vibrator transformer).
        load_a: current to take the printed volts at when none is printed with them; None: none.
    """
    chassis = wiring.chassis
    part = chassis.part(ref)
    wound = _path(part, path)
    if part is None or wound is None:
        return f"{ref} has no winding {path}."
    printed = section_volts(_described(part, path), len(wound.terminals))
    if printed is None:
        return (
            f"{ref}: the volts of the winding {path} are not given; "
            f"write them in its clause (`{path} 300-0-300 V 70 mA`)."
        )
    taken: list[Assumed] = []
    driven = _primary(wiring, part, supply, taken)
    if isinstance(driven, str):
        return driven
    nominal_v, primary_v, primary_ohm = driven
    amperes = _load(part, path, load_a, taken)
    elements = [e for e in wiring.of(ref) if e.kind is Kind.WINDING and e.path == path]
    branches = []
    for e, volts in _spans(wound, elements, printed):
        own = _hot_ohm(part, path, e, volts, amperes, taken)
        turns = volts / nominal_v
        ohm = own + turns**2 * primary_ohm
        branches.append(Branch(e.b, e.a, ohm, (volts + amperes * ohm) * primary_v / nominal_v, ref))
    return WindingSource(ref, tuple(branches), tuple(taken))


def primary_volts(wiring: Wiring, ref: str, supply: LineSide) -> tuple[float, float] | str:
    """Printed volts of the part of a primary in use, and the volts the line gives it now.

    A reason in words where one of them is not known.
    """
    part = wiring.chassis.part(ref)
    if part is None or isinstance(supply, str):
        return f"{ref}: the line side is not known"
    for winding in wiring.supply.windings:
        if winding.ref != ref or not winding.driven:
            continue
        found = driven_volts(supply, winding.nets)
        wound = _path(part, winding.path)
        if found is None or wound is None:
            continue
        first, last, seen = found
        printed = section_volts(_described(part, winding.path), len(wound.terminals))
        if printed is None:
            return f"the volts of {ref}'s primary are not written"
        if seen.doubtful:
            return f"the ohms or position of {', '.join(seen.doubtful)} are not stated"
        return sum(printed[first:last]), abs(float(seen.volts[0]))
    return f"the line does not reach the primary of {ref}"


def primary_source(wiring: Wiring, ref: str, supply: LineSide) -> tuple[float, float] | None:
    """Volts now and series ohms (with the line's) of the part of a primary in use."""
    part = wiring.chassis.part(ref)
    found = _primary(wiring, part, supply, []) if part is not None else ""
    return None if isinstance(found, str) else (found[1], found[2])


def _path(part: Part | None, name: str) -> Path | None:
    return next((p for p in part.paths if p.name == name), None) if part else None


def _described(part: Part, path: str) -> Description:
    own = part.description.windings.get(path)
    return own if own is not None else Description()


def _spans(
    wound: Path, elements: list[Element], printed: tuple[float, ...]
) -> list[tuple[Element, float]]:
    """Each element of the winding with the printed volts between its terminals."""
    where = {name: k for k, name in enumerate(wound.terminals)}
    found = []
    for e in elements:
        first, last = where[e.terminals[0]], where[e.terminals[1]]
        found.append((e, sum(printed[first:last])))
    return found


def _load(part: Part, path: str, load_a: float | None, taken: list[Assumed]) -> float:
    """The current at which the printed volts hold."""
    named = _described(part, path).number("current")
    if named is not None:
        return named
    amperes = load_a or 0.0
    basis = "common practice, no source: printed volts are taken as under the rectifier's full load"
    taken.append(Assumed(part.ref, f"load at which {path} has its volts", amperes, "A", basis))
    return amperes


def _hot_ohm(
    part: Part, path: str, e: Element, volts: float, amperes: float, taken: list[Assumed]
) -> float:
    described = _described(part, path)
    hot = described.number("hot")
    sections = max(len((_path(part, path) or Path("", ())).terminals) - 1, 1)
    if hot is not None:
        return hot / sections
    if e.ohm is not None:
        return e.ohm * HOT_POWER_WINDING
    ohm = _HALF_DROP * volts / amperes if amperes > 0.0 else _HALF_OHM
    taken.append(Assumed(part.ref, f"{path} resistance each half", ohm, "ohm", _TYPICAL_BASIS))
    return ohm * HOT_POWER_WINDING


def _primary(
    wiring: Wiring, part: Part, supply: LineSide, taken: list[Assumed]
) -> tuple[float, float, float] | str:
    """Printed volts, volts now and series ohms of the part of the driven winding in use."""
    driven = [w for w in wiring.supply.windings if w.ref == part.ref and w.driven]
    contacts = wiring.supply.power.vibrator_contacts
    for winding in driven:
        if any(net in contacts for net in winding.nets):
            return _vibrator_primary(wiring, part, winding.path, taken)
    if isinstance(supply, str):
        return supply
    for winding in driven:
        found = driven_volts(supply, winding.nets)
        if found is not None:
            return _line_primary(wiring, part, winding.path, found, taken)
    return f"{part.ref}: in the stated switch positions the line does not reach its primary."


def _line_primary(
    wiring: Wiring, part: Part, path: str, found: tuple[int, int, Seen], taken: list[Assumed]
) -> tuple[float, float, float] | str:
    first, last, seen = found
    if seen.doubtful:
        return (
            f"{part.ref}: its primary volts hang on {', '.join(seen.doubtful)}, whose ohms or "
            f"position are not stated."
        )
    wound = _path(part, path) or Path(path, ())
    elements = [e for e in wiring.of(part.ref) if e.kind is Kind.WINDING and e.path == path]
    elements = elements[first:last]
    printed = section_volts(_described(part, path), len(wound.terminals))
    now_v, line_ohm = abs(float(seen.volts[0])), float(seen.between_ohm[0, 0])
    line = wiring.chassis.line
    if printed is not None:
        volts = sum(v for _, v in _spans(wound, elements, printed))
    else:
        made_for_v = line.made_for_v if line is not None else None
        volts = made_for_v or now_v
        basis = "common practice, no source: the windings' volts hold at the set's line volts"
        taken.append(Assumed(part.ref, "primary volts", volts, "V", basis))
    known = [e.ohm for e in elements if e.ohm is not None]
    hot = _described(part, path).number("hot")
    if hot is not None:
        return volts, now_v, hot + line_ohm
    if len(known) == len(elements):
        return volts, now_v, sum(known) * HOT_POWER_WINDING + line_ohm
    ohm = _PRIMARY_DROP * volts**2 / (part.value("power") or _TYPICAL_VA)
    taken.append(Assumed(part.ref, "primary resistance", ohm, "ohm", _TYPICAL_BASIS))
    return volts, now_v, ohm * HOT_POWER_WINDING + line_ohm


def _vibrator_primary(
    wiring: Wiring, part: Part, path: str, taken: list[Assumed]
) -> tuple[float, float, float] | str:
    """The same of one half of a vibrator transformer's primary, driven by the battery."""
    elements = [e for e in wiring.of(part.ref) if e.kind is Kind.WINDING and e.path == path]
    battery = next(wiring.chassis.of_kind("battery"), None)
    nominal = battery.value("voltage") if battery else None
    if battery is None or not nominal:
        return f"{part.ref}: the volts of the battery that drives its primary are not known."
    nets = [net for w in wiring.supply.windings if w.ref == part.ref and w.driven for net in w.nets]
    if not battery_reaches(wiring, nets):
        return f"{part.ref}: as the set is, {battery.ref} does not reach its primary."
    ohm = elements[0].ohm if elements else None
    if ohm is None:
        ohm = _VIBRATOR_PRIMARY_OHM
        taken.append(Assumed(part.ref, "primary resistance each half", ohm, "ohm", _TYPICAL_BASIS))
    return nominal, battery.value("running") or nominal, ohm * HOT_POWER_WINDING
