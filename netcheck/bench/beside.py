"""The chart as printed in the set's day beside the chart of today, because the two rarely agree.

Belongs here: the set as it was (printed values, its own line), the meter of its day on the range
that fits each reading. Does not belong here: today's chart (voltage_chart.py), the look (output/).

Sheets up to about 1950 name a meter of 1,000 ohm per volt, later ones 20,000 ohm per volt. Biases
were read on its 10 V range, plates and screens on 250, 500 or 1,000 V (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from netcheck.bench.asked import Meter, NotUnderstood, meter_of
from netcheck.bench.controls import at_maximum
from netcheck.bench.suppose import Supposed
from netcheck.bench.voltage_chart import NOT_READ
from netcheck.chassis import Chassis
from netcheck.findings import NotSolved
from netcheck.parts import Part, Value

__all__ = ["USUAL_PRINTED", "OtherValue", "Printed", "as_printed"]

USUAL_PRINTED: Final = "1000 ohm/V"
_RANGES_V: Final = (10.0, 250.0, 500.0, 1000.0)
_PER_VOLT: Final = re.compile(
    r"(\d+(?:\.\d+)?)\s*(k)?\s*(?:ohms?)?\s*/\s*v(?:olts?)?", re.IGNORECASE
)
_HELD_BY: Final = {"resistor": "resistance", "capacitor": "capacitance"}


@dataclass(frozen=True, slots=True)
class OtherValue:
    """A part that is not what was printed: what it was `then`, what it is `now`, in words."""

    part: str
    then: str
    now: str


@dataclass(frozen=True, slots=True)
class Printed:
    """The volts a sheet of the set's day would print, by node; `reason` says why there are none.

    `changed` are parts taken as they were then, `kept` what the text does not let go back.
    """

    line_v: float | None
    meter: str
    volts: Mapping[str, float | None]
    changed: tuple[OtherValue, ...]
    kept: tuple[str, ...] = ()
    reason: str = ""


def as_printed(chassis: Chassis, meter: str = USUAL_PRINTED) -> Printed:
    """The chart of the set's day: parts as printed, its own line, the meter of then.

    Args:
        chassis: the set as its text has it (not on today's line).
        meter: `1000 ohm/V` (on the range that fits), or one with its range (`1k/V:250V`, `11M`).

    Raises:
        NotUnderstood: the meter cannot be read.
    """
    per_volt, fixed = _meter(meter)
    pairs = [(part, _as_built(part)) for part in chassis.parts]
    old = replace(chassis, parts=tuple(then for _, then in pairs))
    plain = " ".join(meter.split())
    seen = _seen_capacitors(chassis)
    told = Printed(
        line_v=None if chassis.line is None else chassis.line.volts,
        meter=plain if fixed is not None else f"{plain} on the range that fits",
        volts={},
        changed=tuple(each for now, then in pairs for each in _differences(now, then, seen)),
        kept=tuple(_kept(chassis)),
    )
    if not chassis.was_read:
        return replace(told, reason=NOT_READ)
    try:
        return replace(told, volts=_readings(old, per_volt, fixed))
    except NotSolved as fault:
        return replace(told, reason=fault.reason)


def _readings(old: Chassis, per_volt: float, fixed: float | None) -> dict[str, float | None]:
    """What the meter reads at every node that has DC volts without it."""
    from netcheck.bench.on_bench import line_volts_of, metered, on_bench

    turned = at_maximum(old).chassis
    bench = on_bench(old, Supposed(turned))
    nets = tuple(bench.circuit.chassis.nodes)
    left_out = bench.point.model.floating | line_volts_of(bench, nets).keys()
    plain = {n: v for n in nets if n not in left_out and (v := bench.point.volts(n)) is not None}
    ohms = {n: fixed if fixed is not None else per_volt * _range_v(v) for n, v in plain.items()}
    return metered(bench, ohms)


def _range_v(volts: float) -> float:
    return next((r for r in _RANGES_V if abs(volts) <= r), _RANGES_V[-1])


def _meter(text: str) -> tuple[float, float | None]:
    """Ohms per volt, and ohms where the meter is given whole."""
    bare = _PER_VOLT.fullmatch(text.strip())
    if bare is not None and float(bare[1]) > 0.0:
        return float(bare[1]) * (1e3 if bare[2] else 1.0), None
    try:
        whole: Meter = meter_of(text)
    except NotUnderstood as fault:
        raise NotUnderstood(str(fault).replace("--meter", "--printed-meter", 1)) from fault
    if whole.ohm is None:
        raise NotUnderstood("--printed-meter none: a sheet was measured with some meter")
    return 0.0, whole.ohm


# --- the set as it was


def _as_built(part: Part) -> Part:
    """A part as it was printed: its marked value, and of one that replaces another the other's."""
    then = replace(part, measured=None) if part.measured is not None else part
    was = part.replaces
    if was is None:
        return then
    if part.kind == "diode" and was.has("selenium", "dry-disc", "silicon"):
        return replace(then, description=was)
    old = was.values.get(_HELD_BY.get(part.kind, ""))
    if old is None or not old.known:
        return then
    values = {**then.description.values, old.dimension: old}
    return replace(then, description=replace(then.description, values=values))


def _seen_capacitors(chassis: Chassis) -> frozenset[str]:
    """The capacitors that direct voltages hang on: those that rectifiers meet first."""
    from netcheck.circuit import Circuit

    if not chassis.was_read:
        return frozenset()
    moves = Circuit(chassis).operating.moves_supply
    return frozenset(part.ref for part in chassis.of_kind("capacitor") if moves(part.ref))


def _differences(now: Part, then: Part, seen: frozenset[str]) -> Iterator[OtherValue]:
    """What differs between a part of today and of then, where it can move a reading."""
    if now.kind == "diode" and now.description is not then.description:
        yield OtherValue(now.ref, _material(then), _material(now))
        return
    if now.kind == "capacitor" and now.ref not in seen:
        return
    role = _HELD_BY.get(now.kind, "voltage" if now.kind == "battery" else "resistance")
    new, old = _value(now, role), then.description.values.get(role)
    if new is not None and old is not None and new.amounts != old.amounts:
        yield OtherValue(now.ref, old.text, new.text)


def _value(part: Part, role: str) -> Value | None:
    if part.measured is not None and part.measured.dimension == role:
        return part.measured
    return part.description.values.get(role)


def _material(part: Part) -> str:
    words = ("selenium", "dry-disc", "silicon")
    return next((word for word in words if part.description.has(word)), "a diode")


def _kept(chassis: Chassis) -> Iterator[str]:
    """What is taken as it is today although it was something else, or is a reading of today."""
    for part in chassis.of_kind("tube"):
        was = part.replaces.designation if part.replaces is not None else None
        if was and was.casefold() != part.tube_name.casefold():
            yield f"{part.ref} {part.tube_name} (was {was})"
    for hold in chassis.holds:
        yield f"{hold.node} held at {hold.value.text}"
