"""What a terminal shows of a text: widths, wrapping, marking, and escapes of what must not act.

Belongs here: measuring and shaping text in display columns. Does not belong here: what the
text is about.

A set may be pasted from anywhere, so nothing in it may reach a terminal as a command: control,
format (bidirectional among them), private and unassigned characters are shown by their number.
Widths follow Unicode Standard Annex 11 (East Asian Width): wide and fullwidth take two columns,
non-spacing marks none.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Final

__all__ = ["WIDTH", "cells", "clipped", "marked", "visible", "width", "wrapped"]

WIDTH: Final = 78
_TAB: Final = 4
_MARKS_AT_MOST: Final = 3  # further non-spacing marks would only smear over other lines
_LEAD_IN: Final = 24
_CUT: Final = "..."

Cell = tuple[str, int]


def cells(text: str) -> list[Cell]:
    r"""Return, for each character of `text`, what is shown for it and how many columns it takes.

    >>> cells("a\x1b\u96fb")
    [('a', 1), ('\\x1b', 4), ('電', 2)]
    """
    shown: list[Cell] = []
    column = marks = 0
    for character in text:
        cell = _cell(character, column)
        marks = marks + 1 if cell[1] == 0 else 0
        if marks > _MARKS_AT_MOST and cell[0]:
            cell = _escaped(character)
        shown.append(cell)
        column += cell[1]
    return shown


def _cell(character: str, column: int) -> Cell:
    if " " <= character <= "~":
        return character, 1
    if character == "\t":
        blanks = _TAB - column % _TAB
        return " " * blanks, blanks
    if "\ufe00" <= character <= "\ufe0f":
        return "", 0  # variation selectors: terminals disagree on the width they ask for
    category = unicodedata.category(character)
    if category[0] == "C" or category in ("Zl", "Zp"):
        return _escaped(character)
    if category in ("Mn", "Me"):
        return character, 0
    if unicodedata.east_asian_width(character) in ("W", "F"):
        return character, 2
    return (" " if category == "Zs" else character), 1


def _escaped(character: str) -> Cell:
    number = ord(character)
    form = "\\x{:02x}" if number < 0x100 else "\\u{:04x}" if number < 0x10000 else "\\U{:08x}"
    text = form.format(number)
    return text, len(text)


def visible(text: str) -> str:
    """Return `text` with everything that could act on a terminal shown by its number."""
    return _joined(cells(text))


def width(text: str) -> int:
    """Return how many columns `text` takes once shown."""
    return sum(columns for _, columns in cells(text))


def _joined(shown: Iterable[Cell]) -> str:
    return "".join(piece for piece, _ in shown)


def wrapped(text: str, first: str = "", rest: str | None = None, columns: int = WIDTH) -> list[str]:
    """Return `text` as lines of at most `columns`; `first` opens the first, `rest` the others.

    Any white space of `text` counts as one blank; a word too long for a line is broken.

    >>> wrapped("fit a 0.5 A fuse", first="to do  ", columns=17)
    ['to do  fit a 0.5', '       A fuse']
    """
    opening = " " * width(first) if rest is None else rest
    lines: list[str] = []
    line, used, empty = first, width(first), True
    for word in text.split():
        pieces = cells(word)
        while pieces:
            needed = sum(columns for _, columns in pieces)
            room = columns - used - (0 if empty else 1)
            if needed > room and not empty:
                lines.append(line)
                line, used, empty = opening, width(opening), True
                continue
            taken = _fitting(pieces, room)
            blank = "" if empty else " "
            line += blank + _joined(pieces[:taken])
            used += len(blank) + sum(columns for _, columns in pieces[:taken])
            pieces, empty = pieces[taken:], False
    return [*lines, line.rstrip() if empty else line]


def _fitting(pieces: list[Cell], room: int) -> int:
    """How many of `pieces` fit into `room` columns; one at least, so that wrapping ends."""
    used = 0
    for count, (_, columns) in enumerate(pieces):
        used += columns
        if used > room:
            return max(count, 1)
    return len(pieces)


def clipped(text: str, columns: int) -> str:
    """Return `text` as shown, cut with `...` where it takes more than `columns`."""
    pieces = cells(text)
    if sum(size for _, size in pieces) <= columns:
        return _joined(pieces)
    return _joined(pieces[: _fitting(pieces, columns - len(_CUT))]) + _CUT


def marked(text: str, start: int, end: int, columns: int) -> tuple[str, str]:
    r"""Return a line as shown and the underline of its characters `start` to `end` (0-based).

    A line too long for `columns` is cut with `...` so that the beginning of the mark is seen.

    >>> marked("R1\t⚡ 470K", 5, 9, 40)
    ('R1  ⚡ 470K', '       ====')
    """
    pieces = cells(text.rstrip())
    start = max(min(start, len(pieces) - 1), 0)
    end = min(max(end, start + 1), len(pieces))
    first = _first_shown(pieces, start, end, columns)
    before = _CUT if first else ""
    room = columns - len(before)
    shown = pieces[first:]
    after = ""
    if sum(size for _, size in shown) > room:
        after = _CUT
        shown = shown[: _fitting(shown, room - len(_CUT))]
    lead = sum(size for _, size in shown[: start - first])
    under = sum(size for _, size in shown[start - first : end - first])
    return (
        before + _joined(shown) + after,
        " " * (len(before) + lead) + "=" * max(under, 1),
    )


def _first_shown(pieces: list[Cell], start: int, end: int, columns: int) -> int:
    """The first character to show: 0 where the mark fits, else a little before the mark."""
    if sum(size for _, size in pieces[:end]) <= columns - len(_CUT):
        return 0
    if sum(size for _, size in pieces) <= columns:
        return 0
    first, lead = start, 0
    while first and lead + pieces[first - 1][1] <= _LEAD_IN:
        first -= 1
        lead += pieces[first][1]
    return first
