"""What the checks take where the text is silent; every such value is listed, never hidden.

Belongs here: the default values and their basis. Does not belong here: the checks that use them.
"""

from __future__ import annotations

from netcheck.chassis import Chassis
from netcheck.findings import Assumed
from netcheck.parts import Part

__all__ = ["UNMARKED_TOLERANCE", "assumed", "resistor_tolerance"]

# No tolerance band on a composition resistor means 20 % (IEC 60062; RMA colour code of 1938).
UNMARKED_TOLERANCE = 0.2


def resistor_tolerance(part: Part) -> tuple[float, bool]:
    """The tolerance of a resistor as a fraction, and whether the text gives it."""
    given = part.description.number("tolerance")
    return (UNMARKED_TOLERANCE, False) if given is None else (abs(given), True)


def assumed(chassis: Chassis) -> tuple[Assumed, ...]:
    """The values taken for this chassis: line tolerance, tolerance of measured resistors."""
    taken = []
    line = chassis.line
    if line is not None and line.volts is not None and not line.tolerance_given:
        percent = line.tolerance.above * 100
        taken.append(
            Assumed(
                None,
                "line tolerance",
                percent,
                "%",
                "common practice, no source: walls stray by a tenth of their nominal volts",
            )
        )
    for part in chassis.of_kind("resistor"):
        if part.measured is not None and not resistor_tolerance(part)[1]:
            taken.append(
                Assumed(
                    part.ref,
                    "tolerance",
                    UNMARKED_TOLERANCE * 100,
                    "%",
                    "no tolerance band means 20 % (IEC 60062)",
                )
            )
    return tuple(taken)
