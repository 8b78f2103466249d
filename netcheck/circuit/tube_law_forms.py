"""The three current laws every tube is built from, as array formulas with exact derivatives.

Belongs here: diode, triode and split stream (screen and plate share one cathode current), each for
any number of devices and variants in one call. Does not belong here: which tube has which devices
(tube_law_build.py), fitting (tube_fit.py), terminals and nodes (tube_laws.py).

Arrays are (devices, variants); a parameter table is (devices, columns). Voltages are against the
device's own cathode. The law of all three is the three-halves power of a drive voltage
(space-charge law; I. Langmuir, Phys. Rev. 2 (1913) 450, from memory) with a contact potential, and
below zero the retarding-field exponential: `soft` joins the two without a corner.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "DIODE",
    "DRIVE_FLOOR_V",
    "RETARDING_WIDTH_V",
    "SPLIT",
    "TRIODE",
    "Array",
    "diode",
    "soft",
    "soft_of_zero",
    "split",
    "stretched",
    "triode",
]

Array = NDArray[np.float64]

# 0.1 V of retarding field for each factor e of current (electrons of a cathode at about 1,000 K
# have 0.09 V; common practice, no source): soft is raised to 1.5, so its own width is 0.15 V.
RETARDING_WIDTH_V = 0.15
# The plate share stays finite when the stream is cut off.
DRIVE_FLOOR_V = 0.3
_TINY = 1e-100  # keeps the logarithmic derivatives of a current of nothing finite


class DIODE(NamedTuple):
    """Columns of a diode: perveance (A/V^1.5) and contact potential (V).

    `is_grid` is 1 where its plate is a control grid: `grid_shift_v` moves it; else 0, and
    `contact_shift_v` does.
    """

    perveance: float
    contact_v: float
    is_grid: float = 0.0


class TRIODE(NamedTuple):
    """Columns of a triode stream.

    `plate_control` and `grid_control` multiply plate and grid volts in the drive (1/mu and 1, or 0
    where an oscillation takes the grid's place); `stretch` is 1/V of a remote cut-off (0 = none);
    `width_v` is the softness of the cut-off; `knee_v` the plate volts below which current falls.
    """

    perveance: float
    plate_control: float
    grid_control: float
    contact_v: float
    width_v: float
    stretch: float
    knee_v: float


class SPLIT(NamedTuple):
    """Columns of a stream that screen and plate share; the first six as in a triode.

    Plate over screen current is `ratio * (plate volts / drive)^rise` far above the knee, which
    lies at `knee_drive * drive`. `second_contact_v`, `second_stretch` and `second_drive_v` (the
    drive at which the ratio holds) describe a second control grid that works on the ratio;
    `second_drive_v` is 0 where there is none.
    """

    perveance: float
    plate_control: float
    screen_control: float
    grid_control: float
    contact_v: float
    width_v: float
    stretch: float
    ratio: float
    rise: float
    knee_drive: float
    screen_knee_v: float
    second_contact_v: float
    second_stretch: float
    second_drive_v: float


def soft(x: Array, width: Array | float) -> tuple[Array, Array]:
    """Return `width * ln(1 + exp(x / width))` and its slope; finite for every finite x.

    Far above zero it is x itself, far below it falls by a factor e in each `width`.
    """
    z = x / width
    return np.asarray(width * np.logaddexp(0.0, z)), np.exp(-np.logaddexp(0.0, -z))


def soft_of_zero() -> float:
    """Return the value of `soft` at zero volts with the retarding-field width, in volts."""
    return RETARDING_WIDTH_V * float(np.log(2.0))


def stretched(grid_v: Array, stretch: Array | float) -> tuple[Array, Array]:
    """Return the volts by which a grid controls its stream, and their slope.

    A grid wound with a varying pitch lets current through its open part when the close part has
    cut off: below zero its volts count less and less, `atan(stretch * v) / stretch` (our own form;
    it runs through the published transconductance at cut-off).
    """
    negative, slope = soft(-grid_v, RETARDING_WIDTH_V)
    some = np.asarray(stretch) > 0.0
    safe = np.where(some, stretch, 1.0)
    turn = negative * safe
    counted = np.where(some, np.arctan(turn) / safe, negative)
    lost = np.where(some, turn * turn / (1.0 + turn * turn), 0.0)
    return grid_v + negative - counted, 1.0 - slope * lost


def diode(
    table: Array, plate_v: Array, contact_shift_v: Array, grid_shift_v: Array
) -> tuple[Array, Array]:
    """Return plate current (A) and its slope (S) of every diode."""
    perveance, contact, is_grid = table.T[:, :, None]
    shift = (1.0 - is_grid) * contact_shift_v + is_grid * grid_shift_v
    drive, slope = soft(plate_v + contact + shift, RETARDING_WIDTH_V)
    root = np.sqrt(drive)
    return perveance * drive * root, 1.5 * perveance * root * slope


def triode(
    table: Array, plate_v: Array, grid_v: Array, contact_shift_v: Array
) -> tuple[Array, Array, Array]:
    """Return plate current (A) and its slopes against plate and grid volts (S)."""
    perveance, by_plate, by_grid, contact, width, stretch, knee = table.T[:, :, None]
    control, control_slope = stretched(grid_v, stretch)
    drive, drive_slope = soft(
        by_grid * control + by_plate * plate_v + contact + contact_shift_v, width
    )
    root = np.sqrt(drive)
    space = perveance * drive * root
    above, above_slope = soft(plate_v, RETARDING_WIDTH_V)
    passing, passing_slope = _passing(above, knee)
    by_drive = 1.5 * perveance * root * drive_slope * passing
    slope_plate = by_drive * by_plate + space * passing_slope * above_slope
    return space * passing, slope_plate, by_drive * by_grid * control_slope


def _passing(above_v: Array, knee_v: Array | float) -> tuple[Array, Array]:
    """The part of the current that an electrode takes near zero volts: `1 - exp(-(v/knee)^1.5)`."""
    part = above_v / knee_v
    root = np.sqrt(part)
    rest = np.exp(-part * root)
    return -np.expm1(-part * root), rest * 1.5 * root / knee_v


class _Share(NamedTuple):
    """Plate share of a split stream and its slopes against drive, plate and second grid."""

    plate: Array
    by_drive: Array
    by_plate: Array
    by_second: Array


def split(
    table: Array,
    volts: tuple[Array, Array, Array, Array],
    contact_shift_v: Array,
) -> tuple[tuple[Array, Array], tuple[tuple[Array, ...], tuple[Array, ...]]]:
    """Return (plate, screen) current and the slopes of each against plate, screen, grid, second.

    `volts` are those of plate, screen, control grid and second control grid.
    """
    plate_v, screen_v, grid_v, second_v = volts
    p = SPLIT(*table.T[:, :, None])
    control, control_slope = stretched(grid_v, p.stretch)
    drive, drive_slope = soft(
        p.grid_control * control
        + p.screen_control * screen_v
        + p.plate_control * plate_v
        + p.contact_v
        + contact_shift_v,
        p.width_v,
    )
    root = np.sqrt(drive)
    space = p.perveance * drive * root
    space_slope = 1.5 * p.perveance * root * drive_slope
    share = _share(p, drive, plate_v, second_v)
    by_drive = share.by_drive * drive_slope
    above, above_slope = soft(screen_v, RETARDING_WIDTH_V)
    passing, passing_slope = _passing(above, p.screen_knee_v)
    rest = (1.0 - share.plate) * passing
    drive_plate = space_slope * share.plate + space * by_drive
    drive_screen = space_slope * rest - space * by_drive * passing
    controls = (p.plate_control, p.screen_control, p.grid_control * control_slope)
    plate_slopes = [drive_plate * c for c in controls]
    screen_slopes = [drive_screen * c for c in controls]
    plate_slopes[0] = plate_slopes[0] + space * share.by_plate
    screen_slopes[0] = screen_slopes[0] - space * share.by_plate * passing
    screen_slopes[1] = screen_slopes[1] + space * (1.0 - share.plate) * passing_slope * above_slope
    by_second = space * share.by_second
    return (space * share.plate, space * rest), (
        (*plate_slopes, by_second),
        (*screen_slopes, -by_second * passing),
    )


def _share(p: SPLIT, drive: Array, plate_v: Array, second_v: Array) -> _Share:
    """How much of the cathode current the plate takes.

    Plate over screen current is `ratio * (v / drive)^rise * (v / (v + knee))^(1.5 - rise)` with the
    knee at `knee_drive * drive`: deep below the knee the plate current is then the three-halves
    power of the plate volts whatever the grids do, as in front of a virtual cathode.
    """
    above, above_slope = soft(plate_v, RETARDING_WIDTH_V)
    above = above + _TINY
    base = drive + DRIVE_FLOOR_V
    knee = p.knee_drive * base
    second, second_log_slope = _second(p, second_v)
    bend = 1.5 - p.rise
    quotient = p.ratio * second * (above / base) ** p.rise * (above / (above + knee)) ** bend
    plate = quotient / (1.0 + quotient)
    change = plate / (1.0 + quotient)
    log_plate = (p.rise + bend * knee / (above + knee)) / above * above_slope
    log_drive = -p.rise / base - bend * p.knee_drive / (above + knee)
    return _Share(plate, change * log_drive, change * log_plate, change * second_log_slope)


def _second(p: SPLIT, second_v: Array) -> tuple[Array, Array]:
    """The factor a second control grid puts on the ratio, and its logarithmic slope."""
    some = p.second_drive_v > 0.0
    norm = np.where(some, p.second_drive_v, 1.0)
    control, control_slope = stretched(second_v, p.second_stretch)
    drive, slope = soft(control + p.second_contact_v, RETARDING_WIDTH_V)
    part = (drive + _TINY) / norm
    factor = np.where(some, part * np.sqrt(part), 1.0)
    log_slope = np.where(some, 1.5 * slope * control_slope / (drive + _TINY), 0.0)
    return factor, log_slope
