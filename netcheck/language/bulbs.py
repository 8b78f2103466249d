"""Two sections of one bulb: what V7A and V7B must agree on.

Belongs here: one type, one heater, each electrode once. Does not belong here: one section's own
line (tube_terminals.py).
"""

from __future__ import annotations

from collections.abc import Iterable

from netcheck.findings import Related, Span
from netcheck.language.drafts import Draft, RawTerminal
from netcheck.language.mistakes import Mistake

__all__ = ["check_bulbs"]


def check_bulbs(drafts: Iterable[Draft]) -> None:
    """Note in the later of two drafts of one bulb what contradicts the earlier one."""
    bulbs: dict[int, list[Draft]] = {}
    for draft in drafts:
        if draft.kind == "tube" and not draft.broken:
            bulbs.setdefault(draft.number, []).append(draft)
    for sections in bulbs.values():
        for place, later in enumerate(sections):
            if later.section and len(later.tube.sections if later.tube else ()) < 2:
                later.wrong(
                    f"a {later.tube_name} has no sections to be called {later.section}",
                    later.ref_span,
                    f"call it V{later.number}",
                )
            for earlier in sections[:place]:
                _compare(earlier, later)


def _compare(earlier: Draft, later: Draft) -> None:
    if earlier.ref == later.ref:
        return
    if earlier.tube != later.tube:
        _contradiction(
            earlier,
            later,
            f"{later.ref} and {earlier.ref} are one bulb, and cannot be a {later.tube_name} and "
            f"a {earlier.tube_name}",
            later.spans.get("type", later.ref_span),
            earlier.spans.get("type", earlier.ref_span),
        )
        return
    known = {terminal.name: terminal for terminal in earlier.terminals}
    for terminal in later.terminals:
        other = known.get(terminal.name)
        if other is not None and _node(other) != _node(terminal):
            _contradiction(
                earlier,
                later,
                f"{later.ref} and {earlier.ref} are one bulb, and its {terminal.name} cannot be "
                f"on {terminal.node or 'open'} and on {other.node or 'open'}",
                terminal.span,
                other.span,
            )
            return


def _node(terminal: RawTerminal) -> str:
    return str(terminal.node).casefold()


def _contradiction(
    earlier: Draft, later: Draft, message: str, span: Span, other_span: Span
) -> None:
    later.broken = True
    later.mistakes.append(
        Mistake(
            message,
            span,
            "give the heater and each electrode once for the bulb",
            rule="pin-wired-twice",
            parts=(later.ref, earlier.ref),
            related=(Related(other_span, f"as {earlier.ref} has it"),),
            why="Two lines of one bulb describe the same pins; with two nodes one is a slip.",
        )
    )
