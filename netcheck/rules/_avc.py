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
    """One line: net, bypasses, ways to its return and to its diode, and the grids on it."""

    net: str
    bypasses: tuple[Part, ...]
    way: tuple[Element, ...]
    feed: tuple[Element, ...]
    grids: tuple[Electrode, ...]

    @property
    def resistors(self) -> tuple[Element, ...]:
        """The resistors on the way to its return."""
        return tuple(e for e in self.way if e.kind is Kind.RESISTOR)

    @property
    def feeding(self) -> tuple[Element, ...]:
        """The resistors between the diode and the line."""
        return tuple(e for e in self.feed if e.kind is Kind.RESISTOR)

    @property
    def ohm(self) -> float | None:
        """The sum of the feeding resistors, None if one is unknown or there is none."""
        if not self.feeding or any(e.ohm is None for e in self.feeding):
            return None
        return sum(e.ohm or 0.0 for e in self.feeding)


def avc_lines(case: Case) -> Iterator[AvcLine]:
    """Every bypassed net that a signal diode feeds and that returns grids."""
    wiring = case.circuit.wiring
    diodes = {e.net for e in wiring.electrodes if e.section_kind == "diode" and e.duty == "diode"}
    diodes -= wiring.returns
    by_net: dict[str, list[Part]] = {}
    for part in case.chassis.of_kind("capacitor"):
        if wiring.role_of(part.ref) is not Role.AVC_BYPASS:
            continue
        for element in wiring.of(part.ref)[:1]:
            if wiring.supply.is_large(element):
                continue  # an electrolytic filters a bias; in a set still in work it may look alike
            net = element.a if element.b in wiring.returns else element.b
            by_net.setdefault(net, []).append(part)
    for net, parts in by_net.items():
        grids = []
        for electrode in wiring.electrodes:
            if electrode.duty != "grid" or _is_eye(case, electrode):
                continue
            way = wiring.return_path(electrode.net) or ()
            on_way = {n for e in way for n in e.nets} | {electrode.net}
            if net in on_way:
                grids.append(electrode)
        if not grids:
            continue  # the filter of a tuning eye alone
        way, feed = wiring.return_path(net) or (), wiring.dc_path(net, diodes) or ()
        yield AvcLine(net, tuple(parts), way, feed, tuple(grids))


def _is_eye(case: Case, electrode: Electrode) -> bool:
    part = case.chassis.part(electrode.ref)
    return part is not None and part.tube is not None and "eye" in part.tube.kind
