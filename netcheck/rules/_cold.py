"""Ohms across a rectifier's output with the set off and cold, and which are too low to switch on.

Belongs here: the supplies that fall short. Does not belong here: what an ohmmeter reads
(circuit/ohms.py), how that is reported (supply_short.py), anything under power.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from netcheck.chassis import Chassis
from netcheck.circuit.states import switch_positions
from netcheck.circuit.wiring import Element, Wiring
from netcheck.rules._base import Case

__all__ = ["LowSupply", "low_supplies"]

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


def low_supplies(case: Case) -> tuple[LowSupply | str, ...]:
    """Supplies with too few ohms across them, and why others are not known."""
    return _low_supplies(case.circuit.wiring)


@lru_cache(maxsize=8)
def _low_supplies(wiring: Wiring) -> tuple[LowSupply | str, ...]:
    return tuple(_found(wiring))


def _found(wiring: Wiring) -> Iterator[LowSupply | str]:
    from netcheck.circuit.direct_parts import direct_parts
    from netcheck.circuit.ohms import PowerOff
    from netcheck.circuit.source import RectifierSource, Unknown, rectifier_sources

    parts = direct_parts(wiring, switch_positions(wiring.chassis), hot=False)
    yield from parts.unknown
    cold = PowerOff(wiring.nets, parts.branches)
    for source in rectifier_sources(wiring):
        if isinstance(source, Unknown):
            yield source.reason
        if not isinstance(source, RectifierSource):  # switched off, as another rule says
            continue
        ohm = cold.between(source.plus, source.minus)
        volts = float(source.spec.figure("volts")[0]) * (2 if source.spec.kind.is_doubler else 1)
        output = _output_a(wiring.chassis, source.refs)
        least = volts / output if output else _LEAST_OHM
        if ohm is not None and ohm < least:
            path = wiring.dc_path(source.plus, {source.minus}) or ()
            yield LowSupply(
                source.refs, source.reservoir.refs, source.plus, source.minus, ohm, least, volts,
                output, path,
            )  # fmt: skip


def _output_a(chassis: Chassis, refs: Sequence[str]) -> float | None:
    """The published output of a supply's rectifiers together, None when one is not known."""
    found = []
    for ref in refs:
        part = chassis.part(ref)
        tube = part.tube if part is not None else None
        if tube is not None:
            found.append(tube.limits.get("output-a"))
        else:
            found.append(part.value("current") if part is not None else None)
    known = [amperes for amperes in found if amperes]
    return sum(known) if known and len(known) == len(found) else None
