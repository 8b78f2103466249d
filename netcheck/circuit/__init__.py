"""The computation: everything that is derived from a chassis, asked for by name.

Rules and papers ask a `Circuit` and never compute for themselves; each view is computed once,
when it is first asked for.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from netcheck.chassis import Chassis
from netcheck.findings import Assumed

if TYPE_CHECKING:
    from netcheck.circuit.wiring import Wiring

__all__ = ["Circuit"]


class Circuit:
    """The cached views of one chassis."""

    def __init__(self, chassis: Chassis) -> None:
        self.chassis = chassis

    @cached_property
    def wiring(self) -> Wiring:
        """Who is joined to whom: graph, line side, touchable side, roles."""
        from netcheck.circuit.wiring import Wiring

        return Wiring(self.chassis)

    @cached_property
    def assumed(self) -> tuple[Assumed, ...]:
        """The values the text leaves out and the checks take."""
        from netcheck.circuit.assumed import assumed

        return assumed(self.chassis)
