"""How rules speak of a coupling capacitor: its DC path line by line, and its tube's fate.

Belongs here: related places and words. Does not belong here: finding couplings (circuit/), the
divider's numbers (_divider.py) or any judgement.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Coupling, Element
from netcheck.findings import Related
from netcheck.rules._base import Case
from netcheck.rules._operating import output_transformers
from netcheck.rules._words import named

__all__ = ["fate", "grid_words", "path_lines"]

# Plates of voltage amplifiers are rated 4 W at most (12SK7), those of output tubes from 4.5 W
# (35C5) up: tube data of the catalogue.
_OUTPUT_W = 4.0


def grid_words(case: Case, coupling: Coupling) -> str:
    """Return the grid behind a coupling in words: `the g1 of V4 (50C5)`."""
    tube = case.chassis.part(coupling.tube)
    return f"the {coupling.electrode} of {named(tube) if tube else coupling.tube}"


def path_lines(case: Case, coupling: Coupling) -> Iterator[Related]:
    """Yield the DC path through a coupling: feed, grid, return, each at its line of the text."""
    for element in coupling.feed:
        if line := _line(case, element, f"feeds {coupling.source}"):
            yield line
    tube = case.chassis.part(coupling.tube)
    terminal = tube.terminal(coupling.electrode) if tube else None
    if tube is not None:
        span = terminal.span if terminal is not None else tube.span_of("type")
        yield Related(span, f"{grid_words(case, coupling)} is on {coupling.grid}")
    for element in coupling.leak:
        if line := _line(case, element, f"returns the grid to {coupling.returns_to}"):
            yield line


def _line(case: Case, element: Element, does: str) -> Related | None:
    part = case.chassis.part(element.ref)
    if part is None:
        return None
    return Related(part.ref_span or part.span, f"{named(part)}, {element.a} to {element.b}: {does}")


def fate(case: Case, coupling: Coupling) -> str:
    """Return what a positive grid does to this tube."""
    tube = case.chassis.part(coupling.tube)
    outputs = output_transformers(case, tube.body_ref) if tube is not None else ()
    watts = tube.tube.limits.get("plate-w", 0.0) if tube is not None and tube.tube else 0.0
    if not outputs and watts <= _OUTPUT_W:
        return f"{coupling.tube} draws too much current: the sound distorts and the gain falls"
    burnt = f"{outputs[0].ref} burns" if outputs else "its load burns"
    return f"{coupling.tube} draws far too much current: its plate glows red and {burnt}"
