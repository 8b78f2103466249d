"""Volts and currents of heaters, lamps, droppers and cords on the line, in any named state.

Belongs here: states of the line side, the fixed point of what hangs on its own heat, the currents
that rectifiers add. Does not belong here: the network (line_network), its waves (line_waves),
heaters on direct current and volts of whole tubes (heaters), judging.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.heater_law import LawKind
from netcheck.circuit.line_network import LineBranch, LineNetwork, line_network
from netcheck.circuit.line_waves import (
    SAMPLES,
    Response,
    Waves,
    currents_of,
    droppers_as_ports,
    respond,
    rms_across,
    waves_of,
)
from netcheck.circuit.rectify_law import Array
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec
from netcheck.circuit.rectify_wave import source_waves
from netcheck.circuit.states import NOMINAL, State
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved

if TYPE_CHECKING:
    from netcheck.circuit.operating import Operating, Point, SupplyPoint

__all__ = ["LEAST_LIT", "LinePoint", "LineSide", "LineState"]

LEAST_LIT = 0.5
"""Below half its volts a heater gives no emission to speak of (common practice, no source)."""

_SETTLED = 1e-5
_MOST_TURNS = 60
_SAME_SOURCE, _SAME_OHM, _SMALL_OHM = 2e-3, 2e-2, 0.5
_MOST_CYCLES = 6
_MATTERS = 0.01
_OPEN_OHM = np.inf
_LEAST_OHM = 1.0
_FELT_OHM = 1e-2
_PLAIN = frozenset({Kind.CONTACT, Kind.STRAP, Kind.FUSE})


@dataclass(frozen=True, slots=True)
class LineState:
    """A state of the line side: `line` is nominal, high or low, `out` parts that are open.

    `cold`: the instant after switch-on, with every heater cold and no tube conducting; lamps are
    at their heat (a lamp is within a tenth of a second, a heater takes ten).
    """

    name: str = "nominal"
    line: str = "nominal"
    out: tuple[str, ...] = ()
    cold: bool = False


@dataclass(frozen=True)
class _Tap:
    """A rectifier supply as the line side meets it: what it draws, between which nets."""

    supply: SupplyPoint
    pairs: tuple[tuple[str, str], ...]
    spec: RectifierSpec
    load_a: float


class LineSide:
    """The line side of one set; each state is solved once."""

    def __init__(self, wiring: Wiring, operating: Operating) -> None:
        self._wiring = wiring
        self._operating = operating
        self._found: dict[LineState, LinePoint | NotSolved] = {}

    def point(self, state: LineState = LineState()) -> LinePoint:
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
            lines = {"high": State("line high", line_v=self._operating.line["high"]),
                     "low": State("line low", line_v=self._operating.line["low"])}  # fmt: skip
            asked = [lines.get(s.line, NOMINAL) for s in new]
            self._found.update(self._solve(new, self._operating.tried(asked)))
        return tuple(self._found[state] for state in states)

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

    def _taps(self, point: Point) -> list[_Tap]:
        return [
            _Tap(s, s.source.drawn, s.supplies.spec_of(s.line_row), max(s.amperes, 0.0))
            for s in point.supplies
            if s.source.drawn
        ]

    def _network(self, taps: Sequence[_Tap], unsolved: bool) -> LineNetwork:
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
        self, states: Sequence[LineState], taps: Sequence[list[_Tap]], unsolved: bool
    ) -> dict[LineState, LinePoint | NotSolved]:
        network = self._network(taps[0] if taps else (), unsolved)
        solver = _Solver(self._wiring, network, states, self._operating.line, taps)
        waves, ohms = solver.solve()
        doubtful = solver.doubtful(ohms)
        pulsed = solver.pulsed(self._possible_ports(), ohms) if unsolved else frozenset()
        return {
            state: LinePoint(state, network, row, waves, ohms, doubtful, pulsed)
            for row, state in enumerate(states)
        }


class _Solver:
    """The fixed point of ohms and cycles over a batch of states."""

    def __init__(
        self,
        wiring: Wiring,
        network: LineNetwork,
        states: Sequence[LineState],
        line: Mapping[str, float | None],
        taps: Sequence[list[_Tap]],
    ) -> None:
        self._wiring = wiring
        self._network = network
        self._states = states
        self._taps = taps
        self._line_v = np.array([line[s.line] or network.line_v for s in states])
        self._tubes = {
            e.ref for e in wiring.rectifiers if e.kind is Kind.STREAM
        }  # those whose heater must be lit for them to draw
        self._pairs = [
            pair for tap in (taps[0] if taps else ()) for pair in tap.pairs
            if set(pair) <= network.nets
        ]  # fmt: skip
        self._all = [*self._pairs, *droppers_as_ports(network.droppers)]

    def solve(self) -> tuple[Waves, list[Array]]:
        """Waves of every net, and the ohms of every branch, (S,).

        What the rectifiers draw hangs on the source they see, and that on the heat of lamp and
        heaters, which hangs on what the rectifiers draw: both are taken in turn until they agree.
        """
        ohms = self._rated_ohms()
        response = self._respond(ohms)
        self._felt = self._felt_ports(response)
        first = before = self._sources(response)
        dark: frozenset[tuple[int, str]] = frozenset()
        for _ in range(_MOST_CYCLES):
            drawn = self._drawn(first, before, dark)
            ohms, response, currents = self._settled(ohms, drawn)
            now, darkened = self._sources(response), self._dark(ohms, response, currents)
            if darkened == dark and _alike(before, now):
                return waves_of(response, currents), ohms
            before, dark = now, darkened
        raise NotSolved(
            "what the rectifiers draw and what the line side gives them did not settle together"
        )

    def _respond(self, ohms: Sequence[Array]) -> Response:
        return respond(self._network, ohms, self._line_v, self._all)

    def _settled(
        self, ohms: list[Array], drawn: Sequence[Array]
    ) -> tuple[list[Array], Response, list[Array]]:
        """The ohms that belong to the volts they lead to, with all currents.

        V grows at most in step with R and R only as V^0.42, so plain iteration closes in.
        """
        branches = self._network.branches
        varying = [k for k, b in enumerate(branches) if b.law is not None and b.law.varies]
        pairs = [(branches[k].a, branches[k].b) for k in varying]
        for _ in range(_MOST_TURNS):
            response = self._respond(ohms)
            currents = currents_of(response, drawn)
            volts = rms_across(response, currents, pairs)
            newer = [self._ohms(branches[k], v) for k, v in zip(varying, volts, strict=True)]
            moved, used = 0.0, ohms
            for k, ohm in zip(varying, newer, strict=True):
                there = np.isfinite(ohm)
                change = np.abs(ohm[there] / ohms[k][there] - 1.0)
                moved = max(moved, float(np.max(change, initial=0.0)))
                ohms = [*ohms[:k], ohm, *ohms[k + 1 :]]
            if moved < _SETTLED:
                return used, response, currents
        raise NotSolved("the resistance of heaters and lamps did not settle at their own volts")

    def _rated_ohms(self) -> list[Array]:
        """Every branch at its rated volts; of unknown ohms or taken out: open."""
        whole = np.ones(len(self._states))
        return [
            whole * _OPEN_OHM if b.law is None else self._ohms(b, b.law.rated_v * whole)
            for b in self._network.branches
        ]

    def _ohms(self, b: LineBranch, volts: Array) -> Array:
        """Ohms of a branch in every state at its rms volts, (S,)."""
        if b.law is None:
            return np.full(len(self._states), _OPEN_OHM)
        warms_at_once = b.law.kind is LawKind.LAMP
        cold = np.array([s.cold and not warms_at_once for s in self._states])
        out = np.array([b.ref in s.out for s in self._states])
        start_ohm = b.law.cold_ohm or b.law.ohm
        return np.where(out, _OPEN_OHM, np.where(cold, start_ohm, b.law.at(volts)))

    # --- rectifiers

    def _felt_ports(self, response: Response) -> list[bool]:
        """Whether what each port draws reaches any part at all but the winding it draws from."""
        shares = [
            np.abs(response.between(b.a, b.b)[1]).max(axis=(1, 2), initial=0.0)
            for b in self._network.branches
            if b.element is not None and b.element.kind not in _PLAIN
        ]
        if not shares or not self._pairs:
            return [False] * len(self._pairs)
        most = np.max(np.stack(shares), axis=0)
        return [bool(most[k] > _FELT_OHM) for k in range(len(self._pairs))]

    def _sources(self, response: Response) -> list[tuple[Array, Array]]:
        """Volts rms (signed) and ohms that each port shows, (S,) each."""
        found = []
        for k, (a, b) in enumerate(self._pairs):
            line, port = response.between(a, b)
            found.append((line.real, -port[k, :, 0].real))
        return found

    def _drawn(
        self,
        first: Sequence[tuple[Array, Array]],
        now: Sequence[tuple[Array, Array]],
        dark: frozenset[tuple[int, str]],
    ) -> list[Array]:
        """What each port draws, (S, N): the cycle with the source as it now is.

        The supply's own figures hold for parts at their rated ohms; they are changed by as much as
        the port's have changed since.
        """
        found: list[Array] = []
        port = 0
        for number, tap in enumerate(self._taps[0] if self._taps else ()):
            pairs = [p for p in tap.pairs if p in self._pairs]
            if not pairs:
                continue
            if not any(self._felt[port : port + len(pairs)]):
                found += [np.zeros((len(self._states), SAMPLES)) for _ in pairs]
                port += len(pairs)
                continue
            own = [taps[number] for taps in self._taps]
            (v0, r0), (v1, r1) = first[port], now[port]
            scale = np.where(np.abs(v0) > 1e-9, v1 / np.where(v0 == 0.0, 1.0, v0), 1.0)
            spec = replace(
                tap.spec,
                volts=np.array([float(t.spec.figure("volts")[0]) for t in own]) * np.abs(scale),
                source_ohm=np.maximum(
                    np.array([float(t.spec.figure("source_ohm")[0]) for t in own]) + r1 - r0, 0.0
                ),
                emission=np.array([float(t.spec.figure("emission")[0]) for t in own]),
            )
            load_a = np.array([
                0.0 if s.cold or any((row, ref) in dark for ref in tap.supply.source.refs)
                else t.load_a
                for row, (s, t) in enumerate(zip(self._states, own, strict=True))
            ])  # fmt: skip
            waves = source_waves(spec, load_a, SAMPLES)
            found += _by_port(tap, pairs, waves, now[port : port + len(pairs)])
            port += len(pairs)
        return found

    def _dark(
        self, ohms: Sequence[Array], response: Response, currents: Sequence[Array]
    ) -> frozenset[tuple[int, str]]:
        """States and rectifier tubes whose heater has less than half its volts."""
        own = [
            b for b in self._network.branches
            if b.ref in self._tubes and b.law is not None and b.law.kind is LawKind.HEATER
        ]  # fmt: skip
        volts = rms_across(response, currents, [(b.a, b.b) for b in own])
        return frozenset(
            (row, b.ref)
            for row, state in enumerate(self._states)
            for b, across in zip(own, volts, strict=True)
            if b.ref in state.out
            or (b.law is not None and across[row] < LEAST_LIT * b.law.rated_v and not _tap(b))
        )

    # --- what is not known

    def doubtful(self, ohms: Sequence[Array]) -> frozenset[str]:
        """Nets whose volts hang on parts of unknown ohms: compared open and nearly shorted."""
        if not self._network.unknown:
            return frozenset()
        other = [
            np.full_like(ohm, _LEAST_OHM) if b.law is None else ohm
            for b, ohm in zip(self._network.branches, ohms, strict=True)
        ]
        with_open, with_short = self._respond(ohms), self._respond(other)
        return frozenset(
            net
            for net, volts in with_short.line.items()
            if net not in with_open.line
            or np.any(np.abs(volts - with_open.line[net]) > _MATTERS * self._line_v)
        )

    def pulsed(self, ports: Sequence[tuple[str, str]], ohms: Sequence[Array]) -> frozenset[str]:
        """Nets that a rectifier's current moves, where that current is not known."""
        known = self._network.nets
        pairs = [p for p in ports if set(p) <= known]
        if not pairs:
            return frozenset()
        response = respond(self._network, ohms, self._line_v, pairs)
        most = max(float(np.max(np.abs(v))) for v in response.port.values())
        return frozenset(
            net for net, v in response.port.items()
            if np.any(np.abs(v) > max(_MATTERS * most, _LEAST_OHM))
        )  # fmt: skip


