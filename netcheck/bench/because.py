"""Why a reading has the band it has: the causes of one node's spread, by the name a user writes.

Belongs here: from a name to a node, the state of the chart, rows. Does not belong here: solving
(circuit/causes.py), the look (output/).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from netcheck.bench.asked import Meter, NotUnderstood
from netcheck.bench.controls import at_maximum
from netcheck.bench.suppose import suppose
from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.circuit.causes import Cause, causes
from netcheck.findings import NotSolved
from netcheck.language.mistakes import nearest

__all__ = ["Because", "because"]


@dataclass(frozen=True, slots=True)
class Because:
    """The causes of one node's spread; `volts` is what the meter reads, `reason` why none are."""

    name: str
    node: str
    volts: float | None
    causes: tuple[Cause, ...] = ()
    reason: str = ""


def because(
    chassis: Chassis, names: Iterable[str], meter: Meter, supposed: Iterable[str] = ()
) -> tuple[Because, ...]:
    """The causes of each named node or electrode (`B2`, `V4.plate`).

    Raises:
        NotUnderstood: a name is not in the set; says the nearest one.
    """
    nodes = [(name, _node(chassis, name)) for name in names]
    changed = suppose(chassis, supposed)
    circuit = Circuit(at_maximum(changed.chassis).chassis)
    found = []
    for name, node in nodes:
        try:
            state = changed.state
            with_meter = state
            if meter.ohm is not None:
                with_meter = replace(state, name=f"{state.name}, meter at {node}",
                                     meter=(node, meter.ohm))  # fmt: skip
            volts = circuit.operating.point(with_meter).volts(node)
            if volts is None:
                found.append(Because(name, node, None, reason="nothing gives this node DC volts"))
                continue
            rows = causes(circuit.operating, state, node, meter.ohm)
            found.append(Because(name, node, volts, rows))
        except NotSolved as fault:
            found.append(Because(name, node, None, reason=fault.reason))
    return tuple(found)


def _node(chassis: Chassis, name: str) -> str:
    """The chief name of the node that a name means."""
    known: dict[str, str] = {}
    for part in chassis.parts:
        for terminal in part.terminals:
            if not terminal.unused:
                known[f"{part.ref}.{terminal.name}".upper()] = chassis.net(terminal.node)
    for net, node in chassis.nodes.items():
        known.update((each.upper(), net) for each in (net, *node.also))
    wanted = name.strip().upper()
    if wanted in known:
        return known[wanted]
    close = nearest(wanted, known)
    hint = f"; did you mean {close}?" if close else ""
    raise NotUnderstood(f"--because {name}: no node or electrode of this set is called so{hint}")
