"""Tells how each kind of capacitor ages and how much leakage a part may have.

Belongs here: dielectrics with their insulation floors, the electrolytic leakage limit, surge
ratios. Does not belong here: safety classes (safety.py), standard values (preferred.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from netcheck.catalog.tables import read_toml

__all__ = ["Dielectric", "dielectric", "dielectrics", "leakage_limit_ma", "surge_v"]


@dataclass(frozen=True, slots=True)
class Dielectric:
    """One kind of capacitor; `suspect_when_original` is True where no test clears an old part."""

    name: str
    words: tuple[str, ...]
    suspect_when_original: bool
    ageing: str
    source: str
    polarized: bool = False
    floor_ohm: float | None = None
    floor_up_to_f: float | None = None
    floor_s: float | None = None
    floor_source: str = ""

    def insulation_floor_ohm(self, capacitance_f: float) -> float | None:
        """Return the least insulation of a new part of `capacitance_f` farads, None if not known.

        The product rule is R = floor_s / C (megohm x microfarad = seconds); source: floor_source.
        """
        within = self.floor_up_to_f is None or capacitance_f <= self.floor_up_to_f
        if self.floor_ohm is not None and within:
            return self.floor_ohm
        if self.floor_s is not None and capacitance_f > 0:
            return self.floor_s / capacitance_f
        return None


@cache
def dielectrics() -> Mapping[str, Dielectric]:
    """Return every dielectric by its canonical name (`paper`, `silver-mica`, ...)."""
    records = read_toml("dielectrics.toml")["dielectric"]
    return MappingProxyType({name: _record(name, fields) for name, fields in records.items()})


def _record(name: str, fields: Mapping[str, Any]) -> Dielectric:
    return Dielectric(name=name, **{**fields, "words": tuple(fields["words"])})


@cache
def _by_word() -> Mapping[str, Dielectric]:
    found: dict[str, Dielectric] = {}
    for record in dielectrics().values():
        for word in (record.name, *record.words):
            found[_plain(word)] = record
    return MappingProxyType(found)


def _plain(word: str) -> str:
    return " ".join(word.lower().replace("-", " ").split())


def dielectric(name: str) -> Dielectric | None:
    """Return the dielectric a trade word means (`mylar`, `wax paper`), or None if not known."""
    return _by_word().get(_plain(name))


def leakage_limit_ma(c_uf: float, v: float) -> float | None:
    """Return the largest leakage in mA of an electrolytic of `c_uf` microfarads rated `v` volts.

    I = K C + 0.3, read 2 to 3 minutes after rated voltage (JAN-C-62; table in dielectrics.toml).
    None for a rating the table does not cover.
    """
    table = read_toml("dielectrics.toml")["leakage"]
    if v < table["from_v"]:
        return None
    for step in table["steps"]:
        if v <= step["up_to_v"]:
            return float(step["k"] * c_uf + table["base_ma"])
    return None


def surge_v(rated_v: float) -> float | None:
    """Return the surge volts of a modern electrolytic rated `rated_v`; None outside the table.

    Source: see dielectrics.toml. An old part's surge rating is what is printed on it.
    """
    for step in read_toml("dielectrics.toml")["surge"]["steps"]:
        if 0 < rated_v <= step["up_to_v"]:
            return float(rated_v * step["ratio"])
    return None
