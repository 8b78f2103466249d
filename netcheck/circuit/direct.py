"""Direct-current solutions of one network in many variants at once.

Belongs here: nodal equations, their reduction to the nodes where nonlinear devices are, damped
Newton steps, and the test by which a solution is accepted. Does not belong here: what the parts of
a set are (direct_model.py), tube laws, or what a variant means.

The nodal equations are G v + i(v) = s. The linear network is eliminated once: with Z the part of
inverse(G) between the ports and v0 the port volts with no device current, the ports obey
v = v0 - Z i(v). A changed resistor is a change of G of rank one, so Z and v0 of a variant follow
from those of the base (Sherman-Morrison-Woodbury; G. H. Golub and C. F. Van Loan, Matrix
Computations, section 2.1.4, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from netcheck.circuit.direct_judge import judged
from netcheck.circuit.direct_types import (
    ACCEPTED_V,
    Array,
    Change,
    Device,
    Indices,
    Linear,
    Solutions,
    SparseDevice,
    Variant,
)

__all__ = ["Array", "Change", "Device", "Indices", "Linear", "Solutions", "Variant", "solve"]

_ROUNDS = 80
# Most rows settle within twenty; those that do not are stuck, and the anchors are quicker. From the
# volts of another variant most need six.
_FIRST_ROUNDS, _NEAR_ROUNDS = 28, 16
_SMALLEST_STEP = 1 / 1024
_MOST_TRIES, _ROWS_OF_TRIES = 10, 60
# Below this the misfit is rounding, and asking for less of it would only halve the steps.
_ROUNDING_V = 1e-8
_ANCHORS_S = (1e-2, 1e-2, 1e-3, 1e-3, 1e-4, 1e-4, 1e-5, 1e-6)


@dataclass
class _Reduced:
    """The network reduced to its ports, a row a variant."""

    impedance: Array  # (B, p, p) [ohm]
    open_v: Array  # (B, p) [V]
    full: Array  # (B, n, p) volts of all free nodes for an ampere out of each port [ohm]
    full_open: Array  # (B, n)
    ports: Indices = field(default_factory=lambda: np.zeros(0, dtype=np.intp))


def solve(
    linear: Linear,
    devices: Sequence[Device],
    variants: Sequence[Variant],
    start_v: Array | None = None,
) -> Solutions:
    """Solve every variant of a network with its devices.

    `start_v` (count,) are node volts that the solutions are likely to be near; they say where the
    search begins, not where it ends. Without them the first variant is solved ahead.

    A variant is accepted only when no node's current sum exceeds 1 nA and no voltage moved more
    than 1 uV in the last step; otherwise its row is NaN and `unsettled` names its nodes. One
    variant that fails does not disturb the others. Cost: one elimination of the linear part, then
    stacked solves of the number of ports.

    Raises:
        numpy.linalg.LinAlgError: the linear part leaves a node without any path to a fixed one.
    """
    loose = np.ones(linear.count, dtype=bool)
    loose[list(linear.fixed)] = False
    free = np.flatnonzero(loose)
    place = np.full(linear.count, -1, dtype=np.intp)
    place[free] = np.arange(len(free))
    touched = {node for device in devices for node in device.nodes}
    ports = np.array([node for node in free if node in touched], dtype=np.intp)
    fixed_v = _fixed_volts(linear, variants)
    reduced = _reduce(linear, free, place, ports, variants, fixed_v)
    newton = _Newton(linear, devices, free, ports, fixed_v, reduced)
    newton.run(None if start_v is None else start_v[ports])
    return judged(linear, devices, variants, newton.all_volts(linear), newton.last_step_v, free)


def _fixed_volts(linear: Linear, variants: Sequence[Variant]) -> Array:
    rows = [linear.fixed_v if v.fixed_v is None else v.fixed_v for v in variants]
    return np.array(rows, dtype=float).reshape(len(variants), len(linear.fixed))


def _reduce(
    linear: Linear,
    free: Indices,
    place: Indices,
    ports: Indices,
    variants: Sequence[Variant],
    fixed_v: Array,
) -> _Reduced:
    """Eliminate the linear network once, then correct it for each variant's changes."""
    matrix = linear.matrix()
    inner = matrix[np.ix_(free, free)]
    to_fixed = matrix[np.ix_(free, np.array(linear.fixed, dtype=np.intp))]
    columns, keys = _change_columns(variants, place, len(free))
    units = np.zeros((len(free), len(ports)))
    units[place[ports], np.arange(len(ports))] = 1.0
    right = np.concatenate([units, linear.source_a[free][:, None], to_fixed, columns], axis=1)
    solved = np.linalg.solve(inner, right)
    p, f = len(ports), len(linear.fixed)
    by_port, by_source = solved[:, :p], solved[:, p]
    by_fixed, by_change = solved[:, p + 1 : p + 1 + f], solved[:, p + 1 + f :]
    full = np.broadcast_to(by_port, (len(variants), *by_port.shape)).copy()
    full_open = by_source - fixed_v @ by_fixed.T
    extra = _extra_sources(variants, place, len(free))
    if extra.any():
        full_open = full_open + np.linalg.solve(inner, extra.T).T
    for row, variant in enumerate(variants):
        if variant.changes:
            _apply(variant, row, fixed_v, linear, columns, by_change, keys, full, full_open)
    at = place[ports]
    return _Reduced(full[:, at, :], full_open[:, at], full, full_open, ports)


