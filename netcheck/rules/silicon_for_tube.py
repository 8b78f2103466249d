"""Silicon in place of a rectifier tube or selenium.

Why: Silicon drops a volt where the old rectifier dropped ten to sixty: B+ rises, in the filament
string of a three-way set too. It delivers at once, so that capacitors stand at the peak until the
tubes are warm. And where the tube's heater was part of a series string, its volts now fall on the
others.
False alarm: A resistor that makes up for the drop stands elsewhere, or the higher volts are meant:
accept it. `policy silicon-for-tube limit` sets how far B+ may rise.
Source: a resistor beside the new diode: studylib.net doc 18253712, ab1dq.com 2020 (a three-way
string over-volted without it); 10 % as what a line at its highest does too: common practice, no
source; both sets are solved, the drop of the old rectifier as in the tube data; heaters as rated
volts over amperes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from netcheck.catalog.tubes import find_tube
from netcheck.circuit.wiring import Kind, Role
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Condition, Part, TubeType
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._before import as_it_was, case_of, tube_in_place_of, why_not
from netcheck.rules._filaments import filaments_of
from netcheck.rules._operating import NOMINAL, no_load, tried
from netcheck.rules._silicon import bridge_for_tube, resistor_to_fit
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.chassis import Chassis
    from netcheck.circuit.operating import Point, SupplyPoint

# Heaters within 5 % are as published, filaments within 10 (common practice, no source).
_STRING_OVER, _FILAMENT_OVER = 1.05, 1.1

_SET = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to FUSED
C1 47 mfd 250 V electrolytic, new: + B1, - B-
R10 1.2K 5 W: B1 to B2
Z1 load 15 mA: B2 to B-
"""
_STRING = """
V4 50C5: plate T2.plate, screen B2, g1 DRIVE, cathode KOUT, heater H4 to H3
V3 12AV6: plate V3.plate, grid VOL, cathode B-, diode1 open, diode2 open, heater H3 to H2
V2 12BA6: plate B2, screen B2, suppressor B-, grid SIG, cathode K2, heater H2 to B-
T2 output, 2500 ohm to 3.2 ohm, primary 190 ohm: primary B1 to T2.plate, secondary VC to VCR
LS1 3.2 ohm: VC to VCR
R7 470K 1/2 W, new: B2 to V3.plate
R8 10M 1/2 W, new: VOL to B-
R9 470K 1/2 W, new: DRIVE to B-
R4 470K 1/2 W, new: SIG to B-
R12 150 ohm 1 W: KOUT to B-
R3 180 ohm 1 W: K2 to B-
"""


