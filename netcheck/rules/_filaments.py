"""Filaments of battery tubes by net, with the volts they are rated for, because two rules ask.

Belongs here: strings and parallel filaments of directly heated tubes. Does not belong here: what
may reach them, or their volts in a solved set.
"""

from __future__ import annotations

from netcheck.circuit.wiring import Element, Kind
from netcheck.rules._base import Case

__all__ = ["filaments_of"]


def filaments_of(case: Case) -> dict[str, tuple[float, tuple[str, ...]]]:
    """By net: the most volts its filaments are rated for to the far end of their string."""
    wiring = case.circuit.wiring
    own: list[tuple[Element, float, str]] = []
    for part in case.chassis.of_kind("tube"):
        tube = part.tube
        if tube is None or tube.heating != "direct" or tube.is_rectifier or not tube.heater_v:
            continue
        elements = [e for e in wiring.of(part.ref) if e.kind is Kind.HEATER]
        for e in elements:
            # Two halves beside each other have half of the printed volts each.
            alone = len(elements) == 1
            own.append((e, tube.heater_v if alone else tube.heater_v / 2, part.ref))
    found: dict[str, tuple[float, tuple[str, ...]]] = {}
    for net in {n for e, _, _ in own for n in e.nets} - wiring.returns:
        volts = _least_volts(net, own, wiring.returns)
        joined, queue = {net}, [net]
        while queue:
            here = queue.pop()
            beside = {e.other(here) for e, _, _ in own if here in e.nets} - joined
            joined |= beside
            queue += beside - wiring.returns
        refs = dict.fromkeys(r for e, _, r in own if set(e.nets) <= joined)
        if volts is not None:
            found[net] = (volts, tuple(refs))
    return found


def _least_volts(
    net: str, own: list[tuple[Element, float, str]], returns: frozenset[str]
) -> float | None:
    """The fewest rated volts along filaments from a net to a return, None without such a way."""
    best = {net: 0.0}
    queue = [net]
    while queue:
        here = queue.pop(0)
        for e, volts, _ in own:
            there = e.other(here)
            if here in e.nets and best[here] + volts < best.get(there, 1e9):
                best[there] = best[here] + volts
                queue.append(there)
    return min((volts for end, volts in best.items() if end in returns), default=None)