def _extra_sources(variants: Sequence[Variant], place: Indices, count: int) -> Array:
    """The amperes that each variant's own sources bring to every free node, (B, count)."""
    extra = np.zeros((len(variants), count))
    for row, variant in enumerate(variants):
        for node, amperes in variant.sources:
            if place[node] >= 0:
                extra[row, place[node]] += amperes
    return extra


def _change_columns(
    variants: Sequence[Variant], place: Indices, count: int
) -> tuple[Array, dict[tuple[int, int], int]]:
    """One column e_a - e_b for every node pair that some variant changes."""
    keys: dict[tuple[int, int], int] = {}
    for variant in variants:
        for change in variant.changes:
            keys.setdefault((change.a, change.b), len(keys))
    columns = np.zeros((count, len(keys)))
    for (a, b), column in keys.items():
        if place[a] >= 0:
            columns[place[a], column] += 1.0
        if place[b] >= 0:
            columns[place[b], column] -= 1.0
    return columns, keys


def _apply(
    variant: Variant,
    row: int,
    fixed_v: Array,
    linear: Linear,
    columns: Array,
    by_change: Array,
    keys: dict[tuple[int, int], int],
    full: Array,
    full_open: Array,
) -> None:
    """Correct one variant's row for its changed conductances (Woodbury)."""
    volts_of = dict(zip(linear.fixed, fixed_v[row], strict=True))
    merged: dict[int, float] = {}
    offsets: dict[int, float] = {}
    for change in variant.changes:
        key = keys[(change.a, change.b)]
        merged[key] = merged.get(key, 0.0) + change.siemens
        offsets[key] = volts_of.get(change.a, 0.0) - volts_of.get(change.b, 0.0)
    used = [key for key, siemens in merged.items() if siemens]
    if not used:
        return
    unit, response = columns[:, used], by_change[:, used]
    siemens = np.array([merged[key] for key in used])
    # The fixed end of a changed part drives current through it: rhs - g u (v_a - v_b of fixed).
    drive = -siemens * np.array([offsets[key] for key in used])
    open_v = full_open[row] + response @ drive
    core = np.diag(1.0 / siemens) + unit.T @ response
    full[row] -= response @ np.linalg.solve(core, unit.T @ full[row])
    full_open[row] = open_v - response @ np.linalg.solve(core, unit.T @ open_v)


