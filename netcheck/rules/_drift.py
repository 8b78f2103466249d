"""What a drifted resistor does to the chart, found by solving the set with its printed value.

Belongs here: the state with one resistor as printed, the electrode that its drift moves most. Does
not belong here: how far a resistor may drift, or how that is reported (resistor_drift.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.states import Edit, State
from netcheck.findings import NotSolved
from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._operating import NOMINAL, tried

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

__all__ = ["Effect", "drift_of", "effects"]

_LEAST_V = 5.0
"""Shares are of the electrode's volts, or of this much: a tenth of a volt at a grid that rests near
zero is within the spread of tubes (common practice)."""

_SEEN_V = 0.05
"""What moves less than this moves nothing that a meter shows."""


@dataclass(frozen=True, slots=True)
class Effect:
    """The electrode that one resistor's drift moves most; no names where nothing moves.

    `was_v` with the printed value, `now_v` as measured, both against where is measured from.
    """

    tube: str = ""
    electrode: str = ""
    was_v: float = 0.0
    now_v: float = 0.0

    @property
    def change_v(self) -> float:
        """Volts it moves, up or down."""
        return self.now_v - self.was_v

    @property
    def share(self) -> float:
        """The change as a part of its volts (of 5 V, where it has fewer)."""
        return self.change_v / max(abs(self.was_v), _LEAST_V)


def drift_of(part: Part) -> tuple[float, float] | None:
    """Printed and measured ohms, None where one of them is not known."""
    value, measured = part.description.values.get("resistance"), part.measured
    if value is None or not value.known or value.total <= 0 or measured is None:
        return None
    if not measured.known or measured.dimension != "resistance" or measured.si <= 0:
        return None
    return value.total, measured.si


def effects(case: Case, parts: Sequence[Part]) -> Mapping[str, Effect | NotSolved]:
    """The effect of each of these measured resistors by reference, all solved together."""
    states = {}
    for part in parts:
        drift = drift_of(part)
        if drift is not None:
            edit = Edit("scale", part.ref, drift[0] / drift[1])
            states[part.ref] = State(f"{part.ref} as printed", edits=(edit,))
    if not states:
        return {}
    now, *printed = tried(case, [NOMINAL, *states.values()])
    found: dict[str, Effect | NotSolved] = {}
    for ref, point in zip(states, printed, strict=True):
        if isinstance(now, NotSolved):
            found[ref] = now
        else:
            found[ref] = point if isinstance(point, NotSolved) else _largest(point, now)
    return found


def _largest(printed: Point, now: Point) -> Effect:
    moved = [
        Effect(ref, after.name, before_v, after.volts)
        for ref, tube in now.tubes.items()
        for after in tube.electrodes
        if (before_v := printed.volts(after.net)) is not None
        and abs(after.volts - before_v) >= _SEEN_V
        and after.net not in now.model.floating
    ]
    return max(moved, key=lambda each: abs(each.share), default=Effect())
