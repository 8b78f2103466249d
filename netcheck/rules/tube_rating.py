"""A tube runs above its published maximum.

Why: Too many watts make plate or screen glow, release gas and burn the winding that feeds them;
too much current wears the cathode out; too many volts flash over in a socket or stem. A set whose
parts drifted, or that was given a silicon rectifier or the wrong tube, does this quietly. Of a
push-pull pair with one cathode resistor each draws more when the other is pulled, cold or worn out.
False alarm: Up to a tenth over a maximum is reported as performance only: the computed volts are
not better than that, and makers went there. Which line counts depends on the rating system of the
type: design-centre at the nominal line, design-maximum at the highest line, absolute at the highest
line with a tube at the upper end of its spread; unknown systems count as design-centre.
Source: maxima and rating systems of the tube data (`netcheck tube TYPE` names each source);
meaning of the three systems: RCA Receiving Tube Manual, section on ratings, from memory; spread of
20 % in current and 0.2 V of contact potential, and the tenth: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.states import State
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part, TubeType
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._bias import wrongly_biased
from netcheck.rules._operating import (
    NOMINAL,
    Stream,
    cold,
    line_high,
    output_transformers,
    output_tubes,
    streams,
    tried,
)
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

_STAGE = """
line none
hold B+ 250 V
V2 6SK7: plate V2.plate, screen SCREEN, suppressor B-, grid IN,{mark}
   cathode K2, shell B-, heater H1 to B-
