"""Volts and currents of heaters, lamps, droppers and cords on the line, in any named state.

Belongs here: which states of a set are solved together and kept. Does not belong here: the network
(line_network), solving it (line_solver), whole heaters (heaters), judging.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from netcheck.circuit.line_network import LineNetwork, line_network
from netcheck.circuit.line_point import LEAST_LIT, LinePoint, LineState
from netcheck.circuit.line_solver import LineSolver, Tap
from netcheck.circuit.states import NOMINAL, Edit, State
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved

if TYPE_CHECKING:
    from netcheck.circuit.heaters import HeaterState
    from netcheck.circuit.operating import Operating, Point

__all__ = ["AS_STATED", "LEAST_LIT", "LinePoint", "LineSide", "LineState"]

AS_STATED = LineState()


class LineSide:
    """The line side of one set; each state is solved once."""

    def __init__(self, wiring: Wiring, operating: Operating) -> None:
        self._wiring = wiring
        self._operating = operating
        self._found: dict[LineState, LinePoint | NotSolved] = {}
        self._heaters: dict[tuple[LineState, Point | None], Mapping[str, HeaterState]] = {}

    def point(self, state: LineState = AS_STATED) -> LinePoint:
        """One state.

        Raises:
            NotSolved: there is no line, or something did not settle.
        """
        (found,) = self.tried([state])
        if isinstance(found, NotSolved):
            raise found
        return found

    def tried(self, states: Sequence[LineState]) -> tuple[LinePoint | NotSolved, ...]:
        """Several states in one batch, with the reason in the place of one not solved."""
        new = [s for s in dict.fromkeys(states) if s not in self._found]
        if new:
            points = self._operating.tried([self._beside(state) for state in new])
            self._found.update(self._solve(new, points))
        return tuple(self._found[state] for state in states)

    def _beside(self, state: LineState) -> State:
        """The operating point that goes with a state: what draws from the line in it.

        A lamp that is out counts where the plate supply is taken through its tap.
        """
        found = NOMINAL
        if state.line in ("high", "low"):
            found = State(f"line {state.line}", line_v=self._operating.line[state.line])
        if len(state.out) == 1 and self._operating.opens_supply(state.out[0]):
            (ref,) = state.out
            found = State(f"{ref} open", edits=(Edit("open", ref),)).on(found)
        return found

    def heaters(self, line: LineState, point: Point | None) -> Mapping[str, HeaterState]:
        """The heater of each tube in a state of the line side, beside an operating point."""
        from netcheck.circuit.heaters import heater_states

        if (line, point) not in self._heaters:
            (along,) = self.tried([line])
            self._heaters[line, point] = heater_states(self._wiring, along, point)
        return self._heaters[line, point]

    def beside(self, point: Point | None) -> LinePoint:
        """The nominal line with the rectifiers as an operating point has them (None: unknown).

        Raises:
            NotSolved: there is no line, or something did not settle.
        """
        state = LineState()
        given = NotSolved("the operating point is not solved") if point is None else point
        found = self._solve([state], [given])[state]
        if isinstance(found, NotSolved):
            raise found
        return found

    def _solve(
        self, states: Sequence[LineState], points: Sequence[Point | NotSolved]
    ) -> dict[LineState, LinePoint | NotSolved]:
        """Solve states beside their operating points: those that are solved, and the others."""
        found: dict[LineState, LinePoint | NotSolved] = {}
        groups: dict[bool, list[tuple[LineState, Point | NotSolved]]] = {}
        for state, point in zip(states, points, strict=True):
            groups.setdefault(isinstance(point, NotSolved), []).append((state, point))
        for unsolved, group in groups.items():
            own = [state for state, _ in group]
            try:
                solved = [p for _, p in group if not isinstance(p, NotSolved)]
                taps = [] if unsolved else [self._taps(p) for p in solved]
                found.update(self._batch(own, taps, unsolved))
            except NotSolved as fault:
                found.update(self._one_by_one(group, fault))
        return found

    def _one_by_one(
        self, group: Sequence[tuple[LineState, Point | NotSolved]], fault: NotSolved
    ) -> dict[LineState, LinePoint | NotSolved]:
        """A state that cannot be solved must not take the others with it."""
        if len(group) == 1:
            return {group[0][0]: fault}
        found: dict[LineState, LinePoint | NotSolved] = {}
        for state, point in group:
            found.update(self._solve([state], [point]))
        return found

    def _taps(self, point: Point) -> list[Tap]:
        return [
            Tap(s, s.source.drawn, s.supplies.spec_of(s.line_row), max(s.amperes, 0.0))
            for s in point.supplies
            if s.source.drawn
        ]

    def _network(self, taps: Sequence[Tap], unsolved: bool) -> LineNetwork:
        pairs = [pair for tap in taps for pair in tap.pairs]
        key = (tuple(pairs), unsolved)
        if key not in self._networks:
            ports = pairs or self._possible_ports()
            reference = self._reference
            self._networks[key] = line_network(self._wiring, ports, reference)
        return self._networks[key]

    @cached_property
    def _networks(self) -> dict[tuple[tuple[tuple[str, str], ...], bool], LineNetwork]:
        return {}

    @cached_property
    def _reference(self) -> str:
        from netcheck.circuit.direct_model import reference_of

        return reference_of(self._wiring)

    def _possible_ports(self) -> list[tuple[str, str]]:
        """Where rectifiers may draw, as far as the wiring tells."""
        common = self._wiring.common
        if common is None:
            return []
        return [(e.a, common) for e in self._wiring.rectifiers if e.a != common]

    def _batch(
        self, states: Sequence[LineState], taps: Sequence[list[Tap]], unsolved: bool
    ) -> dict[LineState, LinePoint | NotSolved]:
        network = self._network(taps[0] if taps else (), unsolved)
        solver = LineSolver(self._wiring, network, states, self._operating.line, taps)
        solution = solver.solve()
        doubtful = solver.doubtful(solution.ohms)
        possible = self._possible_ports()
        pulsed = solver.pulsed(possible, solution.ohms) if unsolved else frozenset()
        return {
            state: LinePoint(state, network, row, solution, doubtful, pulsed)
            for row, state in enumerate(states)
        }
