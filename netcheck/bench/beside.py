"""The chart as printed in the set's day beside the chart of today, because the two rarely agree.

Belongs here: the set as it was (printed values, its own line), the meter of its day on the range
that fits each reading. Does not belong here: today's chart (voltage_chart.py), the look (output/).

Sheets up to about 1950 name a meter of 1,000 ohm per volt, later ones 20,000 ohm per volt. Biases
were read on its 10 V range, plates and screens on 250, 500 or 1,000 V (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from netcheck.bench.asked import Meter, NotUnderstood, meter_of
from netcheck.bench.controls import at_maximum
from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.circuit.states import NOMINAL
from netcheck.findings import NotSolved
from netcheck.parts import Part

__all__ = ["USUAL_PRINTED", "Printed", "as_printed"]

USUAL_PRINTED: Final = "1000 ohm/V"
_RANGES_V: Final = (10.0, 250.0, 500.0, 1000.0)
_PER_VOLT: Final = re.compile(
    r"(\d+(?:\.\d+)?)\s*(k)?\s*(?:ohms?)?\s*/\s*v(?:olts?)?", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Printed:
    """The volts a sheet of the set's day would print, by node; `reason` says why there are none."""

    line_v: float | None
    meter: str
    volts: Mapping[str, float | None]
    changed: tuple[str, ...]
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
    old, changed = _as_built(chassis)
    line_v = None if chassis.line is None else chassis.line.volts
    try:
        circuit = Circuit(at_maximum(old).chassis)
        point = circuit.operating.point()
        plain = {net: point.volts(net) for net in circuit.chassis.nodes}
        floating = point.model.floating
        told = {n: v for n, v in plain.items() if v is not None and n not in floating}
        ohms = {n: fixed if fixed is not None else per_volt * _range_v(v) for n, v in told.items()}
        states = [
            replace(NOMINAL, name=f"meter of its day at {n}", meter=(n, ohm))
            for n, ohm in ohms.items()
        ]
        points = circuit.operating.points(states)
    except NotSolved as fault:
        return Printed(line_v, meter, {}, changed, fault.reason)
    reads = {n: p.volts(n) for n, p in zip(ohms, points, strict=True)}
    return Printed(line_v, meter, reads, changed)


def _range_v(volts: float) -> float:
    return next((r for r in _RANGES_V if abs(volts) <= r), _RANGES_V[-1])


def _meter(text: str) -> tuple[float, float | None]:
    """Ohms per volt, and ohms where the meter is given whole."""
    bare = _PER_VOLT.fullmatch(text.strip())
    if bare is not None:
        return float(bare[1]) * (1e3 if bare[2] else 1.0), None
    whole: Meter = meter_of(text)
    if whole.ohm is None:
        raise NotUnderstood("--printed-meter none: a sheet was measured with some meter")
    return 0.0, whole.ohm


def _as_built(chassis: Chassis) -> tuple[Chassis, tuple[str, ...]]:
    """The set with its parts as they were printed, and the references of those that differ now."""
    changed: list[str] = []
    parts: list[Part] = []
    for part in chassis.parts:
        then = part
        was = part.replaces.values.get("resistance") if part.replaces is not None else None
        if was is not None and was.known:
            values = {**part.description.values, "resistance": was}
            then = replace(then, description=replace(part.description, values=values))
        if part.measured is not None and part.measured.dimension == "resistance":
            then = replace(then, measured=None)
        if then is not part:
            changed.append(part.ref)
        parts.append(then)
    return replace(chassis, parts=tuple(parts)), tuple(changed)
