"""Which branches carry the line's current, as a network of one frequency with laws of ohms.

Belongs here: line, windings, heaters, lamps, droppers, capacitors and rectifier taps of a set, cut
down to what lies in a loop with a source. Does not belong here: solving it (line_side), the laws
(heater_law), what the rectified side carries (direct_model).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.heater_law import Law, fixed, heater_string_a, law_of
from netcheck.circuit.pieces import block_of, neighbours, pieces
from netcheck.circuit.power import PowerWinding
from netcheck.circuit.rectify_fit import diode_law
from netcheck.circuit.rectify_law import RectifierLaw
from netcheck.circuit.source_side import is_closed, line_branches
from netcheck.circuit.source_windings import winding_source
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved

__all__ = ["Dropper", "LineBranch", "LineNetwork", "line_network"]

_OHMIC = frozenset({Kind.RESISTOR, Kind.HEATER, Kind.LAMP, Kind.METER, Kind.LOAD})
_PLAIN = frozenset({Kind.FUSE, Kind.STRAP})
_INSULATION_S = 1e-9
_LEAST_FARAD = 0.5e-6
"""A smaller capacitor passes no heater's current (at most 47 mA at 250 V 60 Hz): it is left out."""


@dataclass(frozen=True, slots=True)
class LineBranch:
    """One branch: `element` (None: a winding) between `a` and `b`.

    `law` gives its ohms (None: not known), `farad` or `henry` what it has besides. A winding
    raises `a` over `b` by `emf_v` at the nominal line.
    """

    ref: str
    a: str
    b: str
    law: Law | None
    element: Element | None = None
    farad: float = 0.0
    henry: float = 0.0
    emf_v: float = 0.0


@dataclass(frozen=True, slots=True)
class Dropper:
    """A diode in series with heaters: it passes half waves from `a` to `b`."""

    ref: str
    a: str
    b: str
    law: RectifierLaw


@dataclass(frozen=True)
class LineNetwork:
    """The branches in loops with the line or a winding.

    `hot` is held at the line's volts and `zero` at nothing; `pieces` are nets held at nothing
    because nothing joins their winding to the line. `hertz` 0: a DC line. `unknown` are parts
    without ohms or a stated position, `faults` say why a winding is not here. `behind` gives nets
    outside it that have the volts of one of its nets.
    """

    hertz: float
    line_v: float
    hot: str
    zero: str
    branches: tuple[LineBranch, ...]
    droppers: tuple[Dropper, ...] = ()
    pieces: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    behind: Mapping[str, str] = field(default_factory=dict)

    @property
    def nets(self) -> frozenset[str]:
        """Every net of the network."""
        return frozenset(net for b in self.branches for net in (b.a, b.b)) | {self.hot, self.zero}

    @property
    def reactive(self) -> bool:
        """Whether a capacitor or coil makes the answer hang on the frequency."""
        return any(b.farad or b.henry for b in self.branches)


def line_network(
    wiring: Wiring, ports: Iterable[tuple[str, str]], reference: str | None
) -> LineNetwork:
    """The network of a set on an AC or DC line.

    Args:
        wiring: the set.
        ports: pairs of nets between which rectifiers draw.
        reference: the net that volts are counted from.

    Raises:
        NotSolved: there is no line, or its plug or volts are not stated.
    """
    line = wiring.chassis.line
    poles = sorted(wiring.line_poles)
    if line is None or line.volts is None:
        raise NotSolved("no line is stated, or the set has none")
    if len(poles) != 2:
        raise NotSolved("the set has no line plug with two pins")
    zero = _return_pole(wiring, poles)
    hot = next(pole for pole in poles if pole != zero)
    made = _Maker(wiring, line.hertz)
    branches = [*made.elements(), *made.windings(line.volts)]
    droppers = tuple(made.droppers())
    kept, behind = _in_loops(branches, droppers, [(hot, zero), *ports])
    live = {hot, zero, *(net for b in kept for net in (b.a, b.b))}
    return LineNetwork(
        line.hertz,
        line.volts,
        hot,
        zero,
        tuple(kept),
        tuple(d for d in droppers if {d.a, d.b} <= live),
        tuple(_isolated(kept, droppers, (hot, zero), reference)),
        tuple(dict.fromkeys(b.ref for b in kept if b.law is None)),
        tuple(made.faults),
        behind,
    )


