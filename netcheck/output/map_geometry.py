"""Where the lines, symbols and labels of a map's panel stand, in units of one pixel.

Belongs here: coordinates. Does not belong here: which part is in which column (bench/), strokes
and colours (templates).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from netcheck.bench.potential_map import MapPart, MapRow, Panel
from netcheck.circuit.wiring import Kind
from netcheck.output.columns import clipped, visible
from netcheck.output.numbers import chart_figure, figure

__all__ = ["Drawing", "Label", "RowLine", "Symbol", "Tap", "drawing"]

ROW: Final = 32
COLUMN: Final = 64
GUTTER: Final = 78
TOP: Final = 20
_AXIS: Final = 12  # of a symbol, from the left edge of its column
_NAME: Final = 10  # characters of a node's name
_WORD: Final = 8  # characters beside a symbol

_SHAPES: Final = {
    Kind.RESISTOR: "resistor",
    Kind.CAPACITOR: "capacitor",
    Kind.WINDING: "coil",
    Kind.HEATER: "heater",
    Kind.CONTACT: "contact",
    Kind.FUSE: "fuse",
    Kind.LAMP: "lamp",
    Kind.SPEAKER: "speaker",
    Kind.METER: "meter",
    Kind.DIODE: "diode",
    Kind.STREAM: "diode",
    Kind.BATTERY: "battery",
    Kind.LOAD: "load",
    Kind.VARISTOR: "varistor",
    Kind.STRAP: "strap",
}


@dataclass(frozen=True, slots=True)
class Label:
    """A text at its place; `full` is what it says uncut."""

    x: float
    y: float
    text: str
    full: str


@dataclass(frozen=True, slots=True)
class RowLine:
    """A node: its line from `x1` to `x2`, dots where parts join it, its labels and marks."""

    y: float
    x1: float
    x2: float
    dots: tuple[float, ...]
    name: Label
    volts: Label
    line_side: bool
    touchable: bool
    known: bool


@dataclass(frozen=True, slots=True)
class Symbol:
    """A part: from `y1` to `y2` on the axis `x`, its symbol at `y`."""

    shape: str
    x: float
    y: float
    y1: float
    y2: float
    ref: Label
    value: Label
    polarized: bool
    danger: str
    line: int


@dataclass(frozen=True, slots=True)
class Tap:
    """An electrode of the tube on its row."""

    shape: str
    y: float
    label: Label


@dataclass(frozen=True, slots=True)
class Drawing:
    """A panel ready to draw."""

    title: str
    ref: str
    line: int
    width: float
    height: float
    rows: tuple[RowLine, ...]
    symbols: tuple[Symbol, ...]
    taps: tuple[Tap, ...]
    axis: float
    danger: str


def drawing(panel: Panel) -> Drawing:
    """Lay out a panel: rows in steps of 32 pixels, columns in steps of 64."""
    y_of: dict[str, float] = {row.net: TOP + ROW * k for k, row in enumerate(panel.rows)}
    symbols = tuple(_symbol(part, y_of) for part in panel.parts)
    taps = tuple(_taps(panel, y_of))
    columns = max(panel.columns, 1)
    return Drawing(
        visible(panel.title),
        panel.ref,
        panel.line,
        GUTTER + COLUMN * columns,
        TOP + ROW * max(len(panel.rows) - 1, 0) + 20,
        tuple(_rows(panel, symbols, taps, y_of)),
        symbols,
        taps,
        GUTTER + _AXIS,
        panel.harm.signal.value if panel.harm is not None else "",
    )


def _symbol(part: MapPart, y_of: Mapping[str, float]) -> Symbol:
    x = GUTTER + COLUMN * part.column + _AXIS
    y1, y2 = y_of[part.top], y_of[part.bottom]
    y = (y1 + y2) / 2
    return Symbol(
        _SHAPES[part.kind],
        x,
        y,
        y1,
        y2,
        Label(x + 11, y - 1, clipped(part.ref, _WORD), visible(part.ref)),
        Label(x + 11, y + 9, _short(part.label), visible(part.label)),
        part.polarized,
        part.harm.signal.value if part.harm is not None else "",
        part.line,
    )


def _short(text: str) -> str:
    """A value in eight characters: without blanks and a leading zero where they do not fit."""
    shown = visible(text)
    for narrower in (lambda t: t.replace(" ", ""), lambda t: re.sub(r"\b0\.", ".", t)):
        if len(shown) > _WORD:
            shown = narrower(shown)
    return clipped(shown, _WORD)


def _taps(panel: Panel, y_of: Mapping[str, float]) -> Iterator[Tap]:
    """One for each row of the tube: several electrodes on one node share it."""
    rows: dict[str, list[tuple[str, str]]] = {}
    for each in panel.electrodes:
        rows.setdefault(each.net, []).append((each.name, each.duty))
    for net, found in rows.items():
        names = [name for name, _ in found]
        duties = {duty for _, duty in found}
        shape = next((d for d in ("cathode", "plate", "diode", "screen") if d in duties), "grid")
        text = names[0] if len(names) == 1 else f"{names[0]}+{len(names) - 1}"
        place = Label(
            GUTTER + _AXIS + 12, y_of[net] - 3, clipped(text, _WORD + 1), ", ".join(names)
        )
        yield Tap(shape, y_of[net], place)


def _volts(row: MapRow) -> str:
    if row.ac_v is not None:
        return f"{figure(row.ac_v)} V AC"
    return "no DC told" if row.volts is None else f"{chart_figure(row.volts)} V"


def _rows(
    panel: Panel, symbols: tuple[Symbol, ...], taps: tuple[Tap, ...], y_of: Mapping[str, float]
) -> Iterator[RowLine]:
    for row in panel.rows:
        y = y_of[row.net]
        dots = sorted({s.x for s in symbols if y in (s.y1, s.y2)})
        ends = [*dots, *(GUTTER + _AXIS for tap in taps if tap.y == y)]
        said = _volts(row)
        yield RowLine(
            y,
            GUTTER - 6,
            max(ends, default=GUTTER),
            tuple(dots),
            Label(GUTTER - 9, y - 1, clipped(row.net, _NAME), visible(row.net)),
            Label(GUTTER - 9, y + 9, said, said),
            row.line_side,
            row.touchable,
            row.volts is not None or row.ac_v is not None,
        )
