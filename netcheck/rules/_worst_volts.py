"""The states in which a part may see its highest volts, because a rating must cover all of them.

Belongs here: which states those are in this set, the ripple on top, the highest volts of a part.
Does not belong here: ratings and judgement (voltage_rating.py), what to buy (bench/).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Kind, Role
from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._operating import (
    cold,
    instant_rectifiers,
    line_high,
    no_load,
    opened,
    output_tubes,
    plug_out,
    pulled,
    speaker_plugs,
)
from netcheck.rules._words import listed

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point
    from netcheck.circuit.states import State

__all__ = [
    "LASTING_MARGIN",
    "Asked",
    "Worst",
    "asked_states",
    "at_line_high",
    "filter_electrolytics",
    "ripple_of",
    "worst_volts",
]

LASTING_MARGIN = 1.1
"""What a part to be bought is rated over the volts that last (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A state to look at: whether it passes (a surge: warm-up, a mishap), and what it is."""

    state: State
    short: bool
    said: str


def asked_states(case: Case) -> list[Asked]:
    """Line high first; then what can raise the volts beyond it in this set."""
    high, at = line_high(case), at_line_high(case)
    found = [Asked(high, False, f"running{at}")]
    if quick := instant_rectifiers(case):
        does = "delivers" if len(quick) == 1 else "deliver"
        said = f"no load{at}: {listed(quick)} {does} before the tubes are warm"
        found.append(Asked(no_load(case), True, said))
    for plug in speaker_plugs(case):
        said = f"plug {plug} out{at}"
        found.append(Asked(plug_out(plug, high), True, said))
    for tube in output_tubes(case):
        if not _in_string(case, tube):
            said = f"{tube.body_ref} pulled{at}"
            found.append(Asked(pulled(tube.body_ref, high), True, said))
        elif not quick:
            said = f"{tube.body_ref} cold or worn out{at}"
            found.append(Asked(cold(tube.body_ref, high), True, said))
    if not quick:  # else nothing rises above the peak that it gives without load
        for part, beside in filter_electrolytics(case):
            if any(other.kind == "capacitor" for other in beside):
                found.append(Asked(opened(part.ref, high), True, f"{part.ref} open{at}"))
    return found


def at_line_high(case: Case) -> str:
    """What a state is said to be at: nothing where no line is stated or there is none."""
    line = case.chassis.line
    return "" if line is None or line.volts is None else ", line high"


def filter_electrolytics(case: Case) -> Iterator[tuple[Part, tuple[Part, ...]]]:
    """Each filter electrolytic, with the parts that join its two nets or its far end.

    First those across it, then those that hang on the end that is not a return.
    """
    wiring = case.circuit.wiring
    for part in case.chassis.of_kind("capacitor"):
        elements = wiring.of(part.ref)
        if wiring.role_of(part.ref) not in (Role.RESERVOIR, Role.SMOOTHING) or not elements:
            continue
        own = set(elements[0].nets)
        refs: dict[str, None] = {}
        for net in sorted(own, key=lambda net: net in wiring.returns):
            for e in wiring.at(net):
                across = set(e.nets) == own
                if e.ref != part.ref and (across or net not in wiring.returns):
                    refs.setdefault(e.ref)
        beside = (case.chassis.part(ref) for ref in refs)
        yield part, tuple(each for each in beside if each is not None and each.fitted)


def _in_string(case: Case, tube: Part) -> bool:
    """Whether pulling a tube darkens others too: no other heater shares both of its ends.

    A heater alone on its winding or battery is no string either.
    """
    wiring = case.circuit.wiring
    own = [e for e in wiring.of(tube.ref) if e.kind is Kind.HEATER]
    if not own:
        return False
    ends = frozenset((own[0].a, own[-1].b))
    across = [e for e in wiring.at(own[0].a) if frozenset(e.nets) == ends and e.ref != tube.ref]
    return not any(e.kind in (Kind.HEATER, Kind.WINDING, Kind.BATTERY, Kind.LAMP) for e in across)


def ripple_peak_v(point: Point, nets: frozenset[str]) -> float:
    """How far the volts across two nets rise above their mean over the cycle, as far as known.

    At the supply's own nets half the ripple peak to peak; where the reservoir is behind a resistor
    or a choke (it is open, or was never there) the rectifier's whole pulses. At a filter
    capacitor that is open, what stands at the reservoir, undivided.
    """
    for supply in point.supplies:
        cycle = supply.cycle
        ripple_v = float(cycle.ripple_v.ravel()[0]) / 2
        if nets == {supply.source.plus, supply.source.minus}:
            pulses_v = float((cycle.peak_v - cycle.dc_v).ravel()[0])
            return pulses_v if supply.source.reservoir.series else ripple_v
        if _opens_between(point, nets):
            return ripple_v
    return 0.0


def ripple_of(asked: Asked, point: Point, nets: frozenset[str]) -> float:
    """The ripple to be added in a state: of what passes only where it is what passes."""
    pulsing = any(edit.kind == "open" for edit in asked.state.edits)
    return ripple_peak_v(point, nets) if pulsing or not asked.short else 0.0


def _opens_between(point: Point, nets: frozenset[str]) -> bool:
    ends = (point.model.ends.get(e.ref) for e in point.state.edits if e.kind == "open")
    return any(pair is not None and set(pair) == nets for pair in ends)


@dataclass(frozen=True, slots=True)
class Worst:
    """The highest volts across a part over some states, ripple peak included; `said` is when."""

    volts: float
    said: str


def worst_volts(
    case: Case, part: Part, solved: Iterable[tuple[Asked, Point]], *, short: bool
) -> Worst | None:
    """The highest volts across a part of one element; None where it floats or is not solved.

    `short` asks for what passes (warm-up, a plug out), else for what lasts.
    """
    elements = case.circuit.wiring.of(part.ref)
    if len(elements) != 1:
        return None
    (element,) = elements
    found: list[Worst] = []
    for asked, point in solved:
        if asked.short is not short or set(element.nets) & point.model.floating:
            continue
        volts = point.between(element.a, element.b)
        if volts is not None:
            ripple = ripple_of(asked, point, frozenset(element.nets))
            found.append(Worst(abs(volts) + ripple, asked.said))
    return max(found, key=lambda each: each.volts, default=None)
