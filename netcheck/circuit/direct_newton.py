"""Damped Newton steps on the port volts of many variants, side by side.

Belongs here: the rows that have not settled, their steps and how they are shortened. Does not
belong here: the linear network as matrices of the ports (direct_ports.py) or as sparse ones of all
nodes (direct_wide.py), accepting a solution (direct_judge.py).
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from netcheck.circuit.direct_types import (
    ACCEPTED_V,
    Array,
    Device,
    Indices,
    Linear,
    RestingDevice,
    SparseDevice,
)

__all__ = ["Newton", "Work"]

_ROUNDS = 80
# Most rows settle within twenty; those that do not are stuck, and the anchors are quicker. From the
# volts of another variant most need six.
_FIRST_ROUNDS, _NEAR_ROUNDS = 28, 16
_SMALLEST_STEP = 1 / 1024
_MOST_TRIES, _ROWS_OF_TRIES = 10, 60
# Below this the misfit is rounding, and asking for less of it would only halve the steps.
_ROUNDING_V = 1e-8
_ANCHORS_S = (1e-2, 1e-2, 1e-3, 1e-3, 1e-4, 1e-4, 1e-5, 1e-6)


class Newton(ABC):
    """Damped Newton steps on the port volts of all variants that have not settled."""

    def __init__(
        self,
        linear: Linear,
        devices: Sequence[Device],
        free: Indices,
        ports: Indices,
        fixed_v: Array,
    ) -> None:
        self.free = free
        self.ports = ports
        self.fixed_v = fixed_v
        # Where each device's nodes stand among the ports and, behind them, the fixed nodes.
        column = np.full(linear.count, -1, dtype=np.intp)
        column[[*ports, *linear.fixed]] = np.arange(len(ports) + len(linear.fixed))
        self.places = [Place(each, column[list(each.nodes)], len(ports)) for each in devices]
        self.port_v = np.zeros((len(fixed_v), len(ports)))
        # Where electrodes that nothing holds are likely to rest, above the volts of open devices.
        self.resting_v = np.zeros(len(ports))
        for place, device in zip(self.places, devices, strict=True):
            if isinstance(device, RestingDevice):
                self.resting_v[place.at] += device.start_v[place.free]
        self.last_step_v = np.full(len(fixed_v), np.inf)
        self.anchor_s = 0.0
        self.anchor_v = self.port_v
        self.anchored = np.ones(len(ports))  # which of them

    def run(self, start_v: Array | None) -> None:
        """Step until every row has settled; rows that do not are led there more slowly.

        `start_v` (p,) or (B, p) are port volts that rows are likely to be near. Without them the
        first row goes ahead, because variants of one network mostly lie near each other.
        """
        if not len(self.ports):
            self.last_step_v[:] = 0.0
            return
        rows = np.arange(len(self.port_v))
        if start_v is None:
            self.port_v[:1] = self.opened(rows[:1]) + self.resting_v
            if not len(self.settle(self.work(rows[:1]), _FIRST_ROUNDS)):
                start_v, rows = self.port_v[0], rows[1:]
        if start_v is not None:
            self.port_v[rows] = start_v if start_v.ndim == 1 else start_v[rows]
            rows = self._settled(rows, _NEAR_ROUNDS)
        self.port_v[rows] = self.opened(rows) + self.resting_v
        left = self._settled(rows, _FIRST_ROUNDS)
        if len(left):
            self._follow(left)

    def _settled(self, rows: Indices, rounds: int) -> Indices:
        """Settle rows, a part at a time; those that have not are returned."""
        left = [self.settle(self.work(some), rounds) for some in self.parted(rows)]
        return np.concatenate([rows[:0], *left])

    def _follow(self, rows: Indices) -> None:
        """Hold the ports near where they are, less and less, and follow."""
        self.port_v[rows] = self.opened(rows)
        for siemens in _ANCHORS_S:
            self.anchor_s, self.anchor_v = siemens, self.port_v.copy()
            self._settled(rows, _ROUNDS)
        self.anchor_s = 0.0
        self._settled(rows, _ROUNDS)

    @abstractmethod
    def work(self, rows: Indices) -> Work:
        """These rows side by side."""

    @abstractmethod
    def opened(self, rows: Indices) -> Array:
        """Port volts with no device current, (n, p)."""

    @abstractmethod
    def parted(self, rows: Indices) -> list[Indices]:
        """Rows in as many parts as keep their matrices from filling the memory."""

    @abstractmethod
    def all_volts(self, linear: Linear) -> Array:
        """Volts of every node (B, count)."""

    def settle(self, work: Work, rounds: int) -> Indices:
        """Step rows; those that have not settled are returned."""
        for _ in range(rounds):
            if not len(work.rows):
                break
            going_on = work.step()
            if not going_on.all():
                work.keep(going_on)
        return work.rows

    def currents(self, volts: Array, rows: Indices) -> tuple[Array, Array]:
        """Device currents out of the ports (n, p) and their slopes (n, p, p)."""
        count = len(self.ports)
        slopes = np.zeros((len(rows), count * count))
        currents, parts = self.evaluated(volts, rows)
        for place, part in zip(self.places, parts, strict=True):
            slopes[:, place.flat_at] += part
        return currents, slopes.reshape(len(rows), count, count)

    def sparse(self, volts: Array, rows: Indices) -> tuple[Array, Array]:
        """The same with the slopes one after the other, at the `flat_at` of all places."""
        currents, parts = self.evaluated(volts, rows)
        return currents, np.concatenate(parts, axis=1)

    def evaluated(self, volts: Array, rows: Indices) -> tuple[Array, list[Array]]:
        """Currents out of the ports (n, p), and of every device its slopes at `flat_at`."""
        currents = np.zeros((len(rows), len(self.ports)))
        known = np.concatenate([volts, self.fixed_v[rows]], axis=1)
        parts = []
        for place in self.places:
            into, slope = place.evaluate(known[:, place.columns], rows)
            currents[:, place.at] += into[:, place.free]
            parts.append(slope.reshape(len(rows), -1)[:, place.flat_free])
        return currents, parts


class Place:
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


class Work(ABC):
    """The rows that have not settled, side by side, with what the devices draw in them now."""

    def __init__(self, newton: Newton, rows: Indices) -> None:
        self.newton = newton
        self.rows = rows
        self.volts = newton.port_v[rows]
        self.anchor_v = newton.anchor_v[rows]
        self.open_v = self.reduce()
        self.currents, self.slopes, self.misfit = self._at(self.volts, slice(None))

    @abstractmethod
    def reduce(self) -> Array:
        """Take what these rows need of the linear network; port volts without devices (n, p)."""

    def kept(self) -> tuple[str, ...]:
        """The names of all that has a row a variant."""
        return ("rows", "open_v", "volts", "anchor_v", "currents", "slopes", "misfit")

    def keep(self, chosen: NDArray[np.bool_]) -> None:
        """Go on with these rows only."""
        for name in self.kept():
            setattr(self, name, getattr(self, name)[chosen])

    def step(self) -> NDArray[np.bool_]:
        """One damped step. Returns which rows go on."""
        newton = self.newton
        step = self.direction()
        if not np.isfinite(step).all():
            step = np.where(np.isfinite(step), step, 0.0)
        factor = self._damped(step)
        newton.port_v[self.rows] = self.volts
        length = np.abs(step).max(axis=1)
        newton.last_step_v[self.rows] = factor * length
        # A whole step this small leaves its square, far below what is accepted.
        going_on: NDArray[np.bool_] = length > ACCEPTED_V * 0.1
        return going_on

    @abstractmethod
    def direction(self) -> Array:
        """Newton's whole step, (n, p)."""

    @abstractmethod
    def drawn(self, chosen: slice | Indices, currents: Array) -> Array:
        """Volts that currents out of the ports take off them, (n, p)."""

    @abstractmethod
    def evaluate(self, volts: Array, rows: Indices) -> tuple[Array, Array]:
        """Currents out of the ports and their slopes."""

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
        currents, slopes = self.evaluate(volts, self.rows[chosen])
        return currents, slopes, self._misfit(chosen, volts, currents)

    def _misfit(self, chosen: slice | Indices, volts: Array, currents: Array) -> Array:
        if self.newton.anchor_s:
            held = self.newton.anchor_s * self.newton.anchored
            currents = currents + held * (volts - self.anchor_v[chosen])
        misfit: Array = volts - self.open_v[chosen] + self.drawn(chosen, currents)
        return misfit


def _falls(misfit: Array, size: Array, factor: Array) -> NDArray[np.bool_]:
    """Whether a step by `factor` made the largest misfit smaller, or it is rounding (n,)."""
    left = np.abs(misfit).max(axis=1)
    falls: NDArray[np.bool_] = left <= np.maximum(size * (1 - 1e-4 * factor), _ROUNDING_V)
    return falls
