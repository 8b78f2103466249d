"""The rectifier circuits as equations of one or two states, because the cycle needs only those.

Belongs here: states, rates and slopes of capacitor input, choke input and the doublers, and the
waves that follow from a solved cycle. Does not belong here: solving (rectify_cycle), what a
restorer reads (rectify).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, Protocol

import numpy as np

from netcheck.circuit.rectify_cycle import Flow, Grid
from netcheck.circuit.rectify_law import Array, forward_current
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec

__all__ = ["RectifierForm", "Waves", "form_of"]

_LEAST_FARAD = 1e-12
"""A missing capacitor of a doubler: the node between the rectifiers keeps some volts."""

Valve = Callable[[Array], tuple[Array, Array]]


class Waves(NamedTuple):
    """Waves over one cycle, each (2, N, P).

    `plus_v` at the rectifier's output, `filter_v` at the first capacitor, `plate_a` of a
    rectifier (both in turn if the halves repeat), `source_a`, `source_w` from the source's own
    volts, `reservoir_a` into the capacitor, `inverse_v` across a rectifier that blocks.
    """

    plus_v: Array
    filter_v: Array
    plate_a: Array
    source_a: Array
    source_w: Array
    reservoir_a: Array
    inverse_v: Array


class RectifierForm(Protocol):
    """A circuit ready to be solved."""

    out: Array

    def start(self, share: Array) -> Array:
        """First guess of the states (m, P) from that of the output, a share (P,) of no load."""

    def flow(self, x: Array, g: Array) -> Flow:
        """Charges and rates at states `x` (m, 2, N, P) with load siemens `g` (P,)."""

    def waves(self, x: Array, g: Array) -> Waves:
        """What flows and stands where in the solved cycle."""


def form_of(spec: RectifierSpec, grid: Grid, repeat: int) -> RectifierForm:
    """The equations of a spec, each of its variants `repeat` times in a row (load points)."""
    figures = _Figures(spec, grid, repeat)
    if spec.has_choke:
        return _ChokeInput(figures)
    if spec.kind is RectifierKind.FULL_WAVE_DOUBLER:
        return _FullWaveDoubler(figures)
    if spec.kind is RectifierKind.CASCADE_DOUBLER:
        return _CascadeDoubler(figures)
    if spec.kind is RectifierKind.COUPLED_HALF_WAVE:
        return _CoupledHalfWave(figures)
    return _CapacitorInput(figures)


class _Figures:
    """The numbers of a spec, repeated for the load points."""

    def __init__(self, spec: RectifierSpec, grid: Grid, repeat: int) -> None:
        def of(name: str) -> Array:
            return np.repeat(spec.figure(name), repeat)

        self.spec = spec
        self.emf_v = np.repeat(spec.emf(grid), repeat, axis=-1)
        self.peak_v = np.repeat(spec.peak_v, repeat)
        self.reservoir_f = np.maximum(of("reservoir_f"), 0.0)
        self.second_f = np.maximum(of("second_f"), 0.0)
        self.choke_h = np.maximum(of("choke_h"), 0.0)
        self.choke_ohm = np.maximum(of("choke_ohm"), 0.0)
        self.loop_ohm = np.maximum(of("loop_ohm"), 1e-3)
        self.share = of("share")
        arms = 2.0 if spec.kind is RectifierKind.BRIDGE else 1.0
        emission = np.maximum(of("emission"), 1e-9)
        self._ohm = np.maximum(of("source_ohm"), 0.0) + arms * spec.law.ohm
        perveance = spec.law.perveance * emission
        self._drop = np.zeros_like(emission)
        if spec.law.perveance > 0:
            self._drop = arms * perveance ** (-2.0 / 3.0)
        self._threshold_v = arms * spec.law.threshold_v

    def valve(self, volts: Array, behind_ohm: Array | float = 0.0) -> tuple[Array, Array]:
        """Amperes and siemens through source, rectifier and ohms behind it, at the volts across."""
        return forward_current(volts - self._threshold_v, self._ohm + behind_ohm, self._drop)


class _CapacitorInput:
    """One state, the reservoir's volts: `C dv/dt = i(e - v) - G v`.

    Ohms between rectifier and reservoir (a surge resistor) act as ohms of the source.
    """

    def __init__(self, figures: _Figures) -> None:
        self._its = figures
        self.out = np.ones(1)

    def start(self, share: Array) -> Array:
        return (share * self._its.peak_v)[None]

    def flow(self, x: Array, g: Array) -> Flow:
        its = self._its
        amperes, siemens = its.valve(its.emf_v - x[0], its.choke_ohm)
        capacity = np.broadcast_to(its.reservoir_f, x.shape)
        return Flow(
            its.reservoir_f * x,
            capacity,
            (amperes - g * x[0])[None],
            (-siemens - g)[None, None],
            -x,
        )

    def waves(self, x: Array, g: Array) -> Waves:
        its = self._its
        volts = x[0]
        amperes, _ = its.valve(its.emf_v - volts, its.choke_ohm)
        plus = volts + its.choke_ohm * amperes
        if its.spec.kind is RectifierKind.FULL_WAVE:
            inverse = plus + its.emf_v
        elif its.spec.kind is RectifierKind.BRIDGE:
            inverse = np.maximum(plus, its.emf_v)
        else:
            inverse = plus - its.emf_v
        into = amperes - g * volts
        return Waves(plus, volts, amperes, amperes, its.emf_v * amperes, into, inverse)


class _ChokeInput:
    """States: volts across source and rectifier `u`, volts behind the choke `v`.

    `L d i(u)/dt = e - u - R i(u) - v` and `C dv/dt = i(u) - G v`: with `u` and not the current as
    state a blocked rectifier is no special case.
    """

    def __init__(self, figures: _Figures) -> None:
        self._its = figures
        self.out = np.array([0.0, 1.0])

    def start(self, share: Array) -> Array:
        return np.stack([0.05 * self._its.peak_v, 0.6 * share * self._its.peak_v])

    def flow(self, x: Array, g: Array) -> Flow:
        its = self._its
        across, volts = x
        amperes, siemens = its.valve(across)
        charge = np.stack([its.choke_h * amperes, its.reservoir_f * volts])
        capacity = np.stack([its.choke_h * siemens, np.broadcast_to(its.reservoir_f, volts.shape)])
        rate = np.stack([its.emf_v - across - its.choke_ohm * amperes - volts, amperes - g * volts])
        slope = _square_of(
            -1.0 - its.choke_ohm * siemens, -np.ones_like(volts),
            siemens, np.broadcast_to(-g, volts.shape),
        )  # fmt: skip
        return Flow(charge, capacity, rate, slope, np.stack([np.zeros_like(volts), -volts]))

    def waves(self, x: Array, g: Array) -> Waves:
        its = self._its
        across, volts = x
        amperes, _ = its.valve(across)
        plus = its.emf_v - across
        blocked = {RectifierKind.FULL_WAVE: plus + its.emf_v, RectifierKind.BRIDGE: plus}
        inverse = blocked.get(its.spec.kind, -across)
        into = amperes - g * volts
        return Waves(plus, volts, amperes, amperes, its.emf_v * amperes, into, inverse)


class _FullWaveDoubler:
    """States: the two capacitors in series, each filled in its half cycle."""

    def __init__(self, figures: _Figures) -> None:
        self._its = figures
        self.out = np.ones(2)

    def start(self, share: Array) -> Array:
        return np.stack([share * self._its.peak_v] * 2)

    def flow(self, x: Array, g: Array) -> Flow:
        its = self._its
        farad = np.maximum(np.stack([its.reservoir_f, its.second_f]), _LEAST_FARAD)
        both = x[0] + x[1]
        first, slope1 = its.valve(its.emf_v - x[0])
        second, slope2 = its.valve(-its.emf_v - x[1])
        load = np.broadcast_to(g, both.shape)
        return Flow(
            farad[:, None, None] * x,
            np.broadcast_to(farad[:, None, None], x.shape),
            np.stack([first - g * both, second - g * both]),
            _square_of(-slope1 - load, -load, -load, -slope2 - load),
            np.stack([-both, -both]),
        )

    def waves(self, x: Array, g: Array) -> Waves:
        its = self._its
        both = x[0] + x[1]
        first, _ = its.valve(its.emf_v - x[0])
        second, _ = its.valve(-its.emf_v - x[1])
        source = first - second
        return Waves(
            both, both, first, source, its.emf_v * source, first - g * both, x[0] - its.emf_v
        )


class _CascadeDoubler:
    """States: the series capacitor (filled in the negative half), the output capacitor."""

    def __init__(self, figures: _Figures) -> None:
        self._its = figures
        self.out = np.array([0.0, 1.0])

    def start(self, share: Array) -> Array:
        return np.stack([np.maximum(share, 0.9) * self._its.peak_v, 2.0 * share * self._its.peak_v])

    def flow(self, x: Array, g: Array) -> Flow:
        its = self._its
        farad = np.maximum(np.stack([its.second_f, its.reservoir_f]), _LEAST_FARAD)
        filling, slope1 = its.valve(-its.emf_v - x[0])
        lifted, slope2 = its.valve(its.emf_v + x[0] - x[1])
        load = np.broadcast_to(g, x[1].shape)
        return Flow(
            farad[:, None, None] * x,
            np.broadcast_to(farad[:, None, None], x.shape),
            np.stack([filling - lifted, lifted - g * x[1]]),
            _square_of(-slope1 - slope2, slope2, slope2, -slope2 - load),
            np.stack([np.zeros_like(x[1]), -x[1]]),
        )

    def waves(self, x: Array, g: Array) -> Waves:
        its = self._its
        filling, _ = its.valve(-its.emf_v - x[0])
        lifted, _ = its.valve(its.emf_v + x[0] - x[1])
        inverse = np.maximum(its.emf_v + x[0], x[1] - its.emf_v - x[0])
        source = lifted - filling
        return Waves(x[1], x[1], lifted, source, its.emf_v * source, lifted - g * x[1], inverse)


class _CoupledHalfWave:
    """States: the series capacitor's volts `u`, the reservoir's volts `v`.

    A source `e`, a capacitor and a resistor to the return make a loop of `R` ohms, of whose volts
    the rectifier sees the share `k`: `C du/dt = (e - u)/R + k i` and `C2 dv/dt = i - G v` with
    `i = i(k(e - u) - v)` (superposition and L. Thevenin's theorem). The resistor carries back what
    the rectifier drew.
    """

    def __init__(self, figures: _Figures) -> None:
        self._its = figures
        self.out = np.array([0.0, 1.0])

    def start(self, share: Array) -> Array:
        its = self._its
        return np.stack([np.zeros_like(share), share * its.share * its.peak_v])

    def flow(self, x: Array, g: Array) -> Flow:
        its = self._its
        farad = np.maximum(np.stack([its.second_f, its.reservoir_f]), _LEAST_FARAD)
        amperes, siemens, loop_a = self._currents(x)
        load = np.broadcast_to(g, x[1].shape)
        return Flow(
            farad[:, None, None] * x,
            np.broadcast_to(farad[:, None, None], x.shape),
            np.stack([loop_a + its.share * amperes, amperes - g * x[1]]),
            _square_of(
                -1.0 / its.loop_ohm - its.share**2 * siemens, -its.share * siemens,
                -its.share * siemens, -siemens - load,
            ),
            np.stack([np.zeros_like(x[1]), -x[1]]),
        )  # fmt: skip

    def _currents(self, x: Array) -> tuple[Array, Array, Array]:
        """Amperes and siemens of the rectifier, and the loop's own amperes."""
        its = self._its
        seen_v = its.emf_v - x[0]
        amperes, siemens = its.valve(its.share * seen_v - x[1], its.choke_ohm)
        return amperes, siemens, seen_v / its.loop_ohm

    def waves(self, x: Array, g: Array) -> Waves:
        its = self._its
        amperes, _, loop_a = self._currents(x)
        source = loop_a + its.share * amperes
        plus = x[1] + its.choke_ohm * amperes
        inverse = plus - its.share * (its.emf_v - x[0])
        return Waves(plus, x[1], amperes, source, its.emf_v * source, amperes - g * x[1], inverse)


def _square_of(a: Array, b: Array, c: Array, d: Array) -> Array:
    """The matrix ((a, b), (c, d)) with the states as its two first axes."""
    return np.stack([np.stack([a, b]), np.stack([c, d])])