@rule(
    harm=Harm.DAMAGE,
    options={
        "limit": Option("10", ("5", "10", "15"), "by how many per cent B+ may rise")
    },
    bad=(
        Example(
            _SET + _STRING
            + "CR1 silicon 1000 V 1 A, replaces 35W4: anode FUSED, cathode B1   # <-\n"
            "R5 280 ohm 10 W: FUSED to H4\n",
            "where the 35W4 gave",
        ),
        Example(
            _SET + "CR1 silicon 1000 V 1 A, replaces selenium 130 VAC 75 mA: anode FUSED, "
            "cathode B1   # <-\nZ2 load 60 mA: B1 to B-\n",
            "where the selenium gave",
        ),
        Example(
            _SET + _STRING
            + "CR1 silicon 1000 V 1 A, new: anode SURGE, cathode B1   # <-\n"
            "R6 100 ohm 5 W, new: FUSED to SURGE\n"
            "V5 35W4, removed: plate SURGE, cathode B1, heater FUSED to open to H4\n"
            "R5 47 ohm 10 W, new: FUSED to H4\n",
            "the heaters in series",
        ),
    ),
    good=(
        _SET + "CR1 silicon 1000 V 1 A, replaces selenium 130 VAC 75 mA: anode SURGE, "
        "cathode B1\nR6 82 ohm 5 W, new: FUSED to SURGE\nZ2 load 50 mA: B1 to B-\n",
        _SET + "CR1 silicon 1000 V 1 A, replaces silicon 400 V 1 A: anode SURGE, cathode B1\n"
        "R6 22 ohm 2 W: FUSED to SURGE\nZ2 load 50 mA: B1 to B-\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each supply that silicon makes higher, or whose string it shortens."""
    for bridge in bridge_for_tube(case):
        yield case.not_checked(
            f"what {bridge.ref} does to B+: a bridge in place of a tube is another circuit",
            (bridge.ref,),
        )
    swaps = list(_swaps(case))
    if not swaps:
        return
    before = _before(case, swaps)
    now_state, then_state = NOMINAL, no_load(case)
    now, cold = tried(case, [now_state, then_state])
    (then,) = tried(case_of(case, before), [NOMINAL])
    for swap in swaps:
        rise = None
        if isinstance(now, NotSolved) or isinstance(then, NotSolved):
            reason = why_not(now, then)
            yield case.not_checked(f"what {swap.diode.ref} does to B+: {reason}", (swap.diode.ref,))
        else:
            own, old = _supply(now.supplies, swap), _supply(then.supplies, swap)
            if own is None or old is None:
                yield case.not_checked(f"the supply of {swap.diode.ref} is not known before and "
                                       "after", (swap.diode.ref,))  # fmt: skip
            else:
                idle = None if isinstance(cold, NotSolved) else _supply(cold.supplies, swap)
                rise = _Rise(own, old, idle, _filament(case, now, then))
        string = _string(case, swap) if swap.tube is not None else None
        yield from _judged(case, swap, rise, string)


@dataclass(frozen=True, slots=True)
class _Swap:
    """A silicon diode, what stood there, and the old part as it goes into the set again.

    `tube` is the old tube's type, None for selenium; `heater` the removed tube, if it is listed.
    """

    diode: Part
    was: str
    back: tuple[Part, ...]
    tube: TubeType | None
    heater: Part | None


@dataclass(frozen=True, slots=True)
class _Rise:
    """The supply now, as it was, and now without a load."""

    now: SupplyPoint
    then: SupplyPoint
    idle: SupplyPoint | None
    filament: _Filament | None


@dataclass(frozen=True, slots=True)
class _Filament:
    """Filaments fed by the supply: their net, rated volts, volts now and before."""

    net: str
    rated_v: float
    now_v: float
    then_v: float


def _filament(case: Case, now: Point, then: Point) -> _Filament | None:
    """The net of the highest filament string on the line's supply, None without one."""
    low = case.circuit.wiring.common
    found = max(filaments_of(case).items(), key=lambda item: item[1][0], default=None)
    if found is None or low is None:
        return None
    net, (rated, _) = found
    volts, before = now.between(net, low), then.between(net, low)
    if volts is None or before is None or not rated:
        return None
    return _Filament(net, rated, volts, before)


def _swaps(case: Case) -> Iterator[_Swap]:
    """Each silicon diode that stands for another rectifier; the first of those of one supply."""
    wiring = case.circuit.wiring
    rectifying = {e.ref: e for e in wiring.rectifiers if e.kind is Kind.DIODE}
    counted: dict[str, int] = {}
    seen: set[str] = set()
    for part in case.chassis.of_kind("diode"):
        element = rectifying.get(part.ref)
        if element is None or part.description.has("selenium", "dry-disc"):
            continue
        found = _swap(case, part, counted)
        if found is not None and element.b not in seen:
            seen.add(element.b)
            yield found


def _swap(case: Case, part: Part, counted: dict[str, int]) -> _Swap | None:
    old = part.replaces
    if old is not None and old.has("selenium", "dry-disc"):
        back = replace(part, description=old, replaces=None, condition=Condition.ORIGINAL)
        was = "selenium" if old.has("selenium") else "dry disc"
        return _Swap(part, was, (back,), None, None)
    if old is not None and old.designation:
        number = counted.setdefault(old.designation, 0)
        counted[old.designation] += 1
        tube = tube_in_place_of(part, old.designation, number)
        found = find_tube(old.designation)
        return _Swap(part, old.designation, (tube,), found, None) if tube is not None else None
    for tube in () if part.is_bridge else case.chassis.parts:
        if tube.fitted or tube.tube is None or not tube.tube.is_rectifier or tube.broken:
            continue
        if part.condition is Condition.NEW and _same_place(case, part, tube):
            away = replace(part, condition=Condition.REMOVED)
            there = replace(tube, condition=Condition.ORIGINAL)
            return _Swap(part, tube.tube.name, (away, there), tube.tube, tube)
    return None


def _same_place(case: Case, diode: Part, tube: Part) -> bool:
    """Whether a removed tube has a plate and its cathode on the diode's two nets."""
    ends = {t.name: case.chassis.net(t.node) for t in diode.terminals}
    plates = {s.plate for s in tube.tube.sections} if tube.tube is not None else set()
    cathodes = {s.cathode for s in tube.tube.sections} if tube.tube is not None else set()
    nets = {t.name: case.chassis.net(t.node) for t in tube.terminals if not t.unused}
    return ends.get("anode") in {nets.get(p) for p in plates} and ends.get("cathode") in {
        nets.get(c) for c in cathodes
    }


def _before(case: Case, swaps: list[_Swap]) -> Chassis:
    """The set with the old rectifiers and without resistors that were added for the new ones."""
    parts = {part.ref: part for swap in swaps for part in swap.back}
    # Further diodes of one supply go back as the first did.
    counted: dict[str, int] = {}
    for part in case.chassis.of_kind("diode"):
        found = _swap(case, part, counted)
        if found is not None:
            parts |= {back.ref: back for back in found.back}
    added = []
    for resistor in case.chassis.of_kind("resistor"):
        if case.circuit.wiring.role_of(resistor.ref) is not Role.SURGE or not resistor.fitted:
            continue
        if resistor.replaces is not None and resistor.replaces.number("resistance"):
            old = replace(resistor, description=resistor.replaces, replaces=None, measured=None)
            parts[resistor.ref] = old
        elif resistor.condition is Condition.NEW and resistor.replaces is None:
            added.append(resistor)
    return as_it_was(case.chassis, parts, added)


def _supply(supplies: tuple[SupplyPoint, ...], swap: _Swap) -> SupplyPoint | None:
    """The supply that the diode (or the old part) feeds."""
    refs = {swap.diode.ref, *(part.ref for part in swap.back)}
    return next((s for s in supplies if refs & set(s.source.refs)), None)


# --- the heater that is gone


@dataclass(frozen=True, slots=True)
class _String:
    """Heaters in series on the line without the rectifier's: amperes now against the rated."""

    amperes: float
    rated_a: float
    lost_v: float
    wanted_ohm: float
    sum: str


def _string(case: Case, swap: _Swap) -> _String | None:
    """What flows in the series string now, None where the old heater was in none."""
    line, old = case.chassis.line, swap.tube
    if old is None or not old.heater_v or not old.heater_a or line is None or not line.volts:
        return None
    wiring = case.circuit.wiring
    wound = {net for w in wiring.supply.windings for net in w.nets} - wiring.returns
    rest_ohm, volts = 0.0, 0.0
    for part in case.chassis.of_kind("tube"):
        tube = part.tube
        heaters = [e for e in wiring.of(part.ref) if e.kind is Kind.HEATER]
        if tube is None or not heaters or any(set(e.nets) & wound for e in heaters):
            continue
        if tube.heater_a != old.heater_a or not tube.heater_v:
            return None  # mixed or parallel heaters: no series string of this current
        rest_ohm += sum(e.ohm or 0.0 for e in heaters)
        volts += tube.heater_v
    droppers = [
        part for part in case.chassis.of_kind("resistor")
        if wiring.role_of(part.ref) is Role.HEATER_DROPPER and part.fitted
    ]  # fmt: skip
    drop_ohm = sum(part.value("resistance") or 0.0 for part in droppers)
    if rest_ohm <= 0 or volts < line.volts / 4:
        return None
    amperes = line.volts / (rest_ohm + drop_ohm)
    said = f"{amount(line.volts, 'V')} / ({amount(rest_ohm, 'ohm')} of heaters"
    said += (
        f" + {amount(drop_ohm, 'ohm')} of {listed(p.ref for p in droppers)})" if droppers else ")"
    )
    wanted = line.volts / old.heater_a - rest_ohm
    return _String(amperes, old.heater_a, old.heater_v, wanted, said)


# --- the verdict


@dataclass(frozen=True, slots=True)
class _Fault:
    """One thing that silicon does: in words, in numbers, and what to do about it."""

    words: str
    calc: tuple[Calculation, ...]
    action: str


def _judged(
    case: Case, swap: _Swap, rise: _Rise | None, string: _String | None
) -> Iterator[Finding]:
    faults = [*_supplied(case, swap, rise), *_heated(swap, string)]
    if not faults:
        return
    yield case.finding(
        f"{named(swap.diode)} {' and '.join(fault.words for fault in faults)}",
        swap.diode.ref_span or swap.diode.span,
        parts=(swap.diode.ref,),
        nodes=() if rise is None else (rise.now.source.plus,),
        related=[Related(swap.heater.ref_span or swap.heater.span, f"{named(swap.heater)} is gone")]
        if swap.heater is not None else [],
        state=NOMINAL.name,
        calc=[calculation for fault in faults for calculation in fault.calc],
        action="; ".join(dict.fromkeys(fault.action for fault in faults)),
    )  # fmt: skip


def _supplied(case: Case, swap: _Swap, rise: _Rise | None) -> Iterator[_Fault]:
    """B+ over what it was, and filaments that hang on the supply over their volts."""
    if rise is None or not rise.then.volts:
        return
    limit = float(case.option("limit")) / 100
    share = rise.now.volts / rise.then.volts - 1
    if share > limit:
        yield _Fault(
            f"gives {amount(rise.now.volts, 'V')} where the {swap.was} gave "
            f"{amount(rise.then.volts, 'V')} ({share * 100:+.0f} %)",
            tuple(_rises(case, swap, rise, limit)),
            resistor_to_fit(rise.now, rise.then.volts, rise.then.amperes),
        )
    lit = rise.filament
    if lit is not None and lit.now_v > max(lit.rated_v * _FILAMENT_OVER, lit.then_v):
        yield _Fault(
            f"puts {amount(lit.now_v, 'V')} on the filaments at {lit.net}, rated "
            f"{amount(lit.rated_v, 'V')}",
            (Calculation(f"filaments at {lit.net}", lit.now_v, "V", lit.rated_v * _FILAMENT_OVER,
                         f"solved; {amount(lit.then_v, 'V')} with the {swap.was}"),),
            resistor_to_fit(rise.now, rise.then.volts, rise.then.amperes),
        )  # fmt: skip


def _heated(swap: _Swap, string: _String | None) -> Iterator[_Fault]:
    """The string over its current without the heater that is gone."""
    if string is None or string.amperes <= string.rated_a * _STRING_OVER:
        return
    watts = string.wanted_ohm * string.rated_a**2
    yield _Fault(
        f"leaves {amount(string.amperes, 'A')} to the heaters in series, rated "
        f"{amount(string.rated_a, 'A')}",
        (Calculation("heater current", string.amperes * 1e3, "mA", string.rated_a * 1e3,
                     string.sum),),
        f"bring the ohms in the string to {amount(string.wanted_ohm, 'ohm')} of "
        f"{amount(2 * watts, 'W')}: the heater of the {swap.was} took "
        f"{amount(string.lost_v, 'V')}",
    )  # fmt: skip


def _rises(case: Case, swap: _Swap, rise: _Rise, limit: float) -> Iterator[Calculation]:
    then = rise.then.volts
    yield Calculation(
        f"B+ at {rise.now.source.plus}", rise.now.volts, "V", then * (1 + limit),
        f"solved; {amount(then, 'V')} at {amount(rise.then.amperes, 'A')} with the {swap.was}",
    )  # fmt: skip
    quick = swap.tube is not None and swap.tube.heating == "indirect"
    stored = [case.chassis.part(ref) for ref in rise.now.source.reservoir.refs]
    rated = [v for part in stored if part is not None and (v := part.value("voltage"))]
    if quick and rise.idle is not None:
        yield Calculation(
            "B+ before the tubes are warm", rise.idle.volts, "V", min(rated, default=None),
            f"solved, {rise.idle.source.plus} without load on the highest line; the "
            f"{swap.was} warmed up with the others; limit: rating of the reservoir",
        )  # fmt: skip
