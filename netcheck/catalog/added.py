"""Takes in component data of other distributions, row by row, each row checked before it counts.

Belongs here: the tables such a distribution may bring, the checks, the faults in sentences. Does
not belong here: finding distributions (entries.py), what becomes of a row (tubes.py, lamps.py).

An entry point of the group `netcheck.catalog` is a callable that returns a folder, or a mapping
from the names of tables to files or rows. The tables are the CSV files of this catalogue: tubes,
points, rectifier-loads, sources; and lamps, with the columns designation, v, a, base, bead, source.
A row that is wrong is left out by name and the others stay: what is not known is reported with the
set, what is wrong would be believed.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from netcheck.catalog.spellings import key_of, spellings_of
from netcheck.catalog.tables import CatalogueError, numbers, pairs, read_csv
from netcheck.entries import CATALOG, OWN, BadPlugin, Brought, brought, entries, load

__all__ = ["TABLES", "Added", "added", "added_rows"]

Row = Mapping[str, str]

TABLES = ("sources", "tubes", "points", "rectifier-loads", "lamps")
"""The order in which they are read: a row may only speak of what is read before it."""

LAMP_COLUMNS = ("designation", "v", "a", "base", "bead", "source")
_POSITIVE = ("heater_v", "heater_a", "tap_v")
_POINT_NUMBERS = ("gm_umho", "rp_ohm", "mu", "cathode_ohm", "load_ohm", "output_w")
_LOAD_NUMBERS = ("plate_ac_v", "output_v", "output_ma")
_SUBJECTS = {"pins": "pins", "heater": "heater_v", "rating-system": "rating_system"}


@dataclass(frozen=True, slots=True)
class Added:
    """The rows taken in by table, and what each entry point brought."""

    rows: Mapping[str, tuple[Row, ...]]
    brought: tuple[Brought, ...]


@dataclass(slots=True)
class _Taking:
    """What is taken in so far, of all distributions."""

    rows: dict[str, list[Row]] = field(default_factory=lambda: {name: [] for name in TABLES})
    owners: dict[str, str] = field(default_factory=dict)
    lamps: dict[str, str] = field(default_factory=dict)


@cache
def added() -> Added:
    """Return what other distributions bring to the catalogue; their faults are held in it."""
    taking, told = _Taking(), []
    for entry in entries(CATALOG):
        distribution = brought(entry).distribution
        try:
            tables = _tables(load(entry))
        except BadPlugin as fault:
            told.append(brought(entry, faults=(str(fault),)))
            continue
        except Exception as fault:
            said = str(BadPlugin(distribution, entry.name, _sentence(fault), CATALOG))
            told.append(brought(entry, faults=(said,)))
            continue
        names, faults = _take_in(taking, tables, distribution)
        told.append(brought(entry, names, faults))
    rows = {name: tuple(each) for name, each in taking.rows.items()}
    return Added(MappingProxyType(rows), tuple(told))


def added_rows(table: str) -> tuple[Row, ...]:
    """Return the rows that other distributions add to a table; none where nothing is installed."""
    return added().rows[table] if entries(CATALOG) else ()


def _sentence(fault: Exception) -> str:
    return str(fault) if isinstance(fault, CatalogueError) else f"{type(fault).__name__}: {fault}"


def _tables(returned: Any) -> dict[str, list[dict[str, str]]]:
    """The rows by table out of whatever an entry point returned."""
    if isinstance(returned, str | Path):
        folder = Path(returned)
        if not folder.is_dir():
            raise CatalogueError(f"it names {folder}, which is no folder")
        returned = {table: path for table in TABLES if (path := folder / f"{table}.csv").is_file()}
        if not returned:
            raise CatalogueError(f"the folder {folder} has none of {', '.join(TABLES)} (.csv)")
    if not isinstance(returned, Mapping):
        raise CatalogueError(f"it returned a {type(returned).__name__}, no folder and no tables")
    unknown = sorted(str(each) for each in returned if each not in TABLES)
    if unknown:
        raise CatalogueError(f"there is no table {unknown[0]}; there are {', '.join(TABLES)}")
    return {table: _rows(table, returned[table]) for table in TABLES if table in returned}


def _rows(table: str, given: Any) -> list[dict[str, str]]:
    columns = LAMP_COLUMNS if table == "lamps" else tuple(read_csv(f"{table}.csv")[0])
    if isinstance(given, str | Path):
        with Path(given).open(encoding="utf-8-sig", newline="") as stream:
            reader = csv.DictReader(stream, strict=True)
            given = list(reader)
    rows = []
    for number, row in enumerate(given, start=1):
        cells = {str(key): value for key, value in dict(row).items() if key is not None}
        odd = [each for each in cells if each not in columns]
        if odd or len(cells) != len(dict(row)) or None in cells.values():
            said = f"has no column {odd[0]}" if odd else f"row {number} has a wrong number of cells"
            raise CatalogueError(f"the table {table} {said}")
        rows.append({name: str(cells.get(name, "")).strip() for name in columns})
    return rows


def _take_in(
    taking: _Taking, tables: Mapping[str, list[dict[str, str]]], distribution: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Put the rows that are right among the others; return their names and the faults."""
    own_keys = {row["key"]: f"{distribution}:{row['key']}" for row in tables.get("sources", ())}
    names: list[str] = []
    faults: list[str] = []
    for table in TABLES:
        for row in tables.get(table, ()):
            name = row.get("name") or row.get("designation") or row.get("type") or row.get("key")
            try:
                taken = _CHECKS[table](dict(row), taking, own_keys, distribution)
            except (CatalogueError, ValueError) as fault:
                faults.append(f"{_CALLED[table]} {name or '?'} of {distribution}: {fault}")
                continue
            taking.rows[table].append(MappingProxyType(taken))
            if table in ("tubes", "lamps"):
                names.append(str(name))
    return tuple(names), tuple(faults)


