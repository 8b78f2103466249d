"""Accepting a solution: Kirchhoff's current law at every node, one refinement, else refusal.

Belongs here: volts of all nodes from those of the ports, current sums, the verdict. Does not belong
here: finding the port volts (direct.py).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from netcheck.circuit.direct_types import (
    ACCEPTED_A,
    ACCEPTED_V,
    Array,
    Changes,
    Device,
    Indices,
    Linear,
    Solutions,
    SparseDevice,
    Variant,
)

__all__ = ["judged"]

# Beyond this a row did not converge; a step on the whole network would not mend it.
_REFINABLE_A = 1e-4


def judged(
    linear: Linear,
    devices: Sequence[Device],
    variants: Sequence[Variant],
    changes: Changes,
    volts: Array,
    last_step_v: Array,
    free: Indices,
) -> Solutions:
    """Accept or refuse each row of `volts` (B, count) by Kirchhoff's current law itself.

    `changes` are those of the variants; `last_step_v` (B,) is how far the ports moved last; `free`
    are the nodes that are not fixed.
    """
    rows = np.arange(len(variants))
    sums = _all_sums(linear, devices, changes, volts)
    residual = _worst(sums, free)
    worth = (residual > ACCEPTED_A / 10) & (residual < _REFINABLE_A) & np.isfinite(residual)
    for row in np.flatnonzero(worth):
        volts[row] = _refine(linear, devices, variants[int(row)], int(row), volts[row], free)
    if worth.any():
        sums = _all_sums(linear, devices, changes, volts)
        residual = _worst(sums, free)
    solved = (residual < ACCEPTED_A) & (last_step_v < ACCEPTED_V)
    solved &= np.isfinite(volts).all(axis=1)
    unsettled = {}
    for row in rows[~solved]:
        over = free[~(np.abs(sums[row, free]) < ACCEPTED_A)]
        unsettled[int(row)] = tuple(int(node) for node in over)
    volts[~solved] = np.nan
    return Solutions(volts, solved, residual, unsettled)


def _all_sums(linear: Linear, devices: Sequence[Device], changes: Changes, volts: Array) -> Array:
    """The sum of all currents that leave each node, (B, count)."""
    rows = np.arange(changes.count)
    sums = _current_sums(linear, changes, volts)
    for device in devices:
        evaluate = device.sparse if isinstance(device, SparseDevice) else device.evaluate
        into, _ = evaluate(volts[:, list(device.nodes)], rows)
        sums[:, list(device.nodes)] += into
    return sums


def _worst(sums: Array, free: Indices) -> Array:
    """The largest current sum of each row, (B,)."""
    worst: Array = np.abs(sums[:, free]).max(axis=1, initial=0.0)
    return worst


def _current_sums(linear: Linear, changes: Changes, volts: Array) -> Array:
    """Amperes that leave each node through the linear parts, less what sources bring."""
    through = linear.siemens * (volts[:, linear.a] - volts[:, linear.b])
    sums = np.zeros_like(volts)
    np.add.at(sums.T, linear.a, through.T)
    np.add.at(sums.T, linear.b, -through.T)
    sums -= linear.source_a
    row, a, b = changes.row, changes.a, changes.b
    extra = changes.siemens * (volts[row, a] - volts[row, b])
    np.add.at(sums, (row, a), extra)
    np.subtract.at(sums, (row, b), extra)
    np.subtract.at(sums, (changes.source_row, changes.source_node), changes.source_a)
    return sums


def _refine(
    linear: Linear,
    devices: Sequence[Device],
    variant: Variant,
    row: int,
    volts: Array,
    free: Indices,
) -> Array:
    """One Newton step of one variant on the whole network, by its own matrix.

    What a chain of corrections loses to rounding, two nets joined by a hundredth of an ohm turn
    into a nanoampere; the full equations have no such chain.
    """
    matrix = linear.matrix()
    for change in variant.changes:
        for node, other in ((change.a, change.b), (change.b, change.a)):
            matrix[node, node] += change.siemens
            matrix[node, other] -= change.siemens
    sums = _current_sums(linear, Changes([variant]), volts[None, :])[0]
    for device in devices:
        nodes = np.array(device.nodes, dtype=np.intp)
        into, slope = device.evaluate(volts[None, nodes], np.array([row], dtype=np.intp))
        sums[nodes] += into[0]
        matrix[np.ix_(nodes, nodes)] += slope[0]
    better = volts.copy()
    better[free] -= np.linalg.solve(matrix[np.ix_(free, free)], sums[free])
    return better
