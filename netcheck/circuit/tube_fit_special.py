"""Fits what is no plain triode or pentode: converters by family, tuning eyes, their targets.

Belongs here: streams whose published currents hold for an oscillating tube, and the eye's rows.
Does not belong here: the plain fits (tube_fit.py), rectifiers (tube_fit_rectifier.py).

Three families (RCA Receiving Tube Manual, frequency conversion, from memory). Where the
oscillation is on the first grid (6SA7, 6A8), that grid gates the whole cathode current: the mean
is as published and follows the three-halves power of the volts of screen or oscillator plate,
whatever the grid's own mean is. Where a triode beside it oscillates (ECH81), the first grid takes
the signal and keeps its hold, and the gating third grid only shifts current to the screen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from netcheck.circuit.tube_fit import (
    CONTACT_V,
    FILAMENT_CONTACT_V,
    Fit,
    NoFit,
    fit_split,
    knee_of,
    split_row,
    width_of,
    with_share,
)
from netcheck.circuit.tube_fit_readings import Reading, filament_offset_v
from netcheck.circuit.tube_law_forms import RETARDING_WIDTH_V, soft, split, stretched
from netcheck.parts import OperatingPoint, Section, TubeType

__all__ = [
    "DEAD_OVER_RUNNING",
    "contact_of",
    "fit_eye",
    "fit_gated",
    "fit_hexode",
    "fit_oscillator",
    "fit_target",
    "gated_current_a",
]

# Cathode current with the oscillating grid at rest over its mean while it oscillates: 6BE6, 25 mA
# against 10.1 mA (RCA Receiving Tube Manual, from memory); taken for every family.
DEAD_OVER_RUNNING = 2.5
# A grid that opens for half of each cycle has half its static slope as the fundamental over a
# mean of 1/pi: conversion transconductance is pi/4 of the mean one (Fourier series, half sine).
_MEAN_OVER_CONVERSION = 4.0 / np.pi
# First grid to screen, and first grid to oscillator plate (6BE6: 20; 6A8: from memory about 10).
_SCREEN_MU, _OSCILLATOR_MU = 20.0, 10.0
# The signal grid behind the screen: a hundredth of its slope at -0.3 of the screen's volts
# (12BE6: -30 V at 100 V; RCA Receiving Tube Manual, from memory).
_SIGNAL_CUTOFF_OF_SCREEN, _SIGNAL_FALL = 0.3, 100.0


def contact_of(tube: TubeType) -> float:
    """Return the contact potential taken where the points leave it open, in volts."""
    return FILAMENT_CONTACT_V if filament_offset_v(tube) else CONTACT_V


def fit_gated(points: Sequence[Reading], contact_v: float) -> Fit:
    """Return the law of a mixer whose first grid carries the oscillation (6SA7, 6A8, 1R5).

    `perveance` holds while it oscillates, `dead-perveance` with `dead-contact-v` when it does not.

    Raises:
        NoFit: no point gives the currents of plate and screen.
    """
    known = [p for p in points if p.plate_a is not None and p.screen_v]
    if not known:
        raise NoFit("no point gives the plate and screen currents of the oscillating tube")
    drives = np.array([(p.screen_v or 0.0) / _SCREEN_MU for p in known])
    spaces = np.array([p.space_a for p in known])
    perveance = float(np.exp(np.mean(np.log(spaces / drives**1.5))))
    drive = float(np.median(drives))
    fit = {
        "perveance": perveance,
        "mu": 1e6,
        "screen-mu": _SCREEN_MU,
        "contact-v": 0.0,
        "width-v": width_of(drive),
        "stretch": 0.0,
        "dead-contact-v": contact_v,
        "dead-perveance": DEAD_OVER_RUNNING * perveance * (drive / (drive + contact_v)) ** 1.5,
    }
    fit.update(_signal_grid(known))
    factors = [_signal_factor(fit, point.grid_v) for point in known]
    return with_share(known, fit, factors)


def _signal_grid(points: Sequence[Reading]) -> Fit:
    """The second control: its slope from the conversion transconductance, its cut-off typical."""
    point = max(points, key=lambda p: (bool(p.gm_s), p.space_a))
    if not point.gm_s or point.plate_a is None or point.screen_v is None:
        return {}
    rest = 1.0 - point.plate_a / point.space_a
    drive = 1.5 * rest * point.plate_a / (_MEAN_OVER_CONVERSION * point.gm_s)
    cutoff = -_SIGNAL_CUTOFF_OF_SCREEN * point.screen_v

    def fit_of(stretch: float) -> Fit:
        counted, slope = _counted(point.grid_v, stretch)
        return {
            "second-drive-v": drive * slope,
            "second-contact-v": drive * slope - counted,
            "second-stretch": stretch,
        }

    def fall(stretch: float) -> float:
        fit = fit_of(stretch)
        at_point, at_cutoff = (
            np.sqrt(_second_drive(fit, v)) * _counted(v, stretch)[1] for v in (point.grid_v, cutoff)
        )
        return float(at_cutoff / at_point) - 1.0 / _SIGNAL_FALL

    low, high = 1e-3, 0.7 / max(-point.grid_v, 2.0)
    for _ in range(50):
        middle = (low + high) / 2.0
        low, high = (middle, high) if fall(middle) < 0.0 else (low, middle)
    return fit_of(low)


def _counted(grid_v: float, stretch: float) -> tuple[float, float]:
    counted, slope = stretched(np.array([grid_v]), np.array([stretch]))
    return float(counted[0]), float(slope[0])


def _second_drive(fit: Fit, grid_v: float) -> float:
    counted, _ = _counted(grid_v, fit["second-stretch"])
    return float(soft(np.array([counted + fit["second-contact-v"]]), RETARDING_WIDTH_V)[0][0])


def _signal_factor(fit: Fit, grid_v: float) -> float:
    if not fit.get("second-drive-v"):
        return 1.0
    return float((_second_drive(fit, grid_v) / fit["second-drive-v"]) ** 1.5)


def fit_hexode(points: Sequence[Reading], contact_v: float) -> Fit:
    """Return the law of a mixer whose first grid takes the signal (ECH81): a remote pentode.

    Its published transconductance is that of conversion, 4/pi times smaller than the mean one.

    Raises:
        NoFit: as for a pentode.
    """
    mean = [replace(p, gm_s=p.gm_s and p.gm_s * _MEAN_OVER_CONVERSION) for p in points]
    return fit_split(mean, contact_v, remote=True)


def fit_oscillator(tube: TubeType, section: Section, contact_v: float) -> Fit:
    """Return the law of an oscillator plate in the converter's own stream (g2 of a 6A8).

    Raises:
        NoFit: no point of the converter gives its volts and current.
    """
    offset = filament_offset_v(tube)
    known = [
        (p.volts[section.plate] - offset, p.amperes[section.plate])
        for p in tube.points
        if section.plate in p.volts and section.plate in p.amperes
    ]
    if not known:
        raise NoFit("no point gives volts and current of the oscillator plate")
    drives, amperes = np.array([v / _OSCILLATOR_MU for v, _ in known]), np.array(known)[:, 1]
    perveance = float(np.exp(np.mean(np.log(amperes / drives**1.5))))
    drive = float(np.median(drives))
    return {
        "perveance": perveance,
        "mu": _OSCILLATOR_MU,
        "contact-v": 0.0,
        "width-v": width_of(drive),
        "knee-v": 2.0,
        "dead-contact-v": contact_v,
        "dead-perveance": DEAD_OVER_RUNNING * perveance * (drive / (drive + contact_v)) ** 1.5,
    }


def fit_eye(points: Sequence[OperatingPoint], section: Section, contact_v: float) -> Fit:
    """Return the law of a tuning eye's triode.

    With the shadow closed the ray-control electrode is at the target's volts, so that the plate
    current is nothing: `mu = target volts / (bias + contact)`. The perveance follows from the rows
    with the shadow open, whose plate volts are what the published load leaves.

    Raises:
        NoFit: a row of either sort is missing.
    """
    grid = section.controls[0] if section.controls else "g1"
    closed = [p for p in points if "target" in p.volts and p.volts.get(grid, 0.0) < 0.0]
    closed = [p for p in closed if section.plate not in p.amperes]
    opened = [p for p in points if section.plate in p.amperes and section.plate in p.volts]
    if not closed or not opened:
        raise NoFit("it needs a point with the shadow closed and one with it open")
    mus = [p.volts["target"] / (contact_v - p.volts[grid]) for p in closed]
    mu = float(np.exp(np.mean(np.log(mus))))
    knee = knee_of(mu)
    found = []
    for p in opened:
        plate_v = p.volts[section.plate]
        drive = max(p.volts.get(grid, 0.0) + plate_v / mu + contact_v, 0.1)
        found.append(p.amperes[section.plate] / drive**1.5 / -np.expm1(-((plate_v / knee) ** 1.5)))
    return {
        "perveance": float(np.exp(np.mean(np.log(found)))),
        "mu": mu,
        "contact-v": contact_v,
        "width-v": RETARDING_WIDTH_V,
        "knee-v": knee,
    }


def fit_target(points: Sequence[OperatingPoint], section: Section) -> Fit:
    """Return the law of an eye's target: a diode.

    Raises:
        NoFit: no point gives volts and current of the target.
    """
    name = section.plate
    known = [(p.volts[name], p.amperes[name]) for p in points if name in p.amperes]
    if not known:
        raise NoFit("no point gives the target current")
    logs = [np.log(a) - 1.5 * np.log(v) for v, a in known]
    return {"perveance": float(np.exp(np.mean(logs))), "contact-v": 0.0}


def gated_current_a(fit: Fit, plate_v: float, screen_v: float, signal_v: float) -> float:
    """Return plate plus screen current of an oscillating mixer, for checking a fit."""
    row = np.array([split_row({**fit, "grid-control": 0.0})])
    volts = tuple(np.array([[v]]) for v in (plate_v, screen_v, 0.0, signal_v))
    amperes, _ = split(row, (volts[0], volts[1], volts[2], volts[3]), np.zeros((1, 1)))
    return float((amperes[0] + amperes[1])[0, 0])
