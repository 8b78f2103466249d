"""What the checks take where the text is silent; every such value is listed, never hidden.

Belongs here: the default values and their basis. Does not belong here: the checks that use them.
"""

from __future__ import annotations

from netcheck.chassis import Chassis
from netcheck.findings import Assumed
from netcheck.parts import Part

__all__ = ["UNMARKED_TOLERANCE", "assumed", "measured_accuracy", "resistor_tolerance"]

# No tolerance band on a composition resistor means 20 % (IEC 60062; RMA colour code of 1938).
UNMARKED_TOLERANCE = 0.2


def resistor_tolerance(part: Part) -> tuple[float, bool]:
    """The tolerance of a resistor as a fraction, and whether the text gives it."""
    given = part.description.number("tolerance")
    return (UNMARKED_TOLERANCE, False) if given is None else (abs(given), True)


# What a common meter may be off in ohms or farads (common practice, no source).
_USUAL_ACCURACY = 0.02


def measured_accuracy(chassis: Chassis, part: Part) -> tuple[float, bool]:
    """How far a measured part may be off as a fraction, and whether the text says so.

    That is the accuracy of the last reading of this part that names one (`reading R7 531K, accuracy
    1%`), else that of a common meter.
    """
    dimension = part.measured.dimension if part.measured is not None else ""
    said = [
        reading.accuracy
        for reading in chassis.readings
        if reading.part == part.ref
        and reading.accuracy is not None
        and not reading.leakage
        and reading.value.dimension == dimension
    ]
    return (said[-1], True) if said else (_USUAL_ACCURACY, False)


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
