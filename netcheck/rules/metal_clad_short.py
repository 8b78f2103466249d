"""What burns when a metal-clad resistor shorts to its case.

Why: A metal-clad (candohm) resistor is wire on a card inside a metal case that is riveted to the
chassis. The card chars, and the wire touches the case anywhere along it: a section that fed a
screen then carries the whole supply, one that made the bias makes none. A sound part may be bridged
from outside; the old one has to be disconnected, since its short stays where it is.
False alarm: It is a note on what would happen, and no fault: accept it, or replace each section by
a wirewound resistor of its own ohms and twice its watts, with the old one disconnected.
Source: sections that short or open, and bias strips of small sections that carry 60 mA:
philcoradio.com forum post 189125; a short at each tap: solved; watts of a section as its share of
the body's by its ohms: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.states import SHORT_OHM, Edit, State
from netcheck.findings import Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._burnt import Burnt, Comparison
from netcheck.rules._operating import NOMINAL, tried
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

_OVER = 1.1  # less is within what the solution and the parts are good for

_SET = """line none
hold B+ 250 V
R5 metal clad, {ohms} ohm 10 W: B+ to SCREEN to CHASSIS, case {case}{mark}
V2 6SK7: plate V2.plate, screen SCREEN, suppressor CHASSIS, grid IN, cathode K2, shell CHASSIS,
   heater H1 to CHASSIS
R2 470 ohm 1/2 W: K2 to CHASSIS
R3 1 meg 1/2 W, new: IN to CHASSIS
R6 10K 2 W: B+ to V2.plate
"""


@rule(
    harm=Harm.RECORD,
    bad=(
        Example(
            _SET.format(ohms="8000-12000", case="CHASSIS", mark="   # <-"),
            "shorted to its case at SCREEN",
        ),
        Example(
            """line none
hold B+ 250 V
V4 6V6GT: plate T2.plate, screen B+, g1 DRIVE, cathode KOUT, heater H1 to CHASSIS
R9 470K 1/2 W, new: DRIVE to CHASSIS
T2 output, 5000 ohm to 4 ohm, primary 300 ohm: primary B+ to T2.plate, secondary VC to VCR
LS1 4 ohm: VC to VCR
R4 metal clad, 5 W: case CHASSIS
R4A 250 ohm: KOUT to CHASSIS   # <-
""",
            "shorted to its case at KOUT",
        ),
    ),
    good=(
        _SET.format(ohms="60000-90000", case="CHASSIS", mark=""),
        _SET.format(ohms="8000-12000", case="open", mark=""),
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield one finding for each metal-clad body with all that its shorts would burn."""
    wanted: list[tuple[Part, Part, str, State]] = []
    for body, sections, metal in _bodies(case):
        if metal is None:
            refs = [part.ref for part in sections]
            yield case.not_checked(f"where the case of {body.ref} is: write `case CHASSIS`", refs)
            continue
        for part, net in _points(case, sections, metal):
            state = State(
                f"{part.ref} shorted to its case at {net}",
                edits=(Edit("join", ohm=SHORT_OHM, nets=(net, metal)),),
            )
            wanted.append((body, part, net, state))
    if not wanted:
        return
    sound, *faults = tried(case, [NOMINAL, *(state for *_, state in wanted)])
    if isinstance(sound, NotSolved):
        yield case.not_checked(sound.reason, [part.ref for _, part, _, _ in wanted])
        return
    burns = Comparison(case, sound)
    shorts: dict[str, list[_Short]] = {}
    for (body, part, net, state), fault in zip(wanted, faults, strict=True):
        if isinstance(fault, NotSolved):
            yield case.not_checked(f"{state.name}: {fault.reason}", (part.ref,))
            continue
        own = list(_sections(case, body, sound, fault))
        rest = [b for b in burns.burnt_by(fault) if b.part.body_ref != body.body_ref]
        burnt = sorted([*own, *rest], key=lambda b: -b.ratio)
        if burnt:
            shorts.setdefault(body.body_ref, []).append(_Short(part, net, state, tuple(burnt)))
    for found in shorts.values():
        yield _finding(case, found)


@dataclass(frozen=True, slots=True)
class _Short:
    """A short of a section to the case at one net, and what it burns, the worst first."""

    part: Part
    net: str
    state: State
    burnt: tuple[Burnt, ...]


def _bodies(case: Case) -> Iterator[tuple[Part, tuple[Part, ...], str | None]]:
    """Each metal-clad body, its sections with a path, and the net its case is on (None: unsaid)."""
    resistors = list(case.chassis.of_kind("resistor"))
    for body in resistors:
        if not body.description.has("metal-clad"):
            continue
        sections = tuple(p for p in resistors if p.body_ref == body.body_ref and p.paths)
        case_of = body.terminal("case") or body.terminal("body")
        if sections and case_of is None:
            yield body, sections, None
        elif sections and case_of is not None and not case_of.unused:
            yield body, sections, case.chassis.net(case_of.node)


def _points(case: Case, sections: tuple[Part, ...], metal: str) -> Iterator[tuple[Part, str]]:
    """The ends and taps of the sections that are not on the case's own net, each once."""
    seen = {metal}
    for part in sections:
        for element in case.circuit.wiring.of(part.ref):
            for net in element.nets:
                if net not in seen:
                    seen.add(net)
                    yield part, net


def _sections(case: Case, body: Part, sound: Point, fault: Point) -> Iterator[Burnt]:
    """Sections that turn more into heat than their share of the body's watts."""
    rated = body.value("power")
    parts = {p.ref: p for p in case.chassis.of_kind("resistor") if p.body_ref == body.body_ref}
    branches = [b for b, _ in fault.branch_amperes if b.ref in parts]
    whole = sum(branch.ohm for branch in branches)
    before = {(b.ref, b.terminals): i * i * b.ohm for b, i in sound.branch_amperes}
    for branch, amperes in fault.branch_amperes:
        if branch.ref not in parts:
            continue
        own = parts[branch.ref].value("power") if parts[branch.ref] is not body else None
        limit = own or (rated * branch.ohm / whole if rated and whole else None)
        watts = amperes**2 * branch.ohm
        was = before.get((branch.ref, branch.terminals), 0.0)
        if limit and watts > _OVER * limit >= was:
            said = f"put {amount(watts, 'W')} into its {amount(branch.ohm, 'ohm')} from {branch.a} "
            said += f"to {branch.b}, whose share is {amount(limit, 'W')}"
            yield Burnt(parts[branch.ref], watts, limit, "W", said)


def _finding(case: Case, found: list[_Short]) -> Finding:
    worst = max(found, key=lambda short: short.burnt[0].ratio)
    others = [short for short in found if short is not worst]
    more = f"; at {listed(s.net for s in others)} likewise" if others else ""
    part = worst.part
    return case.finding(
        f"{named(part)}, shorted to its case at {worst.net}, would {worst.burnt[0].said}{more}",
        part.ref_span or part.span,
        parts=list(dict.fromkeys(short.part.ref for short in found)),
        nodes=[short.net for short in found],
        state=worst.state.name,
        related=[
            Related(s.part.ref_span or s.part.span,
                    f"at {s.net}: " + ", ".join(b.said for b in s.burnt))
            for s in others
        ],
        calc=[b.calculation(f"a short at {s.net}") for s in found for b in s.burnt],
        action=f"no short is known now: measure {part.ref} from each tap to its case (no reading), "
        "or put wirewound resistors of each section's ohms in its place, the old one disconnected",
    )  # fmt: skip
