"""Reservoir carries more ripple current than it is rated for.

Why: A reservoir takes the rectifier's pulses and gives the load what lies between them: through it
flows more than the whole load current, as alternating current, and warms it. Small modern
electrolytics are rated for far less than the old cans of the same microfarads, and dry out.
False alarm: A part whose sheet allows more: write its rating, `47 mfd 160 V 600 mA electrolytic`.
Where none is written a typical figure is used, and the finding is of performance at most.
Source: the cycle of the rectifier, solved at the highest line; a typical rating of general-purpose
electrolytics, 2.5 mA x square root of (microfarads x volts) at 120 Hz: from memory, fitted to
makers' lists (47 mfd 160 V some 220 mA, 22 mfd 450 V some 250 mA); three quarters of it at 60 Hz:
from memory (frequency factor 0.7 to 0.8).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Condition, Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._operating import line_high, solved
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.operating import SupplyPoint

_TYPICAL_A = 2.5e-3  # ampere per root of (microfarad x volt), see Source
_SLOW_HZ, _SLOW = 100.0, 0.75
# A typical figure is good for half as much again either way.
_UNSURE = 1.5

_SET = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
CR1 silicon 1000 V 1 A: anode SURGE, cathode B1
R1 47 ohm 5 W: FUSED to SURGE
Z1 load 100 mA: B1 to B-
"""


@rule(
    harm=Harm.DAMAGE,
    options={
        "typical": Option(
            "yes", ("yes", "no"), "whether parts without a stated rating are held to a typical one"
        )
    },
    bad=(
        Example(
            _SET + "C1 47 mfd 200 V 180 mA electrolytic, new: + B1, - B-   # <-\n",
            "its rating 180 mA",
        ),
        Example(
            _SET + "C1 22 mfd 200 V electrolytic, new: + B1, - B-   # <-\n",
            "a typical rating",
        ),
    ),
    good=(
        _SET + "C1 47 mfd 200 V 400 mA electrolytic, new: + B1, - B-\n",
        _SET.replace("100 mA", "50 mA").replace("1/2 A", "1/4 A")
        + "C1 47 mfd 200 V electrolytic, new: + B1, - B-\n",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each reservoir capacitor over its ripple current."""
    if not case.circuit.wiring.rectifiers or not any(_judged(case)):
        return
    point = solved(case, line_high(case))
    for supply in point.supplies:
        parts = _parts(case, supply.source.reservoir.refs)
        cycle = supply.cycle
        if not parts:
            continue
        if not (cycle.settled.all() and cycle.deliverable.all()):
            yield case.not_checked("the cycle of its rectifier did not settle",
                                   [p.ref for p in parts])  # fmt: skip
            continue
        yield from _shares(case, supply, parts)


def _judged(case: Case) -> Iterator[Part]:
    """Capacitors that are to stay and can be judged: new ones, and all with a stated rating."""
    for part in case.chassis.of_kind("capacitor"):
        stays = part.condition in (Condition.NEW, Condition.RESTUFFED)
        if stays or part.description.number("current"):
            yield part


def _parts(case: Case, refs: Sequence[str]) -> list[Part]:
    return [p for ref in refs if (p := case.chassis.part(ref)) is not None]


def _shares(
    case: Case, supply: SupplyPoint, parts: Sequence[Part]
) -> Iterator[Finding | NotChecked]:
    """Each capacitor carries its share of the ripple by its farads."""
    whole = sum(part.value("capacitance") or 0.0 for part in parts)
    rms_a = float(supply.cycle.reservoir_rms_a.ravel()[0])
    hertz = float(supply.cycle.ripple_hz.ravel()[0])
    judged = {part.ref for part in _judged(case)}
    middle = bool(supply.source.middle)
    for part in parts:
        farad = part.value("capacitance")
        if part.ref not in judged or not farad or not whole:
            continue
        # The two capacitors of a full-wave doubler are in series: each carries it all.
        amperes = rms_a if middle else rms_a * farad / whole
        limit = _limit(case, part, farad, hertz)
        if isinstance(limit, str):
            yield case.not_checked(limit, (part.ref,))
        elif limit is not None and amperes > limit[0] * limit[2]:
            yield _finding(case, part, supply, amperes, limit, hertz)


def _limit(
    case: Case, part: Part, farad: float, hertz: float
) -> tuple[float, str, float] | str | None:
    """Amperes rms, where they come from, how far over counts; or why none is known."""
    stated = part.description.number("current")
    if stated:
        return stated, "its rating", 1.0
    if case.option("typical") == "no":
        return None
    rated = part.value("voltage")
    if not rated:
        return "neither its ripple current nor its volts are stated"
    typical = _TYPICAL_A * math.sqrt(farad * 1e6 * rated)
    slow = hertz < _SLOW_HZ
    return typical * (_SLOW if slow else 1.0), "a typical rating", _UNSURE


def _finding(
    case: Case, part: Part, supply: SupplyPoint, amperes: float,
    limit: tuple[float, str, float], hertz: float,
) -> Finding:  # fmt: skip
    most, source, _ = limit
    stated = source == "its rating"
    rectifiers = _parts(case, supply.source.refs)
    load = amount(supply.amperes, "A")
    return case.finding(
        f"{named(part)} carries {amount(amperes, 'A')} rms of ripple, over {source} "
        f"{amount(most, 'A')}",
        part.span_of("current" if stated else "capacitance"),
        harm=Harm.DAMAGE if stated else Harm.PERFORMANCE,
        parts=(part.ref,),
        nodes=(supply.source.plus, supply.source.minus),
        related=[Related(r.ref_span or r.span, f"{named(r)} charges it") for r in rectifiers],
        state=line_high(case).name,
        calc=[
            Calculation(
                f"ripple current of {part.ref}", amperes * 1e3, "mA", most * 1e3,
                f"rms over one cycle at {amount(hertz, 'Hz')}, {load} of load; limit: {source}",
            )
        ],
        action=f"fit a {part.ref} rated for {amount(amperes, 'A')} rms or more at "
        f"{amount(hertz, 'Hz')}, or put a resistor before {listed(r.ref for r in rectifiers)}",
    )  # fmt: skip
