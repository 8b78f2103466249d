"""Turns a tube's fits into the diodes, triodes and split streams of its two states.

Belongs here: which electrodes each stream joins, grids and detector diodes, oscillator running or
dead. Does not belong here: the formulas (tube_law_forms.py), stacking and terminals (tube_laws.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from netcheck.circuit.tube_fit import split_row, triode_row
from netcheck.circuit.tube_fit_readings import filament_offset_v
from netcheck.circuit.tube_fit_special import DEAD_OVER_RUNNING
from netcheck.circuit.tube_fit_store import gated_by_first_grid
from netcheck.circuit.tube_law_forms import DIODE, RETARDING_WIDTH_V, SPLIT, TRIODE
from netcheck.parts import Section, TubeType

__all__ = ["Devices", "Swing", "build", "resting_contact_v", "swing_of"]

# A grid takes a fifth of what the stream's perveance would give it (common practice, no source;
# only its resting point is checked, and that is set below).
_GRID_PART = 0.2
# At rest: -0.75 V on 10 megohm, -0.5 V on the 500 kohm of a detector (common practice, no source;
# RCA Receiving Tube Manual says about a volt, from memory).
_GRID_REST_V, _GRID_LEAK_OHM = 0.75, 10e6
_DIODE_REST_V, _DIODE_LOAD_OHM = 0.5, 500e3
# Filaments on DC rest nearer zero: their contact potential fits 0.6 V lower (tube_fit.py).
_FILAMENT_REST_V = 0.15
# Perveance of detector diodes, A/V^1.5: in the bulb of an amplifier, and twin diodes (from memory).
_DETECTOR, _TWIN_DETECTOR = 0.2e-3, 1e-3
# A grid that is driven past zero to its own rectified bias draws that current over this last volt.
_PEAK_SPAN_V = 1.0


@dataclass(frozen=True, slots=True)
class Devices:
    """The devices of one state: rows of the three tables with the electrodes they join.

    Diodes join plate and cathode; triodes plate, grid and cathode; split streams plate, screen,
    grid, second grid and cathode. The name of an electrode that a stream lacks is its cathode's.
    """

    diodes: tuple[tuple[DIODE, tuple[str, ...]], ...] = ()
    triodes: tuple[tuple[TRIODE, tuple[str, ...]], ...] = ()
    splits: tuple[tuple[SPLIT, tuple[str, ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class Swing:
    """What an oscillating grid rectifies: `volts` below its cathode at `amperes` through its leak.

    `basis` says where the leak comes from.
    """

    grid: str
    volts: float
    amperes: float
    basis: str


@dataclass(slots=True)
class _Lists:
    diodes: list[tuple[DIODE, tuple[str, ...]]] = field(default_factory=list)
    triodes: list[tuple[TRIODE, tuple[str, ...]]] = field(default_factory=list)
    splits: list[tuple[SPLIT, tuple[str, ...]]] = field(default_factory=list)


def build(tube: TubeType, fits: Mapping[str, Mapping[str, float]], *, running: bool) -> Devices:
    """Return the devices of a tube whose oscillator (if it is a converter) runs or is dead."""
    lists = _Lists()
    swing = swing_of(tube) if running else None
    grids: dict[str, tuple[str, float]] = {}
    for section in tube.sections:
        if section.kind == "diode":
            lists.diodes.append((_detector(tube), (section.plate, section.cathode)))
            continue
        fit = dict(fits[section.name])
        if section.kind in ("rectifier", "target"):
            row = DIODE(fit["perveance"], fit["contact-v"])
            lists.diodes.append((row, (section.plate, section.cathode)))
        elif section.screen is None:
            _add_triode(lists, section, fit, running, swing)
        else:
            _add_split(lists, section, fit, running)
        for grid in section.controls:
            grids.setdefault(grid, (section.cathode, fit["perveance"]))
    for grid, (cathode, perveance) in grids.items():
        if swing is not None and grid == swing.grid:
            row = DIODE(swing.amperes / _PEAK_SPAN_V**1.5, swing.volts + _PEAK_SPAN_V)
        else:
            row = _grid(tube, perveance)
        lists.diodes.append((row, (grid, cathode)))
    return Devices(tuple(lists.diodes), tuple(lists.triodes), tuple(lists.splits))


def _add_triode(
    lists: _Lists, section: Section, fit: dict[str, float], running: bool, swing: Swing | None
) -> None:
    """A triode; where it oscillates, its mean current follows its plate volts alone."""
    grid = section.controls[0] if section.controls else section.cathode
    row = triode_row(fit)
    if not section.controls:
        row = row._replace(grid_control=0.0)
    elif "dead-perveance" in fit:  # oscillator plate in the converter's own stream
        if running:
            row = row._replace(grid_control=0.0)
        else:
            row = row._replace(perveance=fit["dead-perveance"], contact_v=fit["dead-contact-v"])
    elif swing is not None and swing.grid == grid:
        row = row._replace(grid_control=0.0, perveance=row.perveance / DEAD_OVER_RUNNING)
    lists.triodes.append((row, (section.plate, grid, section.cathode)))


def _add_split(lists: _Lists, section: Section, fit: dict[str, float], running: bool) -> None:
    """A pentode or mixer; a mixer's grids are (signal, oscillator)."""
    cathode = section.cathode
    grid = section.controls[0] if section.controls else cathode
    second = cathode
    row = split_row(fit)
    if not section.controls:
        row = row._replace(grid_control=0.0)
    if section.kind == "converter":
        other = section.controls[1] if len(section.controls) > 1 else cathode
        if gated_by_first_grid(section):
            grid, second = other, grid
            if running:
                row = row._replace(grid_control=0.0)
            else:
                row = row._replace(perveance=fit["dead-perveance"], contact_v=fit["dead-contact-v"])
        elif not running:
            row = row._replace(ratio=row.ratio * DEAD_OVER_RUNNING)
    screen = section.screen or cathode
    lists.splits.append((row, (section.plate, screen, grid, second, cathode)))


