"""Which elements carry one and the same current, so that heaters in series can be compared.

Belongs here: joining elements where nothing else is on their net. Does not belong here: rated
currents, or amperes that would have to be solved.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from netcheck.circuit.paths import METAL, OHMIC
from netcheck.circuit.wiring import Element, Kind
from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._reach import doubt

__all__ = ["Strings", "fits", "odd_currents", "unlike_groups"]


class Strings:
    """The direct-current elements of a set, joined where just two of them meet."""

    def __init__(self, case: Case) -> None:
        self._case = case
        wiring = case.circuit.wiring
        self._ends = wiring.returns | wiring.line_poles
        self._parent: dict[Element, Element] = {}
        for net in sorted(wiring.nets - self._ends):
            at = [e for e in wiring.at(net) if e.kind in OHMIC and e.a != e.b]
            if len(at) != 2 or at[0].other(net) == at[1].other(net):
                continue
            # What leads out of the set, or is not known, may carry current too.
            if doubt(case, {net}) is None:
                self._parent[self._root(at[0])] = self._root(at[1])

    def _root(self, element: Element) -> Element:
        while self._parent.get(element, element) != element:
            element = self._parent[element]
        return element

    def of(self, element: Element) -> Element:
        """The element that stands for all that carry the same current."""
        return self._root(element)

    def unlike_beside_others(self, heaters: Sequence[Element]) -> list[str]:
        """References at nets where heaters of unlike rated current meet and something is beside.

        A shunt or a lamp there lets the currents differ, so they cannot be compared by ratings.
        """
        met: dict[str, None] = {}
        for net in dict.fromkeys(net for heater in heaters for net in heater.nets):
            at = self._case.circuit.wiring.at(net)
            here = [e for e in at if e.kind is Kind.HEATER and e.a != e.b]
            beside = [e for e in at if e.kind in OHMIC - METAL - {Kind.HEATER}]
            in_series = len({e.other(net) for e in here}) > 1
            if net in self._ends or not (beside and in_series):
                continue
            if len({self._rated_a(e) for e in here} - {None}) > 1:
                met.update(dict.fromkeys(e.ref for e in (*here, *beside)))
        return list(met)

    def _rated_a(self, heater: Element) -> float | None:
        tube = self._case.chassis.part(heater.ref)
        return tube.tube.heater_a if tube is not None and tube.tube is not None else None


_SPREAD = 0.08


def unlike_groups(case: Case, strings: Strings) -> list[tuple[list[Part], dict[str, float], float]]:
    """Each string of heaters: its tubes, the amperes each wants, those that most of them want."""
    groups: dict[Element, dict[str, Part]] = {}
    for heater in case.circuit.wiring.elements:
        tube = case.chassis.part(heater.ref)
        if heater.kind is not Kind.HEATER or heater.a == heater.b:
            continue
        if tube is not None and tube.tube is not None and tube.tube.heater_a:
            groups.setdefault(strings.of(heater), {})[tube.ref] = tube
    found = []
    for tubes in groups.values():
        amperes = {ref: t.tube.heater_a or 0.0 for ref, t in tubes.items() if t.tube is not None}
        usual = Counter(amperes.values()).most_common(1)[0][0]
        found.append((list(tubes.values()), amperes, usual))
    return found


def fits(amperes: float, usual_a: float) -> bool:
    """Whether a heater of so many amperes belongs in a string of the others'."""
    return abs(amperes / usual_a - 1) <= _SPREAD


def odd_currents(case: Case) -> frozenset[str]:
    """The tubes that want another current than most in their string."""
    return frozenset(
        ref
        for _, amperes, usual in unlike_groups(case, Strings(case))
        for ref, wanted in amperes.items()
        if not fits(wanted, usual)
    )
