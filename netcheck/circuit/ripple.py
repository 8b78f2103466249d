"""Ripple down the filter: what is left of a reservoir's ripple at every net behind it.

Belongs here: phasors at the harmonics of the ripple in a linear network of resistors, chokes and
capacitors. Does not belong here: the ripple at the reservoir (rectify), which parts a set has.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from netcheck.circuit.rectify_law import Array

__all__ = ["FilterBranch", "ripple_volts"]

_LEAST_OHM = 1e-6
_LEAK_S = 1e-15
"""To the return at every net: a net that nothing else joins is quiet and not undetermined."""


@dataclass(frozen=True, slots=True)
class FilterBranch:
    """Resistance, inductance and capacitance in series between two nets.

    `farad` None: no capacitor in it (0 F: open). A load is its volts over its amperes, or a
    tube's plate resistance where that is known: a given `ohm`.
    """

    a: str
    b: str
    ohm: float = 0.0
    henry: float = 0.0
    farad: float | None = None


def ripple_volts(
    branches: Sequence[FilterBranch], plus: str, minus: str, hertz: float, harmonic_v: ArrayLike
) -> Mapping[str, Array]:
    """Ripple rms at every net against `minus`, for each harmonic.

    Args:
        branches: what is joined to the supply; a branch straight across `plus` and `minus` (the
            reservoir) changes nothing.
        plus: the net with the ripple.
        minus: the net it is given against.
        hertz: of the first harmonic.
        harmonic_v: rms at 1, 2, ... times `hertz` between the two, (H,).

    Returns:
        net -> rms volts (H,). The total is the root of the sum of their squares.

    Raises:
        ValueError: `plus` is `minus`, or `hertz` is not above zero.
    """
    if plus == minus or not hertz > 0.0:
        raise ValueError("ripple needs two nets and a frequency above zero")
    lines = np.atleast_1d(np.asarray(harmonic_v, dtype=float))
    omega: Array = 2.0 * np.pi * hertz * np.arange(1.0, lines.size + 1.0)
    names = dict.fromkeys([minus, plus, *(net for b in branches for net in (b.a, b.b))])
    index = {net: i for i, net in enumerate(names)}
    siemens = _admittances(branches, index, omega)
    free = np.arange(2, len(index))
    volts = np.zeros((lines.size, len(index)), dtype=complex)
    volts[:, 1] = lines
    if free.size:
        inside = siemens[:, free[:, None], free] + _LEAK_S * np.eye(free.size)
        driven = -siemens[:, free, 1] * volts[:, 1:2]
        volts[:, free] = np.linalg.solve(inside, driven[..., None])[..., 0]
    return {net: np.abs(volts[:, i]) for net, i in index.items()}


def _admittances(
    branches: Sequence[FilterBranch], index: Mapping[str, int], omega: Array
) -> NDArray[np.complex128]:
    """The nodal matrix at each frequency, (H, nets, nets)."""
    matrix = np.zeros((omega.size, len(index), len(index)), dtype=complex)
    for branch in branches:
        if branch.a == branch.b or branch.farad == 0.0:
            continue
        ohm = branch.ohm + 1j * omega * branch.henry
        if branch.farad is not None:
            ohm = ohm + 1.0 / (1j * omega * branch.farad)
        small = np.abs(ohm) < _LEAST_OHM
        y = 1.0 / np.where(small, _LEAST_OHM, ohm)
        i, j = index[branch.a], index[branch.b]
        matrix[:, i, i] += y
        matrix[:, j, j] += y
        matrix[:, i, j] -= y
        matrix[:, j, i] -= y
    return matrix
