"""Automatic volume control lines: their bypasses, what feeds them, which grids hang on them.

Belongs here: finding the lines of a set from roles and return paths. Does not belong here: what is
wrong with one (avc_return.py, avc_leakage.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.circuit.wiring import Electrode, Element, Kind, Role
from netcheck.parts import Part
from netcheck.rules._base import Case

__all__ = ["AvcLine", "avc_lines"]


@dataclass(frozen=True, slots=True)
class AvcLine:
    """One line: its net, bypasses, the way to its return, and the grids it controls."""

    net: str
    bypasses: tuple[Part, ...]
    way: tuple[Element, ...]
    grids: tuple[Electrode, ...]

    @property
    def resistors(self) -> tuple[Element, ...]:
        """The resistors between the line and its return."""
        return tuple(e for e in self.way if e.kind is Kind.RESISTOR)

    @property
    def ohm(self) -> float | None:
        """Their sum, None if one is unknown or there is none."""
        if not self.resistors or any(e.ohm is None for e in self.resistors):
            return None
        return sum(e.ohm or 0.0 for e in self.resistors)


def avc_lines(case: Case) -> Iterator[AvcLine]:
    """Every bypassed net that a signal diode feeds and that returns grids."""
    wiring = case.circuit.wiring
    by_net: dict[str, list[Part]] = {}
    for part in case.chassis.of_kind("capacitor"):
        if wiring.role_of(part.ref) is not Role.AVC_BYPASS:
            continue
        for element in wiring.of(part.ref)[:1]:
            net = element.a if element.b in wiring.returns else element.b
            by_net.setdefault(net, []).append(part)
    for net, parts in by_net.items():
        grids = []
        for electrode in wiring.electrodes:
            if electrode.duty != "grid":
                continue
            way = wiring.return_path(electrode.net) or ()
            on_way = {n for e in way for n in e.nets} | {electrode.net}
            if net in on_way:
                grids.append(electrode)
        yield AvcLine(net, tuple(parts), wiring.return_path(net) or (), tuple(grids))
