"""Hot line lead, or car battery lead, without a fuse.

Why: When a capacitor, rectifier or transformer in the set shorts, nothing opens before the fuse of
the house: a short burns for as long as the household circuit lets it. A storage battery gives a
short, or a vibrator whose contacts stick, enough to set the leads on fire.
False alarm: The fuse sits in the plug or in an adapter that stays with the set, or a lamp or fuse
on the bench is what you rely on for now. Accept it and say which.
Source: order hot lead, fuse, switch, set: diyaudio.com thread 247472; a household circuit of 15 A
(16 A from 200 V on): common practice, no source; a fuse of 1.5 to 2 times the steady current: from
memory, and valvewizard.co.uk page on fuses; a fuse in the lead of a storage battery: common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Container, Iterator

from netcheck.catalog.preferred import next_rating
from netcheck.circuit.paths import METAL
from netcheck.circuit.wiring import Kind, Wiring
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._line import Line, is_unread, line_fuses, line_of, on_line, parts_of
from netcheck.rules._words import amount, listed, named

_HIGH_LINE_V = 200.0
_SIZES_W = {True: 50.0, False: 30.0}
"""Watts of a usual five-tube set: with a power transformer, without (common practice)."""

_TOP = "line 117 V 60 Hz\n"


@rule(
    harm=Harm.SHOCK,
    bad=(
        Example(
            _TOP + "P1 plug, polarized: hot LINE, neutral B-   # <-\n"
            "S1 power: ON LINE to SW\nZ1 load 250 mA: SW to B-\n",
            says="no fuse",
        ),
        Example(
            "line 230 V 50 Hz\nP1 plug, not polarized: 1 LA, 2 LB   # <-\n"
            "T1 power, primary 230 V, high 280-0-280 V:\n"
            "   primary LA to LB, high HA to CHASSIS to HB\n"
            "V1 5Y3: plate1 HA, plate2 HB, heater RAIL to FIL\n"
            "F1 .1 A 250 V: RAIL to B1\nZ1 load 60 mA: B1 to CHASSIS\n",
            says="F1 is not in it",
        ),
        Example(
            "line none\nBT1 6 V storage: + BATTERY, - CHASSIS   # <-\n"
            "S1 power: ON BATTERY to A+\nZ1 load 5 A: A+ to CHASSIS\n",
            says="BT1 (6 V storage) has no fuse in its lead BATTERY",
        ),
    ),
    good=(
        _TOP + "P1 plug, polarized: hot LINE, neutral B-\nF1 1/2 A 250 V slow: LINE to FUSED\n"
        "S1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n",
        "line none\nBT1 B-battery 90 V: + B+, - B-\nZ1 load 10 mA: B+ to B-\n",
        "line none\nBT1 6 V storage: + BATTERY, - CHASSIS\nF1 10 A 32 V: BATTERY to ALEAD\n"
        "S1 power: ON ALEAD to A+\nZ1 load 5 A: A+ to CHASSIS\n",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield one finding when no fuse at all carries the line current, one for each battery."""
    yield from _on_line(case)
    yield from _on_battery(case)


def _on_battery(case: Case) -> Iterator[Finding | NotChecked]:
    wiring = case.circuit.wiring
    vibrators = list(case.chassis.of_kind("vibrator"))
    batteries = [part for part in case.chassis.of_kind("battery") if _is_strong(part, vibrators)]
    for battery in batteries:
        ends = {case.chassis.net(node) for node in battery.nodes}
        hot = sorted(ends - wiring.returns or ends)
        nets = {net for each in hot for net in _carrying(wiring, each, battery.ref)}
        if any(e.kind is Kind.FUSE for net in nets for e in wiring.at(net)):
            continue
        if any(wiring.incomplete(net) for net in nets):
            reason = f"parts of the lead of {battery.ref} could not be read"
            yield case.not_checked(reason, (battery.ref,))
            continue
        yield _battery_finding(case, battery, hot)
    if vibrators and not batteries and not any(case.chassis.of_kind("fuse")):
        yield case.not_checked("the battery of the vibrator is not described", [vibrators[0].ref])


def _is_strong(battery: Part, vibrators: list[Part]) -> bool:
    """Whether a battery gives amperes: a storage battery, or what a vibrator runs on."""
    if battery.description.has("storage"):
        return True
    return bool(vibrators) and not battery.description.has("dry", "B-battery", "C-battery")


