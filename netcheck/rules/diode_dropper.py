"""A diode in a heater string gives the wrong volts.

Why: Half waves heat by their rms volts, the line's times 0.707: 117 V leave 82.7 V. Who reckons
with their mean (0.45 of the line, what a DC meter reads) fits a string that then runs on far too
much, and every tube in it ages in weeks.
False alarm: The string was made for it, with a resistor the text does not show.
Source: half wave by rms and not mean, 117 V to about 83 V: Electronics World, 1971; rms of a half
wave, V / root 2: elementary AC theory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import pi, sqrt

from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._heaters import (
    PLAIN,
    Off,
    calculations,
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

_SET = """line {line}
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to FUSED
{dropper}
V4 50L6GT: heater H5 to H4
V2 12SK7: heater H4 to B-
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _SET.format(
                line="117 V 60 Hz",
                dropper="D1 silicon 400 V 1 A: anode FUSED, cathode H5   # <-",
            ),
            "half waves of 82.7 V rms",
        ),
        Example(
            _SET.format(
                line="117 V 60 Hz",
                dropper="D1 silicon 100 V 1 A: anode FUSED, cathode H6   # <-\n"
                "R1 134 ohm 10 W 5%: H6 to H5",
            ),
            "blocks 182 V",
        ),
    ),
    good=(
        _SET.format(
            line="117 V 60 Hz",
            dropper="D1 silicon 400 V 1 A: anode FUSED, cathode H6\nR1 134 ohm 10 W 5%: H6 to H5",
        ),
        _SET.format(line="117 V 60 Hz", dropper="R1 360 ohm 20 W 5%: FUSED to H5"),
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for the heaters behind a diode, and for a diode that cannot block."""
    point, line = line_points(case)[PLAIN], line_of(case)
    if isinstance(point, NotSolved) or line is None or not line.hertz:
        return
    diodes = [p for d in point.network.droppers if (p := case.chassis.part(d.ref)) is not None]
    for diode in diodes:
        yield from _blocks(case, diode, line)
    offs = [off for off in off_heaters(case) if off.strung]
    if diodes and offs and string_cause(case) == "diode-dropper":
        yield _heaters(case, diodes[0], offs, line)


def _heaters(case: Case, diode: Part, offs: Sequence[Off], line: Line) -> Finding:
    rms_v, mean_v = line.volts / sqrt(2), line.volts * sqrt(2) / pi
    needed = needed_ohm(case)
    action = "measure true rms volts at the heaters, and fit the ohms that bring them right"
    if needed is not None and needed.ohm > 0:
        action = f"put {amount(needed.ohm, 'ohm')} in series (it loses {amount(needed.watts, 'W')})"
    elif needed is not None:
        action = f"take {amount(-needed.ohm, 'ohm')} out of the string"
    return case.finding(
        f"behind {named(diode)} there are half waves of {amount(rms_v, 'V')} rms: "
        f"{worst_words(offs[0])}{too(offs)}",
        diode.ref_span or diode.span,
        harm=Harm.DAMAGE if offs[0].share > 1 else Harm.PERFORMANCE,
        parts=[diode.ref, *(off.part.ref for off in offs)],
        related=related(offs),
        calc=[
            Calculation("rms volts of the half waves", rms_v, "V", None,
                        f"{amount(line.volts, 'V')} x 0.707; a DC meter reads their mean, "
                        f"{amount(mean_v, 'V')}, which heats nothing"),
            *calculations(offs),
        ],
        action=action,
    )  # fmt: skip


def _blocks(case: Case, diode: Part, line: Line) -> Iterator[Finding]:
    """A diode blocks the whole peak of the line while the string hangs on its other side."""
    rated, peak_v = diode.value("voltage"), sqrt(2) * line.high_v
    if rated is None or rated >= peak_v:
        return
    yield case.finding(
        f"{named(diode)} blocks {amount(peak_v, 'V')} at the highest line (rated: "
        f"{amount(rated, 'V')})",
        diode.span_of("voltage"),
        parts=(diode.ref,),
        state="line high",
        calc=[
            Calculation("volts that the diode blocks", peak_v, "V", rated,
                        f"root 2 x {amount(line.high_v, 'V')}")
        ],
        action=f"fit a silicon diode of {1000 if peak_v < 800 else 2000} V",
    )  # fmt: skip