def _tap(b: LineBranch) -> bool:
    """Whether a branch is the section of a heater that a dial lamp lies across."""
    return b.element is not None and b.element.terminals[-1] == "tap"


def _alike(before: Sequence[tuple[Array, Array]], now: Sequence[tuple[Array, Array]]) -> bool:
    """Whether the sources that rectifiers see are the same: volts, and ohms beside all others."""
    for (v0, r0), (v1, r1) in zip(before, now, strict=True):
        if np.any(np.abs(v1 - v0) > _SAME_SOURCE * np.abs(v0)):
            return False
        if np.any(np.abs(r1 - r0) > np.maximum(_SAME_OHM * np.abs(r0), _SMALL_OHM)):
            return False
    return True


def _by_port(
    tap: _Tap,
    pairs: Sequence[tuple[str, str]],
    waves: Array,
    sources: Sequence[tuple[Array, Array]],
) -> list[Array]:
    """The source's current as each plate's net draws it: in which half follows from its sign.

    Plates abreast share it; those of the other half of a winding draw in the other half cycle.
    """
    half = waves.shape[1] // 2
    up = [bool(np.all(volts >= 0.0)) for volts, _ in sources]
    if tap.spec.kind is not RectifierKind.FULL_WAVE:
        return [(waves if own else np.roll(waves, half, axis=1)) / len(pairs) for own in up]
    first = np.arange(waves.shape[1]) < half
    return [np.where(first if own else ~first, waves, 0.0) / up.count(own) for own in up]


