"""Finds every capacitor that keeps a positive voltage off a grid, because those leak.

Belongs here: the capacitor, the grid behind it, how its source is fed and what returns the grid.
Does not belong here: what a leak does (operating point), or a rule's limit.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import Network, Walk, ohmic_ohm, walk
from netcheck.circuit.supply import Supply

__all__ = ["Coupling", "Grids"]

_STIFF_OHM = 10e3
"""A large capacitor to a net with less than this to its return is a filter, not a coupling."""

_SWITCHED_OHM = 1e9
"""Weight of a contact that some position opens: a return is sought without it first."""


@dataclass(frozen=True, slots=True)
class Coupling:
    """Capacitor `ref` between `source` (positive mean volts) and `far`, which leads to a grid.

    `grid` is the net of the nearest grid (often `far` itself), `electrode` of tube `tube` on it.
    `feed` runs from the supply to `source`; `leak` from `far` down to `returns_to` (() with
    `returns_to` equal to `far` when they are one net; () and "" when there is no DC path at
    all). `leak_ohm` is the sum of its resistors, None without path or with an unknown value.
    """

    ref: str
    source: str
    grid: str
    tube: str
    electrode: str
    feed: tuple[Element, ...]
    leak: tuple[Element, ...]
    leak_ohm: float | None
    returns_to: str
    far: str


class Grids:
    """What leads to a grid, and how each net returns; each view computed when asked for."""

    def __init__(self, network: Network, supply: Supply) -> None:
        self._network = network
        self._supply = supply

    @cached_property
    def nets(self) -> frozenset[str]:
        """The nets that carry a control grid."""
        return self._network.nets_of("grid")

    @cached_property
    def reach(self) -> Walk:
        """The walk from the grids over resistors, contacts and windings: which grid is behind."""
        blocked = (self._supply.sinks | self._supply.positive) - self.nets

        def ohm_of(e: Element) -> float | None:
            passes = e.kind in (Kind.RESISTOR, Kind.CONTACT, Kind.STRAP, Kind.WINDING)
            return ohmic_ohm(e) if passes else None

        return walk(
            self._network.at, sorted(self.nets), ohm_of, admit=lambda net, _: net not in blocked
        )

    @cached_property
    def returns(self) -> Walk:
        """The walk from the returns and held rails over DC paths that do not lead through B+."""
        held = {self._network.chassis.net(h.node) for h in self._network.chassis.holds}
        starts = self._supply.returns | (held - self._supply.supplies)
        blocked = self._supply.fed - self.nets

        def ohm_of(e: Element) -> float | None:
            if e.kind is Kind.CONTACT and self._opens(e.ref):
                return _SWITCHED_OHM
            return ohmic_ohm(e)

        return walk(
            self._network.at, sorted(starts), ohm_of, admit=lambda net, _: net not in blocked
        )

    @cached_property
    def _tied(self) -> Walk:
        starts = frozenset(self.returns) | self._supply.supplies | self._supply.fed
        return walk(self._network.at, sorted(starts), ohmic_ohm)

    def is_tied(self, net: str) -> bool:
        """Whether a net has any DC path to a return, a supply or a plate (direct coupling)."""
        return net in self._tied

    def _opens(self, ref: str) -> bool:
        part = self._network.chassis.part(ref)
        return part is not None and part.kind == "switch"

    @cached_property
    def couplings(self) -> tuple[Coupling, ...]:
        """Every coupling, in the order of the text; one for each grid on the nearest grid net."""
        return tuple(
            coupling
            for element in self._network.elements
            if element.kind is Kind.CAPACITOR and element.a != element.b
            for coupling in self._of(element)
        )

    def _of(self, capacitor: Element) -> Iterator[Coupling]:
        ways = [(capacitor.a, capacitor.b), (capacitor.b, capacitor.a)]
        fitting = [way for way in ways if self._couples(capacitor, *way)]
        fitting.sort(key=lambda way: way[0] in self.nets)
        for source, far in fitting[:1]:
            grid = self.reach.origin(far) or far
            leak = self.returns.chain(far)
            for electrode in self._network.on.get(grid, ()):
                if electrode.duty == "grid":
                    yield Coupling(
                        capacitor.ref, source, grid, electrode.ref, electrode.name,
                        tuple(reversed(self._supply.feed_walk.chain(source))),
                        leak, self.leak_ohm(far), self.returns.origin(far) or "", far,
                    )  # fmt: skip

    def _couples(self, capacitor: Element, source: str, far: str) -> bool:
        positive = self._supply.positive
        if source not in positive or far not in self.reach:
            return False
        if far in self._supply.returns:
            return False  # a bypass, though a grid stands on the return itself
        if far in positive and (far not in self.nets or self._is_fed(far)):
            return False
        leak = self.leak_ohm(far)
        return not (self._supply.is_large(capacitor) and leak is not None and leak < _STIFF_OHM)

    def _is_fed(self, net: str) -> bool:
        """Whether a net is itself a plate or a screen (direct coupling)."""
        return any(e.duty in ("plate", "screen") for e in self._network.on.get(net, ()))

    def leak_ohm(self, net: str) -> float | None:
        """Ohms on the DC path from a net to its return; None if unknown or without path."""
        if net not in self.returns:
            return None
        total = 0.0
        for element in self.returns.chain(net):
            if element.ohm is None and element.kind is Kind.RESISTOR:
                return None
            total += element.ohm or 0.0
        return total
