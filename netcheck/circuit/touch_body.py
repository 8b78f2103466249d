"""What stands for a hand between metal and earth, because touch current is read across a network.

Belongs here: the two measuring networks and what each reads. Does not belong here: the set behind
the metal, limits, any judgement.

Body: IEC 60990 figure 4 (1500 ohm with 0.22 uF across, in series with 500 ohm; the volts over the
500 ohm through 10 kohm and 0.022 uF, divided by 500 ohm), values as printed in the annex D page of
a service manual (HD-E1KE) after IEC 60065. Bench: 1500 ohm with 0.15 uF across, the leakage check
of service manuals (Panasonic TH-42PW5, safety page).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["bench_ohm", "bench_v", "body_a", "body_ohm"]

Complex = NDArray[np.complex128]
Array = NDArray[np.float64]

_SKIN_OHM, _SKIN_F = 1500.0, 0.22e-6
_INNER_OHM = 500.0
_FILTER_OHM, _FILTER_F = 10e3, 0.022e-6
_BENCH_OHM, _BENCH_F = 1500.0, 0.15e-6


def _omega(hertz: float) -> float:
    return 2 * math.pi * hertz


def _inner_ohm(hertz: float) -> complex:
    """The 500 ohm with the reading's filter across it."""
    across = 1j * _omega(hertz) * _FILTER_F
    return 1 / (1 / _INNER_OHM + across / (1 + across * _FILTER_OHM))


def body_ohm(hertz: float) -> complex:
    """The whole body network at `hertz` (0: direct current), ohms."""
    return 1 / (1 / _SKIN_OHM + 1j * _omega(hertz) * _SKIN_F) + _inner_ohm(hertz)


def body_a(open_v: Complex, behind_ohm: Complex, hertz: float) -> Array:
    """Touch current U2/500 in amperes rms, from open-circuit volts rms and the ohms behind them."""
    through = open_v / (behind_ohm + body_ohm(hertz))
    weighting = 1 / (1 + 1j * _omega(hertz) * _FILTER_F * _FILTER_OHM)
    return np.asarray(np.abs(through * _inner_ohm(hertz) * weighting) / _INNER_OHM)


def bench_ohm(hertz: float) -> complex:
    """The resistor and capacitor of the leakage check at `hertz`, ohms."""
    return 1 / (1 / _BENCH_OHM + 1j * _omega(hertz) * _BENCH_F)


def bench_v(open_v: Complex, behind_ohm: Complex, hertz: float) -> Array:
    """Volts rms that the leakage check reads."""
    own = bench_ohm(hertz)
    return np.asarray(np.abs(open_v * own / (behind_ohm + own)))
