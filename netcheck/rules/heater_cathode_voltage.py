"""Too many volts between heater and cathode of a tube.

Why: A heater is insulated from its cathode by a thin coat of alumina. Volts over the published
maximum leak through it as hum and end in a short, which in a string puts line volts on the cathode
and darkens what follows. In a string the order counts: rectifier at the live end, detector at B-.
False alarm: Up to a tenth over a maximum, or over it at the highest line only where the rating is
design-centre, is performance: the computed volts are not better. A maximum of 90 V is that of
editions that do not say whether a peak is meant, and the usual string of 50 and three times 12.6 V
goes over it as a peak (88 V rms, 124 V peak): over it as a peak only is performance too. Cathodes
are taken without signal and hum. A rectifier whose cathode is tied to its heater inside the bulb
(5V4-G, GZ34) has nothing between them: its winding stands on B+ against the chassis, and so do the
heaters of other tubes on that winding, which are judged. The cathode of a rectifier rises further
while the output tube is cold or worn out; more than a tenth over by that alone is performance.
Source: maxima of the tube data (`netcheck tube TYPE` names each source), counted as peaks of either
polarity at the highest line: from memory (later editions of the RCA Receiving Tube Manual say
peak); order of a string: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part, TubeType
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._heaters import HIGH, PLAIN, line_points
from netcheck.rules._operating import (
    NOMINAL,
    bulb_of,
    cold,
    line_high,
    output_tubes,
    tried,
)
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.line_side import LinePoint
    from netcheck.circuit.operating import Point
    from netcheck.circuit.rectify_law import Array

_SLIGHTLY = 1.1
_OLD_LIMIT_V = 90.0

_STRING = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to FUSED
V5 35Z5GT: heater FUSED to open to H5, plate ANODE, cathode B1
R1 47 ohm 2 W: FUSED to ANODE
C1 20 mfd 250 V electrolytic, new: + B1, - B-
Z1 load 20 mA: B1 to B-
R7 470K 1/2 W: B1 to V3.plate
{tubes}
"""
_HIGH_END = """V3 12SQ7: plate V3.plate, grid B-, diode1 B-, diode2 B-,   # <-
   heater H5 to H4, cathode B-
V4 50L6GT: heater H4 to H3
V2 12SK7: heater H3 to B-"""
_LOW_END = """V4 50L6GT: heater H5 to H4
V2 12SK7: heater H4 to H3
V3 12SQ7: plate V3.plate, grid B-, diode1 B-, diode2 B-, heater H3 to B-, cathode B-"""
_FOLLOWER = """line none
hold B+ 300 V
BT1 6.3 V storage A-battery, 0.01 ohm: + AIN, - B-
F1 2 A 32 V: AIN to A+
V1 6SN7GT: plate1 B+, grid1 G, cathode1 K, heater A+ to B-{mark}
R1 {tail} 2 W: K to B-
R2 100K 2 W: B+ to G
R3 {foot} 1/2 W: G to B-
"""


_TIED = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral N
F1 1 A 250 V slow: LINE to FUSED
T1 power, primary 117 V 6 ohm, high 300-0-300 V 100 mA 150 ohm each, rectifier 5 V 2 A:
   primary FUSED to N, high HTA to CHASSIS to HTB, rectifier FIL2 to B1
