"""Other values for the parts that pass touch current, in preferred series.

Belongs here: whether metal is under the limit with parts of other values. Does not
belong here: which values to propose (_touch_remedy.py), any verdict (_touch.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from netcheck.catalog.preferred import series
from netcheck.circuit.touch import TouchTable
from netcheck.circuit.touch_network import farads
from netcheck.circuit.touch_states import TouchState
from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._line import line_of
from netcheck.rules._touch_limit import limit_a

__all__ = [
    "SHARE_C", "SHARE_R", "USUAL_OHM", "are_under", "candidates", "high_ratio", "larger_ohm",
    "part_value", "scaled", "scales_of", "smaller_f", "whole_states",
]  # fmt: skip

SHARE_C, SHARE_R = 0.8, 0.6
"""Currents of capacitors and resistors on one net stand at right angles: 0.8^2 + 0.6^2 = 1."""

USUAL_OHM = 470e3
"""A bleeder beside the capacitor from B- to metal (common practice, no source)."""

_MOST_OHM, _LEAST_F = 10e6, 100e-12


def high_ratio(case: Case) -> float:
    line = line_of(case)
    return line.high_v / line.volts if line is not None else 1.0


def whole_states(case: Case) -> list[TouchState]:
    return [state for state in case.circuit.touch.states if not state.failed]


def are_under(
    case: Case, table: TouchTable, scales: Sequence[Mapping[str, float]], share: float = 1.0
) -> list[bool]:
    """For each scaling of parts: whether the metal stays under a share of the limit, line high.

    In every state in which no part has failed.
    """
    amperes = case.circuit.touch.by_state(table.nets, whole_states(case), scales).max(axis=1)
    return [float(each) * high_ratio(case) <= share * limit_a(case) for each in amperes]


def scaled(case: Case, ref: str, value: float) -> float:
    """How many times as well a part conducts when it is of another value (farads or ohms)."""
    part = case.chassis.part(ref)
    now = part_value(part) if part is not None else None
    if part is None or not now:
        return 1.0
    return min(value / now, 1.0) if part.kind == "capacitor" else min(now / value, 1.0)


def scales_of(case: Case, values: Mapping[str, float]) -> dict[str, float]:
    return {ref: scaled(case, ref, value) for ref, value in values.items()}


def part_value(part: Part) -> float | None:
    return farads(part) if part.kind == "capacitor" else part.value("resistance")


def candidates(part: Part) -> list[float]:
    """Preferred values that pass less than the part's own, nearest first."""
    own = part_value(part) or 0.0
    if part.kind == "capacitor":
        return smaller_f(own)
    return larger_ohm(own)


def larger_ohm(ohm: float) -> list[float]:
    """Values of E12 above, up to 10 megohms, smallest first."""
    steps = [float(f"{s}e{p}") for p in range(3, 8) for s in series("E12")]
    return sorted(v for v in steps if ohm < v <= _MOST_OHM)


def smaller_f(farad: float) -> list[float]:
    """Values of E6 below, down to 100 pF, largest first."""
    steps = [float(f"{s}e{p}") for p in range(-11, -5) for s in series("E6")]
    return sorted((v for v in steps if _LEAST_F <= v < farad), reverse=True)
