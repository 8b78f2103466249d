"""What stands for a field coil differs from it.

Why: The field of an electrodynamic speaker drops the supply and filters it at once. A resistor of
its ohms keeps the volts, turns as many watts into heat, and filters far less: the hum rises unless
the second capacitor grows. A choke filters, and drops less: every volt of the set rises.
False alarm: The missing ohms stand elsewhere as a resistor of their own, or the hum is too low to
hear: accept it. `policy field-substitute ripple` sets the ripple that is told. Some fit twice the
watts that are computed (about 10 W), others 25 W: `policy field-substitute watts 25`.
Source: a resistor within a tenth of the field's ohms, 10 W (enough by some) to 25 W, and a larger
second capacitor, the first kept: philcoradio.com forum posts 164135, 7546 and 1655; ripple of the
supply: solved, and divided by reactances (elementary AC theory); 10 H where a field's henries are
not stated: from memory; a fifth of a per cent of ripple: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._before import as_it_was, case_of, why_not
from netcheck.rules._fields import (
    WATTS_OPTION,
    Swap,
    field_swaps,
    watts_asked,
    watts_to_fit,
)
from netcheck.rules._operating import NOMINAL, line_high, tried
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point, SupplyPoint

_TYPICAL_H = 10.0  # from memory
_OHMS_OFF, _VOLTS_OFF = 0.1, 0.1
_TWICE_AT_LEAST = 2.001  # more watts than twice the heat: the flat figure of the policy asks

_SET = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 1/2 A 250 V slow: LINE to FUSED
T1 power, primary 6 ohm, high 300-0-300 V 80 mA 180 ohm each, heater 6.3 V 2 A,
   rectifier 5 V 2 A: primary FUSED to COLD, high HA to CHASSIS to HB, heater H to CHASSIS,
   rectifier B+ to FIL
V5 80: plate1 HA, plate2 HB, filament B+ to FIL
C16 8 mfd 525 V electrolytic, new: + B+, - CHASSIS
C17 {second} mfd 525 V electrolytic, new: + B2, - CHASSIS
V4 6F6: plate T2.plate, screen B2, grid DRIVE, cathode K, shell CHASSIS, heater H to CHASSIS
T2 output, 7000 ohm to 4 ohm, primary 400 ohm: primary B2 to T2.plate, secondary VC to VCR
LS1 4 ohm: VC to VCR
R4 410 ohm 2 W: K to CHASSIS
R16 470K 1/2 W, new: DRIVE to CHASSIS
Z1 load 20 mA: B2 to CHASSIS
"""


