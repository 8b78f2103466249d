"""Rows of figures of what parts stand, because hundreds of faults are held against all of them.

Belongs here: what is over its limit in one solved fault and not in the sound set. Does not belong
here: which faults are compared, what a rule says of them (_burnt.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from netcheck.circuit.wiring import Kind
from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._burnt import Burnt
from netcheck.rules._operating import bulb_of, streams
from netcheck.rules._words import amount

if TYPE_CHECKING:
    from netcheck.circuit.point import Batch, Point

__all__ = ["Table"]

# Less than this is within what the solution and the parts are good for.
_OVER = 1.1
# A winding of fine wire: its watts are not published, its usual current is.
_FINE_OHM, _TIMES, _LEAST_A = 50.0, 3.0, 0.02


class Table:
    """What the parts of one batch stand and have in the sound set, as rows of figures."""

    def __init__(self, case: Case, sound: Point, batch: Batch) -> None:
        self._resistors = list(_sound_resistors(case, sound, batch))
        owners = [[n] * len(numbers) for n, (_, _, numbers) in enumerate(self._resistors)]
        self._owner = np.array([n for own in owners for n in own], dtype=np.intp)
        self._branch = np.array([n for *_, own in self._resistors for n in own], dtype=np.intp)
        self._rated_w = np.array([rated for _, rated, _ in self._resistors])
        self._windings = list(_sound_windings(case, sound, batch))
        self._winding = np.array([number for *_, number in self._windings], dtype=np.intp)
        self._usual_a = np.array([usual for _, usual, _ in self._windings])
        self._electrodes = list(_sound_electrodes(case, sound, batch))
        self._column = np.array([column for *_, column in self._electrodes], dtype=np.intp)
        self._limit_w = np.array([limit for _, _, limit, _ in self._electrodes])

    def resistors(self, point: Point) -> Iterator[Burnt]:
        """Resistors over their rating."""
        each = point.branch_w[self._branch]
        watts = np.bincount(self._owner, each, len(self._resistors))
        for k in np.flatnonzero(watts > _OVER * self._rated_w):
            part, rated, _ = self._resistors[k]
            said = f"put {amount(float(watts[k]), 'W')} into {part.ref}, rated {amount(rated, 'W')}"
            yield Burnt(part, float(watts[k]), rated, "W", said)

    def windings(self, point: Point) -> Iterator[Burnt]:
        """Windings of fine wire at several times their current."""
        amperes = np.abs(point.branch_a[self._winding])
        for k in np.flatnonzero(amperes > np.maximum(_TIMES * self._usual_a, _LEAST_A)):
            part, usual, _ = self._windings[k]
            now = float(amperes[k])
            said = f"send {amount(now, 'A')} through {part.ref} in place of {amount(usual, 'A')}"
            yield Burnt(part, now, usual, "A", said)

    def electrodes(self, point: Point) -> Iterator[Burnt]:
        """Plates and screens over their maximum."""
        watts = point.terminal_w[self._column]
        for k in np.flatnonzero(watts > _OVER * self._limit_w):
            part, name, limit, _ = self._electrodes[k]
            said = f"put {amount(float(watts[k]), 'W')} into the {name} of {part.ref}, maximum "
            yield Burnt(part, float(watts[k]), limit, "W", said + amount(limit, "W"))


def _sound_resistors(
    case: Case, sound: Point, batch: Batch
) -> Iterator[tuple[Part, float, tuple[int, ...]]]:
    """Resistors that stand what they get: with their rating and branches."""
    for part in case.chassis.of_kind("resistor"):
        rated = part.value("power")
        before = sound.watts(part.ref) if rated else None
        numbers = batch.model.numbers.get(part.ref, ())
        if rated and before is not None and numbers and before <= _OVER * rated:
            yield part, rated, numbers


def _sound_windings(case: Case, sound: Point, batch: Batch) -> Iterator[tuple[Part, float, int]]:
    """Windings of fine wire in which current flows: with that current and their branch."""
    before = {
        (b.ref, b.path, b.terminals): abs(i)
        for b, i in sound.branch_amperes
        if b.kind is Kind.WINDING
    }
    for number, branch in enumerate(batch.model.branches):
        if branch.kind is not Kind.WINDING or branch.ohm < _FINE_OHM:
            continue
        part = case.chassis.part(branch.ref)
        usual = before.get((branch.ref, branch.path, branch.terminals), 0.0)
        if part is not None and usual > 0.0:
            yield part, usual, number


def _sound_electrodes(
    case: Case, sound: Point, batch: Batch
) -> Iterator[tuple[Part, str, float, int]]:
    """Plates and screens that stand what they get: with their maximum and column of watts."""
    for stream in streams(case, sound):
        section, tube = stream.section, stream.part.tube
        if tube is None or section is not tube.sections[0]:
            continue
        for name, electrode in (("plate", section.plate), ("screen", section.screen or "")):
            limit = tube.limits.get(f"{name}-w")
            column = batch.terminals.get((bulb_of(stream.part), electrode))
            if limit and column is not None and stream.tube.watts(electrode) <= _OVER * limit:
                yield stream.part, name, limit, column
