"""Pieces and ways of a network of pairs; a graph library takes longer to load than a lint takes.

Belongs here: connected pieces, a shortest way, and the block that a pair closes; each for a simple
undirected graph as its pairs. Does not belong here: what a pair is, weights (paths.py). Tests hold
each against networkx.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Mapping
from typing import TypeVar

__all__ = ["block_of", "neighbours", "pieces", "way"]

_N = TypeVar("_N", bound=Hashable)


def neighbours(pairs: Iterable[Iterable[_N]]) -> dict[_N, dict[_N, None]]:
    """The neighbours of every node, in the order of the pairs; a pair of one node joins nothing."""
    near: dict[_N, dict[_N, None]] = {}
    for a, *rest in pairs:
        near.setdefault(a, {})
        for b in rest:
            near.setdefault(b, {})
            if a != b:
                near[a][b] = near[b][a] = None
    return near


def pieces(nodes: Iterable[_N], pairs: Iterable[Iterable[_N]]) -> list[set[_N]]:
    """The connected pieces of a graph, in the order of their first nodes."""
    near = neighbours(pairs)
    found: list[set[_N]] = []
    seen: set[_N] = set()
    for node in (*nodes, *near):
        if node not in seen:
            piece = {node}
            queue = [node]
            while queue:
                fresh = [far for far in near.get(queue.pop(), ()) if far not in piece]
                piece.update(fresh)
                queue += fresh
            seen |= piece
            found.append(piece)
    return found


def way(near: Mapping[_N, Collection[_N]], start: _N, end: _N) -> list[_N]:
    """The nodes of a shortest way between two, both included; empty where there is none."""
    came: dict[_N, _N] = {start: start}
    queue = [start] if start in near else []
    for node in queue:  # grows while it is walked
        if node == end:
            break
        for far in near[node]:
            if far not in came:
                came[far] = node
                queue.append(far)
    if end not in came or not queue:
        return []
    found = [end]
    while found[-1] != start:
        found.append(came[found[-1]])
    return found[::-1]


def block_of(near: Mapping[_N, Collection[_N]], a: _N, b: _N) -> list[tuple[_N, _N]]:
    """All pairs that lie on a ring with the pair (a, b), itself included.

    Those are the pairs of its biconnected component, found by one walk in depth (J. Hopcroft and
    R. Tarjan, Communications of the ACM 16 (1973) 372, from memory).
    """
    depth = {a: 0, b: 1}
    lowest = dict(depth)
    found = [(a, b)]
    stack = [(b, a, iter(near[b]))]
    while stack:
        node, above, rest = stack[-1]
        for far in rest:
            if far == above:
                continue
            if far not in depth:
                depth[far] = lowest[far] = depth[node] + 1
                found.append((node, far))
                stack.append((far, node, iter(near[far])))
                break
            if depth[far] < depth[node]:
                found.append((node, far))
                lowest[node] = min(lowest[node], depth[far])
        else:
            stack.pop()
            lowest[above] = min(lowest[above], lowest[node])
            if stack and lowest[node] >= depth[above]:  # a block of its own hangs on `above`
                while found.pop() != (above, node):
                    pass
    return found