class _Newton:
    """Damped Newton steps on the port volts of all variants that have not settled."""

    def __init__(
        self,
        linear: Linear,
        devices: Sequence[Device],
        free: Indices,
        ports: Indices,
        fixed_v: Array,
        reduced: _Reduced,
    ) -> None:
        self.devices = devices
        self.reduced = reduced
        self.free = free
        self.ports = ports
        self.fixed_v = fixed_v
        # Where each device's nodes stand among the ports and, behind them, the fixed nodes.
        column = np.full(linear.count, -1, dtype=np.intp)
        column[[*ports, *linear.fixed]] = np.arange(len(ports) + len(linear.fixed))
        self.places = [_Place(each, column[list(each.nodes)], len(ports)) for each in devices]
        self.port_v = reduced.open_v.copy()
        self.last_step_v = np.full(len(fixed_v), np.inf)
        self.anchor_s = 0.0
        self.anchor_v = self.port_v

    def run(self, start_v: Array | None) -> None:
        """Step until every row has settled; rows that do not are led there more slowly.

        `start_v` (p,) are port volts that rows are likely to be near. Without them the first row
        goes ahead, because variants of one network mostly lie near each other.
        """
        if not len(self.ports):
            self.last_step_v[:] = 0.0
            return
        rows = np.arange(len(self.port_v))
        if start_v is None and not len(self._settle(rows[:1], _FIRST_ROUNDS)):
            start_v, rows = self.port_v[0], rows[1:]
        if start_v is not None:
            self.port_v[rows] = start_v
            rows = self._settle(rows, _NEAR_ROUNDS)
            self.port_v[rows] = self.reduced.open_v[rows]
        rows = self._settle(rows, _FIRST_ROUNDS)
        if len(rows):
            self._follow(rows)

    def _follow(self, rows: Indices) -> None:
        """Hold the ports near where they are, less and less, and follow."""
        self.port_v[rows] = self.reduced.open_v[rows]
        for siemens in _ANCHORS_S:
            self.anchor_s, self.anchor_v = siemens, self.port_v.copy()
            self._settle(rows, _ROUNDS)
        self.anchor_s = 0.0
        self._settle(rows, _ROUNDS)

    def _settle(self, rows: Indices, rounds: int) -> Indices:
        """Step these rows; those that have not settled are returned."""
        if not len(rows):
            return rows
        work = _Work(self, rows)
        for _ in range(rounds):
            going_on = work.step()
            if not going_on.all():
                work.keep(going_on)
            if not len(work.rows):
                break
        return work.rows

    def currents(self, volts: Array, rows: Indices) -> tuple[Array, Array]:
        """Device currents out of the ports (n, p) and their slopes (n, p, p)."""
        count = len(self.ports)
        currents = np.zeros((len(rows), count))
        slopes = np.zeros((len(rows), count * count))
        known = np.concatenate([volts, self.fixed_v[rows]], axis=1)
        for place in self.places:
            into, slope = place.evaluate(known[:, place.columns], rows)
            currents[:, place.at] += into[:, place.free]
            slopes[:, place.flat_at] += slope.reshape(len(rows), -1)[:, place.flat_free]
        return currents, slopes.reshape(len(rows), count, count)

    def all_volts(self, linear: Linear) -> Array:
        """Volts of every node (B, count), the ports as found and the rest by what they draw."""
        port_a, _ = self.currents(self.port_v, np.arange(len(self.port_v)))
        volts = np.zeros((len(self.port_v), linear.count))
        volts[:, list(linear.fixed)] = self.fixed_v
        drawn = (self.reduced.full @ port_a[..., None])[..., 0]
        volts[:, self.free] = self.reduced.full_open - drawn
        volts[:, self.ports] = self.port_v
        return volts


