"""What a coupling capacitor does to its tube at every leak from 1 kilohm to 10 gigohms, solved.

Belongs here: the batch of leaks over all couplings of a set, and the leaks at which something
happens. Does not belong here: the hand formula (_divider.py), which capacitor is reported.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Coupling
from netcheck.findings import Calculation, NotSolved
from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._operating import NOMINAL, Stream, leaking, streams, tried
from netcheck.rules._words import amount

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

__all__ = ["LEAKS_OHM", "Leaky", "Sweep", "sweeps"]

LIMITS = ("plate-w", "screen-w")
# Two a decade: between them everything is nearly straight on logarithmic paper.
LEAKS_OHM = tuple(float(f"{10 ** (3 + step / 2):.4g}") for step in range(15))
# A grid that rests at less bias than this is held to a tenth of this (contact potential alone
# gives about half a volt; common practice, no source).
_LEAST_BIAS_V = 0.5


@dataclass(frozen=True, slots=True)
class Leaky:
    """The tube behind a coupling that leaks through `ohm` (infinite: not at all).

    `grid_v` is across the grid's return resistor, `bias_v` grid to cathode, `source_v` what the
    capacitor hangs on against that return.
    """

    ohm: float
    source_v: float
    grid_v: float
    bias_v: float
    plate_a: float
    plate_w: float
    screen_w: float | None
    grid_a: float


@dataclass(frozen=True)
class Sweep:
    """All leaks of one coupling, the least first; `sound` is the set without a leak."""

    part: Part
    sound: Leaky
    leaks: tuple[Leaky, ...]

    @property
    def tenth_v(self) -> float:
        """A tenth of the bias: by so much a leak may move the grid.

        A grid that stands at volts of its own (a phase splitter's, which its cathode follows) is
        held to a tenth of those.
        """
        return max(abs(self.sound.bias_v), abs(self.sound.grid_v), _LEAST_BIAS_V) / 10

    def shift_v(self, leaky: Leaky) -> float:
        """Volts by which a leak has moved the grid."""
        return leaky.grid_v - self.sound.grid_v

    def ohm_at_shift(self, most_v: float) -> float | None:
        """The greatest leak that moves the grid by `most_v`; None if even the least does not."""
        last = self.leaks[-1]
        if self.shift_v(last) >= most_v:  # beyond the sweep volts go as one over ohms
            return last.ohm * self.shift_v(last) / most_v
        return self._crossing(lambda leaky: max(self.shift_v(leaky), 1e-9), most_v)

    def ohm_at_limit(self, limit: str) -> float | None:
        """The leak at which plate (`plate-w`) or screen (`screen-w`) watts reach their maximum.

        None where they never do; infinite where they do without a leak.
        """
        most = self.limit_w(limit)
        if most is None:
            return None
        if self.watts(self.sound, limit) >= most:
            return math.inf
        if self.watts(self.leaks[-1], limit) >= most:
            return self.leaks[-1].ohm
        return self._crossing(lambda leaky: max(self.watts(leaky, limit), 1e-9), most)

    def limit_w(self, limit: str) -> float | None:
        """The maximum of the tube's type for `plate-w` or `screen-w`."""
        return self.part.tube.limits.get(limit) if self.part.tube is not None else None

    def watts(self, leaky: Leaky, limit: str) -> float:
        """Watts that `plate-w` or `screen-w` limits, at a leak."""
        return leaky.plate_w if limit == "plate-w" else leaky.screen_w or 0.0

    def least_ohm(self, most_shift_v: float) -> float:
        """The insulation to ask for: neither the grid moves further nor a limit is reached."""
        at_limits = [self.ohm_at_limit(limit) for limit in LIMITS]
        found = [self.ohm_at_shift(most_shift_v), *at_limits]
        return max((ohm for ohm in found if ohm is not None and ohm < math.inf), default=0.0)

    def calculations(self, ohm: float, most_shift_v: float) -> tuple[Calculation, ...]:
        """What a leak near `ohm` does to the grid, the currents and the watts of the tube."""
        at = self.nearest(ohm)
        leak, shift = amount(at.ohm, "ohm"), self.shift_v(at)
        before = amount(round(self.sound.grid_v, 6), "V")
        what = f"with a leak of {leak}"
        found = [
            Calculation(f"grid shift {what}", shift, "V", most_shift_v, f"{self.part.ref} solved: "
                        f"the grid at {amount(at.grid_v, 'V')} in place of "
                        f"{before}, {amount(at.source_v, 'V')} behind {leak}"),
            Calculation(f"plate current {what}", at.plate_a * 1e3, "mA", None,
                        f"solved; without the leak {amount(self.sound.plate_a, 'A')}"),
        ]  # fmt: skip
        for limit in LIMITS:
            most = self.limit_w(limit)
            if most is None:
                continue
            name, watts = limit.removesuffix("-w"), self.watts(at, limit)
            reached = self.ohm_at_limit(limit)
            said = "no leak reaches the maximum" if reached is None else "over it without a leak"
            if reached is not None and reached < math.inf:
                said = f"the maximum is reached at {amount(reached, 'ohm')}"
            said = f"solved; without the leak {amount(self.watts(self.sound, limit), 'W')}; {said}"
            found.append(Calculation(f"{name} dissipation {what}", watts, "W", most, said))
        return tuple(found)

    def nearest(self, ohm: float) -> Leaky:
        """The solved leak nearest to `ohm` (a dead short: the least of them)."""
        above = max(ohm, self.leaks[0].ohm)
        return min(self.leaks, key=lambda leaky: abs(math.log(leaky.ohm / above)))

    def _crossing(self, value: Callable[[Leaky], float], level: float) -> float | None:
        """The greatest leak at which a value reaches a level, straight on logarithmic paper."""
        for less, more in pairwise(reversed(self.leaks)):
            low, high = value(less), value(more)
            if low < level <= high:
                share = math.log(level / low) / math.log(high / low)
                return float(less.ohm * (more.ohm / less.ohm) ** share)
        return None


def sweeps(
    case: Case,
    couplings: Iterable[Coupling],
    measured_ohm: Mapping[str, float] = MappingProxyType({}),
    leaks_ohm: Sequence[float] = LEAKS_OHM,
) -> dict[str, Sweep | NotSolved]:
    """Sweep all couplings of a set in one batch; by capacitor, with the reason if not solved.

    `measured_ohm` adds the leak that was measured, by capacitor, to those of the sweep.
    """
    chosen = tuple(couplings)
    states = {}
    for c in chosen:
        own = measured_ohm.get(c.ref)
        more = () if own is None else (max(float(f"{own:.4g}"), leaks_ohm[0]),)
        leaks = sorted({*leaks_ohm, *more})
        states[c.ref] = [(ohm, leaking(c.ref, ohm)) for ohm in leaks]
    asked = [NOMINAL, *(state for each in states.values() for _, state in each)]
    found = dict(zip(asked, tried(case, asked), strict=True))
    return {
        c.ref: _sweep(case, c, found[NOMINAL], [(ohm, found[s]) for ohm, s in states[c.ref]])
        for c in chosen
    }


def _sweep(
    case: Case,
    coupling: Coupling,
    sound: Point | NotSolved,
    points: Sequence[tuple[float, Point | NotSolved]],
) -> Sweep | NotSolved:
    if isinstance(sound, NotSolved):
        return sound
    if coupling.grid in sound.model.floating or not coupling.returns_to:
        return NotSolved(f"the grid on {coupling.grid} floats", (coupling.grid,))
    part = case.chassis.part(coupling.tube)
    first = _leaky(case, coupling, sound, math.inf)
    rows = []
    for ohm, point in points:
        if isinstance(point, NotSolved):
            return point
        row = _leaky(case, coupling, point, ohm)
        if row is not None:
            rows.append(row)
    if part is None or first is None or len(rows) < len(points):
        return NotSolved(f"{coupling.tube} has no law or no volts behind {coupling.ref}")
    return Sweep(part, first, tuple(rows))


def _leaky(case: Case, coupling: Coupling, point: Point, ohm: float) -> Leaky | None:
    stream = _stream(case, coupling, point)
    grid = point.between(coupling.grid, coupling.returns_to)
    source = point.between(coupling.source, coupling.returns_to)
    if stream is None or grid is None or source is None:
        return None
    electrode = stream.tube.electrode(coupling.electrode)
    if electrode is None:
        return None
    bias = electrode.volts - stream.cathode_v
    return Leaky(ohm, source, grid, bias, stream.plate_a, stream.plate_w, stream.screen_w,
                 electrode.amperes)  # fmt: skip


def _stream(case: Case, coupling: Coupling, point: Point) -> Stream | None:
    """The section of the tube whose grid the coupling drives."""
    part = case.chassis.part(coupling.tube)
    if part is None:
        return None
    of_tube = [s for s in streams(case, point) if s.part.body_ref == part.body_ref]
    return next((s for s in of_tube if coupling.electrode in s.section.controls), None)
