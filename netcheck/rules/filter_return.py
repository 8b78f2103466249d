"""A filter capacitor's minus is not where its supply returns.

Why: Where the negative lead makes the bias, or B- floats, the reservoir's minus belongs on the
supply's own return and not on the chassis. On the chassis the rectifier's pulses run through the
bias resistor or field, put ripple on the bias and hum on the sound; a common that is joined to
nothing filters nothing, and puts one capacitor in reverse.
False alarm: A maker who filtered the reservoir to the chassis through a low resistor, on purpose:
accept it. A second filter capacitor may stand on the chassis and is not told.
Source: negatives of sets filtered in the negative lead: radioremembered.org fbpwrsup and
nostalgiaair.org (The Flash); commons joined together but not to B-: philcoradio.com forum post
35063; volts: both ways solved.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import chain

from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part, Terminal
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._before import as_it_was, case_of
from netcheck.rules._operating import NOMINAL, tried
from netcheck.rules._reach import doubt
from netcheck.rules._words import amount, listed, named

_RESISTING = (Kind.RESISTOR, Kind.WINDING)
_WIRE_OHM = 1.0

_BIASED = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 1/2 A 250 V slow: LINE to FUSED
T1 power, primary 6 ohm, high 240-0-240 V 80 mA 180 ohm each, heater 6.3 V 2 A,
   rectifier 5 V 2 A: primary FUSED to COLD, high HA to CT to HB, heater H to CHASSIS,
   rectifier B+ to FIL
V5 80: plate1 HA, plate2 HB, filament B+ to FIL
R25 390 ohm 5 W: CT to CHASSIS
V4 6F6: plate T2.plate, screen B+, grid DRIVE, cathode CHASSIS, shell CHASSIS,
   heater H to CHASSIS
T2 output, 7000 ohm to 4 ohm, primary 400 ohm: primary B+ to T2.plate, secondary VC to VCR
LS1 4 ohm: VC to VCR
R16 100K 1/2 W, new: DRIVE to CT
"""
_LIVE = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to FUSED
CR1 silicon 1000 V 1 A: anode SURGE, cathode B1
R1 47 ohm 5 W: FUSED to SURGE
R2 1K 2 W: B1 to B2
Z1 load 40 mA: B2 to B-
"""


@rule(
    harm=Harm.BURST,
    bad=(
        Example(
            _BIASED + "C16 8 mfd 525 V electrolytic, new: + B+, - CHASSIS   # <-\n",
            "R25 carries the rectifier's pulses",
        ),
        Example(
            _LIVE + "C31 47 mfd 250 V electrolytic, new: + B1, - COMMON31   # <-\n"
            "C32 33 mfd 250 V electrolytic, new: + B2, - COMMON31\n",
            "joined to nothing else",
        ),
    ),
    good=(
        _BIASED + "C16 8 mfd 525 V electrolytic, new: + B+, - CT\n",
        _LIVE + "C31 47 mfd 250 V electrolytic, new: + B1, - B-\n"
        "C32 33 mfd 250 V electrolytic, new: + B2, - B-\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each group of filter capacitors whose minus is on the wrong net."""
    wiring = case.circuit.wiring
    groups: dict[str, list[tuple[Part, Element]]] = {}
    for part, element in _filters(case):
        groups.setdefault(element.b, []).append((part, element))
    for net, filters in groups.items():
        others = [e for e in wiring.at(net) if e.kind is not Kind.CAPACITOR]
        if not others:
            yield _floating(case, net, filters)
        elif net in wiring.returns and wiring.common not in (None, net):
            yield from _misplaced(case, net, filters)


def _filters(case: Case) -> Iterator[tuple[Part, Element]]:
    """Large capacitors with their plus on B+ and a minus that is not."""
    wiring = case.circuit.wiring
    for part in case.chassis.of_kind("capacitor"):
        for element in wiring.of(part.ref)[:1]:
            fed = element.terminals[0] == "+" and element.a in wiring.b_plus
            if fed and wiring.supply.is_large(element) and element.b not in wiring.b_plus:
                yield part, element


def _floating(case: Case, net: str, filters: list[tuple[Part, Element]]) -> Finding | NotChecked:
    """A common that only capacitors are on."""
    wiring = case.circuit.wiring
    parts = [part for part, _ in filters]
    refs = [part.ref for part in parts]
    reason = doubt(case, {net})
    if reason is not None:
        return case.not_checked(f"where {net} of {listed(refs)} goes: {reason}", refs)
    back = wiring.common or "B-"
    first = parts[0]
    rails = list(dict.fromkeys(element.a for _, element in filters))
    point, *_ = tried(case, [NOMINAL])
    calc = []
    if not isinstance(point, NotSolved):
        for rail in rails:
            volts = point.between(rail, back)
            if volts is not None:
                calc.append(
                    Calculation(f"{rail} against {back}", volts, "V", None, "solved, unfiltered")
                )
    return case.finding(
        f"the minus of {listed(refs)}, {net}, is joined to nothing else; the supply returns to "
        f"{back}",
        first.span_of("-"),
        harm=Harm.BURST if len(rails) > 1 else Harm.PERFORMANCE,
        parts=refs,
        nodes=(net, back),
        related=[Related(p.span_of("-"), f"{named(p)} shares it") for p in parts[1:]],
        calc=calc,
        action=f"join {net} to {back}, and measure 0 ohm between them before power",
    )


