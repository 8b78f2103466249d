"""What direct current can reach from a net, and how rules speak of electrodes that lack a path.

Belongs here: the spread over direct-current elements that the rules about missing paths share, and
the reasons to conclude nothing from an absence. Does not belong here: what carries direct current
(circuit/paths.py), or which path an electrode needs.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from netcheck.circuit.paths import OHMIC
from netcheck.circuit.wiring import Electrode, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related, Span
from netcheck.rules._base import Case
from netcheck.rules._words import listed, named

__all__ = ["doubt", "electrode_words", "grouped", "is_lone", "lacking", "place_of", "reached"]


# More nodes than these are not told in the sentence (all are among the finding's nodes).
_NAMED = 6


def reached(
    case: Case, net: str, avoid: Collection[str] = (), until: Collection[str] = ()
) -> frozenset[str]:
    """Return the nets that direct current can reach from `net`, every switch closed.

    It never enters a net of `avoid`, and ends at the first of `until`; cold tubes, diodes and
    capacitors do not conduct.
    """
    found = {net}
    open_ends = [net]
    while open_ends and open_ends[-1] not in until:
        here = open_ends.pop()
        for element in case.circuit.wiring.at(here):
            there = element.other(here)
            if element.kind in OHMIC and there not in found and there not in avoid:
                found.add(there)
                open_ends.append(there)
    return frozenset(found)


def doubt(case: Case, nets: Collection[str]) -> str | None:
    """Return why nothing follows from what these nets lack, None if the text shows it all.

    A part that could not be read, a plug or jack (something outside), or a load (not traced yet).
    """
    wiring = case.circuit.wiring
    for net in sorted(nets):
        if wiring.incomplete(net):
            return f"a part at {net} is not known"
        if any(element.kind is Kind.LOAD for element in wiring.at(net)):
            return f"what is at {net} has not been traced"
        node = case.chassis.nodes.get(net)
        for ref, _ in node.connections if node is not None else ():
            part = case.chassis.part(ref)
            if part is not None and part.fitted and part.kind in ("jack", "plug"):
                return f"{ref} leads out of the set at {net}"
    return None


def is_lone(case: Case, net: str) -> bool:
    """Whether nothing else is on the net: `loose-end` tells that, and one cause is told once."""
    node = case.chassis.nodes.get(net)
    return node is not None and len(node.connections) < 2


def place_of(case: Case, electrode: Electrode) -> Span:
    """Return where the text puts an electrode on its net."""
    tube = case.chassis.part(electrode.ref)
    terminal = tube.terminal(electrode.name) if tube is not None else None
    if terminal is not None:
        return terminal.span
    return case.chassis.nodes[electrode.net].span


def electrode_words(case: Case, electrode: Electrode) -> str:
    """Return an electrode in words: `the g1 of V4 (50C5)`."""
    tube = case.chassis.part(electrode.ref)
    return f"the {electrode.name} of {named(tube) if tube is not None else electrode.ref}"


def grouped(
    found: Iterable[tuple[frozenset[str], Electrode]],
) -> dict[frozenset[str], list[Electrode]]:
    """Put electrodes that hang together into one group: one missing part is one cause."""
    groups: dict[frozenset[str], list[Electrode]] = {}
    for nets, electrode in found:
        groups.setdefault(nets, []).append(electrode)
    return groups


def lacking(
    case: Case,
    nets: Collection[str],
    alike: Sequence[Electrode],
    what: str,
    action: str,
    *,
    harm: Harm | None = None,
    calc: Sequence[Calculation] = (),
) -> Finding | NotChecked:
    """Return the finding that some electrodes lack `what`, or why that cannot be said."""
    words = _all_words(case, alike)
    refs = [each.ref for each in alike]
    reason = doubt(case, nets)
    if reason is not None:
        has = f"{'has' if len(alike) == 1 else 'have'} a {what.removeprefix('no ')}"
        return case.not_checked(f"whether {words} {has}: {reason}", refs)
    own = {each.net for each in alike}
    beyond = [net for net in sorted(nets) if net not in own]
    ends = f"; from there direct current reaches only {listed(beyond[:_NAMED])}" if beyond else ""
    return case.finding(
        f"{words} {'has' if len(alike) == 1 else 'have'} {what}{ends}",
        place_of(case, alike[0]),
        harm=harm,
        parts=refs,
        nodes=[*sorted(own), *beyond],
        related=[Related(place_of(case, each), electrode_words(case, each)) for each in alike[1:]],
        calc=calc,
        action=action,
    )


def _all_words(case: Case, alike: Sequence[Electrode]) -> str:
    """Electrodes tube by tube: `the plate and g2 of V4 (50C5), the g1 of V5 (50C5)`."""
    names: dict[str, list[str]] = {}
    for each in alike:
        names.setdefault(each.ref, []).append(each.name)
    tubes = ((case.chassis.part(ref), ref, its) for ref, its in names.items())
    return listed(
        f"the {listed(its)} of {named(tube) if tube else ref}" for tube, ref, its in tubes
    )
