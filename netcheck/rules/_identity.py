"""Tells what a finding is about in words that stay while the text is moved: it is known again.

Belongs here: the words that its fingerprint is made from. Does not belong here: the fingerprint
itself (findings.py), comparing reports (output/known.py).

Left out on purpose: places, comments, the order of the text, blanks, the spelling of units, what is
computed. Kept: the parts with their values and nodes, their readings; the fingerprint adds harm.
"""

from __future__ import annotations

import re

from netcheck.chassis import Chassis
from netcheck.findings import Finding, Span
from netcheck.language.part_text import description_clauses, terminal_clauses
from netcheck.language.source import without_comment

__all__ = ["subject"]

_NUMBERED = re.compile(r"[A-Z]{0,3}\d[\w.]*")


def subject(chassis: Chassis, found: Finding) -> str:
    """Return the words of the text that a finding is about.

    Where it is about one part, the marked words, the state and what is computed first tell it from
    others of the same rule; in a group these are those of whichever part comes first in the text.
    What is about no part and no node is about the whole set, and told by its message.
    """
    if not found.parts and not found.nodes:
        return _NUMBERED.sub("#", " ".join(sorted(found.message.split())))
    named = set(found.parts)
    words = [_part(chassis, ref) for ref in sorted(named)]
    words += sorted({_node(chassis, node) for node in found.nodes})
    words += sorted(_words(chassis, r.span) for r in chassis.readings if r.part in named)
    if len(named) <= 1:
        words += [found.state, _marked(chassis, found)]
        words += [_NUMBERED.sub("#", each.name) for each in found.calc[:1]]
    return "\n".join(words)


def _part(chassis: Chassis, ref: str) -> str:
    part = chassis.part(ref)
    if part is None:
        return ref
    if part.broken:
        return f"{ref}: {_words(chassis, part.span)}"
    return f"{ref} {', '.join(description_clauses(part))}: {', '.join(terminal_clauses(part))}"


def _node(chassis: Chassis, node: str) -> str:
    """One name for a node whichever of its wired names comes first in the text."""
    net = chassis.net(node)
    wired = (name for wire in chassis.wires for name in wire.nodes if chassis.net(name) == net)
    return min((net, *wired))


def _words(chassis: Chassis, span: Span) -> str:
    lines = (
        chassis.line_text(Span(span.file, line, 1, line, 1))
        for line in range(span.line, span.end_line + 1)
    )
    return " ".join(" ".join(without_comment(each) for each in lines).split())


def _marked(chassis: Chassis, found: Finding) -> str:
    """What of its part is marked: the name of a clause, value or terminal, whatever its spelling.

    Empty where the mark stands elsewhere: of several wires the first in the text is marked.
    """
    for ref in found.parts:
        part = chassis.part(ref)
        if part is not None:
            places = {t.span: t.name for t in part.terminals}
            places.update({span: name for name, span in sorted(part.spans.items())})
            if found.span in places:
                return places[found.span]
    return ""
