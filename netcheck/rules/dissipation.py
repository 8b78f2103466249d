"""A resistor turns more watts into heat than rated.

Why: A resistor over its watts chars, drifts and opens, or sets fire to what is beside it. One above
half of them runs too hot to touch inside a cabinet, and composition parts then drift.
False alarm: A rating written from the wrong part; a metal-clad part whose printed watts hold for
each section. The note about the half is a practice, not a limit: `policy dissipation half off`.
Source: P = I x I x R; running at no more than half the rating in an enclosed set: from memory.
Droppers, shunts of heaters and surge resistors are judged by the rms current over the line cycle,
the rectifier's pulses and the heaters' sine together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._fields import field_swaps
from netcheck.rules._heaters import HIGH, PLAIN, line_points
from netcheck.rules._operating import NOMINAL, line_high, tried
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point, SupplyPoint

_LOAD = "line none\nhold B+ 250 V\nZ1 load 20 mA: B2 to B-\n"


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
    fields = {swap.part.ref for swap in field_swaps(case)}  # `field-substitute` has their watts
    half = []
    unknown: dict[str, list[str]] = {}
    for part in case.chassis.of_kind("resistor"):
        hot = _hot(case, part, nominal, high)
        if hot is None or isinstance(hot, str):
            if hot is not None:
                unknown.setdefault(hot, []).append(part.ref)
            continue
        if max(hot.nominal_w, hot.high_w) > hot.rated_w:
            yield _over(case, hot)
        elif hot.nominal_w > hot.rated_w / 2 and part.ref not in fields:
            half.append(hot)
    if half and case.option("half") == "on":
        yield _halves(case, half)
    for why, refs in unknown.items():
        yield case.not_checked(f"watts of {listed(refs)}: {why}", refs)


@dataclass(frozen=True, slots=True)
class _Hot:
    """A resistor's watts at the nominal and at the highest line, and its rating."""

    part: Part
    rated_w: float
    nominal_w: float
    high_w: float
    amperes: float
    rms: bool

    def calculations(self) -> list[Calculation]:
        """Both figures against the rating."""
        ref = self.part.ref
        said = f"solved; {amount(abs(self.amperes), 'A')} {'rms ' if self.rms else ''}through it"
        found = [Calculation(f"watts in {ref}", self.nominal_w, "W", self.rated_w, said)]
        if self.high_w != self.nominal_w:
            name = f"watts in {ref}, line high"
            found.append(Calculation(name, self.high_w, "W", self.rated_w, "solved"))
        return found


def _hot(case: Case, part: Part, nominal: Point, high: Point) -> _Hot | str | None:
    """A resistor's watts; why they are not known; None for one without a rating or any current."""
    rated = part.value("power")
    if not rated or not part.fitted:
        return None
    now, then = _heat(case, part, nominal, PLAIN), _heat(case, part, high, HIGH)
    if now is None or then is None or isinstance(now, str) or isinstance(then, str):
        return next((each for each in (now, then) if isinstance(each, str)), None)
    return _Hot(part, rated, now.watts, then.watts, now.amperes, now.rms)


@dataclass(frozen=True, slots=True)
class _Heat:
    """Watts and amperes of a resistor in one state; rms where the line's current flows in it."""

    watts: float
    amperes: float
    rms: bool = False


def _heat(case: Case, part: Part, point: Point, state: str) -> _Heat | str | None:
    elements = case.circuit.wiring.of(part.ref)
    line = line_points(case)[state]
    if not isinstance(line, NotSolved) and any(e in line.branches for e in elements):
        watts = line.watts(part.ref)
        amperes = [line.amperes(e) for e in elements if e in line.branches]
        known = [a for a in amperes if a is not None]
        if watts is None or len(known) < len(amperes):
            nets = {net for e in elements for net in e.nets}
            return line.why_unknown(nets) or "not solved"
        return _Heat(watts, max(known), rms=True)
    for supply in point.supplies:
        ohm = part.value("resistance")
        if ohm and any(e in supply.source.reservoir.series for e in elements):
            return _before_reservoir(supply, ohm)
    watts, steady_a = point.watts(part.ref), point.amperes(part.ref)
    return None if watts is None or steady_a is None else _Heat(watts, steady_a)


def _before_reservoir(supply: SupplyPoint, ohm: float) -> _Heat | str:
    """A resistor between rectifier and reservoir: the rms of the pulses of all plates."""
    cycle = supply.cycle
    if not (cycle.settled.all() and cycle.deliverable.all()):
        return "the cycle of its rectifier is not solved"
    plates = 2.0 if supply.source.spec.kind.repeats_each_half else 1.0
    rms_a = float(cycle.plate_rms_a.ravel()[0]) * plates**0.5
    return _Heat(rms_a**2 * ohm, rms_a, rms=True)


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
        action=f"fit an {hot.part.ref} of {amount(2 * watts, 'W')} or more, or find what draws the "
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
        action=f"where {'one of them' if others else first.part.ref} is replaced, fit the next "
        "larger size",
    )
