"""The rows of a touch current table as the calculations of a finding, alike ones as one row.

Belongs here: choosing and wording rows. Does not belong here: computing them (circuit/touch.py),
judging them (_touch.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import prod

from netcheck.circuit.touch import TouchRow, TouchTable
from netcheck.circuit.touch_states import TouchState
from netcheck.findings import Calculation
from netcheck.rules._base import Case
from netcheck.rules._touch import normal_rows, shorted_rows
from netcheck.rules._touch_limit import limit_a
from netcheck.rules._words import amount, listed

__all__ = ["rows"]

_ALIKE = 0.01
"""Rows that differ by no more, or by no more than a microampere, are one row."""


def rows(case: Case, table: TouchTable) -> tuple[Calculation, ...]:
    """The rows of a table: without failure, then with each failure at its worst, then who passes.

    All at the line as stated; what is the same in several switch positions is one row.
    """
    found = [_row(case, table, row, said) for row, said in _grouped(normal_rows(table))]
    limit = limit_a(case)
    shown = [row for row in shorted_rows(table) if row.touch_a > limit]
    found += [_row(case, table, row, row.state.text) for row in shown]
    return (*found, *_alone(case, table))


def _grouped(normal: Iterable[TouchRow]) -> Iterator[tuple[TouchRow, str]]:
    """Rows of one way of the plug (and earth wire) that are alike: one of them, and their states.

    The most current first; the least is said to be that of all other switch positions.
    """
    ways: dict[tuple[str, bool], list[list[TouchRow]]] = {}
    for row in normal:
        groups = ways.setdefault((row.state.plug.text, row.state.earthed), [])
        alike = next((g for g in groups if _is_alike(g[0], row)), None)
        if alike is None:
            groups.append([row])
        else:
            alike.append(row)
    for groups in ways.values():
        groups.sort(key=lambda group: -group[0].touch_a)
        for group in groups:
            worst = max(group, key=lambda row: row.touch_a)
            last = group is groups[-1]
            yield worst, _said([row.state for row in group], only=len(groups) == 1, last=last)


def _is_alike(one: TouchRow, other: TouchRow) -> bool:
    return abs(one.touch_a - other.touch_a) <= max(_ALIKE * one.touch_a, 1e-6)


def _said(states: list[TouchState], *, only: bool, last: bool) -> str:
    """States of one plug in words; a switch that stands in several positions with all of them."""
    first = states[0]
    earth = [] if first.earthed else ["earth wire open"]
    if not first.switches:
        return ", ".join([first.plug.text, *earth])
    if only:
        return ", ".join([first.plug.text, *earth, "every switch position"])
    positions = {
        ref: list(dict.fromkeys(dict(state.switches)[ref] for state in states))
        for ref, _ in first.switches
    }
    said = [f"{ref} {' or '.join(named)}" for ref, named in positions.items()]
    if prod(map(len, positions.values())) > len(states):
        # Not every one of the combinations that this would say.
        each = (" ".join(f"{r} {p}" for r, p in state.switches) for state in states)
        said = ["the other switch positions"] if last else [" or ".join(each)]
    return ", ".join([first.plug.text, *earth, *said])


def _row(case: Case, table: TouchTable, row: TouchRow, state: str) -> Calculation:
    said = (
        f"{_volts(row.open_v)} to earth with nothing joined; the leakage check reads"
        f" {_volts(row.bench_v)} ({_milliamps(row.bench_a):g} mA)"
    )
    name = f"{table.names[0]} to earth, {state}"
    return Calculation(name, _milliamps(row.touch_a), "mA", limit_a(case) * 1e3, said)


def _volts(volts: float) -> str:
    return amount(round(volts, 3), "V")


def _milliamps(ampere: float) -> float:
    """Three digits, and nothing below a tenth of a microampere."""
    return float(f"{round(ampere * 1e3, 4):.3g}")


def _alone(case: Case, table: TouchTable) -> Iterator[Calculation]:
    """What each part beside the metal passes by itself, where that is most."""
    worst = max(normal_rows(table), key=lambda row: row.touch_a)
    if len(table.beside) < 2:
        return
    for ref, ampere in case.circuit.touch.alone_a(table, worst.state).items():
        said = f"with {listed(o for o in table.beside if o != ref)} away, {worst.state.text}"
        name = f"{table.names[0]} to earth by {ref} alone"
        yield Calculation(name, _milliamps(ampere), "mA", None, said)
