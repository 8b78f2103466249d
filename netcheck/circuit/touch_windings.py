"""The volts that windings on the line add between line and hand: an autotransformer's above all.

Belongs here: which windings the line drives in a switch position, and the volts of every section
of their transformer for each volt of the line. Does not belong here: the network they stand in
(touch_network.py), solving it (touch_solve.py).

A winding is a source of its turns' share of the line without ohms (an ideal transformer; its
magnetizing current and its drop under load are left out: common practice, no source). With its
primary cut off it is its ohms alone. Sections of one winding, and windings of an autotransformer,
are in phase in the order that the text gives; how other windings that a wire ties to the line are
poled is not in the text, so that both ways are looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import walk
from netcheck.circuit.power import PowerWinding, series_ohm
from netcheck.circuit.wiring import Wiring
from netcheck.parts import Description, Path

__all__ = ["Drive", "Windings"]


@dataclass(frozen=True, slots=True)
class Drive:
    """A winding's section as a source: volts of its `a` over its `b` for each volt between poles.

    The volts between the poles count from `high` to `low`. `poled`: its phase is certain.
    """

    high: str
    low: str
    ratio: float
    poled: bool


class Windings:
    """The driven windings of one set; `is_closed` tells a contact in a switch state."""

    def __init__(
        self,
        wiring: Wiring,
        elements: Sequence[Element],
        is_closed: Callable[[Element, Mapping[str, str]], bool],
    ) -> None:
        self._wiring = wiring
        self._is_closed = is_closed
        self._drives: dict[tuple[tuple[str, str], ...], dict[int, Drive]] = {}
        refs = wiring.supply.power.power_refs if wiring.line_poles else frozenset()
        self.places = {
            k: e for k, e in enumerate(elements) if e.kind is Kind.WINDING and e.ref in refs
        }

    @cached_property
    def poled(self) -> bool:
        """Whether the phase of every section that a way passes is certain."""
        return all(drive.poled for drive in self.drives({}).values())

    @cached_property
    def unknown(self) -> tuple[str, ...]:
        """Transformers that the line drives and that have a section here of unknown volts."""
        driven = self.drives({})
        found = (e.ref for k, e in self.places.items() if k not in driven and self._may_raise(e))
        return tuple(dict.fromkeys(found))

    def _may_raise(self, e: Element) -> bool:
        """Whether a section leads from the line's own leads to some other net."""
        feeds = self._wiring.supply.feeds.values()
        return not all(any(net in feed for feed in feeds) for net in e.nets)

    def drives(self, state: Mapping[str, str]) -> dict[int, Drive]:
        """The sections that the line drives in a switch state, by their place."""
        key = tuple(state.items())
        if key not in self._drives:
            self._drives[key] = self._found(state) if self.places else {}
        return self._drives[key]

    def _found(self, state: Mapping[str, str]) -> dict[int, Drive]:
        reached = {pole: self._reached(pole, state) for pole in sorted(self._wiring.line_poles)}
        found: dict[int, Drive] = {}
        for ref in dict.fromkeys(e.ref for e in self.places.values()):
            driven = self._driven(ref, reached)
            if driven is None:
                continue
            name, high, low, volts = driven
            auto = self._is_auto(ref)
            for k, e in self.places.items():
                own = self._heights(ref, e.path) if e.ref == ref else None
                if own is not None:
                    ratio = (own[e.terminals[0]] - own[e.terminals[1]]) / volts
                    found[k] = Drive(high, low, ratio, auto or e.path == name)
        return found

    def _reached(self, pole: str, state: Mapping[str, str]) -> frozenset[str]:
        others = self._wiring.line_poles - {pole}

        def ohm_of(e: Element) -> float | None:
            return series_ohm(e) if self._is_closed(e, state) else None

        return frozenset(
            walk(self._wiring.adjacency, [pole], ohm_of, admit=lambda n, _: n not in others)
        )

    def _driven(
        self, ref: str, reached: Mapping[str, frozenset[str]]
    ) -> tuple[str, str, str, float] | None:
        """The winding across the line: its name, its two poles, the printed volts between them."""
        for winding in self._windings(ref):
            heights = self._heights(ref, winding.path)
            at = self._nets(ref, winding.path)
            for high, one in reached.items():
                for low, other in reached.items():
                    if high >= low or heights is None:
                        continue
                    tops = [heights[name] for name, net in at.items() if net in one - other]
                    feet = [heights[name] for name, net in at.items() if net in other - one]
                    if tops and feet and tops[0] != feet[0]:
                        return winding.path, high, low, tops[0] - feet[0]
        return None

    def _windings(self, ref: str) -> Iterator[PowerWinding]:
        return (w for w in self._wiring.supply.windings if w.ref == ref and w.driven)

    def _nets(self, ref: str, path: str) -> dict[str, str]:
        found: dict[str, str] = {}
        for e in self._wiring.of(ref):
            if e.kind is Kind.WINDING and e.path == path:
                found |= dict(zip(e.terminals, e.nets, strict=True))
        return found

    def _heights(self, ref: str, path: str) -> dict[str, float] | None:
        """The printed volts of each terminal of a winding over its first one; None if not told."""
        from netcheck.circuit.source_windings import section_volts

        wound = self._path(ref, path)
        part = self._wiring.chassis.part(ref)
        if wound is None or part is None:
            return None
        described = part.description.windings.get(path) or Description()
        volts = section_volts(described, len(wound.terminals))
        line = self._wiring.chassis.line
        two = len(wound.terminals) == 2 and any(w.path == path for w in self._windings(ref))
        if volts is None and two and line is not None and line.made_for_v:
            volts = (line.made_for_v,)  # a primary of one section: the line it is made for
        if volts is None:
            return None
        return dict(zip(wound.terminals, accumulate(volts, initial=0.0), strict=True))

    def _path(self, ref: str, name: str) -> Path | None:
        part = self._wiring.chassis.part(ref)
        paths = part.paths if part is not None else ()
        return next((each for each in paths if each.name == name), None)

    def _is_auto(self, ref: str) -> bool:
        part = self._wiring.chassis.part(ref)
        return part is not None and part.description.has("auto")