@rule(
    harm=Harm.DAMAGE,
    options={
        "ripple": Option(
            "0.2", ("0.1", "0.2", "0.5"), "per cent of ripple behind the substitute that is told"
        ),
        "watts": WATTS_OPTION,
    },
    bad=(
        Example(
            _SET.format(second="8")
            + "R30 1500 ohm 25 W wirewound, replaces 1500 ohm field: B+ to B2   # <-\n",
            "of ripple to B2",
        ),
        Example(
            _SET.format(second="16")
            + "L5 choke, 10 H 250 ohm, replaces field, 1500 ohm: B+ to B2   # <-\n",
            "where the field dropped",
        ),
        Example(
            _SET.format(second="100") + "L5 field, 1500 ohm, removed: B+ to B2\n"
            "R30 470 ohm 25 W wirewound, new: B+ to B2   # <-\n",
            "where the field dropped",
        ),
        Example(
            _SET.format(second="68")
            + "R30 1500 ohm 7 W wirewound, replaces 1500 ohm field: B+ to B2   # <-\n",
            "is rated 7 W, less than twice",
        ),
        Example(
            "policy field-substitute watts 25\n"
            + _SET.format(second="68")
            + "R30 1500 ohm 10 W wirewound, replaces 1500 ohm field: B+ to B2   # <-\n",
            "is rated 10 W, less than the 25 W",
        ),
    ),
    good=(
        _SET.format(second="68")
        + "R30 1500 ohm 10 W wirewound, replaces 1500 ohm field: B+ to B2\n",
        _SET.format(second="68")
        + "R30 1500 ohm 25 W wirewound, replaces 1500 ohm field: B+ to B2\n",
        _SET.format(second="16") + "L5 field, 1500 ohm: B+ to B2\n",
        _SET.format(second="16") + "L5 choke, 10 H 1400 ohm, replaces field, 1500 ohm: B+ to B2\n",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each substitute whose drop or ripple is not the field's."""
    swaps = list(field_swaps(case))
    if not swaps:
        return
    now, high = tried(case, [NOMINAL, line_high(case)])
    for swap in swaps:
        meant = case_of(case, as_it_was(case.chassis, {p.ref: p for p in swap.back}))
        (then,) = tried(meant, [NOMINAL])
        if isinstance(now, NotSolved) or isinstance(then, NotSolved):
            reason = why_not(now, then)
            yield case.not_checked(f"what {swap.part.ref} does: {reason}", (swap.part.ref,))
            continue
        most_w = None if isinstance(high, NotSolved) else high.watts(swap.part.ref)
        yield from _judged(case, swap, now, then, most_w)


def _judged(
    case: Case, swap: Swap, now: Point, then: Point, most_w: float | None
) -> Iterator[Finding | NotChecked]:
    drop, meant = now.between(*swap.nets), then.between(*swap.nets)
    ohm = swap.part.value("resistance")
    if drop is None or meant is None or ohm is None or swap.ohm is None:
        yield case.not_checked(f"the ohms or volts of {swap.part.ref} or of the field are not "
                               "known", (swap.part.ref,))  # fmt: skip
        return
    drop, meant = abs(drop), abs(meant)
    off = abs(ohm / swap.ohm - 1) > _OHMS_OFF and abs(drop - meant) > _VOLTS_OFF * meant
    hum = _hum(case, swap, now)
    limit = float(case.option("ripple")) / 100
    loud = hum is not None and hum.volts > limit * hum.rail_v and hum.volts > 2 * hum.before_v
    weak = _weak(case, swap.part, now.watts(swap.part.ref), most_w)
    said = []
    if off:
        said.append(f"drops {amount(drop, 'V')} where the field dropped {amount(meant, 'V')}")
    if hum is not None and loud:
        said.append(f"leaves {amount(hum.volts, 'V')} rms of ripple to {hum.net}")
    if weak:
        said.append(weak)
    if said:
        faults = _Faults(off=off, loud=loud, weak=bool(weak), said=listed(said))
        fit_w = _heat_of_equal(swap, now, then, drop, meant, ohm)
        yield _finding(case, swap, now, (drop, meant, ohm), hum, faults, fit_w)


def _heat_of_equal(
    swap: Swap, now: Point, then: Point, drop: float, meant: float, ohm: float
) -> float:
    """The watts of a resistor with the field's ohms there: its current lies between the two solved.

    The solved field is warm, and so has more ohms than are stated for it.
    """
    field_ohm = swap.ohm or 0.0
    now_a, field_w = drop / ohm, then.watts(swap.back[0].ref)
    if not field_w or not meant:
        return now_a**2 * field_ohm
    then_a = field_w / meant
    warm_ohm = meant / then_a
    share = (field_ohm - ohm) / (warm_ohm - ohm) if warm_ohm != ohm else 0.0
    return (now_a + share * (then_a - now_a)) ** 2 * field_ohm


@dataclass(frozen=True, slots=True)
class _Faults:
    """What is wrong with a substitute, and all of it in words."""

    off: bool
    loud: bool
    weak: bool
    said: str


def _weak(case: Case, part: Part, heat_w: float | None, most_w: float | None) -> str:
    """That a resistor has fewer watts than the policy asks, "" if it has them."""
    rated = part.value("power")
    if part.kind != "resistor" or not rated or heat_w is None:
        return ""
    if rated < max(heat_w, most_w or 0.0):
        return ""  # `dissipation` tells that it burns
    asked = watts_asked(case, heat_w)
    if rated >= asked:
        return ""
    twice = asked > heat_w * _TWICE_AT_LEAST
    asked_said = f"the {amount(asked, 'W')} asked" if twice else "twice"
    more = f", and makes {amount(heat_w, 'W')}" if twice else f" the {amount(heat_w, 'W')} it makes"
    return f"is rated {amount(rated, 'W')}, less than {asked_said}{more}"


# --- ripple behind it


@dataclass(frozen=True, slots=True)
class _Hum:
    """Ripple rms behind the substitute and behind the field, at the net it filters."""

    net: str
    volts: float
    before_v: float
    rail_v: float
    farad: float
    hertz: float
    first_v: float


def _hum(case: Case, swap: Swap, now: Point) -> _Hum | None:
    """Ripple of the reservoir divided by the substitute and the second capacitor."""
    for supply in now.supplies:
        found = _second(case, swap, supply)
        ohm, henry = swap.part.value("resistance"), swap.part.value("inductance") or 0.0
        cycle = supply.cycle
        if found is None or ohm is None or swap.ohm is None or not cycle.settled.all():
            continue
        net, farad, rail_v = found
        first_v = float(cycle.harmonic_v[0, 0, 0])
        hertz = float(cycle.ripple_hz.ravel()[0])
        if swap.part.kind == "coil" and not henry:
            henry = _TYPICAL_H
        own = first_v * _left(ohm, henry, farad, hertz)
        before = first_v * _left(swap.ohm, swap.henry or _TYPICAL_H, farad, hertz)
        return _Hum(net, own, before, rail_v, farad, hertz, first_v)
    return None


def _left(ohm: float, henry: float, farad: float, hertz: float) -> float:
    """What a series R and L with a capacitor behind leave of a ripple."""
    omega = 2 * math.pi * hertz
    shunt = 1 / (1j * omega * farad)
    return abs(shunt / (ohm + 1j * omega * henry + shunt))


def _second(case: Case, swap: Swap, supply: SupplyPoint) -> tuple[str, float, float] | None:
    """The net behind the substitute, the farads there, and its volts; None if not so placed."""
    wiring = case.circuit.wiring
    plus, minus = supply.source.plus, supply.source.minus
    if {e.ref for e in supply.source.reservoir.series} & {swap.part.ref}:
        return None  # before the reservoir: it is a choke input, and no second section
    for near, far in (swap.nets, swap.nets[::-1]):
        other = minus if near == plus else plus if near == minus else None
        if other is None:
            continue
        farad = 0.0
        for e in wiring.at(far):
            part = case.chassis.part(e.ref)
            high = e.kind is Kind.CAPACITOR and wiring.supply.is_large(e)
            ends = {other} | (wiring.returns if near == plus else frozenset())
            if high and part is not None and e.other(far) in ends:
                farad += part.value("capacitance") or 0.0
        if farad:
            return far, farad, abs(supply.volts)
    return None


def _finding(
    case: Case, swap: Swap, now: Point, figures: tuple[float, float, float], hum: _Hum | None,
    faults: _Faults, fit_w: float,
) -> Finding:  # fmt: skip
    drop, meant, ohm = figures
    part, field_ohm = swap.part, swap.ohm or 0.0
    watts = now.watts(part.ref) or 0.0
    most_v = float(case.option("ripple")) / 100 * (hum.rail_v if hum is not None else 0.0)
    rated = part.value("power")
    heat = f"solved; {amount(watts_asked(case, watts), 'W')} asked" if faults.weak else "solved"
    calc = [
        Calculation(f"volts across {part.ref}", drop, "V", meant,
                    f"solved; {amount(ohm, 'ohm')} for the field's {amount(field_ohm, 'ohm')}"),
        Calculation(f"watts in {part.ref}", watts, "W", rated, heat),
    ]  # fmt: skip
    if hum is not None:
        calc.append(
            Calculation(
                f"ripple at {hum.net}", hum.volts, "V", most_v,
                f"{amount(hum.first_v, 'V')} rms at {amount(hum.hertz, 'Hz')} before it, "
                f"{amount(hum.farad, 'F')} behind it; the field left {amount(hum.before_v, 'V')}",
            )
        )  # fmt: skip
    return case.finding(
        f"{named(part)}, in place of a field coil, {faults.said}",
        part.ref_span or part.span,
        harm=_harm(faults, less=drop < meant),
        parts=(part.ref,),
        nodes=swap.nets,
        related=[
            Related(p.ref_span or p.span, f"{named(p)} is not there")
            for p in case.chassis.parts
            if not p.fitted and p.ref in {b.ref for b in swap.back}
        ],
        state=NOMINAL.name,
        calc=calc,
        action="; ".join(_actions(case, swap, hum, (ohm, watts, fit_w), most_v, faults)),
    )


def _harm(faults: _Faults, *, less: bool) -> Harm:
    if faults.off and less:
        return Harm.DAMAGE
    return Harm.PERFORMANCE if faults.off or faults.loud else Harm.RECORD


def _actions(
    case: Case, swap: Swap, hum: _Hum | None, figures: tuple[float, float, float], most_v: float,
    faults: _Faults,
) -> Iterator[str]:  # fmt: skip
    """What to do: about the ohms (and the watts with them), else the watts, else the ripple."""
    ref, field_ohm = swap.part.ref, swap.ohm or 0.0
    ohm, watts, fit_w = figures
    if faults.off and swap.part.kind == "coil" and ohm < field_ohm:
        more = field_ohm - ohm
        heat = watts_to_fit(case, more * watts / ohm if ohm else 0.0)
        yield f"put {amount(more, 'ohm')} of {amount(heat, 'W')} in series with {ref}"
    elif faults.off or faults.weak:
        fit_ohm, heat = (field_ohm, fit_w) if faults.off else (ohm, watts)
        yield f"fit {amount(fit_ohm, 'ohm')} of {amount(watts_to_fit(case, heat), 'W')} as {ref}"
    if faults.loud and not faults.off and hum is not None:
        wanted = 1.1 * hum.farad * hum.volts / most_v  # a little more, so that it falls below
        yield (
            f"fit {amount(float(f'{wanted:.2g}'), 'F')} or more at {hum.net} (the first capacitor "
            "stays as it is), or a choke of 10 H with the ohms made up"
        )
