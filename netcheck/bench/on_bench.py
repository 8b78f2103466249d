"""The set as it is on the bench: solved, with what follows from its supply and its heaters.

Belongs here: tubes that go cold, an oscillator without plate supply, the line side beside the
operating point, a meter on one node at a time. Does not belong here: rows of a chart (charting.py),
reading suppositions (suppose.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from netcheck.bench.suppose import Supposed
from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.circuit.heaters import HeaterState, heater_states
from netcheck.circuit.line_side import LEAST_LIT, LinePoint
from netcheck.circuit.source import Off, rectifier_sources
from netcheck.circuit.states import State
from netcheck.findings import NotSolved
from netcheck.language.mistakes import joined

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

__all__ = ["Bench", "line_volts_of", "metered", "on_bench", "undriven"]

_LEAST_V = 1e-3
# No converter oscillates on less (from memory: battery types work down to some 30 V).
_LEAST_TO_OSCILLATE_V = 10.0
# Heaters are good for a tenth either way; beyond twice that something is wrong (common practice).
_HEATER_OFF = 0.2
_SHOWN_AC_V = 1.0
_STEADY = 2.0
"""A meter for DC reads a net right that stands on more than this times its AC volts rms."""


@dataclass(frozen=True)
class Bench:
    """The set as it is on the bench: solved, with what its heaters get."""

    circuit: Circuit
    state: State
    point: Point
    line: LinePoint | NotSolved
    heaters: Mapping[str, HeaterState]
    cold: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


def on_bench(chassis: Chassis, changed: Supposed) -> Bench:
    """Solve the set, with what follows from its supply and its heaters.

    Args:
        chassis: the set as its text says it.
        changed: the set as supposed, its controls turned up.

    Raises:
        NotSolved: it did not settle, or the text lacks something that decides.
    """
    found = _solved(changed.chassis, changed.state)
    if changed.said:
        found = _darkened(found, chassis, changed)
    remarks = (*undriven(found), *found.remarks, *_unlike_heaters(found))
    return _quiet(replace(found, remarks=remarks))


def undriven(found: Bench) -> list[str]:
    """Why a supply of the set gives nothing."""
    each = rectifier_sources(found.circuit.wiring, found.circuit.operating.line["nominal"])
    return [supply.reason for supply in each if isinstance(supply, Off)]


def _darkened(found: Bench, chassis: Chassis, changed: Supposed) -> Bench:
    """Where a supposition darkens heaters: the set without what those tubes conduct."""
    before = _lit(chassis)
    cold = [
        ref for ref, volts in before.items()
        if ref not in changed.pulled and _is_dark(found, ref, volts)
    ]  # fmt: skip
    if not cold:
        return found
    rectifiers = dict.fromkeys(e.ref for e in found.circuit.wiring.rectifiers)
    tubes = [p for p in changed.chassis.of_kind("tube") if p.body_ref in cold]
    dead = dict.fromkeys(p.ref if p.ref in rectifiers else p.body_ref for p in tubes)
    state = replace(
        changed.state, emission=(*changed.state.emission, *((ref, 0.0) for ref in dead))
    )
    remarks = [_gone_cold(cold, changed)]
    if out := [ref for ref in dead if ref in rectifiers]:
        remarks.append(f"With {joined(out, 'and')} cold, what it feeds has no supply.")
    point = found.circuit.operating.point(state)
    return replace(found, state=state, point=point, cold=tuple(cold), remarks=tuple(remarks))


def _is_dark(found: Bench, ref: str, lit_v: float) -> bool:
    """Whether a heater that was lit gets less than half of that; one not known counts as lit."""
    state = found.heaters.get(ref)
    volts = 0.0 if state is None else state.volts
    return volts is not None and volts < LEAST_LIT * lit_v


def _quiet(found: Bench) -> Bench:
    """The set with its oscillator dead where no converter has the volts to oscillate."""
    tubes = found.point.model.tubes
    converting = [t for t in tubes.tubes if t.law.swing is not None] if tubes is not None else []
    if not converting or found.state.oscillator == "dead":
        return found
    for tube in converting:
        own = found.point.tubes[tube.ref]
        if max(e.volts for e in own.electrodes) - own.cathode_v > _LEAST_TO_OSCILLATE_V:
            return found
    state = replace(found.state, oscillator="dead")
    said = (
        f"{joined([t.ref for t in converting], 'and')} has no plate supply: its oscillator is dead."
    )
    point = found.circuit.operating.point(state)
    return replace(found, state=state, point=point, remarks=(*found.remarks, said))


def _unlike_heaters(found: Bench) -> Iterator[str]:
    """A heater at the wrong volts: the chart has its tube as if it were at the right ones."""
    for ref, state in found.heaters.items():
        volts, share = state.volts, state.share
        if not volts or share is None or ref in found.cold or abs(share - 1) <= _HEATER_OFF:
            continue
        yield (
            f"The heater of {ref} gets {volts:.3g} V of its {state.rated_v:.3g} V; the figures"
            " are those of a tube at its right heat."
        )


def _solved(chassis: Chassis, state: State) -> Bench:
    circuit = Circuit(chassis)
    point = circuit.operating.point(state)
    return Bench(circuit, state, point, *_heated(circuit, point))


def _heated(
    circuit: Circuit, point: Point | None
) -> tuple[LinePoint | NotSolved, Mapping[str, HeaterState]]:
    """The line side beside an operating point, and the heaters."""
    line: LinePoint | NotSolved
    try:
        line = circuit.line_side.beside(point)
    except NotSolved as fault:
        line = fault
    return line, heater_states(circuit.wiring, line, point)


def line_volts_of(bench: Bench, nets: Sequence[str]) -> dict[str, float]:
    """AC volts of nets against where is measured from, of those that the line reaches.

    Not of a net that stands on far more direct volts: both ends of a rectifier's filament are B+,
    and the few volts between them must hide that from nobody. Nor of a winding that only rectifiers
    join to where is measured from (a bridge's): what of it stands there hangs on their current.
    """
    found: dict[str, float] = {}
    if isinstance(bench.line, NotSolved) or not bench.line.network.hertz:
        return found
    own = bench.line.held_by(bench.point.model.reference)
    for net in nets:
        if bench.line.held_by(net) not in (None, own):
            continue
        volts = bench.line.volts(net, bench.point.model.reference)
        steady = bench.point.volts(net)
        rests = net in bench.point.model.floating or steady is None
        if volts is None or volts < _SHOWN_AC_V:
            continue
        if rests or abs(steady or 0.0) <= _STEADY * volts:
            found[net] = volts
    return found


def _lit(chassis: Chassis) -> dict[str, float]:
    """Heater volts of the set as its text says it, of the tubes that something computed lights."""
    circuit = Circuit(chassis)
    point = None if circuit.unsolved is not None else circuit.operating.point()
    _, heaters = _heated(circuit, point)
    return {ref: v for ref, each in heaters.items() if (v := each.volts) and v > _LEAST_V}


def _gone_cold(cold: Sequence[str], changed: Supposed) -> str:
    why = f"With {joined(changed.pulled, 'and')} out of its socket" if changed.pulled else "So"
    one = len(cold) == 1
    return (
        f"{why}, the {'heater' if one else 'heaters'} of {joined(cold, 'and')}"
        f" {'gets' if one else 'get'} less than half of the right volts: taken as cold, without"
        " emission."
    )


def metered(bench: Bench, ohms: Mapping[str, float]) -> dict[str, float | None]:
    """What a meter of so many ohms reads at each net, one net at a time.

    Raises:
        NotSolved: one of them did not settle.
    """
    states = [
        replace(bench.state, name=f"{bench.state.name}, meter at {net}", meter=(net, ohm))
        for net, ohm in ohms.items()
    ]
    points = bench.circuit.operating.points(states)
    return {net: point.volts(net) for net, point in zip(ohms, points, strict=True)}
