"""From a named state to what it changes in the network.

Belongs here: edits as changed conductances and sources. Does not belong here: what a state is
(states.py), solving.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from netcheck.circuit.direct_model import DirectModel, reference_of
from netcheck.circuit.direct_parts import CONTACT_OHM, LEAK_OHM, Branch
from netcheck.circuit.direct_types import Change, Variant
from netcheck.circuit.states import ALL_TUBES, Edit, State
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved

__all__ = [
    "branch_changes", "check_state", "connected_loads", "leaks_of", "opened", "variant_of",
    "without_built_in",
]  # fmt: skip

_EDITS = frozenset({"open", "short", "value", "scale", "leak", "join"})


def branch_changes(model: DirectModel, state: State) -> tuple[tuple[int, float], ...]:
    """Branch numbers that a state changes, each with its change in siemens."""
    found: dict[int, float] = {}
    for edit in state.edits:
        if edit.kind in ("leak", "join"):
            continue
        for number in model.numbers.get(edit.ref, ()):
            branch = model.branches[number]
            if edit.path and branch.path != edit.path:
                continue
            now = 1 / branch.ohm + found.get(number, 0.0)
            found[number] = found.get(number, 0.0) + _siemens(edit, branch, now) - now
    return tuple(found.items())


def opened(model: DirectModel, state: State) -> frozenset[int]:
    """Branches that the state opens: a stated load current stops with them."""
    return frozenset(
        number
        for edit in state.edits
        if edit.kind == "open"
        for number in model.numbers.get(edit.ref, ())
        if edit.path in ("", model.branches[number].path)
    )


def connected_loads(model: DirectModel, state: State) -> list[float]:
    """For each load of stated amperes 1.0, or 0.0 where the state opens it."""
    gone = opened(model, state)
    return [float(n not in gone) for n, branch in enumerate(model.branches) if branch.load_a]


def variant_of(model: DirectModel, state: State) -> Variant:
    """What a state changes in the network.

    Raises:
        NotSolved: it names something that joins nothing that has volts.
    """
    changes: list[Change] = []
    sources: list[tuple[int, float]] = []
    for number, siemens in branch_changes(model, state):
        branch = model.branches[number]
        a, b = model.index[branch.a], model.index[branch.b]
        changes.append(Change(a, b, siemens))
        drive = siemens * branch.emf_v
        if drive:
            sources += [(a, drive), (b, -drive)]
    return Variant((*changes, *_added(model, state)), tuple(sources))


def check_state(wiring: Wiring, state: State) -> None:
    """Refuse a state that names nothing of the set: it would be solved as if all were well.

    Raises:
        NotSolved: a tube, part, net, switch or position that is not there.
        ValueError: an edit of an unknown kind.
    """
    chassis = wiring.chassis
    tubes = {part.body_ref for part in chassis.of_kind("tube")} | {ALL_TUBES}
    for ref, _ in (*state.emission, *state.contact_shift_v, *state.grid_shift_v):
        if ref not in tubes:
            raise NotSolved(f"{state.name}: there is no tube {ref}")
    for edit in state.edits:
        _check_edit(wiring, state, edit)
    for ref in state.out:
        if not any(ref in (p.ref, p.body_ref, p.on) for p in chassis.parts):
            raise NotSolved(f"{state.name}: there is no part {ref}")
    for ref, position in state.closed:
        known = [p for s in chassis.of_kind("switch") if s.body_ref == ref for p in s.positions]
        if position not in known and not (position == "OFF" and len(set(known)) == 1):
            raise NotSolved(f"{state.name}: {ref} has no position {position}")
    for net in {n for a, b, _ in leaks_of(wiring, state) for n in (a, b)}:
        if net not in wiring.nets:
            raise NotSolved(f"{state.name}: nothing is on {net}", (net,))


def _check_edit(wiring: Wiring, state: State, edit: Edit) -> None:
    if edit.kind not in _EDITS:
        raise ValueError(f"an edit is one of {', '.join(sorted(_EDITS))}, not {edit.kind}")
    if edit.kind != "join" and not wiring.of(edit.ref):
        raise NotSolved(f"{state.name}: {edit.ref} joins nothing in this set")
    part = wiring.chassis.part(edit.ref)
    if part is not None and part.is_bridge and (edit.kind != "open" or edit.path):
        raise NotSolved(f"{state.name}: {edit.ref} is four diodes, and one of them is not asked")


def leaks_of(wiring: Wiring, state: State) -> tuple[tuple[str, str, float], ...]:
    """The conductances a state adds: leaks across parts, joined nets, the meter, each with ohms."""
    found = []
    for edit in state.edits:
        if edit.kind == "join":
            found.append((*edit.nets, edit.ohm))
        elif edit.kind == "leak":
            for element in wiring.of(edit.ref)[:1]:
                found.append((element.a, element.b, edit.ohm))
    if state.meter is not None:
        net, ohm = state.meter
        found.append((net, reference_of(wiring), ohm))
    return tuple(found)


def without_built_in(
    wiring: Wiring,
    state: State,
    edits: tuple[Edit, ...],
    added: tuple[tuple[str, str, float], ...],
) -> State:
    """The state without the edits and conductances that its model was made with."""
    if not edits and not added:
        return state
    left = []
    for edit in state.edits:
        alone = State(state.name, edits=(edit,))
        if edit not in edits and not set(leaks_of(wiring, alone)) & set(added):
            left.append(edit)
    meter = state.meter
    if meter is not None and (meter[0], reference_of(wiring), meter[1]) in added:
        meter = None
    return replace(state, edits=tuple(left), meter=meter)


def _siemens(edit: Edit, branch: Branch, now: float) -> float:
    if edit.kind == "open":
        return 1 / LEAK_OHM
    if edit.kind == "short":
        return 1 / CONTACT_OHM
    if edit.kind == "scale":
        return now / edit.ohm
    return 1 / max(edit.ohm, CONTACT_OHM)


def _added(model: DirectModel, state: State) -> Iterator[Change]:
    """The conductances that a state puts where the network has no branch.

    Raises:
        NotSolved: an edit names a part or net that the model has not.
    """
    for edit in state.edits:
        siemens = 1 / max(edit.ohm, CONTACT_OHM)
        bare = edit.ref not in model.numbers  # a capacitor is no branch
        if edit.kind == "leak" or (edit.kind == "short" and bare):
            yield Change(*model.ends_of(edit.ref), siemens)
        elif edit.kind == "join":
            first, second = (model.index.get(net) for net in edit.nets)
            if first is None or second is None:
                raise NotSolved(f"{' and '.join(edit.nets)} are not both in the solved network")
            yield Change(first, second, siemens)
    if state.meter is not None:
        net, ohm = state.meter
        at = model.index.get(net)
        if at is not None:
            yield Change(at, model.index[model.reference], 1 / ohm)
