"""A resistor turns more watts into heat than rated.

Why: A resistor over its watts chars, drifts and opens, or sets fire to what is beside it. One above
half of them runs too hot to touch inside a cabinet, and composition parts then drift.
False alarm: A rating written from the wrong part; a metal-clad part whose printed watts hold for
each section. The note about the half is a practice, not a limit: `policy dissipation half off`.
Source: P = I x I x R; running at no more than half the rating in an enclosed set: from memory.
A surge resistor is judged by the rms current of the rectifier's cycle; where other alternating
current flows the watts are not judged.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Role
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._operating import NOMINAL, line_high, tried
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

_LOAD = "line none\nhold B+ 250 V\nZ1 load 20 mA: B2 to B-\n"
# Resistors that carry the line's or a winding's current, which is not solved here.
_ALTERNATING = (Role.HEATER_DROPPER, Role.HEATER_SHUNT, Role.SURGE)


@rule(
    harm=Harm.DAMAGE,
    options={"half": Option("on", ("on", "off"), "a note on resistors above half their watts")},
    bad=(
        Example(_LOAD + "R10 2.2K 1/2 W: B+ to B2  # <-\n", "R10 (2.2K 1/2 W) turns 0.88 W"),
        Example(_LOAD + "R10 1K 1/2 W: B+ to B2  # <-\n", "above half of its 0.5 W"),
        Example(
            _LOAD + "R10 1K 1 W: B+ to B2\nR11 22K 2 W: B+ to B-  # <-\n", "R11 (22K 2 W)"
        ),
    ),
    good=(
        _LOAD + "R10 1K 1 W: B+ to B2\n",
        "policy dissipation half off\n" + _LOAD + "R10 1K 1/2 W: B+ to B2\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each resistor over its watts, and one for all above half of them."""
    nominal, high = tried(case, [NOMINAL, line_high(case)])
    if isinstance(nominal, NotSolved):
        raise nominal
    if isinstance(high, NotSolved):
        yield case.not_checked(high.reason)
        high = nominal
    half = []
    alternating = []
    for part in case.chassis.of_kind("resistor"):
        hot = _hot(case, part, nominal, high)
        if hot is None:
            alternating += [part.ref] if part.value("power") and _role(case, part) else []
            continue
        if max(hot.nominal_w, hot.high_w) > hot.rated_w:
            yield _over(case, hot)
        elif hot.nominal_w > hot.rated_w / 2:
            half.append(hot)
    if half and case.option("half") == "on":
        yield _halves(case, half)
    if alternating:
        said = listed(alternating)
        yield case.not_checked(f"alternating current flows in {said}: not solved", alternating)


@dataclass(frozen=True, slots=True)
class _Hot:
    """A resistor's watts at the nominal and at the highest line, and its rating."""

    part: Part
    rated_w: float
    nominal_w: float
    high_w: float
    amperes: float

    def calculations(self) -> list[Calculation]:
        """Both figures against the rating."""
        ref = self.part.ref
        said = f"solved; {amount(abs(self.amperes), 'A')} through it"
        found = [Calculation(f"watts in {ref}", self.nominal_w, "W", self.rated_w, said)]
        if self.high_w != self.nominal_w:
            name = f"watts in {ref}, line high"
            found.append(Calculation(name, self.high_w, "W", self.rated_w, "solved"))
        return found


def _hot(case: Case, part: Part, nominal: Point, high: Point) -> _Hot | None:
    """A resistor's watts, None where they are not known."""
    rated = part.value("power")
    if not rated:
        return None
    now, then = _heat(case, part, nominal), _heat(case, part, high)
    return None if now is None or then is None else _Hot(part, rated, now[0], then[0], now[1])


def _heat(case: Case, part: Part, point: Point) -> tuple[float, float] | None:
    """Watts and amperes of a resistor at a point; None where they are not solved."""
    if _role(case, part) is Role.SURGE:
        return _surge(case, part, point)
    watts, amperes = point.watts(part.ref), point.amperes(part.ref)
    if watts is None or amperes is None:
        return None
    # In a string on alternating current the direct current is nil; on direct current it is all.
    return None if _role(case, part) and abs(amperes) < _DIRECT_A else (watts, amperes)


_DIRECT_A = 1e-3


def _role(case: Case, part: Part) -> Role | None:
    """The role of a resistor in which alternating current may flow, else None."""
    role = case.circuit.wiring.role_of(part.ref)
    return role if role in _ALTERNATING else None


def _surge(case: Case, part: Part, point: Point) -> tuple[float, float] | None:
    """A surge resistor right at the plate of a rectifier: rms plate current of the cycle."""
    elements, ohm = case.circuit.wiring.of(part.ref), part.value("resistance")
    for supply in point.supplies:
        plates = {arm.a for arm in supply.source.arms}
        if ohm and len(plates) == 1 and elements and plates & set(elements[0].nets):
            rms_a = float(supply.cycle.source_rms_a.ravel()[0])
            return rms_a * rms_a * ohm, rms_a
    return None


def _over(case: Case, hot: _Hot) -> Finding:
    always = hot.nominal_w > hot.rated_w
    watts = hot.nominal_w if always else hot.high_w
    when = "" if always else " at the highest line"
    return case.finding(
        f"{named(hot.part)} turns {amount(watts, 'W')} into heat{when}, rated "
        f"{amount(hot.rated_w, 'W')}",
        hot.part.span_of("power"),
        parts=(hot.part.ref,),
        state=(NOMINAL if always else line_high(case)).name,
        calc=hot.calculations(),
        action=f"fit a {hot.part.ref} of {amount(2 * watts, 'W')} or more, or find what draws the "
        "current",
    )


def _halves(case: Case, hots: list[_Hot]) -> Finding:
    first, *others = hots
    rest = f"; {listed(h.part.ref for h in others)} too" if others else ""
    return case.finding(
        f"{named(first.part)} turns {amount(first.nominal_w, 'W')} into heat, above half of its "
        f"{amount(first.rated_w, 'W')}{rest}",
        first.part.span_of("power"),
        parts=[h.part.ref for h in hots],
        harm=Harm.RECORD,
        state=NOMINAL.name,
        related=[
            Related(
                h.part.span_of("power"),
                f"{named(h.part)}: {amount(h.nominal_w, 'W')} of {amount(h.rated_w, 'W')}",
            )
            for h in others
        ],
        calc=[each for h in hots for each in h.calculations()],
        action="where one of them is replaced, fit the next larger size",
    )
