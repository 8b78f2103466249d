"""Turns the published points of a tube into readings a fit can use, section by section.

Belongs here: which row speaks of which section, bias from a cathode resistor, push-pull rows, the
reference of a filament. Does not belong here: laws (tube_law_forms.py) and fitting (tube_fit.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from netcheck.catalog.sections import terminal_names
from netcheck.catalog.tables import read_csv
from netcheck.parts import OperatingPoint, Section, TubeType

__all__ = ["Cutoff", "Reading", "cutoff_of", "filament_offset_v", "readings"]

# A filament below this current is fed with DC and its tube's data count from the negative end;
# above it with AC, counted from the middle (RCA Receiving Tube Manual, from memory).
_DC_FILAMENT_A = 0.3


@dataclass(frozen=True, slots=True)
class Reading:
    """One published point of one section: amperes, slopes, volts against the cathode's mean.

    `screen_v` is None for a triode. `space_a` is plate plus screen current; `plate_a` is None
    where only the sum is known (a pentode connected as a triode). `gm_s` is that of the plate
    current (of the sum where `plate_a` is None). `tubes` says for how many tubes the row spoke
    before it was divided; `doubtful` that the source itself doubts it.
    """

    plate_v: float
    screen_v: float | None
    grid_v: float
    space_a: float
    plate_a: float | None
    gm_s: float | None
    rp_ohm: float | None
    mu: float | None
    tubes: int
    doubtful: bool
    point: OperatingPoint

    @property
    def space_gm_s(self) -> float | None:
        """The transconductance of plate and screen current together."""
        if self.gm_s is None or self.plate_a is None:
            return self.gm_s
        return self.gm_s * self.space_a / self.plate_a


@dataclass(frozen=True, slots=True)
class Cutoff:
    """The grid volts at which a remote cut-off tube's transconductance is down to `gm_s`."""

    plate_v: float
    screen_v: float
    grid_v: float
    gm_s: float
    source: str


def filament_offset_v(tube: TubeType, point: OperatingPoint | None = None) -> float:
    """Return by how much the mean of the cathode lies above what the type's data count from.

    Zero for an indirectly heated tube and for a filament on AC; half its volts for one on DC. A
    filament with a tap counts as connected in parallel unless the row says `series filament`.
    """
    if tube.heating != "direct" or not tube.heater_v or (tube.heater_a or 0.0) > _DC_FILAMENT_A:
        return 0.0
    span = tube.heater_v
    series = point is not None and "series filament" in point.note
    if tube.tap_v and not series:
        span -= tube.tap_v
    return span / 2.0


def readings(tube: TubeType, section: Section) -> tuple[Reading, ...]:
    """Return what the type's points say of the section, certain rows only if there are any."""
    names = terminal_names(tube.pins)
    found = [_reading(tube, section, point, names) for point in tube.points]
    known = [reading for reading in found if reading is not None]
    certain = [reading for reading in known if not reading.doubtful]
    return tuple(certain or known)


def _reading(
    tube: TubeType, section: Section, point: OperatingPoint, names: Mapping[str, str]
) -> Reading | None:
    if point.section and point.section != section.name:
        return None
    volts = _at_terminals(point.volts, names)
    amperes = _at_terminals(point.amperes, names)
    plate = _electrode(section.plate, volts, amperes)
    if plate not in volts or plate not in amperes:
        return None
    tubes = 2 if "two tubes" in point.use else 1
    joined = section.screen is not None and "triode connection" in point.use
    plate_a = amperes[plate] / tubes
    screen_a = 0.0
    screen_v: float | None = None
    if section.screen is not None:
        screen_v = volts[plate] if joined else volts.get(section.screen)
        if screen_v is None or not (joined or section.screen in amperes):
            return None
        screen_a = 0.0 if joined else amperes[section.screen] / tubes
    space = plate_a + screen_a
    grid_v = _grid_v(section, point, volts, space * tubes)
    if grid_v is None or space <= 0.0 or plate_a <= 0.0:
        return None
    offset = filament_offset_v(tube, point)
    return Reading(
        plate_v=volts[plate] - offset,
        screen_v=None if screen_v is None else screen_v - offset,
        grid_v=grid_v - offset,
        space_a=space,
        plate_a=None if joined else plate_a,
        gm_s=point.gm_s,
        rp_ohm=point.rp_ohm,
        mu=None if joined else _mu(point),
        tubes=tubes,
        doubtful="uncertain" in point.note,
        point=point,
    )


def _at_terminals(values: Mapping[str, float], names: Mapping[str, str]) -> dict[str, float]:
    return {names.get(electrode, electrode): value for electrode, value in values.items()}


def _electrode(plate: str, volts: Mapping[str, float], amperes: Mapping[str, float]) -> str:
    """The plate's own name, or plain `plate` where a row speaks of each half of a twin."""
    return plate if plate in volts and plate in amperes else plate.rstrip("12")


def _grid_v(
    section: Section, point: OperatingPoint, volts: Mapping[str, float], cathode_a: float
) -> float | None:
    """The grid's volts as given, else the drop of the cathode current in the cathode resistor."""
    grid = section.controls[0] if section.controls else ""
    plain = ("grid", "g1") if grid in ("grid1", "grid2") else ()
    for name in (grid, *plain):
        if name in volts:
            return volts[name]
    return None if point.cathode_ohm is None else -point.cathode_ohm * cathode_a


def _mu(point: OperatingPoint) -> float | None:
    if point.mu is not None:
        return point.mu
    if point.gm_s is not None and point.rp_ohm is not None:
        return point.gm_s * point.rp_ohm
    return None


def cutoff_of(tube: TubeType) -> Cutoff | None:
    """Return the published cut-off of a type of the catalogue, found by its points; else None.

    Types that share points (6SK7 and 12SK7) share the cut-off.
    """
    from netcheck.catalog.tables import citation
    from netcheck.catalog.tubes import find_tube

    for row in read_csv("cutoffs.csv"):
        like = find_tube(row["type"])
        if like is not None and tube.points and like.points == tube.points:
            return Cutoff(
                plate_v=float(row["plate_v"]),
                screen_v=float(row["screen_v"]),
                grid_v=float(row["cutoff_v"]),
                gm_s=float(row["gm_umho"]) / 1e6,
                source=citation(row["source"]),
            )
    return None
