"""A resistor turns more watts into heat than rated.

Why: A resistor over its watts chars, drifts and opens, or sets fire to what is beside it. One above
half of them runs too hot to touch inside a cabinet, and composition parts then drift.
False alarm: A rating written from the wrong part; a metal-clad part whose printed watts hold for
each section. The note about the half is a practice, not a limit: `policy dissipation half off`.
Source: P = I x I x R; running at no more than half the rating in an enclosed set: from memory.
Droppers, shunts of heaters and surge resistors are judged by the rms current over the line cycle,
the rectifier's pulses and the heaters' sine together. So are filter resistors once the reservoir
ahead of them has dried out, and resistors beside a dial lamp once it is out; what passes in a
minute (warm-up, a cold output tube) heats no resistor through.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Role
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._fields import field_swaps
from netcheck.rules._heaters import HIGH, PLAIN, lamp_out, line_points
from netcheck.rules._operating import NOMINAL, line_high, opened, tried
from netcheck.rules._words import amount, listed, named
from netcheck.rules._worst_volts import filter_electrolytics

if TYPE_CHECKING:
    from netcheck.circuit.line_side import LinePoint
    from netcheck.circuit.operating import Point, SupplyPoint
    from netcheck.circuit.states import State

_CHARS = 2.0  # times its watts, once something else has failed (common practice, no source)
_LOAD = "line none\nhold B+ 250 V\nZ1 load 20 mA: B2 to B-\n"
_FILTER = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to FUSED
CR1 silicon 1000 V 1 A: anode SURGE, cathode B1
R1 47 ohm 5 W: FUSED to SURGE
C1 47 mfd 250 V electrolytic, new: + B1, - B-
R10 1K {watts} W: B1 to B2{mark}
C2 47 mfd 250 V electrolytic, new: + B2, - B-
Z1 load 35 mA: B2 to B-
"""
_LAMP = """line 230 V 50 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to FUSED
DS1 lamp 6.3 V 0.15 A: FUSED to H
R1 100 ohm {watts} W: FUSED to H{mark}
R2 1430 ohm 100 W: H to B-
CR1 silicon 1000 V 1 A: anode SURGE, cathode B1
R3 100 ohm 5 W: FUSED to SURGE
C1 47 mfd 450 V electrolytic, new: + B1, - B-
Z1 load 20 mA: B1 to B-
"""


