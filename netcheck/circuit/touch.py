"""Touch current of every piece of metal a hand can reach, in every plug and switch position.

Belongs here: the table, who passes what, what other values would do. Does not belong here: what
makes the network (touch_network.py), solving it (touch_solve.py), the hand (touch_body.py), limits
and judgement (rules/).

Earth and neutral are one here, the hot pin at the line's volts: on a line balanced about earth
(two hot poles) less flows than this says. What leaks through the insulation of transformers and
sockets is not in the sums. (Common practice, no source.)
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from netcheck.catalog.safety import accepts
from netcheck.circuit.touch_body import bench_ohm, bench_v, body_a
from netcheck.circuit.touch_network import CONTACT_S, TouchNetwork
from netcheck.circuit.touch_solve import Case, Solver
from netcheck.circuit.touch_states import PlugState, TouchState, plug_states
from netcheck.circuit.wiring import Kind, Wiring
from netcheck.findings import NotSolved

__all__ = ["Touch", "TouchRow", "TouchState", "TouchTable"]

Array = NDArray[np.float64]

_DOUBT_A = 10e-6
"""What an unknown value moves the current by before the figure is called unknown: 2 % of 0.5 mA."""

_DUTY = "line-to-unearthed-metal"


@dataclass(frozen=True, slots=True)
class TouchRow:
    """A piece of metal in one state, at the stated line, controls where they do most harm.

    `open_v` volts rms to earth with nothing there; `touch_a` amperes rms through the body network
    of IEC 60990 figure 4; `bench_v` and `bench_a` what the leakage check of 1500 ohm with 0.15 uF
    reads. `net` is the net of the piece that passes most.
    """

    state: TouchState
    net: str
    open_v: float
    touch_a: float
    bench_v: float
    bench_a: float


@dataclass(frozen=True, slots=True)
class TouchTable:
    """All rows of one piece of metal: `names` as the text calls it, `nets` it is on.

    `live`: conductors join the metal itself to the line. `beside` are the parts that end on metal
    that is not live. `doubts` are sentences that say why more may flow than the rows tell.
    """

    names: tuple[str, ...]
    nets: tuple[str, ...]
    rows: tuple[TouchRow, ...]
    live: bool
    beside: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()

    def worst(self, faults: bool = False) -> TouchRow | None:
        """The row of most current among those without (or with) a failure; None if there are none.

        The first of several alike.
        """
        rows = [row for row in self.rows if row.state.is_fault == faults]
        return max(rows, key=lambda row: row.touch_a, default=None)

    def plain(self) -> dict[str, object]:
        """The table in numbers, texts and lists alone, for JSON."""
        rows = [
            {
                "plug": row.state.plug.text,
                "switches": dict(row.state.switches),
                "earth_wire_open": not row.state.earthed,
                "shorted": row.state.failed or None,
                "node": row.net,
                "open_volts": row.open_v,
                "touch_milliamps": row.touch_a * 1e3,
                "bench_volts": row.bench_v,
                "bench_milliamps": row.bench_a * 1e3,
            }
            for row in self.rows
        ]
        return {
            "metal": list(self.names),
            "nodes": list(self.nets),
            "live": self.live,
            "rows": rows,
            "parts": list(self.beside),
            "doubts": list(self.doubts),
        }


class Touch:
    """The touch current of one set; each view is computed when first asked for.

    Every view raises NotSolved where the line or its plug is not described.
    """

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self._answers: dict[Hashable, Array] = {}

    @cached_property
    def volts(self) -> float:
        """Volts rms (or DC) of the line as stated."""
        line = self.wiring.chassis.line
        if line is None or line.volts is None:
            raise NotSolved("no line voltage is stated")
        return line.volts

    @cached_property
    def hertz(self) -> float:
        """Hertz of the line, 0 for direct current."""
        line = self.wiring.chassis.line
        return line.hertz if line is not None else 0.0

    @cached_property
    def network(self) -> TouchNetwork:
        """What lies between line and hand."""
        return TouchNetwork(self.wiring, self.hertz)

    @cached_property
    def plugs(self) -> tuple[PlugState, ...]:
        """The ways the plug can stand."""
        return plug_states(self.wiring)

    @cached_property
    def tables(self) -> tuple[TouchTable, ...]:
        """One table for each piece of touchable metal that a part joins to line or earth."""
        if not (self.volts and self.plugs):  # either raises where it is not told
            return ()
        return tuple(self._table(piece) for piece in self.network.pieces if self._ports(piece))

    @cached_property
    def apart(self) -> tuple[str, ...]:
        """Touchable nets that no part described joins to line or earth."""
        return tuple(n for piece in self.network.pieces if not self._ports(piece) for n in piece)

    def _ports(self, piece: Sequence[str]) -> tuple[str, ...]:
        return tuple(net for net in piece if net in self.network.nets)

    # --- states

    @cached_property
    def insulating(self) -> tuple[str, ...]:
        """The parts between line and metal that are shorted in turn, in the order of the text.

        Not among them: an assessed Y1 part, and two Y2 parts in series.
        """
        crossing = {e.ref for e in self.wiring.barrier()}
        found = dict.fromkeys(
            s.ref for s in self.network.strands if s.insulates and s.ref in crossing
        )
        return tuple(ref for ref in found if not self._is_assessed(ref))

    def _is_assessed(self, ref: str) -> bool:
        if self._holds(ref, 1):
            return True
        through = [c for c in self.wiring.barrier_chains if any(e.ref == ref for e in c)]
        return bool(through) and all(
            sum(e.kind is Kind.CAPACITOR and self._holds(e.ref, 2) for e in chain) > 1
            for chain in through
        )

    def _holds(self, ref: str, in_series: int) -> bool:
        """Whether a part's class alone (or as one of two) is a barrier that does not fail."""
        part = self.wiring.chassis.part(ref)
        classes = part.description.classes if part is not None else ()
        marks = [m for m, v in classes if v is None or not v.known or v.si >= self.volts]
        return accepts(_DUTY, marks, self.volts, policy="strict", in_series=in_series)

    @cached_property
    def states(self) -> tuple[TouchState, ...]:
        """Every state of the tables: first those without a failure."""
        return tuple(sorted(self._states(), key=lambda state: state.is_fault))

    def _states(self) -> Iterator[TouchState]:
        network = self.network
        for plug, closed in product(self.plugs, network.switch_states):
            state = TouchState(plug, tuple(closed.items()))
            yield state
            if plug.is_fault:
                continue
            if network.earth & network.nets:
                yield replace(state, earthed=False)
            yield from (replace(state, failed=ref) for ref in self.insulating)

    # --- the tables

    @cached_property
    def _cases(self) -> tuple[Case, ...]:
        return tuple(
            Case(state, control, turned=turned)
            for state in self.states
            for control, turned in self._settings
        )

    @cached_property
    def _settings(self) -> tuple[tuple[Mapping[int, complex], bool], ...]:
        """Positions of controls, and the ways that windings may be poled."""
        ways = (False,) if self.network.windings.poled else (False, True)
        return tuple(product(self.network.control_settings, ways))

    @cached_property
    def _everywhere(self) -> tuple[str, ...]:
        return tuple(net for piece in self.network.pieces for net in self._ports(piece))

    @cached_property
    def _solver(self) -> Solver:
        return Solver(self.network, self.volts, self._everywhere)

    @cached_property
    def _solved(self) -> dict[str, tuple[Array, Array, Array]]:
        """By port: open volts, touch amperes, bench volts of every case, unknown parts left out."""
        seen = self._solver.solve(self._everywhere, self._cases)
        touch_a = body_a(seen.open_v, seen.behind_ohm, self.hertz)
        read_v = bench_v(seen.open_v, seen.behind_ohm, self.hertz)
        return {
            port: (np.abs(seen.open_v[k]), touch_a[k], read_v[k])
            for k, port in enumerate(self._everywhere)
        }

    def _table(self, piece: tuple[str, ...]) -> TouchTable:
        ports = self._ports(piece)
        settings = len(self._settings)
        touch_a = np.stack([self._solved[port][1] for port in ports])
        touch_a = touch_a.reshape(len(ports), len(self.states), settings)
        rows = []
        for k, state in enumerate(self.states):
            at, setting = np.unravel_index(int(np.argmax(touch_a[:, k])), touch_a[:, k].shape)
            case = k * settings + int(setting)
            open_v, ampere, read_v = (float(each[case]) for each in self._solved[ports[at]])
            read_a = read_v / abs(bench_ohm(self.hertz))
            rows.append(TouchRow(state, ports[at], open_v, ampere, read_v, read_a))
        return TouchTable(
            self.names(piece), piece, tuple(rows), self._is_live(piece),
            self._beside(piece), self._doubts(piece),
        )  # fmt: skip

    def _is_live(self, piece: Sequence[str]) -> bool:
        return not self.wiring.line_side.isdisjoint(piece)

    def names(self, piece: Sequence[str]) -> tuple[str, ...]:
        """What the text calls the metal: as `touchable` says, else CHASSIS and the nodes."""
        from netcheck.circuit.sides import net_of_name

        chassis = self.wiring.chassis
        said = [n for n in chassis.touchable or () if net_of_name(chassis, n) in piece]
        return tuple(dict.fromkeys(said or piece))

    def _beside(self, piece: Sequence[str]) -> tuple[str, ...]:
        """The parts with one end on the metal and the other elsewhere."""
        whole = next(w for w in self.network.whole_pieces if w[0] == piece[0])
        found: dict[str, None] = {}
        for k in sorted(self.network.variable) if not self._is_live(piece) else ():
            strand = self.network.strands[k]
            if strand.insulates and sum(net in whole for net in strand.element.nets) == 1:
                found[strand.ref] = None
        return tuple(found)

    def _doubts(self, piece: tuple[str, ...]) -> tuple[str, ...]:
        """Why the rows of a piece may tell too little."""
        said = [
            f"a part at {net} is not known"
            for net in sorted({*self.network.nets, *piece})
            if self.wiring.incomplete(net)
        ][:1]
        unknown = [s.ref for s in self.network.strands if s.siemens is None]
        if unknown:
            most = self.worst_a(piece, unknown_s=CONTACT_S)
            least = self.worst_a(piece)
            if abs(most - least) > _DOUBT_A:
                said.append(f"the value of {', '.join(dict.fromkeys(unknown))} is not known")
        wound = self.network.windings.unknown
        if wound and not self._is_live(piece):
            said.append(f"the volts of the windings of {', '.join(wound)} are not known")
        return tuple(said)

    # --- what other values would do

    def worst_a(self, piece: Sequence[str], *, unknown_s: complex = 0.0) -> float:
        """The most amperes of a piece over the states in which no part has failed."""
        states = [state for state in self.states if not state.failed]
        return float(self.by_state(piece, states, unknown_s=unknown_s).max())

    def by_state(
        self,
        piece: Sequence[str],
        states: Sequence[TouchState],
        scales: Sequence[Mapping[str, float]] = ({},),
        *,
        unknown_s: complex = 0.0,
    ) -> Array:
        """Amperes of a piece in each state, for each scaling of parts, (scales, states).

        Args:
            piece: nets of the metal, as in a table.
            states: the states to look at.
            scales: by part, how many times as well it conducts (0: taken out; twice the
                capacitance: 2; twice the ohms: 0.5). Several parts may be scaled at once.
            unknown_s: siemens taken for parts of unknown value.
        """
        asked = (
            tuple(piece), tuple(states), tuple(tuple(sorted(s.items())) for s in scales), unknown_s,
        )  # fmt: skip
        if asked not in self._answers:
            self._answers[asked] = self._by_state(piece, states, scales, unknown_s)
        return self._answers[asked]

    def _by_state(
        self,
        piece: Sequence[str],
        states: Sequence[TouchState],
        scales: Sequence[Mapping[str, float]],
        unknown_s: complex,
    ) -> Array:
        settings = self._settings
        cases = [
            Case(state, control, scale, unknown_s, turned)
            for scale in scales
            for state in states
            for control, turned in settings
        ]
        seen = self._solver.solve(self._ports(piece), cases)
        amperes = body_a(seen.open_v, seen.behind_ohm, self.hertz).max(axis=0)
        return np.asarray(amperes.reshape(len(scales), len(states), len(settings)).max(axis=2))

    def alone_a(self, table: TouchTable, state: TouchState) -> dict[str, float]:
        """What each part beside the metal passes by itself in a state, amperes, most first."""
        scales = [{other: 0.0 for other in table.beside if other != ref} for ref in table.beside]
        if not scales:
            return {}
        amperes = self.by_state(table.nets, [state], scales)[:, 0]
        found = dict(zip(table.beside, map(float, amperes), strict=True))
        return dict(sorted(found.items(), key=lambda item: -item[1]))
