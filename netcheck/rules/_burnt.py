"""What a fault burns: watts and currents over what parts stand, against the sound set.

Belongs here: comparing a solved fault with the sound point, part by part. Does not belong here:
which fault is tried, or how a rule reports it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Kind
from netcheck.findings import Calculation
from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._operating import streams
from netcheck.rules._words import amount

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

__all__ = ["Burnt", "burnt_by"]


@dataclass(frozen=True, slots=True)
class Burnt:
    """What a short overloads: amounts in `unit` against what it stands, and both in words."""

    part: Part
    value: float
    limit: float
    unit: str
    said: str

    @property
    def ratio(self) -> float:
        """How far over."""
        return self.value / self.limit

    def calculation(self, fault: str) -> Calculation:
        """The amount as a line of a finding; `fault` says what was done to the set."""
        scale, unit = (1e3, "mA") if self.unit == "A" else (1.0, self.unit)
        return Calculation(
            f"{self.part.ref} with {fault}", self.value * scale, unit, self.limit * scale,
            f"solved; {self.said}",
        )  # fmt: skip


def burnt_by(case: Case, sound: Point, point: Point) -> tuple[Burnt, ...]:
    """Everything that a fault overloads and the sound set does not, the worst first."""
    found = [*_resistors(case, sound, point), *_windings(case, sound, point)]
    found += _tubes(case, sound, point)
    return tuple(sorted(found, key=lambda burnt: -burnt.ratio))


# Less than this is within what the solution and the parts are good for.
_OVER = 1.1


def _resistors(case: Case, sound: Point, point: Point) -> Iterator[Burnt]:
    for part in case.chassis.of_kind("resistor"):
        rated = part.value("power")
        watts, before = point.watts(part.ref), sound.watts(part.ref)
        if rated and watts is not None and before is not None and watts > _OVER * rated >= before:
            said = f"put {amount(watts, 'W')} into {part.ref}, rated {amount(rated, 'W')}"
            yield Burnt(part, watts, rated, "W", said)


# A winding of fine wire: its watts are not published, its usual current is.
_FINE_OHM, _TIMES, _LEAST_A = 50.0, 3.0, 0.02


def _windings(case: Case, sound: Point, point: Point) -> Iterator[Burnt]:
    before = {(b.ref, b.path, b.terminals): abs(i) for b, i in sound.branch_amperes}
    for branch, amperes in point.branch_amperes:
        usual = before.get((branch.ref, branch.path, branch.terminals), 0.0)
        part = case.chassis.part(branch.ref)
        if part is None or branch.kind is not Kind.WINDING or branch.ohm < _FINE_OHM:
            continue
        if abs(amperes) > max(_TIMES * usual, _LEAST_A) and usual > 0:
            said = f"send {amount(abs(amperes), 'A')} through {part.ref} in place of "
            yield Burnt(part, abs(amperes), usual, "A", said + amount(usual, "A"))


def _tubes(case: Case, sound: Point, point: Point) -> Iterator[Burnt]:
    before = {(s.part.ref, s.section.name): (s.plate_w, s.screen_w) for s in streams(case, sound)}
    for stream in streams(case, point):
        tube = stream.part.tube
        if tube is None or stream.section is not tube.sections[0]:
            continue
        earlier = before[(stream.part.ref, stream.section.name)]
        now = (stream.plate_w, stream.screen_w)
        for name, watts, was in zip(("plate", "screen"), now, earlier, strict=True):
            limit = tube.limits.get(f"{name}-w")
            if limit and watts is not None and watts > _OVER * limit >= (was or 0.0):
                said = f"put {amount(watts, 'W')} into the {name} of {stream.part.ref}, maximum "
                yield Burnt(stream.part, watts, limit, "W", said + amount(limit, "W"))
