"""Curves as coordinates: axes, ticks and lines of a small chart.

Belongs here: from values to pixels. Does not belong here: where the values come from (bench/),
strokes (templates).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from netcheck.output.numbers import figure

__all__ = ["Curve", "Line", "Tick", "band_bar", "curve"]

WIDTH: Final = 320.0
HEIGHT: Final = 190.0
LEFT: Final = 46.0
RIGHT: Final = 12.0
TOP: Final = 14.0
BOTTOM: Final = 34.0
_BAR: Final = 96.0


@dataclass(frozen=True, slots=True)
class Tick:
    """A tick at `at` pixels along its axis."""

    at: float
    text: str


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points in pixels; `kind` is curve, limit or mark."""

    kind: str
    points: tuple[tuple[float, float], ...]
    name: str = ""

    @property
    def path(self) -> str:
        """The line as an SVG path."""
        return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in self.points)


@dataclass(frozen=True, slots=True)
class Curve:
    """A chart ready to draw."""

    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    lines: tuple[Line, ...]
    x_title: str
    y_title: str
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = WIDTH - RIGHT
    top: float = TOP
    bottom: float = HEIGHT - BOTTOM


def curve(
    series: Sequence[tuple[str, str, Sequence[tuple[float, float]]]],
    x_title: str,
    y_title: str,
    x_ticks: Sequence[tuple[float, str]],
    *,
    logarithmic: bool = False,
) -> Curve:
    """Lay out a chart.

    Args:
        series: (kind, name, points (x, y)) of each line.
        x_title: what runs to the right.
        y_title: what rises.
        x_ticks: values along x with their texts; the first and last bound the axis.
        logarithmic: whether x is.

    Raises:
        ValueError: there is no tick to bound the axis.
    """
    if len(x_ticks) < 2:
        raise ValueError("an axis needs two ticks at least")
    scale = math.log10 if logarithmic else float
    low_x, high_x = scale(x_ticks[0][0]), scale(x_ticks[-1][0])
    values = [y for _, _, points in series for _, y in points] or [0.0, 1.0]
    steps = _steps(min(0.0, *values), max(0.0, *values))

    def x_of(value: float) -> float:
        share = (scale(value) - low_x) / (high_x - low_x)
        return LEFT + min(max(share, 0.0), 1.0) * (WIDTH - LEFT - RIGHT)

    def y_of(value: float) -> float:
        share = (value - steps[0]) / (steps[-1] - steps[0])
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)

    return Curve(
        tuple(Tick(x_of(value), text) for value, text in x_ticks),
        tuple(Tick(y_of(value), figure(value)) for value in steps),
        tuple(
            Line(kind, tuple((x_of(x), y_of(y)) for x, y in points), name)
            for kind, name, points in series
            if points
        ),
        x_title,
        y_title,
    )


def _steps(low: float, high: float) -> list[float]:
    """Round figures from below the least to above the greatest, four to eight of them."""
    span = max(high - low, 1e-9)
    rough = span / 5
    decade = 10.0 ** math.floor(math.log10(rough))
    step = next(decade * m for m in (1, 2, 5, 10) if decade * m >= rough)
    first = math.floor(low / step + 1e-9)
    last = max(math.ceil(high / step - 1e-9), first + 1)
    return [k * step for k in range(first, last + 1)]


def band_bar(
    low: float | None, value: float | None, high: float | None, least: float, most: float
) -> tuple[float, float, float] | None:
    """Pixels of low, value and high on a bar of 96 from `least` to `most`; None if not all known.

    >>> band_bar(0.0, 50.0, 100.0, 0.0, 100.0)
    (0.0, 48.0, 96.0)
    """
    if low is None or value is None or high is None or most <= least:
        return None
    ends = [min(max((v - least) / (most - least), 0.0), 1.0) * _BAR for v in (low, value, high)]
    return ends[0], ends[1], ends[2]
