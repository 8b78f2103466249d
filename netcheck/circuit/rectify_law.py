"""How a rectifier drops volts, as one law for every kind, because the cycle needs its current.

Belongs here: the law of vacuum, silicon, selenium and gas rectifiers, and its current through a
series resistance. Does not belong here: which law a part has (rectify_fit), the cycle (rectify).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Array", "RectifierLaw", "forward_current"]

Array = NDArray[np.float64]

_LEAST_OHM = 1e-3
"""Less than the wire of any supply; keeps an ideal switch across an ideal source solvable."""

_STEPS = 4
"""Newton steps for the cubic below: the start is at most 15 % high, the error squares each time."""


@dataclass(frozen=True, slots=True)
class RectifierLaw:
    """The forward drop of one rectifier: `threshold_v + (I / perveance)^(2/3) + ohm * I`, in volts.

    `perveance` in A/V^1.5, 0 where no space charge limits the current (silicon, selenium, gas,
    contacts). Source: space-charge law of a diode, I. Langmuir, Phys. Rev. 2 (1913) 450 (from
    memory). `basis` says where the figures come from; `seen` is whether their source was read.
    """

    kind: str
    perveance: float = 0.0
    threshold_v: float = 0.0
    ohm: float = 0.0
    basis: str = ""
    seen: bool = False

    def drop_v(self, amperes: float) -> float:
        """The forward drop in volts at a current in amperes (0 V at no current)."""
        if amperes <= 0:
            return 0.0
        tube_v = (amperes / self.perveance) ** (2 / 3) if self.perveance > 0 else 0.0
        return self.threshold_v + tube_v + self.ohm * amperes

    def times(self, factor: float) -> RectifierLaw:
        """The law with its current multiplied by `factor` (half emission: 0.5; two plates: 2)."""
        return RectifierLaw(
            self.kind, self.perveance * factor, self.threshold_v, self.ohm / factor,
            self.basis, self.seen,
        )  # fmt: skip


def forward_current(volts: Array, ohm: Array, drop: Array) -> tuple[Array, Array]:
    """Amperes through a rectifier in series with a resistance, and their slope in siemens.

    Solves `volts = drop * I^(2/3) + ohm * I` (the threshold already taken off) for I >= 0; in
    `s = I^(1/3)` a cubic that Newton's method meets from above. Below zero volts nothing flows.

    Args:
        volts: volts across both, less the threshold.
        ohm: series ohms, broadcast against `volts`.
        drop: V/A^(2/3) of the space-charge law (`perveance^(-2/3)`), 0 for none.
    """
    amperes = np.zeros(np.shape(volts))
    slope = np.zeros(np.shape(volts))
    on = np.nonzero(volts > 0.0)
    if not on[0].size:
        return amperes, slope
    u = volts[on]
    r = np.maximum(np.broadcast_to(ohm, volts.shape)[on], _LEAST_OHM)
    c = np.broadcast_to(drop, volts.shape)[on]
    # Each term alone is at most u: two upper bounds of s.
    s = np.minimum(np.sqrt(u / np.maximum(c, 1e-12)), np.cbrt(u / r))
    for _ in range(_STEPS):
        s -= (s * s * (c + r * s) - u) / (s * (2.0 * c + 3.0 * r * s))
    amperes[on] = s * s * s
    slope[on] = 3.0 * s / (2.0 * c + 3.0 * r * s)
    return amperes, slope
