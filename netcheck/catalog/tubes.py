"""Gives every tube type of the catalogue as a TubeType, by whatever name a set has it under.

Belongs here: names, aliases, glass and metal forms, and building the record from the data files.
Does not belong here: the words for electrodes (electrodes.py), tube laws (circuit/).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from types import MappingProxyType

from netcheck.catalog.added import added_rows
from netcheck.catalog.electrodes import ambiguous_word, electrode, electrode_words
from netcheck.catalog.sections import build_sections
from netcheck.catalog.spellings import FORMS, key_of
from netcheck.catalog.tables import (
    CatalogueError,
    citation,
    numbers,
    optional,
    pairs,
    read_csv,
)
from netcheck.parts import OperatingPoint, TubeType

__all__ = [
    "all_tubes",
    "ambiguous_word",
    "electrode",
    "electrode_words",
    "find_tube",
    "nearest_tubes",
]

_INHERITED = (
    "kind", "base", "basing", "heating", "heater_v", "heater_a", "tap_v", "pins", "rating_system",
)  # fmt: skip
_SUFFIXES = ("G", "GT")
_SUBJECT_CELLS = {"pins": "pins", "heater": "heater_v", "base": "base"}


@cache
def _rows() -> Mapping[str, Mapping[str, str]]:
    return MappingProxyType(
        {row["name"]: row for row in (*read_csv("tubes.csv"), *added_rows("tubes"))}
    )


@cache
def _names() -> Mapping[str, tuple[str, str, str]]:
    """Every accepted spelling -> (catalogue row, form, name of the form)."""
    found: dict[str, tuple[str, str, str]] = {}
    for name, row in _rows().items():
        spellings = {name, *name.split("/"), *row["aliases"].split()}
        entries = [(spelling, "", name) for spelling in spellings]
        entries += [(other, form, other) for form in FORMS for other in row[form].split()]
        for spelling, form, form_name in entries:
            entry = (name, form, form_name)
            if found.setdefault(key_of(spelling), entry) != entry:
                raise CatalogueError(f"tubes.csv gives the name {spelling} to two types")
    return MappingProxyType(found)


def find_tube(name: str) -> TubeType | None:
    """Return the type called `name` (any case, blanks and hyphens ignored), or None.

    Accepts either half of a double name (`ECC83`, `12AX7`), the double name, and aliases that are
    the same in pins and ratings. A double name is refused when its halves are different types.
    """
    entry = _names().get(key_of(name))
    if entry is None and "/" in name:
        halves = [key_of(half) for half in name.split("/")]
        entries = {_names().get(half) for half in halves if half not in _SUFFIXES}
        entry = entries.pop() if len(entries) == 1 else None
    return _build(*entry) if entry else None


@cache
def all_tubes() -> Mapping[str, TubeType]:
    """Return every type, glass and metal forms included, by its catalogue name."""
    built = (_build(*entry) for entry in dict.fromkeys(_names().values()))
    return MappingProxyType({tube.name: tube for tube in built})


def nearest_tubes(name: str, n: int = 3) -> list[str]:
    """Return up to `n` names of the catalogue that look like `name`, nearest first."""
    import difflib  # wanted only after a mistake

    spelled = {key_of(text): text for text in (*_spellings(), *all_forms())}
    found = difflib.get_close_matches(key_of(name), spelled, n=n, cutoff=0.5)
    return [spelled[key] for key in found]


def all_forms() -> list[str]:
    """Return the catalogue names of all types without building their records."""
    return [entry[2] for entry in dict.fromkeys(_names().values())]


def _spellings() -> list[str]:
    return [alias for row in _rows().values() for alias in row["aliases"].split()]


@cache
def _merged(name: str) -> Mapping[str, str]:
    """A row with the cells it leaves empty taken from the type it is `like`.

    Its own limits replace the other's one by one; `heater-cathode-v=?` says that the other's does
    not hold here and the right one is not known.
    """
    row = dict(_rows()[name])
    if not row["like"]:
        return MappingProxyType(row)
    parent = _merged(row["like"])
    own_sources, parent_sources = pairs(row["sources"]), pairs(parent["sources"])
    for subject in parent_sources:
        cell = _SUBJECT_CELLS.get(subject, "")
        if subject not in own_sources and not (cell and row[cell]):
            own_sources[subject] = f"{parent_sources[subject]}@{row['like']}"
    row.update({column: row[column] or parent[column] for column in _INHERITED})
    limits = {**pairs(parent["limits"]), **pairs(row["limits"])}
    row["limits"] = _joined({key: value for key, value in limits.items() if value != "?"})
    row["sources"] = _joined(own_sources)
    return MappingProxyType(row)


def _joined(values: Mapping[str, str]) -> str:
    return " ".join(f"{key}={value}" for key, value in values.items())


@cache
def _build(name: str, form: str, form_name: str) -> TubeType:
    """Build the record of a row; `form` is empty, or `glass` or `metal` for a form of it."""
    row = _merged(name)
    pins = _pins(row["pins"])
    unplaced = pins.pop("?", ())
    if form:
        pins["1"] = ("shell",) if form == "metal" else ()
    tube = TubeType(
        name=form_name,
        kind=row["kind"],
        aliases=() if form else _aliases(name, row["aliases"]),
        base=row["base"],
        basing=row["basing"],
        pins=MappingProxyType(pins),
        heating=row["heating"],
        heater_v=optional(row["heater_v"]),
        heater_a=optional(row["heater_a"]),
        tap_v=optional(row["tap_v"]),
        limits=numbers(row["limits"]),
        rating_system=row["rating_system"] or "unknown",
        sections=build_sections(row["kind"], pins, unplaced),
        note="; ".join(text for text in (row["note"], _form_note(name, form)) if text),
    )
    points = _points(tube, name)
    return replace(tube, points=points, sources=_sources(row["sources"], points))


def _aliases(name: str, text: str) -> tuple[str, ...]:
    halves = name.split("/") if "/" in name else ()
    return (*halves, *text.split())


def _form_note(name: str, form: str) -> str:
    if not form:
        return ""
    what = "has its shell on pin 1" if form == "metal" else "has nothing on pin 1"
    return f"{form} form of the {name}, which {what} (from memory); otherwise the same"


def _pins(text: str) -> dict[str, tuple[str, ...]]:
    """`1=- 2=g1,g3` -> pins; `-` is no connection, `?` lists electrodes whose pin is unknown."""
    return {
        pin: () if group == "-" else tuple(group.split(",")) for pin, group in pairs(text).items()
    }


def _sources(text: str, points: tuple[OperatingPoint, ...]) -> Mapping[str, str]:
    found = {}
    for subject, value in pairs(text).items():
        keys, *parents = value.split("@")
        like = "".join(f", as {parent}" for parent in parents)
        found[subject] = citation(keys) + like
    if points:
        found["points"] = "; ".join(dict.fromkeys(point.source for point in points))
    return MappingProxyType(found)


@cache
def _point_rows() -> Mapping[str, tuple[Mapping[str, str], ...]]:
    found: dict[str, tuple[Mapping[str, str], ...]] = {}
    for row in (*read_csv("points.csv"), *added_rows("points")):
        found[row["type"]] = (*found.get(row["type"], ()), row)
    return MappingProxyType(found)


def _points(tube: TubeType, name: str) -> tuple[OperatingPoint, ...]:
    """The published points, each under the name of the section it belongs to."""
    row = _rows()[name]
    donor = row["points_like"]
    while not donor and name not in _point_rows() and row["like"]:
        name = row["like"]
        row = _rows()[name]
        donor = row["points_like"]
    points: list[OperatingPoint] = []
    for cells in _point_rows().get(donor or name, ()):
        section = cells["section"] or (tube.sections[0].name if tube.sections else "")
        if section == "each":
            points += [_point(cells, f"triode{number}", number) for number in "12"]
        else:
            points.append(_point(cells, section))
    return tuple(points)


def _point(cells: Mapping[str, str], section: str, number: str = "") -> OperatingPoint:
    """One point; `number` is added to the electrode names of a point given for each half."""

    def named(values: Mapping[str, float]) -> Mapping[str, float]:
        return MappingProxyType({f"{key}{number}": value for key, value in values.items()})

    return OperatingPoint(
        use=cells["use"],
        section=section,
        volts=named(numbers(cells["volts"])),
        amperes=named(numbers(cells["milliamps"], 1e3)),
        gm_s=optional(cells["gm_umho"], 1e6),
        rp_ohm=optional(cells["rp_ohm"]),
        mu=optional(cells["mu"]),
        cathode_ohm=optional(cells["cathode_ohm"]),
        load_ohm=optional(cells["load_ohm"]),
        output_w=optional(cells["output_w"]),
        note=cells["note"],
        source=citation(cells["source"]),
    )
