"""What drives the rectifier supplies of a set, for any number of variants of it.

Belongs here: walls, weak rectifiers, and the sizes of parts that a supply's figures hang on. Does
not belong here: one supply of one set (source.py), solving it (rectify.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from netcheck.circuit.chassis_edits import edited
from netcheck.circuit.rectify_spec import FIGURES, RectifierSpec
from netcheck.circuit.source import Off, RectifierSource, Unknown, rectifier_sources
from netcheck.circuit.states import Edit
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved

__all__ = ["Mains", "moves_supply", "opens_supply", "sources_at"]

Found = RectifierSource | Off | Unknown

_BY_SIZE: Final = frozenset({"resistor", "thermistor", "capacitor"})
_MAY_OPEN: Final = frozenset({"capacitor", "lamp"})
_TRIAL: Final = 1.1  # a part whose size counts for a supply shows it when it is a tenth larger
_SAME: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Mains:
    """What drives the supplies.

    `volts` at the wall; `emission` of rectifier tubes that are weak or dead; `scaled`: parts whose
    ohms or farads are so many times those of the text; `opened`: parts that are open. A power
    transformer's windings are scaled together, with the little that stands ahead of its primary.
    """

    volts: float | None
    emission: tuple[tuple[str, float], ...] = ()
    scaled: tuple[tuple[str, float], ...] = ()
    opened: tuple[str, ...] = ()

    def applied(self, source: RectifierSource, transformers: Sequence[str]) -> RectifierSource:
        """The source with its rectifiers and windings as these mains have them.

        A dead rectifier delivers nothing.
        """
        share = min((value for ref, value in self.emission if ref in source.refs), default=1.0)
        spec = source.spec
        if share <= 0.0:
            return replace(source, spec=replace(spec, volts=np.asarray(spec.volts) * 0.0))
        for ref, factor in self.scaled:
            if ref in transformers:
                source = source.rewound(factor)
        return replace(source, spec=replace(source.spec, emission=share))


def sources_at(wiring: Wiring, mains: Sequence[Mains]) -> list[list[Found]]:
    """The supplies of a set at each of the mains, in the order of the text.

    Raises:
        NotSolved: other sizes of its parts leave the set with other supplies.
    """
    found: list[list[Found]] = []
    for each in mains:
        scaled = tuple(pair for pair in each.scaled if pair[0] not in wiring.supply.power_refs)
        own = _changed(wiring, scaled, each.opened)
        found.append(
            [
                each.applied(source, tuple(_transformers(own, source)))
                if isinstance(source, RectifierSource)
                else source
                for source in rectifier_sources(own, each.volts)
            ]
        )
    if any(len(supplies) != len(found[0]) for supplies in found):
        raise NotSolved("with other sizes of its parts this set has other supplies")
    return found


def moves_supply(wiring: Wiring, ref: str, line_v: float | None) -> bool | None:
    """Whether a part's size is one of the figures of a supply.

    None where what another size of it does to the supplies is not computed by its size alone.
    """
    part = wiring.chassis.part(ref)
    if part is None:
        return None
    before = rectifier_sources(wiring, line_v)
    if ref in wiring.supply.power_refs and part.kind == "transformer":
        own = [s for s in before if isinstance(s, RectifierSource)]
        return any(ref in _transformers(wiring, source) for source in own)
    if part.kind not in _BY_SIZE:
        return None
    try:
        after = rectifier_sources(_changed(wiring, ((ref, _TRIAL),)), line_v)
    except NotSolved:
        return None
    if [type(each) for each in before] != [type(each) for each in after]:
        return None
    pairs = zip(before, after, strict=True)
    return any(
        isinstance(a, RectifierSource)
        and isinstance(b, RectifierSource)
        and not _alike(a.spec, b.spec)
        for a, b in pairs
    )


def opens_supply(wiring: Wiring, ref: str, line_v: float | None) -> bool | None:
    """Whether a part that is open leaves the same supplies with other figures.

    None where it leaves other supplies, or none: they are not computed by their figures alone.
    """
    part = wiring.chassis.part(ref)
    if part is None or part.kind not in _MAY_OPEN:
        return None
    before = rectifier_sources(wiring, line_v)
    try:
        after = rectifier_sources(_changed(wiring, (), (ref,)), line_v)
    except NotSolved:
        return None
    if len(before) != len(after):
        return None
    moved = False
    for a, b in zip(before, after, strict=True):
        if type(a) is not type(b):
            return None
        if isinstance(a, RectifierSource) and isinstance(b, RectifierSource):
            if not _same_circuit(a, b):
                return None
            moved = moved or not _alike(a.spec, b.spec)
    return moved


def _same_circuit(a: RectifierSource, b: RectifierSource) -> bool:
    """Whether two supplies are of one circuit between the same nets."""
    nets = (a.refs, a.plus, a.minus, a.middle) == (b.refs, b.plus, b.minus, b.middle)
    one, other = a.spec, b.spec
    form = (one.kind, one.wave, one.has_choke) == (other.kind, other.wave, other.has_choke)
    return nets and form


@lru_cache(maxsize=32)
def _changed(
    wiring: Wiring, scaled: tuple[tuple[str, float], ...], opened: tuple[str, ...] = ()
) -> Wiring:
    """The set with parts of other sizes and parts open."""
    if not scaled and not opened:
        return wiring
    edits = [Edit("scale", ref, factor) for ref, factor in scaled]
    edits += [Edit("open", ref) for ref in opened]
    return Wiring(edited(wiring.chassis, edits), before=wiring)


def _transformers(wiring: Wiring, source: RectifierSource) -> Iterator[str]:
    """The transformers whose windings drive a supply (of a synchronous vibrator: all)."""
    if not source.arms:
        yield from wiring.supply.power_refs
        return
    if source.bias:
        yield source.transformer
        return
    ends = {wiring.supply.source_of(arm) for arm in source.arms}
    for winding in wiring.supply.windings:
        if ends & set(winding.nets) and not winding.driven:
            yield winding.ref


def _alike(one: RectifierSpec, other: RectifierSpec) -> bool:
    """Whether two supplies have the same figures."""
    return all(
        np.allclose(getattr(one, name), getattr(other, name), rtol=_SAME, atol=0.0)
        for name in FIGURES
    )
