"""Evaluates every stream of a stack in one pass, because a Newton step of a set is a single call.

Belongs here: which rows of arguments the streams need, the chain rule from those rows to electrode
volts. Does not belong here: the laws (tube_law_forms.py, whose pieces are used here; a test holds
the two equal), summing into nodes (tube_law_stack.py).

The cost of a small set is the number of array operations, not their size. So all arguments are laid
below each other, and what every stream needs (the soft knee of a drive, a plate near zero) is
computed for all rows together: drives of diodes, triodes, splits and second grids, then the volts
of triode plates, split screens and split plates.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from netcheck.circuit.tube_law_forms import (
    DIODE,
    RETARDING_WIDTH_V,
    SPLIT,
    TRIODE,
    Array,
    counted_volts,
    passing,
    plate_share,
    second_factor,
    soft,
)

__all__ = ["Group", "Kernel"]


@dataclass(frozen=True)
class Group:
    """All streams of one form.

    `table` (streams, parameters); `electrodes` (electrodes, streams) the row of volts of each, the
    cathode last; `law` (streams,) the number of the law each belongs to.
    """

    table: Array
    electrodes: NDArray[np.intp]
    law: NDArray[np.intp]

    def __len__(self) -> int:
        return len(self.table)


class Kernel:
    """Currents and slopes of all streams from the volts of all electrodes.

    Streams come as diodes, triodes, split plates, split screens; slopes as those of diodes against
    the plate, of triodes against plate and grid, of split plates and of split screens against
    plate, screen, grid and second grid.
    """

    def __init__(self, diodes: Group, triodes: Group, splits: Group, rows: int) -> None:
        self._d, self._t, self._s = len(diodes), len(triodes), len(splits)
        d, t, p = DIODE(*diodes.table.T), TRIODE(*triodes.table.T), SPLIT(*splits.table.T)
        self._second = np.flatnonzero(p.second_drive_v > 0.0)
        count = self._d + self._t + self._s
        with_second = count + len(self._second)
        self._drives = count
        self._above = with_second
        self._arguments = np.zeros((with_second + self._t + 2 * self._s, rows))
        self._added = np.zeros((len(self._arguments), 1))
        self._width = np.full_like(self._added, RETARDING_WIDTH_V)
        self._law = np.concatenate([diodes.law, triodes.law, splits.law])
        self.law = np.concatenate([self._law, splits.law])
        of_d, of_t = range(self._d), range(self._d, self._d + self._t)
        of_s, of_m = range(self._d + self._t, count), range(count, with_second)
        self._put(of_d, diodes, {0: 1.0})
        self._put(of_t, triodes, {0: t.plate_control, 1: t.grid_control})
        self._put(of_s, splits, {0: p.plate_control, 1: p.screen_control, 2: p.grid_control})
        seconds = Group(splits.table[self._second], splits.electrodes[:, self._second], splits.law)
        self._put(of_m, seconds, {3: 1.0})
        self._put(range(with_second, with_second + self._t), triodes, {0: 1.0})
        start = with_second + self._t
        self._put(range(start, start + self._s), splits, {1: 1.0})
        self._put(range(start + self._s, start + 2 * self._s), splits, {0: 1.0})
        second_contact_v = np.asarray(p.second_contact_v)[self._second]
        contact_v = _joined(d.contact_v, t.contact_v, p.contact_v, second_contact_v)
        self._added[:with_second] = contact_v
        self._width[self._d : count] = _joined(t.width_v, p.width_v)
        self._is_grid = _joined(d.is_grid, np.zeros(self._t + self._s))
        self._perveance = _joined(d.perveance, t.perveance, p.perveance)
        self._knee = _joined(t.knee_v, p.screen_knee_v)
        self._t_plate, self._t_grid = triodes.table.T[1:3, :, None]
        self._second_drive_v = np.asarray(p.second_drive_v)[self._second, None]
        self._split = SPLIT(*splits.table.T[:, :, None])
        self._controls = np.stack([p.plate_control, p.screen_control, p.grid_control])[..., None]
        self._stretch(triodes, splits, seconds)

    def _put(
        self, rows: range, group: Group, weights: dict[int, float | NDArray[np.float64]]
    ) -> None:
        """Arguments as sums of electrode volts, each against the cathode."""
        for electrode, weight in weights.items():
            np.add.at(self._arguments, (list(rows), group.electrodes[electrode]), weight)
            np.add.at(self._arguments, (list(rows), group.electrodes[-1]), -np.asarray(weight))

    def _stretch(self, triodes: Group, splits: Group, seconds: Group) -> None:
        """The grids that are wound with a varying pitch: where their volts count, and how much."""
        t, p, s = TRIODE(*triodes.table.T), SPLIT(*splits.table.T), SPLIT(*seconds.table.T)
        stretch = np.concatenate([t.stretch, p.stretch, s.second_stretch])
        weight = np.concatenate([t.grid_control, p.grid_control, np.ones(len(seconds))])
        grid = np.concatenate([triodes.electrodes[1], splits.electrodes[2], seconds.electrodes[3]])
        cathode = np.concatenate(
            [triodes.electrodes[-1], splits.electrodes[-1], seconds.electrodes[-1]]
        )
        some = np.flatnonzero(stretch > 0.0)
        self._stretched = self._d + some  # rows of drives
        self._stretch_per_v = stretch[some][:, None]
        self._stretch_weight = weight[some][:, None]
        self._grid = np.zeros((len(some), self._arguments.shape[1]))
        np.add.at(self._grid, (np.arange(len(some)), grid[some]), 1.0)
        np.add.at(self._grid, (np.arange(len(some)), cathode[some]), -1.0)

    def evaluate(
        self, volts: Array, shift_v: Array | None, grid_shift_v: Array | None
    ) -> tuple[Array, Array]:
        """Currents (streams, n) and slopes (slopes, n) at `volts` (rows, n).

        `shift_v` and `grid_shift_v` (laws, n or 1) add to the contact potentials of a law: the
        second to those of its grids' own current, the first to all others.
        """
        count, t = self._drives, self._t
        x = self._arguments @ volts
        x += self._added
        if shift_v is not None:
            x[:count] += shift_v[self._law] * (1.0 - self._is_grid)
        if grid_shift_v is not None:
            x[:count] += grid_shift_v[self._law] * self._is_grid
        by_grid = np.ones((self._above, x.shape[1]))  # how much of a grid's volts counts
        if len(self._stretched):
            grid_v = self._grid @ volts
            counted, slope = counted_volts(grid_v, self._stretch_per_v)
            x[self._stretched] += self._stretch_weight * (counted - grid_v)
            by_grid[self._stretched] = slope
        value, slope = soft(x, self._width)
        root = np.sqrt(value[:count])
        space = self._perveance * value[:count] * root
        gain = 1.5 * self._perveance * root * slope[:count]
        above, above_slope = value[self._above :], slope[self._above :]
        part, part_slope = passing(above[: t + self._s], self._knee)
        part_slope *= above_slope[: t + self._s]
        flows = np.empty((len(self.law), x.shape[1]))
        slopes = np.empty((self._d + 2 * t + 8 * self._s, x.shape[1]))
        flows[: self._d], slopes[: self._d] = space[: self._d], gain[: self._d]
        self._triodes(space, gain, part, part_slope, by_grid, flows, slopes)
        if self._s:
            start = count - self._s
            second = value[count : self._above], slope[count : self._above] * by_grid[count:]
            self._splits(
                (value[start:count], slope[start:count]), space[start:], gain[start:],
                (part[t:], part_slope[t:]), (above[t + self._s :], above_slope[t + self._s :]),
                by_grid[start:count], second, flows[start:], slopes[self._d + 2 * t :],
            )  # fmt: skip
        return flows, slopes

    def _triodes(
        self, space: Array, gain: Array, part: Array, part_slope: Array, by_grid: Array,
        flows: Array, slopes: Array,
    ) -> None:  # fmt: skip
        d, t = self._d, self._t
        own = slice(d, d + t)
        flows[own] = space[own] * part[:t]
        by_drive = gain[own] * part[:t]
        slopes[d : d + t] = by_drive * self._t_plate + space[own] * part_slope[:t]
        slopes[d + t : d + 2 * t] = by_drive * self._t_grid * by_grid[own]

    def _splits(
        self, drive: tuple[Array, Array], space: Array, gain: Array, screen: tuple[Array, Array],
        plate: tuple[Array, Array], by_grid: Array, second: tuple[Array, Array], flows: Array,
        slopes: Array,
    ) -> None:  # fmt: skip
        s, columns = self._s, space.shape[1]
        factor, by_second = np.ones((s, columns)), np.zeros((s, columns))
        if len(self._second):
            factor[self._second], by_second[self._second] = second_factor(
                self._second_drive_v, *second
            )
        share = plate_share(self._split, drive[0], *plate, factor, by_second)
        passed, passed_slope = screen
        left = 1.0 - share.plate
        flows[:s], flows[s:] = space * share.plate, space * left * passed
        by_share = space * share.by_drive * drive[1]
        controls = self._controls * np.stack(np.broadcast_arrays(1.0, 1.0, by_grid))
        to_plate, to_screen = slopes.reshape(2, 4, s, columns)
        np.multiply(gain * share.plate + by_share, controls, out=to_plate[:3])
        np.multiply((gain * left - by_share) * passed, controls, out=to_screen[:3])
        shifted = space * share.by_plate
        to_plate[0] += shifted
        to_screen[0] -= shifted * passed
        to_screen[1] += space * left * passed_slope
        to_plate[3] = space * share.by_second
        to_screen[3] = -to_plate[3] * passed


def _joined(*columns: ArrayLike) -> Array:
    """Columns of tables below each other, as one column."""
    return np.concatenate([np.asarray(each, dtype=float) for each in columns])[:, None]