def _carrying(wiring: Wiring, net: str, battery: str) -> frozenset[str]:
    """The nets that conductors alone join to a terminal of a battery, returns left out."""
    found, queue = {net}, [net]
    while queue:
        for element in wiring.at(queue.pop()):
            far = {n for n in element.nets if n not in found and n not in wiring.returns}
            if element.kind in METAL and element.ref != battery:
                found |= far
                queue += far
    return frozenset(found)


def _battery_finding(case: Case, battery: Part, hot: list[str]) -> Finding:
    terminal = next(t for t in battery.terminals if case.chassis.net(t.node) == hot[0])
    where = " or ".join(hot)
    lead = f"its lead {where}" if len(hot) == 1 else f"either of its leads ({where})"
    return case.finding(
        f"{named(battery)} has no fuse in {lead}",
        terminal.span,
        harm=Harm.DAMAGE,
        parts=(battery.ref,),
        nodes=hot,
        related=list(_first_parts(case, hot, {battery.ref})),
        action="fit a fuse of 1.5 to 2 times the current on the set's label (32 V or more) as the"
        f" first part of {where}",
    )


@on_line
def _on_line(case: Case) -> Iterator[Finding | NotChecked]:
    wiring = case.circuit.wiring
    if line_fuses(wiring):
        return
    plug = wiring.poles.plugs[0]
    if is_unread(wiring, wiring.hot):
        yield case.not_checked("parts of the hot lead could not be read", (plug.ref,))
        return
    nets = [case.chassis.net(t.node) for t in plug.terminals if not t.unused]
    hot = [net for net in nets if net in wiring.hot]
    pin = next(t for t in plug.terminals if case.chassis.net(t.node) in hot)
    line = line_of(case)
    yield case.finding(
        f"{_leads(hot, plug.ref)} no fuse{_elsewhere(case)}",
        pin.span,
        parts=(plug.ref,),
        nodes=hot,
        related=list(_first_parts(case, hot)),
        calc=_house_fuse(line),
        action=f"fit {_fuse(wiring, line)} as the first part of the hot lead, ahead of the switch",
    )


def _leads(hot: list[str], plug: str) -> str:
    if len(hot) == 1:
        return f"the hot lead {hot[0]} of {plug} has"
    return f"either lead of {plug} ({' or '.join(hot)}) can be the hot one, and both have"


def _elsewhere(case: Case) -> str:
    others = [part.ref for part in case.chassis.of_kind("fuse")]
    is_are = "is" if len(others) == 1 else "are"
    return f"; {listed(others)} {is_are} not in it" if others else ""


def _first_parts(case: Case, hot: list[str], apart: Container[str] = ()) -> Iterator[Related]:
    for net in hot:
        for part in parts_of(case, case.circuit.wiring.at(net)):
            if part.ref not in apart:
                yield Related(part.ref_span or part.span, f"{net} goes unfused to this part")


def _house_fuse(line: Line | None) -> tuple[Calculation, ...]:
    if line is None:
        return ()
    ampere = 16.0 if line.volts >= _HIGH_LINE_V else 15.0
    watt = ampere * line.volts
    said = f"{amount(ampere, 'A')} x {amount(line.volts, 'V')} = {watt:g} W"
    return (Calculation("what a household circuit can feed a short", watt, "W", None, said),)


def _fuse(wiring: Wiring, line: Line | None) -> str:
    """The fuse to fit, sized from the watts of a usual set: only the set's own label can tell."""
    if line is None:
        return "a 250 V slow fuse of 1.5 to 2 times the current on the set's label"
    watt = _SIZES_W[bool(wiring.supply.power_refs)]
    low, high = (factor * watt / line.volts for factor in (1.5, 2.0))
    sizes = "fuse-iec" if line.volts >= _HIGH_LINE_V else "fuse-ul"
    size = next_rating(low, sizes) or float(f"{high:.2g}")
    kind = "" if line.hertz else " rated for DC"
    return (
        f"a 250 V slow fuse{kind} of 1.5 to 2 times the current on the set's label (at "
        f"{amount(watt, 'W')}: {watt:g} / {line.volts:g} x 1.5 to 2 = {low:.2g} to {high:.2g} A, "
        f"so {size:g} A)"
    )
