"""The plate battery can reach the filaments.

Why: Filaments of battery tubes stand a tenth over their volts; a plate battery on them, for as long
as a switch takes to turn, burns every one in the set. It comes by plugs exchanged, by a wire too
many, or through a changeover switch whose wiper bridges two positions on its way.
False alarm: The switch breaks before it makes: write `non-shorting` at it. What a switch does
between its positions cannot be seen on a drawing; without a word it is taken to bridge them.
Source: A and B plugs exchanged burn every tube: software-cart.com (powering antique battery
radios); filaments 1.25 to 1.40 V for 1.4 V types, so 1.3 times is lost: common practice, no source;
every position of every switch, and each switch between two of them: walked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise, product

from netcheck.circuit.states import switch_positions
from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._filaments import filaments_of
from netcheck.rules._unloaded import unloaded_supply
from netcheck.rules._words import amount, listed, named

_OVER = 1.3
_MOST = 2000
# What joins a battery to a filament with nothing between worth its name.
_SMALL_OHM = 100.0
_OFF = "OFF"

_TUBES = """V1 1R5: plate B+, screen B+, g1 X1, g3 X2, filament CHASSIS to A+
V2 1T4: plate B+, screen B+, grid X3, filament CHASSIS to A+
R1 100K 1/2 W, new: X1 to CHASSIS
R2 1 meg 1/2 W, new: X2 to CHASSIS
R3 1 meg 1/2 W, new: X3 to CHASSIS
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            "line none\nBT1 1.5 V A-battery: + B+, - CHASSIS\n"
            "BT2 67.5 V B-battery: + A+, - CHASSIS   # <-\n" + _TUBES,
            "67.5 V on A+",
        ),
        Example(
            "line none\nBT1 1.5 V A-battery: + ABAT, - CHASSIS\n"
            "BT2 67.5 V B-battery: + BBAT, - CHASSIS\n"
            "S2 changeover: A ABAT to A+, BOTH ABAT to BBAT to A+ to B+   # <-\n" + _TUBES,
            "with S2 at BOTH",
        ),
        Example(
            "line none\nBT1 1.5 V A-battery: + ABAT, - CHASSIS\n"
            "BT2 67.5 V B-battery: + BBAT, - CHASSIS\n"
            "S1 dpst: ON ABAT to A+, ON BBAT to B+\n"
            "S2 selector: FIL A+ to METER, PLATE BBAT to METER   # <-\n"
            "R9 10K 1/2 W, new: METER to CHASSIS\n" + _TUBES,
            "S2 between FIL and PLATE",
        ),
    ),
    good=(
        "line none\nBT1 1.5 V A-battery: + ABAT, - CHASSIS\n"
        "BT2 67.5 V B-battery: + BBAT, - CHASSIS\n"
        "S1 dpst: ON ABAT to A+, ON BBAT to B+\n" + _TUBES,
        "line none\nBT1 1.5 V A-battery: + ABAT, - CHASSIS\n"
        "BT2 67.5 V B-battery: + BBAT, - CHASSIS\n"
        "S2 changeover, non-shorting: ON ABAT to A+, ON BBAT to B+, TEST open\n" + _TUBES,
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each battery that reaches filaments it would burn."""
    filaments = filaments_of(case)
    if not filaments:
        return
    sources = list(_sources(case))
    unknown = _unknown(case, sources)
    if unknown:
        its = "its volts are" if len(unknown) == 1 else "their volts are"
        yield case.not_checked(f"what {listed(unknown)} would do to filaments: {its} not known",
                               unknown)  # fmt: skip
    near = _near(case, sources)
    if not near & filaments.keys():
        return
    states = list(_states(case, near))
    if len(states) > _MOST:
        yield case.not_checked(f"{len(states)} positions of its switches are too many to walk",
                               [s.part.ref for s in sources])  # fmt: skip
        return
    told: set[str] = set()
    for state in states:
        for source in sources:
            if source.part.ref in told:
                continue
            found = _reached(case, source, state, filaments)
            if found is not None:
                told.add(source.part.ref)
                yield _finding(case, found)


@dataclass(frozen=True, slots=True)
class _State:
    """Contacts closed: switch -> the positions whose paths are closed together (two: between).

    `shorting` tells of each switch or wafer whether it bridges two positions, None if unsaid.
    """

    closed: Mapping[str, tuple[str, ...]]
    words: str
    shorting: Mapping[str, bool | None]

    def closes(self, part: Part, position: str) -> bool:
        """Whether the contacts of a position are closed."""
        at = self.closed.get(part.body_ref, ())
        return position in at and (len(at) == 1 or self.shorting[part.ref] is not False)

    def unsaid(self, part: Part) -> bool:
        """Whether it is between two positions, and the text does not say that it bridges them."""
        return len(self.closed.get(part.body_ref, ())) > 1 and self.shorting[part.ref] is None


@dataclass(frozen=True, slots=True)
class _Cross:
    """A source on a filament net: over which elements, in which state, at which limit."""

    source: _Source
    net: str
    way: tuple[Element, ...]
    state: _State
    limit_v: float
    tubes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Source:
    """A battery or rectifier: its plus, the net it returns to, its volts."""

    part: Part
    plus: str
    minus: str
    volts: float


def _sources(case: Case) -> Iterator[_Source]:
    wiring = case.circuit.wiring
    for part in case.chassis.of_kind("battery"):
        volts = part.value("voltage")
        for element in wiring.of(part.ref):
            if volts is not None:
                yield _Source(part, element.a, element.b, volts)
    for element in wiring.rectifiers:
        found, rectifier = unloaded_supply(case, element.b), case.chassis.part(element.ref)
        if found is not None and rectifier is not None and wiring.common is not None:
            yield _Source(rectifier, element.b, wiring.common, found.volts)


def _unknown(case: Case, sources: list[_Source]) -> list[str]:
    """The batteries and rectifiers of a set that are none of its sources: no volts are known."""
    refs = [p.ref for p in case.chassis.of_kind("battery") if case.circuit.wiring.of(p.ref)]
    refs += [e.ref for e in case.circuit.wiring.rectifiers]
    known = {source.part.ref for source in sources}
    return [ref for ref in dict.fromkeys(refs) if ref not in known]


def _near(case: Case, sources: list[_Source]) -> frozenset[str]:
    """What a plus can reach with every contact closed: other switches need no walking."""
    found = {source.plus for source in sources}
    queue = list(found)
    while queue:
        here = queue.pop()
        for e in case.circuit.wiring.at(here):
            small = e.kind is Kind.RESISTOR and e.ohm is not None and e.ohm < _SMALL_OHM
            if small or e.kind in (Kind.CONTACT, Kind.FUSE, Kind.STRAP):
                there = e.other(here)
                if there not in found and there not in case.circuit.wiring.returns:
                    found.add(there)
                    queue.append(there)
    return frozenset(found)


def _switches(
    case: Case, near: frozenset[str]
) -> tuple[dict[str, tuple[str, ...]], dict[str, bool | None]]:
    """By body the positions of each switch there, by wafer whether it bridges (None: unsaid)."""
    bodies: dict[str, tuple[str, ...]] = {}
    shorting: dict[str, bool | None] = {}
    for part in case.chassis.of_kind("switch"):
        if not any(set(e.nets) & near for e in case.circuit.wiring.of(part.ref)):
            continue
        seen = bodies.get(part.body_ref, ())
        bodies[part.body_ref] = tuple(dict.fromkeys([*seen, *part.positions]))
        body = case.chassis.part(part.body_ref)
        for each in [part] if body is None else [part, body]:
            if each.description.has("non-shorting", "shorting"):
                shorting[part.ref] = each.description.has("shorting")
                break
        else:
            shorting[part.ref] = None
    return bodies, shorting


def _states(case: Case, near: frozenset[str]) -> Iterator[_State]:
    """Every position of every switch, and each switch between two while the others stand."""
    bodies, shorting = _switches(case, near)
    now = switch_positions(case.chassis)
    choices = {b: p if len(p) > 1 else (*p, _OFF) for b, p in bodies.items()}
    total = 1
    for positions in choices.values():
        total *= len(positions)
    if total <= _MOST:
        rows = [dict(zip(choices, row, strict=True)) for row in product(*choices.values())]
    else:  # too many at once: each switch by itself, the others as they stand
        rows = [{**now, b: p} for b, positions in choices.items() for p in positions]
    rows.sort(key=lambda row: sum(now.get(b) != p for b, p in row.items()))
    for row in rows:
        words = listed(f"{b} at {p}" for b, p in row.items() if now.get(b) != p)
        yield _State({b: (p,) for b, p in row.items()}, words, shorting)
    for body, positions in choices.items():
        if len(bodies[body]) < 2:
            continue
        for one, other in pairwise(positions):
            for row in rows:
                if row.get(body) == one:
                    moved = {b: (p,) for b, p in row.items()} | {body: (one, other)}
                    at = listed(f"{b} at {p}" for b, p in row.items()
                                if b != body and now.get(b) != p)  # fmt: skip
                    words = f"{body} between {one} and {other}" + (f" and {at}" if at else "")
                    yield _State(moved, words, shorting)


def _reached(
    case: Case, source: _Source, state: _State,
    filaments: Mapping[str, tuple[float, tuple[str, ...]]],
) -> _Cross | None:  # fmt: skip
    """The first filament net that a plus reaches over metal, if it burns there."""
    came: dict[str, tuple[Element, ...]] = {source.plus: ()}
    queue = [source.plus]
    while queue:
        here = queue.pop(0)
        limit = filaments[here][0] * _OVER if here in filaments else None
        if limit is not None and source.volts > limit:
            return _Cross(source, here, came[here], state, limit, filaments[here][1])
        for e in case.circuit.wiring.at(here):
            there = e.other(here)
            if there not in came and there != source.minus and _conducts(case, e, state):
                came[there] = (*came[here], e)
                queue.append(there)
    return None


def _conducts(case: Case, e: Element, state: _State) -> bool:
    if e.kind is Kind.CONTACT:
        owner = case.chassis.part(e.ref)
        return owner is not None and state.closes(owner, e.position)
    if e.kind is Kind.RESISTOR:
        return e.ohm is not None and e.ohm < _SMALL_OHM
    return e.kind in (Kind.FUSE, Kind.STRAP)


def _finding(case: Case, cross: _Cross) -> Finding:
    part, volts = cross.source.part, cross.source.volts
    switches = [case.chassis.part(e.ref) for e in cross.way if e.kind is Kind.CONTACT]
    at = next((p for p in reversed(switches) if p is not None), part)
    said = f" with {cross.state.words}" if cross.state.words else ""
    unknown = listed(p.ref for p in switches if p is not None and cross.state.unsaid(p))
    doubt = f", and nothing says that {unknown} breaks before it makes" if unknown else ""
    terminal = part.terminal("+") or part.terminal("cathode")
    span = at.ref_span or at.span
    if at is part and terminal is not None:
        span = terminal.span
    return case.finding(
        f"{named(part)} puts {amount(volts, 'V')} on {cross.net}{said}, where the filaments of "
        f"{listed(cross.tubes)} stand {amount(cross.limit_v / _OVER, 'V')}{doubt}",
        span,
        parts=tuple(dict.fromkeys([part.ref, *(e.ref for e in cross.way)])),
        nodes=(cross.net,),
        related=[
            Related(p.ref_span or p.span, f"{named(p)} is on the way")
            for p in switches if p is not None and p is not at
        ],
        state=cross.state.words or "as wired",
        calc=[
            Calculation(
                f"volts on {cross.net}", volts, "V", cross.limit_v,
                f"{part.ref} over {listed(e.ref for e in cross.way) or 'nothing'}; limit: 1.3 x "
                "the rated volts",
            )
        ],
        action=f"part {cross.net} from {part.ref}"
        + (f", or fit a switch that breaks before it makes as {unknown}" if unknown else
           " and measure the filament pins before the tubes go in"),
    )  # fmt: skip
