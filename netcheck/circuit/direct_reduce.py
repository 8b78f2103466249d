"""The linear network reduced to the ports, once for all variants, because they differ by little.

Belongs here: the elimination, and what each variant's changed conductances do to it. Does not
belong here: Newton steps (direct_ports.py), devices.

The nodal equations are G v + i(v) = s. The linear network is eliminated once: with Z the part of
inverse(G) between the ports and v0 the port volts with no device current, the ports obey
v = v0 - Z i(v). A changed resistor is a change of G of rank one, so Z and v0 of a variant follow
from those of the base (Sherman-Morrison-Woodbury; G. H. Golub and C. F. Van Loan, Matrix
Computations, section 2.1.4, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from netcheck.circuit.direct_types import Array, Indices, Linear, Variant

__all__ = ["Correction", "Reduced", "reduced"]


@dataclass(frozen=True)
class Correction:
    """What one variant's changes take off: of volts v `response` times what is `picked` of them.

    The volts across a changed part are taken first and divided then: across one that opens they
    are a small difference of large figures, and so is the divisor.
    """

    response: Array  # (n, k)
    unit: Array  # (n, k)
    core: Array  # (k, k)

    def picked(self, volts: Array) -> Array:
        """Amperes (k, ...) through the changes at volts (n,) or several columns of them (n, m)."""
        return np.asarray(np.linalg.solve(self.core, self.unit.T @ volts))

    def of(self, volts: Array) -> Array:
        """What is taken off volts (n,) or several columns of them (n, m)."""
        return np.asarray(self.response @ self.picked(volts))


@dataclass(frozen=True)
class Reduced:
    """The network of the base at all free nodes and at its ports, and what variants change.

    `at` are the ports among the free nodes. Volts for an ampere into each port: `full` (n, p) at
    the free nodes, `impedance` (p, p) at the ports [ohm]. `full_open` (B, n) are the volts of the
    free nodes with no device current, changes included. `corrections` has None where a variant
    changes no conductance.
    """

    at: Indices
    full: Array
    full_open: Array
    corrections: tuple[Correction | None, ...]

    @property
    def impedance(self) -> Array:
        """Of the base, (p, p)."""
        return np.asarray(self.full[self.at])

    @property
    def open_v(self) -> Array:
        """Port volts with no device current, (B, p)."""
        return np.asarray(self.full_open[:, self.at])

    def low_rank(self, row: int) -> tuple[Array, Array]:
        """What is to be taken off the impedance of the base as a product, (p, k) and (k, p)."""
        change = self.corrections[row]
        if change is None:
            return np.zeros((len(self.at), 0)), np.zeros((0, len(self.at)))
        return change.response[self.at], change.picked(self.full)

    def impedances(self, rows: Indices) -> Array:
        """The impedance of each of these variants, (n, p, p)."""
        found = np.repeat(self.impedance[None], len(rows), axis=0)
        for place, row in enumerate(rows):
            if self.corrections[row] is not None:
                left, right = self.low_rank(int(row))
                found[place] -= left @ right
        return found

    def all_volts(self, port_a: Array) -> Array:
        """Volts of all free nodes (B, n) from the amperes out of the ports (B, p)."""
        drawn = port_a @ self.full.T
        for row, change in enumerate(self.corrections):
            if change is not None:
                drawn[row] -= change.response @ (change.picked(self.full) @ port_a[row])
        return np.asarray(self.full_open - drawn)


def reduced(
    linear: Linear, free: Indices, ports: Indices, variants: Sequence[Variant], fixed_v: Array
) -> Reduced:
    """Eliminate the linear network once, then correct it for each variant's changes.

    Raises:
        numpy.linalg.LinAlgError: it leaves a node without any path to a fixed one.
    """
    place = np.full(linear.count, -1, dtype=np.intp)
    place[free] = np.arange(len(free))
    matrix = linear.matrix()
    inner = matrix[np.ix_(free, free)]
    to_fixed = matrix[np.ix_(free, np.array(linear.fixed, dtype=np.intp))]
    columns, keys = _change_columns(variants, place, len(free))
    units = np.zeros((len(free), len(ports)))
    units[place[ports], np.arange(len(ports))] = 1.0
    extra = _extra_sources(variants, place, len(free))
    sources = [linear.source_a[free][:, None], extra.T] if extra.any() else [
        linear.source_a[free][:, None]
    ]  # fmt: skip
    solved = np.linalg.solve(inner, np.concatenate([units, to_fixed, columns, *sources], axis=1))
    p, f, c = len(ports), len(linear.fixed), len(keys)
    full_open = solved[:, p + f + c] - fixed_v @ solved[:, p : p + f].T
    if extra.any():
        full_open = full_open + solved[:, p + f + c + 1 :].T
    by_change = solved[:, p + f : p + f + c]
    corrections: list[Correction | None] = []
    for row, variant in enumerate(variants):
        made, driven = _correction(variant, fixed_v[row], linear, columns, by_change, keys)
        if made is not None:
            open_v = full_open[row] + driven
            full_open[row] = open_v - made.of(open_v)
        corrections.append(made)
    return Reduced(place[ports], solved[:, :p], full_open, tuple(corrections))


def _extra_sources(variants: Sequence[Variant], place: Indices, count: int) -> Array:
    """The amperes that each variant's own sources bring to every free node, (B, count)."""
    extra = np.zeros((len(variants), count))
    for row, variant in enumerate(variants):
        for node, amperes in variant.sources:
            if place[node] >= 0:
                extra[row, place[node]] += amperes
    return extra


def _change_columns(
    variants: Sequence[Variant], place: Indices, count: int
) -> tuple[Array, dict[tuple[int, int], int]]:
    """One column e_a - e_b for every node pair that some variant changes."""
    keys: dict[tuple[int, int], int] = {}
    for variant in variants:
        for change in variant.changes:
            keys.setdefault((change.a, change.b), len(keys))
    columns = np.zeros((count, len(keys)))
    for (a, b), column in keys.items():
        if place[a] >= 0:
            columns[place[a], column] += 1.0
        if place[b] >= 0:
            columns[place[b], column] -= 1.0
    return columns, keys


def _correction(
    variant: Variant,
    fixed_v: Array,
    linear: Linear,
    columns: Array,
    by_change: Array,
    keys: dict[tuple[int, int], int],
) -> tuple[Correction | None, Array | float]:
    """What one variant's changed conductances do (Woodbury), and the volts that they drive.

    The fixed end of a changed part drives current through it: rhs - g u (v_a - v_b of fixed).
    """
    if not variant.changes:
        return None, 0.0
    volts_of = dict(zip(linear.fixed, fixed_v, strict=True))
    merged: dict[int, float] = {}
    offsets: dict[int, float] = {}
    for change in variant.changes:
        key = keys[(change.a, change.b)]
        merged[key] = merged.get(key, 0.0) + change.siemens
        offsets[key] = volts_of.get(change.a, 0.0) - volts_of.get(change.b, 0.0)
    used = [key for key, siemens in merged.items() if siemens]
    if not used:
        return None, 0.0
    unit, response = columns[:, used], by_change[:, used]
    siemens = np.array([merged[key] for key in used])
    drive = -siemens * np.array([offsets[key] for key in used])
    core = np.diag(1.0 / siemens) + unit.T @ response
    return Correction(response, unit, core), response @ drive
