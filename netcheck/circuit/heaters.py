"""What each tube's heater gets, because a cold tube conducts nothing and an over-run one dies.

Belongs here: volts of whole heaters, from the line side or from direct current, beside the rated
ones. Does not belong here: solving the line side (line_side) or the operating point, judging.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.heater_law import Law, law_of
from netcheck.circuit.line_side import LinePoint
from netcheck.circuit.phasor import Admittance, Complex, phasors
from netcheck.circuit.rectify_law import Array
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

__all__ = ["HeaterSection", "HeaterState", "heater_states"]

_MOST_TURNS = 60
_SETTLED = 1e-6
_STIFF_S = 1e4
_NOTHING_V = 1e-9


@dataclass(frozen=True, slots=True)
class HeaterSection:
    """One section of a heater: volts rms across it (None: not known), rated volts, amperes."""

    element: Element
    volts: float | None
    rated_v: float | None
    amperes: float | None = None


@dataclass(frozen=True, slots=True)
class HeaterState:
    """A tube's heater: its sections along it; `direct` tells that direct current heats it.

    `why_unknown` is a reason where the volts are not known.
    """

    ref: str
    sections: tuple[HeaterSection, ...]
    direct: bool
    why_unknown: str | None = None

    @property
    def parallel(self) -> bool:
        """Whether the sections stand abreast (12AX7 on 6.3 V)."""
        first, last = self.sections[0].element, self.sections[-1].element
        return len(self.sections) > 1 and first.a == last.b

    @property
    def volts(self) -> float | None:
        """Volts across the whole heater: of sections in series the sum, of those abreast one."""
        return self._whole([s.volts for s in self.sections])

    @property
    def rated_v(self) -> float | None:
        """The volts that belong there."""
        return self._whole([s.rated_v for s in self.sections])

    @property
    def share(self) -> float | None:
        """Volts as a share of the rated ones."""
        volts, rated = self.volts, self.rated_v
        return None if volts is None or not rated else volts / rated

    def _whole(self, volts: Sequence[float | None]) -> float | None:
        known = [v for v in volts if v is not None]
        if not known or len(known) < len(volts):
            return None
        return max(known) if self.parallel else sum(known)


def heater_states(
    wiring: Wiring, line: LinePoint | NotSolved | None, point: Point | None
) -> Mapping[str, HeaterState]:
    """The heater of each tube that something computed can drive, by bulb.

    Args:
        wiring: the set.
        line: its line side (None or the reason where there is none).
        point: its operating point, for heaters on direct current; None where it is not solved.
    """
    solved = line if isinstance(line, LinePoint) else None
    direct = {} if point is None else direct_heaters(wiring, point)
    found: dict[str, list[tuple[Element, bool]]] = {}
    for e in wiring.elements:
        part = wiring.chassis.part(e.ref)
        if e.kind is Kind.HEATER and part is not None and part.kind == "tube":
            on_line = solved is not None and e in solved.branches
            found.setdefault(part.body_ref, []).append((e, on_line))
    return {
        ref: _state(wiring, ref, own, solved, line, direct, point is None)
        for ref, own in found.items()
    }


def _state(
    wiring: Wiring,
    ref: str,
    own: Sequence[tuple[Element, bool]],
    solved: LinePoint | None,
    line: LinePoint | NotSolved | None,
    direct: Mapping[tuple[str, tuple[str, str]], float],
    blind: bool,
) -> HeaterState:
    sections, why = [], None
    for e, on_line in own:
        part = wiring.chassis.part(e.ref)
        law = None if part is None else law_of(part, e, None)
        rated = None if law is None else law.rated_v
        if on_line and solved is not None:
            volts, amperes = solved.across(e), solved.amperes(e)
            why = why or solved.why_unknown(e.nets)
        else:
            volts, amperes = direct.get((e.ref, e.terminals), None if blind else 0.0), None
            if isinstance(line, NotSolved) and not volts and wiring.poles.plugs:
                volts, why = None, line.reason
            elif volts is None:
                why = why or "the operating point is not solved"
        sections.append(HeaterSection(e, volts, rated, amperes))
    return HeaterState(ref, tuple(sections), not any(on for _, on in own), why)


# --- direct current


def direct_heaters(wiring: Wiring, point: Point) -> Mapping[tuple[str, tuple[str, str]], float]:
    """Volts across heaters and filaments on direct current, each with the ohms it then has.

    The operating point has them at their rated ohms. What tubes draw is kept, and the volts of the
    rectifiers; around them the network of resistors is solved again with the heaters as ports.
    Keys are a part's reference and the element's terminals.

    Raises:
        NotSolved: the ohms did not settle.
    """
    laws: list[tuple[int, Law]] = []
    fixed: dict[tuple[str, tuple[str, str]], float] = {}
    for number, (branch, siemens) in enumerate(point.branch_siemens):
        if branch.kind is not Kind.HEATER:
            continue
        volts = abs(point.between(branch.a, branch.b) or 0.0)
        law = _law_at(wiring, branch.ref, branch.terminals)
        unchanged = abs(siemens * branch.ohm - 1.0) < 1e-6
        if law is not None and unchanged and volts > _NOTHING_V + 1e-3 * law.rated_v:
            laws.append((number, law))
        else:
            fixed[branch.ref, branch.terminals] = volts
    if laws:
        fixed.update(_at_own_heat(point, laws))
    return fixed


def _law_at(wiring: Wiring, ref: str, terminals: tuple[str, str]) -> Law | None:
    part = wiring.chassis.part(ref)
    element = next((e for e in wiring.of(ref) if e.terminals == terminals), None)
    if part is None or element is None or element.kind is not Kind.HEATER:
        return None
    return law_of(part, element, None)


def _at_own_heat(
    point: Point, laws: Sequence[tuple[int, Law]]
) -> dict[tuple[str, tuple[str, str]], float]:
    branches = [point.model.branches[number] for number, _ in laws]
    open_v, ohm = _ports(point, [number for number, _ in laws])
    rated = np.array([1 / law.ohm for _, law in laws])
    volts = open_v
    for _ in range(_MOST_TURNS):
        now = np.array([1 / float(law.at(np.abs(v))) for (_, law), v in
                        zip(laws, volts, strict=True)])  # fmt: skip
        newer = np.linalg.solve(np.eye(len(laws)) + ohm * (now - rated), open_v)
        if float(np.max(np.abs(newer - volts))) < _SETTLED * float(np.max(np.abs(newer))):
            return {(b.ref, b.terminals): abs(float(v))
                    for b, v in zip(branches, newer, strict=True)}  # fmt: skip
        volts = newer
    raise NotSolved("the resistance of the filaments did not settle at their own volts")


def _ports(point: Point, numbers: Sequence[int]) -> tuple[Array, Array]:
    """Volts across some branches as solved, and the ohms that each shows at each other."""
    model = point.model
    size = 1 + len(numbers)
    lines = [Admittance(b.a, b.b, siemens) for b, siemens in point.branch_siemens]
    lines += [
        Admittance(s.source.plus, s.source.minus, _STIFF_S) for s in point.supplies if s.amperes > 0
    ]
    injected: dict[str, complex | Complex] = {}
    for k, number in enumerate(numbers, start=1):
        branch = model.branches[number]
        for net, sign in ((branch.a, 1.0), (branch.b, -1.0)):
            amperes = np.zeros(size, dtype=complex)
            amperes[k] = sign
            injected[net] = injected.get(net, 0.0) + amperes
    found = phasors(lines, {model.reference: 0.0}, (), injected, size)
    ends = [(model.branches[number].a, model.branches[number].b) for number in numbers]
    ohm = []
    for a, b in ends:
        between = found.between(a, b)
        ohm.append(np.zeros(size - 1) if between is None else between[1:].real)
    volts = [point.between(a, b) or 0.0 for a, b in ends]
    return np.array(volts), np.array(ohm)
