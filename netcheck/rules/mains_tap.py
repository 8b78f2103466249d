"""Voltage selector or primary does not fit the line.

Why: Set for less than the line gives, heaters, rectifier and capacitors get too much, and the
transformer's iron saturates and runs hot; set for more, the set is weak and its heaters dull. Sets
that changed countries, or stood on a weak line once, are found on the wrong tap.
False alarm: The line stated is not the one the set will be used on: write that one. A primary whose
printed volts hold for another tap than the one that is wired.
Source: heaters bear a tenth either way (handbook as quoted on the Heathkit list, February 2008);
a 100 V primary that overheats on more: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Calculation, Finding, Harm, NotChecked
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._heaters import PLAIN, heaters_at
from netcheck.rules._line import on_line
from netcheck.rules._taps import Tap, set_taps, wrong_taps
from netcheck.rules._words import amount, named

_DROPPER = """line {line}
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to MAINS
switch S2 at {at}
S2 voltage selector: 110 MAINS to TAP110, 220 MAINS to TAP220
R1 dropper, 1100-270 ohm 30 W 5% wirewound: TAP220 to TAP110 to H5
V5 UY85: heater H5 to H4
V4 UL84: heater H4 to B-
"""
_PRIMARY = """line {line}
P1 plug, polarized: hot LINE, neutral N
F1 80 mA 250 V slow: LINE to FUSED
T1 power, primary 100 V 6 ohm, heater 6.3 V 1 A: primary FUSED to N, heater H to CHASSIS
V1 6SK7: heater H to CHASSIS
V2 6V6GT: heater H to CHASSIS
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _DROPPER.format(line="220 V 50 Hz", at="110").replace(
                "TAP220\nR1", "TAP220   # <-\nR1"
            ),
            "S2 (voltage selector) stands at 110 V on a line of 220 V",
        ),
        Example(
            _PRIMARY.format(line="120 V 60 Hz").replace("CHASSIS\nV1", "CHASSIS   # <-\nV1"),
            "the primary of T1 is for 100 V on a line of 120 V",
        ),
    ),
    good=(
        _DROPPER.format(line="220 V 50 Hz", at="220"),
        _PRIMARY.format(line="100 V 50 Hz"),
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each setting more than a tenth off the line."""
    for each in set_taps(case):
        if isinstance(each, str):
            yield case.not_checked(each)
    for tap in wrong_taps(case):
        yield _finding(case, tap)


def _finding(case: Case, tap: Tap) -> Finding:
    part, line = tap.part, amount(tap.line_v, "V")
    selects = part.kind == "switch"
    what = f"{named(part)} stands at" if selects else f"the primary of {part.ref} is for"
    fit = f"set {part.ref} to {tap.best:g}" if selects and tap.best != tap.volts else (
        f"use the tap of {part.ref} for {line}, or a transformer ahead of it that gives "
        f"{amount(tap.volts, 'V')}"
    )  # fmt: skip
    return case.finding(
        f"{what} {amount(tap.volts, 'V')} on a line of {line}",
        part.ref_span or part.span,
        harm=Harm.DAMAGE if tap.share > 1 else Harm.PERFORMANCE,
        parts=(part.ref,),
        calc=[
            Calculation("volts of the line", tap.line_v, "V", tap.volts,
                        f"{tap.share:.0%} of those it is set for"),
            *_worst(case),
        ],
        action=fit,
    )  # fmt: skip


def _worst(case: Case) -> Iterator[Calculation]:
    """The heater furthest off its volts as the set stands."""
    states = [s for s in heaters_at(case, PLAIN).values() if s.share is not None]
    if states:
        worst = max(states, key=lambda s: abs((s.share or 1.0) - 1.0))
        share = worst.share or 0.0
        yield Calculation(f"heater of {worst.ref}", worst.volts or 0.0, "V", worst.rated_v,
                          f"{share:.0%} of the rated volts, solved with this setting")  # fmt: skip
