"""Line capacitor without the safety class its place takes.

Why: A part without a class may fail as a short: from the line to metal it then puts the whole line
under a hand, across the line it burns. A class mark says how the part fails, not how much it passes
while it is whole: that current flows all the same.
False alarm: A modern part whose class you have not written down (read it on the body: X1, X2, Y1,
Y2 and the AC volts). Some hold the mark for cosmetic: with `policy line-capacitor-class class
rated` a new film part rated for the line's AC volts stays, is put on record, and touch-current
judges the current it passes. Paper, and parts with the wrong class, are told as before.
Source: IEC 60384-14 as read in: electrical.codidact.com post 291478 (X across, Y to metal); X and Y
Capacitors note (Y2 may replace X2, not the reverse); emc-pstc list msg21132 (one Y1 or two Y2 where
metal is not earthed); that the mark is cosmetic: antiqueradios.com topic 360554; AC volts of film:
Vishay MMKP 386 data sheet; across a switch as across the line: common practice, no source. A limit
of 0.5 mA: UL 1711:2006 clause 39; the current is 2 x pi x f x C x V.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Role
from netcheck.findings import Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._barrier import (
    CLASS_OPTION,
    Barrier,
    barriers,
    capacitance_f,
    class_fault,
    class_span,
    current_calculations,
    kept_unmarked,
)
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._line import line_fuses, line_of, metal_with, on_line
from netcheck.rules._unclassed import NO_LINE, line_finding, touch_finding
from netcheck.rules._words import listed, named

_PLACES = {Role.ACROSS_LINE: "the line", Role.ACROSS_SWITCH: "the switch"}

_TOP = (
    "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\n"
    "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n"
)


@rule(
    harm=Harm.SHOCK_NOW,
    bad=(
        Example(
            _TOP + "C21 .05 mfd 400 V: B- to CHASSIS   # <-\n",
            says="C21 (.05 mfd 400 V) joins B- to CHASSIS without a safety class",
        ),
        Example(
            _TOP + "C20 .05 mfd 630 V film: SW to B-   # <-\n",
            says="lies across the line without a safety class",
        ),
        Example(
            _TOP + "C21 .0047 mfd 275 VAC class X2: SW to CHASSIS   # <-\n",
            says="with class X2 alone",
        ),
        Example(
            _TOP + "V5 35W4: plate SW, cathode B1, heater SW to B-\n"
            "C1 40 mfd 150 V electrolytic: + B1, - B-\n"
            "C23 20 mfd 150 V electrolytic: + B1, - CHASSIS   # <-\n",
            says="goes from B1 to CHASSIS, past the floating B-: its minus belongs on B-",
        ),
        Example(
            _TOP + "policy line-capacitor-class class strict\n"
            "C21 .0047 mfd 250 VAC class Y2: B- to CHASSIS   # <-\n",
            says="one class Y1, or two equal class Y2 in series",
        ),
        Example(
            _TOP + "policy line-capacitor-class class rated\n"
            "C20 .047 mfd 630 V film, new: SW to B-   # <-\n",
            says="C20 (.047 mfd 630 V film, new) has no safety class",
        ),
    ),
    good=(
        _TOP + "C20 .047 mfd 275 VAC class X2: SW to B-\n"
        "C21 .0047 mfd 250 VAC class Y2, replaces .05 mfd 400 V paper: B- to CHASSIS\n",
        "line none\nP1 plug, polarized: hot LINE, neutral B-\nC21 .05 mfd 400 V: B- to CHASSIS\n",
    ),
    options={"class": CLASS_OPTION},
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each capacitor on the line whose class will not do there."""
    found = [*_to_metal(case), *_across(case)]
    yield from found
    yield from _kept(case)
    if found and line_of(case) is None:
        yield case.not_checked(NO_LINE, [each.parts[0] for each in found])


def _kept(case: Case) -> Iterator[Finding]:
    """One record of all parts that the policy lets stay without a class, at jacks and in pairs."""
    bridging = {
        part.ref
        for barrier in barriers(case)
        if barrier.duty != "antenna"
        for part in barrier.capacitors
    }
    parts = [
        part
        for part in case.chassis.of_kind("capacitor")
        if (part.ref in bridging or case.circuit.wiring.role_of(part.ref) in _PLACES)
        and kept_unmarked(case, part)
    ]
    if not parts:
        return
    first, *others = parts
    also = f"; {listed(part.ref for part in others)} neither" if others else ""
    yield case.finding(
        f"{named(first)} has no safety class (kept so, by policy){also}",
        class_span(first),
        harm=Harm.RECORD,
        parts=[part.ref for part in parts],
        nodes=[node for part in parts for node in part.nodes],
        related=[Related(class_span(part), named(part)) for part in others],
        action="write into the set that no mark tells how it fails, and look at it when the set is"
        " open",
    )


def _to_metal(case: Case) -> Iterator[Finding]:
    seen: set[str] = set()
    for barrier in barriers(case):
        part = barrier.capacitors[0]
        # Jacks and pairs in series have rules of their own: one fault, one finding.
        if barrier.at_jack or len(barrier.capacitors) > 1 or part.ref in seen:
            continue
        fault = class_fault(case, part, barrier.duty)
        if fault:
            seen.add(part.ref)
            place = f"joins {barrier.line} to {barrier.metal} {fault}"
            common = _own_return(case, barrier)
            if common:
                place = f"goes from {barrier.line} to {barrier.metal}, past the floating {common}"
            yield touch_finding(
                case, part, barrier.duty, place, barrier.line, barrier.metal, (),
                belongs_on=common, series_ohm=barrier.series_ohm,
            )  # fmt: skip


def _own_return(case: Case, barrier: Barrier) -> str:
    """The net that a filter capacitor of B+ should return to and does not; "" of others.

    To give it a class would take the smoothing away: it only has to leave the metal alone.
    """
    wiring = case.circuit.wiring
    (element, *more) = barrier.chain
    common = wiring.common or ""
    rail = barrier.line in wiring.b_plus and wiring.supply.is_large(element)
    return "" if more or not rail or common in metal_with(wiring, barrier.metal) else common


def _across(case: Case) -> Iterator[Finding]:
    wiring = case.circuit.wiring
    for part in case.chassis.of_kind("capacitor"):
        place = _PLACES.get(wiring.role_of(part.ref))
        fault = class_fault(case, part, "across-line") if place else ""
        if not fault:
            continue
        element = wiring.of(part.ref)[0]
        yield line_finding(
            case, part, "across-line",
            f"lies across {place} {fault}",
            f"When {part.ref} shorts, {_short_across(case, part)}.",
            nodes=element.nets,
            calc=current_calculations(case, capacitance_f(part), f"through {part.ref}", None),
        )  # fmt: skip


def _short_across(case: Case, part: Part) -> str:
    wiring = case.circuit.wiring
    if wiring.role_of(part.ref) is Role.ACROSS_SWITCH:
        return "the set stays on whatever the switch says"
    clearing = [
        fuse.ref
        for fuse in line_fuses(wiring)
        if part.ref not in {e.ref for e in wiring.fuses[fuse.ref].unprotected}
    ]
    if clearing:
        return f"{listed(clearing)} has to clear it; a part that fails slowly burns before that"
    return "no fuse of the set clears it: it burns"
