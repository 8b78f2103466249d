"""An electrolytic is connected the wrong way round.

Why: A reversed electrolytic loses its oxide, draws current, boils and bursts. The usual traps are
bias filters and reservoirs in sets filtered in the negative lead: there the chassis is the positive
end, and a capacitor's plus belongs on it.
False alarm: Less than half a volt the wrong way does no harm and is not reported. A bipolar part is
written `not polarized`, and without + and -.
Source: reverse volts an aluminium electrolytic stands, below 1 V (IEC 60384-4 family, from memory);
reversed bias filters: restorers' forum reports, common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Element
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._operating import (
    NOMINAL,
    line_high,
    no_load,
    plug_out,
    speaker_plugs,
    tried,
)
from netcheck.rules._words import amount, named

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

# Volts the wrong way that do no harm (see Source).
_REVERSE_V = 0.5

_SUPPLY = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 1/2 A 250 V slow: LINE to FUSED
T1 power, high 285-0-285 V 180 ohm each, rectifier 5 V 2 A: primary FUSED to COLD,
   high HA to CT to HB, rectifier B+ to FIL
V5 80: plate1 HA, plate2 HB, filament B+ to FIL
R25 250 ohm 5 W: CHASSIS to CT
R1 10K 25 W 10%: B+ to CHASSIS
C16 10 mfd 500 V electrolytic, new: + B+, - CT
"""
_HELD = "line none\nhold B+ 100 V\nR1 10K 2 W: B+ to B-\n"


@rule(
    harm=Harm.BURST,
    bad=(
        Example(
            _SUPPLY + "C25 10 mfd 50 V electrolytic, new: + CT, - CHASSIS  # <-\n",
            "C25 (10 mfd 50 V electrolytic, new) has its + on CT",
        ),
        Example(_HELD + "C1 10 mfd 160 V electrolytic, new: + B-, - B+  # <-\n", "100 V below"),
    ),
    good=(
        _SUPPLY + "C25 10 mfd 50 V electrolytic, new: + CHASSIS, - CT\n",
        _HELD + "C1 10 mfd 160 V electrolytic, new: + B+, - B-\n",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each polarized capacitor whose plus is below its minus in some state."""
    polarized = list(_polarized(case))
    if not polarized:
        return
    high = line_high(case)
    states = [NOMINAL, no_load(case), *(plug_out(ref, high) for ref in speaker_plugs(case))]
    points = tried(case, states)
    solved = [point for point in points if not isinstance(point, NotSolved)]
    for reason in dict.fromkeys(p.reason for p in points if isinstance(p, NotSolved)):
        yield case.not_checked(reason)
    for part, element in polarized:
        if isinstance(points[0], NotSolved):
            yield from _plainly(case, part, element)
        yield from _solved(case, part, element, solved)


def _polarized(case: Case) -> Iterator[tuple[Part, Element]]:
    for part in case.chassis.of_kind("capacitor"):
        elements = case.circuit.wiring.of(part.ref)
        if part.terminal("+") is not None and part.terminal("-") is not None and elements:
            yield part, elements[0]


def _solved(case: Case, part: Part, element: Element, points: list[Point]) -> Iterator[Finding]:
    worst_v, worst = 0.0, None
    for point in points:
        volts = point.between(element.a, element.b)
        if volts is None or {element.a, element.b} & point.model.floating:
            continue
        if volts < worst_v:
            worst_v, worst = volts, point
    if worst is not None and worst_v < -_REVERSE_V:
        yield _finding(
            case, part, element, f"{amount(-worst_v, 'V')} below", worst.state.name,
            [Calculation(f"{part.ref}, + against -", worst_v, "V", -_REVERSE_V,
                         f"solved, {worst.state.name}")],
        )  # fmt: skip


def _plainly(case: Case, part: Part, element: Element) -> Iterator[Finding]:
    """What is plain without a solution: minus on a fed rail, plus on what it returns to."""
    wiring = case.circuit.wiring
    if element.b in wiring.b_plus and element.a in wiring.returns:
        yield _finding(case, part, element, "the return of", "as wired", [])


def _finding(
    case: Case, part: Part, element: Element, how: str, state: str, calc: list[Calculation]
) -> Finding:
    return case.finding(
        f"{named(part)} has its + on {element.a}, {how} its - on {element.b}",
        part.span_of("+"),
        parts=(part.ref,),
        nodes=element.nets,
        state=state,
        calc=calc,
        action=f"turn {part.ref} round: its + belongs on {element.b}; one that was under power "
        "this way is spent, fit a new one",
    )
