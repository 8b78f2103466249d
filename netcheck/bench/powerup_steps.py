"""The set at any line volts on its way up, because a slow start has readings of its own.

Belongs here: solving the set at a line below its own with its heaters as warm as they then are, a
lamp in series with the line. Does not belong here: which steps are taken and when to stop
(powerup.py).

Each step is the whole set solved anew: heaters by the tungsten law, emission by theirs
(circuit/emission), the rectifiers at that line, and what all of them draw from it. A lamp in series
passes I0 (V / V0)^0.58.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from netcheck.bench.workup import Workup
from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.circuit.edits import without
from netcheck.circuit.emission import emission_share
from netcheck.circuit.heater_law import EXPONENT
from netcheck.circuit.heaters import HeaterState, heater_states
from netcheck.circuit.line_current import line_current
from netcheck.circuit.line_side import LinePoint
from netcheck.circuit.operating import Point
from netcheck.circuit.states import ALL_TUBES, State
from netcheck.findings import NotSolved

__all__ = ["LAMPS_W", "AtLine", "Limited", "Slow"]

LAMPS_W = (15.0, 25.0, 40.0, 60.0, 100.0, 150.0, 200.0)
_SHARES = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
_LOW_LINE_V = 150.0


@dataclass(frozen=True)
class AtLine:
    """The set at `line_v` volts: its point, its heaters, what the line gives.

    `rms_a` is None where some part of the line's current is not known.
    """

    line_v: float
    point: Point
    heaters: dict[str, HeaterState]
    rms_a: float | None


@dataclass(frozen=True, slots=True)
class Limited:
    """A series lamp of `watts`: what reaches the sound set, and how the lamp then glows."""

    watts: float
    set_v: float
    lamp_v: float
    lamp_share: float


class Slow:
    """One set on its way up; each step is solved once."""

    def __init__(self, work: Workup) -> None:
        self.work = work
        self.chassis = work.chassis
        self._found: dict[tuple[float, bool], AtLine | NotSolved] = {}

    @property
    def line_v(self) -> float | None:
        """The set's own line volts, None without an AC or DC line."""
        return self.work.circuit.operating.line["nominal"]

    def at(self, volts: float, *, cold_tubes: bool = False) -> AtLine | NotSolved:
        """The set at some line volts; `cold_tubes`: with every tube but the rectifiers out."""
        key = (round(volts, 3), cold_tubes)
        if key not in self._found:
            self._solve([volts], cold_tubes=cold_tubes)
        return self._found[key]

    def _solve(self, lines: Sequence[float], *, cold_tubes: bool = False) -> None:
        """Solve lines in two batches: as if all tubes were hot, then with what their heaters give.

        The first is asked for because a heater may hang on what the tubes draw: filaments on the
        plate supply, the section of a rectifier's heater that carries the plate current.
        """
        operating = self.work.circuit.operating
        hot = [State(f"line {volts:.4g} V", line_v=volts) for volts in lines]
        warm: list[tuple[float, State, Circuit, dict[str, HeaterState]]] = []
        for volts, state, point in zip(lines, hot, operating.tried(hot), strict=True):
            try:
                circuit = Circuit(_on_line(self.chassis, volts))
                if isinstance(point, NotSolved):
                    raise point
                heaters = _heaters(circuit, point)
            except NotSolved as fault:
                self._found[(round(volts, 3), cold_tubes)] = fault
                continue
            emission = tuple(self._emission(heaters, cold_tubes=cold_tubes))
            warm.append((volts, replace(state, emission=emission), circuit, heaters))
        points = operating.tried([state for _, state, _, _ in warm])
        for (volts, _, circuit, heaters), point in zip(warm, points, strict=True):
            self._found[(round(volts, 3), cold_tubes)] = (
                point
                if isinstance(point, NotSolved)
                else AtLine(volts, point, heaters, _line_a(circuit, point))
            )

    def _emission(
        self, heaters: Mapping[str, HeaterState], *, cold_tubes: bool
    ) -> Iterator[tuple[str, float]]:
        """What each tube emits with its heater so warm; of cold tubes only the rectifiers."""
        rectifiers = {e.ref for e in self.work.circuit.wiring.rectifiers}
        if cold_tubes:
            yield ALL_TUBES, 0.0
        for part in self.chassis.of_kind("tube"):
            warmth = self._warmth(heaters.get(part.body_ref), self._usual.get(part.body_ref))
            if part.ref in rectifiers:
                yield part.ref, warmth
            elif not cold_tubes:
                yield part.body_ref, warmth

    @cached_property
    def _usual(self) -> dict[str, HeaterState]:
        """The heaters at the set's own line: there each tube gives its whole current."""
        point = self.work.point
        return {} if isinstance(point, NotSolved) else _heaters(self.work.circuit, point)

    @staticmethod
    def _warmth(heater: HeaterState | None, usual: HeaterState | None) -> float:
        """The emission of a tube beside that at the set's own line; 1 where nothing heats it."""
        share = heater.share if heater is not None else None
        full = usual.share if usual is not None else None
        if share is None or not full:
            return 1.0
        return min(emission_share(share) / max(emission_share(full), 1e-6), 1.0)

    @cached_property
    def curve(self) -> tuple[AtLine, ...]:
        """The set from three tenths of its line up to the whole, as far as it is solved."""
        line_v = self.line_v
        if line_v is None:
            return ()
        self._solve([share * line_v for share in _SHARES])
        found = [self.at(share * line_v) for share in _SHARES]
        return tuple(each for each in found if isinstance(each, AtLine))

    def lamps(self) -> tuple[Limited, ...]:
        """What each size of lamp in series leaves the set; () where its current is not known."""
        line_v = self.line_v
        known = [(a.line_v, a.rms_a) for a in self.curve if a.rms_a is not None]
        if line_v is None or len(known) < len(_SHARES) // 2:
            return ()
        return tuple(_limited(watts, line_v, known) for watts in LAMPS_W)

    def rectifier_out(self) -> tuple[LinePoint, dict[str, HeaterState]] | NotSolved:
        """The line side with the rectifier tubes out of their sockets.

        NotSolved where they stand in a string with others, which then goes dark too.
        """
        wiring = self.work.circuit.wiring
        tubes = {e.ref for e in wiring.rectifiers if self.chassis.part(e.ref) is not None}
        tubes = {ref for ref in tubes if (p := self.chassis.part(ref)) and p.kind == "tube"}
        if not tubes or not wiring.supply.power_refs:
            return NotSolved("no rectifier tube that could be taken out by itself")
        circuit = Circuit(without(self.chassis, tubes))
        try:
            line = circuit.line_side.beside(None)
        except NotSolved as fault:
            return fault
        return line, dict(heater_states(circuit.wiring, line, None))


