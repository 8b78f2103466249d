"""The capacitors that stand between the line and a hand, and whether their class will do.

Belongs here: finding them, the duty each has, judging a mark against the ladder of
catalog.safety, the part to fit. Does not belong here: what a rule says of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.catalog.preferred import nearest_preferred, next_rating, series
from netcheck.catalog.safety import accepts, film_ac_rating_v, policies
from netcheck.circuit.wiring import BRIDGE_OHM, Element, Kind, Wiring
from netcheck.findings import Calculation, Span
from netcheck.parts import Condition, Part
from netcheck.rules._base import Case, Option
from netcheck.rules._capacitors import dielectric_of
from netcheck.rules._line import (
    HAND_OHM,
    Line,
    jacks_apart,
    line_of,
    metal_with,
    parts_of,
)
from netcheck.rules._touch_limit import limit_a, limit_of_ac_a
from netcheck.rules._words import amount, capacitor_current_a

__all__ = [
    "ANY_LINE",
    "CLASS_OPTION",
    "Barrier",
    "SafetyPart",
    "barriers",
    "bridged_at_jacks",
    "capacitance_f",
    "class_fault",
    "class_policy",
    "class_span",
    "current_calculations",
    "kept_unmarked",
    "largest_to_metal_f",
    "part_to_fit",
    "protective_ohm",
]

CLASS_OPTION = Option(
    "practice",
    ("practice", "strict", "rated"),
    "practice: one class Y2 between line and metal. strict: metal that is not earthed asks for one"
    " class Y1, or two equal class Y2 in series. rated: as practice, but a new film part for the"
    " line's AC volts may be without any class, except before a jack, and is put on record. Also"
    " holds for antenna-isolation, two-in-series.",
)

_DEFAULT_LINE_V = 240.0
"""What a line that is not stated may be."""

_FILM = frozenset({"film", "polypropylene", "polyester"})
ANY_LINE = Line(_DEFAULT_LINE_V, 1.1 * _DEFAULT_LINE_V, 50.0)
"""What capacitors are sized for where no line of AC is stated."""


_SMALL = 10.0
"""A reactance of so many times the hand's ohms counts alone: they make 0.5 % of difference."""

_PLAIN = frozenset({Kind.CAPACITOR, Kind.RESISTOR, Kind.WINDING, Kind.CONTACT, Kind.FUSE})


@dataclass(frozen=True, slots=True)
class Barrier:
    """A way from the line to metal through capacitors: its ends, its elements, its duty.

    `duty` is a duty of `netcheck.catalog.safety`; `at_jack` tells metal that is a jack's and not
    the chassis's.
    """

    line: str
    metal: str
    chain: tuple[Element, ...]
    capacitors: tuple[Part, ...]
    duty: str
    at_jack: bool

    @property
    def series_ohm(self) -> float:
        """The ohms of the resistors on the way, which remain when a capacitor shorts."""
        return sum(e.ohm or 0.0 for e in self.chain if e.kind is Kind.RESISTOR)


def barriers(case: Case) -> Iterator[Barrier]:
    """Yield every way that a shorted capacitor would open between line side and metal.

    Left out: ways through so many ohms that even a shorted capacitor passes less than the touch
    limit (an AVC line), and ways through a tuning gang or trimmer, for which there is no class.
    """
    wiring = case.circuit.wiring
    # The metal of a jack is the jack itself and what its own coil joins to it.
    jacks = metal_with(wiring, *jacks_apart(case)) - metal_with(wiring, case.chassis.net("CHASSIS"))
    for chain in wiring.barrier_chains:
        barrier = _barrier(case, chain, jacks)
        if barrier is not None:
            yield barrier


def _barrier(case: Case, chain: tuple[Element, ...], jacks: frozenset[str]) -> Barrier | None:
    wiring = case.circuit.wiring
    line = next((net for net in chain[0].nets if net in wiring.line_side), None)
    capacitors = parts_of(case, (e for e in chain if e.kind is Kind.CAPACITOR))
    if line is None or not capacitors or not {e.kind for e in chain} <= _PLAIN:
        return None
    ohm = (wiring.line_ohm(line) or 0.0) + sum(e.ohm or 0.0 for e in chain)
    if ohm >= protective_ohm(case) or any(_is_tuning(part) for part in capacitors):
        return None
    metal = line
    for element in chain:
        metal = element.other(metal)
    duty = "antenna" if metal in jacks else _duty(wiring, line, metal)
    return Barrier(line, metal, chain, capacitors, duty, metal in jacks)


