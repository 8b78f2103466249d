"""Direct current through a hand on metal that plate volts reach: in use, and with one part shorted.

Belongs here: the states, the currents, what they come to, the finding. Does not belong here: how
plate volts come to the metal (_touch_feeds.py), limits (_touch_limit.py), alternating current
(_touch.py).

The set is solved as a whole with the body between the two pieces of metal: of the network of IEC
60990 figure 4 direct current passes 1500 ohm and 500 ohm in series. All with the line high.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from netcheck.circuit.states import SHORT_OHM, Edit, State
from netcheck.circuit.touch_body import body_ohm
from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related, Span
from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._line import OUTSIDE_METAL
from netcheck.rules._operating import is_fed, line_high, tried
from netcheck.rules._touch_feeds import (
    Metal,
    ground_of,
    pieces_fed,
    places,
    switch_settings,
    unread,
)
from netcheck.rules._touch_limit import (
    DIRECT_DANGER_A,
    DIRECT_FAULT_V,
    DIRECT_LIMIT_A,
    DIRECT_SAFE_V,
)
from netcheck.rules._touch_values import larger_ohm
from netcheck.rules._words import amount, listed

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

__all__ = ["direct_current"]

_HARMS = (Harm.SHOCK_NOW, Harm.SHOCK, Harm.BURST)


@dataclass(frozen=True, slots=True)
class _Look:
    """One state of one piece of metal: the state in words, the part that is shorted in it."""

    metal: Metal
    base: State
    said: str
    failed: Element | None = None

    @property
    def safe_v(self) -> float:
        return DIRECT_FAULT_V if self.failed is not None else DIRECT_SAFE_V


@dataclass(frozen=True, slots=True)
class _Row:
    """What a hand from the metal to another piece (or earth) passes: volts without it, amperes."""

    look: _Look
    net: str
    other: Metal
    other_net: str
    open_v: float
    ampere: float = 0.0

    @property
    def harm(self) -> Harm | None:
        """What it comes to; None where the volts or the current are under their limit."""
        if self.open_v <= self.look.safe_v or self.ampere <= DIRECT_LIMIT_A:
            return None
        if self.open_v > DIRECT_FAULT_V and self.ampere > DIRECT_DANGER_A:
            return Harm.SHOCK_NOW if self.look.failed is None else Harm.SHOCK
        return Harm.BURST


def direct_current(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each piece of metal that passes too much direct current."""
    all_of_it = places(case) if is_fed(case) else []
    metals = pieces_fed(case, all_of_it)
    silent = {metal.names for metal in unread(case, all_of_it)}
    yield from _untold(case, all_of_it, metals)
    metals = [metal for metal in metals if metal.names not in silent]
    looks = [look for metal in metals for look in _looks(case, metal)]
    points = tried(case, [look.base for look in looks])
    ground = ground_of(case)
    seen = list(zip(looks, points, strict=True))
    yield from _unsolved(case, seen)
    rows = [row for look, point in seen if not isinstance(point, NotSolved)
            for row in _open_rows(look, point, all_of_it, ground)]  # fmt: skip
    hands = [
        _passing(row, hand)
        for row, hand in zip(rows, tried(case, [_with_hand(row) for row in rows]), strict=True)
    ]
    yield from _unsolved(case, list(zip((row.look for row in rows), hands, strict=True)))
    passing = [hand for hand in hands if isinstance(hand, _Row)]
    for metal in metals:
        own = [row for row in passing if row.look.metal is metal]
        over = [row for row in own if row.harm is not None]
        if over:
            yield _finding(case, min(over, key=_by_harm), own)


def _looks(case: Case, metal: Metal) -> Iterator[_Look]:
    """As wired, and with each part shorted that keeps plate volts off, in all switch positions."""
    high = line_high(case)
    for setting in switch_settings(case, [metal]):
        turned = [" ".join(pair) for pair in setting]
        base = replace(high, name=", ".join([*turned, high.name]), closed=setting)
        yield _Look(metal, base, ", ".join(turned) or "as wired")
        for element in metal.barriers:
            said = ", ".join([*turned, f"{element.ref} shorted"])
            yield _Look(metal, _shorting(base, element), said, element)


