"""A tube type's page for people: its socket, heater, limits, published points and sources.

Belongs here: the look of a `TubeType` in plain text. Does not belong here: any figure, which
the catalogue (or the user's file) holds with its source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from netcheck.output.columns import WIDTH, wrapped
from netcheck.output.numbers import figure
from netcheck.parts import OperatingPoint, TubeType

__all__ = ["tube_lines"]

_LABEL_COLUMNS: Final = 13
_MEMORY: Final = "from memory"


def tube_lines(tube: TubeType) -> Iterator[str]:
    """Yield the page of one tube type."""
    yield from wrapped(tube.kind, first=f"{tube.name}  ")
    yield "=" * WIDTH
    if tube.aliases:
        yield from _labelled("also", ", ".join(tube.aliases))
    base = ", ".join(word for word in (tube.base, tube.basing) if word)
    yield from _labelled("base", base or "unknown")
    yield from _labelled("heater", _heater(tube))
    yield from _pins(tube)
    yield from _limits(tube)
    yield from _points(tube)
    yield from _sources(tube)
    yield from _labelled("note", tube.note)


def _labelled(label: str, text: str) -> Iterator[str]:
    if text.strip():
        yield from wrapped(text, first=label.ljust(_LABEL_COLUMNS))


def _heater(tube: TubeType) -> str:
    if tube.heating == "none":
        return "none"
    said = f"{figure(tube.heater_v)} V, {figure(tube.heater_a)} A, {tube.heating}ly heated"
    if tube.tap_v is not None:
        said += f"; tap for a pilot lamp at {figure(tube.tap_v)} V"
    return said


def _pins(tube: TubeType) -> Iterator[str]:
    label = "pins"
    for pin, electrodes in tube.pins.items():
        first = f"{label.ljust(_LABEL_COLUMNS)}{pin:>3}  "
        yield from wrapped(", ".join(electrodes) or "no connection", first=first)
        label = ""


def _limits(tube: TubeType) -> Iterator[str]:
    yield from _labelled("limits", f"rating system: {tube.rating_system}")
    drop_a = tube.limits.get("drop-a")
    for name, value in tube.limits.items():
        unit, scale = _unit(name)
        said = f"{_limit_words(name)} {figure(value * scale)} {unit}"
        if name == "drop-v" and drop_a is not None:
            said += f" at {figure(drop_a * 1e3)} mA"
        if name != "drop-a":
            yield from wrapped(said, first=" " * _LABEL_COLUMNS)
    if not tube.limits:
        yield from wrapped("none known", first=" " * _LABEL_COLUMNS)


def _limit_words(name: str) -> str:
    match name:
        case "heater-cathode-v":
            return "heater to cathode"
        case "inverse-v":
            return "peak inverse"
        case "output-a":
            return "DC output"
        case "peak-a":
            return "peak plate current"
        case "reservoir-f":
            return "reservoir at most"
        case "impedance-ohm":
            return "supply impedance at least"
        case "drop-v":
            return "voltage drop"
        case "grid-ohm-fixed":
            return "grid circuit with fixed bias"
        case "grid-ohm-cathode":
            return "grid circuit with cathode bias"
        case "plate-ac-v":
            return "plate, AC"
    return " ".join(name.split("-")[:-1])


def _unit(name: str) -> tuple[str, float]:
    """The unit a limit is told in, and how many of it make one SI unit: it stands in the name."""
    for piece in reversed(name.split("-")):
        match piece:
            case "v":
                return "V", 1.0
            case "a":
                return "mA", 1e3
            case "w":
                return "W", 1.0
            case "f":
                return "uF", 1e6
            case "ohm":
                return "ohm", 1.0
    return "", 1.0


def _points(tube: TubeType) -> Iterator[str]:
    label = "points"
    for point in tube.points:
        yield from _labelled(label or " ", _point(point))
        label = ""
    if not tube.points:
        yield from _labelled(label, "none known")


def _point(point: OperatingPoint) -> str:
    said = [" ".join(dict.fromkeys(word for word in (point.section, point.use) if word))]
    said += [f"{name} {figure(volts)} V" for name, volts in point.volts.items()]
    said += [f"{name} {figure(amperes * 1e3)} mA" for name, amperes in point.amperes.items()]
    for name, value, scale, unit in (
        ("gm", point.gm_s, 1e6, " umho"),
        ("rp", point.rp_ohm, 1.0, " ohm"),
        ("mu", point.mu, 1.0, ""),
        ("cathode resistor", point.cathode_ohm, 1.0, " ohm"),
        ("load", point.load_ohm, 1.0, " ohm"),
        ("output", point.output_w, 1.0, " W"),
    ):
        if value is not None:
            said.append(f"{name} {figure(value * scale)}{unit}")
    said += [point.note] if point.note else []
    said += [f"[{point.source}]"] if point.source else []
    return "; ".join(each for each in said if each)


def _sources(tube: TubeType) -> Iterator[str]:
    label = "sources"
    for subject, source in tube.sources.items():
        yield from _labelled(label or " ", f"{subject}: {source}")
        label = ""
    if not tube.sources:
        yield from _labelled(label, "none stated: rely on nothing here")
    recalled = [s for s, source in tube.sources.items() if source.lower().startswith(_MEMORY)]
    if recalled:
        yield from _labelled(
            "beware",
            f"from memory, not seen in print: {', '.join(recalled)}. Check these in a tube manual"
            " before you rely on them.",
        )
