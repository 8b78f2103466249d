"""The power-up plan: step by step, what to see at each, and the reading at which to stop.

Belongs here: the order of the steps, their expected readings and limits, the lamp. Does not belong
here: solving a step (powerup_steps.py), the look (output/).

The order is that of the trade (common practice, no source): ohms first, then the rectifier out, the
rectifier in, all tubes, behind a lamp or on a variable transformer. Limits: a supply more than a
fifth below or a line current more than three tenths above what is expected, any positive volts of
the output grid against its own cathode (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from netcheck.bench.powerup_steps import AtLine, Limited, Slow
from netcheck.bench.resistance_chart import BeforePower, resistance_chart
from netcheck.bench.workup import Workup
from netcheck.circuit.discharge import Held, held_charges
from netcheck.circuit.line_side import LinePoint
from netcheck.circuit.operating import Point, SupplyPoint
from netcheck.circuit.wiring import Kind
from netcheck.findings import Assumed, Harm, NotSolved
from netcheck.rules import _operating
from netcheck.rules._words import amount

__all__ = ["Discharge", "PowerUp", "Reading", "Stage", "power_up"]

_STEPS = (0.5, 0.7, 0.85, 1.0)
_WANTED = 0.8  # of the line should reach a sound set behind the lamp
_LOW, _HIGH, _CURRENT = 0.8, 1.1, 1.3
_GRID_V = 0.3  # contact potential and meter error stay below (common practice, no source)
_SAFE_V = 60.0  # IEC 60065's limit for DC that may be touched (see rules/stored_charge.py)
_COOL_MINUTES = 10


@dataclass(frozen=True, slots=True)
class Reading:
    """Something to read: `value` in `unit` as computed (None: only watch), and when to stop."""

    what: str
    value: float | None
    unit: str
    stop: str


@dataclass(frozen=True, slots=True)
class Stage:
    """A step: how it is made, the line volts at the set, what to read."""

    title: str
    how: str
    line_v: float | None
    readings: tuple[Reading, ...]


@dataclass(frozen=True, slots=True)
class Discharge:
    """How a filter capacitor empties in a state: seconds to 60 V, None for never by itself."""

    ref: str
    state: str
    volts: float
    farad: float
    seconds: float | None


@dataclass(frozen=True, slots=True)
class PowerUp:
    """The plan. Where `solved` is not True, no stage has figures and `reason` says why."""

    file: str
    title: str
    solved: bool | None
    reason: str
    first: tuple[str, ...]
    before_power: tuple[BeforePower, ...]
    lamp: Limited | None
    lamps: tuple[Limited, ...]
    stages: tuple[Stage, ...]
    curve: tuple[tuple[float, float], ...]
    discharges: tuple[Discharge, ...]
    assumed: tuple[Assumed, ...]


def power_up(work: Workup) -> PowerUp:
    """The power-up plan of a set."""
    slow = Slow(work)
    point = work.point
    reason = point.reason if isinstance(point, NotSolved) else ""
    lamps = () if reason else slow.lamps()
    lamp = _chosen(lamps, slow.line_v)
    stages = () if isinstance(point, NotSolved) else tuple(_stages(work, slow, point, lamp))
    curve = [(a.line_v, b_plus[0].volts) for a in slow.curve if (b_plus := _of_plates(a.point))]
    return PowerUp(
        work.chassis.file,
        work.chassis.title,
        None if work.circuit.solved is None else not reason,
        reason,
        tuple(_first(work, slow)),
        resistance_chart(work.chassis).before_power,
        lamp,
        lamps,
        stages,
        () if reason else tuple(curve),
        tuple(_discharges(work, point)),
        work.circuit.assumed,
    )


def _chosen(lamps: Sequence[Limited], line_v: float | None) -> Limited | None:
    """The lamp behind which a sound set gets nearest to four fifths of its line."""
    if line_v is None:
        return None
    return min(lamps, key=lambda each: abs(each.set_v / line_v - _WANTED), default=None)


def _first(work: Workup, slow: Slow) -> Iterator[str]:
    """What must hold before any power."""
    standing = [f for f in work.report.standing(Harm.BURST) if f.harm.at_least(Harm.BURST)]
    if standing:
        refs = dict.fromkeys(ref for each in standing for ref in each.parts)
        yield (
            f"DO NOT APPLY POWER YET: {len(standing)} findings of shock, fire or burst stand"
            f" ({', '.join(refs)}). See `netcheck lint`."
        )
    if not work.chassis.was_read:
        yield "DO NOT APPLY POWER YET: the text could not be read whole."
    if slow.line_v is not None and not work.circuit.wiring.supply.power_refs:
        yield (
            "The set has no power transformer: use an isolation transformer. A lamp or a variable"
            " transformer does not isolate."
        )
    yield "Look for scorched parts, bare wires, parts on the chassis; right tube in its socket."
    yield "One hand in the pocket; connect the meter with the power off, then switch on."


# --- stages


def _stages(work: Workup, slow: Slow, point: Point, lamp: Limited | None) -> Iterator[Stage]:
    if slow.line_v is None:
        yield _whole(work, point, None, "On batteries or a bench supply with a current limit")
        return
    yield from _without_rectifier(slow)
    yield from _rectifier_alone(work, slow)
    if lamp is not None:
        yield from _behind_lamp(work, slow, lamp)
    for share in _STEPS:
        found = slow.at(share * slow.line_v)
        title = f"All tubes, line {amount(share * slow.line_v, 'V')}"
        if isinstance(found, NotSolved):
            yield Stage(title, f"no figures: {found.reason}", share * slow.line_v, ())
            continue
        low = share < _STEPS[-2]
        how = "on a variable transformer, with or without the lamp"
        how = how if share < 1 else "the whole line, lamp and variable transformer out"
        if low:
            how += f"; not longer than {_COOL_MINUTES} minutes, the cathodes run cold"
        yield _step(work, found, title, how)


def _without_rectifier(slow: Slow) -> Iterator[Stage]:
    found = slow.rectifier_out()
    if isinstance(found, NotSolved):
        return
    line, heaters = found
    readings = [
        Reading(f"{h.ref} heater", volts, "V AC", "stop if it is off by more than a tenth")
        for h in heaters.values()
        if (volts := h.volts) is not None
    ]
    readings += list(_windings(slow.work, line))
    readings.append(Reading("power transformer", None, "", "stop if it hums loudly or gets hot"))
    yield Stage("Rectifier out, other tubes in", "whole line behind the lamp", slow.line_v,
                tuple(readings))  # fmt: skip


def _windings(work: Workup, line: LinePoint) -> Iterator[Reading]:
    """Volts of the windings that feed no heater, of a tapped one from the tap to each end."""
    wiring = work.circuit.wiring
    for winding in wiring.supply.windings:
        if winding.driven or any(net in wiring.supply.heaters for net in winding.nets):
            continue
        pairs = list(pairwise(winding.nets))
        halves = len(pairs) == 2
        for number, (a, b) in enumerate(pairs):
            volts = line.volts(a, b)
            if volts is None:
                continue
            half = f" {('first', 'second')[number]} half" if halves else ""
            stop = "the two halves differ" if halves else "it is off"
            yield Reading(
                f"{winding.ref} {winding.path}{half}", volts, "V AC",
                f"stop if {stop} by more than a tenth",
            )  # fmt: skip


def _rectifier_alone(work: Workup, slow: Slow) -> Iterator[Stage]:
    """Only where the other tubes can be out: not in a string of heaters."""
    if slow.line_v is None or isinstance(slow.rectifier_out(), NotSolved):
        return
    loaded = slow.at(slow.line_v)
    empty = slow.at(slow.line_v, cold_tubes=True)
    if isinstance(loaded, NotSolved) or isinstance(empty, NotSolved):
        return
    pairs = list(zip(_of_plates(loaded.point), _of_plates(empty.point), strict=False))
    ratio = min((a.volts / b.volts for a, b in pairs if b.volts > 0), default=1.0)
    volts = 5.0 * math.floor(min(ratio, 1.0) * slow.line_v / 5.0)
    found = slow.at(volts, cold_tubes=True)
    if isinstance(found, NotSolved):
        return
    how = (
        "variable transformer: unloaded, this gives the plate supply its running volts; the whole"
        " line would give more"
    )
    stage = _step(work, found, f"Rectifier in, other tubes out, line {amount(volts, 'V')}", how)
    yield Stage(stage.title, stage.how, volts, tuple(
        r for r in stage.readings if " grid " not in r.what and "cathode" not in r.what
    ))  # fmt: skip


def _behind_lamp(work: Workup, slow: Slow, lamp: Limited) -> Iterator[Stage]:
    found = slow.at(lamp.set_v)
    title = f"All tubes, behind a lamp of {lamp.watts:g} W"
    if isinstance(found, NotSolved):
        return
    how = (
        f"bright flash, then {_glow(lamp.lamp_share)}: the set gets {amount(lamp.set_v, 'V')}."
        " A lamp that stays bright: switch off, find the short"
    )
    yield _step(work, found, title, how)


def _glow(share: float) -> str:
    """How a lamp looks at a share of its volts (light goes as V^3.4, see heater_law)."""
    if share < 0.15:
        return "dark"
    if share < 0.35:
        return "a dull red"
    return "a dim orange" if share < 0.6 else "nearly full light"


def _step(work: Workup, found: AtLine, title: str, how: str) -> Stage:
    stage = _whole(work, found.point, found.line_v, how)
    extra = []
    if found.rms_a is not None:
        most = amount(_CURRENT * found.rms_a, "A")
        extra.append(Reading("line current", found.rms_a, "A", f"stop above {most}"))
    return Stage(title, how, found.line_v, (*stage.readings, *extra))


def _whole(work: Workup, point: Point, line_v: float | None, how: str) -> Stage:
    return Stage("All tubes", how, line_v, (*_supplies(work, point), *_grids(work, point)))


def _of_plates(point: Point) -> list[SupplyPoint]:
    """The supplies that are no bias."""
    return [each for each in point.supplies if not each.source.bias]


def _supplies(work: Workup, point: Point) -> Iterator[Reading]:
    """Each supply at its first capacitor and behind each part of its filter."""
    filters = work.circuit.wiring.supply
    for each in point.supplies:
        plus, minus = each.source.plus, each.source.minus
        yield _supply(f"{plus} to {minus}", each.volts)
        for e in work.circuit.wiring.at(plus):  # the other side of a field in the negative lead
            volts = point.between(plus, e.b)
            large = e.kind is Kind.CAPACITOR and e.a == plus and filters.is_large(e)
            if large and e.b != minus and volts is not None:
                yield _supply(f"{plus} to {e.b}", volts)
        seen = {plus, minus}
        if each.source.bias:
            continue
        for net in sorted(filters.supplies | work.circuit.wiring.b_plus):
            volts = point.between(net, minus)
            filtered = any(filters.is_large(e) for e in work.circuit.wiring.at(net)
                           if e.kind is Kind.CAPACITOR and e.a == net)  # fmt: skip
            if net not in seen and filtered and volts is not None and volts > 1.0:
                seen.add(net)
                yield _supply(f"{net} to {minus}, behind the filter", volts)


def _supply(what: str, volts: float) -> Reading:
    low, high = amount(_LOW * volts, "V"), amount(_HIGH * volts, "V")
    return Reading(what, volts, "V", f"stop if it stays below {low} or goes above {high}")


def _grids(work: Workup, point: Point) -> Iterator[Reading]:
    ends = _operating.output_bulbs(work.case())
    for stream in _operating.streams(work.case(), point):
        if stream.tube.ref not in ends or stream.grid_v is None:
            continue
        most = max(stream.grid_v + _GRID_V, -_GRID_V)
        yield Reading(
            f"{stream.tube.ref} grid to its own cathode", stream.grid_v, "V",
            f"stop at {amount(most, 'V')} or more positive: a coupling capacitor leaks or the tube"
            " is gassy",
        )  # fmt: skip


# --- afterwards


def _discharges(work: Workup, point: Point | NotSolved) -> Iterator[Discharge]:
    """Seconds from the running volts to 60 V, for what no tube empties."""
    if isinstance(point, NotSolved):
        return
    for held in held_charges(work.circuit.wiring):
        part = work.chassis.part(held.ref)
        farad = part.value("capacitance") if part is not None else None
        volts = point.between(held.plus, held.minus)
        if farad and volts is not None and volts > _SAFE_V and not held.unknown:
            yield Discharge(held.ref, held.state, volts, farad, _seconds(held, farad, volts))


def _seconds(held: Held, farad: float, volts: float) -> float | None:
    """T = R C ln(V / 60 V) (elementary theory)."""
    return None if held.ohm is None else held.ohm * farad * math.log(volts / _SAFE_V)