V5 5V4G: plate1 HTA, plate2 HTB, heater FIL2 to B1
C1 16 mfd 600 V electrolytic, new: + B1, - CHASSIS
R1 4.7K 50 W: B1 to CHASSIS
"""
_ON_IT = """V3 {tube}: plate DRIVEN, grid CHASSIS, cathode KA, heater FIL2 to B1   # <-
R3 47K 2 W: B1 to DRIVEN
R4 1K 1/2 W: KA to CHASSIS
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(_TIED + _ON_IT.format(tube="6J5"), "between heater and cathode"),
        Example(_STRING.format(tubes=_HIGH_END), "V3 (12SQ7) has 124 V peak"),
        Example(
            _FOLLOWER.format(tail="47K", foot="100K", mark="   # <-"),
            "between heater and cathode",
        ),
    ),
    good=(
        _TIED,
        _STRING.format(tubes=_LOW_END),
        _FOLLOWER.format(tail="22K", foot="33K", mark=""),
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield one finding for all tubes over their maximum, and say which were not judged."""
    heated = [p for p in _bulbs(case) if _heaters(case, p)]
    if not heated:
        return
    point, plain = tried(case, [line_high(case), NOMINAL])
    if isinstance(point, NotSolved):
        yield case.not_checked(point.reason, [p.ref for p in heated])
        return
    line = line_points(case)[HIGH]
    found: list[_Between] = []
    unknown: list[str] = []
    unlimited: list[str] = []
    for part in heated:
        limit = part.tube.limits.get("heater-cathode-v") if part.tube is not None else None
        between = _between(case, part, point, line)
        if between is None:
            unknown.append(part.ref)
        elif limit is None:
            unlimited.append(f"{named(part)} ({amount(between.worst, 'V')} peak)")
        elif between.worst > limit:
            found.append(between)
    if found:
        at_nominal = line_points(case)[PLAIN]
        certain = any(
            b.is_certain(
                None if isinstance(plain, NotSolved) else _between(case, b.part, plain, at_nominal)
            )
            for b in found
        )
        yield _finding(case, sorted(found, key=lambda b: -b.ratio), certain)
    yield from _unloaded(case, heated, {b.part.ref for b in found})
    if unknown:
        said = f"the volts of heater or cathode of {listed(unknown)} are not known"
        yield case.not_checked(said, unknown)
    if unlimited:
        yield case.not_checked(f"no maximum between heater and cathode is known of "
                               f"{listed(unlimited)}")  # fmt: skip


def _unloaded(case: Case, heated: list[Part], told: set[str]) -> Iterator[Finding | NotChecked]:
    """Rectifiers whose cathode rises when an output tube draws nothing: it is cold or worn out.

    Their cathode is the supply itself. What lasts is told before; this passes, or is heard.
    """
    limited = [
        part for part in heated
        if part.tube is not None and part.tube.is_rectifier and part.ref not in told
        and "heater-cathode-v" in part.tube.limits
    ]  # fmt: skip
    if not limited:
        return
    tubes = [bulb_of(tube) for tube in output_tubes(case)]
    states = [cold(bulb, line_high(case)) for bulb in tubes]
    line = line_points(case)[HIGH]
    worst: dict[str, tuple[_Between, str, str]] = {}
    for bulb, state, point in zip(tubes, states, tried(case, states), strict=True):
        if isinstance(point, NotSolved):
            yield case.not_checked(f"{bulb} cold: {point.reason}", [p.ref for p in limited])
            continue
        for part in limited:
            between = _between(case, part, point, line)
            before = worst.get(part.ref)
            if between is None or between.worst <= between.limit * _SLIGHTLY:
                continue
            if before is None or between.worst > before[0].worst:
                worst[part.ref] = between, bulb, state.name
    for between, bulb, name in worst.values():
        yield case.finding(
            f"{named(between.part)} has {amount(between.worst, 'V')} peak between heater and "
            f"cathode at the highest line while {bulb} is cold or worn out (at most "
            f"{amount(between.limit, 'V')})",
            between.part.span_of("type"),
            harm=Harm.PERFORMANCE,
            parts=(between.part.ref,),
            state=name,
            calc=[_sum(between)],
            action=f"see that {bulb} draws its current; give the heater of {between.part.ref} a "
            "supply of its own, joined to its cathode",
        )


@dataclass(frozen=True, slots=True)
class _Between:
    """Peak volts of a heater over its cathode, and under it, at the highest line."""

    part: Part
    over_v: float
    under_v: float
    cathode_v: float
    rms_v: float

    @property
    def worst(self) -> float:
        """The larger of both."""
        return max(self.over_v, self.under_v)

    @property
    def limit(self) -> float:
        """The published maximum (0 where there is none)."""
        return self.part.tube.limits.get("heater-cathode-v", 0.0) if self.part.tube else 0.0

    @property
    def ratio(self) -> float:
        """How far over the maximum."""
        return self.worst / self.limit if self.limit else 0.0

    def is_certain(self, nominal: _Between | None) -> bool:
        """Whether it is over the maximum in whichever way that is meant.

        A design-centre maximum is kept at the nominal line.
        """
        system = self.part.tube.rating_system if self.part.tube is not None else ""
        if nominal is not None and system not in ("design-maximum", "absolute"):
            return nominal.is_over
        return self.is_over

    @property
    def is_over(self) -> bool:
        """The same in one state."""
        peak_meant = self.limit > _OLD_LIMIT_V
        return self.rms_v > self.limit or (peak_meant and self.ratio > _SLIGHTLY)

    @property
    def words(self) -> str:
        """In which sense the worse peak stands."""
        return "above" if self.over_v >= self.under_v else "below"


def _bulbs(case: Case) -> list[Part]:
    """One part of each bulb with a cathode of its own, not tied to the heater inside."""
    found: dict[str, Part] = {}
    for part in case.chassis.of_kind("tube"):
        tube = part.tube if part.fitted else None
        if tube is not None and tube.heating == "indirect" and not _is_tied(tube):
            found.setdefault(part.body_ref, part)
    return list(found.values())


def _is_tied(tube: TubeType) -> bool:
    """Whether every cathode is one with a heater pin inside the bulb (5V4-G, GZ34)."""
    cathodes = [s.cathode for s in tube.sections if s.cathode]
    return bool(cathodes) and all(name.startswith("heater") for name in cathodes)


def _refs(case: Case, part: Part) -> list[str]:
    return [p.ref for p in case.circuit.wiring.bulbs[part.body_ref]]


def _heaters(case: Case, part: Part) -> list[Element]:
    wiring = case.circuit.wiring
    return [e for ref in _refs(case, part) for e in wiring.of(ref) if e.kind is Kind.HEATER]


def _cathodes(case: Case, part: Part) -> list[str]:
    own = case.circuit.wiring.electrodes_of
    return [
        e.net for ref in _refs(case, part) for e in own.get(ref, ())
        if e.duty == "cathode" and not e.name.startswith("heater")
    ]  # fmt: skip


def _between(case: Case, part: Part, point: Point, line: LinePoint | NotSolved) -> _Between | None:
    cathodes = [point.volts(net) for net in dict.fromkeys(_cathodes(case, part))]
    known = [v for v in cathodes if v is not None]
    found = [_end(net, point, line) for e in _heaters(case, part) for net in e.nets]
    ends = [end for end in found if end is not None]
    if not known or len(ends) < len(found) or len(known) < len(cathodes):
        return None
    over = max(end.high_v - v for end in ends for v in known)
    under = max(v - end.low_v for end in ends for v in known)
    rms = max(end.rms_from(v) for end in ends for v in known)
    return _Between(part, over, under, min(known) if over >= under else max(known), rms)


@dataclass(frozen=True, slots=True)
class _End:
    """One end of a heater over the cycle, against where is measured from."""

    low_v: float
    high_v: float
    mean_v: float
    ac_rms_v: float

    def rms_from(self, cathode_v: float) -> float:
        """Rms volts of this end against a steady cathode."""
        return math.hypot(self.mean_v - cathode_v, self.ac_rms_v)


def _end(net: str, point: Point, line: LinePoint | NotSolved) -> _End | None:
    """One end of a heater; None where it is not known."""
    if isinstance(line, NotSolved) or net not in line.nets:
        volts = point.volts(net)
        return None if volts is None else _End(volts, volts, volts, 0.0)
    held = line.held_by(net)
    if held is None:
        wave = line.wave(net, point.model.reference)
        return None if wave is None else _of_wave(wave, 0.0)
    # A winding gives the swing; the level it stands on (a tied cathode's B+) is direct current.
    wave, level_v = line.wave(net, held), point.volts(net)
    if wave is None or level_v is None:
        return None
    return _of_wave(wave - wave.mean(), level_v)


def _of_wave(wave: Array, level_v: float) -> _End:
    low, high, mean = float(wave.min()), float(wave.max()), float(wave.mean())
    return _End(low + level_v, high + level_v, mean + level_v, float(wave.std()))


def _finding(case: Case, found: list[_Between], certain: bool) -> Finding:
    first, *others = found
    also = f"; {listed(b.part.ref for b in others)} too" if others else ""
    return case.finding(
        f"{named(first.part)} has {amount(first.worst, 'V')} peak between heater and cathode at "
        f"the highest line (at most {amount(first.limit, 'V')}){also}",
        first.part.span_of("type"),
        harm=Harm.DAMAGE if certain else Harm.PERFORMANCE,
        parts=[b.part.ref for b in found],
        state="line high",
        related=[
            Related(
                b.part.span_of("type"),
                f"{named(b.part)}: {amount(b.worst, 'V')} of {amount(b.limit, 'V')}",
            )
            for b in others
        ],
        calc=[_sum(b) for b in found],
        action="move the tube towards B- in the string, or give its heater a supply of its own"
        if _in_string(case, first.part)
        else "give its heater a supply of its own, that stands on the volts of its cathode",
    )


def _in_string(case: Case, part: Part) -> bool:
    """Whether a heater is fed by the line, and by no winding or battery."""
    wiring = case.circuit.wiring
    wound = {net for w in wiring.supply.windings for net in w.nets}
    nets = {net for e in _heaters(case, part) for net in e.nets}
    return bool(wiring.line_poles) and not nets & wound


def _sum(b: _Between) -> Calculation:
    cathode = amount(round(b.cathode_v, 3), "V")
    least = min(b.over_v, b.under_v)
    other = f"the other way {amount(least, 'V')}" if least > 0 else "never the other way"
    return Calculation(
        f"heater to cathode of {b.part.ref}", b.worst, "V", b.limit,
        f"peak of the heater {b.words} its cathode at {cathode}; {other}; "
        f"{amount(b.rms_v, 'V')} rms",
    )  # fmt: skip
