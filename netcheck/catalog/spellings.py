"""Tells under which names a tube type goes, so that one type is one key everywhere.

Belongs here: spelling of type names, and all names of a row of tubes.csv. Does not belong here: the
records behind them (tubes.py).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

__all__ = ["FORMS", "key_of", "spellings_of"]

FORMS = ("glass", "metal")


def key_of(name: str) -> str:
    """One spelling of a type's name: capitals, no blanks, no hyphens (`6sn7-gt` is `6SN7GT`)."""
    return re.sub(r"[\s\u2010-\u2015-]+", "", name).upper()


def spellings_of(row: Mapping[str, str]) -> Iterator[str]:
    """Yield every name a row of tubes.csv may be called by, forms included."""
    yield row["name"]
    yield from row["name"].split("/") if "/" in row["name"] else ()
    yield from row["aliases"].split()
    for form in FORMS:
        yield from row[form].split()