class LinePoint:
    """One solved state of the line side. Figures are None where they are not known."""

    def __init__(
        self,
        state: LineState,
        network: LineNetwork,
        row: int,
        waves: Waves,
        ohms: Sequence[Array],
        doubtful: frozenset[str],
        pulsed: frozenset[str],
    ) -> None:
        self.state = state
        self.network = network
        self._row = row
        self._waves = waves
        self._ohms = ohms
        self._doubtful = doubtful
        self._pulsed = pulsed

    @cached_property
    def branches(self) -> Mapping[Element, tuple[LineBranch, float]]:
        """Each element of the network with its branch and its ohms in this state."""
        return {
            b.element: (b, float(ohm[self._row]))
            for b, ohm in zip(self.network.branches, self._ohms, strict=True)
            if b.element is not None
        }

    @property
    def nets(self) -> frozenset[str]:
        """Every net that the line or a winding gives volts to."""
        return frozenset(self._waves.volts) | frozenset(self.network.behind)

    @property
    def unknown(self) -> frozenset[str]:
        """Nets whose volts are not known: see `why_unknown`."""
        return self._doubtful | self._pulsed

    def why_unknown(self, nets: Iterable[str]) -> str | None:
        """Why the volts between some nets are not known, None if they are."""
        chosen = frozenset(nets)
        if chosen & self._doubtful:
            refs = ", ".join(self.network.unknown)
            return f"the ohms or position of {refs} are not stated"
        if chosen & self._pulsed:
            return "the rectifier's current, which flows there too, is not solved"
        return None

    def wave(self, a: str, b: str) -> Array | None:
        """Volts of one net against another over the cycle, (N,); None where not known."""
        a, b = (self.network.behind.get(net, net) for net in (a, b))
        if a not in self._waves.volts or b not in self._waves.volts or {a, b} & self.unknown:
            return None
        return np.asarray(self._waves.across(a, b)[self._row])

    def held_by(self, net: str) -> str | None:
        """The net that was held at nothing in the piece a net belongs to, None on the line."""
        around, queue = {net}, [self.network.behind.get(net, net)]
        while queue:
            here = queue.pop()
            if here in self.network.pieces:
                return here
            beside = [b for b in self.network.branches if here in (b.a, b.b)]
            new = {n for b in beside for n in (b.a, b.b)} - around
            around |= new
            queue += sorted(new)
        return None

    def volts(self, a: str, b: str) -> float | None:
        """Volts rms of one net against another."""
        wave = self.wave(a, b)
        return None if wave is None else float(np.sqrt(np.mean(wave**2)))

    def across(self, e: Element) -> float | None:
        """Volts rms across an element."""
        return self.volts(e.a, e.b) if e in self.branches else None

    def current_wave(self, e: Element) -> Array | None:
        """Amperes through an element from `a` to `b` over the cycle, (N,)."""
        found = self.branches.get(e)
        wave = self.wave(e.a, e.b)
        if found is None or wave is None:
            return None
        branch, ohm = found
        if branch.farad or branch.henry:
            return self._reactive(branch, ohm, wave)
        return wave / ohm

    def _reactive(self, branch: LineBranch, ohm: float, wave: Array) -> Array:
        lines = np.fft.rfft(wave)
        omega = 2j * np.pi * self.network.hertz * np.arange(lines.size)
        siemens = 1 / ohm + omega * branch.farad if branch.farad else 1 / (
            ohm + omega * branch.henry
        )  # fmt: skip
        return np.asarray(np.fft.irfft(lines * siemens, wave.size))

    def amperes(self, e: Element) -> float | None:
        """Amperes rms through an element, over the computed cycle."""
        wave = self.current_wave(e)
        return None if wave is None else float(np.sqrt(np.mean(wave**2)))

    def together(self, abreast: Sequence[Element]) -> float | None:
        """Amperes rms through elements that join the same two nets, in sum."""
        whole = np.zeros(1)
        for e in abreast:
            wave = self.current_wave(e)
            if wave is None:
                return None
            whole = whole + (wave if e.a == abreast[0].a else -wave)
        return float(np.sqrt(np.mean(whole**2)))

    def watts(self, ref: str) -> float | None:
        """Watts that a part's elements turn into heat; None if none is here or one not known."""
        found = [(e, ohm) for e, (b, ohm) in self.branches.items() if b.ref == ref]
        if not found:
            return None
        watts = 0.0
        for e, ohm in found:
            amperes = self.amperes(e)
            if amperes is None:
                return None
            watts += amperes**2 * ohm if np.isfinite(ohm) else 0.0
        return watts
