"""Reads the catalogue's data files, so that every loader does it the same way.

Belongs here: finding, decoding and splitting the CSV and TOML files of data/, and the citations of
sources.csv. Does not belong here: what any of the columns mean.
"""

from __future__ import annotations

import csv
import io
import pkgutil
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from netcheck.findings import NetcheckError

__all__ = ["CatalogueError", "citation", "numbers", "optional", "pairs", "read_csv", "read_toml"]


class CatalogueError(NetcheckError):
    """A data file of the catalogue is missing or broken (a fault of the build, not of a user)."""


def _text(filename: str) -> str:
    try:
        data = pkgutil.get_data("netcheck.catalog", f"data/{filename}")
    except OSError:
        data = None
    if data is None:
        raise CatalogueError(f"the catalogue file {filename} is not in the installed package")
    return data.decode("utf-8")


@cache
def read_csv(filename: str) -> tuple[Mapping[str, str], ...]:
    """Return the rows of a CSV file of data/ as column -> text (empty text = not known).

    Raises CatalogueError when the file is missing or a row has the wrong number of cells.
    """
    reader = csv.reader(io.StringIO(_text(filename)))
    header = next(reader)
    rows = []
    for cells in reader:
        if len(cells) != len(header):
            raise CatalogueError(f"{filename}, line {reader.line_num}: wrong number of cells")
        rows.append(MappingProxyType(dict(zip(header, cells, strict=True))))
    return tuple(rows)


@cache
def read_toml(filename: str) -> Mapping[str, Any]:
    """Return a TOML file of data/ as a mapping. Raises CatalogueError when it is missing."""
    import tomllib  # only the smaller files are TOML; finding a tube must not pay for it

    return MappingProxyType(tomllib.loads(_text(filename)))


def pairs(text: str) -> dict[str, str]:
    """Split `a=1 b=2` into its pairs. Raises CatalogueError when an item has no equals sign."""
    found = {}
    for item in text.split():
        key, equals, value = item.partition("=")
        if not equals or not value or key in found:
            raise CatalogueError(f"cannot read {item!r} in the catalogue cell {text!r}")
        found[key] = value
    return found


def numbers(text: str, divisor: float = 1.0) -> Mapping[str, float]:
    """Split `plate=250 g2=100` into numbers, each divided by `divisor` (1e3 for mA)."""
    return MappingProxyType({key: float(value) / divisor for key, value in pairs(text).items()})


def optional(text: str, divisor: float = 1.0) -> float | None:
    """Return the number in a cell over `divisor`, or None for an empty cell (not known)."""
    return float(text) / divisor if text else None


@cache
def _citations() -> Mapping[str, str]:
    from netcheck.catalog.added import added_rows  # which reads its tables through this module

    rows = (*read_csv("sources.csv"), *added_rows("sources"))
    return MappingProxyType({row["key"]: row["source"] for row in rows})


def citation(keys: str) -> str:
    """Return the full citation of one source key, or of several joined by `+`.

    Raises CatalogueError for a key that sources.csv does not have.
    """
    known = _citations()
    missing = [key for key in keys.split("+") if key not in known]
    if missing:
        raise CatalogueError(f"sources.csv has no entry {', '.join(missing)}")
    return "; ".join(known[key] for key in keys.split("+"))