_CALLED = {
    "sources": "the source", "tubes": "the tube type", "points": "a point of the tube type",
    "rectifier-loads": "a load of the tube type", "lamps": "the lamp",
}  # fmt: skip


def _source(
    row: dict[str, str], taking: _Taking, own: Mapping[str, str], who: str
) -> dict[str, str]:
    if not row["key"].replace("-", "").replace("_", "").isalnum() or not row["source"]:
        raise CatalogueError("a source has a key of letters and digits, and a citation")
    return {**row, "key": own[row["key"]]}


def _cited(keys: str, own: Mapping[str, str]) -> str:
    """The keys as they are called among all sources."""
    known = {row["key"] for row in read_csv("sources.csv")}
    for key in keys.split("+"):
        if key not in own and key not in known:
            raise CatalogueError(f"its source {key or '(none)'} is not among the sources")
    return "+".join(own.get(key, key) for key in keys.split("+"))


def _tube(row: dict[str, str], taking: _Taking, own: Mapping[str, str], who: str) -> dict[str, str]:
    catalogue = read_csv("tubes.csv")
    if not row["name"]:
        raise CatalogueError("a tube type has a name")
    _refuse_taken(row, taking, catalogue)
    known = {each["name"] for each in (*catalogue, *taking.rows["tubes"])}
    for column in ("like", "points_like"):
        if row[column] and row[column] not in known:
            raise CatalogueError(f"it is {column.replace('_', ' ')} {row[column]}, not known here")
    _check_words(row, catalogue)
    _check_pins(row, catalogue)
    for column in _POSITIVE:
        _positive(row[column], column)
    _check_limits(row, catalogue)
    sources = {subject: _cited(keys, own) for subject, keys in pairs(row["sources"]).items()}
    needed = [subject for subject, column in _SUBJECTS.items() if row[column]]
    needed += ["limits"] if row["limits"] and not set(pairs(row["limits"])) <= set(sources) else []
    missing = [subject for subject in needed if subject not in sources]
    if missing:
        raise CatalogueError(f"its {missing[0]} has no source (one may be `from memory`)")
    for spelling in spellings_of(row):
        taking.owners[key_of(spelling)] = who
    cells = " ".join(f"{subject}={keys}" for subject, keys in sources.items())
    return {**row, "sources": cells, "note": "; ".join(filter(None, (row["note"], _by(who))))}


def _by(who: str) -> str:
    return f"brought by {who}, no part of netcheck's own catalogue"


def _refuse_taken(row: Row, taking: _Taking, catalogue: Iterable[Row]) -> None:
    taken = {key_of(each): OWN for other in catalogue for each in spellings_of(other)}
    taken.update(taking.owners)
    for spelling in spellings_of(row):
        owner = taken.get(key_of(spelling))
        if owner is not None:
            raise CatalogueError(f"the name {spelling} is taken by {owner}; the type is left out")


