"""Too many volts between heater and cathode of a tube.

Why: A heater is insulated from its cathode by a thin coat of alumina. Volts over the published
maximum leak through it as hum and end in a short, which in a string puts line volts on the cathode
and darkens what follows. In a string the order counts: rectifier at the live end, detector at B-.
False alarm: Up to a tenth over a maximum is performance only: the computed volts are not better.
Cathodes are taken without their signal and hum. A tube in a new place in the string: accept it once
it has been found quiet.
Source: maxima of the tube data (`netcheck tube TYPE` names each source), counted as peaks of either
polarity at the highest line: from memory (heater-cathode ratings are peak values, RCA Receiving
Tube Manual); order of a string: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._heaters import HIGH, line_points
from netcheck.rules._operating import line_high, tried
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.line_side import LinePoint
    from netcheck.circuit.operating import Point

_SLIGHTLY = 1.1

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


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(_STRING.format(tubes=_HIGH_END), "V3 (12SQ7) has 124 V peak"),
        Example(
            _FOLLOWER.format(tail="47K", foot="100K", mark="   # <-"),
            "between heater and cathode",
        ),
    ),
    good=(
        _STRING.format(tubes=_LOW_END),
        _FOLLOWER.format(tail="22K", foot="33K", mark=""),
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield one finding for all tubes over their maximum, and say which were not judged."""
    heated = [p for p in _bulbs(case) if _heaters(case, p)]
    if not heated:
        return
    (point,) = tried(case, [line_high(case)])
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
        yield _finding(case, sorted(found, key=lambda b: -b.ratio))
    if unknown:
        said = f"the volts of heater or cathode of {listed(unknown)} are not known"
        yield case.not_checked(said, unknown)
    if unlimited:
        yield case.not_checked(f"no maximum between heater and cathode is known of "
                               f"{listed(unlimited)}")  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Between:
    """Peak volts of a heater over its cathode, and under it, at the highest line."""

    part: Part
    over_v: float
    under_v: float
    cathode_v: float

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

    @property
    def words(self) -> str:
        """In which sense the worse peak stands."""
        return "above" if self.over_v >= self.under_v else "below"


def _bulbs(case: Case) -> list[Part]:
    """One part of each bulb with a cathode of its own."""
    found: dict[str, Part] = {}
    for part in case.chassis.of_kind("tube"):
        if part.fitted and part.tube is not None and part.tube.heating == "indirect":
            found.setdefault(part.body_ref, part)
    return list(found.values())


def _refs(case: Case, part: Part) -> list[str]:
    return [p.ref for p in case.chassis.of_kind("tube") if p.body_ref == part.body_ref]


def _heaters(case: Case, part: Part) -> list[Element]:
    wiring = case.circuit.wiring
    return [e for ref in _refs(case, part) for e in wiring.of(ref) if e.kind is Kind.HEATER]


def _cathodes(case: Case, part: Part) -> list[str]:
    refs = set(_refs(case, part))
    return [
        e.net for e in case.circuit.wiring.electrodes
        if e.ref in refs and e.duty == "cathode" and not e.name.startswith("heater")
    ]  # fmt: skip


def _between(case: Case, part: Part, point: Point, line: LinePoint | NotSolved) -> _Between | None:
    cathodes = [point.volts(net) for net in dict.fromkeys(_cathodes(case, part))]
    known = [v for v in cathodes if v is not None]
    ends = [_extremes(net, point, line) for e in _heaters(case, part) for net in e.nets]
    if not known or None in ends or len(known) < len(cathodes):
        return None
    low = min(end[0] for end in ends if end is not None)
    high = max(end[1] for end in ends if end is not None)
    over = max(high - v for v in known)
    under = max(v - low for v in known)
    worst_of = min(known) if over >= under else max(known)
    return _Between(part, over, under, worst_of)


def _extremes(net: str, point: Point, line: LinePoint | NotSolved) -> tuple[float, float] | None:
    """The lowest and highest volts of one end of a heater against where is measured from."""
    reference = point.model.reference
    if isinstance(line, NotSolved) or net not in line.nets:
        volts = point.volts(net)
        return None if volts is None else (volts, volts)
    wave = line.wave(net, reference)
    if wave is not None:
        return float(wave.min()), float(wave.max())
    held = line.held_by(net)
    wave = None if held is None else line.wave(net, held)
    level = None if held is None else point.volts(held)
    if wave is None or level is None:
        return None
    return float(wave.min()) + level, float(wave.max()) + level


def _finding(case: Case, found: list[_Between]) -> Finding:
    first, *others = found
    also = f"; {listed(b.part.ref for b in others)} too" if others else ""
    return case.finding(
        f"{named(first.part)} has {amount(first.worst, 'V')} peak between heater and cathode at "
        f"the highest line (at most {amount(first.limit, 'V')}){also}",
        first.part.span_of("type"),
        harm=Harm.DAMAGE if first.ratio > _SLIGHTLY else Harm.PERFORMANCE,
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
        action="move the tube towards B- in the string, or give its heater a supply of its own",
    )


def _sum(b: _Between) -> Calculation:
    cathode = amount(round(b.cathode_v, 3), "V")
    return Calculation(
        f"heater to cathode of {b.part.ref}", b.worst, "V", b.limit,
        f"peak of the heater {b.words} its cathode at {cathode}; the other way "
        f"{amount(min(b.over_v, b.under_v), 'V')}",
    )  # fmt: skip
