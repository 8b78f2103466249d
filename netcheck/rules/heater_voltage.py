"""A heater gets too many or too few volts.

Why: Over its volts a heater ages fast: a tenth more halves its life, and at switch-on the weakest
one burns out; a string then goes dark. Under them the cathode is starved: weak sound, an oscillator
that stops, emission lost under load.
False alarm: Winding volts that the text leaves out of the load they hold at. The volts are those of
the line as stated: write yours. A filament run low on purpose (economy of batteries).
Source: a tenth either way: receiving-tube manual and handbook as quoted on the Heathkit list,
February 2008; ohms of a heater off its volts by the tungsten law, R as V^0.42 ("Lamp rerating",
quoting the Standard Handbook for Electrical Engineers, 11th ed., p. 22-8); the life: from memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from netcheck.findings import Finding, Harm, NotChecked
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._heaters import (
    PLAIN,
    Off,
    calculations,
    heater_of,
    heaters_at,
    needed_ohm,
    off_heaters,
    related,
    string_cause,
    too,
)
from netcheck.rules._taps import wrong_taps
from netcheck.rules._words import amount, listed

_STRING = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to H6
{first}V4 50L6GT: heater H5 to H4{mark}
V2 12SK7: heater H4 to H3
V1 12SA7: heater H3 to H2
V3 12SQ7: heater H2 to B-
"""
_WINDING = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral N
F1 80 mA 250 V slow: LINE to FUSED
T1 power, primary 117 V 6 ohm, heater {volts} V 1 A: primary FUSED to N, heater H to CHASSIS
V1 6SK7: heater H to CHASSIS{mark}
V2 6V6GT: heater H to CHASSIS
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _STRING.format(first="R1 50 ohm 5 W 5%: H6 to H5\n", mark="   # <-"),
            "the heater of V4 (50L6GT) gets",
        ),
        Example(_WINDING.format(volts=5, mark="   # <-"), "of its 6.3 V (at least 5.67 V)"),
    ),
    good=(
        _STRING.format(first="V5 35Z5GT: heater H6 to H5\n", mark=""),
        _WINDING.format(volts=6.3, mark=""),
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield one finding for all heaters too high and one for all too low, by what feeds them."""
    yield from _unknown(case)
    offs = off_heaters(case)
    if not offs or wrong_taps(case):
        return  # `mains-tap` tells the cause
    told_elsewhere = string_cause(case) is not None
    groups: dict[tuple[bool, bool], list[Off]] = {}
    for off in offs:
        if not (off.strung and told_elsewhere):
            groups.setdefault((off.strung, off.share > 1.0), []).append(off)
    for group in groups.values():
        yield _finding(case, group)


def _finding(case: Case, offs: Sequence[Off]) -> Finding:
    first = offs[0]
    high = first.share > 1.0
    limit = amount(first.rated_v * (1.1 if high else 0.9), "V")
    return case.finding(
        f"the {heater_of(first)} gets {amount(first.volts, 'V')} of its "
        f"{amount(first.rated_v, 'V')} (at {'most' if high else 'least'} {limit}){too(offs)}",
        first.part.span_of("type"),
        harm=Harm.DAMAGE if high else Harm.PERFORMANCE,
        parts=[off.part.ref for off in offs],
        related=related(offs),
        calc=calculations(offs),
        action=_action(case, offs),
    )


def _action(case: Case, offs: Sequence[Off]) -> str:
    first = offs[0]
    needed = needed_ohm(case) if first.strung else None
    if needed is None:
        return "measure the volts at the heater pins, then look for what feeds them"
    ohm = amount(abs(needed.ohm), "ohm")
    if needed.ohm > 0:
        return f"put {ohm} in series with the string (it loses {amount(needed.watts, 'W')})"
    return f"take {ohm} out of the string, or look for a tube that wants fewer volts"


def _unknown(case: Case) -> Iterator[NotChecked]:
    """Heaters whose volts are not known, by reason."""
    reasons: dict[str, list[str]] = {}
    for ref, state in heaters_at(case, PLAIN).items():
        if state.volts is None or not state.rated_v:
            why = state.why_unknown or "the rated volts of the type are not known"
            reasons.setdefault(why, []).append(ref)
    for why, refs in reasons.items():
        yield case.not_checked(f"the heater volts of {listed(refs)}: {why}", refs)
