"""Saving a result: whole or not at all, and never over another file by surprise.

Belongs here: writing lines to a named file. Does not belong here: what the lines say.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TextIO

from netcheck.findings import NetcheckError

__all__ = ["NotSaved", "check_target", "save"]


class NotSaved(NetcheckError, OSError):
    """A result that was not saved; `target` says where to, `fault` why not."""

    def __init__(self, target: str, fault: str) -> None:
        super().__init__(f"nothing is saved to {target}: {fault}")
        self.target = target
        self.fault = fault


def check_target(target: str, replace: bool, read: Iterable[str] = ()) -> None:
    """Refuse a target before any work is done for it.

    Args:
        target: the file to write.
        replace: whether an existing file may be overwritten.
        read: the files that are read, none of which is ever overwritten.

    Raises:
        NotSaved: the target exists and `replace` is False, is no ordinary file, is one of the
            files read, or has no folder.
    """
    path = Path(target)
    if os.path.lexists(path):
        if path.exists() and not path.is_file():
            raise NotSaved(target, "it is no ordinary file; name another one")
        if not replace:
            raise NotSaved(target, "it is there already; add --replace to overwrite it")
        if any(_same(path, Path(each)) for each in read):
            raise NotSaved(target, "it is one of the sets being read; name another file")
    elif not path.parent.is_dir():
        raise NotSaved(target, "its folder does not exist; make it first")


def save(target: str, lines: Iterable[str], replace: bool) -> None:
    """Write `lines` to `target`, which appears whole or not at all.

    Raises:
        NotSaved: the file could not be written, or exists and `replace` is False.
    """
    path = Path(os.path.realpath(target)) if replace else Path(target)
    try:
        with _beside(path) as (temporary, stream):
            for line in lines:
                stream.write(line + "\n")
            stream.flush()
            os.fsync(stream.fileno())
            if replace:
                if path.exists():
                    shutil.copymode(path, temporary)
                temporary.replace(path)
            else:
                _put(temporary, path)
    except FileExistsError as fault:
        raise NotSaved(target, "it is there already; add --replace to overwrite it") from fault
    except OSError as fault:
        raise NotSaved(target, (fault.strerror or str(fault)).lower()) from fault


@contextmanager
def _beside(path: Path) -> Iterator[tuple[Path, TextIO]]:
    """Open a new file in the folder of `path`; whatever is left of it at the end is removed."""
    temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
    with temporary.open("x", encoding="utf-8", errors="backslashreplace", newline="\n") as stream:
        try:
            yield temporary, stream
        finally:
            with suppress(FileNotFoundError):
                temporary.unlink()


def _put(temporary: Path, path: Path) -> None:
    """Give the finished file its name unless that name is taken by now."""
    try:
        os.link(temporary, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links: look, then rename
        if os.path.lexists(path):
            raise FileExistsError(path) from None
        temporary.rename(path)


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False