def _misplaced(
    case: Case, net: str, filters: list[tuple[Part, Element]]
) -> Iterator[Finding | NotChecked]:
    """A reservoir whose minus is behind the bias resistor, or off the supply's return."""
    wiring = case.circuit.wiring
    common = wiring.common
    rectified = _rectified(case)
    joined = [part for part, element in filters if element.a in rectified]
    if common is None or (common in wiring.line_side and net in wiring.touchable):
        return  # past a floating B- to the chassis: `line-capacitor-class` tells it
    if not joined:
        yield from _behind_unknown(case, filters, rectified)
        return
    stored = [
        e for e in chain.from_iterable(wiring.of(p.ref) for p, _ in _filters(case))
        if e.a in rectified and e.b == common
    ]  # fmt: skip
    large_across = any(
        e.kind is Kind.CAPACITOR and wiring.supply.is_large(e) and set(e.nets) == {net, common}
        for e in wiring.at(net)
    )
    way = wiring.dc_path(net, {common})
    wire = way is not None and _least_ohm(way) < _WIRE_OHM
    if (stored and wiring.supply.back_bias) or large_across or wire:
        return
    if wiring.incomplete(net) or wiring.incomplete(common):
        reason = f"a part at {net} or {common} is not known"
        yield case.not_checked(f"where {joined[0].ref} returns: {reason}", [joined[0].ref])
        return
    yield _wrong(case, net, common, joined, way or ())


def _behind_unknown(
    case: Case, filters: list[tuple[Part, Element]], rectified: frozenset[str]
) -> Iterator[NotChecked]:
    """Filters parted from the rectifier by a resistor that may be a surge resistor."""
    behind: dict[str, list[str]] = {}
    for part, element in filters:
        for e in case.circuit.wiring.at(element.a):
            if e.kind is Kind.RESISTOR and e.ohm is None and e.other(element.a) in rectified:
                behind.setdefault(e.ref, []).append(part.ref)
    for ref, refs in behind.items():
        reason = f"where the minus of {listed(refs)} returns: the ohms of {ref} are not known"
        yield case.not_checked(reason, refs)


def _least_ohm(way: tuple[Element, ...]) -> float:
    """The ohms of a way; a resistor or winding that states none is no wire."""
    return sum(e.ohm or (_WIRE_OHM if e.kind in _RESISTING else 0.0) for e in way)


def _rectified(case: Case) -> frozenset[str]:
    """Where rectifiers deliver, and what surge resistors and contacts alone part from there."""
    wiring = case.circuit.wiring
    found = set(wiring.supply.rectified)
    for net in tuple(found):
        for e in wiring.at(net):
            small = e.kind is Kind.RESISTOR and e.ohm is not None and e.ohm <= 500.0
            if e.kind in (Kind.CONTACT, Kind.FUSE, Kind.STRAP) or small:
                found.add(e.other(net))
    return frozenset(found)


def _wrong(
    case: Case, net: str, common: str, parts: list[Part], way: tuple[Element, ...]
) -> Finding:
    first = parts[0]
    carriers = [e.ref for e in way if e.kind in _RESISTING]
    carry = "carries" if len(carriers) == 1 else "carry"
    says = f"; {listed(carriers)} {carry} the rectifier's pulses" if carriers else ""
    moved = {part.ref: _moved(part, common) for part in parts}
    meant = case_of(case, as_it_was(case.chassis, moved))
    (now,), (then,) = tried(case, [NOMINAL]), tried(meant, [NOMINAL])
    calc = []
    if not isinstance(now, NotSolved) and not isinstance(then, NotSolved):
        pairs = (("B+", _first_rail(case, parts), common), ("bias", common, net))
        for name, high, low in pairs:
            value, other = now.between(high, low), then.between(high, low)
            if value is not None and other is not None:
                said = f"solved; {amount(other, 'V')} with the minus on {common}"
                calc.append(Calculation(f"{name}, {high} to {low}", value, "V", other, said))
        calc += [
            Calculation(
                f"ripple at {s.source.plus}, peak to peak", float(s.cycle.ripple_v.ravel()[0]),
                "V", None, "solved, " + ("this cycle runs through the bias" if carriers else
                                         "of the supply"),
            )
            for s in now.supplies if s.source.plus in _rectified(case)
        ]  # fmt: skip
    return case.finding(
        f"{named(first)} has its minus on {net}, and its supply returns to {common}{says}",
        first.span_of("-"),
        harm=Harm.PERFORMANCE,
        parts=[part.ref for part in parts],
        nodes=(net, common),
        related=[Related(p.span_of("-"), f"{named(p)} likewise") for p in parts[1:]],
        state=NOMINAL.name,
        calc=calc,
        action=f"move the minus of {listed(p.ref for p in parts)} to {common}",
    )


def _first_rail(case: Case, parts: list[Part]) -> str:
    return case.circuit.wiring.of(parts[0].ref)[0].a


def _moved(part: Part, common: str) -> Part:
    terminals = tuple(
        Terminal("-", common, t.span, t.pin) if t.name == "-" else t for t in part.terminals
    )
    return replace(part, terminals=terminals)
