"""What a rectifier draws from its source over one line cycle, sample by sample.

Belongs here: the current of the source as evenly spaced samples, for currents that mix with the
line's sine. Does not belong here: mean and rms figures (rectify), which parts it flows through
(line_side).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from netcheck.circuit.rectify import short_circuit_a
from netcheck.circuit.rectify_cycle import TWICE_EULER, solve_cycle
from netcheck.circuit.rectify_forms import form_of
from netcheck.circuit.rectify_law import Array
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec, Wave
from netcheck.findings import NotSolved

__all__ = ["source_waves"]

_LIGHTEST, _DEEPEST = 1e-7, 0.97


def source_waves(spec: RectifierSpec, load_a: Array, samples: int) -> Array:
    """Amperes drawn from the source at `samples` even instants of the line cycle, (B, samples).

    The cycle begins where the source's volts rise through zero. Of two plates that take turns the
    second half is drawn by the other plate: then negative in a bridge (one source), positive in a
    full-wave rectifier (two halves of a winding).

    Args:
        spec: B variants.
        load_a: mean amperes drawn from the supply, (B,).
        samples: even number of instants.

    Raises:
        NotSolved: the cycle did not settle, or the supply cannot deliver as much.
    """
    found = np.zeros((spec.size, samples))
    most = short_circuit_a(spec)
    if np.any(load_a > _DEEPEST * most):
        raise NotSolved("a rectifier supply cannot deliver what is drawn from it")
    live = load_a > _LIGHTEST * most
    if spec.wave is Wave.SQUARE or not live.any():
        return found
    if spec.wave is Wave.STEADY:
        return np.repeat(np.where(live, load_a, 0.0)[:, None], samples, axis=1)
    turns = spec.kind.repeats_each_half
    at, wave = _cycle(spec, np.where(live, load_a, 1e-3 * most))
    half = samples // 2 if turns else samples
    wanted = np.arange(half) / half
    for row in np.nonzero(live)[0]:
        own = np.interp(wanted, at, wave[:, row], period=1.0)
        second = -own if spec.kind is RectifierKind.BRIDGE else own
        found[row] = np.concatenate([own, second]) if turns else own
    return found


def _cycle(spec: RectifierSpec, load_a: Array) -> tuple[Array, Array]:
    """Instants as shares of the cycle, and the source's current at each (samples, B)."""
    most = short_circuit_a(spec)
    share = np.minimum(np.maximum(1.0 - (load_a / most) ** (2.0 / 3.0), 1e-3), 0.8)
    load_s = load_a / (share * spec.no_load_v + 1e-9)
    for grid in (spec.grid(), replace(spec.grid(2), scheme=TWICE_EULER)):
        form = form_of(spec, grid, 1)
        cycle = solve_cycle(
            form.flow, grid, spec.cycle_s, form.start(share), form.out, load_s, load_a
        )
        if cycle.settled.all():
            order = np.argsort(grid.samples.ravel(), kind="stable")
            waves = form.waves(cycle.states, cycle.load_s).source_a
            return grid.samples.ravel()[order], waves.reshape(order.size, -1)[order]
    raise NotSolved("the cycle of a rectifier supply did not settle")
