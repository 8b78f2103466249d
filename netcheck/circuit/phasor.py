"""One sine of one frequency in a network of admittances, because line-side questions are AC.

Belongs here: nodal equations with complex admittances, fixed nodes, ideal windings on one core, a
batch of variants, and what stands behind a pair of nets (Thevenin). Does not belong here: which
parts make the network (other modules), rectifier pulses, any judgement.

The equations are the modified nodal ones: Y v + A j = s for the nets, and for a winding coupled
to another v_ab - r v_cd = 0 with its current j; the magnetizing current is left out. (C.-W. Ho,
A. E. Ruehli, P. A. Brennan, The modified nodal approach to network analysis, IEEE Trans. Circuits
and Systems, CAS-22, 1975, 504-509; from memory.)
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from netcheck.circuit.pieces import pieces

__all__ = ["Admittance", "Coupling", "Phasors", "Seen", "phasors", "seen_from"]

Complex = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class Admittance:
    """A branch of the network.

    Siemens between `a` and `b`; `emf_v` volts rms in series raise `a` over `b`. Both are complex:
    a number, or (B,) for a batch of variants. `ref` and `path` name what it stands for.
    """

    a: str
    b: str
    siemens: complex | Complex
    emf_v: complex | Complex = 0.0
    ref: str = ""
    path: str = ""


@dataclass(frozen=True, slots=True)
class Coupling:
    """An ideal winding: volts over `secondary` (a, b) are `ratio` times those over `primary`."""

    primary: tuple[str, str]
    secondary: tuple[str, str]
    ratio: float
    ref: str = ""


@dataclass(frozen=True)
class Phasors:
    """Complex volts rms by net, (B,) each; nets without any path to a fixed one are `floating`."""

    volts: Mapping[str, Complex]
    floating: frozenset[str]
    branches: tuple[Admittance, ...]

    def between(self, a: str, b: str) -> Complex | None:
        """Volts of `a` over `b`; None where either is floating or not in the network."""
        if a == b:
            size = len(next(iter(self.volts.values()), np.zeros(1)))
            return np.zeros(size, dtype=complex)
        one, other = self.volts.get(a), self.volts.get(b)
        return None if one is None or other is None else one - other

    def through(self, branch: Admittance) -> Complex | None:
        """Amperes rms from `a` to `b` in a branch; None where it floats."""
        across = self.between(branch.a, branch.b)
        return None if across is None else (across - branch.emf_v) * branch.siemens


@dataclass(frozen=True)
class Seen:
    """What stands behind nets against the reference: open volts rms and ohms, (ports, B) each."""

    open_v: Complex
    behind_ohm: Complex


def phasors(
    branches: Sequence[Admittance],
    fixed: Mapping[str, complex | Complex],
    couplings: Sequence[Coupling] = (),
    injected_a: Mapping[str, complex | Complex] | None = None,
    variants: int = 1,
) -> Phasors:
    """Solve the network for the volts of its nets.

    Args:
        branches: what joins the nets; a branch of zero siemens joins nothing.
        fixed: volts rms of the nets that are held (the line, the reference at 0).
        couplings: ideal windings.
        injected_a: amperes rms pushed into nets from the reference.
        variants: how many variants there are; every figure is a number or an array of so many.

    Raises:
        numpy.linalg.LinAlgError: two couplings contradict each other, or a fixed pair.
    """
    held = _held(branches, couplings, fixed)
    volts = {net: np.full(variants, v, dtype=complex) for net, v in fixed.items()}
    live = [b for b in branches if b.a in held and b.b in held]
    windings = [c for c in couplings if {*c.primary, *c.secondary} <= held]
    free = held - set(fixed)
    injected = {net: a for net, a in (injected_a or {}).items() if net in free}
    for nets, some, wound in _blocks(free, live, windings):
        index = {net: k for k, net in enumerate(nets)}
        size = len(nets) + len(wound)
        matrix = np.zeros((variants, size, size), dtype=complex)
        source = np.zeros((variants, size), dtype=complex)
        for each in some:
            _stamp(matrix, source, each, index, volts)
        for row, winding in enumerate(wound, start=len(nets)):
            _couple(matrix, source, winding, row, index, volts)
        for net in injected.keys() & index.keys():
            source[:, index[net]] += injected[net]
        found = np.linalg.solve(matrix, source[..., None])[..., 0]
        volts.update((net, found[:, k]) for net, k in index.items())
    named = {net for each in branches for net in (each.a, each.b)}
    named |= {net for c in couplings for net in (*c.primary, *c.secondary)}
    return Phasors(volts, frozenset(named - held), tuple(branches))


def seen_from(
    branches: Sequence[Admittance],
    fixed: Mapping[str, complex | Complex],
    ports: Sequence[str],
    variants: int = 1,
) -> Seen:
    """Open volts and ohms of nets against the reference at 0 V (L. Thevenin's theorem).

    Args:
        branches: what joins the nets, without sources of their own.
        fixed: volts rms of the nets that are held; a number, or (B,) for the variants.
        ports: the nets to look from; a held one shows its volts and 0 ohm.
        variants: how many variants the admittances and volts hold.

    Raises:
        KeyError: a port that no branch or held net leads to.
        numpy.linalg.LinAlgError: a net floats in one of the variants (give it a leak).
    """
    nets = sorted(_held(branches, (), fixed) - set(fixed))
    index = {net: k for k, net in enumerate(nets)}
    volts = {net: np.full(variants, v, dtype=complex) for net, v in fixed.items()}
    size = len(nets)
    matrix = np.zeros((variants, size, size), dtype=complex)
    source = np.zeros((variants, size), dtype=complex)
    for each in branches:
        if each.a in volts or each.a in index:
            _stamp(matrix, source, each, index, volts)
    free = [port for port in dict.fromkeys(ports) if port not in fixed]
    right = np.zeros((variants, size, len(free) + 1), dtype=complex)
    right[:, :, 0] = source
    for column, port in enumerate(free, start=1):
        right[:, index[port], column] = 1.0
    found = np.linalg.solve(matrix, right) if size else right
    open_v = np.zeros((len(ports), variants), dtype=complex)
    ohm = np.zeros_like(open_v)
    for row, port in enumerate(ports):
        if port in fixed:
            open_v[row] = volts[port]
            continue
        open_v[row] = found[:, index[port], 0]
        ohm[row] = found[:, index[port], 1 + free.index(port)]
    return Seen(open_v, ohm)


_Block = tuple[list[str], list[Admittance], list[Coupling]]


def _blocks(
    free: set[str], branches: Iterable[Admittance], couplings: Iterable[Coupling]
) -> list[_Block]:
    """The network apart where held nets cut it: nets, branches and couplings of each block.

    A hundred heaters across one line are a hundred networks of a net or two. What joins held nets
    only decides nothing; a coupling between them is a block of its own, with its current alone.
    """
    ends = [(b, [net for net in (b.a, b.b) if net in free]) for b in branches]
    wound = [(c, [net for net in (*c.primary, *c.secondary) if net in free]) for c in couplings]
    joined = [each[1] for each in (*ends, *wound) if each[1]]
    found: list[_Block] = []
    block: dict[str, _Block] = {}
    for piece in pieces(sorted(free), ((nets[0], net) for nets in joined for net in nets[1:])):
        one: _Block = (sorted(piece), [], [])
        found.append(one)
        block.update(dict.fromkeys(piece, one))
    for branch, nets in ends:
        if nets:
            block[nets[0]][1].append(branch)
    for coupling, nets in wound:
        if nets:
            block[nets[0]][2].append(coupling)
        else:
            found.append(([], [], [coupling]))
    return found


def _held(
    branches: Iterable[Admittance], couplings: Sequence[Coupling], fixed: Iterable[str]
) -> set[str]:
    """Nets with a path to a fixed one; a winding's two ends are joined through its partner."""
    pairs = [(b.a, b.b) for b in branches if np.any(np.asarray(b.siemens))]
    pairs += [pair for c in couplings for pair in (c.primary, c.secondary)]
    joined = pieces(fixed, pairs)
    return {net for piece in joined if not piece.isdisjoint(fixed) for net in piece}


def _stamp(
    matrix: Complex,
    source: Complex,
    branch: Admittance,
    index: Mapping[str, int],
    fixed_v: Mapping[str, Complex],
) -> None:
    if branch.a == branch.b:
        return
    siemens = branch.siemens
    ends = ((branch.a, branch.b, 1.0), (branch.b, branch.a, -1.0))
    for net, other, sign in ends:
        row = index.get(net)
        if row is None:
            continue
        matrix[:, row, row] += siemens
        source[:, row] += sign * branch.emf_v * siemens
        if other in index:
            matrix[:, row, index[other]] -= siemens
        else:
            source[:, row] += siemens * fixed_v[other]


def _couple(
    matrix: Complex,
    source: Complex,
    winding: Coupling,
    row: int,
    index: Mapping[str, int],
    fixed_v: Mapping[str, Complex],
) -> None:
    (a, b), (c, d), ratio = winding.secondary, winding.primary, winding.ratio
    for net, factor in ((a, 1.0), (b, -1.0), (c, -ratio), (d, ratio)):
        column = index.get(net)
        if column is None:
            source[:, row] -= factor * fixed_v[net]
            continue
        matrix[:, row, column] += factor
        # The winding's current leaves `a` by `factor` amperes for each of the coupling's.
        matrix[:, column, row] += factor
