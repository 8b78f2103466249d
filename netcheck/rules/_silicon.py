"""What silicon needs beside it, and where it stands for a tube in another circuit.

Belongs here: the resistor that brings a supply back to its volts, bridges in place of tubes. Does
not belong here: how far a supply may rise (silicon_for_tube.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from netcheck.parts import Condition, Part
from netcheck.rules._base import Case
from netcheck.rules._words import amount

if TYPE_CHECKING:
    from netcheck.circuit.operating import SupplyPoint

__all__ = ["bridge_for_tube", "resistor_to_fit"]


def resistor_to_fit(supply: SupplyPoint, volts: float, amperes: float) -> str:
    """The resistor that brings B+ back to `volts`, found on the supply's own cycle at `amperes`.

    One in an AC lead of a bridge carries both half waves; before an anode, those of one plate.
    """
    import numpy as np

    from netcheck.circuit.rectify import solve_rectifier
    from netcheck.circuit.rectify_spec import RectifierKind

    spec = supply.supplies.spec_of(supply.line_row)
    own = float(spec.figure("source_ohm")[0])
    added = np.concatenate([[0.0], np.geomspace(1.0, 5000.0, 150)])
    tries = replace(spec, source_ohm=own + added)
    state = solve_rectifier(tries, np.array([[max(amperes, 0.0)]]))
    low = np.flatnonzero(state.settled[:, 0] & state.deliverable[:, 0]
                         & (state.dc_v[:, 0] <= volts))  # fmt: skip
    bridge = spec.kind is RectifierKind.BRIDGE
    where = "in one AC lead of the bridge" if bridge else "before the anode"
    if not low.size:
        return f"measure B+ and add a resistor {where} until it is as it was"
    ohm = float(f"{added[low[0]]:.2g}")
    rms_a = (state.source_rms_a if bridge else state.plate_rms_a)[low[0], 0]
    watts = ohm * float(rms_a) ** 2
    where = where if bridge else "before each anode"
    return f"put {amount(ohm, 'ohm')} of {amount(2 * watts, 'W')} or more {where}"


def bridge_for_tube(case: Case) -> Iterator[Part]:
    """The silicon bridges in one piece that stand where a rectifier tube was."""
    rectifying = {e.ref for e in case.circuit.wiring.rectifiers}
    gone = [
        {case.chassis.net(t.node) for t in tube.terminals if not t.unused}
        for tube in case.chassis.parts
        if not tube.fitted and tube.tube is not None and tube.tube.is_rectifier
    ]
    for part in case.chassis.of_kind("diode"):
        if not part.is_bridge or part.ref not in rectifying:
            continue
        old, plus = part.replaces, part.terminal("+")
        at = plus is not None and part.condition is Condition.NEW
        there = at and any(case.chassis.net(plus.node) in nets for nets in gone if plus is not None)
        if (old is not None and old.designation) or there:
            yield part