@rule(
    harm=Harm.DAMAGE,
    options={"half": Option("on", ("on", "off"), "a note on resistors above half their watts")},
    bad=(
        Example(_LOAD + "R10 2.2K 1/2 W: B+ to B2  # <-\n", "R10 (2.2K 1/2 W) turns 0.88 W"),
        Example(_LOAD + "R10 1K 1/2 W: B+ to B2  # <-\n", "above half of its 0.5 W"),
        Example(
            _LOAD + "R10 1K 1 W: B+ to B2\nR11 22K 2 W: B+ to B-  # <-\n", "R11 (22K 2 W)"
        ),
        Example(_FILTER.format(watts=2, mark="  # <-"), "once C1 (47 mfd 250 V electrolytic"),
        Example(_LAMP.format(watts=1, mark="  # <-"), "once DS1 (lamp 6.3 V 0.15 A) burns out"),
    ),
    good=(
        _LOAD + "R10 1K 1 W: B+ to B2\n",
        "policy dissipation half off\n" + _LOAD + "R10 1K 1/2 W: B+ to B2\n",
        _FILTER.format(watts=10, mark=""),
        _LAMP.format(watts=5, mark=""),
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each resistor over its watts, and one for all above half of them."""
    # All states at once, those of `_reservoirs_open` too: one batch of the solver.
    opens = [state for *_, state in _reservoirs(case)]
    nominal, high, *_ = tried(case, [NOMINAL, line_high(case), *opens])
    if isinstance(nominal, NotSolved):
        raise nominal
    if isinstance(high, NotSolved):
        yield case.not_checked(high.reason)
        high = nominal
    fields = {swap.part.ref for swap in field_swaps(case)}  # `field-substitute` has their watts
    half = []
    told: set[str] = set()
    unknown: dict[str, list[str]] = {}
    rated = [p for p in case.chassis.of_kind("resistor") if p.value("power") and p.fitted]
    lines = line_points(case) if rated else {}
    for part in rated:
        hot = _hot(case, part, _At(nominal, lines[PLAIN]), _At(high, lines[HIGH]))
        if hot is None or isinstance(hot, str):
            if hot is not None:
                unknown.setdefault(hot, []).append(part.ref)
            continue
        if max(hot.nominal_w, hot.high_w) > hot.rated_w:
            told.add(part.ref)
            yield _over(case, hot)
        elif hot.nominal_w > hot.rated_w / 2 and part.ref not in fields:
            half.append(hot)
    if half and case.option("half") == "on":
        yield _halves(case, half)
    for why, refs in unknown.items():
        yield case.not_checked(f"watts of {listed(refs)}: {why}", refs)
    yield from _after_a_failure(case, told)


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


@dataclass(frozen=True, slots=True)
class _At:
    """One state of the set: what is solved of its direct currents, and of its line side."""

    point: Point
    line: LinePoint | NotSolved


def _hot(case: Case, part: Part, nominal: _At, high: _At) -> _Hot | str | None:
    """A resistor's watts; why they are not known; None for one without any current."""
    rated = part.value("power") or 0.0
    now, then = _heat(case, part, nominal), _heat(case, part, high)
    if now is None or then is None or isinstance(now, str) or isinstance(then, str):
        return next((each for each in (now, then) if isinstance(each, str)), None)
    return _Hot(part, rated, now.watts, then.watts, now.amperes, now.rms)


@dataclass(frozen=True, slots=True)
class _Heat:
    """Watts and amperes of a resistor in one state; rms where the line's current flows in it."""

    watts: float
    amperes: float
    rms: bool = False


def _heat(case: Case, part: Part, at: _At) -> _Heat | str | None:
    elements = case.circuit.wiring.of(part.ref)
    point, line = at.point, at.line
    if not isinstance(line, NotSolved) and any(e in line.branches for e in elements):
        watts = line.watts(part.ref)
        amperes = [line.amperes(e) for e in elements if e in line.branches]
        known = [a for a in amperes if a is not None]
        if watts is None or len(known) < len(amperes):
            nets = {net for e in elements for net in e.nets}
            return line.why_unknown(nets) or "not solved"
        return _Heat(watts, max(known), rms=True)
    watts, steady_a = point.watts(part.ref), point.amperes(part.ref)
    for supply in point.supplies:
        ohm = part.value("resistance")
        if ohm and steady_a and any(e in supply.source.reservoir.series for e in elements):
            return _before_reservoir(supply, ohm, abs(steady_a))
    return None if watts is None or steady_a is None else _Heat(watts, steady_a)


def _before_reservoir(supply: SupplyPoint, ohm: float, mean_a: float) -> _Heat | str:
    """A resistor between rectifier and reservoir: the rms of the pulses of all plates.

    What is drawn ahead of it does not flow through it: of pulses i less a steady current d the
    mean square is that of i, less 2 d times its mean, and d squared.
    """
    cycle = supply.cycle
    if not (cycle.settled.all() and cycle.deliverable.all()):
        return "the cycle of its rectifier is not solved"
    plates = 2.0 if supply.source.spec.kind.repeats_each_half else 1.0
    pulses_a, ahead_a = float(cycle.plate_rms_a.ravel()[0]), supply.amperes - mean_a
    rms_a = (pulses_a**2 * plates - 2 * ahead_a * supply.amperes + ahead_a**2) ** 0.5
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


# --- when another part has failed


@dataclass(frozen=True, slots=True)
class _After:
    """A resistor's watts once another part (`failed`) is open, as a lamp or electrolytic ends."""

    part: Part
    failed: Part
    heat: _Heat
    before_w: float
    state: str

    @property
    def rated_w(self) -> float:
        """The watts that the resistor is rated for."""
        return self.part.value("power") or 0.0


def _after_a_failure(case: Case, told: set[str]) -> Iterator[Finding | NotChecked]:
    """Filter resistors behind a dried-out reservoir, resistors beside a dial lamp that is out."""
    for after in (*_reservoirs_open(case), *_lamps_out(case)):
        if isinstance(after, NotChecked):
            yield after
        elif after.part.ref not in told and after.heat.watts > after.rated_w:
            yield _once_open(case, after)


def _reservoirs(case: Case) -> Iterator[tuple[Part, list[Part], State]]:
    """Each reservoir, the rated resistors beside it, and the state in which it is open."""
    high = line_high(case)
    for stored, beside in filter_electrolytics(case):
        rated = [p for p in beside if p.kind == "resistor" and p.value("power")]
        if case.circuit.wiring.role_of(stored.ref) is Role.RESERVOIR and rated:
            yield stored, rated, opened(stored.ref, high)


def _reservoirs_open(case: Case) -> Iterator[_After | NotChecked]:
    """The rectifier's whole pulses flow through what then stands before the next capacitor."""
    wanted = list(_reservoirs(case))
    if not wanted:
        return
    before, *points = tried(case, [line_high(case), *(state for *_, state in wanted)])
    line = line_points(case)[HIGH]
    for (stored, rated, state), point in zip(wanted, points, strict=True):
        if isinstance(before, NotSolved):
            continue
        if isinstance(point, NotSolved):
            yield case.not_checked(f"{stored.ref} open: {point.reason}", [p.ref for p in rated])
            continue
        for part in rated:
            now, then = (_heat(case, part, _At(each, line)) for each in (before, point))
            if isinstance(now, _Heat) and isinstance(then, _Heat) and then.watts > now.watts:
                yield _After(part, stored, then, now.watts, state.name)


def _lamps_out(case: Case) -> Iterator[_After]:
    """What a lamp leaves to the resistor across it, or to a string of which it was a part."""
    points = line_points(case)
    plain = points[PLAIN]
    for lamp in case.chassis.of_kind("lamp"):
        out = points.get(lamp_out(lamp.ref))
        if out is None or isinstance(out, NotSolved) or isinstance(plain, NotSolved):
            continue
        for part in case.chassis.of_kind("resistor"):
            own = [e for e in case.circuit.wiring.of(part.ref) if e in out.branches]
            watts, before = out.watts(part.ref), plain.watts(part.ref)
            amperes = [out.amperes(e) for e in own]
            known = [a for a in amperes if a is not None]
            if part.value("power") and watts and before is not None and watts > before and known:
                heat = _Heat(watts, max(known), rms=True)
                yield _After(part, lamp, heat, before, lamp_out(lamp.ref))


def _harm(after: _After) -> Harm:
    """Lamps burn out, and twice its watts char a resistor; of old electrolytics others tell."""
    if after.failed.kind != "lamp":
        return Harm.RECORD
    return Harm.DAMAGE if after.heat.watts > _CHARS * after.rated_w else Harm.PERFORMANCE


def _once_open(case: Case, after: _After) -> Finding:
    part, failed = after.part, after.failed
    lamp = failed.kind == "lamp"
    fails = "burns out" if lamp else "dries out and is open"
    return case.finding(
        f"once {named(failed)} {fails}, {named(part)} turns {amount(after.heat.watts, 'W')} into "
        f"heat, rated {amount(after.rated_w, 'W')}",
        part.span_of("power"),
        parts=(part.ref,),
        harm=_harm(after),
        state=after.state,
        related=[Related(failed.ref_span or failed.span, f"{named(failed)}, which fails first")],
        calc=[
            Calculation(f"watts in {part.ref}, {after.state}", after.heat.watts, "W",
                        after.rated_w, f"solved; {amount(after.heat.amperes, 'A')} rms through it; "
                        f"{amount(after.before_w, 'W')} in the sound set"),
        ],
        action=f"fit {part.ref} anew, of at least {amount(2 * after.heat.watts, 'W')}, or switch "
        "off when "
        + ("the dial goes dark" if lamp else "the set hums loudly"),
    )  # fmt: skip
