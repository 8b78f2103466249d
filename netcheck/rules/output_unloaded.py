"""Output transformer works without a load.

Why: Without its speaker the primary is nothing but inductance: each peak of sound swings the plate
to many times the supply. It arcs across the socket, through the transformer's paper or inside the
tube, and a beam tube's screen is over-run.
False alarm: A load that the text does not name, such as a speaker behind a jack: describe it. A
headphone switch that opens the speaker with a resistor in its place is seen as loaded.
Source: flash-over and burned sockets with the speaker off: gammaelectronics.xyz vrarh_20; a dummy
of the speaker's ohms: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from netcheck.circuit.states import switch_positions
from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._operating import driven_transformers
from netcheck.rules._reach import doubt
from netcheck.rules._words import listed, named

_LOAD_OHM = 100.0
"""A resistor up to here may stand for a speaker; more is feedback or a bleed (common practice)."""

_OPEN = ""

_SET = """hold B+ 250 V
V4 6V6GT: plate PLATE, screen B+, g1 DRIVE, cathode KOUT, heater H1 to CHASSIS
R1 470K 1/2 W, new: DRIVE to CHASSIS
R2 250 ohm 2 W: KOUT to CHASSIS
"""
_T2 = "T2 output, 5000 ohm to 3.2 ohm: primary B+ to PLATE, secondary VC to VCR"


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _SET + _T2 + "   # <-\nLS1 3.2 ohm, removed: VC to VCR\n",
            "the secondary of T2 (VC to VCR) has no load",
        ),
        Example(
            _SET + _T2.replace("VCR", "CHASSIS") + "   # <-\n"
            "S3 slide: SPEAKER VC to LSA, PHONES VC to PHONE\nLS1 3.2 ohm: LSA to CHASSIS\n"
            "C1 .1 mfd 400 V film: PHONE to CHASSIS\n",
            "no load with S3 at PHONES",
        ),
        Example(
            _SET + _T2 + "   # <-\nP2 speaker plug: 1 VC, 2 VCR\nLS1 3.2 ohm, on P2: VC to VCR\n",
            "no load with P2 out",
        ),
    ),
    good=(
        _SET + _T2 + "\nLS1 3.2 ohm: VC to VCR\n",
        _SET + _T2.replace("VCR", "CHASSIS")
        + "\nS3 slide: SPEAKER VC to LSA, PHONES VC to DUMMY\nLS1 3.2 ohm: LSA to CHASSIS\n"
        + "R5 10 ohm 5 W: DUMMY to CHASSIS\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each transformer on a plate that nothing loads in some state."""
    now = switch_positions(case.chassis)
    for part in driven_transformers(case):
        secondaries = _secondaries(case, part)
        if not secondaries:
            yield case.not_checked(f"the secondary of {part.ref} is not described", (part.ref,))
        elif not any(_is_loaded(case, part, one, now) for one in secondaries.values()):
            yield _unloaded(case, part, secondaries)
        else:
            yield from _in_some_position(case, part, secondaries)
            yield from _plug_out(case, part, secondaries)


def _secondaries(case: Case, part: Part) -> dict[str, tuple[str, ...]]:
    """By name: the nets along each winding without a plate or a plate supply on it."""
    wiring = case.circuit.wiring
    plates = {e.net for e in wiring.electrodes if e.duty == "plate"}
    found: dict[str, dict[str, None]] = {}
    for element in wiring.of(part.ref):
        if element.kind is Kind.WINDING:
            found.setdefault(element.path, {}).update(dict.fromkeys(element.nets))
    high = plates | wiring.b_plus
    return {path: tuple(nets) for path, nets in found.items() if not high & set(nets)}


def _is_loaded(
    case: Case, part: Part, nets: tuple[str, ...], closed: Mapping[str, str], out: str = ""
) -> bool:
    """Whether something small joins two nets of a winding outside the transformer."""
    return any(_reaches(case, part, net, set(nets) - {net}, closed, out) for net in nets[:-1])


def _reaches(
    case: Case, part: Part, start: str, wanted: set[str], closed: Mapping[str, str], out: str
) -> bool:
    seen, queue = {start}, [start]
    while queue:
        here = queue.pop()
        for element in case.circuit.wiring.at(here):
            there = element.other(here)
            if there in seen or element.ref == part.ref or not _conducts(case, element, closed):
                continue
            owner = case.chassis.part(element.ref)
            if out and owner is not None and owner.on == out:
                continue
            if there in wanted:
                return True
            seen.add(there)
            queue.append(there)
    return False


def _conducts(case: Case, element: Element, closed: Mapping[str, str]) -> bool:
    part = case.chassis.part(element.ref)
    if element.kind is Kind.CONTACT:
        return part is not None and closed.get(part.body_ref) == element.position
    if element.kind is Kind.RESISTOR:
        return element.ohm is not None and element.ohm <= _LOAD_OHM
    return element.kind in (Kind.SPEAKER, Kind.WINDING, Kind.FUSE, Kind.STRAP, Kind.LOAD)


