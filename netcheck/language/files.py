"""Files of a set: reading them, and the fence around what `use` may reach.

Belongs here: paths, encodings, size limits, cycles. Does not belong here: what the texts mean.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from netcheck.chassis import Chassis
from netcheck.findings import Span
from netcheck.language.mistakes import Mistake
from netcheck.language.reader import FileText, read_files

__all__ = ["MOST_BYTES", "read", "read_file"]

# The largest domestic sets have some 400 parts, about 40 kilobytes of text.
MOST_BYTES = 1_000_000
_MOST_FILES = 50


def read(text: str, file: str = "<text>") -> Chassis:
    """Read a set from a text; needs no file system (so `use` is a mistake here).

    Args:
        text: the set, in the chassis language.
        file: the name that findings give this text.

    Returns:
        The chassis. Mistakes of the text are its `findings`, never exceptions; `was_read` is
        False when any of them left something unread.
    """
    if len(text) > MOST_BYTES:
        return _unread(file, _too_large(len(text), file))
    return read_files(FileText(file, text))


def read_file(path: str | Path) -> Chassis:
    """Read a set from a file and the files it uses below the same folder.

    A file that is missing, too large, or not UTF-8 text gives a chassis with one finding and
    `was_read` False.
    """
    path = Path(path)
    name = str(path)
    top = Span(name, 1, 1, 1, 2)
    try:
        text = _text(path, name, top)
    except Mistake as mistake:
        return _unread(name, mistake)
    return read_files(FileText(name, text), _Fence(path).include)


def _unread(file: str, mistake: Mistake) -> Chassis:
    empty = Chassis(file=file)
    return replace(empty, findings=(mistake.finding(""),), was_read=False)


def _too_large(size: int, file: str) -> Mistake:
    return Mistake(
        f"this text is {size / 1e6:.3g} MB, and a set is at most {MOST_BYTES / 1e6:.0f} MB",
        Span(file, 1, 1, 1, 2),
        "check that it is a set; parts of a large one can stand in files of their own (`use`)",
    )


def _text(path: Path, name: str, place: Span) -> str:
    """The text of a file.

    Raises:
        Mistake: it cannot be read as the text of a set.
    """
    try:
        size = path.stat().st_size
        if path.is_dir() or not path.is_file():
            raise Mistake(f"{name} is no file", place, "name a file that ends in .chassis")
        if size > MOST_BYTES:
            raise replace_place(_too_large(size, name), place)
        data = path.read_bytes()
    except FileNotFoundError:
        raise Mistake(f"there is no file {name}", place, "check the name and the folder") from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        raise Mistake(f"{name} cannot be opened: {reason}", place, "check the file") from None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        raise Mistake(
            f"{name} is not UTF-8 text: byte {fault.start + 1}, in line {line}, is none",
            place,
            "save it as UTF-8 in your editor",
        ) from None


def replace_place(mistake: Mistake, place: Span) -> Mistake:
    """The same mistake, told at another place."""
    mistake.span = place
    return mistake


class _Fence:
    """What `use` may reach: regular files below the folder of the first file, each once."""

    def __init__(self, first: Path) -> None:
        self.folder = first.resolve().parent
        self.shown = first.parent
        self.reading = {first.resolve()}

    def include(self, name: str, place: Span) -> Iterator[FileText]:
        """Give the file a `use` statement names.

        Raises:
            Mistake: it lies outside the folder, is read already, or cannot be read.
        """
        try:
            target = (Path(place.file).resolve().parent / name).resolve()
        except (OSError, ValueError, RuntimeError):
            raise Mistake(f"{name} is no file name", place, "name a file below this one") from None
        if not target.is_relative_to(self.folder):
            raise Mistake(
                f"{name} lies outside the folder of this set",
                place,
                "copy the file into the set's folder, and use it from there",
            )
        if target in self.reading:
            raise Mistake(
                f"{name} is used already, or uses itself",
                place,
                "use each file once",
            )
        if len(self.reading) >= _MOST_FILES:
            raise Mistake(
                f"this set uses more than {_MOST_FILES} files", place, "join some of them"
            )
        self.reading.add(target)
        shown = str(self.shown / target.relative_to(self.folder))
        yield FileText(shown, _text(target, name, place))
