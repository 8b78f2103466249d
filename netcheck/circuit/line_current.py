"""The rms current a set draws from the line, because fuses are chosen by it.

Belongs here: heaters (a sine), rectifiers (pulses) and loads, added as they run in time. Does
not belong here: each heater's own volts, judging a fuse, sets on batteries.

Pulses come while the line is near its peak, in phase with the heaters' sine: neither the sum nor
the root of squares is right. With i = G v + p, the mean of i^2 is (G V)^2 + P^2rms + 2 G mean(v p),
and mean(v p) is the power the rectifiers take, so the cycle of each supply is enough (elementary
AC theory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from netcheck.catalog.lamps import lamp
from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import walk
from netcheck.circuit.rectify_cycle import solve_cycle
from netcheck.circuit.rectify_forms import form_of
from netcheck.circuit.rectify_spec import RectifierSpec, Wave
from netcheck.circuit.source_network import seen_from
from netcheck.circuit.source_side import line_branches
from netcheck.circuit.wiring import Wiring

if TYPE_CHECKING:
    from netcheck.circuit.operating import SupplyPoint

__all__ = ["LineCurrent", "line_current"]

_OWN_LOSS = 0.1
"""A receiver's power transformer loses about a tenth of what it gives (from memory)."""

_SHORT_OHM = 100.0
"""What stands between a heater winding and its heaters is less than this (common practice)."""


@dataclass(frozen=True, slots=True)
class LineCurrent:
    """What the line gives a set at `line_v`: all rms amperes, `watts` the mean power.

    `steady_a` is the sine through heaters, lamps and loads, `pulse_a` the rectifiers' current as
    the line sees it. `transformer` tells whether a tenth for its own loss is in `steady_a`.
    `left_out` names parts whose share is not known.
    """

    line_v: float
    steady_a: float
    pulse_a: float
    pulse_w: float
    transformer: bool
    left_out: tuple[str, ...]

    @property
    def rms_a(self) -> float:
        """Amperes rms over the cycle."""
        mixed = 2 * self.steady_a / self.line_v * self.pulse_w
        return float(np.sqrt(self.steady_a**2 + self.pulse_a**2 + mixed))


def line_current(
    wiring: Wiring, supplies: Sequence[SupplyPoint], line_v: float
) -> LineCurrent | str:
    """The line current of a set whose supplies are solved, or why it is not known.

    Args:
        wiring: the set.
        supplies: its rectifier supplies at one operating point.
        line_v: volts rms (DC of a DC line) of that point.
    """
    branches = line_branches(wiring, line_v)
    if isinstance(branches, str):
        return branches
    line = next(b for b in branches if b.ref == "line")
    seen = seen_from([b for b in branches if b.ref != "line"], [line.a], line.b)
    if seen is not None and seen.doubtful:
        return f"the ohms or position of {', '.join(seen.doubtful)} are not stated"
    direct_a = 0.0 if seen is None else line_v / float(seen.between_ohm[0, 0])
    left_out: list[str] = []
    loads_a = sum(_loads_a(wiring, line_v, left_out))
    wound_w = sum(_wound_w(wiring, left_out))
    has_transformer = bool(wiring.supply.power_refs)
    wound_a = wound_w / line_v * (1 + _OWN_LOSS) if has_transformer else 0.0
    pulses = [_pulses(each.supplies.spec_of(each.line_row), each, line_v) for each in supplies]
    return LineCurrent(
        line_v,
        direct_a + loads_a + wound_a,
        sum(amperes for amperes, _ in pulses),
        sum(watts for _, watts in pulses),
        has_transformer,
        tuple(dict.fromkeys(left_out)),
    )


def _loads_a(wiring: Wiring, line_v: float, left_out: list[str]) -> Iterator[float]:
    """Amperes of loads across the line (a motor is taken as a resistor of its watts)."""
    fed = list(wiring.supply.feeds.values())
    for e in wiring.elements:
        part = wiring.chassis.part(e.ref)
        if e.kind is not Kind.LOAD or part is None or len(fed) != 2:
            continue
        if not all(any(net in feed for feed in fed) for net in e.nets):
            continue
        amperes, watts = part.value("current"), part.value("power")
        if amperes is not None:
            yield amperes
        elif watts is not None:
            yield watts / line_v
        elif e.ohm:
            yield line_v / e.ohm
        else:
            left_out.append(e.ref)


def _wound_w(wiring: Wiring, left_out: list[str]) -> Iterator[float]:
    """Rated watts of each heater and lamp on a winding."""
    starts = [n for w in wiring.supply.windings if not w.driven for n in w.nets]
    kinds = (Kind.HEATER, Kind.LAMP)

    def ohm_of(e: Element) -> float | None:
        if e.kind in (*kinds, Kind.CONTACT, Kind.FUSE, Kind.STRAP):
            return 0.0
        near = e.kind is Kind.RESISTOR and e.ohm is not None and e.ohm < _SHORT_OHM
        return 0.0 if near else None

    reached = walk(wiring.adjacency, starts, ohm_of)
    for e in wiring.elements:
        if e.kind in kinds and e.a != e.b and e.a in reached and e.b in reached:
            watts = _rated_w(wiring, e)
            if watts is None:
                left_out.append(e.ref)
            else:
                yield watts


def _rated_w(wiring: Wiring, e: Element) -> float | None:
    part = wiring.chassis.part(e.ref)
    if part is None:
        return None
    if e.kind is Kind.LAMP:
        known = lamp(part.description.designation) if part.description.designation else None
        if known is not None:
            return known.v * known.a
        volts, amperes = part.value("voltage"), part.value("current")
        return volts * amperes if volts and amperes else part.value("power")
    amperes = part.tube.heater_a if part.tube is not None else None
    return e.ohm * amperes**2 if e.ohm is not None and amperes is not None else None


def _pulses(spec: RectifierSpec, supply: SupplyPoint, line_v: float) -> tuple[float, float]:
    """Rms amperes of a supply on the line's side, and watts taken from the line.

    What flows at a port of a network of resistors and windings appears at the line in the ratio in
    which the line's volts appear at the open port (reciprocity).
    """
    if spec.wave is Wave.SQUARE:
        return 0.0, 0.0
    ratio = float(spec.figure("volts")[0]) / line_v
    grid = spec.grid()
    form = form_of(spec, grid, 1)
    load_s = 1.0 / supply.cycle.load_ohm.reshape(-1)
    start = form.start(np.full(spec.size, 0.8))
    cycle = solve_cycle(form.flow, grid, spec.cycle_s, start, form.out, load_s)
    source_a = form.waves(cycle.states, cycle.load_s).source_a[..., 0]
    emf_v = spec.emf(grid)[..., 0]
    rms_a = float(np.sqrt(np.sum(grid.weights * source_a**2)))
    watts = float(np.sum(grid.weights * source_a * emf_v))
    return ratio * rms_a, watts