def _duty(wiring: Wiring, line: str, metal: str) -> str:
    # EARTH may be a rod in the garden: only the plug's own earth pin makes metal earthed.
    if metal_with(wiring, metal) & wiring.earth:
        return "line-to-earthed-metal"
    return "b-minus-to-chassis" if line == wiring.common else "line-to-unearthed-metal"


def _is_tuning(part: Part) -> bool:
    value = part.description.values.get("capacitance")
    spread = value is not None and value.spread
    return spread or part.description.has("variable", "gang", "trimmer", "padder", "air")


def protective_ohm(case: Case) -> float:
    """The ohms that keep the line's current through a hand under the touch limit by themselves."""
    line = line_of(case)
    return (line.high_v if line is not None else _DEFAULT_LINE_V) / limit_a(case)


def capacitance_f(part: Part) -> float | None:
    """The farads of a part as fitted, the most of its alternates and span; None if not known."""
    known = [value.highest for value in part.description.alternates if value.known]
    stated = part.description.values.get("capacitance")
    if stated is not None and stated.spread:
        known.append(stated.highest)
    own = part.value("capacitance")
    return max([own, *known] if own is not None else known, default=None)


def bridged_at_jacks(case: Case) -> frozenset[str]:
    """The capacitors that should keep a jack off the line side, and that a wire goes across.

    `antenna-isolation` tells of the wire and names the part to fit in their place.
    """
    wiring, chassis = case.circuit.wiring, case.chassis
    if wiring.line_plug is None or (chassis.line is not None and chassis.line.volts is None):
        return frozenset()  # that rule is about the line
    joined: dict[str, set[str]] = {}
    for net, jacks in jacks_apart(case).items():
        if net in wiring.line_side and (wiring.line_ohm(net) or 0.0) < BRIDGE_OHM:
            nodes = {t.node for jack in jacks for t in jack.terminals if not t.unused}
            joined[net] = {node for node in nodes if node != net and chassis.net(node) == net}
    return frozenset(
        part.ref
        for part in chassis.of_kind("capacitor")
        for net in {chassis.net(node) for node in part.nodes}
        if joined.get(net, set()) & set(part.nodes)
        and {chassis.net(node) for node in part.nodes} == {net}
    )


def class_policy(case: Case) -> str:
    """The reading of the standard in force: that of `policy line-capacitor-class class`."""
    said = case.policy.get(("line-capacitor-class", "class"), CLASS_OPTION.default)
    return said if said in policies() else CLASS_OPTION.default


def kept_unmarked(case: Case, part: Part) -> bool:
    """Whether the policy lets a part without any class stay: new, film, with enough AC volts.

    The AC volts of a part that states none are those of a film family of its DC volts.
    """
    line = line_of(case)
    asked = case.policy.get(("line-capacitor-class", "class")) == "rated"
    made_of = dielectric_of(part)
    if not asked or line is None or part.description.classes:
        return False
    old = part.condition is Condition.ORIGINAL
    if old or made_of is None or made_of.name not in _FILM:
        return False
    direct_v = part.description.number("voltage")
    rated_v = part.description.number("voltage-ac")
    if rated_v is None and direct_v is not None:
        rated_v = film_ac_rating_v(direct_v) if line.hertz else direct_v
    return rated_v is not None and rated_v >= line.high_v


def class_fault(case: Case, part: Part, duty: str, *, in_series: int = 1) -> str:
    """What is wrong with a part's class for a duty, as `without …` or `with …`; "" if nothing.

    Every mark counts with the AC volts written beside it. A class without volts is taken at its
    word; on a DC line the AC rating is not compared.
    """
    if not part.description.classes:
        kept = duty != "antenna" and kept_unmarked(case, part)
        return "" if kept else "without a safety class"
    line = line_of(case)
    volts = line.volts if line is not None else math.inf
    marks = "/".join(mark for mark, _ in part.description.classes)
    low: float | None = None
    for mark, value in part.description.classes:
        if not accepts(duty, [mark], volts, policy=class_policy(case), in_series=in_series):
            continue
        rated = value.si if value and value.known else part.description.number("voltage-ac")
        if rated is None or line is None or not line.hertz or rated >= line.volts:
            return ""
        low = rated
    if low is not None:
        return f"with class {marks} for {amount(low, 'V')} AC, under the line's {volts:g} V"
    return f"with class {marks} alone"


