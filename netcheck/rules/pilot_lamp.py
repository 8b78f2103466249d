"""Dial lamp off its rating, or missing from its tap.

Why: A rectifier heater with a tap for the dial lamp passes the set's whole current through a short
section that the lamp shunts. Without the lamp, or with a light-emitting diode or a lamp of fewer
amperes in its place, pulses and heater current add up there: the section burns out and takes the
string with it. A plain lamp in the string flares up at switch-on, while the heaters are cold.
False alarm: A lamp rated for more than its number says: write its volts and amperes.
Source: lamp out, the tap burns out: nutsvolts.com question on the 35W4; 7.5 V across the section,
lamp and heater sharing the current: period article on the 35Z5GT (r-type.org); 15 V at most while
the lamp is out: from memory (RCA 35W4); a tenth more volts cost a lamp two thirds of its life
(life as V^-12: "Lamp rerating", quoting the Standard Handbook for Electrical Engineers, 11th ed.);
the cold string: cool386.com page on series heaters.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._heaters import COLD, HIGH, PLAIN, is_tapped, lamp_out, line_points
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.line_side import LinePoint

_LAMP_OUT_V = 15.0
_SLACK = 1.1
_FLARES, _BURNS = 1.5, 1.5
_LIT_V = 6.0
_LAMP_47_A = 0.15  # catalogue of lamps

_TAPPED = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
V5 35W4: plate PILOT, cathode B1, heater FUSED to PILOT to H4{mark}
{lamp}
V4 50C5: heater H4 to H3
R9 250 ohm 10 W: H3 to B-
C1 40 mfd 250 V electrolytic, new: + B1, - B-
Z1 load {load}: B1 to B-
"""
_WOUND = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral N
F1 80 mA 250 V slow: LINE to FUSED
T1 power, primary 117 V 6 ohm, heater 6.3 V 1 A: primary FUSED to N, heater H to CHASSIS
V1 6SK7: heater H to CHASSIS
DS1 lamp {lamp}: H to CHASSIS{mark}
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _TAPPED.format(
                mark="", lamp="DS1 led 6.3 V 20 mA: FUSED to PILOT   # <-", load="60 mA"
            ),
            "in place of its lamp",
        ),
        Example(
            _TAPPED.format(mark="   # <-", lamp="", load="60 mA"),
            "without its lamp",
        ),
        Example(_WOUND.format(lamp="49", mark="   # <-"), "of its 2 V"),
    ),
    good=(
        _TAPPED.format(mark="", lamp="DS1 lamp 47: FUSED to PILOT", load="20 mA"),
        _WOUND.format(lamp="46", mark=""),
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each tap that carries too much and each lamp off its rating."""
    points = line_points(case)
    plain = points[PLAIN]
    if isinstance(plain, NotSolved):
        lamps = [p.ref for p in case.chassis.of_kind("lamp")]
        tubes = [p.ref for p in case.chassis.of_kind("tube") if is_tapped(p)]
        if (lamps or tubes) and case.circuit.wiring.poles.plugs:
            yield case.not_checked(plain.reason, [*lamps, *tubes])
        return
    told: set[str] = set()
    for tube in case.chassis.of_kind("tube"):
        for found in _tap(case, tube, plain):
            told.update(found.parts)
            yield found
    for lamp in case.chassis.of_kind("lamp"):
        if lamp.ref not in told:
            yield from _lamp(case, lamp, plain)


# --- the tap


@dataclass(frozen=True, slots=True)
class _Section:
    """The lamp section of a tapped heater: its element and the lamps across it."""

    tube: Part
    element: Element
    lamps: tuple[Part, ...]
    rated_v: float
    rated_a: float | None


def _section(case: Case, tube: Part) -> _Section | None:
    tapped = tube.tube
    if tapped is None or not is_tapped(tube):
        return None
    for e in case.circuit.wiring.of(tube.ref):
        if e.kind is Kind.HEATER and set(e.terminals) == {"heater1", "tap"}:
            here = (
                x for x in case.circuit.wiring.at(e.a)
                if x.kind is Kind.LAMP and set(x.nets) == set(e.nets)
            )  # fmt: skip
            lamps = tuple(p for x in here if (p := case.chassis.part(x.ref)) is not None)
            return _Section(tube, e, lamps, tapped.tap_v or 0.0, tapped.heater_a)
    return None


def _tap(case: Case, tube: Part, plain: LinePoint) -> Iterator[Finding | NotChecked]:
    section = _section(case, tube)
    if section is None or section.element not in plain.branches:
        return
    volts, amperes = plain.across(section.element), plain.amperes(section.element)
    if volts is None or amperes is None:
        why = plain.why_unknown(section.element.nets) or "not solved"
        yield case.not_checked(f"the tap of {tube.ref}: {why}", (tube.ref,))
    elif volts > section.rated_v * _SLACK:
        yield _overrun(case, section, plain, volts, amperes)
    elif section.lamps:
        yield from _if_out(case, section)


def _overrun(
    case: Case, section: _Section, plain: LinePoint, volts: float, amperes: float
) -> Finding:
    tube = section.tube
    lamp = section.lamps[0] if section.lamps else None
    ends = {case.chassis.net(node) for node in (section.element.a, section.element.b)}
    removed = [
        p for p in case.chassis.parts
        if p.kind == "lamp" and not p.fitted and {case.chassis.net(n) for n in p.nodes} == ends
    ]  # fmt: skip
    here = f"with {named(lamp)} in place of its lamp" if lamp is not None else "without its lamp"
    at = lamp if lamp is not None else tube
    return case.finding(
        f"the tap section of {named(tube)} {here} carries {amount(amperes, 'A')} and gets "
        f"{amount(volts, 'V')} of its {amount(section.rated_v, 'V')}",
        at.ref_span or at.span,
        parts=[tube.ref, *(each.ref for each in section.lamps)],
        related=[Related(p.ref_span or p.span, f"{named(p)} is not there") for p in removed],
        calc=_section_sums(section, volts, amperes),
        action=f"fit a lamp 47 from {section.element.a} to {section.element.b}"
        f"{_shunt(section, plain)}",
    )


def _section_sums(section: _Section, volts: float, amperes: float) -> list[Calculation]:
    rated_a = section.rated_a
    return [
        Calculation(f"tap section of {section.tube.ref}", volts, "V", section.rated_v,
                    "rms of heater sine and rectifier pulses over the computed cycle"),
        Calculation(f"current of the tap section of {section.tube.ref}", amperes * 1e3, "mA",
                    None if rated_a is None else rated_a * 1e3, "rms over the computed cycle"),
    ]  # fmt: skip


def _shunt(section: _Section, plain: LinePoint) -> str:
    """The resistor that does what the lamp does: it brings the section to the lamp's volts."""
    beside = [e for e in plain.branches if set(e.nets) == set(section.element.nets)]
    whole = plain.together(beside) or 0.0
    if not section.rated_a:
        return ""
    own_a = section.rated_a * (_LIT_V / section.rated_v) ** 0.58
    if whole <= own_a:
        return ""
    ohm = float(f"{_LIT_V / (whole - own_a):.2g}")
    return f", or {amount(ohm, 'ohm')} {amount(2 * _LIT_V**2 / ohm, 'W')} across the section"


def _if_out(case: Case, section: _Section) -> Iterator[Finding]:
    """What the tap bears once its lamp burns out, as a record for whoever keeps the set."""
    lamp = section.lamps[0]
    out = line_points(case)[lamp_out(lamp.ref)]
    if isinstance(out, NotSolved):
        return
    volts, amperes = out.across(section.element), out.amperes(section.element)
    if volts is None or amperes is None or volts <= _LAMP_OUT_V:
        return
    yield case.finding(
        f"once {named(lamp)} burns out, the tap section of {named(section.tube)} gets "
        f"{amount(volts, 'V')} (at most {amount(_LAMP_OUT_V, 'V')}) at {amount(amperes, 'A')}",
        lamp.ref_span or lamp.span,
        harm=Harm.RECORD,
        parts=(lamp.ref, section.tube.ref),
        state=lamp_out(lamp.ref),
        calc=_section_sums(section, volts, amperes),
        action=f"replace a dead {lamp.ref} before the set is played again; write so on the label",
    )


# --- the lamp itself


def _lamp(case: Case, lamp: Part, point: LinePoint) -> Iterator[Finding | NotChecked]:
    from netcheck.circuit.heater_law import rated_lamp

    rated, points = rated_lamp(lamp), line_points(case)
    if lamp.description.has("neon"):
        return
    if rated is None:
        yield case.not_checked(
            f"the volts and amperes of {named(lamp)} are not known: write them", (lamp.ref,)
        )
        return
    plain = _volts_at(case, point, lamp)
    if plain is None:
        why = _why(case, point, lamp)
        if why:
            yield case.not_checked(f"{lamp.ref}: {why}", (lamp.ref,))
        return
    cold = _volts_at(case, points[COLD], lamp)
    high = _volts_at(case, points[HIGH], lamp)
    said = f"{plain / rated[0]:.0%} of its volts, rms over the cycle, nominal line"
    sums = [Calculation(f"lamp {lamp.ref}", plain, "V", rated[0], said)]
    if high is not None:
        sums.append(Calculation(f"lamp {lamp.ref}, line high", high, "V", rated[0], "solved"))
    if plain > rated[0] * _SLACK:
        yield _bright(case, lamp, plain, rated, sums)
    elif cold is not None and cold > rated[0] * _FLARES:
        yield _flares(case, lamp, cold, rated[0], sums)


def _bright(
    case: Case, lamp: Part, volts: float, rated: tuple[float, float], sums: list[Calculation]
) -> Finding:
    rated_v, rated_a = rated
    burns = volts > rated_v * _BURNS
    # Across a tap the volts come from the current: one that takes as much as it should has its own.
    weak = rated_a < _LAMP_47_A and any(
        lamp in section.lamps
        for tube in case.chassis.of_kind("tube")
        if (section := _section(case, tube)) is not None
    )
    return case.finding(
        f"{named(lamp)} gets {amount(volts, 'V')} of its {amount(rated_v, 'V')}",
        lamp.ref_span or lamp.span,
        harm=Harm.DAMAGE if burns else Harm.PERFORMANCE,
        parts=(lamp.ref,),
        calc=sums,
        action="fit a lamp 47, it takes more of the current"
        if weak
        else f"fit a lamp for {amount(volts, 'V')} and the same current",
    )


def _flares(
    case: Case, lamp: Part, volts: float, rated_v: float, sums: list[Calculation]
) -> Finding:
    across = [
        e.ref for own in case.circuit.wiring.of(lamp.ref) for e in case.circuit.wiring.at(own.a)
        if e.kind is Kind.RESISTOR and set(e.nets) == set(own.nets)
    ]  # fmt: skip
    beside = f" beside {listed(across)}" if across else ""
    return case.finding(
        f"{named(lamp)}{beside} flares up to {amount(volts, 'V')} at switch-on, with the heaters "
        f"cold (rated {amount(rated_v, 'V')})",
        lamp.ref_span or lamp.span,
        harm=Harm.PERFORMANCE,
        parts=(lamp.ref, *across),
        state=COLD,
        calc=[
            *sums,
            Calculation(f"lamp {lamp.ref}, heaters cold", volts, "V", rated_v,
                        "heaters at a seventh of their ohms, the lamp at its own heat"),
        ],
        action="put a thermistor in the string, or fewer ohms across the lamp",
    )  # fmt: skip


def _element(case: Case, lamp: Part) -> Element | None:
    return next((e for e in case.circuit.wiring.of(lamp.ref) if e.kind is Kind.LAMP), None)


def _volts_at(case: Case, point: LinePoint | NotSolved, lamp: Part) -> float | None:
    e = _element(case, lamp)
    return None if e is None or isinstance(point, NotSolved) else point.across(e)


def _why(case: Case, point: LinePoint, lamp: Part) -> str | None:
    """Why a lamp's volts are not known; None for one that is not on the line side at all."""
    e = _element(case, lamp)
    if e is None or e not in point.branches:
        return None
    return point.why_unknown(e.nets) or "not solved"