def _check_words(row: Row, catalogue: Iterable[Row]) -> None:
    """The words of a row must be ones that the catalogue knows; empty only with `like`."""
    for column in ("kind", "heating", "rating_system"):
        known = {each[column] for each in catalogue} - {""}
        may_lack = row["like"] or column == "rating_system"
        if row[column] not in known and not (may_lack and not row[column]):
            said = column.replace("_", " ")
            raise CatalogueError(f"{row[column] or 'nothing'!r} is no {said} the catalogue knows")


def _check_pins(row: Row, catalogue: Iterable[Row]) -> None:
    from netcheck.catalog.bases import legal_pins

    if row["like"] and not row["pins"]:
        return
    legal = legal_pins(row["base"])
    if legal is None:
        raise CatalogueError(f"{row['base'] or 'nothing'!r} is no base the catalogue knows")
    known = {
        electrode
        for each in catalogue
        for group in pairs(each["pins"]).values()
        for electrode in group.split(",")
    }
    pins = pairs(row["pins"])
    if not pins:
        raise CatalogueError("it has no pins")
    for pin, group in pins.items():
        if pin not in (*legal, "?"):
            raise CatalogueError(f"the base {row['base']} has no pin {pin}")
        for electrode in group.split(","):
            if electrode not in known:
                raise CatalogueError(f"{electrode} on pin {pin} is no electrode")


def _check_limits(row: Row, catalogue: Iterable[Row]) -> None:
    known = {name for each in catalogue for name in pairs(each["limits"])}
    for name, value in pairs(row["limits"]).items():
        if name not in known:
            raise CatalogueError(f"{name} is no limit the catalogue knows")
        if not (value == "?" and row["like"]):
            _positive(value, name)


def _positive(text: str, what: str) -> None:
    if not text:
        return
    value = float(text)
    if not (math.isfinite(value) and value > 0):
        raise CatalogueError(f"{what} is {text}, and must be above zero")


def _point(
    row: dict[str, str], taking: _Taking, own: Mapping[str, str], who: str
) -> dict[str, str]:
    _own_type(row["type"], taking, who)
    for column in ("volts", "milliamps"):
        if not all(math.isfinite(each) for each in numbers(row[column]).values()):
            raise CatalogueError(f"its {column} are no numbers")
    for column in _POINT_NUMBERS:
        _positive(row[column], column)
    return {**row, "source": _cited(row["source"], own)}


def _load(row: dict[str, str], taking: _Taking, own: Mapping[str, str], who: str) -> dict[str, str]:
    _own_type(row["type"], taking, who)
    if row["input"] not in ("capacitor", "choke"):
        raise CatalogueError(f"its input is {row['input'] or 'nothing'}, not capacitor or choke")
    for column in (*_LOAD_NUMBERS, "reservoir_uf", "impedance_ohm"):
        if column in _LOAD_NUMBERS and not row[column]:
            raise CatalogueError(f"it has no {column}")
        _positive(row[column], column)
    return {**row, "source": _cited(row["source"], own)}


def _own_type(name: str, taking: _Taking, who: str) -> None:
    """A distribution speaks of its own types: those of others are theirs to correct."""
    if taking.owners.get(key_of(name)) != who:
        raise CatalogueError("this distribution brings no type of that name")


def _lamp(row: dict[str, str], taking: _Taking, own: Mapping[str, str], who: str) -> dict[str, str]:
    from netcheck.catalog.lamps import lamp_key, own_lamps

    key = lamp_key(row["designation"])
    owner = OWN if key in own_lamps() else taking.lamps.get(key)
    if not key or owner:
        raise CatalogueError(f"the name is taken by {owner}" if key else "a lamp has a designation")
    for column in ("v", "a"):
        if not row[column]:
            raise CatalogueError(f"it has no {column}")
        _positive(row[column], column)
    if not row["source"]:
        raise CatalogueError("it has no source (one may be `from memory`)")
    taking.lamps[key] = who
    return {**row, "designation": key, "source": f"{row['source']} ({_by(who)})"}


_Check = Callable[[dict[str, str], _Taking, Mapping[str, str], str], dict[str, str]]
_CHECKS: Mapping[str, _Check] = MappingProxyType(
    {
        "sources": _source, "tubes": _tube, "points": _point, "rectifier-loads": _load,
        "lamps": _lamp,
    }
)  # fmt: skip
