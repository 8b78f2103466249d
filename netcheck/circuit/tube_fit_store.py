"""Gives the fit of every section of a tube: stored for the catalogue's types, made for others.

Belongs here: which fit a section needs, the data file laws.csv and writing it anew. Does not belong
here: the fits themselves. `python -m netcheck.circuit.tube_fit_store` writes the file's text, and a
test compares the file with new fits.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from netcheck.catalog.published import rectifier_loads
from netcheck.catalog.tables import numbers, read_csv
from netcheck.catalog.tubes import all_tubes, find_tube
from netcheck.circuit.tube_fit import Fit, NoFit
from netcheck.parts import Section, TubeType

__all__ = [
    "fits_of",
    "gated_by_first_grid",
    "is_remote",
    "laws_text",
    "needs_fit",
    "new_fit",
    "new_fits",
]


def needs_fit(section: Section) -> bool:
    """Whether a section's law comes from points; detector diodes are all taken as typical."""
    return section.kind != "diode"


def gated_by_first_grid(section: Section) -> bool:
    """Whether the oscillation of a mixer is on its first grid (6SA7), not on its third (ECH81)."""
    return section.kind == "converter" and section.controls[:1] != ("g1",)


def fits_of(tube: TubeType) -> Mapping[str, Mapping[str, float]]:
    """Return section name -> fit. A type of the catalogue has them stored.

    Raises:
        NoFit: a section's points do not determine its law.
    """
    stored = _stored().get(tube.name)
    if stored is not None and find_tube(tube.name) == tube:
        return stored
    return new_fits(tube)


def new_fits(tube: TubeType) -> dict[str, Fit]:
    """Return section name -> fit, made now from the type's points.

    Raises:
        NoFit: a section's points do not determine its law; the text names the section.
    """
    if not tube.sections:
        raise NoFit(f"the electrodes of a {tube.kind} are not known well enough")
    fits = {}
    for section in tube.sections:
        if needs_fit(section):
            try:
                fits[section.name] = new_fit(tube, section)
            except NoFit as missing:
                raise NoFit(f"{section.name}: {missing}") from None
    return fits


def new_fit(tube: TubeType, section: Section) -> Fit:
    """Return the fit of one section, made now from the type's points.

    Raises:
        NoFit: the points do not determine the law.
    """
    from netcheck.circuit import tube_fit, tube_fit_special
    from netcheck.circuit.tube_fit_readings import cutoff_of, readings
    from netcheck.circuit.tube_fit_rectifier import fit_rectifier

    contact_v = tube_fit_special.contact_of(tube)
    if section.kind == "rectifier":
        return fit_rectifier(tube, rectifier_loads(tube))
    if section.kind == "target":
        return tube_fit_special.fit_target(tube.points, section)
    if "eye" in tube.kind:
        return tube_fit_special.fit_eye(tube.points, section, contact_v)
    if section.name == "oscillator":
        return tube_fit_special.fit_oscillator(tube, section, contact_v)
    points = readings(tube, section)
    if not points:
        raise NoFit("no point gives its volts and currents")
    if gated_by_first_grid(section):
        return tube_fit_special.fit_gated(points, contact_v)
    if section.kind == "converter":
        return tube_fit_special.fit_hexode(points, contact_v)
    if section.screen is None:
        return tube_fit.fit_triode(points, contact_v)
    return tube_fit.fit_split(points, contact_v, remote=is_remote(tube), cutoff=cutoff_of(tube))


def is_remote(tube: TubeType) -> bool:
    """Whether the type's kind, or its note where the kind does not (EBF80), says remote cut-off."""
    return "remote" in tube.kind or "remote cutoff" in tube.note


@cache
def _stored() -> Mapping[str, Mapping[str, Mapping[str, float]]]:
    found: dict[str, dict[str, Mapping[str, float]]] = {}
    for row in read_csv("laws.csv"):
        found.setdefault(row["type"], {})[row["section"]] = numbers(row["law"])
    return MappingProxyType(found)


def laws_text() -> str:
    """Return the text of laws.csv from new fits of every type of the catalogue."""
    out = io.StringIO()
    out.write("type,section,law\n")
    for name, tube in all_tubes().items():
        try:
            fits = new_fits(tube)
        except NoFit:
            continue
        for section, fit in fits.items():
            law = " ".join(f"{key}={value:.8g}" for key, value in fit.items())
            out.write(f"{name},{section},{law}\n")
    return out.getvalue()


if __name__ == "__main__":
    sys.stdout.write(laws_text())