def _shorting(base: State, element: Element) -> State:
    kind = "short" if element.kind is Kind.RESISTOR else "leak"
    edit = Edit(kind, element.ref, SHORT_OHM, path=element.path if kind == "short" else "")
    return replace(base, name=f"{element.ref} shorted, {base.name}", edits=(*base.edits, edit))


def _untold(case: Case, all_of_it: list[Metal], metals: list[Metal]) -> Iterator[NotChecked]:
    """Metal of which nothing can be said: what else a hand reaches, or what feeds it, is unknown.

    With a line the alternating current of such metal is said not to be known.
    """
    for metal in metals if len(all_of_it) == 1 else ():
        yield case.not_checked(
            f"how much direct current {listed(metal.names)} passes: nothing else of the set is told"
            " that a hand or earth reaches (name B- or the earth terminal in `touchable:` too)"
        )
    for metal in metals:
        if metal.unsolved:
            yield case.not_checked(
                f"how much direct current {listed(metal.names)} passes: the volts of"
                f" {listed(metal.unsolved)} are not computed (state them with `hold`)"
            )
    line = case.chassis.line
    for metal in unread(case, all_of_it) if line is None or line.volts is None else ():
        yield case.not_checked(
            f"how much direct current {listed(metal.names)} passes: a part at {metal.nets[0]} is"
            " not known"
        )


def _open_rows(
    look: _Look, point: Point, all_of_it: Sequence[Metal], ground: frozenset[str]
) -> Iterator[_Row]:
    """For each other piece of metal the most volts from this one to it, if over what is safe."""
    others = [place for place in all_of_it if place.nets != look.metal.nets]
    found = []
    for other in others:
        pairs = [
            _Row(look, net, other, far, abs(volts))
            for net in look.metal.nets
            for far in other.nets
            if (volts := point.between(net, far)) is not None
        ]
        worst = max(pairs, key=lambda row: row.open_v, default=None)
        if worst is not None and worst.open_v > look.safe_v:
            found.append(worst)
    # What the set returns to passes most; of the others the one with the most volts.
    found.sort(key=lambda row: (row.other_net not in ground, -row.open_v))
    yield from found[:2]


def _with_hand(row: _Row) -> State:
    ohm = abs(body_ohm(0.0))
    hand = Edit("join", ohm=ohm, nets=(row.net, row.other_net))
    base = row.look.base
    name = f"a hand from {row.net} to {row.other_net}, {base.name}"
    return replace(base, name=name, edits=(*base.edits, hand))


def _passing(row: _Row, hand: Point | NotSolved) -> _Row | NotSolved:
    """The row with its amperes, or why it has none."""
    if isinstance(hand, NotSolved):
        return hand
    volts = hand.between(row.net, row.other_net)
    if volts is None:
        return NotSolved(f"nothing gives volts to {row.net} or {row.other_net}")
    return replace(row, ampere=abs(volts) / abs(body_ohm(0.0)))


def _unsolved(
    case: Case, seen: Sequence[tuple[_Look, Point | _Row | NotSolved]]
) -> Iterator[NotChecked]:
    """One sentence for each piece of metal and reason."""
    told: set[tuple[tuple[str, ...], str]] = set()
    for look, point in seen:
        if isinstance(point, NotSolved) and (look.metal.names, str(point)) not in told:
            told.add((look.metal.names, str(point)))
            state = "" if look.failed is None else f" with {look.said}"
            refs = dict.fromkeys(e.ref for e in (*look.metal.ways, *look.metal.barriers))
            yield case.not_checked(
                f"how much direct current {listed(look.metal.names)} passes{state}: {point}", refs
            )


def _by_harm(row: _Row) -> tuple[int, float]:
    return (_HARMS.index(row.harm) if row.harm in _HARMS else len(_HARMS), -row.ampere)


# --- the finding


