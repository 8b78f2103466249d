"""The limit of touch current in force, because every rule about line and metal asks for the same.

Belongs here: the policy, the limit it comes to. Does not belong here: the currents, or any verdict.
"""

from __future__ import annotations

from netcheck.rules._base import Case, Option

__all__ = [
    "DIRECT_DANGER_A", "DIRECT_FAULT_V", "DIRECT_LIMIT_A", "DIRECT_SAFE_V", "LIMIT_OPTION",
    "limit_a", "limit_of_ac_a",
]  # fmt: skip

LIMIT_OPTION = Option(
    "0.5",
    ("0.5", "0.25", "0.75"),
    "milliamperes at line high. 0.5: a two-wire cord. 0.75: a three-wire cord on a set that stays"
    " in its place. 0.25: metal that is not earthed, IEC 60950. Also holds for"
    " line-capacitor-class, antenna-isolation, two-in-series and the values they ask for.",
)

DIRECT_LIMIT_A = 2e-3
"""Direct touch current (IEC 60065, U1 of 1.0 V, in a Toshiba 32W1333DN service manual)."""

DIRECT_SAFE_V, DIRECT_FAULT_V = 60.0, 120.0
"""Direct volts that are not hazardous live, as wired and with one part failed (IEC 60065, the
first in a Toshiba 32W1333DN service manual, the second clause 11.1 as quoted at bbs1.angui.org
thread 50616)."""

DIRECT_DANGER_A = 25e-3
"""Above this and 120 V direct current is of the class that can injure (from memory: limits of ES2,
IEC 62368-1)."""


def limit_a(case: Case) -> float:
    """The limit in amperes: the policy's on AC, that of IEC 60065 on a DC line."""
    line = case.chassis.line
    if line is not None and line.volts is not None and not line.hertz:
        return DIRECT_LIMIT_A
    return limit_of_ac_a(case)


def limit_of_ac_a(case: Case) -> float:
    """The limit of alternating current in amperes, whatever the line: as the policy says."""
    chosen = case.policy.get(("touch-current", "limit"), LIMIT_OPTION.default)
    return float(chosen if chosen in LIMIT_OPTION.allowed else LIMIT_OPTION.default) * 1e-3
