"""The operating point of a set in any number of named states.

Belongs here: from states to variants of a model, from solutions to volts, currents and watts of
parts. Does not belong here: the engine (direct.py), the model (direct_model.py), judgements.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from netcheck.chassis import Chassis
from netcheck.circuit.chassis_edits import driving_refs, edited
from netcheck.circuit.direct import Array, Change, solve
from netcheck.circuit.direct_model import DirectModel, direct_model, reference_of
from netcheck.circuit.edits import switched, without
from netcheck.circuit.mains import Mains, moves_supply, opens_supply
from netcheck.circuit.point import Batch, Electrodes, Point, SupplyPoint, TubePoint
from netcheck.circuit.postponed import Postponed
from netcheck.circuit.state_changes import (
    check_state,
    connected_loads,
    leaks_of,
    variant_of,
    without_built_in,
)
from netcheck.circuit.states import ALL_TUBES, NOMINAL, Edit, State, line_volts, switch_positions
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed, NotSolved

__all__ = ["Electrodes", "Operating", "Point", "SupplyPoint", "TubePoint"]

# What a model is made for: switch positions, parts out, oscillator, edits of what drives the
# supplies, and conductances at nets that nothing else holds.
_Key = tuple[
    tuple[tuple[str, str], ...],
    tuple[str, ...],
    str,
    tuple[Edit, ...],
    tuple[tuple[str, str, float], ...],
]


class Operating:
    """Solves states of one set; each once, those asked for together in one batch."""

    def __init__(self, wiring: Wiring, postponed: Postponed | None = None) -> None:
        self.wiring = wiring
        self._postponed = postponed if postponed is not None else Postponed()
        self._first: dict[State, State] = {}  # the state of each content that was asked for first
        self._near_v: dict[str, float] = {}
        self._moving: dict[str, bool | None] = {}
        self._opening: dict[str, bool | None] = {}
        self._models: dict[tuple[_Key, tuple[Mains, ...]], DirectModel] = {}
        self._points: dict[State, Point | NotSolved] = {}
        self.solves = 0

    def point(self, state: State = NOMINAL) -> Point:
        """One solved state.

        Raises:
            NotSolved: it did not settle, or the text lacks something needed.
        """
        return self.points([state])[0]

    def points(self, states: Sequence[State]) -> tuple[Point, ...]:
        """Several states, in one batch for each arrangement of switches and plugs.

        Raises:
            NotSolved: one of them did not settle, or the text lacks something needed.
        """
        found = self.tried(states)
        for each in found:
            if isinstance(each, NotSolved):
                raise each
        return tuple(each for each in found if isinstance(each, Point))

    def tried(self, states: Sequence[State]) -> tuple[Point | NotSolved, ...]:
        """Like `points`, with the reason in the place of a state that was not solved.

        Raises:
            Interrupted: while rules are heard (see postponed.py) and one of them is not solved yet.
        """
        alike: dict[_Key, list[State]] = {}
        waiting: dict[_Key, list[State]] = {}
        missing = [state for state in dict.fromkeys(states) if state not in self._points]
        if missing and self._postponed.waiting:
            self._postponed.put_off(missing)
        for state in self._of_own_content(missing):
            try:
                check_state(self.wiring, state)
                alike.setdefault(self._plain_key(state), []).append(state)
            except NotSolved as fault:
                self._points[state] = fault
        for plain, group in alike.items():
            for state in group:
                try:
                    waiting.setdefault(self._key(plain, state, group), []).append(state)
                except NotSolved as fault:
                    self._points[state] = fault
        for key, group in waiting.items():
            self._solve(key, group)
        for state in missing:
            if state not in self._points:  # another name for what is solved
                found = self._points[self._first[self._content(state)]]
                self._points[state] = found.named(state) if isinstance(found, Point) else found
        return tuple(self._points[state] for state in states)

    def metered(
        self, points: Sequence[Point], at: Sequence[tuple[int, str]], ohm: float
    ) -> list[float | None]:
        """What a meter of so many ohms reads, each time at one net of one of the `points`.

        `at` are numbers of points and nets. The search starts from the point without the meter,
        and no states are kept of it. None where a net has no volts or a row did not settle.
        """
        batches: dict[Batch, list[int]] = {}
        for number, (k, net) in enumerate(at):
            if points[k].volts(net) is not None:
                batches.setdefault(points[k].batch, []).append(number)
        read: list[float | None] = [None] * len(at)
        for batch, numbers in batches.items():
            rows = [points[at[number][0]].row for number in numbers]
            model, variants = batch.taken(rows)
            nodes = [model.index[model.chassis.net(at[number][1])] for number in numbers]
            to = model.index[model.reference]
            loaded = [
                replace(each, changes=(*each.changes, Change(node, to, 1 / ohm)))
                for each, node in zip(variants, nodes, strict=True)
            ]
            found = solve(model.linear, model.devices, loaded, batch.volts[rows])
            self.solves += 1
            for row, number in enumerate(numbers):
                if found.solved[row]:
                    read[number] = float(found.volts[row, nodes[row]])
        return read

    def _of_own_content(self, states: Sequence[State]) -> list[State]:
        """One state for each content that is not solved yet."""
        chosen: dict[State, State] = {}
        for state in states:
            content = self._content(state)
            if self._first.get(content) not in self._points:
                chosen.setdefault(content, state)
        self._first |= chosen
        return list(chosen.values())

    def _content(self, state: State) -> State:
        """A state without its name: two of the same content are one."""
        line_v = state.line_v if state.line_v is not None else self.line["nominal"]
        return replace(state, name="", line_v=line_v)

    @cached_property
    def line(self) -> dict[str, float | None]:
        """The line's volts by name: nominal, high, low (None where no line is stated)."""
        return line_volts(self.wiring.chassis)

    @property
    def assumed(self) -> tuple[Assumed, ...]:
        """What the nominal state takes for granted."""
        point = self._points.get(NOMINAL)
        return point.model.assumed if isinstance(point, Point) else ()

    def _solve(self, key: _Key, states: list[State]) -> None:
        lines = self._lines(key, states)
        try:
            model = self._model(key, lines)
            model.check()
            self._batch(model, lines, states, key)
        except NotSolved as fault:
            self._points.update(dict.fromkeys(states, fault))

    def _lines(self, key: _Key, states: Sequence[State]) -> tuple[Mains, ...]:
        """Mains of the states: those of a model made before if it has them all, else anew."""
        wanted = dict.fromkeys([*self._usual, *(self._mains(state) for state in states)])
        made = (lines for made_for, lines in self._models if made_for == key)
        return next((lines for lines in made if wanted.keys() <= set(lines)), tuple(wanted))

    def moves_supply(self, ref: str) -> bool:
        """Whether a part's size is one of the figures of a rectifier supply."""
        return ref in self._driving and self._moves(ref) is True

    def opens_supply(self, ref: str) -> bool:
        """Whether a part that is open leaves a rectifier supply with other figures."""
        return ref in self._driving and self._opens(ref) is True

    def _moves(self, ref: str) -> bool | None:
        if ref not in self._moving:
            self._moving[ref] = moves_supply(self.wiring, ref, self.line["nominal"])
        return self._moving[ref]

    @cached_property
    def _driving(self) -> frozenset[str]:
        return driving_refs(self.wiring)

    def _plain_key(self, state: State) -> _Key:
        """What a state's model is made for, but for what is added to its network."""
        opened = self._opened(state)
        driving = tuple(
            edit
            for edit in state.edits
            if edit.ref in self._driving
            and edit.kind in ("open", "short", "value", "scale")
            and not self._is_scaled(edit)
            and edit != opened
        )
        return (state.closed, state.out, state.oscillator, driving, ())

    def _key(self, plain: _Key, state: State, group: Sequence[State]) -> _Key:
        """The whole key of a state; `group` are those of the same plain one."""
        added = [*leaks_of(self.wiring, state)]
        if not added:
            return plain
        model = self._network(plain, group)
        loose = tuple(
            each
            for each in added
            if any(net not in model.index or net in model.apart for net in each[:2])
        )
        return (*plain[:4], loose)

    def _network(self, plain: _Key, group: Sequence[State]) -> DirectModel:
        """A model of the network of these states: the one that will solve them, if there is one."""
        for (key, _), model in self._models.items():
            if key == plain:
                return model
        try:
            return self._model(plain, self._lines(plain, group))
        except NotSolved:  # one of its lines has no supply; the network is there all the same
            return self._model(plain, tuple(self._usual))

    def _is_scaled(self, edit: Edit) -> bool:
        """Whether an edit only changes figures of the supplies, or none of them: no new model."""
        return edit.kind == "scale" and not edit.path and self._moves(edit.ref) is not None

    def _opened(self, state: State) -> Edit | None:
        """The one part that a state opens whose supplies stay, with other figures or the same."""
        opening = [e for e in state.edits if e.kind == "open" and e.ref in self._driving]
        if len(opening) != 1 or opening[0].path or self._opens(opening[0].ref) is None:
            return None
        return opening[0]

    def _opens(self, ref: str) -> bool | None:
        if ref not in self._opening:
            self._opening[ref] = opens_supply(self.wiring, ref, self.line["nominal"])
        return self._opening[ref]

    @property
    def _usual(self) -> list[Mains]:
        return list(dict.fromkeys(Mains(volts) for volts in self.line.values()))

    def _mains(self, state: State) -> Mains:
        volts = state.line_v if state.line_v is not None else self.line["nominal"]
        rectifiers = {element.ref for element in self.wiring.rectifiers}
        rectifiers |= {each.element.ref for each in self.wiring.supply.bias_diodes}
        scaled = ((e.ref, e.ohm) for e in state.edits if self._is_of_supply(e))
        emission = tuple(pair for pair in state.emission if pair[0] in rectifiers)
        opened = self._opened(state)
        moved = (opened.ref,) if opened is not None and self.opens_supply(opened.ref) else ()
        return Mains(volts, emission, tuple(scaled), moved)

    def _is_of_supply(self, edit: Edit) -> bool:
        return edit.kind == "scale" and not edit.path and self.moves_supply(edit.ref)

    def _batch(
        self, model: DirectModel, lines: tuple[Mains, ...], states: list[State], key: _Key
    ) -> None:
        variants, applied = [], []
        for state in tuple(states):
            left = without_built_in(self.wiring, state, key[3], key[4])
            try:
                variants.append(variant_of(model, left))
                applied.append(left)
            except NotSolved as fault:  # it costs no other state of the batch
                self._points[state] = fault
                states.remove(state)
        if not states:
            return
        rows = [lines.index(self._mains(state)) for state in states]
        for supply in model.supplies:
            supply.set_variants(np.array(rows, dtype=np.intp))
        if model.tubes is not None:
            refs = [tube.ref for tube in model.tubes.tubes]
            model.tubes.set_variants(
                _by_tube(refs, [s.emission for s in states], 1.0),
                _by_tube(refs, [s.contact_shift_v for s in states], 0.0),
                _by_tube(refs, [s.grid_shift_v for s in states], 0.0),
            )
        if model.loads is not None:
            model.loads.set_variants(np.array([connected_loads(model, s) for s in applied]))
        found = solve(model.linear, model.devices, variants, self._start_v(model))
        self.solves += 1
        if not self._near_v and found.solved[0]:
            self._near_v = dict(zip(model.nets, found.volts[0].tolist(), strict=True))
        plain = [row for row, s in enumerate(states) if found.solved[row] and _is_plain(s)]
        batch = Batch(model, variants, found.volts, plain)
        for row, state in enumerate(states):
            if found.solved[row]:
                self._points[state] = Point(state, applied[row], batch, row)
            else:
                nodes = tuple(model.nets[node] for node in found.unsettled.get(row, ()))
                named = f": {', '.join(nodes)}" if nodes else ""
                self._points[state] = NotSolved(f"{state.name} did not settle{named}", nodes)

    def _start_v(self, model: DirectModel) -> Array | None:
        """Volts of the state that was solved first, from where others are not far.

        A net that it had not is taken to be without volts. None when nothing is solved yet.
        """
        if not self._near_v:
            return None
        return np.array([self._near_v.get(net, 0.0) for net in model.nets])

    def _model(self, key: _Key, lines: tuple[Mains, ...]) -> DirectModel:
        found = self._models.get((key, lines))
        if found is None:
            closed, out, oscillator, edits, added = key
            wiring = self.wiring
            if out or closed or edits:  # what drives the rectifiers is as the state has it
                wiring = Wiring(edited(_as_in(wiring.chassis, closed, out), edits))
            positions = switch_positions(wiring.chassis)
            found = direct_model(
                wiring, positions, lines, oscillator, added, reference_of(self.wiring)
            )
            self._models[(key, lines)] = found
        return found


def _is_plain(state: State) -> bool:
    """Whether a state is the set as stated, at any volts of its line."""
    return replace(state, name=NOMINAL.name, line_v=NOMINAL.line_v) == NOMINAL


def _as_in(chassis: Chassis, closed: Iterable[tuple[str, str]], out: Iterable[str]) -> Chassis:
    """The chassis with parts out and switches set as a state has them."""
    chassis = without(chassis, frozenset(out))
    for switch, position in closed:
        chassis = switched(chassis, switch, position)
    return chassis


def _by_tube(
    refs: Sequence[str], changes: Sequence[tuple[tuple[str, float], ...]], usual: float
) -> Array:
    table = np.full((len(changes), len(refs)), usual)
    columns = {ref: column for column, ref in enumerate(refs)}
    for row, pairs in enumerate(changes):
        for ref, value in pairs:
            if ref == ALL_TUBES:
                table[row] = value
            elif ref in columns:
                table[row, columns[ref]] = value
    return table
