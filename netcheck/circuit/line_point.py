"""One solved state of the line side: volts, currents and watts over the computed cycle.

Belongs here: the states by name, reading a solution. Does not belong here: solving (line_solver),
asking for states of a set (line_side), judging.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from netcheck.circuit.elements import Element
from netcheck.circuit.line_network import LineBranch, LineNetwork
from netcheck.circuit.line_waves import Waves, line_wave
from netcheck.circuit.rectify_law import Array

if TYPE_CHECKING:
    from netcheck.circuit.line_solver import Solution

__all__ = ["LEAST_LIT", "LinePoint", "LineState"]

LEAST_LIT = 0.5
"""Below half its volts a heater gives no emission to speak of (common practice, no source)."""


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


class LinePoint:
    """One solved state of the line side. Figures are None where they are not known."""

    def __init__(
        self,
        state: LineState,
        network: LineNetwork,
        row: int,
        solution: Solution,
        doubtful: frozenset[str],
        pulsed: frozenset[str],
    ) -> None:
        self.state = state
        self.network = network
        self._row = row
        self._solution = solution
        self._waves = solution.waves
        self._ohms = solution.ohms
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

    @cached_property
    def _of(self) -> Mapping[str, list[tuple[Element, float]]]:
        """The elements of each part with their ohms."""
        found: dict[str, list[tuple[Element, float]]] = {}
        for element, (branch, ohm) in self.branches.items():
            found.setdefault(branch.ref, []).append((element, ohm))
        return found

    @cached_property
    def nets(self) -> frozenset[str]:
        """Every net that the line or a winding gives volts to."""
        return self._waves.nets | frozenset(self.network.behind)

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
        if not {a, b} <= self._waves.nets or {a, b} & self.unknown:
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
        found = self._of.get(ref)
        if not found:
            return None
        watts = 0.0
        for e, ohm in found:
            amperes = self.amperes(e)
            if amperes is None:
                return None
            watts += amperes**2 * ohm if np.isfinite(ohm) else 0.0
        return watts

    # --- at the line

    @property
    def line_v(self) -> float:
        """Volts rms (DC of a DC line) at the wall in this state."""
        return float(np.abs(self._solution.response.line[self.network.hot][self._row]))

    @property
    def has_windings(self) -> bool:
        """Whether a power transformer passes current on to the line."""
        return any(b.emf_v for b in self.network.branches)

    @cached_property
    def amperes_at_line(self) -> Array:
        """What the line gives over the cycle, (N,), but for a transformer's own loss."""
        found = self._met(self._waves) + self._passed_on(self._waves)
        for (a, b), amperes in zip(self._solution.ports, self._solution.currents, strict=True):
            sign = float(a == self.network.hot) - float(b == self.network.hot)
            found = found + sign * amperes[self._row]
        return np.asarray(found + self._solution.apart[self._row])

    @cached_property
    def steady_at_line(self) -> Array:
        """The same with no rectifier drawing anything."""
        return self._met(self._solution.steady) + self.steady_in_windings

    @cached_property
    def steady_in_windings(self) -> Array:
        """The share of `steady_at_line` that power transformers pass on."""
        return self._passed_on(self._solution.steady)

    def _met(self, waves: Waves) -> Array:
        """What leaves the hot pole through heaters, lamps, droppers and loads."""
        found = np.zeros(self._solution.apart.shape[1])
        hot = self.network.hot
        for b, ohms in zip(self.network.branches, self._ohms, strict=True):
            if hot not in (b.a, b.b) or b.emf_v:
                continue
            wave, ohm = waves.across(b.a, b.b)[self._row], float(ohms[self._row])
            flows = self._reactive(b, ohm, wave) if b.farad or b.henry else wave / ohm
            found = found + (flows if b.a == hot else -flows)
        return found

    def _passed_on(self, waves: Waves) -> Array:
        """What windings give, in the ratio of their volts to the line's."""
        found = np.zeros(self._solution.apart.shape[1])
        line = self._solution.response.line[self.network.hot]
        for b, ohms in zip(self.network.branches, self._ohms, strict=True):
            if b.emf_v and np.isfinite(ohms[self._row]):
                ratio = b.emf_v / self.network.line_v
                emf = line_wave(self.network, ratio * line)[self._row]
                gives = (emf - waves.across(b.a, b.b)[self._row]) / float(ohms[self._row])
                found = found + ratio * gives
        return found