R1 {dropper}: B+ to SCREEN
R2 300 ohm 1/2 W: K2 to B-
R3 1 meg 1/2 W: IN to B-
T1 IF, 455 kc, primary 10 ohm, secondary 10 ohm: primary B+ to V2.plate, secondary X to Y
"""
_OUTPUT = """
line none
hold B+ {volts} V
V4 6K6GT: plate T2.plate, screen B+, g1 DRIVE, cathode KOUT, heater H1 to B-{mark}
R9 470K 1/2 W: DRIVE to B-
R12 {bias} 2 W: KOUT to B-
T2 output, 7000 ohm to 4 ohm, primary 400 ohm: primary B+ to T2.plate, secondary VC to VCR
LS1 4 ohm: VC to VCR
"""
_PAIR = """
line none
hold B+ 280 V
V4 6V6GT: plate T2.a, screen B+, g1 UP, cathode K, heater H1 to B-{mark}
V5 6V6GT: plate T2.b, screen B+, g1 DOWN, cathode K, heater H1 to B-
R1 470K 1/2 W: UP to B-
R2 470K 1/2 W: DOWN to B-
R3 {bias} 5 W: K to B-
T2 output, 8000 ohm to 4 ohm, primary 150-150 ohm: primary T2.a to B+ to T2.b, secondary VC to VCR
LS1 4 ohm: VC to VCR
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _STAGE.format(dropper="1K 2 W", mark="  # <-"),
            "over the maximum",
        ),
        Example(
            _OUTPUT.format(volts=350, bias="470 ohm", mark="  # <-"),
            "V4 (6K6GT) has its",
        ),
        Example(
            _PAIR.format(bias="250 ohm", mark="  # <-"),
            "is pulled, cold or worn out, V4 (6V6GT) has",
        ),
    ),
    good=(
        _STAGE.format(dropper="68K 1/2 W", mark=""),
        _OUTPUT.format(volts=250, bias="470 ohm", mark=""),
        _PAIR.format(bias="470 ohm", mark=""),
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each tube above a maximum in the state its rating system means."""
    absolute = [p.body_ref for p in case.chassis.of_kind("tube") if _system(p) == "absolute"]
    high = line_high(case)
    left = {each.state: each for each in _left_alone(case, high)}
    asked = [NOMINAL, high, *(_strong(bulb, high) for bulb in absolute), *left]
    points = dict(zip(asked, tried(case, asked), strict=True))
    nominal = points[NOMINAL]
    if isinstance(nominal, NotSolved):
        raise nominal
    biased = {bias.stream.part.body_ref for bias in wrongly_biased(case, streams(case, nominal))}
    found: list[_Found] = []
    sections: dict[State, dict[tuple[str, str], Stream]] = {}
    for stream in streams(case, nominal):
        state = _state(stream.part, high)
        point = points[state]
        if isinstance(point, NotSolved):
            yield case.not_checked(point.reason, (stream.part.ref,))
            continue
        if state not in sections:
            sections[state] = {_section(s): s for s in reversed([*streams(case, point)])}
        here = sections[state].get(_section(stream))
        watts = stream.part.body_ref not in biased
        if here is not None and (over := _tube(here, state, watts=watts)):
            found.append(over)
    yield from _findings(case, _by_tube(found))
    told = {each.part.body_ref for each in found} | biased
    for alone in left.values():
        if not {alone.part.body_ref, alone.partner.body_ref} & told:
            for each in _alone(case, alone, points[alone.state]):
                told |= {alone.part.body_ref}  # of a pair one finding tells both
                yield each
    yield from _unlimited(case, nominal)


def _system(part: Part) -> str:
    """The rating system that counts for a type."""
    system = part.tube.rating_system if part.tube is not None else ""
    return system if system in ("design-maximum", "absolute") else "design-centre"


def _state(part: Part, high: State) -> State:
    """The state in which a tube of its rating system is held against its maxima."""
    states = {"design-maximum": high, "absolute": _strong(part.body_ref, high)}
    return states.get(_system(part), NOMINAL)


def _strong(bulb: str, high: State) -> State:
    """A tube at the upper end of its spread on the highest line."""
    name = f"{bulb} strong, line high"
    return State(name, emission=((bulb, 1.2),), contact_shift_v=((bulb, 0.2),)).on(high)


def _section(stream: Stream) -> tuple[str, str]:
    """What names a section at any point."""
    return stream.part.body_ref, stream.section.name


# --- one section against its maxima


@dataclass(frozen=True, slots=True)
class _Over:
    """One quantity over its maximum: `what` in words, amounts in `unit`."""

    what: str
    value: float
    limit: float
    unit: str

    @property
    def ratio(self) -> float:
        """How far over the maximum."""
        return self.value / self.limit


# The second stream of a converter or triode-pentode has maxima of its own.
_PREFIXES = {"triode": "triode-", "oscillator": "oscillator-"}


@dataclass(frozen=True, slots=True)
class _Found:
    """A tube over some of its maxima, the worst first."""

    part: Part
    state: State
    over: tuple[_Over, ...]

    @property
    def worst(self) -> _Over:
        """What is furthest over."""
        return self.over[0]


def _tube(stream: Stream, state: State, *, watts: bool) -> _Found | None:
    over = [each for each in _quantities(stream, watts=watts) if each.value > each.limit]
    return _Found(stream.part, state, _worst_first(over)) if over else None


def _worst_first(over: Iterable[_Over]) -> tuple[_Over, ...]:
    """Each kind of quantity once, by how far it is over."""
    by_what: dict[str, _Over] = {}
    for each in sorted(over, key=lambda one: -one.ratio):
        by_what.setdefault(each.what, each)
    return tuple(by_what.values())


def _by_tube(found: list[_Found]) -> list[_Found]:
    """The sections of one tube together."""
    by_ref: dict[str, list[_Found]] = {}
    for each in found:
        by_ref.setdefault(each.part.ref, []).append(each)
    return [
        _Found(own[0].part, own[0].state, _worst_first(one for each in own for one in each.over))
        for own in by_ref.values()
    ]


@dataclass(frozen=True, slots=True)
class _Left:
    """An output tube whose partner on the same transformer draws nothing, in a state."""

    part: Part
    partner: Part
    state: State


def _left_alone(case: Case, high: State) -> Iterator[_Left]:
    """Each of a push-pull pair while the other is cold: a common cathode resistor then biases less.

    Of a larger team any one other is taken: that one more is gone is two failures.
    """
    tubes = output_tubes(case)
    for part in tubes:
        own = {each.ref for each in output_transformers(case, part.body_ref)}
        for other in tubes:
            shared = own & {each.ref for each in output_transformers(case, other.body_ref)}
            if other is not part and shared:
                yield _Left(part, other, cold(other.body_ref, _state(part, high)))
                break


def _alone(case: Case, left: _Left, point: Point | NotSolved) -> Iterator[Finding | NotChecked]:
    part, partner = left.part, left.partner
    if isinstance(point, NotSolved):
        yield case.not_checked(f"{partner.ref} cold: {point.reason}", (part.ref,))
        return
    own = (s for s in streams(case, point) if s.part.body_ref == part.body_ref)
    over = [found for stream in own if (found := _tube(stream, left.state, watts=True))]
    if not over:
        return
    found = max(over, key=lambda each: each.worst.ratio)
    worst = found.worst
    yield case.finding(
        f"once {named(partner)} is pulled, cold or worn out, {named(part)} has its {worst.what} at "
        f"{amount(worst.value, worst.unit)}, over the maximum {amount(worst.limit, worst.unit)}",
        part.span_of("type"),
        parts=(part.ref,),
        harm=Harm.RECORD,
        state=left.state.name,
        related=[Related(partner.span_of("type"), f"{named(partner)}, its partner")],
        calc=[_calculation(found, each) for each in found.over],
        action="switch off when the sound grows weak and harsh, and never play it with one pulled",
    )


def _findings(case: Case, found: list[_Found]) -> Iterator[Finding]:
    """One for all tubes on too many volts (the supply is their cause), one for each of the rest."""
    by_volts = sorted((f for f in found if f.worst.unit == "V"), key=lambda f: -f.worst.ratio)
    if by_volts:
        yield _finding(case, by_volts)
    for each in found:
        if each.worst.unit != "V":
            yield _finding(case, [each])


def _finding(case: Case, found: list[_Found]) -> Finding:
    first, *others = found
    part, worst = first.part, first.worst
    also = f"; {listed(f.part.ref for f in others)} too" if others else ""
    return case.finding(
        f"{named(part)} has its {worst.what} at {amount(worst.value, worst.unit)}, over the "
        f"maximum {amount(worst.limit, worst.unit)} ({_system_said(part)}){also}",
        part.span_of("type"),
        parts=[each.part.ref for each in found],
        harm=Harm.DAMAGE if worst.ratio > _SLIGHTLY else Harm.PERFORMANCE,
        state=first.state.name,
        related=[
            Related(
                f.part.span_of("type"),
                f"{named(f.part)}: {f.worst.what} {amount(f.worst.value, f.worst.unit)}, maximum "
                f"{amount(f.worst.limit, f.worst.unit)}",
            )
            for f in others
        ],
        calc=[_calculation(each, over) for each in found for over in each.over],
        action=_ACTIONS[worst.what.split()[-1]].format(ref=part.ref),
    )


def _calculation(found: _Found, over: _Over) -> Calculation:
    scale, unit = _SHOWN.get(over.unit, (1.0, over.unit))
    part = found.part
    said = f"solved, {found.state.name}; maximum of the {part.tube_name}, {_system_said(part)}"
    return Calculation(
        f"{over.what} of {part.ref}", over.value * scale, unit, over.limit * scale, said
    )


_SLIGHTLY = 1.1
_SHOWN = {"A": (1e3, "mA")}
_ACTIONS = {
    "volts": "measure the electrode's volts and the resistor or winding that feeds it; lower the "
    "supply, or fit a type that stands them",
    "dissipation": "measure {ref}'s bias, its cathode resistor and the volts of plate and screen",
    "current": "measure {ref}'s bias and its cathode resistor",
}


def _system_said(part: Part) -> str:
    system = part.tube.rating_system if part.tube is not None else "unknown"
    return "rating system unknown, taken as design-centre" if system == "unknown" else system


def _quantities(stream: Stream, *, watts: bool) -> Iterator[_Over]:
    """Every quantity of a section that has a maximum; a wrong bias is another rule's cause."""
    tube = stream.part.tube
    if tube is None:
        return
    prefix = "" if stream.section is tube.sections[0] else _PREFIXES.get(stream.section.name, "")
    plate = {"triode-": "triode plate", "oscillator-": "oscillator plate"}.get(prefix, "plate")
    rows: list[tuple[str, str, float | None, str]] = [
        ("plate-v", f"{plate} volts", stream.plate_v, "V"),
    ]
    if not prefix:
        rows.append(("screen-v", "screen volts", stream.screen_v, "V"))
    if watts:
        rows.append(("plate-w", f"{plate} dissipation", stream.plate_w, "W"))
        rows.append(("cathode-a", "cathode current", _cathode_a(stream, tube), "A"))
    if watts and not prefix:
        rows.append(("screen-w", "screen dissipation", stream.screen_w, "W"))
    for name, what, value, unit in rows:
        limit = tube.limits.get(prefix + name)
        if limit is not None and value is not None:
            yield _Over(what, value, limit, unit)


def _cathode_a(stream: Stream, tube: TubeType) -> float:
    """Cathode amperes: all that a pentagrid's one cathode gives, else those of the section."""
    if "oscillator" not in (section.name for section in tube.sections):
        return stream.cathode_a
    return -sum(e.amperes for e in stream.tube.electrodes if e.amperes < 0)


def _unlimited(case: Case, nominal: Point) -> Iterator[NotChecked]:
    """Tubes of which no maximum of current or watts is known: nothing clears them."""
    bare = [
        stream.part
        for stream in streams(case, nominal)
        if stream.part.tube is not None
        and not {"plate-w", "cathode-a"} & set(stream.part.tube.limits)
    ]
    if bare:
        refs = list(dict.fromkeys(part.ref for part in bare))
        said = listed(named(part) for part in bare)
        yield case.not_checked(f"no maximum of watts or current is known of {said}", refs)