def _return_pole(wiring: Wiring, poles: Sequence[str]) -> str:
    """The pole the set's own circuit returns to, else neutral; of two alike the second."""
    fed = wiring.supply.feeds
    for pole in poles:
        if wiring.common in fed.get(pole, ()):
            return pole
    certain = [pole for pole in poles if pole in wiring.neutral and pole not in wiring.hot]
    return certain[0] if certain else poles[-1]


class _Maker:
    def __init__(self, wiring: Wiring, hertz: float) -> None:
        self._wiring = wiring
        self._hertz = hertz
        self.faults: list[str] = []
        self._string_a = heater_string_a(wiring)

    def elements(self) -> Iterator[LineBranch]:
        """What the line's current can flow through; the rectified side but for its heaters not."""
        loads = self._wiring.b_plus
        for e in self._wiring.elements:
            heats = e.kind in (Kind.HEATER, Kind.LAMP)
            if e.a != e.b and (heats or not (e.a in loads or e.b in loads)):
                yield from self._element(e)

    def _element(self, e: Element) -> Iterator[LineBranch]:
        part = self._wiring.chassis.part(e.ref)
        if part is None:
            return
        if e.kind is Kind.CONTACT:
            closed = is_closed(self._wiring.chassis, e)
            if closed is not False:
                yield LineBranch(e.ref, e.a, e.b, fixed(0.0) if closed else None, e)
        elif e.kind in _PLAIN:
            yield LineBranch(e.ref, e.a, e.b, fixed(e.ohm or 0.0), e)
        elif e.kind is Kind.CAPACITOR:
            farad = part.value("capacitance")
            if farad and farad >= _LEAST_FARAD and self._hertz:
                yield LineBranch(e.ref, e.a, e.b, fixed(1 / _INSULATION_S), e, farad=farad)
        elif e.kind is Kind.WINDING and part.kind == "coil":
            henry = part.value("inductance") or 0.0
            yield LineBranch(e.ref, e.a, e.b, law_of(part, e, None), e, henry=henry)
        elif e.kind is Kind.LOAD and e.ohm is None:
            yield LineBranch(e.ref, e.a, e.b, self._load(e), e)
        elif e.kind in _OHMIC:
            yield LineBranch(e.ref, e.a, e.b, law_of(part, e, self._string_a), e)

    def _load(self, e: Element) -> Law | None:
        """A load on the line (a motor) by its amperes or watts, as a resistance."""
        part, line = self._wiring.chassis.part(e.ref), self._wiring.chassis.line
        line_v = None if line is None else line.made_for_v
        if part is None or not line_v:
            return None
        amperes, watts = part.value("current"), part.value("power")
        amperes = watts / line_v if amperes is None and watts else amperes
        return fixed(line_v / amperes) if amperes else None

    def droppers(self) -> Iterator[Dropper]:
        """Diodes between line and heaters: those that feed no B+ and make no bias."""
        feeding = set(self._wiring.rectifiers) | self._fill_capacitors()
        feeding |= {each.element for each in self._wiring.supply.bias_diodes}
        for e in self._wiring.elements:
            part = self._wiring.chassis.part(e.ref)
            if e.kind is Kind.DIODE and part is not None and e not in feeding and e.a != e.b:
                yield Dropper(e.ref, e.a, e.b, diode_law(part)[0])

    def _fill_capacitors(self) -> set[Element]:
        """Diodes with a filter capacitor at either end: bias supplies, bridges and doublers."""
        large = {
            net
            for e in self._wiring.elements
            if e.kind is Kind.CAPACITOR and self._wiring.supply.is_large(e)
            for net in e.nets
        } - self._wiring.returns
        rectifying = {e.a for e in self._wiring.rectifiers} | {e.b for e in self._wiring.rectifiers}
        return {
            e
            for e in self._wiring.elements
            if e.kind is Kind.DIODE and set(e.nets) & (large | rectifying)
        }

    def windings(self, line_v: float) -> Iterator[LineBranch]:
        """The secondaries of power transformers: volts without load, and hot ohms."""
        if not self._hertz:
            return
        side = line_branches(self._wiring, line_v)
        for winding in self._wiring.supply.windings:
            if winding.driven:
                continue
            found = winding_source(
                self._wiring, winding.ref, winding.path, side, self._rated_load_a(winding)
            )
            if isinstance(found, str):
                self.faults.append(found)
                continue
            for b in found.branches:
                law = None if b.ohm is None else fixed(b.ohm)
                yield LineBranch(winding.ref, b.a, b.b, law, emf_v=b.volts)

    def _rated_load_a(self, winding: PowerWinding) -> float | None:
        """The amperes that heaters and lamps right on a winding want."""
        on = set(winding.nets)
        amperes = 0.0
        for e in self._wiring.elements:
            part = self._wiring.chassis.part(e.ref)
            if e.kind in (Kind.HEATER, Kind.LAMP) and part is not None and {e.a, e.b} & on:
                law = law_of(part, e, None)
                amperes += law.rated_a if law is not None and law.varies else 0.0
        return amperes or None


