"""What the installed distributions bring, for people and for programs.

Belongs here: the look of that list and its JSON shape. Does not belong here: loading anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from netcheck.entries import GROUPS, Brought
from netcheck.output.columns import WIDTH, visible, wrapped
from netcheck.output.machine import document

__all__ = ["plugins_document", "plugins_lines"]

_KINDS: Final = dict(zip(GROUPS, ("rules", "component data", "writers"), strict=True))


def plugins_lines(every: Sequence[Brought]) -> Iterator[str]:
    """Yield what each entry point brought, group by group, and what could not be loaded."""
    failed = [fault for each in every for fault in each.faults]
    for group in GROUPS:
        yield f"{_KINDS[group]} ({group})"
        chosen = [each for each in every if each.group == group]
        for each in chosen:
            yield visible(f"  {each.distribution} {each.version}, entry point {each.entry}")
            names = ", ".join(each.names) or "nothing"
            yield from wrapped(f"{len(each.names)}: {names}", first=" " * 6)
        if not chosen:
            yield "  none"
        yield ""
    yield "=" * WIDTH
    yield "Could not be loaded" if failed else "Everything could be loaded."
    for fault in failed:
        yield from wrapped(fault, first="  * ")


def plugins_document(every: Sequence[Brought]) -> str:
    """Return the JSON document on what is installed."""
    return document(
        {
            "plugins": [
                {
                    "group": each.group,
                    "entry": each.entry,
                    "distribution": each.distribution,
                    "version": each.version,
                    "names": list(each.names),
                    "faults": list(each.faults),
                }
                for each in every
            ]
        }
    )
