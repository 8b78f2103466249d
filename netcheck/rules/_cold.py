"""Ohms across a rectifier's output with the set off and cold, and which are too low to switch on.

Belongs here: the ohmmeter's reading between two nets, the supplies that fall short. Does not belong
here: how that is reported (supply_short.py), a chart of ohms, anything under power.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Element
from netcheck.rules._base import Case

if TYPE_CHECKING:
    from netcheck.circuit.direct_parts import Branch

__all__ = ["LowSupply", "as_set", "cold_ohm", "low_supplies"]

_LEAST_OHM = 1000.0
"""Where no output current is published, less than this is too low (common practice)."""


@dataclass(frozen=True, slots=True)
class LowSupply:
    """A supply across which too few ohms are read: `limit_ohm` is what its rectifier asks for.

    `volts` is what the rectifiers `refs` get, `output_a` their published output (None: unknown),
    `path` the way of least ohms from `plus` to `minus`.
    """

    refs: tuple[str, ...]
    reservoir: tuple[str, ...]
    plus: str
    minus: str
    ohm: float
    limit_ohm: float
    volts: float
    output_a: float | None
    path: tuple[Element, ...]


def as_set(case: Case) -> dict[str, str]:
    """The position of each switch: as `switch` says, else the first of its text."""
    closed: dict[str, str] = {}
    for part in case.chassis.of_kind("switch"):
        if part.positions:
            closed.setdefault(part.body_ref, part.positions[0])
    closed.update((setting.switch, setting.position) for setting in case.chassis.settings)
    return closed


def low_supplies(case: Case) -> Iterator[LowSupply | str]:
    """Supplies with too few ohms across them, and why others are not known."""
    from netcheck.circuit.direct_parts import direct_parts
    from netcheck.circuit.source import RectifierSource, Unknown, rectifier_sources

    wiring = case.circuit.wiring
    parts = direct_parts(wiring, as_set(case), hot=False)
    yield from parts.unknown
    for source in rectifier_sources(wiring):
        if isinstance(source, Unknown):
            yield source.reason
        if not isinstance(source, RectifierSource):  # switched off, as another rule says
            continue
        ohm = cold_ohm(parts.branches, source.plus, source.minus)
        volts = float(source.spec.figure("volts")[0]) * (2 if source.spec.kind.is_doubler else 1)
        output = _output_a(case, source.refs)
        least = volts / output if output else _LEAST_OHM
        if ohm is not None and ohm < least:
            path = wiring.dc_path(source.plus, {source.minus}) or ()
            yield LowSupply(
                source.refs, source.reservoir.refs, source.plus, source.minus, ohm, least, volts,
                output, path,
            )  # fmt: skip


def _output_a(case: Case, refs: Sequence[str]) -> float | None:
    """The published output of a supply's rectifiers together, None when one is not known."""
    found = []
    for ref in refs:
        part = case.chassis.part(ref)
        tube = part.tube if part is not None else None
        if tube is not None:
            found.append(tube.limits.get("output-a"))
        else:
            found.append(part.value("current") if part is not None else None)
    known = [amperes for amperes in found if amperes]
    return sum(known) if known and len(known) == len(found) else None


def cold_ohm(branches: Sequence[Branch], a: str, b: str) -> float | None:
    """Ohms between two nets of a network of branches, None when nothing joins them."""
    import numpy as np

    index = _island(branches, b)
    if a not in index:
        return None
    siemens = np.zeros((len(index), len(index)))
    for branch in branches:
        if branch.a in index and branch.a != branch.b:
            i, j, own = index[branch.a], index[branch.b], 1 / branch.ohm
            siemens[[i, j], [i, j]] += own
            siemens[[i, j], [j, i]] -= own
    if a == b:
        return 0.0
    into = np.zeros(len(index) - 1)
    into[index[a] - 1] = 1.0  # an ampere into `a`, out at `b`, which is first
    return float(np.linalg.solve(siemens[1:, 1:], into)[index[a] - 1])


def _island(branches: Sequence[Branch], start: str) -> Mapping[str, int]:
    """The nets that branches join to `start`, numbered from it."""
    at: dict[str, list[str]] = {}
    for branch in branches:
        at.setdefault(branch.a, []).append(branch.b)
        at.setdefault(branch.b, []).append(branch.a)
    found = {start: 0}
    queue = [start]
    while queue:
        for far in at.get(queue.pop(), ()):
            if far not in found:
                found[far] = len(found)
                queue.append(far)
    return found
