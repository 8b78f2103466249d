"""What a rectifier, its source and its reservoir are, in numbers for any number of variants.

Belongs here: the kinds of rectifier circuit, the shape of the source, the figures of each. Does
not belong here: solving them (rectify), finding them in a set (source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from netcheck.circuit.rectify_cycle import TR_BDF2, TWICE_EULER, Grid, Scheme
from netcheck.circuit.rectify_law import Array, RectifierLaw

__all__ = ["FIGURES", "RectifierKind", "RectifierSpec", "Wave", "stacked"]

_LEAST_DWELL = 0.02
_DENSE, _SPARSE = 96, 24
"""Steps of a half cycle that conducts and of one that only discharges. The mean then agrees within
0.05 % and ripple and currents within 0.5 % with an integration under error control
(tests/circuit/test_rectify_independent.py)."""


class RectifierKind(Enum):
    """How the rectifiers stand between the source and the reservoir."""

    HALF_WAVE = "half wave"
    FULL_WAVE = "full wave"
    BRIDGE = "bridge"
    CASCADE_DOUBLER = "half-wave voltage doubler"
    FULL_WAVE_DOUBLER = "full-wave voltage doubler"
    COUPLED_HALF_WAVE = "half wave through a capacitor"

    @property
    def repeats_each_half(self) -> bool:
        """Whether both halves of the line cycle look the same at the reservoir."""
        return self in (RectifierKind.FULL_WAVE, RectifierKind.BRIDGE)

    @property
    def is_doubler(self) -> bool:
        """Whether the output adds two reservoirs."""
        return self in (RectifierKind.CASCADE_DOUBLER, RectifierKind.FULL_WAVE_DOUBLER)


class Wave(Enum):
    """The shape of the source: the line, a vibrator (flat tops with a dwell), a DC line."""

    SINE = "sine"
    SQUARE = "square"
    STEADY = "steady"


@dataclass(frozen=True)
class RectifierSpec:
    """A rectifier supply; every figure is a number or an array of B variants.

    Args:
        kind: the circuit.
        law: the drop of one rectifier (of each arm).
        volts: open-circuit volts per plate: rms of a sine, flat top of a square wave, DC line.
        hertz: of the source.
        source_ohm: all resistance in series with one plate while it conducts.
        reservoir_f: reservoir; of a choke input the capacitor behind the choke; of a doubler the
            output capacitor (cascade) or that of the plus side (full wave).
        second_f: doublers: the series (cascade) or minus-side capacitor.
        choke_h: henries before the first capacitor; 0 for capacitor input.
        choke_ohm: of that choke; without one, any ohms between rectifier and reservoir. They stay
            in the set's own network: the volts of the curve are those ahead of them.
        wave: shape of the source.
        dwell: part of each half cycle in which no vibrator contact is closed. The winding then
            swings over at an even rate, as its buffer capacitor lets it.
        loop_ohm: coupled half wave: all ohms in the loop of source and series capacitor.
        share: of it: how much of that loop's volts the rectifier sees; `source_ohm` is then what
            it sees in ohms with the series capacitor's volts held.
        emission: factor on the law's perveance (half emission 0.5).
    """

    kind: RectifierKind
    law: RectifierLaw
    volts: ArrayLike
    hertz: ArrayLike
    source_ohm: ArrayLike
    reservoir_f: ArrayLike
    second_f: ArrayLike = 0.0
    choke_h: ArrayLike = 0.0
    choke_ohm: ArrayLike = 0.0
    wave: Wave = Wave.SINE
    dwell: float = 0.15
    emission: ArrayLike = 1.0
    loop_ohm: ArrayLike = 0.0
    share: ArrayLike = 1.0

    @cached_property
    def size(self) -> int:
        """The number of variants B."""
        return max(np.size(getattr(self, name)) for name in FIGURES)

    @property
    def has_choke(self) -> bool:
        """Whether a choke stands before the first capacitor."""
        return not self.kind.is_doubler and bool(np.any(np.asarray(self.choke_h) > 0))

    def figure(self, name: str) -> Array:
        """A figure as (B,). Raises ValueError when the arrays do not agree in length."""
        values = np.asarray(getattr(self, name), dtype=float)
        size = self.size
        return values if values.shape == (size,) else np.broadcast_to(values.ravel(), (size,))

    @property
    def peak_v(self) -> Array:
        """Highest instantaneous volts of the source (B,)."""
        return self.figure("volts") * (np.sqrt(2.0) if self.wave is Wave.SINE else 1.0)

    @property
    def no_load_v(self) -> Array:
        """Output volts without load (B,): the peak, twice that of a doubler."""
        in_series = 2.0 if self.kind is RectifierKind.BRIDGE else 1.0
        peak_v = self.peak_v * self._passed
        one = np.maximum(peak_v - in_series * self.law.threshold_v, 0.0)
        return one * (2.0 if self.kind.is_doubler else 1.0)

    @property
    def _passed(self) -> Array:
        """How much of the peak a series capacitor lets through while nothing is drawn (B,)."""
        if self.kind is not RectifierKind.COUPLED_HALF_WAVE:
            return np.ones(self.size)
        turn = 2.0 * np.pi * self.figure("hertz") * self.figure("loop_ohm")
        turn = turn * self.figure("second_f")
        return np.asarray(self.figure("share") * turn / np.sqrt(1.0 + turn**2))

    @property
    def cycle_s(self) -> Array:
        """Seconds after which everything at the reservoir repeats (B,)."""
        if self.wave is Wave.STEADY:
            return np.ones(self.size)
        whole = 1.0 / np.maximum(self.figure("hertz"), 1e-3)
        return whole / 2.0 if self.kind.repeats_each_half else whole

    def grid(self, finer: int = 1) -> Grid:
        """The steps of one such cycle: dense where current can flow, sparse elsewhere."""
        if self.wave is Wave.STEADY:
            return _joined([(1.0, 2)], TWICE_EULER)
        halves = [1.0] if self.kind.repeats_each_half else [0.5, 0.5]
        one_sided = self.kind is RectifierKind.HALF_WAVE and not self.has_choke
        parts: list[tuple[float, int]] = []
        for index, width in enumerate(halves):
            steps = finer * (_SPARSE if one_sided and index else _DENSE)
            if self.wave is Wave.SQUARE:
                dwell = self._dwell
                parts += [(width * (1 - dwell), steps * 2 // 3), (width * dwell, steps // 3)]
            else:
                parts.append((width, steps))
        return _joined(parts, TWICE_EULER if self.has_choke else TR_BDF2)

    @property
    def _dwell(self) -> float:
        return float(np.clip(self.dwell, _LEAST_DWELL, 0.95))

    def emf(self, grid: Grid) -> Array:
        """Volts of the source (per plate; both halves upward if they repeat): (2, N, B)."""
        part = grid.samples / (2.0 if self.kind.repeats_each_half else 1.0)
        if self.wave is Wave.STEADY:
            shape = np.ones_like(part)
        elif self.wave is Wave.SINE:
            shape = np.sin(2.0 * np.pi * part)
        else:
            shape = _square(part, self._dwell)
        if self.kind.repeats_each_half and self.wave is not Wave.STEADY:
            shape = np.abs(shape)
        return shape[..., None] * self.peak_v


FIGURES = (
    "volts", "hertz", "source_ohm", "reservoir_f", "second_f", "choke_h", "choke_ohm", "emission",
    "loop_ohm", "share",
)  # fmt: skip


def stacked(specs: Sequence[RectifierSpec]) -> RectifierSpec:
    """One spec with the variants of several of the same circuit and law, one after the other."""
    columns: dict[str, Any] = {
        name: np.concatenate([each.figure(name) for each in specs]) for name in FIGURES
    }
    return replace(specs[0], **columns)


def _joined(parts: list[tuple[float, int]], scheme: Scheme) -> Grid:
    """Stretches of even steps one after the other: (share of the cycle, number of steps)."""
    width = np.concatenate([np.full(count, share / count) for share, count in parts])
    return Grid(np.concatenate([[0.0], np.cumsum(width)[:-1]]), width, scheme)


def _square(part: Array, dwell: float) -> Array:
    """+1 and -1 in turn, swinging over evenly during the dwell at the end of each half."""
    within = (2.0 * part) % 1.0
    swing = np.clip((within - (1.0 - dwell)) / dwell, 0.0, 1.0)
    return np.where(part < 0.5, 1.0, -1.0) * (1.0 - 2.0 * swing)
