"""Which nets each line pin feeds and which windings are driven, because supplies start there.

Belongs here: line-fed nets and power transformers, told by what drives them. Does not belong
here: rectifiers and what follows them (supply).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from netcheck.chassis import Chassis
from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import Network, walk
from netcheck.circuit.sides import Poles

__all__ = ["Power", "PowerWinding", "is_hash_choke", "series_ohm"]

_SERIES_OHM = 1e3
"""A resistor below this in a supply lead is a surge, cord or dropping resistor, not a load.
Line cords ran to about 600 ohm, surge resistors 15 to 220 (common practice, no source)."""

_RIPPLE_HENRY = 0.1
"""A coil below this keeps back hash and no ripple: at 100 Hz it has 63 ohm. An input choke has at
least the ohms of the load / 1130 in henry at 120 Hz (critical inductance, from memory): 1 H and
more in a receiver."""


@dataclass(frozen=True, slots=True)
class PowerWinding:
    """A winding of a power (line or vibrator) transformer: its nets in order along it."""

    ref: str
    path: str
    nets: tuple[str, ...]
    driven: bool

    def centre(self, returns: frozenset[str]) -> str | None:
        """The tap that a full-wave supply returns to: one of `returns`, else the middle one.

        A winding with another tap (for a bias rectifier) has its centre anywhere along the path.
        """
        taps = self.nets[1:-1]
        if not taps:
            return None
        return next((tap for tap in taps if tap in returns), taps[len(taps) // 2])


class Power:
    """What the line and a vibrator drive; each view is computed when first asked for."""

    def __init__(self, network: Network, poles: Poles) -> None:
        self._network = network
        self._poles = poles

    @cached_property
    def feeds(self) -> dict[str, frozenset[str]]:
        """By line pin: the nets joined to it through contacts, fuses, small resistors, chokes."""
        first = {pole: self._feed(pole, frozenset()) for pole in sorted(self._poles.line)}
        chokes = frozenset(
            e.ref for e in self._network.elements if self._is_line_choke(e, first.values())
        )
        return {pole: self._feed(pole, chokes) for pole in first} if chokes else first

    def _is_line_choke(self, e: Element, feeds: Iterable[frozenset[str]]) -> bool:
        """A coil of one winding that does not lie across the line."""
        part = self._network.chassis.part(e.ref)
        if e.kind is not Kind.WINDING or part is None or part.kind != "coil":
            return False
        ends = [any(net in feed for feed in feeds) for net in e.nets]
        return len(self._network.of[e.ref]) == 1 and any(ends) and not all(ends)

    def _feed(self, pole: str, chokes: frozenset[str]) -> frozenset[str]:
        others = self._poles.line - {pole}

        def ohm_of(e: Element) -> float | None:
            return (e.ohm or 0.0) if e.ref in chokes else series_ohm(e)

        reached = walk(self._network.at, [pole], ohm_of, admit=lambda net, _: net not in others)
        return frozenset(reached)

    @cached_property
    def windings(self) -> tuple[PowerWinding, ...]:
        """Every winding of every transformer that the line or a vibrator drives."""
        found: dict[tuple[str, str], PowerWinding] = {}
        candidates = {
            ref: list(_winding_nets(elements))
            for ref, elements in self._network.of.items()
            if any(e.kind is Kind.WINDING for e in elements)
        }
        while True:
            fresh = [
                ref
                for ref, wound in candidates.items()
                if any(self._driven(nets, found) for _, nets in wound)
            ]
            for ref in fresh:
                for path, nets in candidates.pop(ref):
                    driven = self._driven(nets, found)
                    found[ref, path] = PowerWinding(ref, path, nets, driven)
            if not fresh:
                return tuple(found.values())

    def _driven(self, nets: tuple[str, ...], found: dict[tuple[str, str], PowerWinding]) -> bool:
        """Whether two nets of a winding lie across the line, vibrator contacts or a secondary."""
        on_contacts = [net for net in nets if net in self.vibrator_contacts]
        if len(set(on_contacts)) > 1:
            return True
        if any(len(set(nets) & set(w.nets)) > 1 for w in found.values() if not w.driven):
            return True
        across = [{p for p, feed in self.feeds.items() if net in feed} for net in nets]
        return any(a and b and not a & b for a in across for b in across)

    @cached_property
    def vibrator_contacts(self) -> frozenset[str]:
        """The nets on vibrator contacts."""
        vibrators = {part.ref for part in self._network.chassis.of_kind("vibrator")}
        return frozenset(
            e.b for e in self._network.elements if e.ref in vibrators and e.kind is Kind.CONTACT
        )

    @cached_property
    def power_refs(self) -> frozenset[str]:
        """The references of the power transformers."""
        return frozenset(w.ref for w in self.windings)


def is_hash_choke(chassis: Chassis, e: Element) -> bool:
    """Whether an element is a coil that no capacitor behind it stops being the reservoir for."""
    part = chassis.part(e.ref)
    if e.kind is not Kind.WINDING or part is None or part.kind != "coil":
        return False
    henry = part.value("inductance")
    return part.description.has("rf") if henry is None else henry < _RIPPLE_HENRY


def series_ohm(e: Element) -> float | None:
    """Weight of what may stand in series in a supply lead; None for a load."""
    if e.kind in (Kind.CONTACT, Kind.FUSE, Kind.STRAP, Kind.METER):
        return e.ohm or 0.0
    if e.kind is Kind.RESISTOR and e.ohm is not None and e.ohm < _SERIES_OHM:
        return max(e.ohm, 0.0)
    return None


def _winding_nets(elements: Iterable[Element]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Each winding of a part: its name, and its nets in order."""
    paths: dict[str, list[str]] = {}
    for e in elements:
        if e.kind is Kind.WINDING:
            nets = paths.setdefault(e.path, [e.a])
            nets.append(e.b)
    for path, nets in paths.items():
        yield path, tuple(nets)
