"""The computation: everything that is derived from a chassis, asked for by name.

Rules and papers ask a `Circuit` and never compute for themselves; each view is computed once,
when it is first asked for.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from netcheck.chassis import Chassis
from netcheck.circuit.postponed import Postponed
from netcheck.findings import Assumed, NotSolved

if TYPE_CHECKING:
    from netcheck.circuit.line_side import LineSide
    from netcheck.circuit.operating import Operating
    from netcheck.circuit.touch import Touch
    from netcheck.circuit.wiring import Wiring

__all__ = ["Circuit"]


class Circuit:
    """The cached views of one chassis."""

    def __init__(self, chassis: Chassis) -> None:
        self.chassis = chassis
        self.postponed = Postponed()

    @cached_property
    def wiring(self) -> Wiring:
        """Who is joined to whom: graph, line side, touchable side, roles."""
        from netcheck.circuit.wiring import Wiring

        return Wiring(self.chassis)

    @cached_property
    def touch(self) -> Touch:
        """Touch current of metal a hand can reach, over plug and switch positions and failures."""
        from netcheck.circuit.touch import Touch

        return Touch(self.wiring)

    @cached_property
    def operating(self) -> Operating:
        """Volts, currents and watts in any named state."""
        from netcheck.circuit.operating import Operating

        return Operating(self.wiring, self.postponed)

    @cached_property
    def line_side(self) -> LineSide:
        """Heaters, lamps, droppers and cords on the line, in any state of theirs."""
        from netcheck.circuit.line_side import LineSide

        return LineSide(self.wiring, self.operating)

    @cached_property
    def unsolved(self) -> NotSolved | None:
        """Why the operating point as stated has no answer; None when it has one."""
        try:
            self.operating.point()
        except NotSolved as fault:
            return fault
        return None

    @cached_property
    def solved(self) -> bool | None:
        """Whether the operating point as stated is solved; None for a text without any tube."""
        if not any(True for _ in self.chassis.of_kind("tube")):
            return None
        return self.unsolved is None

    @cached_property
    def assumed(self) -> tuple[Assumed, ...]:
        """The values the text leaves out and the checks take, each once."""
        from netcheck.circuit.assumed import assumed

        taken = assumed(self.chassis)
        # Both halves of a winding, or two alike, are one line to whoever reads them.
        return tuple(dict.fromkeys((*taken, *self.operating.assumed))) if self.solved else taken
