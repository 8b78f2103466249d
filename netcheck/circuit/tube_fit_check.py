"""Tells how well the law foretells points it was not fitted to: the yardstick of the tube laws.

Belongs here: pairs of published points with different electrode volts, the law fitted to one and
asked for the other. Does not belong here: the limits of the error (they stand in the tests).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from netcheck.circuit.tube_fit import (
    Fit,
    NoFit,
    fit_split,
    fit_triode,
    space_current,
    triode_row,
)
from netcheck.circuit.tube_fit_readings import Reading, cutoff_of, readings
from netcheck.circuit.tube_fit_special import contact_of, fit_gated, gated_current_a
from netcheck.circuit.tube_fit_store import gated_by_first_grid, is_remote
from netcheck.circuit.tube_law_forms import triode
from netcheck.parts import Section, TubeType

__all__ = ["HARD", "Foretold", "Member", "families", "hard_pairs", "predict", "section_fit"]

_NO_FAMILY = ("diode", "rectifier", "target")

HARD = 1.2
"""A pair counts when the screen (triode: plate) volts of its points differ by more than this."""


@dataclass(frozen=True, slots=True)
class Member:
    """A published point with the type and section it is fitted for."""

    tube: TubeType
    section: Section
    reading: Reading


@dataclass(frozen=True, slots=True)
class Foretold:
    """One point foretold from another: `error` is foretold over published current, less one."""

    tube: str
    section: str
    known: Reading
    asked: Reading
    foretold_a: float

    @property
    def error(self) -> float:
        """Relative error of the cathode current."""
        return self.foretold_a / self.asked.space_a - 1.0

    @property
    def label(self) -> str:
        """A line that names the pair."""
        a, b = self.known, self.asked
        return (
            f"{self.tube} {_volts(a)} -> {_volts(b)}: {self.foretold_a * 1e3:.2f} mA, "
            f"published {b.space_a * 1e3:.2f} ({self.error:+.1%})"
        )


def _volts(reading: Reading) -> str:
    given = (reading.plate_v, reading.screen_v, reading.grid_v)
    return "/".join(f"{v:.4g}" for v in given if v is not None)


def section_fit(tube: TubeType, section: Section, points: Sequence[Reading]) -> Fit:
    """Return the law of a section from these points only.

    Raises:
        NoFit: they do not determine it.
    """
    contact_v = contact_of(tube)
    if gated_by_first_grid(section):
        return fit_gated(points, contact_v)
    if section.screen is None:
        return fit_triode(points, contact_v)
    return fit_split(points, contact_v, remote=is_remote(tube), cutoff=cutoff_of(tube))


def predict(section: Section, fit: Fit, point: Reading) -> float:
    """Return the cathode current (A) without grid current that a fit gives at a point's volts."""
    if point.screen_v is None:
        table, zero = np.array([triode_row(fit)]), np.zeros((1, 1))
        plate_v, grid_v = np.array([[point.plate_v]]), np.array([[point.grid_v]])
        return float(triode(table, plate_v, grid_v, zero)[0][0, 0])
    if gated_by_first_grid(section):
        return gated_current_a(fit, point.plate_v, point.screen_v, point.grid_v)
    return space_current(fit, point.plate_v, point.screen_v, point.grid_v)[0]


def families(tubes: Iterable[TubeType]) -> list[dict[tuple[float, ...], Member]]:
    """Return the electrical families: sections that share a published point are one.

    Each is its points, every one once (the first type that has it stands for it): the 6SK7 adds
    nothing to the 12SK7, and the second half of a twin nothing to the first.
    """
    found: list[dict[tuple[float, ...], Member]] = []
    for tube in tubes:
        for section in tube.sections:
            if section.kind in _NO_FAMILY or section.name in ("oscillator", "triode2"):
                continue
            own = {_key(r): Member(tube, section, r) for r in readings(tube, section)}
            joined = [family for family in found if own.keys() & family.keys()]
            whole = {key: member for family in joined for key, member in family.items()}
            found = [family for family in found if not any(family is each for each in joined)]
            found.append({**own, **whole})
    return [family for family in found if family]


def _key(reading: Reading) -> tuple[float, ...]:
    r = reading
    return (r.plate_v, r.screen_v or 0.0, r.grid_v, r.space_a, r.plate_a or 0.0)


def hard_pairs(family: Iterable[Member]) -> Iterator[Foretold]:
    """Yield every hard pair of a family: the law of one point asked for the other."""
    for a, b in permutations(family, 2):
        volts = [m.reading.screen_v or m.reading.plate_v for m in (a, b)]
        if max(volts) <= HARD * min(volts):
            continue
        try:
            fit = section_fit(a.tube, a.section, [a.reading])
        except NoFit:
            continue
        foretold_a = predict(a.section, fit, b.reading)
        yield Foretold(b.tube.name, b.section.name, a.reading, b.reading, foretold_a)