def _finding(case: Case, worst: _Row, rows: Sequence[_Row]) -> Finding:
    look, failed = worst.look, worst.look.failed
    names = listed(look.metal.names)
    feeding = _feeding(case, worst)
    by = f" by {listed(part.ref for part in feeding)}" if feeding else ""
    return case.finding(
        f"{names} {'passes' if len(look.metal.names) == 1 else 'pass'} {amount(worst.ampere, 'A')}"
        f" of direct current to {listed(worst.other.names)}{by} ({look.said}, line high), over the"
        f" limit of {amount(DIRECT_LIMIT_A, 'A')}; {amount(worst.open_v, 'V')} with nothing joined",
        _place(case, worst, feeding),
        harm=worst.harm or Harm.BURST,
        parts=[part.ref for part in feeding],
        nodes=look.metal.nets,
        state=look.said,
        related=[Related(p.ref_span or p.span, "leads plate volts to it") for p in feeding[1:]],
        calc=tuple(_calculation(row) for row in rows if _is_shown(row)),
        action=_action(worst, names, feeding, failed),
    )


def _is_shown(row: _Row) -> bool:
    return row.look.failed is None or row.harm is not None


def _calculation(row: _Row) -> Calculation:
    name = f"{row.look.metal.names[0]} to {row.other.names[0]}, {row.look.said}, direct current"
    said = (
        f"{amount(row.open_v, 'V')} with nothing joined (not counted up to"
        f" {amount(row.look.safe_v, 'V')}); solved with 1500 ohm + 500 ohm between"
    )
    return Calculation(name, float(f"{row.ampere * 1e3:.3g}"), "mA", DIRECT_LIMIT_A * 1e3, said)


def _feeding(case: Case, worst: _Row) -> list[Part]:
    """The part that has shorted, else those between the metal and plate volts, else its own."""
    failed = worst.look.failed
    elements = worst.look.metal.ways if failed is None else (failed,)
    refs = dict.fromkeys(element.ref for element in elements)
    found = [part for ref in refs if (part := case.chassis.part(ref)) is not None]
    nets = worst.look.metal.nets
    own = (p for p in case.chassis.parts if any(case.chassis.net(n) in nets for n in p.nodes))
    # What only hangs on a rail that is metal itself leads nothing to it.
    return found or sorted(own, key=lambda part: part.kind in ("resistor", "capacitor"))[:1]


def _place(case: Case, worst: _Row, feeding: Sequence[Part]) -> Span:
    (part, *_) = feeding or case.chassis.parts
    leads = bool(worst.look.metal.ways) or worst.look.failed is not None
    if part.kind in ("capacitor", "resistor") and leads:
        return part.span_of("capacitance" if part.kind == "capacitor" else "resistance")
    nets = worst.look.metal.nets
    on = [t for t in part.terminals if not t.unused and case.chassis.net(t.node) in nets]
    on.sort(key=lambda t: (part.kind, t.name) not in OUTSIDE_METAL)
    terminal = next(iter(on), None)
    return terminal.span if terminal is not None else part.span


def _action(worst: _Row, names: str, feeding: Sequence[Part], failed: Element | None) -> str:
    measure = f"measure DC volts from {names} to {listed(worst.other.names)} before anyone does"
    if failed is not None and failed.kind is Kind.CAPACITOR:
        return (
            f"put a capacitor that may not fail in the place of {failed.ref}: one of class Y1, or"
            f" two alike of class Y2 in series; {measure}"
        )
    (part, *more) = feeding or (None,)
    ohm = part.value("resistance") if part is not None and part.kind == "resistor" else None
    apart = (
        f"feed {names} through a transformer, or through a capacitor of class Y with 100K from"
        f" {names} to {listed(worst.other.names)}"
    )
    if part is None or more or not ohm or failed is not None or not worst.look.metal.ways:
        return f"{apart}; {measure}"
    needed = ohm + worst.open_v / DIRECT_LIMIT_A - worst.open_v / worst.ampere
    fitted = next(iter(larger_ohm(needed * (1 - 1e-9))), None)
    larger = f", or fit {part.ref} as {amount(fitted, 'ohm')}" if fitted is not None else ""
    return f"{apart}{larger}; {measure}"
