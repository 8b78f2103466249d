"""Fuse in the neutral, after a branch or the switch.

Why: A fuse that opens in the neutral lead stops the set and leaves all of it joined to the hot
line. What branches off ahead of the fuse, or the switch and its wires if they come first, can short
without the fuse seeing it.
False alarm: A fuse meant for one part only (a rectifier, a lamp string) beside a line fuse does not
fire this rule. Where sockets are not polarized, the fuse of a set with an isolating transformer may
stand in either lead, and does not fire it either.
Source: hot lead, then fuse, then switch, and added suppressors behind the fuse: diyaudio.com thread
247472; a single fuse on the side of the switch: Hammarlund mailing list, Aug 2005; that a fuse in
the neutral leaves the set live follows from the wiring.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from netcheck.circuit.wiring import Element, Wiring
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._line import (
    is_unread,
    line_fuses,
    line_of,
    on_line,
    parts_of,
    straight_poles,
    switches,
)
from netcheck.rules._words import amount, listed, named

_TOP = "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral N\n"


@rule(
    harm=Harm.SHOCK,
    bad=(
        Example(
            _TOP + "S1 power: ON LINE to SW\nF1 1/2 A 250 V: N to B-   # <-\n"
            "Z1 load 250 mA: SW to B-\n",
            says="in the neutral lead",
        ),
        Example(
            _TOP + "S1 power: ON LINE to SW\nV1 50C5: heater SW to H1\nV2 35W4: heater H1 to N\n"
            "R1 150 ohm 5 W: H1 to N\nF1 1/4 A 250 V: SW to B1   # <-\nZ1 load 60 mA: B1 to N\n",
            says="not protected (V1, V2 and R1)",
        ),
        Example(
            _TOP + "S1 power: ON LINE to SW\nF1 1/2 A 250 V: SW to FUSED   # <-\n"
            "Z1 load 250 mA: FUSED to N\n",
            says="behind the switch S1",
        ),
    ),
    good=(
        _TOP + "F1 1/2 A 250 V: LINE to FUSED\nS1 power: ON FUSED to SW\n"
        "C1 .047 mfd 275 VAC class X2: FUSED to N\nZ1 load 250 mA: SW to N\n",
        _TOP + "F1 1/2 A 250 V: LINE to FUSED\nS1 power: ON FUSED to SW\n"
        "F2 1/8 A 250 V: SW to PLATES\nZ1 load 60 mA: PLATES to N\nZ2 load 150 mA: SW to N\n",
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding when the line fuses of a set do not protect all of it."""
    wiring = case.circuit.wiring
    fuses = line_fuses(wiring)
    straight = straight_poles(wiring)
    others = [fuse for fuse in fuses if not straight.issuperset(_poles(wiring, fuse) or "?")]
    if others:
        yield from _behind(case, others)
    elif fuses and is_unread(wiring, wiring.line_poles - straight):
        yield case.not_checked("parts of the hot lead could not be read", (fuses[0].ref,))
    elif fuses:
        yield _in_neutral(case, parts_of(case, fuses))


def _poles(wiring: Wiring, fuse: Element) -> tuple[str, ...]:
    return wiring.fuses[fuse.ref].poles


def _in_neutral(case: Case, fuses: tuple[Part, ...]) -> Finding:
    wiring = case.circuit.wiring
    hot = listed(sorted(wiring.line_poles - straight_poles(wiring)))
    turns = bool(wiring.hot & wiring.neutral)
    calc = []
    if (line := line_of(case)) is not None:
        said = f"{amount(line.volts, 'V')} from {hot} stays on all of the set"
        calc = [Calculation("volts left with it open", line.volts, "V", None, said)]
    return _finding(
        case, fuses, (),
        f"in the {wiring.common if turns else 'neutral'} lead: when open, the set stays joined to"
        f" {hot}",
        f"to the hot lead {hot}, ahead of the switch",
        calc=calc,
    )  # fmt: skip


def _behind(case: Case, fuses: list[Element]) -> Iterator[Finding]:
    wiring = case.circuit.wiring
    unseen = _unseen(wiring, fuses)
    late = [f for f in fuses if _poles(wiring, f) and switches(case, wiring.fuses[f.ref].ahead)]
    ahead = switches(case, [*unseen, *(e for f in late for e in wiring.fuses[f.ref].ahead)])
    branches = sorted(
        (part for part in parts_of(case, unseen) if part.ref not in ahead), key=lambda p: p.span
    )
    if branches:
        refs = listed(part.ref for part in branches)
        hot = " or ".join(sorted(wiring.hot))
        said = f"on a way from {hot} to the other pin that passes no fuse: {refs}"
        yield _finding(
            case, parts_of(case, fuses), branches,
            f"behind a branch: what leaves the lead ahead is not protected ({refs})",
            "to the plug's end of the hot lead, ahead of every branch",
            calc=[Calculation("parts not protected", len(branches), "", 0.0, said)],
        )  # fmt: skip
    elif ahead:
        before = [part for ref in ahead if (part := case.chassis.part(ref)) is not None]
        which, one = ("switch", "the switch") if len(ahead) == 1 else ("switches", "a switch")
        yield _finding(
            case, parts_of(case, late or fuses), before,
            f"behind the {which} {listed(ahead)}: a short in {one} or its wires is not cleared",
            f"between the plug and {ahead[0]}",
            # Nothing more can be touched than before: what burns is the switch and its wires.
            harm=Harm.DAMAGE,
        )  # fmt: skip


def _unseen(wiring: Wiring, fuses: list[Element]) -> tuple[Element, ...]:
    """What still carries line current whichever of the fuses opens."""
    first, *rest = (wiring.fuses[fuse.ref].unprotected for fuse in fuses)
    own = {fuse.ref for fuse in fuses}
    return tuple(e for e in first if e.ref not in own and all(e in more for more in rest))


def _finding(
    case: Case,
    fuses: tuple[Part, ...],
    ahead: Sequence[Part],
    place: str,
    move: str,
    *,
    harm: Harm = Harm.SHOCK,
    calc: Sequence[Calculation] = (),
) -> Finding:
    first, *more = fuses
    own = listed(part.ref for part in fuses)
    related = [Related(part.ref_span or part.span, "placed in the same way") for part in more]
    related += [Related(part.ref_span or part.span, f"not protected by {own}") for part in ahead]
    return case.finding(
        f"{listed(named(part) for part in fuses)} {'is' if not more else 'are'} {place}",
        first.ref_span or first.span,
        harm=harm,
        parts=[part.ref for part in (*fuses, *ahead)],
        nodes=[net for part in fuses for e in case.circuit.wiring.of(part.ref) for net in e.nets],
        related=related,
        calc=calc,
        action=f"move {own} {move}",
    )
