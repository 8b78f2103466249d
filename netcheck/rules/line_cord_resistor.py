"""Resistance cord, or its replacement, of the wrong ohms.

Why: The cord of many transformerless sets is the heaters' dropper. Cut short, or replaced by plain
cord or a resistor of other ohms, it gives every tube in the string too many volts; too many ohms
leave them dull.
False alarm: Ohms read from a label while part of the cord feeds a lamp: write its sections.
Source: ohms from the volts left over and the string's current, and a rating of well above the watts
lost (181 ohm and 16 W for 62.6 V at 0.3 A, fitted as 20 to 30 W): capeoldradio.com page on AC/DC
radio resistors; a capacitor instead adds at right angles: PIC list archive, March 2000.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import pi, sqrt

from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._example_sets import LINE_AND_FUSE, STRING_OF_300_MA
from netcheck.rules._heaters import (
    PLAIN,
    Needed,
    Off,
    calculations,
    is_cord,
    line_points,
    needed_ohm,
    off_heaters,
    related,
    string_cause,
    too,
    worst_words,
)
from netcheck.rules._line import Line, line_of, on_line
from netcheck.rules._words import amount, named

_SET = f"""{LINE_AND_FUSE}\
R1 {{ohm}} ohm {{watts}} W 5% wirewound, replaces cord 181 ohm: FUSED to H6{{mark}}
{STRING_OF_300_MA}"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(_SET.format(ohm=110, watts=40, mark="   # <-"), "R1 (110 ohm 40 W 5% wirewound)"),
        Example(_SET.format(ohm=300, watts=40, mark="   # <-"), "the string needs 181 ohm"),
    ),
    good=(
        _SET.format(ohm=181, watts=40, mark=""),
        """line 117 V 60 Hz
P1 plug, polarized, plastic cord, new: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to H6
V5 35Z5GT: heater H6 to H5
V4 50L6GT: heater H5 to H4
V2 12SK7: heater H4 to H3
V1 12SA7: heater H3 to B-
""",
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for the cord (or its resistor) of a string that is off its volts."""
    point, line = line_points(case)[PLAIN], line_of(case)
    if isinstance(point, NotSolved) or line is None:
        return
    refs = dict.fromkeys(e.ref for e in point.branches)
    cords = [p for ref in refs if (p := case.chassis.part(ref)) is not None and is_cord(p)]
    offs = [off for off in off_heaters(case) if off.strung]
    if cords and offs and string_cause(case) == "line-cord-resistor":
        yield _finding(case, cords[0], offs, line)


def _finding(case: Case, cord: Part, offs: Sequence[Off], line: Line) -> Finding:
    needed, now = needed_ohm(case), cord.value("resistance")
    said, calc, action = "", [], "measure the cord's ohms and the volts at the heater pins"
    if needed is not None and now is not None and now + needed.ohm > 0:
        ohm = now + needed.ohm
        watts = ohm * needed.rated_a**2
        said = f", the string needs {amount(ohm, 'ohm')}"
        calc = [
            Calculation("ohms that the string needs", ohm, "ohm", None,
                        f"({amount(needed.driving_v, 'V')} - {amount(needed.rated_v, 'V')}) / "
                        f"{amount(needed.rated_a, 'A')}, less what else is in series"),
            Calculation("heat in them", watts, "W", None,
                        f"({amount(needed.rated_a, 'A')})^2 x {amount(ohm, 'ohm')}"),
        ]  # fmt: skip
        action = f"fit {amount(ohm, 'ohm')} of {1.5 * watts:.0f} W or more where it can cool"
        action += _capacitor(needed, line)
    return case.finding(
        f"{worst_words(offs[0])} behind {named(cord)}{said}{too(offs)}",
        cord.span_of("resistance"),
        harm=Harm.DAMAGE if offs[0].share > 1 else Harm.PERFORMANCE,
        parts=[cord.ref, *(off.part.ref for off in offs)],
        related=related(offs),
        calc=[*calc, *calculations(offs)],
        action=action,
    )


def _capacitor(needed: Needed, line: Line) -> str:
    """The capacitor that does the same on an AC line without heat."""
    if not line.hertz or needed.rated_v >= line.volts:
        return ""
    reactance = sqrt(line.volts**2 - needed.rated_v**2) / needed.rated_a
    farad = 1 / (2 * pi * line.hertz * reactance)
    return f"; or on AC only, {amount(farad, 'F')} of class X2 without any resistor"
