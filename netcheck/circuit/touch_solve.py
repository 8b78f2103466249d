"""Solves the line-to-hand network for many states of a set at once.

Belongs here: what each state changes in the admittances, the stacked solve. Does not belong here:
which strands there are (touch_network.py), the table made of the answer (touch.py).

What no failure and no other value changes is eliminated once for each combination of switch
positions, so that the many states are solved on a handful of nets (G. Kron, Tensor Analysis of
Networks, 1939, from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from netcheck.circuit.phasor import Admittance, Seen, seen_from
from netcheck.circuit.touch_network import CONTACT_S, LEAK_S, Strand, TouchNetwork
from netcheck.circuit.touch_states import TouchState

__all__ = ["Case", "Solver"]

Complex = NDArray[np.complex128]
Switches = tuple[tuple[str, str], ...]

_GROUND = "(earth)"  # no text can name it
_CHUNK = 1024
"""So many states are solved in one stack: some megabytes."""


@dataclass(frozen=True, slots=True)
class Case:
    """One variant to solve: a state, controls as `control` says, parts that conduct `scales` times.

    `unknown_s`: siemens taken for the strands whose value is not known. `turned`: windings whose
    phase is not certain are poled the other way round.
    """

    state: TouchState
    control: Mapping[int, complex] = field(default_factory=dict)
    scales: Mapping[str, float] = field(default_factory=dict)
    unknown_s: complex = 0.0
    turned: bool = False


class Solver:
    """Solves cases of one network at one line voltage; `ports` are the nets looked from."""

    def __init__(self, network: TouchNetwork, line_v: float, ports: Sequence[str]) -> None:
        self.network = network
        self.line_v = line_v
        self.ports = tuple(ports)
        self._variable = sorted(network.variable)
        self._common: dict[Switches, Complex] = {}

    def solve(self, ports: Sequence[str], cases: Sequence[Case]) -> Seen:
        """Open volts rms and ohms behind each port in each case, (ports, cases).

        Raises:
            KeyError: a scale names a part that is not between line and metal.
        """
        if not ports or not cases:
            empty = np.zeros((len(ports), len(cases)), dtype=complex)
            return Seen(empty, empty)
        stacks = (cases[start : start + _CHUNK] for start in range(0, len(cases), _CHUNK))
        found = [self._stack(ports, stack) for stack in stacks]
        return Seen(
            np.concatenate([each.open_v for each in found], axis=1),
            np.concatenate([each.behind_ohm for each in found], axis=1),
        )

    # --- what stays

    @cached_property
    def _kept(self) -> tuple[str, ...]:
        """The nets that are left when what stays the same is eliminated."""
        network = self.network
        ends = {n for k in self._variable for n in network.strands[k].element.nets}
        poles, earth = network.wiring.line_poles, network.earth & network.nets
        common = {network.wiring.common or ""} & network.nets
        return tuple(sorted({*ends, *poles, *earth, *common, *self.ports}))

    def _static(self, switches: Switches) -> Complex:
        """Nodal siemens between the kept nets by all that stays the same, (kept, kept)."""
        if switches not in self._common:
            self._common[switches] = self._eliminated(dict(switches))
        return self._common[switches]

    @cached_property
    def _nets(self) -> tuple[str, ...]:
        return (*self._kept, *sorted(self.network.nets - set(self._kept)))

    @cached_property
    def _incidence(self) -> tuple[list[int], NDArray[np.int_], Complex]:
        """Of the strands that stay: their places, the numbers of their nets (2, n), siemens."""
        network = self.network
        index = {net: k for k, net in enumerate(self._nets)}
        places = [k for k in range(len(network.strands)) if k not in network.variable]
        elements = [network.strands[k].element for k in places]
        ends = np.array([[index[e.a] for e in elements], [index[e.b] for e in elements]], dtype=int)
        return places, ends, np.array([network.strands[k].siemens or 0.0 for k in places])

    def _eliminated(self, state: Mapping[str, str]) -> Complex:
        places, (first, last), siemens = self._incidence
        strands = self.network.strands
        closed = [self.network.is_closed(strands[k].element, state) for k in places]
        own = siemens * np.array(closed, dtype=float)
        matrix = np.zeros((len(self._nets), len(self._nets)), dtype=complex)
        for rows, columns, sign in ((first, first, 1), (last, last, 1), (first, last, -1)):
            np.add.at(matrix, (rows, columns), sign * own)
        np.add.at(matrix, (last, first), -own)
        inner, outer = slice(len(self._kept), None), slice(0, len(self._kept))
        left = matrix[outer, outer]
        if len(self._nets) == len(self._kept):
            return left
        held = matrix[inner, inner] + LEAK_S * np.eye(len(self._nets) - len(self._kept))
        passed = np.linalg.solve(held, matrix[inner, outer])
        return np.asarray(left - matrix[outer, inner] @ passed)

    # --- what changes

    def _stack(self, ports: Sequence[str], cases: Sequence[Case]) -> Seen:
        network, kept = self.network, self._kept
        poles = network.wiring.line_poles
        static = np.stack([self._static(case.state.switches) for case in cases])
        branches = [
            Admittance(kept[i], kept[j], -static[:, i, j])
            for i in range(len(kept))
            for j in range(i)
            if np.any(static[:, i, j])
        ]
        induced = self._induced(cases)
        changed = np.stack([self._siemens(case) for case in cases], axis=1)
        for k, row in zip(self._variable, changed, strict=True):
            element = network.strands[k].element
            emf_v = induced.get(k, 0.0)
            branches.append(Admittance(element.a, element.b, row, emf_v, ref=element.ref))
        for strand, on in self._lifts(cases).items():
            branches.append(Admittance(strand.element.a, strand.element.b, on * CONTACT_S))
        earthed = np.array([case.state.earthed for case in cases]) * (CONTACT_S + 0j)
        branches += [Admittance(net, _GROUND, earthed) for net in network.earth & set(kept) - poles]
        branches += [Admittance(net, _GROUND, LEAK_S) for net in kept if net not in poles]
        fixed: dict[str, complex | Complex] = {_GROUND: 0.0}
        for pole in poles:
            hot = np.array([case.state.plug.hot.get(pole, False) for case in cases])
            fixed[pole] = hot * complex(self.line_v)
        return seen_from(branches, fixed, ports, len(cases))

    def _siemens(self, case: Case) -> Complex:
        """The siemens of the variable strands in one case."""
        strands = self.network.strands
        unmoved = set(case.scales) - {strands[k].ref for k in self._variable}
        if unmoved:
            raise KeyError(f"{', '.join(sorted(unmoved))}: not between line and metal")
        driven = self.network.windings.drives(dict(case.state.switches))
        found = np.empty(len(self._variable), dtype=complex)
        for row, k in enumerate(self._variable):
            strand = strands[k]
            own = strand.siemens if strand.siemens is not None else case.unknown_s
            own = case.control.get(k, own) * case.scales.get(strand.ref, 1.0)
            stiff = strand.ref == case.state.failed or k in driven
            found[row] = CONTACT_S if stiff else own
        return found

    def _induced(self, cases: Sequence[Case]) -> dict[int, Complex]:
        """Volts rms that the line induces in the windings among the strands, (cases,) each."""
        windings, found = self.network.windings, dict[int, Complex]()
        if not windings.places:
            return found
        switches = dict.fromkeys(case.state.switches for case in cases)
        drives = {each: windings.drives(dict(each)) for each in switches}
        for number, case in enumerate(cases):
            hot = case.state.plug.hot
            for k, drive in drives[case.state.switches].items():
                across = float(hot.get(drive.high, False)) - float(hot.get(drive.low, False))
                phase = -1.0 if case.turned and not drive.poled else 1.0
                emf_v = found.setdefault(k, np.zeros(len(cases), dtype=complex))
                emf_v[number] = phase * drive.ratio * across * self.line_v
        return found

    def _lifts(self, cases: Sequence[Case]) -> dict[Strand, Complex]:
        """The rectifiers that conduct, each with the cases (as 1 or 0) in which it does."""
        switches = dict.fromkeys(case.state.switches for case in cases)
        lifted = {each: self.network.lifted(dict(each)) for each in switches}
        found: dict[Strand, Complex] = {}
        for k, case in enumerate(cases):
            strand = lifted[case.state.switches]
            if strand is not None:
                found.setdefault(strand, np.zeros(len(cases), dtype=complex))[k] = 1.0
        return found