def class_span(part: Part) -> Span:
    """Where a part's class stands in the text, else where it is missing (beside the value)."""
    return part.span_of("class" if part.description.classes else "capacitance")


def current_calculations(
    case: Case, farad: float | None, what: str, limit: float | None, series_ohm: float = 0.0
) -> tuple[Calculation, ...]:
    """The current of a capacitor at the stated line and at line high; () if it is not known.

    With a limit it is that through a hand: where the reactance is not large against the hand's
    1500 ohm and the resistors in series with it, all of them bound it.
    """
    line = line_of(case)
    if line is None or farad is None or not line.hertz:
        return ()
    states = ((what, line.volts), (f"{what}, line high", line.high_v))
    return tuple(
        _current(name, farad, volts, line.hertz, limit, series_ohm) for name, volts in states
    )


def _current(
    name: str, farad: float, volts: float, hertz: float, limit: float | None, series_ohm: float
) -> Calculation:
    ampere = capacitor_current_a(farad, volts, hertz)
    reactance_ohm = volts / ampere if ampere else math.inf
    bound_ohm = (HAND_OHM if limit else 0.0) + series_ohm
    if reactance_ohm < _SMALL * bound_ohm:
        ampere = volts / math.hypot(bound_ohm, reactance_ohm)
        terms = ["1500 ohm of the leakage check"] if limit else []
        terms += [amount(series_ohm, "ohm")] if series_ohm else []
        said = (
            f"{amount(volts, 'V')} / sqrt(({' + '.join(terms)})^2 + "
            f"({amount(reactance_ohm, 'ohm')})^2) = {amount(ampere, 'A')}"
        )
        return Calculation(name, ampere * 1e3, "mA", limit * 1e3 if limit else None, said)
    said = (
        f"2 x pi x {amount(hertz, 'Hz')} x {amount(farad, 'F')} x {amount(volts, 'V')} = "
        f"{amount(ampere, 'A')}"
    )
    return Calculation(name, ampere * 1e3, "mA", limit * 1e3 if limit else None, said)


@dataclass(frozen=True, slots=True)
class SafetyPart:
    """A part for a place on the line: farads (None: as before), AC volts, class, what else does.

    As text it is the part in words.
    """

    farad: float | None
    volts: float
    mark: str
    else_: str = ""

    def __str__(self) -> str:
        value = amount(self.farad, "F") if self.farad else "the same value"
        also = f" ({self.else_})" if self.else_ else ""
        return f"{value} {amount(self.volts, 'V')} AC class {self.mark}{also}"


def part_to_fit(case: Case, farad: float | None, duty: str, share: float = 1.0) -> SafetyPart:
    """The part that may stand there: value, AC volts and class.

    The value is the old one to the nearest of series E6; to metal it is the largest of E6 below it
    that keeps a share of the touch limit at line high (of no stated line: 240 V 50 Hz). What else
    bridges to the same metal is not known here: see `fitting_part` in _touch_fit.py.
    """
    line = line_of(case)
    least_v = line.volts if line is not None else _DEFAULT_LINE_V
    if duty == "across-line":
        rated = next_rating(max(least_v, 275.0), "safety-ac") or 500.0
        nearest = nearest_preferred(farad, "E6") if farad else None
        return SafetyPart(nearest, rated, "X2", "X1, Y2 or Y1 will do too")
    rated = next_rating(least_v, "safety-ac") or 500.0
    value = largest_to_metal_f(case, farad, share)
    if class_policy(case) == "strict" and duty != "line-to-earthed-metal":
        return SafetyPart(value, rated, "Y1")
    return SafetyPart(value, rated, "Y2", "or Y1")


def largest_to_metal_f(case: Case, farad: float | None, share: float = 1.0) -> float:
    """The farads that `part_to_fit` names for a place between line and metal."""
    line = line_of(case)
    if line is None or not line.hertz or not line.high_v:
        line = ANY_LINE
    limit = limit_of_ac_a(case) * share
    most = limit / capacitor_current_a(1.0, line.high_v, line.hertz)
    nearest = nearest_preferred(farad, "E6") if farad else None
    if nearest is not None and nearest <= most:
        return nearest
    decade = 10.0 ** math.floor(math.log10(most))
    return max(step * decade for step in series("E6") if step * decade <= most)