class _Place:
    """Where the nodes of one device stand: their columns, those that are ports, pairs of those.

    Of its slopes `flat_free` are those between ports, `flat_at` their places in the whole matrix.
    """

    def __init__(self, device: Device, columns: Indices, ports: int) -> None:
        self.columns = columns
        self.free = np.flatnonzero(columns < ports)
        self.at = columns[self.free]
        count = len(columns)
        if isinstance(device, SparseDevice):
            given, self.evaluate = device.places, device.sparse
        else:
            given, self.evaluate = np.arange(count * count), device.evaluate
        row, column = columns[given // count], columns[given % count]
        self.flat_free = np.flatnonzero((row < ports) & (column < ports))
        self.flat_at = (row * ports + column)[self.flat_free]


class _Work:
    """The rows that have not settled, side by side, with what the devices draw in them now."""

    def __init__(self, newton: _Newton, rows: Indices) -> None:
        self.newton = newton
        self.rows = rows
        self.impedance = newton.reduced.impedance[rows]
        self.open_v = newton.reduced.open_v[rows]
        self.volts = newton.port_v[rows]
        self.anchor_v = newton.anchor_v[rows]
        self.currents, self.slopes, self.misfit = self._at(self.volts, slice(None))

    def keep(self, chosen: NDArray[np.bool_]) -> None:
        """Go on with these rows only."""
        for name in ("rows", "impedance", "open_v", "volts", "anchor_v", "currents", "slopes",
                     "misfit"):  # fmt: skip
            setattr(self, name, getattr(self, name)[chosen])

    def step(self) -> NDArray[np.bool_]:
        """One damped step. Returns which rows go on."""
        newton = self.newton
        diagonal = np.arange(len(newton.ports))
        held = self.slopes
        if newton.anchor_s:
            held = held.copy()
            held[:, diagonal, diagonal] += newton.anchor_s
        matrix = self.impedance @ held
        matrix[:, diagonal, diagonal] += 1.0
        step = np.asarray(-np.linalg.solve(matrix, self.misfit[..., None])[..., 0])
        if not np.isfinite(step).all():
            step = np.where(np.isfinite(step), step, 0.0)
        factor = self._damped(step)
        newton.port_v[self.rows] = self.volts
        length = np.abs(step).max(axis=1)
        newton.last_step_v[self.rows] = factor * length
        # A whole step this small leaves its square, far below what is accepted.
        going_on: NDArray[np.bool_] = length > ACCEPTED_V * 0.1
        return going_on

    def _damped(self, step: Array) -> Array:
        """Go along `step` as far as the misfit falls; by which factors of it (n,)."""
        before, size = self.volts, np.abs(self.misfit).max(axis=1)
        factor = np.ones(len(self.rows))
        self.volts = before + step
        self.currents, self.slopes, self.misfit = self._at(self.volts, slice(None))
        worse = np.flatnonzero(~_falls(self.misfit, size, factor))
        smallest = 1.0
        while len(worse) and smallest > _SMALLEST_STEP:
            # Few rows cost no more at several factors than at one.
            tries = max(1, min(_MOST_TRIES, _ROWS_OF_TRIES // len(worse)))
            halves = smallest / 2.0 ** np.arange(1, tries + 1)
            halves = halves[halves >= _SMALLEST_STEP]
            smallest = halves[-1]
            rows = np.tile(worse, len(halves))
            by = np.repeat(halves, len(worse))
            volts = before[rows] + by[:, None] * step[rows]
            there = self._at(volts, rows)
            falls = _falls(there[2], size[rows], by).reshape(len(halves), -1)
            falls[-1] |= smallest <= _SMALLEST_STEP
            # The longest step that helps, else the shortest, from which the search goes on.
            first = np.where(falls.any(axis=0), falls.argmax(axis=0), len(halves) - 1)
            best = first * len(worse) + np.arange(len(worse))
            factor[worse], self.volts[worse] = by[best], volts[best]
            for kept, found in zip((self.currents, self.slopes, self.misfit), there, strict=True):
                kept[worse] = found[best]
            worse = worse[~falls.any(axis=0)]
        return factor

    def _at(self, volts: Array, chosen: slice | Indices) -> tuple[Array, Array, Array]:
        """Currents, slopes and misfit of some rows at other volts."""
        currents, slopes = self.newton.currents(volts, self.rows[chosen])
        return currents, slopes, self._misfit(chosen, volts, currents)

    def _misfit(self, chosen: slice | Indices, volts: Array, currents: Array) -> Array:
        if self.newton.anchor_s:
            currents = currents + self.newton.anchor_s * (volts - self.anchor_v[chosen])
        drawn = (self.impedance[chosen] @ currents[..., None])[..., 0]
        misfit: Array = volts - self.open_v[chosen] + drawn
        return misfit


def _falls(misfit: Array, size: Array, factor: Array) -> NDArray[np.bool_]:
    """Whether a step by `factor` made the largest misfit smaller, or it is rounding (n,)."""
    left = np.abs(misfit).max(axis=1)
    falls: NDArray[np.bool_] = left <= np.maximum(size * (1 - 1e-4 * factor), _ROUNDING_V)
    return falls
