"""Comparisons of a part with the one it replaces: volts, value, watts, amperes.

Belongs here: the limits the trade keeps, each with its source, and the shortfalls of one part.
Does not belong here: how they are reported (replacement_rating.py), the reservoir's own limit.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.catalog.preferred import nearest_preferred, next_rating
from netcheck.circuit.wiring import Role
from netcheck.findings import Harm
from netcheck.parts import Part, Value
from netcheck.rules._words import amount

__all__ = ["Shortfall", "battery", "capacitance", "current", "power", "resistance", "volts"]

_ELECTROLYTIC = (0.8, 2.0)  # jbcapacitors.hk post 139; tube-love.blogspot.com March 2003
_PLAIN = (0.8, 1.2)  # coupling and the like: +-20 % (common practice, no source)
_BY_ROLE = {
    Role.TUNED: (0.98, 1.02),  # padders, tuned circuits: 2 % (common practice, no source)
    Role.BUFFER: (0.95, 1.05),  # timed to the vibrator (cool386.com radiotronics page)
    # More bypass does no harm (common practice, no source).
    Role.SCREEN_BYPASS: _ELECTROLYTIC,
    Role.CATHODE_BYPASS: _ELECTROLYTIC,
    Role.BIAS_BYPASS: _ELECTROLYTIC,
    Role.HEATER_BYPASS: _ELECTROLYTIC,
    Role.RF_BYPASS: _ELECTROLYTIC,
}
# Bounded by what a hand or the line may be given, and meant to be changed.
_SAFETY = frozenset(
    {
        Role.ACROSS_LINE, Role.ACROSS_SWITCH, Role.LINE_TO_CHASSIS, Role.COMMON_TO_CHASSIS,
        Role.ANTENNA_ISOLATION,
    }
)  # fmt: skip
# Between the line and metal: what it passes through a hand only rises as its ohms fall.
_BLEEDING = frozenset({Role.LINE_TO_CHASSIS, Role.COMMON_TO_CHASSIS})
# Too few ohms here and tubes or heaters are over-run.
_GUARDING = frozenset({Role.CATHODE_BIAS, Role.BACK_BIAS, Role.SURGE, Role.HEATER_DROPPER})
_RESISTOR = 0.2  # replaced beyond 20 % (angelfire.com funwithtubes, steps to first power on)
# A 6 V battery is called 6.3 V too; 7.5 V where 7 V was is not it (common practice, no source).
_BATTERY = 0.1
_LARGE_F = 1e-6
_ROUNDING = 1.005  # three printed digits do not decide


@dataclass(frozen=True, slots=True)
class Shortfall:
    """One way in which a part is not what it replaces: `is_` against `was`, in `unit` (SI)."""

    value: Value
    what: str
    is_: float
    was: float
    unit: str
    limit: float
    harm: Harm
    limit_words: str
    action: str


def _choices(part: Part, role: str) -> list[Value]:
    """The value of a role and its alternates after `or`: any of them may be what is fitted."""
    first = part.description.values.get(role)
    also = (v for v in part.description.alternates if v.dimension == role)
    return [v for v in (first, *also) if v is not None and v.known]


def _fitted(part: Part, role: str) -> list[Value]:
    """As `_choices`, but what was measured is what is there."""
    measured = part.measured
    if measured is not None and measured.known and measured.dimension == role:
        return [measured]
    return _choices(part, role)


def _old(part: Part, role: str) -> float | None:
    return part.replaces.number(role) if part.replaces is not None else None


def volts(part: Part) -> Iterator[Shortfall]:
    """Fewer volts than before, DC or AC, and DC volts where AC volts were.

    A capacitor with a safety class is judged by its class and place, not here.
    """
    dc, ac = _old(part, "voltage"), _old(part, "voltage-ac")
    new_dc = min(_choices(part, "voltage"), key=lambda v: v.si, default=None)
    new_ac = min(_choices(part, "voltage-ac"), key=lambda v: v.si, default=None)
    if part.description.classes:
        return
    if ac is not None and new_ac is not None:
        if new_ac.si < ac:
            yield _volts(part, new_ac, new_ac.si, ac, "V AC", "an AC rating is kept or raised")
    elif ac is not None and new_dc is not None:
        yield _volts(
            part, new_dc, new_dc.si, ac, "V AC",
            "a DC rating says nothing of the AC it stands", f"fit a part rated {ac:g} V AC or more",
        )  # fmt: skip
    elif dc is not None and new_dc is not None and new_dc.si < dc:
        yield _volts(part, new_dc, new_dc.si, dc, "V", "a replacement has at least the same volts")
    elif dc is not None and new_dc is None and new_ac is not None:
        peak = math.sqrt(2) * new_ac.si
        if peak < dc:
            said = f"{new_ac.si:g} V AC peaks at 1.414 x {new_ac.si:g} V = {peak:.3g} V"
            yield _volts(part, new_ac, peak, dc, "V", said)


def _volts(
    part: Part, value: Value, now: float, was: float, unit: str, words: str, action: str = ""
) -> Shortfall:
    polarized = part.description.has("electrolytic", "wet", "tantalum", "polarized")
    harm = Harm.BURST if polarized else Harm.DAMAGE
    if part.kind == "fuse":
        harm = Harm.SHOCK
    kinds = {"capacitor": "electrolytic-dc" if polarized else "film-dc", "fuse": "fuse-volts"}
    standard = next_rating(was, kinds[part.kind]) if part.kind in kinds and unit == "V" else None
    action = action or f"fit a part of {standard or was:g} {unit} or more"
    return Shortfall(value, "rated", now, was, unit, was, harm, words, action)


def capacitance(part: Part, role: Role, larger: float) -> Iterator[Shortfall]:
    """Farads outside what the trade allows at this place; the worst of the alternates counts.

    `larger` is by what part an electrolytic may be larger (1.0: +100 %).
    """
    was = _old(part, "capacitance")
    if not was or role in _SAFETY or part.description.classes:
        return
    old = part.replaces
    large = was >= _LARGE_F or (old is not None and old.has("electrolytic"))
    low, high = _BY_ROLE.get(role, _PLAIN)
    if large:
        low, high = _ELECTROLYTIC[0], 1.0 + larger
    off = [
        value
        for value in _fitted(part, "capacitance")
        if not value.spread and not low / _ROUNDING <= value.si / was <= high * _ROUNDING
    ]
    if not off:
        return
    worst = max(off, key=lambda v: abs(math.log(v.si / was)) if v.si > 0 else math.inf)
    limit = (low if worst.si < was else high) * was
    nearest = nearest_preferred(was * 1e12, "E6" if large else "E24") * 1e-12
    within = low * was <= nearest <= high * was
    place = "" if role is Role.UNKNOWN else f" ({role.value})"
    yield Shortfall(
        worst, "", worst.si, was, "F", limit, Harm.PERFORMANCE,
        f"{_percent(low)} to {_percent(high)} is allowed here{place}",
        f"fit {amount(nearest if within else was, 'F')}",
    )  # fmt: skip


def resistance(part: Part, role: Role, *, may_rise: bool) -> Iterator[Shortfall]:
    """Ohms off by more than the old part's tolerance (20 % if it states none).

    More ohms are no fault between line and metal, and where the place itself asks for them
    (`may_rise`).
    """
    may_rise = may_rise or role in _BLEEDING
    old = part.replaces.values.get("resistance") if part.replaces is not None else None
    if old is None or not old.known or old.total <= 0:
        return
    was = old.total
    tolerance = _old(part, "tolerance") or _RESISTOR
    off = [
        value
        for value in _fitted(part, "resistance")
        if abs(value.total - was) > tolerance * was * _ROUNDING
        and not (may_rise and value.total > was)
    ]
    if not off:
        return
    worst = max(off, key=lambda v: abs(v.total - was))
    low = worst.total < was
    yield Shortfall(
        worst, "", worst.total, was, "ohm", was * (1 - tolerance if low else 1 + tolerance),
        _harm_of_ohms(role) if low else Harm.PERFORMANCE,
        f"{_percent(1 - tolerance)} {'or more' if may_rise else f'to {_percent(1 + tolerance)}'}"
        f" is allowed{f' ({role.value})' if role in _BLEEDING else ''}",
        f"fit {amount(was, 'ohm')}{' or more' if may_rise else ''}",
    )  # fmt: skip


def _harm_of_ohms(role: Role) -> Harm:
    """What too few ohms do at a place."""
    if role in _BLEEDING:
        return Harm.SHOCK
    return Harm.DAMAGE if role in _GUARDING else Harm.PERFORMANCE


def power(part: Part) -> Iterator[Shortfall]:
    """Fewer watts than before."""
    was = _old(part, "power")
    new = min(_choices(part, "power"), key=lambda v: v.si, default=None)
    if was is not None and new is not None and new.si < was:
        yield Shortfall(
            new, "rated", new.si, was, "W", was, Harm.DAMAGE,
            "a replacement has at least the same watts",
            f"fit a part of {next_rating(was, 'resistor-w') or was:g} W or more",
        )  # fmt: skip


def battery(part: Part) -> Iterator[Shortfall]:
    """A battery of more volts than before, or of fewer."""
    was = _old(part, "voltage")
    new = max(_choices(part, "voltage"), key=lambda v: v.si, default=None)
    if not was or new is None or abs(new.si / was - 1) <= _BATTERY * _ROUNDING:
        return
    more = new.si > was
    words = "more over-runs screens and filaments and moves every bias" if more else "fewer starve"
    yield Shortfall(
        new, "", new.si, was, "V", was * (1 + _BATTERY if more else 1 - _BATTERY),
        Harm.DAMAGE if more else Harm.PERFORMANCE, f"{words}{'' if more else ' every stage'}",
        f"fit a battery of {amount(was, 'V')}",
    )  # fmt: skip


def current(part: Part) -> Iterator[Shortfall]:
    """A fuse of more amperes than before."""
    was = _old(part, "current")
    new = max(_choices(part, "current"), key=lambda v: v.si, default=None)
    if part.kind == "fuse" and was is not None and new is not None and new.si > was:
        yield Shortfall(
            new, "rated", new.si, was, "A", was, Harm.SHOCK,
            "a fuse that is larger lets the fault burn", f"fit {amount(was, 'A')}",
        )  # fmt: skip


def _percent(ratio: float) -> str:
    return f"{(ratio - 1) * 100:+.0f} %"
