"""Direct-current solutions of one network in many variants at once.

Belongs here: damped Newton steps at the nodes where nonlinear devices are. Does not belong here:
the linear network (direct_reduce.py), the test by which a solution is accepted (direct_judge.py),
what the parts of a set are (direct_model.py), tube laws, or what a variant means.

What is solved is v = v0 - Z i(v) at the ports (direct_reduce.py), for all variants side by side.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from netcheck.circuit.direct_judge import judged
from netcheck.circuit.direct_newton import Newton
from netcheck.circuit.direct_ports import PortNewton
from netcheck.circuit.direct_reduce import reduced
from netcheck.circuit.direct_types import (
    Array,
    Change,
    Changes,
    Device,
    Indices,
    Linear,
    Solutions,
    Variant,
)
from netcheck.circuit.direct_wide import WideNewton

__all__ = ["Array", "Change", "Device", "Indices", "Linear", "Solutions", "Variant", "solve"]

# From so many ports on, or changed parts in all variants, sparse factors of all nodes are quicker
# than a matrix of the ports for every variant.
_LARGE, _MANY = 100, 800


def solve(
    linear: Linear,
    devices: Sequence[Device],
    variants: Sequence[Variant],
    start_v: Array | None = None,
) -> Solutions:
    """Solve every variant of a network with its devices.

    `start_v` (count,) are node volts that the solutions are likely to be near, or (B, count) for
    each by itself; they say where the search begins, not where it ends. Without them the first
    variant is solved ahead.

    A variant is accepted only when no node's current sum exceeds 1 nA and no voltage moved more
    than 1 uV in the last step; otherwise its row is NaN and `unsettled` names its nodes. One
    variant that fails does not disturb the others. Cost: of a small network one elimination of the
    linear part, then stacked solves of the number of ports; of a large one, or of variants in which
    everything differs, steps that grow as the number of nodes.

    Raises:
        numpy.linalg.LinAlgError: the linear part leaves a node without any path to a fixed one.
    """
    loose = np.ones(linear.count, dtype=bool)
    loose[list(linear.fixed)] = False
    free = np.flatnonzero(loose)
    fixed_v = _fixed_volts(linear, variants)
    changes = Changes(variants)
    newton = _newton(linear, devices, variants, free, fixed_v, changes)
    newton.run(None if start_v is None else start_v[..., newton.ports])
    found_v = newton.all_volts(linear)
    return judged(linear, devices, variants, changes, found_v, newton.last_step_v, free)


def _newton(
    linear: Linear,
    devices: Sequence[Device],
    variants: Sequence[Variant],
    free: Indices,
    fixed_v: Array,
    changes: Changes,
) -> Newton:
    """The quicker of two ways to the same steps."""
    touched = {node for device in devices for node in device.nodes}
    ports = np.array([node for node in free if node in touched], dtype=np.intp)
    if len(ports) > _LARGE or len(changes.row) > _MANY:
        return WideNewton(linear, devices, free, fixed_v, changes)
    network = reduced(linear, free, ports, variants, fixed_v)
    return PortNewton(linear, devices, free, ports, fixed_v, network)


def _fixed_volts(linear: Linear, variants: Sequence[Variant]) -> Array:
    rows = [linear.fixed_v if v.fixed_v is None else v.fixed_v for v in variants]
    return np.array(rows, dtype=float).reshape(len(variants), len(linear.fixed))
