"""The fixed point of the line side: what hangs on its own heat, and what rectifiers add.

Belongs here: ohms at their own volts, the rectifiers' cycles with the source they then see, what
hangs on unknown parts. Does not belong here: which states there are (line_side), reading a
solution (line_point).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from netcheck.circuit.elements import Kind
from netcheck.circuit.heater_law import LawKind
from netcheck.circuit.line_network import LineBranch, LineNetwork
from netcheck.circuit.line_point import LEAST_LIT, LineState
from netcheck.circuit.line_response import Responder, Response
from netcheck.circuit.line_waves import (
    SAMPLES,
    Waves,
    currents_of,
    droppers_as_ports,
    rms_across,
)
from netcheck.circuit.rectify_law import Array
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec
from netcheck.circuit.rectify_wave import source_waves
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved

if TYPE_CHECKING:
    from netcheck.circuit.operating import SupplyPoint

__all__ = ["LineSolver", "Solution", "Tap"]

_SETTLED = 1e-5
_MOST_TURNS = 60
_SAME_SOURCE, _SAME_OHM, _SMALL_OHM = 2e-3, 2e-2, 0.5
_MOST_CYCLES = 6
_MATTERS = 0.01
_OPEN_OHM = np.inf
_LEAST_OHM = 1.0
_FELT_OHM = 1e-2
_PLAIN = frozenset({Kind.CONTACT, Kind.STRAP, Kind.FUSE})


@dataclass(frozen=True)
class Tap:
    """A rectifier supply as the line side meets it: what it draws, between which nets."""

    supply: SupplyPoint
    pairs: tuple[tuple[str, str], ...]
    spec: RectifierSpec
    load_a: float


@dataclass(frozen=True)
class Solution:
    """All states of a batch, solved.

    `ohms` of every branch (S,). `currents` (S, N) flow at `ports`, from the first net of each
    through rectifier or diode to the second. `apart` (S, N) is what the line gives for currents
    that reach no part but the winding they are drawn from, and so are in no branch.
    """

    response: Response
    waves: Waves
    steady: Waves
    ohms: list[Array]
    ports: tuple[tuple[str, str], ...]
    currents: list[Array]
    apart: Array


class LineSolver:
    """The fixed point of ohms and cycles over a batch of states."""

    def __init__(
        self,
        wiring: Wiring,
        network: LineNetwork,
        states: Sequence[LineState],
        line: Mapping[str, float | None],
        taps: Sequence[list[Tap]],
    ) -> None:
        self._wiring = wiring
        self._network = network
        self._states = states
        self._taps = taps
        self._cold = np.array([state.cold for state in states])
        self._out: dict[str, list[int]] = {}
        for number, state in enumerate(states):
            for ref in state.out:
                self._out.setdefault(ref, []).append(number)
        self._line_v = np.array([line[s.line] or network.line_v for s in states])
        self._tubes = {
            e.ref for e in wiring.rectifiers if e.kind is Kind.STREAM
        }  # those whose heater must be lit for them to draw
        self._pairs = [
            pair for tap in (taps[0] if taps else ()) for pair in tap.pairs
            if set(pair) <= network.nets
        ]  # fmt: skip
        self._all = [*self._pairs, *droppers_as_ports(network.droppers)]
        self._responder = Responder(network, self._all)

    def solve(self) -> Solution:
        """Waves of every net, and what leads to them.

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
                return self._solution(response, currents, ohms)
            before, dark = now, darkened
        raise NotSolved(
            "what the rectifiers draw and what the line side gives them did not settle together"
        )

    def _solution(self, response: Response, currents: list[Array], ohms: list[Array]) -> Solution:
        nothing = [np.zeros_like(each) for each in currents]
        return Solution(
            response, Waves(response, currents), Waves(response, nothing), ohms,
            tuple(self._all), currents, self._apart(response),
        )  # fmt: skip

    def _apart(self, response: Response) -> Array:
        """What the line gives for the rectifiers that `_drawn` leaves out."""
        whole = np.zeros((len(self._states), SAMPLES))
        port = 0
        for number, tap in enumerate(self._taps[0] if self._taps else ()):
            pairs = [p for p in tap.pairs if p in self._pairs]
            if pairs and not any(self._felt[port : port + len(pairs)]):
                whole = whole + self._passed_on(number, tap, response, pairs[0])
            port += len(pairs)
        return whole

    def _passed_on(self, number: int, tap: Tap, response: Response, pair: tuple[str, str]) -> Array:
        """A rectifier's current as a transformer passes it on to the line, (S, N)."""
        own = [taps[number] for taps in self._taps]
        volts, ohm, emission = (
            np.array([float(t.spec.figure(name)[0]) for t in own])
            for name in ("volts", "source_ohm", "emission")
        )
        spec = replace(tap.spec, volts=volts, source_ohm=ohm, emission=emission)
        load_a = np.array(
            [0.0 if s.cold else t.load_a for s, t in zip(self._states, own, strict=True)]
        )
        waves = source_waves(spec, load_a, SAMPLES)
        half = SAMPLES // 2
        if tap.spec.kind is RectifierKind.FULL_WAVE:  # the other half of the winding
            waves = np.where(np.arange(SAMPLES) < half, waves, -waves)
        open_v = response.between(*pair)[0].real
        ratio = np.abs(spec.figure("volts")) / np.where(self._line_v > 0, self._line_v, 1.0)
        turned = -np.roll(waves, half, axis=1)
        return np.asarray(ratio[:, None] * np.where(open_v[:, None] < 0, turned, waves))

    def _respond(self, ohms: Sequence[Array]) -> Response:
        return self._responder(ohms, self._line_v)

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
        found = b.law.at(volts)
        if b.law.kind is not LawKind.LAMP:  # a lamp warms at once
            found[self._cold] = b.law.cold_ohm or b.law.ohm
        for state in self._out.get(b.ref, ()):
            found[state] = _OPEN_OHM
        return found

    # --- rectifiers

    def _felt_ports(self, response: Response) -> list[bool]:
        """Whether what each port draws reaches any part at all but the winding it draws from."""
        reached = [
            b for b in self._network.branches
            if b.element is not None and b.element.kind not in _PLAIN
        ]  # fmt: skip
        if not reached or not self._pairs:
            return [False] * len(self._pairs)
        shares = [response.port[b.a] - response.port[b.b] for b in reached]
        most = np.abs(np.stack(shares)).max(axis=(0, 2, 3), initial=0.0)
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
            or self._hangs_behind_diode(net, with_open, with_short)
        )

    def _hangs_behind_diode(self, net: str, with_open: Response, with_short: Response) -> bool:
        """Whether what diodes in series with heaters pass to a net hangs on unknown parts."""
        first = len(self._pairs)
        one, other = with_short.port[net][first:], with_open.port[net][first:]
        return bool(np.any(np.abs(one - other) > np.maximum(_MATTERS * np.abs(one), _LEAST_OHM)))

    def pulsed(self, ports: Sequence[tuple[str, str]], ohms: Sequence[Array]) -> frozenset[str]:
        """Nets that a rectifier's current moves, where that current is not known."""
        known = self._network.nets
        pairs = [p for p in ports if set(p) <= known]
        if not pairs:
            return frozenset()
        response = Responder(self._network, pairs)(ohms, self._line_v)
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
    tap: Tap,
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
