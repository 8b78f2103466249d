"""Gives the makers' application tables: rectifier loads and resistance-coupled stages.

Belongs here: published circuits with a tube in them, as check values and for fitting. Does not
belong here: a type's own operating points (tubes.py), computing anything from them (circuit/).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from netcheck.catalog.added import added_rows
from netcheck.catalog.tables import citation, optional, read_csv
from netcheck.parts import TubeType

__all__ = ["CoupledStage", "RectifierLoad", "rectifier_loads", "resistance_coupled"]


@dataclass(frozen=True, slots=True)
class RectifierLoad:
    """One row of a rectifier's typical operation, in volts, amperes, ohms and farads.

    `input` is `capacitor` or `choke`; `plate_ac_v` is rms per plate; unknown figures are None.
    """

    input: str
    plate_ac_v: float
    output_v: float
    output_a: float
    reservoir_f: float | None
    impedance_ohm: float | None
    note: str
    source: str


@dataclass(frozen=True, slots=True)
class CoupledStage:
    """One row of a resistance-coupled amplifier chart; `screen_ohm` is None for a triode."""

    supply_v: float
    plate_load_ohm: float
    next_grid_ohm: float
    screen_ohm: float | None
    cathode_ohm: float
    coupling_f: float
    output_peak_v: float
    gain: float
    source: str


def rectifier_loads(tube: TubeType) -> tuple[RectifierLoad, ...]:
    """Return the published loads of a rectifier type; empty when none are known."""
    rows = (*read_csv("rectifier-loads.csv"), *added_rows("rectifier-loads"))
    return tuple(_load(row) for row in rows if row["type"] == tube.name)


def _load(row: Mapping[str, str]) -> RectifierLoad:
    return RectifierLoad(
        input=row["input"],
        plate_ac_v=float(row["plate_ac_v"]),
        output_v=float(row["output_v"]),
        output_a=float(row["output_ma"]) / 1e3,
        reservoir_f=optional(row["reservoir_uf"], 1e6),
        impedance_ohm=optional(row["impedance_ohm"]),
        note=row["note"],
        source=citation(row["source"]),
    )


def resistance_coupled(tube: TubeType) -> tuple[CoupledStage, ...]:
    """Return the published resistance-coupled stages of a type; empty when none are known."""
    rows = read_csv("resistance-coupled.csv")
    return tuple(_stage(row) for row in rows if tube.name in row["types"].split())


def _stage(row: Mapping[str, str]) -> CoupledStage:
    return CoupledStage(
        supply_v=float(row["supply_v"]),
        plate_load_ohm=float(row["plate_load_ohm"]),
        next_grid_ohm=float(row["next_grid_ohm"]),
        screen_ohm=optional(row["screen_ohm"]),
        cathode_ohm=float(row["cathode_ohm"]),
        coupling_f=float(row["coupling_uf"]) / 1e6,
        output_peak_v=float(row["output_peak_v"]),
        gain=float(row["gain"]),
        source=citation(row["source"]),
    )
