"""Fits the three-halves law to published points, so that a tube in a text computes like a built-in.

Belongs here: closed form from one point, least squares over several, the plate's share. Does not
belong here: reading points (tube_fit_readings.py), converters and diodes (tube_fit_special.py).

A fit is a mapping of our own words to numbers: perveance (A/V^1.5), mu, screen-mu, contact-v,
width-v, stretch (1/V), knee-v, ratio, rise, knee-drive.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from netcheck.circuit.tube_fit_readings import Cutoff, Reading
from netcheck.circuit.tube_law_forms import (
    DRIVE_FLOOR_V,
    RETARDING_WIDTH_V,
    SPLIT,
    TRIODE,
    Array,
    split,
    stretched,
    triode,
)

__all__ = [
    "CONTACT_V",
    "FILAMENT_CONTACT_V",
    "Fit",
    "NoFit",
    "fit_split",
    "fit_triode",
    "knee_of",
    "least_squares",
    "space_current",
    "split_row",
    "triode_row",
    "width_of",
    "with_share",
]

Fit = dict[str, float]

# Median of the closed forms of the catalogue's triodes whose mu is published, 0.7 V; pentodes,
# whose points leave it open, are given the same. Filaments on DC fit 0.6 V less against their mean
# (1H5GT: 0.1 V).
CONTACT_V = 0.7
FILAMENT_CONTACT_V = 0.1
# Of the slope of a pentode's plate current, this part acts through the drive and the rest by
# shifting current from the screen (the points with two plate voltages at one screen voltage).
THROUGH_DRIVE = 0.5
# The cut-off of a real grid is softer than one with a single mu, most so where its pitch varies
# on purpose (common practice, no source): volts for each volt of drive at the published point.
_WIDTH_OF_DRIVE, _REMOTE_WIDTH_OF_DRIVE = 0.03, 0.10
# Below these plate volts a triode with its grid near zero passes less than the law's current:
# curves of a high-mu triode at zero bias run through 0.8 mA at 50 V where the law alone says 1.2
# (12AX7; RCA Receiving Tube Manual, from memory).
_KNEE_OF_MU, _KNEE_MOST_V = 0.45, 45.0
# Makers round mu: it is trusted to 1.5 %, the contact potential to lie within 0.35 V of the usual
# and 4 % of the drive, in which it absorbs what the law leaves out.
_MU_ROUNDED, _CONTACT_SPREAD_V, _CONTACT_OF_DRIVE = 0.015, 0.35, 0.04
# The knee of a pentode or beam tube lies near a tenth of its screen voltage (common practice).
_KNEE_OF_SCREEN = 0.1
# A remote cut-off tube whose cut-off is not known is given a transconductance 150 times smaller
# at five times the drive of its point (the published cut-offs lie at three to six times).
_REMOTE_DRIVES, _REMOTE_FALL = 5.0, 150.0
# The stretch leaves the slope of the control at least two thirds at the published bias.
_STRETCH_AT_BIAS = 0.7


class NoFit(Exception):
    """The points do not determine the law; the text is a sentence that says what is missing."""


def width_of(drive_v: float, *, remote: bool = False) -> float:
    """Return the softness of the cut-off for a stream with this drive at its published point."""
    return RETARDING_WIDTH_V + drive_v * (_REMOTE_WIDTH_OF_DRIVE if remote else _WIDTH_OF_DRIVE)


def knee_of(mu: float) -> float:
    """Return the plate volts below which a triode of this mu passes less than its law says."""
    return float(np.clip(_KNEE_OF_MU * mu, 1.0, _KNEE_MOST_V))


def triode_row(fit: Fit) -> TRIODE:
    """Return a fit as a row of a triode table."""
    return TRIODE(
        perveance=fit["perveance"],
        plate_control=1.0 / fit["mu"],
        grid_control=1.0,
        contact_v=fit["contact-v"],
        width_v=fit["width-v"],
        stretch=0.0,
        knee_v=fit["knee-v"],
    )


def split_row(fit: Fit) -> SPLIT:
    """Return a fit as a row of a table of split streams."""
    return SPLIT(
        perveance=fit["perveance"],
        plate_control=1.0 / fit["mu"],
        screen_control=1.0 / fit["screen-mu"],
        grid_control=fit.get("grid-control", 1.0),
        contact_v=fit["contact-v"],
        width_v=fit["width-v"],
        stretch=fit["stretch"],
        ratio=fit.get("ratio", 1.0),
        rise=fit.get("rise", 0.0),
        knee_drive=fit.get("knee-drive", 1.0),
        screen_knee_v=2.0,
        second_contact_v=fit.get("second-contact-v", 0.0),
        second_stretch=fit.get("second-stretch", 0.0),
        second_drive_v=fit.get("second-drive-v", 0.0),
    )


def least_squares(residuals: Callable[[Array], Array], start: Array) -> Array:
    """Return the parameters that minimise the sum of squares (Levenberg's damped Gauss-Newton).

    The derivatives are central differences; parameters must be of the order of one (logarithms).
    """
    x: Array = start.astype(float)
    damping = 1e-3
    r = residuals(x)
    for _ in range(60):
        steps = np.eye(len(x)) * 1e-5
        jac = np.stack([(residuals(x + s) - residuals(x - s)) / 2e-5 for s in steps], axis=1)
        normal, gradient = jac.T @ jac, jac.T @ r
        while damping < 1e12:
            step = np.linalg.solve(normal + damping * np.eye(len(x)), -gradient)
            tried = residuals(x + step)
            if tried @ tried <= r @ r:
                break
            damping *= 4.0
        else:
            break
        x, r, damping = x + step, tried, max(damping / 8.0, 1e-12)
        if np.abs(step).max() < 1e-10:
            break
    return x


def fit_triode(points: Sequence[Reading], contact_v: float = CONTACT_V) -> Fit:
    """Return the law of a triode: closed form of the first full point, then least squares.

    Raises:
        NoFit: no point gives a transconductance or an amplification factor.
    """
    start = _triode_start(points, contact_v)
    if len(points) == 1:
        return start
    x = least_squares(
        lambda x: _triode_residuals(points, _triode_fit(x, start), contact_v),
        np.array([np.log(start["perveance"]), np.log(start["mu"]), start["contact-v"]]),
    )
    return _triode_fit(x, start)


def _triode_fit(x: Array, start: Fit) -> Fit:
    return {
        **start,
        "perveance": float(np.exp(x[0])),
        "mu": float(np.exp(x[1])),
        "contact-v": float(x[2]),
    }


def _triode_start(points: Sequence[Reading], contact_v: float) -> Fit:
    """E0 = 1.5 I / gm; Vg + Vp / mu + contact = E0; perveance = I / E0^1.5."""
    known = [p for p in points if p.gm_s or p.mu]
    if not known:
        raise NoFit("no point gives a transconductance, a plate resistance or a mu")
    point = max(known, key=lambda p: bool(p.gm_s) + bool(p.mu))
    mu, contact = point.mu, contact_v
    if point.gm_s:
        drive = 1.5 * point.space_a / point.gm_s
        if mu:
            mu, contact = _rounded_mu(point, mu, drive, contact_v)
        else:
            mu = point.plate_v / max(drive - point.grid_v - contact_v, 1e-3)
    else:
        mu = mu or 1.0
        drive = point.grid_v + point.plate_v / mu + contact_v
        if drive <= 0.0:
            raise NoFit("its grid and plate volts with its mu would cut it off at its own point")
    return {
        "perveance": point.space_a / drive**1.5,
        "mu": mu,
        "contact-v": contact,
        "width-v": width_of(drive),
        "knee-v": knee_of(mu),
    }


def _rounded_mu(point: Reading, mu: float, drive_v: float, usual_v: float) -> tuple[float, float]:
    """Mu and contact potential that meet the drive, each moved by its share of the mismatch."""
    exact = drive_v - point.grid_v - point.plate_v / mu
    by_mu = (_MU_ROUNDED * point.plate_v / mu) ** 2
    by_contact = (_CONTACT_SPREAD_V + _CONTACT_OF_DRIVE * drive_v) ** 2
    contact = exact - (exact - usual_v) * by_mu / (by_mu + by_contact)
    return point.plate_v / (drive_v - point.grid_v - contact), contact


def _triode_residuals(points: Sequence[Reading], fit: Fit, contact_v: float) -> Array:
    """Misses in units of what is forgiven: current 2 %, gm 10 %, mu 5 %, contact 1 V."""
    table = np.array([triode_row(fit)])
    volts = np.array([[p.plate_v for p in points], [p.grid_v for p in points]])
    amperes, _, gm = triode(table, volts[:1], volts[1:], np.zeros((1, 1)))
    found = [(fit["contact-v"] - contact_v) / 1.0]
    for k, point in enumerate(points):
        found.append(_log(amperes[0, k], point.space_a) / (0.02 * point.tubes))
        if point.gm_s:
            found.append(_log(gm[0, k], point.gm_s) / 0.10)
        if point.mu:
            found.append(_log(fit["mu"], point.mu) / 0.05)
    return np.array(found)


def _log(value: float, wanted: float) -> float:
    return float(np.log(max(value, 1e-30) / wanted))


def fit_split(
    points: Sequence[Reading],
    contact_v: float = CONTACT_V,
    *,
    remote: bool = False,
    cutoff: Cutoff | None = None,
) -> Fit:
    """Return the law of a pentode, tetrode or beam tube.

    The drive is fitted to the cathode current and its transconductance, then the plate's share to
    the ratio of plate to screen current and the plate resistance.

    Raises:
        NoFit: no point gives a transconductance, or none tells plate from screen current.
    """
    fit = _split_start(points, contact_v, remote, cutoff)
    if len(points) > 1:
        fit = _split_refined(points, fit, contact_v)
    if all(p.plate_a is None for p in points):
        raise NoFit("no point gives plate and screen current apart")
    return with_share(points, fit)


def _split_start(
    points: Sequence[Reading], contact_v: float, remote: bool, cutoff: Cutoff | None
) -> Fit:
    known = [p for p in points if p.gm_s and p.screen_v]
    if not known:
        raise NoFit("no point gives a transconductance")
    point = max(known, key=lambda p: (p.plate_a is not None, bool(p.rp_ohm)))
    stretch = _stretch(point, contact_v, cutoff) if remote else 0.0
    return _closed_split(point, contact_v, stretch)


def _given(point: Reading) -> tuple[float, float]:
    """Transconductance of the cathode current and screen volts, which the closed form needs."""
    if point.space_gm_s is None or not point.screen_v:
        raise NoFit("no point gives a transconductance with its screen volts")
    return point.space_gm_s, point.screen_v


def _closed_split(point: Reading, contact_v: float, stretch: float) -> Fit:
    """The closed form for one point; a stretched grid has only the slope of its stretch there."""
    space_gm_s, screen_v = _given(point)
    counted, slope = (float(v[0]) for v in stretched(np.array([point.grid_v]), np.array([stretch])))
    drive = 1.5 * point.space_a * slope / space_gm_s
    by_plate = 1.0 / (30.0 * screen_v)
    if point.gm_s and point.rp_ohm and point.plate_a is not None:
        by_plate = THROUGH_DRIVE / (point.gm_s * point.rp_ohm)
    rest = drive - counted - contact_v - point.plate_v * by_plate
    return {
        "perveance": point.space_a / drive**1.5,
        "mu": 1.0 / by_plate,
        "screen-mu": screen_v / max(rest, 0.05 * drive),
        "contact-v": contact_v,
        "width-v": width_of(drive, remote=stretch > 0.0),
        "stretch": stretch,
    }


def _stretch(point: Reading, contact_v: float, cutoff: Cutoff | None) -> float:
    """The stretch with which the closed form has the wanted transconductance at cut-off."""
    space_gm_s, screen_v = _given(point)
    if cutoff is None:
        cutoff = Cutoff(
            point.plate_v,
            screen_v,
            -_REMOTE_DRIVES * 1.5 * point.space_a / space_gm_s,
            space_gm_s / _REMOTE_FALL,
            "assumed",
        )
    share = 1.0 if point.plate_a is None else point.plate_a / point.space_a
    wanted = cutoff.gm_s / share if cutoff.source != "assumed" else cutoff.gm_s

    def excess(stretch: float) -> float:
        fit = _closed_split(point, contact_v, stretch)
        return space_current(fit, cutoff.plate_v, cutoff.screen_v, cutoff.grid_v)[1] - wanted

    most = _STRETCH_AT_BIAS / max(-point.grid_v, 1.0)
    tried = np.geomspace(1e-3, most, 80)
    found = np.array([excess(float(stretch)) for stretch in tried])
    if not (found >= 0.0).any():
        return float(tried[found.argmax()])
    first = int((found >= 0.0).argmax())
    low, high = float(tried[max(first - 1, 0)]), float(tried[first])
    for _ in range(50):
        middle = (low + high) / 2.0
        low, high = (low, middle) if excess(middle) >= 0.0 else (middle, high)
    return high


def space_current(fit: Fit, plate_v: float, screen_v: float, grid_v: float) -> tuple[float, float]:
    """Return plate plus screen current (A) of a split stream and its transconductance (S)."""
    volts = (np.array([[plate_v]]), np.array([[screen_v]]), np.array([[grid_v]]), np.zeros((1, 1)))
    amperes, slopes = split(np.array([split_row(fit)]), volts, np.zeros((1, 1)))
    return float((amperes[0] + amperes[1])[0, 0]), float((slopes[0][2] + slopes[1][2])[0, 0])


def _split_refined(points: Sequence[Reading], start: Fit, contact_v: float) -> Fit:
    names = ("perveance", "mu", "screen-mu")

    def fit_of(x: Array) -> Fit:
        logs = {name: float(np.exp(v)) for name, v in zip(names, x, strict=False)}
        return {**start, **logs, "contact-v": float(x[3])}

    x = np.array([*(np.log(start[name]) for name in names), start["contact-v"]])
    return fit_of(least_squares(lambda x: _split_residuals(points, fit_of(x), start, contact_v), x))


def _split_residuals(points: Sequence[Reading], fit: Fit, start: Fit, contact_v: float) -> Array:
    """Misses in units of what is forgiven: current 2 %, gm 10 %, contact 0.3 V, plate mu x 1.6."""
    found = [(fit["contact-v"] - contact_v) / 0.3, _log(fit["mu"], start["mu"]) / 0.5]
    for point in points:
        amperes, gm = space_current(fit, point.plate_v, point.screen_v or 0.0, point.grid_v)
        found.append(_log(amperes, point.space_a) / (0.02 * point.tubes))
        if point.space_gm_s:
            found.append(_log(gm, point.space_gm_s) / 0.10)
    return np.array(found)


def with_share(points: Sequence[Reading], fit: Fit, factors: Sequence[float] | None = None) -> Fit:
    """Return the fit with ratio, rise and knee added.

    The logarithm of plate over screen current is linear in ratio and rise. `factors` are those by
    which a second control grid has changed it at each point.

    Raises:
        NoFit: no point tells plate from screen current.
    """
    known = [p for p in points if p.plate_a is not None and p.plate_a < p.space_a]
    if not known:
        raise NoFit("no point gives a screen current")
    drives = np.array([max((p.space_a / fit["perveance"]) ** (2 / 3), 1e-3) for p in known])
    base = drives + DRIVE_FLOOR_V
    plate_v = np.array([p.plate_v for p in known])
    knee_drive = _KNEE_OF_SCREEN * (known[0].screen_v or 0.0) / float(base[0])
    past_knee = np.log(plate_v / (plate_v + knee_drive * base))
    span = np.log(plate_v / base) - past_knee
    quotient = np.array([p.plate_a / (p.space_a - p.plate_a) for p in known if p.plate_a])
    second = np.ones(len(known)) if factors is None else np.array(factors)
    wanted = np.log(quotient / second) - 1.5 * past_knee
    priors = [_rise(p, knee_drive * b) for p, b in zip(known, base, strict=True)]
    prior = float(np.mean(priors))
    # Forgiven: 15 % of the ratio, which follows from small screen currents, and 0.15 of the rise.
    rows = np.vstack([np.column_stack([np.ones(len(known)), span]), [0.0, 1.0]])
    both = np.linalg.lstsq(rows, np.append(wanted, prior), rcond=None)[0]
    rise = float(np.clip(both[1], 0.0, 1.3))
    ratio = float(np.exp(np.mean(wanted - rise * span)))
    return {**fit, "ratio": ratio, "rise": rise, "knee-drive": knee_drive}


def _rise(point: Reading, knee_v: float) -> float:
    """The rise that gives the published plate resistance, less what acts through the drive.

    1/rp = share * (1 - share) * I * (rise + (1.5 - rise) * knee / (v + knee)) / v + the drive's.
    """
    if not point.rp_ohm or point.plate_a is None:
        return 0.2
    share = point.plate_a / point.space_a
    slope = (1.0 - THROUGH_DRIVE) / point.rp_ohm * point.plate_v
    total = slope / (point.space_a * share * (1.0 - share))
    past = knee_v / (point.plate_v + knee_v)
    return float(np.clip((total - 1.5 * past) / (1.0 - past), 0.0, 1.3))