def _joined(
    closed: Sequence[tuple[str, str]],
    branches: Sequence[LineBranch],
    droppers: Sequence[Dropper],
) -> list[tuple[str, str]]:
    """All pairs of nets that something joins."""
    return [*closed, *((b.a, b.b) for b in branches), *((d.a, d.b) for d in droppers)]


def _in_loops(
    branches: Sequence[LineBranch], droppers: Sequence[Dropper], closed: Sequence[tuple[str, str]]
) -> tuple[list[LineBranch], dict[str, str]]:
    """The branches in loops with a source and those that join such loops: others carry nothing.

    With them, for each net behind the others, the net of the network whose volts it has.
    """
    near = neighbours(_joined(closed, branches, droppers))
    kept: set[frozenset[str]] = set()
    for a, b in (*closed, *((b.a, b.b) for b in branches if b.emf_v)):
        if a != b and frozenset((a, b)) not in kept:
            kept |= {frozenset(pair) for pair in block_of(near, a, b)}
    live = frozenset().union(*kept)
    rest = [(a, b) for a, far in near.items() for b in far if frozenset((a, b)) not in kept]
    joining = {net for piece in pieces((), rest) if len(piece & live) > 1 for net in piece}
    kept |= {frozenset(pair) for pair in rest if pair[0] in joining}
    used = [b for b in branches if frozenset((b.a, b.b)) in kept and b.a != b.b]
    return used, _behind(branches, frozenset().union(*kept))


def _behind(branches: Sequence[LineBranch], live: frozenset[str]) -> dict[str, str]:
    """Nets that hang on a net of the network by resistors without current."""
    plain = [
        (b.a, b.b) for b in branches if b.law is not None and not b.farad and not {b.a, b.b} <= live
    ]
    found = {}
    for piece in pieces((), plain):
        at = piece & live
        if len(at) == 1:
            found.update(dict.fromkeys(piece - at, next(iter(at))))
    return found


def _isolated(
    branches: Sequence[LineBranch],
    droppers: Sequence[Dropper],
    poles: tuple[str, str],
    reference: str | None,
) -> Iterator[str]:
    """One net of each piece that nothing joins to the line: the reference if it is there."""
    for piece in pieces((), _joined([poles], branches, droppers)):
        if poles[0] not in piece:
            yield reference if reference is not None and reference in piece else min(piece)
