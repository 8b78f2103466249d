"""Fits a rectifier's perveance to its published drop and to its published loads together.

Belongs here: a small model of rectifier, source resistance, reservoir and load for the fit. Does
not belong here: the supply of a chassis (the operating point has its own), catalogue data.

The drop is a point of the law itself. A published load fixes the perveance through the volts the
tube leaves over one cycle; the loads are mostly rounded to 5 V, the drops to 1 V.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from netcheck.catalog.published import RectifierLoad
from netcheck.circuit.tube_fit import Fit, NoFit
from netcheck.circuit.tube_law_forms import Array
from netcheck.parts import TubeType

__all__ = ["fit_rectifier", "loaded_output_v"]

_LINE_HZ = 60.0
_STEPS, _CYCLES = 240, 24
# What is forgiven: 10 % of the drop, 3 % of a table's output volts.
_DROP_MISS, _OUTPUT_MISS = 0.10, 0.03
# A gas rectifier's drop hardly depends on its current (0Z4; common practice): within a volt.
_GAS_SPAN_V = 1.0


def fit_rectifier(tube: TubeType, loads: Sequence[RectifierLoad] = ()) -> Fit:
    """Return the law of each plate of a rectifier.

    Raises:
        NoFit: neither a drop with its current nor a load with a reservoir is known.
    """
    drop_v, drop_a = tube.limits.get("drop-v"), tube.limits.get("drop-a")
    given = drop_a / drop_v**1.5 if drop_v and drop_a else None
    if given is not None and drop_v and drop_a and tube.heating == "none":
        return {"perveance": drop_a / _GAS_SPAN_V**1.5, "contact-v": _GAS_SPAN_V - drop_v}
    tables = [load for load in loads if load.input == "capacitor" and load.reservoir_f]
    if given is None and not tables:
        raise NoFit("neither its drop at a current nor a published load is known")
    if not tables:
        return {"perveance": float(given or 0.0), "contact-v": 0.0}
    tried = np.geomspace(2e-5, 2e-2, 61)
    misses = np.zeros_like(tried)
    if given is not None:
        misses += ((2.0 / 3.0) * np.log(tried / given) / _DROP_MISS) ** 2
    phases = 2 if "full-wave" in tube.kind else 1
    for load in tables:
        found = loaded_output_v(load, tried, phases)
        misses += ((found / load.output_v - 1.0) / _OUTPUT_MISS) ** 2
    return {"perveance": _lowest(np.log(tried), misses), "contact-v": 0.0}


def _lowest(logs: Array, misses: Array) -> float:
    """The vertex of the parabola through the lowest tried value and its neighbours."""
    k = int(np.clip(misses.argmin(), 1, len(logs) - 2))
    low, middle, high = misses[k - 1 : k + 2]
    curve = low - 2.0 * middle + high
    shift = 0.5 * (low - high) / curve if curve > 0.0 else 0.0
    return float(np.exp(logs[k] + np.clip(shift, -1.0, 1.0) * (logs[1] - logs[0])))


def loaded_output_v(
    load: RectifierLoad, perveance: Array, phases: int, hertz: float = _LINE_HZ
) -> Array:
    """Return the mean volts of a capacitor-input supply at a load's current, for each perveance.

    `phases` is 1 for half wave and 2 for full wave. The current through tube and source
    resistance solves `(I / perveance)^(2/3) + I * ohm = drive`; the reservoir is stepped over
    cycles until it repeats. The load draws a constant current.
    """
    if load.reservoir_f is None:
        raise ValueError("a load without a reservoir has no capacitor input")
    ohm = load.impedance_ohm or 0.0
    peak = load.plate_ac_v * np.sqrt(2.0)
    step_s = 1.0 / hertz / _STEPS
    wave = peak * np.sin(2.0 * np.pi * (np.arange(_STEPS) + 0.5) / _STEPS)
    wave = np.abs(wave) if phases == 2 else wave
    volts = np.full_like(perveance, min(load.output_v, 0.97 * peak))
    mean = volts
    for _ in range(_CYCLES):
        start, total = volts, np.zeros_like(perveance)
        for source in wave:
            root = _root_of_drop(np.maximum(source - volts, 0.0), perveance * ohm)
            volts = volts + (perveance * root**3 - load.output_a) * step_s / load.reservoir_f
            total += volts
        mean = total / _STEPS
        if np.abs(volts - start).max() < 1e-4:
            break
    return mean


def _root_of_drop(drive: Array, factor: Array) -> Array:
    """Square root of the tube's drop: x^2 + factor * x^3 = drive, by Newton.

    It starts from the smaller of the roots without one of the terms, which both lie above.
    """
    drive = drive + 1e-9
    x = np.minimum(np.sqrt(drive), np.cbrt(drive / np.maximum(factor, 1e-12)))
    for _ in range(4):
        x = x - (x * x * (1.0 + factor * x) - drive) / (x * (2.0 + 3.0 * factor * x))
    return np.asarray(x)