def resting_contact_v(perveance: float, rest_v: float, ohm: float) -> float:
    """Return the contact potential with which a diode rests at -`rest_v` on `ohm`.

    `perveance * soft(contact - rest)^1.5 = rest / ohm`, solved for the contact potential.
    """
    drive = (rest_v / ohm / perveance) ** (2.0 / 3.0)
    return rest_v + RETARDING_WIDTH_V * float(np.log(np.expm1(drive / RETARDING_WIDTH_V)))


def _grid(tube: TubeType, perveance: float) -> DIODE:
    offset = filament_offset_v(tube)
    rest = _FILAMENT_REST_V if offset else _GRID_REST_V
    part = _GRID_PART * perveance
    return DIODE(part, resting_contact_v(part, rest, _GRID_LEAK_OHM) + offset, is_grid=1.0)


def _detector(tube: TubeType) -> DIODE:
    offset = filament_offset_v(tube)
    rest = _FILAMENT_REST_V if offset else _DIODE_REST_V
    perveance = _TWIN_DETECTOR if "twin diode" in tube.kind else _DETECTOR
    return DIODE(perveance, resting_contact_v(perveance, rest, _DIODE_LOAD_OHM) + offset)


def swing_of(tube: TubeType) -> Swing | None:
    """Return the rectified bias of a converter's oscillating grid; None for any other tube.

    Published grid current through the leak the maker's data name: 20 kohm for the 6SA7 family, 50
    for types with an oscillator plate, 100 and 200 for their battery forms (RCA Receiving Tube
    Manual, from memory). Without a grid current it is taken as 0.2 mA.
    """
    section = next((s for s in tube.sections if s.kind == "converter"), None)
    if section is None or len(section.controls) < 2:
        return None
    own = next((s for s in tube.sections if s.name in ("oscillator", "triode")), None)
    grid = own.controls[0] if own is not None and own.controls else section.controls[1]
    battery = bool(filament_offset_v(tube))
    kilohms = {(False, False): 20, (True, False): 50, (False, True): 100, (True, True): 200}
    ohm = kilohms[own is not None, battery] * 1e3
    known = sorted(p.amperes["g1"] for p in tube.points if "g1" in p.amperes)
    amperes = known[(len(known) - 1) // 2] if known and grid == "g1" else 0.2e-3
    basis = "published grid current" if known else "grid current taken as 0.2 mA"
    volts = amperes * ohm + filament_offset_v(tube)
    return Swing(grid, volts, amperes, f"{basis} through {ohm / 1e3:g} kohm (from memory)")
