"""How far a chart's volts may lie off in a sound set: one seeded batch of drawn sets.

Belongs here: drawing tolerances, tube spread and line, solving the draws, percentiles. Does not
belong here: one operating point (operating.py), what a chart shows (bench/).

What is drawn, each evenly over its range: parts over what spreads.py gives them, tubes as below,
rectifiers over 20 % of current, the line over its stated tolerance. What drives a rectifier (line,
rectifiers, resistors and windings ahead of them, reservoirs) is drawn in steps that fill each range
evenly, because every step has a supply curve of its own.

A tube is drawn three times, each by itself (common practice, no source):
- its current over 20 %;
- the contact potential of its drive over 0.2 V, in which mu and the winding of the grid are too. A
  stage with a cathode resistor or a fixed bias moves by this;
- the volts at which its grid's own current starts over 0.15 V: a grid on 10 megohm rests from -0.6
  to -0.9 V from tube to tube. At 0.1 V for a factor e that is a quarter to four times the grid
  current at the same volts. Stages whose grid draws nothing do not see it.
The contact potential proper is in both, but the grid's surface, its gas and its leakage are in the
last alone, and how far the two go together nobody tells. Taken as one, they cancel: what a grid
leak loses in rest the drive has gained, and a first audio stage would be told to the volt that no
two tubes agree on. Taken apart, a stage biased by its own grid current gets the wider band.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from netcheck.circuit.direct_types import Array
from netcheck.circuit.operating import Operating, Point
from netcheck.circuit.spreads import TUBE_SPREADS, part_spreads, rectifier_refs
from netcheck.circuit.states import ALL_TUBES, Edit, State
from netcheck.findings import NotSolved

__all__ = ["DRAWS", "Band", "voltage_band"]

DRAWS: Final = 400
_SEED: Final = 455  # any number: the same set must give the same band
_LOW, _HIGH = 5.0, 95.0
_STEPS: Final = 21  # of what drives the supplies, over its ranges
_SHUFFLES: Final = 60  # orders tried, so that no two of these go together by chance
_ENOUGH: Final = 0.9  # of the draws must settle, else their percentiles say nothing


@dataclass(frozen=True, slots=True)
class Band:
    """Volts by net that nine of ten drawn sets lie between: 5th and 95th percentile.

    `settled` of `draws` sets were solved. The maps are empty when too few were.
    """

    low: Mapping[str, float]
    high: Mapping[str, float]
    settled: int
    draws: int


def voltage_band(
    operating: Operating,
    state: State,
    nets: Sequence[str],
    meter_ohm: float | None = None,
    loaded: Sequence[str] = (),
    draws: int = DRAWS,
) -> Band:
    """The band of each net's volts against the reference.

    Args:
        operating: the set.
        state: the state of the chart.
        nets: nets to tell.
        meter_ohm: the meter, in ohms.
        loaded: those of `nets` that the meter pulls down: they are solved again with it.
        draws: how many sets to draw.

    Raises:
        NotSolved: the state itself was not solved.
    """
    drawn = _draw(operating, operating.point(state), state, draws)
    low: dict[str, float] = {}
    high: dict[str, float] = {}
    found = operating.tried(drawn)
    solved = [p for p in found if not isinstance(p, NotSolved)]
    if len(solved) < _ENOUGH * draws:
        return Band({}, {}, len(solved), draws)
    for net in nets:
        if net not in loaded or meter_ohm is None:
            _tell(net, [p.volts(net) for p in solved], low, high)
    if meter_ohm is not None:
        metered = _Metered(operating, found, meter_ohm)
        for net, volts in metered.readings(loaded).items():
            _tell(net, volts, low, high)
    return Band(low, high, len(solved), draws)


class _Metered:
    """The draws with a meter on one net, solved as far as their percentiles hang on it.

    A percentile is told by the outermost draws. The meter pulls all of them down much alike, so
    those that are outermost with it are among the outer ones without it: only these are solved
    again, and the inner ones too if any of them could have come to the outside.
    """

    def __init__(
        self,
        operating: Operating,
        plain: Sequence[Point | NotSolved],
        meter_ohm: float,
    ) -> None:
        self._operating = operating
        self._plain = plain
        self._meter_ohm = meter_ohm
        self._told = math.ceil(len(plain) * _LOW / 100) + 1  # what a percentile is made of
        self._outer = min(3 * self._told, len(plain) // 2)

    def readings(self, nets: Sequence[str]) -> dict[str, list[float | None]]:
        """What the meter reads at each net, of each draw; of inner draws what it reads without."""
        order = {net: self._order(net) for net in nets}
        chosen = {
            net: [*by[: self._outer], *by[-self._outer :]] if by else [*range(len(self._plain))]
            for net, by in order.items()
        }
        found = self._solved(chosen)
        unsure = [net for net, by in order.items() if by and not self._apart(by, found[net])]
        everything = [*range(len(self._plain))]
        found |= self._solved(dict.fromkeys(unsure, everything))
        told: dict[str, list[float | None]] = {}
        for net, volts in found.items():
            inner = self._between(order[net], volts)
            told[net] = [volts.get(k, inner) for k in everything]
        return told

    def _order(self, net: str) -> list[int]:
        """The draws by their volts without the meter; [] where some have none."""
        volts = [None if isinstance(p, NotSolved) else p.volts(net) for p in self._plain]
        known = [v for v in volts if v is not None]
        if len(known) < len(volts):
            return []
        return [int(k) for k in np.argsort(np.array(known), kind="stable")]

    def _solved(self, chosen: Mapping[str, Sequence[int]]) -> dict[str, dict[int, float | None]]:
        wanted = [(k, net) for net, draws in chosen.items() for k in draws]
        solved = [(k, net) for k, net in wanted if not isinstance(self._plain[k], NotSolved)]
        points = [each for each in self._plain if not isinstance(each, NotSolved)]
        number = np.cumsum([not isinstance(each, NotSolved) for each in self._plain]) - 1
        read = self._operating.metered(
            points, [(int(number[k]), net) for k, net in solved], self._meter_ohm
        )
        found: dict[str, dict[int, float | None]] = {
            net: dict.fromkeys(draws) for net, draws in chosen.items()
        }
        for (k, net), volts in zip(solved, read, strict=True):
            found[net][k] = volts
        return found

    def _apart(self, order: Sequence[int], volts: Mapping[int, float | None]) -> bool:
        """Whether no inner draw can have come among the outermost."""
        if any(v is None for v in volts.values()):
            return False
        edge = self._outer * 3 // 4  # of the outer draws, the last quarter must stay inside
        for side in (list(order[: self._outer]), list(order[-self._outer :])[::-1]):
            upward = 1.0 if side[0] == order[0] else -1.0
            ranked = sorted(side, key=lambda k: upward * (volts[k] or 0.0))
            if any(side.index(k) >= edge for k in ranked[: self._told]):
                return False
        return True

    def _between(self, order: Sequence[int], volts: Mapping[int, float | None]) -> float | None:
        """A value for the inner draws that leaves the percentiles what the outer ones make them."""
        if not order:
            return None
        return volts[order[self._outer - 1]]


def _tell(
    net: str, volts: Sequence[float | None], low: dict[str, float], high: dict[str, float]
) -> None:
    known = [v for v in volts if v is not None]
    if len(known) >= _ENOUGH * len(volts) > 0:
        low[net], high[net] = (float(v) for v in np.percentile(known, (_LOW, _HIGH)))


def _draw(operating: Operating, point: Point, base: State, draws: int) -> list[State]:
    rng = np.random.default_rng(_SEED)
    spreads = part_spreads(operating, point)
    driving = {ref: reach for ref, reach in spreads.items() if operating.moves_supply(ref)}
    plain = {ref: reach for ref, reach in spreads.items() if ref not in driving}
    tubes = list(point.tubes)
    steps = _steps(operating, base, driving, rng)
    of_parts = 1 + np.array(list(plain.values())) * rng.uniform(-1, 1, (draws, len(plain)))
    usual = np.array([_usual(base.emission, ref, 1.0) for ref in tubes])
    emissions = usual * (1 + TUBE_SPREADS.current * rng.uniform(-1, 1, (draws, len(tubes))))
    shifts = _shifted(base.contact_shift_v, tubes, TUBE_SPREADS.drive_v, draws, rng)
    order = rng.permutation(draws)
    grid_shifts = _shifted(base.grid_shift_v, tubes, TUBE_SPREADS.grid_v, draws, rng)
    found = []
    for k in range(draws):
        step = steps[order[k] % len(steps)]
        own = State(
            f"{base.name}, draw {k + 1}",
            line_v=step.line_v,
            edits=_scaled(plain, of_parts[k]) + step.edits,
            emission=_pairs(tubes, emissions[k]) + step.emission,
            contact_shift_v=_pairs(tubes, shifts[k]),
            grid_shift_v=_pairs(tubes, grid_shifts[k]),
        )
        found.append(own.on(base))
    return found


def _scaled(refs: Iterable[str], factors: Array) -> tuple[Edit, ...]:
    return tuple(Edit("scale", ref, float(f)) for ref, f in zip(refs, factors, strict=True))


def _shifted(
    usual: Sequence[tuple[str, float]],
    tubes: Sequence[str],
    reach_v: float,
    draws: int,
    rng: np.random.Generator,
) -> Array:
    """Volts drawn evenly about what the state has, (draws, tubes)."""
    middle = np.array([_usual(usual, ref, 0.0) for ref in tubes])
    return np.asarray(middle + reach_v * rng.uniform(-1, 1, (draws, len(tubes))))


def _pairs(refs: Sequence[str], values: Array) -> tuple[tuple[str, float], ...]:
    return tuple((ref, float(value)) for ref, value in zip(refs, values, strict=True))


def _usual(pairs: Sequence[tuple[str, float]], ref: str, otherwise: float) -> float:
    return next((v for name, v in reversed(pairs) if name in (ALL_TUBES, ref)), otherwise)


class _Step(NamedTuple):
    """One drawn supply: line volts, parts that drive it, rectifiers."""

    line_v: float | None
    edits: tuple[Edit, ...]
    emission: tuple[tuple[str, float], ...]


def _steps(
    operating: Operating, base: State, driving: Mapping[str, float], rng: np.random.Generator
) -> list[_Step]:
    """Supplies whose line, parts and rectifiers each fill their range in even steps."""
    low, high = operating.line["low"], operating.line["high"]
    refs = rectifier_refs(operating.wiring)
    levels = _levels(1 + len(driving) + len(refs), rng)
    if base.line_v is not None or low is None or high is None:
        lines = [base.line_v] * _STEPS
    else:
        lines = [float(v) for v in (low + high) / 2 + (high - low) / 2 * levels[:, 0]]
    sizes = 1 + np.array(list(driving.values())) * levels[:, 1 : 1 + len(driving)]
    usual = np.array([_usual(base.emission, ref, 1.0) for ref in refs])
    emissions = usual * (1 + TUBE_SPREADS.current * levels[:, 1 + len(driving) :])
    return [
        _Step(volts, _scaled(driving, sizes[k]), _pairs(refs, emissions[k]))
        for k, volts in enumerate(lines)
    ]


def _levels(columns: int, rng: np.random.Generator) -> Array:
    """Columns of even steps from -1 to 1, each in the order that goes least with those before."""
    even = (2 * np.arange(_STEPS) + 1) / _STEPS - 1
    found = np.empty((_STEPS, columns))
    for column in range(columns):
        orders = [rng.permutation(even) for _ in range(_SHUFFLES if column else 1)]
        found[:, column] = min(
            orders, key=lambda each: float(np.max(np.abs(each @ found[:, :column]), initial=0.0))
        )
    return found
