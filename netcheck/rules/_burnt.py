"""What a fault burns: watts and currents over what parts stand, against the sound set.

Belongs here: comparing solved faults with the sound point. Does not belong here: the figures that
are compared (_burnt_table.py), which fault is tried, how a rule reports it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.findings import Calculation
from netcheck.parts import Part
from netcheck.rules._base import Case

if TYPE_CHECKING:
    from netcheck.circuit.point import Batch, Point
    from netcheck.rules._burnt_table import Table

__all__ = ["Burnt", "Comparison"]


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


class Comparison:
    """What faults overload that the sound set does not."""

    def __init__(self, case: Case, sound: Point) -> None:
        self._case = case
        self.sound = sound
        self._tables: dict[Batch, Table] = {}

    def burnt_by(self, point: Point) -> tuple[Burnt, ...]:
        """Everything that a fault overloads and the sound set does not, the worst first."""
        from netcheck.rules._burnt_table import Table

        table = self._tables.get(point.batch)
        if table is None:
            table = self._tables[point.batch] = Table(self._case, self.sound, point.batch)
        found = [*table.resistors(point), *table.windings(point), *table.electrodes(point)]
        return tuple(sorted(found, key=lambda burnt: -burnt.ratio))
