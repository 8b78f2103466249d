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
    "Share",
    "counted_volts",
    "diode",
    "passing",
    "plate_share",
    "second_factor",
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
    below = np.minimum(z, 0.0)
    rest = np.log1p(np.exp(below - np.maximum(z, 0.0)))
    return np.asarray(width * (np.maximum(z, 0.0) + rest)), np.exp(below - rest)


def soft_of_zero() -> float:
    """Return the value of `soft` at zero volts with the retarding-field width, in volts."""
    return RETARDING_WIDTH_V * float(np.log(2.0))


def stretched(grid_v: Array, stretch: Array | float) -> tuple[Array, Array]:
    """Return the volts by which a grid controls its stream, and their slope.

    A grid wound with a varying pitch lets current through its open part when the close part has
    cut off: below zero its volts count less and less, `atan(stretch * v) / stretch` (our own form;
    it runs through the published transconductance at cut-off).
    """
    some = np.asarray(stretch) > 0.0
    counted, slope = counted_volts(grid_v, np.where(some, stretch, 1.0))
    return np.where(some, counted, grid_v), np.where(some, slope, 1.0)


def counted_volts(grid_v: Array, stretch: Array | float) -> tuple[Array, Array]:
    """Return what `stretched` does where the stretch is above 0."""
    negative, slope = soft(-grid_v, RETARDING_WIDTH_V)
    turn = negative * stretch
    square = turn * turn
    volts = grid_v + negative - np.arctan(turn) / stretch
    return volts, 1.0 - slope * square / (1.0 + square)


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
    part, part_slope = passing(above, knee)
    by_drive = 1.5 * perveance * root * drive_slope * part
    slope_plate = by_drive * by_plate + space * part_slope * above_slope
    return space * part, slope_plate, by_drive * by_grid * control_slope


def passing(above_v: Array, knee_v: Array | float) -> tuple[Array, Array]:
    """The part of the current that an electrode takes near zero volts, and its slope.

    `1 - exp(-(v/knee)^1.5)`.
    """
    part = above_v / knee_v
    root = np.sqrt(part)
    less = np.expm1(-part * root)
    return -less, (1.5 + 1.5 * less) * root / knee_v


class Share(NamedTuple):
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
    plate = soft(plate_v, RETARDING_WIDTH_V)
    share = plate_share(p, drive, *plate, *_second(p, second_v))
    by_drive = share.by_drive * drive_slope
    above, above_slope = soft(screen_v, RETARDING_WIDTH_V)
    part, part_slope = passing(above, p.screen_knee_v)
    rest = (1.0 - share.plate) * part
    drive_plate = space_slope * share.plate + space * by_drive
    drive_screen = space_slope * rest - space * by_drive * part
    controls = (p.plate_control, p.screen_control, p.grid_control * control_slope)
    plate_slopes = [drive_plate * c for c in controls]
    screen_slopes = [drive_screen * c for c in controls]
    plate_slopes[0] = plate_slopes[0] + space * share.by_plate
    screen_slopes[0] = screen_slopes[0] - space * share.by_plate * part
    screen_slopes[1] = screen_slopes[1] + space * (1.0 - share.plate) * part_slope * above_slope
    by_second = space * share.by_second
    return (space * share.plate, space * rest), (
        (*plate_slopes, by_second),
        (*screen_slopes, -by_second * part),
    )


def plate_share(
    p: SPLIT, drive: Array, above: Array, above_slope: Array, second: Array, by_second: Array
) -> Share:
    """How much of the cathode current the plate takes.

    Plate over screen current is `ratio * (v / drive)^rise * (v / (v + knee))^(1.5 - rise)` with the
    knee at `knee_drive * drive`: deep below the knee the plate current is then the three-halves
    power of the plate volts whatever the grids do, as in front of a virtual cathode. `above` is
    `soft` of the plate volts; `second` and `by_second` are what a second grid does to the ratio.
    """
    above = above + _TINY
    base = drive + DRIVE_FLOOR_V
    behind = above + p.knee_drive * base
    bend = 1.5 - p.rise
    over = np.log(above)
    rise = p.rise * (over - np.log(base)) + bend * (over - np.log(behind))
    quotient = p.ratio * second * np.exp(rise)
    plate = quotient / (1.0 + quotient)
    change = plate / (1.0 + quotient)
    # d ln(v / (v + knee)) / d ln v = knee / (v + knee)
    log_plate = (p.rise + bend * (1.0 - above / behind)) / above * above_slope
    log_drive = -p.rise / base - bend * p.knee_drive / behind
    return Share(plate, change * log_drive, change * log_plate, change * by_second)


def _second(p: SPLIT, second_v: Array) -> tuple[Array, Array]:
    """The factor a second control grid puts on the ratio (1 without), and its slope over itself."""
    some = p.second_drive_v > 0.0
    control, control_slope = stretched(second_v, p.second_stretch)
    drive, slope = soft(control + p.second_contact_v, RETARDING_WIDTH_V)
    norm = np.where(some, p.second_drive_v, 1.0)
    factor, log_slope = second_factor(norm, drive, slope * control_slope)
    return np.where(some, factor, 1.0), np.where(some, log_slope, 0.0)


def second_factor(norm_v: Array, drive: Array, slope: Array) -> tuple[Array, Array]:
    """The factor and its slope over itself from a second grid's drive and that one's slope."""
    part = (drive + _TINY) / norm_v
    return part * np.sqrt(part), 1.5 * slope / (drive + _TINY)
