"""What burns when a bypass capacitor shorts.

Why: A screen, cathode or plate bypass that fails shorted puts its resistor across the supply, or
takes a tube's bias away. Where the resistor stands it the set only falls silent; where it does
not, it burns. Knowing which is which says where a good capacitor, or a larger resistor, pays.
False alarm: This is a note on what a failure would do, not a fault: accept it, or fit a larger
resistor. Filter capacitors are left out: their short blows the fuse.
Source: P = I x I x R with the capacitor replaced by a short, solved; maxima of the tube data; a
winding at three times its current is told because its watts are not known (common practice, no
source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Role
from netcheck.findings import Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._burnt import Burnt, Comparison
from netcheck.rules._operating import NOMINAL, shorted, tried
from netcheck.rules._words import listed, named

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

_STAGE = """
line none
hold B+ 250 V
V2 6SK7: plate V2.plate, screen SCREEN, suppressor B-, grid IN, cathode K2, shell B-,
   heater H1 to B-
R2 300 ohm 1/2 W: K2 to B-
R3 1 meg 1/2 W: IN to B-
T1 IF, 455 kc, primary 10 ohm, secondary 10 ohm: primary B+ to V2.plate, secondary X to Y
"""
_OUTPUT = """
line none
hold B+ 250 V
V4 6V6GT: plate T2.plate, screen B+, g1 DRIVE, cathode KOUT, heater H1 to B-
R9 470K 1/2 W: DRIVE to B-
R12 {bias} 2 W: KOUT to B-
T2 output, 5000 ohm to 4 ohm, primary 300 ohm: primary B+ to T2.plate, secondary VC to VCR
LS1 4 ohm: VC to VCR
"""


@rule(
    harm=Harm.RECORD,
    bad=(
        Example(
            _STAGE + "R1 33K 1 W: B+ to SCREEN\nC9 .1 mfd 630 V film, new: SCREEN to B-  # <-\n",
            "R1",
        ),
        Example(
            _OUTPUT.format(bias="250 ohm")
            + "C15 22 mfd 50 V electrolytic, new: + KOUT, - B-  # <-\n",
            "V4",
        ),
    ),
    good=(
        _STAGE + "R1 68K 1 W: B+ to SCREEN\nC9 .1 mfd 630 V film, new: SCREEN to B-\n",
        _STAGE + "R1 68K 1 W: B+ to SCREEN\nC8 .1 mfd 630 V film, new: K2 to B-\n",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield one finding that lists each bypass whose short burns something, and what."""
    candidates = list(_bypasses(case))
    if not candidates:
        return
    sound, *points = tried(case, [NOMINAL, *(shorted(part.ref) for part in candidates)])
    if isinstance(sound, NotSolved):
        raise sound
    burns = Comparison(case, sound)
    found = []
    for part, point in zip(candidates, points, strict=True):
        # Across a capacitor one end of which nothing gives volts to, a short changes nothing.
        if _across(case, part, sound) is None:
            continue
        if isinstance(point, NotSolved):
            yield case.not_checked(f"{part.ref} shorted: {point.reason}", (part.ref,))
            continue
        burnt = burns.burnt_by(point)
        if burnt:
            found.append(_Short(part, burnt))
    if found:
        yield _finding(case, found)


_ROLES = (Role.SCREEN_BYPASS, Role.CATHODE_BYPASS, Role.RF_BYPASS, Role.TONE)


def _bypasses(case: Case) -> Iterator[Part]:
    """Screen, cathode, plate and decoupling bypasses across which direct volts stand."""
    wiring = case.circuit.wiring
    positive = wiring.positive | {e.net for e in wiring.electrodes if e.duty == "cathode"}
    for part in case.chassis.of_kind("capacitor"):
        elements = wiring.of(part.ref)
        if wiring.role_of(part.ref) in _ROLES and elements and set(elements[0].nets) & positive:
            yield part


def _across(case: Case, part: Part, point: Point) -> float | None:
    return point.between(*case.circuit.wiring.of(part.ref)[0].nets)


@dataclass(frozen=True, slots=True)
class _Short:
    """A bypass and what its short burns, the worst first."""

    part: Part
    burnt: tuple[Burnt, ...]


def _finding(case: Case, found: list[_Short]) -> Finding:
    first, *others = found
    burnt = first.burnt[0]
    also = [s.part.ref for s in others if s.burnt[0].part == burnt.part]
    apart = [s.part.ref for s in others if s.part.ref not in also]
    rest = f"; {listed(also)} likewise" if also else ""
    rest += f"; {listed(apart)} would burn other parts" if apart else ""
    return case.finding(
        f"{named(first.part)}, shorted, would {burnt.said}{rest}",
        first.part.ref_span or first.part.span,
        parts=[short.part.ref for short in found],
        state=shorted(first.part.ref).name,
        related=[
            Related(s.part.ref_span or s.part.span, f"{s.part.ref}, shorted, would {_list(s)}")
            for s in found
        ],
        calc=[
            b.calculation(f"{s.part.ref} shorted")
            for s in found for b in s.burnt
        ],
        action="nothing is shorted now: fit new capacitors of good make there, or larger resistors",
    )  # fmt: skip


def _list(short: _Short) -> str:
    return ", ".join(burnt.said for burnt in short.burnt)