def _on_line(chassis: Chassis, volts: float) -> Chassis:
    if chassis.line is None or chassis.line.volts is None:
        raise NotSolved("no line voltage is stated")
    return replace(
        chassis, line=replace(chassis.line, volts=volts, rated_v=chassis.line.made_for_v)
    )


def _heaters(circuit: Circuit, point: Point) -> dict[str, HeaterState]:
    line: LinePoint | NotSolved
    try:
        line = circuit.line_side.beside(point)
    except NotSolved as fault:
        line = fault
    return dict(heater_states(circuit.wiring, line, point))


def _line_a(circuit: Circuit, point: Point) -> float | None:
    try:
        found = line_current(circuit.line_side.beside(point))
    except NotSolved:
        return None
    return None if isinstance(found, str) else found.rms_a


def _limited(watts: float, line_v: float, known: Sequence[tuple[float, float]]) -> Limited:
    """Where the lamp passes just what the set draws (bisection between nothing and the line)."""
    volts, amperes = ([0.0, *column] for column in zip(*known, strict=True))
    rated_v = 120.0 if line_v < _LOW_LINE_V else 230.0
    low, high = 0.0, line_v
    for _ in range(40):
        middle = (low + high) / 2
        drawn = float(np.interp(middle, volts, amperes))
        passed = watts / rated_v * ((line_v - middle) / rated_v) ** EXPONENT
        low, high = (middle, high) if passed > drawn else (low, middle)
    lamp_v = line_v - low
    return Limited(watts, low, lamp_v, lamp_v / rated_v)
