"""Sparse factors give what LAPACK gives, for matrices of one pattern side by side."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from netcheck.circuit import direct
from netcheck.circuit.direct import Linear, Variant, solve
from netcheck.circuit.direct_order import Sums, ordered
from netcheck.circuit.direct_sparse import factored, reduced_early
from netcheck.circuit.direct_wide import _WideWork

Array = NDArray[np.float64]
Indices = NDArray[np.intp]


def _pairs(count: int, rng: np.random.Generator) -> list[tuple[int, int]]:
    """A chain, a rail that half of it hangs on, and some cross connections."""
    chain = [(k, k + 1) for k in range(count - 1)]
    rail = [(0, k) for k in range(2, count, 2)]
    return [*chain, *rail, *(tuple(map(int, rng.integers(0, count, 2))) for _ in range(count // 4))]


def test_sums_add_what_has_the_same_key() -> None:
    rng = np.random.default_rng(2)
    keys, rows = rng.integers(0, 9, 40), rng.normal(size=(40, 3))
    sums = Sums(keys)
    found = dict(zip(sums.keys.tolist(), sums(rows[sums.order].copy()), strict=True))
    assert sorted(found) == sorted(set(keys.tolist()))
    for key, row in found.items():
        assert row == pytest.approx(rows[keys == key].sum(axis=0), abs=1e-12)


@pytest.mark.parametrize(("count", "seed"), [(1, 0), (5, 1), (40, 2), (90, 3), (200, 4)])
def test_factors_solve_as_a_whole_matrix_does(count: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    pairs, late = _pairs(count, rng), rng.integers(0, count, count // 3)
    order = ordered(count, pairs, late.tolist())
    whole = np.zeros((count, count, 4))
    for a, b in pairs:
        whole[a, b], whole[b, a] = rng.normal(size=(2, 4))  # no symmetry, as with tubes
    whole[np.arange(count), np.arange(count)] = np.abs(whole).sum(axis=1) + 1.0
    values = whole.reshape(count * count, 4)[order.keys]
    stepped = values.copy()
    reduced_early(order, stepped)
    right = rng.normal(size=(count, 4))
    expected = np.linalg.solve(whole.transpose(2, 0, 1), right.T[..., None])[..., 0].T
    at_once, in_two = factored(order, values), factored(order, stepped, early_done=True)
    assert at_once.solve(right) == pytest.approx(expected, abs=1e-11)
    assert in_two.solve(right) == pytest.approx(expected, abs=1e-11)
    some = np.array([3, 1, 3])
    assert at_once.kept(some).solve(right[:, some]) == pytest.approx(expected[:, some], abs=1e-11)


class _Crossed:
    """Takes away what two nodes conduct by themselves and drives each by the other's volts."""

    def __init__(self, a: int, b: int) -> None:
        self.nodes = (a, b)

    def evaluate(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        slope = np.array([[-1.0, 2.0], [2.0, -1.0]])
        return volts @ slope.T - 1.0, np.broadcast_to(slope, (len(volts), 2, 2))


def test_an_equation_that_needs_pivoting_is_solved_with_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The own slopes of every node are nothing: both of a pair are at 0.5 V by 2 v = 1."""
    monkeypatch.setattr(direct, "_LARGE", 0)
    pivoted: list[int] = []
    whole = _WideWork._pivoted

    def counted(work: _WideWork, column: int, slopes: Array, right: Array) -> Array:
        pivoted.append(column)
        return whole(work, column, slopes, right)

    monkeypatch.setattr(_WideWork, "_pivoted", counted)
    count = 20  # more than are solved whole anyway
    every, ground = np.arange(count), np.full(count, count)
    linear = Linear(count + 1, every, ground, np.ones(count), np.zeros(count + 1), (count,), (0.0,))
    devices = [_Crossed(k, k + 1) for k in range(0, count, 2)]
    found = solve(linear, devices, [Variant(), Variant()])
    assert found.solved.all()
    assert found.volts[:, :count] == pytest.approx(0.5, abs=1e-12)
    assert pivoted