def _unloaded(
    case: Case, part: Part, secondaries: Mapping[str, tuple[str, ...]]
) -> Finding | NotChecked:
    reached = _joined(case, secondaries)
    reason = _doubt(case, reached)
    if reason is not None:
        return case.not_checked(f"whether {part.ref} is loaded: {reason}", (part.ref,))
    gone = [
        p for p in case.chassis.parts
        if p.kind == "speaker" and not p.fitted and {case.chassis.net(n) for n in p.nodes} & reached
    ]  # fmt: skip
    return _finding(
        case, part, secondaries, "no load", "as wired", Harm.DAMAGE,
        [Related(p.ref_span or p.span, f"{named(p)} is not there") for p in gone],
        "join its speaker, or a resistor of the speaker's ohms and the set's watts, before power",
    )  # fmt: skip


def _joined(case: Case, secondaries: Mapping[str, tuple[str, ...]]) -> frozenset[str]:
    """The nets of the secondaries and what is joined to them in some switch position."""
    metal = (Kind.CONTACT, Kind.FUSE, Kind.STRAP, Kind.SPEAKER)
    found = {net for nets in secondaries.values() for net in nets}
    returns = case.circuit.wiring.returns
    queue = list(found - returns)
    while queue:
        here = queue.pop()
        for element in case.circuit.wiring.at(here):
            there = element.other(here)
            if element.kind in metal and there not in found:
                found.add(there)
                queue += [] if there in returns else [there]
    return frozenset(found - returns)


def _doubt(case: Case, nets: frozenset[str]) -> str | None:
    """Why it is not known whether something loads these nets."""
    reason = doubt(case, nets)
    at = (e for net in sorted(nets) for e in case.circuit.wiring.at(net))
    bare = dict.fromkeys(e.ref for e in at if e.kind is Kind.RESISTOR and e.ohm is None)
    return f"the ohms of {listed(bare)} are not known" if reason is None and bare else reason


def _in_some_position(
    case: Case, part: Part, secondaries: Mapping[str, tuple[str, ...]]
) -> Iterator[Finding | NotChecked]:
    """One finding for each switch that opens the load, with the positions that do."""
    now = switch_positions(case.chassis)
    near = _joined(case, secondaries)
    refs = {e.ref for net in near for e in case.circuit.wiring.at(net) if e.kind is Kind.CONTACT}
    bodies = {p.body_ref: p for p in case.chassis.of_kind("switch") if p.ref in refs}
    for body, switch in bodies.items():
        positions = switch.positions if len(switch.positions) > 1 else (*switch.positions, _OPEN)
        bare = [
            position or "off" for position in positions
            if not any(_is_loaded(case, part, one, {**now, body: position})
                       for one in secondaries.values())
        ]  # fmt: skip
        if not bare:
            continue
        reason = _doubt(case, near)
        if reason is not None:
            yield case.not_checked(f"whether {part.ref} is loaded with {body} at {listed(bare)}: "
                                   f"{reason}", (part.ref, switch.ref))  # fmt: skip
            continue
        state = f"{body} at {listed(bare)}"
        yield _finding(
            case, part, secondaries, f"no load with {state}", state, Harm.DAMAGE,
            [Related(switch.ref_span or switch.span, f"{body} opens the speaker")],
            f"put a resistor of the speaker's ohms where {body} leaves the winding open",
        )  # fmt: skip


def _plug_out(
    case: Case, part: Part, secondaries: Mapping[str, tuple[str, ...]]
) -> Iterator[Finding]:
    """A plug that takes the speaker away and leaves the transformer."""
    now = switch_positions(case.chassis)
    plugs = {p.on: None for p in case.chassis.of_kind("speaker") if p.on and p.on != part.on}
    for ref in plugs:
        plug = case.chassis.part(ref)
        if plug is None or plug.kind not in ("plug", "jack"):
            continue
        if any(_is_loaded(case, part, one, now, ref) for one in secondaries.values()):
            continue
        yield _finding(
            case, part, secondaries, f"no load with {ref} out", f"{ref} out", Harm.RECORD,
            [Related(plug.ref_span or plug.span, f"{ref} carries the speaker")],
            f"never switch on with {ref} out",
        )  # fmt: skip


def _finding(
    case: Case, part: Part, secondaries: Mapping[str, tuple[str, ...]], what: str, state: str,
    harm: Harm, related: list[Related], action: str,
) -> Finding:  # fmt: skip
    nets = next(iter(secondaries.values()))
    ends = f"{nets[0]} to {nets[-1]}"
    return case.finding(
        f"the secondary of {part.ref} ({ends}) has {what}",
        part.ref_span or part.span,
        harm=harm,
        parts=(part.ref,),
        nodes=[net for nets in secondaries.values() for net in nets],
        related=related,
        state=state,
        action=action,
    )
