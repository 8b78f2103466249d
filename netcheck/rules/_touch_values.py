"""Limits of touch current and other values for the parts that pass it, in preferred series.

Belongs here: the limit in force, whether metal is under it with parts of other values. Does not
belong here: which values to propose (_touch_remedy.py), any verdict (_touch.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from netcheck.catalog.preferred import series
from netcheck.circuit.touch import TouchTable
from netcheck.circuit.touch_network import farads
from netcheck.circuit.touch_states import TouchState
from netcheck.parts import Part
from netcheck.rules._base import Case, Option
from netcheck.rules._line import line_of

__all__ = [
    "LIMIT_OPTION", "SHARE_C", "SHARE_R", "are_under", "candidates", "high_ratio", "limit_a",
    "part_value", "scaled", "scales_of", "smaller_f", "whole_states",
]  # fmt: skip

LIMIT_OPTION = Option(
    "0.5",
    ("0.5", "0.25", "0.75"),
    "milliamperes at line high. 0.5: a two-wire cord. 0.75: a three-wire cord on a set that stays"
    " in its place. 0.25: metal that is not earthed, IEC 60950.",
)

_DIRECT_LIMIT_A = 2e-3
"""Touch current on a DC line (IEC 60065, U1 of 1.0 V, in a Toshiba 32W1333DN service manual)."""

SHARE_C, SHARE_R = 0.8, 0.6
"""Currents of capacitors and resistors on one net stand at right angles: 0.8^2 + 0.6^2 = 1."""

_MOST_OHM, _LEAST_F = 10e6, 100e-12


def limit_a(case: Case) -> float:
    """The limit in amperes: the policy's on AC, that of IEC 60065 on a DC line."""
    line = line_of(case)
    if line is not None and not line.hertz:
        return _DIRECT_LIMIT_A
    chosen = case.policy.get(("touch-current", "limit"), LIMIT_OPTION.default)
    return float(chosen if chosen in LIMIT_OPTION.allowed else LIMIT_OPTION.default) * 1e-3


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
    steps = [float(f"{s}e{p}") for p in range(3, 8) for s in series("E12")]
    return sorted(v for v in steps if own < v <= _MOST_OHM)


def smaller_f(farad: float) -> list[float]:
    """Values of E6 below, down to 100 pF, largest first."""
    steps = [float(f"{s}e{p}") for p in range(-11, -5) for s in series("E6")]
    return sorted((v for v in steps if _LEAST_F <= v < farad), reverse=True)
