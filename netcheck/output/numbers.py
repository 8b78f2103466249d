"""Numbers as people and programs read them: three significant digits, or nothing at all.

Belongs here: formatting of bare numbers. Does not belong here: units or quantities.
"""

from __future__ import annotations

import math

__all__ = ["chart_figure", "figure", "finite"]

_SMALLEST = 5e-4  # volts or milliamperes: below it is what rounding left of nothing


def figure(value: float | None) -> str:
    """Return `value` with three significant digits, whole digits kept; `unknown` if it is none.

    >>> figure(2.2619), figure(1500.0), figure(0.5), figure(123456.0), figure(None)
    ('2.26', '1500', '0.5', '123456', 'unknown')
    """
    if value is None or not math.isfinite(value):
        return "unknown"
    size = abs(value)
    if size and not 1e-3 <= size < 1e6:
        return f"{value:.3g}"
    if size >= 100:
        return f"{value:.0f}"
    return f"{float(f'{value:.3g}'):g}"


def chart_figure(value: float | None, smallest: float = _SMALLEST) -> str:
    """Return a figure of a chart; below `smallest` it is rounding and taken for nothing.

    >>> chart_figure(-2.2e-25), chart_figure(6.09), chart_figure(None)
    ('0', '6.09', 'unknown')
    """
    return figure(0.0 if value is not None and abs(value) < smallest else value)


def finite(value: float | None) -> float | None:
    """Return `value`, or None where it is no number: JSON knows neither NaN nor infinity."""
    return value if value is not None and math.isfinite(value) else None
