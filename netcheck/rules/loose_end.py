"""A node has only one connection.

Why: A wire that goes nowhere is either a slip of the pen, so that another node lacks this part, or
    a lead that really hangs free in the chassis, which will touch something one day.

False alarm: An end left free on purpose: write `open` for it. A set described in part: stand in
    for what has not been traced with `Z1 load 35 mA: A to B`, or accept the node.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.chassis import Node
from netcheck.findings import Finding, Harm
from netcheck.rules._base import Case, Example, rule

# Metal and the wall are there whether or not two parts are joined to them.
_STANDS_ALONE = frozenset({"CHASSIS", "EARTH"})
_OUTSIDE = frozenset({"jack"})
_BODY_TERMINALS = frozenset(
    {"shaft", "frame", "body", "case", "can", "core", "shell", "shield", "socket", "holder"}
)
_REST = "\nZ1 load 35 mA: B+ to B-"


@rule(
    harm=Harm.PERFORMANCE,
    bad=(
        Example("line none\nR1 470K 1/2 W 10%: B+ to DRVE  # <-" + _REST, says="DRVE"),
        Example(
            "line none\nR1 470K 1/2 W 10%: B+ to B-\nC1 .1 mfd 400 V film: XY to B-  # <-" + _REST,
            says="XY",
        ),
    ),
    good=(
        Example("line none\nR1 470K 1/2 W 10%: B+ to open\nR2 1K 1 W 10%: B+ to B-" + _REST),
        Example("line none\nR1 470K 1/2 W 10%: B+ to XY\nR2 1K 1 W 10%: XY to B-" + _REST),
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Report nodes that one terminal and nothing else is on."""
    wiring = case.circuit.wiring
    for node in case.chassis.nodes.values():
        if len(node.connections) == 1 and not _may_stand_alone(case, node):
            if wiring.incomplete(node.name):
                continue
            ref, terminal = node.connections[0]
            yield case.finding(
                f"{node.name} is only on {ref} ({terminal}), and on nothing else",
                node.span,
                nodes=(node.name,),
                parts=(ref,),
                action=f"compare {ref} with the drawing, or write `open` if it is free on purpose",
            )


def _may_stand_alone(case: Case, node: Node) -> bool:
    ref, name = node.connections[0]
    part = case.chassis.part(ref)
    terminal = part.terminal(name) if part is not None else None
    if part is None or terminal is None or not terminal.given:
        return True
    names = {node.name, *node.also}
    if names & _STANDS_ALONE or part.kind in _OUTSIDE or name in _BODY_TERMINALS:
        return True
    touched = {case.chassis.net(name) for name in case.chassis.touchable or ()}
    return not part.fitted or node.name in touched
