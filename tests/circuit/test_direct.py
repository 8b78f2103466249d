"""The engine: hand-solved networks, independent methods, and refusal of what did not settle."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.circuit.direct import Array, Change, Indices, Linear, Variant, solve


def _linear(
    count: int,
    parts: list[tuple[int, int, float]],
    fixed: dict[int, float],
    sources: dict[int, float] | None = None,
) -> Linear:
    a, b, ohm = zip(*parts, strict=True)
    source = np.zeros(count)
    for node, amperes in (sources or {}).items():
        source[node] = amperes
    return Linear(
        count,
        np.array(a, dtype=np.intp),
        np.array(b, dtype=np.intp),
        1 / np.array(ohm, dtype=float),
        source,
        tuple(fixed),
        tuple(fixed.values()),
    )


class Square:
    """I = k V^2 (V > 0) from its first node to its second: solved by hand as a quadratic."""

    def __init__(self, a: int, b: int, k: float) -> None:
        self.nodes = (a, b)
        self.k = k

    def evaluate(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        across = np.maximum(volts[:, 0] - volts[:, 1], 0.0)
        current, slope = self.k * across**2, 2 * self.k * across
        signs = np.array([1.0, -1.0])
        return current[:, None] * signs, slope[:, None, None] * np.outer(signs, signs)


class Step(Square):
    """A current that jumps: no solution lies on the jump."""

    def evaluate(self, volts: Array, variants: Indices) -> tuple[Array, Array]:
        current = np.where(volts[:, 0] > 50.0, 1e-3, 0.0)
        return current[:, None] * np.array([1.0, -1.0]), np.zeros((len(volts), 2, 2))


# 100 V - 10K - node 1 - 30K - ground
DIVIDER = [(0, 1, 10e3), (1, 2, 30e3)]


def test_a_divider_divides() -> None:
    found = solve(_linear(3, DIVIDER, {0: 100.0, 2: 0.0}), [], [Variant()])

    assert found.volts[0, 1] == pytest.approx(75.0, rel=1e-12)
    assert found.solved.all()


def test_a_source_drives_its_node() -> None:
    # 1 mA into 10K parallel 30K = 7.5K: 7.5 V
    found = solve(_linear(3, DIVIDER, {0: 0.0, 2: 0.0}, {1: 1e-3}), [], [Variant()])

    assert found.volts[0, 1] == pytest.approx(7.5, rel=1e-12)


def test_each_variant_is_the_network_it_says() -> None:
    linear = _linear(3, DIVIDER, {0: 100.0, 2: 0.0})
    variants = [
        Variant(),
        Variant((Change(1, 2, 1 / 30e3),)),  # a second 30K: 15K below, 60 V
        Variant((Change(0, 1, -1 / 10e3),)),  # the 10K open: nothing drives node 1
        Variant((Change(1, 2, 1e3),)),  # a short of 1 milliohm
        Variant(fixed_v=(200.0, 0.0)),
        Variant((Change(0, 1, 1 / 10e3), Change(1, 2, -1 / 60e3))),  # 5K over 60K
    ]

    found = solve(linear, [], variants)

    assert found.volts[:, 1] == pytest.approx(
        [75.0, 60.0, 0.0, 1e-5, 150.0, 100 * 60 / 65], rel=1e-6, abs=1e-9
    )


def test_a_quadratic_device_meets_its_hand_solution() -> None:
    # 10 V through 1K into I = 1e-3 V^2: V^2 + V - 10 = 0, V = (-1 + sqrt 41) / 2
    linear = _linear(3, [(0, 1, 1e3), (1, 2, 1e12)], {0: 10.0, 2: 0.0})

    found = solve(linear, [Square(1, 2, 1e-3)], [Variant()])

    assert found.volts[0, 1] == pytest.approx((-1 + 41**0.5) / 2, abs=1e-8)
    assert found.residual_a[0] < 1e-10


def test_what_does_not_settle_is_refused_and_named_and_costs_nobody_else() -> None:
    linear = _linear(3, [(0, 1, 100e3), (1, 2, 100e3)], {0: 0.0, 2: 0.0})
    quiet, jumping = Variant(fixed_v=(50.0, 0.0)), Variant(fixed_v=(120.0, 0.0))

    found = solve(linear, [Step(1, 2, 0.0)], [quiet, jumping])

    assert found.solved.tolist() == [True, False]
    assert found.unsettled == {1: (1,)}
    assert np.isnan(found.volts[1]).all()
    assert found.volts[0, 1] == pytest.approx(25.0)


@given(st.integers(0, 10_000))
def test_resistances_are_those_of_networkx(seed: int) -> None:
    random = np.random.default_rng(seed)
    count = int(random.integers(3, 12))
    parts = [(k, k + 1, float(10 ** random.uniform(1, 6))) for k in range(count - 1)]
    for _ in range(count):
        a, b = (int(x) for x in random.choice(count, 2, replace=False))
        parts.append((a, b, float(10 ** random.uniform(1, 6))))
    graph = nx.MultiGraph()
    graph.add_weighted_edges_from(parts, weight="ohm")
    expected = nx.resistance_distance(graph, 0, count - 1, weight="ohm", invert_weight=True)

    found = solve(_linear(count, parts, {0: 0.0}, {count - 1: 1e-3}), [], [Variant()])

    assert found.volts[0, count - 1] * 1e3 == pytest.approx(expected, rel=1e-9)


@given(st.integers(0, 10_000))
def test_a_variant_is_the_same_as_its_own_network(seed: int) -> None:
    """The rank-one way and the plain way give the same volts, devices included."""
    random = np.random.default_rng(seed)
    count = 8
    parts = [(k, k + 1, float(10 ** random.uniform(2, 6))) for k in range(count - 1)]
    parts += [(0, 4, 47e3), (2, 6, 1e6)]
    fixed = {0: 250.0, count - 1: 0.0}
    devices = [Square(2, 7, 1e-6), Square(5, 3, 1e-6)]
    changed = int(random.integers(len(parts)))
    a, b, ohm = parts[changed]
    other = ohm * float(10 ** random.uniform(-2, 2))
    direct = [*parts[:changed], (a, b, other), *parts[changed + 1 :]]

    by_change = solve(
        _linear(count, parts, fixed),
        devices,
        [Variant(), Variant((Change(a, b, 1 / other - 1 / ohm),))],
    )
    by_itself = solve(_linear(count, direct, fixed), devices, [Variant()])

    assert by_change.solved.all()
    assert by_change.volts[1] == pytest.approx(by_itself.volts[0], abs=1e-6)
