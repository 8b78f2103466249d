"""Pieces, ways and blocks of a graph: each the same as what networkx finds.

Stressed: many small graphs by chance, with pairs of one node, nodes without any pair, several
pieces, chains of blocks. Left out: what rules make of them (test_leads.py).
"""

from __future__ import annotations

from itertools import pairwise

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from netcheck.circuit.pieces import block_of, neighbours, pieces, way

PAIRS = st.lists(st.tuples(st.integers(0, 11), st.integers(0, 11)), max_size=22)


def simple(pairs: list[tuple[int, int]]) -> nx.Graph[int]:
    graph: nx.Graph[int] = nx.Graph(pairs)
    graph.remove_edges_from([(a, a) for a, _ in pairs if graph.has_edge(a, a)])
    return graph


@given(PAIRS, st.lists(st.integers(0, 14)))
def test_pieces(pairs: list[tuple[int, int]], alone: list[int]) -> None:
    graph = simple(pairs)
    graph.add_nodes_from(alone)
    found = pieces(alone, pairs)
    assert sorted(map(sorted, found)) == sorted(map(sorted, nx.connected_components(graph)))


@given(PAIRS, st.integers(0, 11), st.integers(0, 11))
def test_a_way_is_as_short_as_any(pairs: list[tuple[int, int]], start: int, end: int) -> None:
    graph = simple(pairs)
    found = way(neighbours(pairs), start, end)
    if start in graph and end in graph and nx.has_path(graph, start, end):
        assert found[0] == start
        assert found[-1] == end
        assert len(found) == 1 + nx.shortest_path_length(graph, start, end)
        assert all(graph.has_edge(a, b) for a, b in pairwise(found))
    else:
        assert found == []


@given(PAIRS)
def test_the_block_of_every_pair(pairs: list[tuple[int, int]]) -> None:
    graph = simple(pairs)
    near = neighbours(pairs)
    for edges in nx.biconnected_component_edges(graph):
        block = {frozenset(edge) for edge in edges}
        for a, b in edges:
            for first, second in ((a, b), (b, a)):
                found = block_of(near, first, second)
                assert len(found) == len(block)
                assert {frozenset(pair) for pair in found} == block
