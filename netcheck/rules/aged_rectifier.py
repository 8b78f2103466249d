"""An original selenium or dry-disc rectifier is still fitted.

Why: The plates of a selenium or copper-oxide stack age: its forward drop rises, so B+ and every
voltage with it sink year by year, and its reverse leakage heats it until it shorts. A shorted stack
puts the line's AC on the filter capacitor; burning selenium gives off a poisonous smell.
False alarm: A stack in a meter or a bias circuit, which works at milliamperes: accept it after its
volts are seen to be right.
Source: common practice, no source; the silicon diode with a resistor beside it: studylib.net doc
18253712, Replacing selenium rectifiers; peak inverse 2 x 1.414 x rms with a capacitor behind a
half-wave rectifier, half of that in a bridge: elementary rectifier theory.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from netcheck.findings import Calculation, Finding, Harm, Related
from netcheck.parts import Condition, Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._words import amount, listed, named

_TIMES = 2 * math.sqrt(2)
_WORDS = {"selenium": "selenium stack", "dry-disc": "dry-disc rectifier"}


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
CR1 selenium, 75 mA: anode LINE, cathode B1   # <-
""",
            "CR1 (selenium, 75 mA) is an original selenium stack",
        ),
        Example(
            """
D1 copper oxide: anode X, cathode Y   # <-
D2 selenium: anode Y, cathode Z
""",
            "2 original dry rectifiers are still fitted: D1 and D2",
        ),
        Example(
            "CR1 selenium bridge, 250 VAC 75 mA: ac HA to HB, + B1, - B-   # <-\n",
            "CR1 (selenium bridge, 250 VAC 75 mA) is an original selenium bridge",
        ),
    ),
    good=(
        """
CR1 silicon, 1 A 1000 V, replaces selenium 75 mA: anode LINE, cathode X1
R1 47 ohm 5 W wirewound, new: X1 to B1
""",
        "CR1 selenium, 75 mA, removed: anode LINE, cathode B1\n",
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Yield one finding that lists every original dry rectifier."""
    found = [
        part
        for part in case.chassis.of_kind("diode")
        if part.condition is Condition.ORIGINAL and part.description.has(*_WORDS)
    ]
    if not found:
        return
    first, refs = found[0], [part.ref for part in found]
    message = (
        f"{named(first)} is an original {_kind(first)}"
        if len(found) == 1
        else f"{len(found)} original dry rectifiers are still fitted: {listed(refs)}"
    )
    whole = all(_works_as_bridge(part) for part in found)
    calc = _inverse(case, found, whole)
    times = _TIMES / 2 if whole else _TIMES
    volts = f"for {calc.value:.0f} V" if calc is not None else f"for {times:.3g} times the AC volts"
    yield case.finding(
        message,
        first.span_of(_word(first)),
        parts=refs,
        related=[Related(part.span_of(_word(part)), named(part)) for part in found[1:]],
        calc=() if calc is None else (calc,),
        action=f"fit a silicon {'bridge' if whole else 'diode'} {volts} or more inverse and in "
        "series a resistor that brings the rail behind it to its value on the chart",
    )


def _kind(part: Part) -> str:
    return f"{_word(part)} bridge" if part.is_bridge else _WORDS[_word(part)]


def _word(part: Part) -> str:
    return next(word for word in _WORDS if part.description.has(word))


def _works_as_bridge(part: Part) -> bool:
    """Whether all four corners of a bridge are used: each diode blocks the peak and no more."""
    return part.is_bridge and not any(terminal.unused for terminal in part.terminals)


def _inverse(case: Case, found: list[Part], whole: bool) -> Calculation | None:
    """What the new diode has to stand on this line at its highest, into a capacitor.

    None where a transformer drives one of them: its volts are not the line's.
    """
    line, live = case.chassis.line, case.circuit.wiring.line_side
    if line is None or line.volts is None or line.hertz <= 0:
        return None
    if any(live.isdisjoint(case.chassis.net(t.node) for t in part.terminals) for part in found):
        return None
    above = 1 + line.tolerance.above
    volts = (_TIMES / 2 if whole else _TIMES) * line.volts * above
    factor, form = ("1.414", "bridge") if whole else ("2 x 1.414", "half wave")
    said = f"{factor} x {amount(line.volts, 'V')} x {above:.3g} = {amount(volts, 'V')}"
    return Calculation(f"peak inverse on the line, {form}", volts, "V", None, said)
