"""Taps of dropper or transformer against the line's volts, because a rule and a cause ask for it.

Belongs here: which volts a selector or a primary is set for. Does not belong here: what the
heaters then get (_heaters.py), how it is reported (mains_tap.py).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._line import line_of

__all__ = ["Tap", "selectors", "set_taps", "wrong_taps"]

_FAR = 0.10 + 1e-9  # the very tenth is within it
_VOLTS = re.compile(r"(\d{2,3})\s*(?:V|VOLTS?)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Tap:
    """What a part is set for: `volts` printed, the line's `line_v`, other volts it can be set to.

    `selector` is the part that sets it (the transformer itself where there is none).
    """

    part: Part
    volts: float
    line_v: float
    others: tuple[float, ...] = ()

    @property
    def share(self) -> float:
        """The line's volts as a share of those it is set for."""
        return self.line_v / self.volts

    @property
    def best(self) -> float:
        """The setting for this line: nearest to its volts."""
        return min((self.volts, *self.others), key=lambda v: abs(v - self.line_v))


def _position_v(position: str) -> float | None:
    found = _VOLTS.fullmatch(position.strip())
    return float(found[1]) if found else None


def selectors(case: Case) -> Iterator[tuple[Part, tuple[float, ...], str | None]]:
    """Voltage selectors: the part, the volts of its positions, the position that is stated."""
    said = {each.switch: each.position for each in case.chassis.settings}
    seen: set[str] = set()
    for part in case.chassis.of_kind("switch"):
        volts = [_position_v(p) for p in part.positions if p.upper() != "OFF"]
        numbers = tuple(v for v in volts if v is not None and v >= 90)
        named = part.description.has("voltage-selector")
        if part.body_ref in seen or not numbers or not (named or len(numbers) == len(volts) > 1):
            continue
        seen.add(part.body_ref)
        position = said.get(part.ref, said.get(part.body_ref))
        yield part, numbers, position if len(numbers) > 1 else part.positions[0]


def set_taps(case: Case) -> Iterator[Tap | str]:
    """Every selector and power transformer with what it is set for, or why that is not known."""
    line = line_of(case)
    if line is None:
        return
    for part, numbers, position in selectors(case):
        volts = None if position is None else _position_v(position)
        if position is None:
            listed_v = ", ".join(f"{v:g}" for v in numbers)
            yield (
                f"the text does not say at which of {listed_v} V the selector {part.ref} stands "
                f"(write `switch {part.body_ref} at ...`)"
            )
        elif volts is not None:
            yield Tap(part, volts, line.volts, tuple(v for v in numbers if v != volts))
    if line.hertz:
        yield from _primaries(case, line.volts)


def _primaries(case: Case, line_v: float) -> Iterator[Tap]:
    from netcheck.circuit.source_side import line_branches
    from netcheck.circuit.source_windings import primary_volts

    chosen = {part.ref for part, _, _ in selectors(case)}
    wiring = case.circuit.wiring
    side = line_branches(wiring, line_v) if wiring.supply.power_refs else ""
    for ref in sorted(wiring.supply.power_refs):
        part, found = case.chassis.part(ref), primary_volts(wiring, ref, side)
        if part is not None and not isinstance(found, str) and not chosen:
            yield Tap(part, found[0], found[1])


def wrong_taps(case: Case) -> list[Tap]:
    """The settings more than a tenth off the line's volts."""
    found = [each for each in set_taps(case) if isinstance(each, Tap)]
    return [tap for tap in found if abs(tap.share - 1.0) > _FAR]
