"""What moves a node's volts, and by how much, because a wide band has a cause that can be measured.

Belongs here: each spread of spreads.py taken alone to both of its ends, its share of the whole.
Does not belong here: the spreads themselves and their sources (spreads.py), names a user writes.

Each cause is solved alone at either end of its range, all in one batch. Of causes drawn evenly and
each by itself the variances add, and that of a range from low to high is (high - low)^2 / 12 as far
as the volts go straight with it (elementary statistics); the share is of the sum of these.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from netcheck.circuit.operating import Operating
from netcheck.circuit.spreads import TUBE_SPREADS, part_spreads, rectifier_refs
from netcheck.circuit.states import Edit, State
from netcheck.findings import NotSolved

__all__ = ["Cause", "causes"]


@dataclass(frozen=True, slots=True)
class Cause:
    """Something that spreads: `what` in words, the volts at its ends, its share of the variance.

    `low_v` belongs to the lower end of the cause, `high_v` to the upper one. None where an end was
    not solved; it then has no share, and the others are shares of what is known.
    """

    what: str
    ref: str
    low_v: float | None
    high_v: float | None
    share: float | None


@dataclass(frozen=True, slots=True)
class _End:
    what: str
    ref: str
    low: State
    high: State


def causes(
    operating: Operating, state: State, net: str, meter_ohm: float | None = None
) -> tuple[Cause, ...]:
    """What moves the volts of a net against the reference, the greatest share first.

    Args:
        operating: the set.
        state: the state of the chart.
        net: the net.
        meter_ohm: the meter on it, in ohms; None: nothing connected.

    Raises:
        NotSolved: the state itself was not solved.
    """
    operating.point(state)
    ends = list(_ends(operating, state))
    meter = None if meter_ohm is None else (net, meter_ohm)
    asked = [
        replace(s, name=f"{s.name}, at {net}", meter=meter) for e in ends for s in (e.low, e.high)
    ]
    found = operating.tried(asked)
    volts = [None if isinstance(p, NotSolved) else p.volts(net) for p in found]
    pairs = list(zip(volts[::2], volts[1::2], strict=True))
    weights = [None if a is None or b is None else (b - a) ** 2 for a, b in pairs]
    whole = sum(w for w in weights if w is not None)
    rows = [
        Cause(e.what, e.ref, a, b, None if w is None else (w / whole if whole else 0.0))
        for e, (a, b), w in zip(ends, pairs, weights, strict=True)
    ]
    return tuple(sorted(rows, key=lambda row: -(row.share if row.share is not None else 2.0)))


def _ends(operating: Operating, base: State) -> Iterator[_End]:
    point = operating.point(base)
    for ref, reach in part_spreads(operating, point).items():
        low, high = (
            State(f"{base.name}, {ref} x {f:.4g}", edits=(Edit("scale", ref, f),)).on(base)
            for f in (1 - reach, 1 + reach)
        )
        yield _End(f"{ref} +-{reach * 100:g} %", ref, low, high)
    for ref in point.tubes:
        yield from _of_tube(base, ref)
    current = TUBE_SPREADS.current
    for ref in rectifier_refs(operating.wiring):
        low, high = (
            State(f"{base.name}, {ref} x {f:g}", emission=((ref, f),)).on(base)
            for f in (1 - current, 1 + current)
        )
        yield _End(f"{ref} current +-{current * 100:g} %", ref, low, high)
    low_v, high_v = operating.line["low"], operating.line["high"]
    if base.line_v is None and low_v is not None and high_v is not None and low_v < high_v:
        low, high = (
            replace(base, name=f"{base.name}, line {v:.4g} V", line_v=v) for v in (low_v, high_v)
        )
        yield _End(f"line {low_v:.4g} to {high_v:.4g} V", "", low, high)


def _of_tube(base: State, ref: str) -> Iterator[_End]:
    """The three spreads of a tube, each by itself."""
    usual = next((v for name, v in reversed(base.emission) if name == ref), 1.0)
    current, drive_v, grid_v = TUBE_SPREADS
    low, high = (
        State(f"{base.name}, {ref} x {f:g}", emission=((ref, usual * f),)).on(base)
        for f in (1 - current, 1 + current)
    )
    yield _End(f"{ref} current +-{current * 100:g} %", ref, low, high)
    low, high = (
        State(f"{base.name}, {ref} drive {v:+g} V", contact_shift_v=((ref, v),)).on(base)
        for v in (-drive_v, drive_v)
    )
    yield _End(f"{ref} contact potential +-{drive_v:g} V", ref, low, high)
    low, high = (
        State(f"{base.name}, {ref} grid {v:+g} V", grid_shift_v=((ref, v),)).on(base)
        for v in (-grid_v, grid_v)
    )
    yield _End(f"{ref} start of grid current +-{grid_v:g} V", ref, low, high)
