"""The one grammar, found and made into parsers.

Belongs here: where the grammar lies (inside the installed package, else in the checkout) and the
cache of its tables. Does not belong here: what the trees mean.
"""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

from lark import Lark

from netcheck.findings import NetcheckError

__all__ = ["GrammarMissing", "grammar_text", "parser"]

START_RULES = ("statement", "description", "tube_description", "terminals")


class GrammarMissing(NetcheckError, FileNotFoundError):
    """The grammar is neither in the package nor beside it: the installation is incomplete."""

    def __init__(self, tried: tuple[Path, ...]) -> None:
        places = ", ".join(str(path) for path in tried)
        super().__init__(f"chassis.lark is missing (looked at {places}): install netcheck again")
        self.tried = tried


@cache
def grammar_text() -> str:
    """Return the text of the grammar.

    Raises:
        GrammarMissing: no file chassis.lark in the package or the checkout.
    """
    package = Path(__file__).resolve().parent.parent
    tried = (package / "grammar" / "chassis.lark", package.parent / "grammar" / "chassis.lark")
    for path in tried:
        if path.is_file():
            return path.read_text(encoding="utf-8")
    raise GrammarMissing(tried)


@cache
def parser() -> Lark:
    """Return the LALR parser with contextual lexer; lark keeps its tables in the user's cache.

    The tables lie in a folder of the user's own, never under a shared temporary name whose
    content another user could have put there. Without a writable place they are made anew.
    """
    folder = _cache_folder()
    return Lark(
        grammar_text(),
        parser="lalr",
        lexer="contextual",
        propagate_positions=True,
        maybe_placeholders=False,
        start=list(START_RULES),
        cache=str(folder / "grammar.bin") if folder is not None else False,
    )


def _cache_folder() -> Path | None:
    base = os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache")
    folder = Path(base) / "netcheck"
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError:
        return None
    return folder if os.access(folder, os.W_OK) else None
