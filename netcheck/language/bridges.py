"""The four corners of a rectifier bridge in one piece, because each of them hides two diodes.

Belongs here: reading `ac A to B, + C, - D`, and what is not told of it. Does not belong here:
diodes of two ends (terminals.py), what the four diodes do (circuit/elements.py).
"""

from __future__ import annotations

from netcheck.language.connections import Connection, add, along, canonical, one_node
from netcheck.language.drafts import Draft
from netcheck.language.mistakes import joined
from netcheck.parts import Path

__all__ = ["connect_bridge", "names_corners"]

_CORNERS = ("ac1", "ac2", "+", "-")


def connect_bridge(draft: Draft, found: list[Connection]) -> None:
    """Fill the draft's corners: `ac A to B`, `ac A, ac B` or `ac1 A, ac2 B`, and `+ C, - D`."""
    corners = iter(("ac1", "ac2"))
    for each in found:
        name = canonical("diode", each.label) if each.label is not None else ""
        if name == "ac" and len(each.nodes) == 2:
            along(draft, each, ["ac1", "ac2"], "ac")
        elif name == "ac" and len(each.nodes) == 1 and (corner := next(corners, "")):
            add(draft, corner, each)
        elif name not in _CORNERS:
            draft.wrong(
                "a bridge has two AC corners, a plus and a minus",
                each.span,
                "write `ac A to B, + C, - D`",
            )
        elif one_node(draft, each):
            add(draft, name, each)
    if {"ac1", "ac2"} <= {t.name for t in draft.terminals} and not draft.paths:
        draft.paths.append(Path("ac", ("ac1", "ac2"), span=draft.span))
    if not draft.broken:
        _whole(draft)


def _whole(draft: Draft) -> None:
    """A corner that is not told would leave out diodes that are there."""
    told = {t.name: t for t in draft.terminals}
    missing = [name for name in _CORNERS if name not in told]
    if missing:
        free = "ac A to open" if missing[0].startswith("ac") else f"{missing[0]} open"
        draft.wrong(
            f"a bridge has four corners, and nothing is told of its {joined(missing, 'and')}",
            draft.span,
            f"write `ac A to B, + C, - D`; a corner left free on purpose is `{free}`",
        )
    elif told["ac1"].unused and told["ac2"].unused and not (told["+"].unused or told["-"].unused):
        draft.wrong(
            "with both AC corners open a bridge is two diodes in series from its - to its +",
            told["ac1"].span,
            "write it as what it does: `silicon 400 V 1 A: anode D, cathode C`",
        )


def names_corners(draft: Draft, found: list[Connection]) -> bool:
    """Whether a diode that is not said to be a bridge names AC corners; complains if so."""
    at = [c for c in found if c.label is not None and canonical("diode", c.label).startswith("ac")]
    if at and not draft.broken:
        draft.wrong(
            "a diode has an anode and a cathode; AC corners are those of a bridge",
            at[0].span,
            "say bridge in its description, if that is what it is",
        )
    return bool(at)
