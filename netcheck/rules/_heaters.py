"""Heaters and lamps of a set at the nominal, high and low line, because several rules ask for them.

Belongs here: one batch of line-side states, heaters off their volts, which part is their cause.
Does not belong here: solving (circuit/), limits of one rule, wording of its finding.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from netcheck.circuit.states import NOMINAL
from netcheck.circuit.wiring import Element, Kind, Wiring
from netcheck.findings import Calculation, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._operating import line_high, line_low, tried
from netcheck.rules._strings import odd_currents
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.heaters import HeaterState
    from netcheck.circuit.line_side import LinePoint, LineState

__all__ = [
    "COLD", "HIGH", "LOW", "PLAIN", "Needed", "Off", "calculations", "heaters_at", "is_cord",
    "is_tapped", "lamp_out", "line_points", "needed_ohm", "off_heaters", "related", "string_cause",
    "strung", "too", "worst_words",
]  # fmt: skip

TOLERANCE = 0.10
"""Heaters bear a tenth either way (receiving-tube manual and handbook as quoted on the Heathkit
list, February 2008; RCA Receiving Tube Manual, from memory)."""

PLAIN, HIGH, LOW, COLD = "nominal", "line high", "line low", "switched on cold"


def lamp_out(ref: str) -> str:
    """The name of the state in which a lamp is out."""
    return f"{ref} out"


@lru_cache(maxsize=8)
def _states(wiring: Wiring) -> dict[str, LineState]:
    from netcheck.circuit.line_side import LineState

    found = {
        PLAIN: LineState(),
        HIGH: LineState(HIGH, "high"),
        LOW: LineState(LOW, "low"),
        COLD: LineState(COLD, cold=True),
    }
    for part in wiring.chassis.of_kind("lamp"):
        if part.fitted:
            name = lamp_out(part.ref)
            found[name] = LineState(name, out=(part.ref,))
    return found


def line_points(case: Case) -> Mapping[str, LinePoint | NotSolved]:
    """The line side in every state that rules ask for, solved in one batch, by name."""
    states = _states(case.circuit.wiring)
    found = case.circuit.line_side.tried(list(states.values()))
    return dict(zip(states, found, strict=True))


def heaters_at(case: Case, state: str = PLAIN) -> Mapping[str, HeaterState]:
    """The heater of every bulb at a line (PLAIN, HIGH, LOW)."""
    operating = {PLAIN: NOMINAL, HIGH: line_high(case), LOW: line_low(case)}[state]
    (point,) = tried(case, [operating])
    line_points(case)  # in one batch
    beside = None if isinstance(point, NotSolved) else point
    return case.circuit.line_side.heaters(_states(case.circuit.wiring)[state], beside)


def is_tapped(part: Part) -> bool:
    """Whether a tube is a rectifier with a tap for the dial lamp on its heater."""
    tube = part.tube
    return tube is not None and tube.is_rectifier and tube.tap_v is not None


@dataclass(frozen=True, slots=True)
class Off:
    """A heater more than a tenth off its volts; the lamp section of a tapped one left out."""

    part: Part
    volts: float
    rated_v: float
    at_lines: tuple[tuple[str, float], ...]
    strung: bool

    @property
    def share(self) -> float:
        """Volts as a share of the rated ones."""
        return self.volts / self.rated_v


def judged(part: Part, state: HeaterState) -> tuple[float, float] | None:
    """Volts and rated volts of what is judged of a heater; None where not known."""
    sections = state.sections
    if is_tapped(part) and len(sections) > 1:
        sections = tuple(s for s in sections if "heater1" not in s.element.terminals)
        volts = [s.volts for s in sections]
        rated = [s.rated_v for s in sections]
        if None in volts or None in rated or not rated:
            return None
        return sum(v or 0.0 for v in volts), sum(v or 0.0 for v in rated)
    if state.volts is None or not state.rated_v:
        return None
    return state.volts, state.rated_v


def off_heaters(case: Case) -> list[Off]:
    """The heaters off their volts at the nominal line, the furthest first.

    Those in a string of another current are left out: `heater-current-mixed` tells their cause.
    """
    found = []
    odd = odd_currents(case)
    by_line = {name: heaters_at(case, name) for name in (PLAIN, HIGH, LOW)}
    for ref, state in by_line[PLAIN].items():
        part = _bulb(case, ref)
        now = None if part is None else judged(part, state)
        if part is None or now is None or part.ref in odd:
            continue
        if abs(now[0] / now[1] - 1.0) <= TOLERANCE:
            continue
        others = [
            (name, other[0])
            for name in (HIGH, LOW)
            if ref in by_line[name] and (other := judged(part, by_line[name][ref]))
        ]
        found.append(Off(part, *now, tuple(others), not state.direct and strung(case, state)))
    return sorted(found, key=lambda off: -round(abs(off.share - 1.0), 3))


def _bulb(case: Case, ref: str) -> Part | None:
    own = case.chassis.part(ref)
    if own is not None and own.kind == "tube":
        return own
    return next(iter(case.circuit.wiring.bulbs.get(ref, ())), None)


def strung(case: Case, state: HeaterState) -> bool:
    """Whether a heater is on the line itself and not on a winding."""
    return any(set(s.element.nets) <= case.circuit.wiring.line_side for s in state.sections) and (
        not _on_winding(case, state)
    )


def _on_winding(case: Case, state: HeaterState) -> bool:
    wound = [set(w.nets) for w in case.circuit.wiring.supply.windings if not w.driven]
    return any(set(s.element.nets) <= nets for s in state.sections for nets in wound)


def string_cause(case: Case) -> str | None:
    """The rule that tells why a string on the line is off its volts, None for the general one."""
    point = line_points(case)[PLAIN]
    if isinstance(point, NotSolved):
        return None
    if point.network.droppers:
        return "diode-dropper"
    from netcheck.circuit.heater_law import ballast_of

    parts = [p for e in point.branches if (p := case.chassis.part(e.ref)) is not None]
    if any(ballast_of(p) is not None for p in parts):
        return "ballast-code"
    if any(is_cord(p) for p in parts):
        return "line-cord-resistor"
    return None


def is_cord(part: Part) -> bool:
    """Whether a resistor is a resistance cord, or stands in the place of one."""
    replaced = part.replaces is not None and part.replaces.has("cord")
    return part.kind == "resistor" and (part.description.has("cord") or replaced)


@dataclass(frozen=True, slots=True)
class Needed:
    """What a plain string on the line lacks: `ohm` to add (less than 0: to take away).

    `rated_a` and `rated_v` are what its heaters want, `driving_v` the rms volts that drive it.
    """

    ohm: float
    rated_a: float
    rated_v: float
    driving_v: float

    @property
    def watts(self) -> float:
        """Heat in the ohms to add."""
        return abs(self.ohm) * self.rated_a**2


def needed_ohm(case: Case) -> Needed | None:
    """What a plain string on the line lacks; None where it is not one loop of resistors.

    At the rated current the heaters have their volts, and every other resistor drops in
    proportion to the current. A diode leaves the root of half of the line's volts.
    """
    point = line_points(case)[PLAIN]
    if isinstance(point, NotSolved) or point.network.reactive:
        return None
    volts, rated, amperes = 0.0, 0.0, []
    for e, (branch, _) in point.branches.items():
        if e.kind is not Kind.HEATER or not set(e.nets) <= case.circuit.wiring.line_side:
            continue
        across, flows = point.across(e), point.amperes(e)
        if branch.law is None or across is None or not flows:
            return None
        volts, rated = volts + across, rated + branch.law.rated_v
        amperes.append((flows, branch.law.rated_a))
    wanted = {round(a, 4) for _, a in amperes}
    if len(wanted) != 1 or max(a for a, _ in amperes) > 1.01 * min(a for a, _ in amperes):
        return None
    (rated_a,) = wanted
    halves = bool(point.network.droppers) and bool(point.network.hertz)
    driving_v = point.network.line_v * (0.5**0.5 if halves else 1.0)
    ohm = (driving_v - rated) / rated_a - (driving_v - volts) / amperes[0][0]
    return Needed(ohm, rated_a, rated, driving_v)


def calculations(offs: Sequence[Off]) -> list[Calculation]:
    """Volts of each heater at the nominal line, and of the worst at the other lines."""
    found = [
        Calculation(f"heater of {off.part.ref}", off.volts, "V", off.rated_v,
                    f"{off.share:.0%} of the rated volts, solved at the nominal line")
        for off in offs
    ]  # fmt: skip
    for name, volts in offs[0].at_lines:
        found.append(
            Calculation(f"heater of {offs[0].part.ref}, {name}", volts, "V", offs[0].rated_v,
                        f"{volts / offs[0].rated_v:.0%} of the rated volts, solved")
        )  # fmt: skip
    return found


def worst_words(off: Off) -> str:
    """The volts of a heater beside its own: `V1 (6A7) gets 8.27 V of its 6.3 V (131 %)`."""
    volts, rated = amount(off.volts, "V"), amount(off.rated_v, "V")
    return f"the heater of {named(off.part)} gets {volts} of its {rated} ({off.share:.0%})"


def too(offs: Sequence[Off]) -> str:
    """The others, as the end of a sentence."""
    return f"; {listed(off.part.ref for off in offs[1:])} too" if len(offs) > 1 else ""


def related(offs: Sequence[Off]) -> list[Related]:
    """A line for each heater but the first."""
    return [
        Related(
            off.part.span_of("type"),
            f"{named(off.part)}: {amount(off.volts, 'V')} of {amount(off.rated_v, 'V')}",
        )
        for off in offs[1:]
    ]


def elements_of(point: LinePoint, ref: str) -> list[Element]:
    """The elements of a part in the line side."""
    return [e for e in point.branches if e.ref == ref]
