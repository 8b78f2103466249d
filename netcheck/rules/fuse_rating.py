"""Line fuse of wrong volts or amperes for the set.

Why: A fuse rated below the line's volts may keep burning as an arc instead of opening. One of many
times the set's current lets a shorted rectifier or transformer burn before it opens; one close to
the set's own current tires and opens without a fault.
False alarm: The set feeds something the text does not name (a motor, a second chassis), or the
maker's label asks for another size: accept it and say so.
Source: volts of a fuse at least those of the line: Teccor Fuse Selection Criteria; 1.5 to 2 times
the steady current, next standard value: from memory, and valvewizard.co.uk page on fuses; no more
than 75 % of its rating in steady use: from memory; time delay where a transformer or capacitor is
switched on: itpindia.com fuse selection guidelines.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from netcheck.catalog.preferred import next_rating
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved
from netcheck.parts import Part, Value
from netcheck.rules import _replaced
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._heaters import PLAIN, line_points
from netcheck.rules._line import Line, line_fuses, line_of, on_line, parts_of
from netcheck.rules._operating import NOMINAL
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.line_current import LineCurrent

_FITTING = (1.5, 2.0)
_STEADY = 0.75
_FAR = 3.0
_DRAWING = (
    "tube", "diode", "transformer", "coil", "resistor", "lamp", "load", "thermistor", "switch",
)  # fmt: skip
_HIGH_LINE_V = 200.0

_SET = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
{fuse}
S1 power: ON FUSED to SW
R1 470 ohm 50 W: SW to B-
"""
_TRANSFORMER = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUTRAL
{fuse}
S1 power: ON FUSED to SW
T1 power, primary 117 V 6 ohm, high 250-0-250 V 70 mA 180 ohm each, heater 6.3 V 2 A:
   primary SW to NEUTRAL, high HA to CHASSIS to HB, heater H to CHASSIS
V5 6X5GT: plate1 HA, plate2 HB, cathode B+, heater H to CHASSIS
C1 10 mfd 450 V electrolytic, new: + B+, - CHASSIS
Z1 load 55 mA: B+ to CHASSIS
"""


@rule(
    harm=Harm.SHOCK,
    bad=(
        Example(
            _SET.format(fuse="F1 1/2 A 32 V slow: LINE to FUSED   # <-"),
            "rated 32 V on a line of 117 V",
        ),
        Example(
            _SET.format(fuse="F1 3 A 250 V slow: LINE to FUSED   # <-"),
            "is 12.1 times the 249 mA the set draws",
        ),
        Example(
            _SET.format(fuse="F1 1/4 A 250 V slow: LINE to FUSED   # <-"),
            "is 1 times the 249 mA the set draws",
        ),
        Example(
            _TRANSFORMER.format(fuse="F1 1/2 A 250 V fast: LINE to FUSED   # <-"),
            "is a fast one before a transformer",
        ),
    ),
    good=(
        _SET.format(fuse="F1 1/2 A 250 V slow: LINE to FUSED"),
        _TRANSFORMER.format(fuse="F1 1/2 A 250 V slow: LINE to FUSED"),
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each line fuse of too few volts, and one where its amperes do not fit."""
    fuses = [p for p in parts_of(case, line_fuses(case.circuit.wiring)) if not p.broken]
    line = line_of(case)
    if not fuses:
        return  # `unfused-hot-lead` tells that
    if line is None:
        yield case.not_checked("no line voltage is stated", [p.ref for p in fuses])
        return
    drawn = _drawn(case)
    for fuse in fuses:
        yield from _volts(case, fuse, line)
        if isinstance(drawn, str):
            yield case.not_checked(f"amperes: the set's line current is not known: {drawn}",
                                   (fuse.ref,))  # fmt: skip
        else:
            off = list(_amperes(case, fuse, drawn, line))
            yield from off
            if off:
                continue
        if case.circuit.wiring.supply.power_refs and fuse.description.has("fast"):
            yield _fast(case, fuse)


def _drawn(case: Case) -> LineCurrent | str:
    """What the set draws at the stated line, or why that is not known."""
    from netcheck.circuit.line_current import line_current

    # Not `_operating.solved`: it refuses a text that no direct voltage feeds, and heaters, lamps
    # and loads on the line draw their current all the same. `feeding` tells a missing supply.
    try:
        supplies = case.circuit.operating.point(NOMINAL).supplies
    except NotSolved as fault:
        return fault.reason
    feeding = [p for p in case.chassis.parts if p.fitted and _is_rectifier(p)]
    if feeding and not supplies and case.chassis.holds:
        return f"a rail is held: what {listed(p.ref for p in feeding)} would draw is not computed"
    if feeding and not supplies:
        feed = "feeds" if len(feeding) == 1 else "feed"
        return f"{listed(p.ref for p in feeding)} {feed} nothing as the set is described"
    point = line_points(case)[PLAIN]
    if isinstance(point, NotSolved):
        return point.reason
    found = line_current(point)
    if isinstance(found, str):
        return found
    return found if found.rms_a > 0 else "nothing in the text draws any"


def _is_rectifier(part: Part) -> bool:
    return part.kind == "diode" or (part.tube is not None and part.tube.is_rectifier)


def _volts(case: Case, fuse: Part, line: Line) -> Iterator[Finding]:
    words = fuse.description
    rated = words.values.get("voltage-ac") or words.values.get("voltage")
    if rated is None or not rated.known or rated.si >= line.volts:
        return  # a missing rating: `rating-missing`
    fit = next_rating(line.volts, "fuse-volts") or line.volts
    yield case.finding(
        f"{named(fuse)} is rated {amount(rated.si, 'V')} on a line of {amount(line.volts, 'V')}",
        rated.span,
        harm=Harm.SHOCK,
        parts=(fuse.ref,),
        calc=(
            Calculation("volts of the fuse", rated.si, "V", line.volts, "rating against the line"),
        ),
        action=f"fit a fuse rated {fit:g} V",
    )


def _sizes(drawn: LineCurrent, line: Line) -> tuple[float, float]:
    """The standard sizes from 1.5 and from 2 times the current: the one to fit, the largest."""
    kind = "fuse-iec" if line.volts >= _HIGH_LINE_V else "fuse-ul"
    low, high = (factor * drawn.rms_a for factor in _FITTING)
    most = next_rating(high, kind) or float(f"{high:.2g}")
    return next_rating(low, kind) or most, most


def _amperes(
    case: Case, fuse: Part, drawn: LineCurrent, line: Line
) -> Iterator[Finding | NotChecked]:
    rated = fuse.description.values.get("current")
    if rated is None or not rated.known:
        yield case.not_checked("the amperes of the fuse are not stated", (fuse.ref,))
        return
    size, most = _sizes(drawn, line)
    times = rated.si / drawn.rms_a
    large = times * _STEADY >= 1.0
    if large and (rated.si <= most * 1.005 or any(_replaced.current(fuse))):
        return  # larger than the fuse it replaces: `replacement-rating` tells that
    gone = _gone(case)
    if large and gone:
        reason = f"whether {fuse.ref} is too large: the set draws more with {listed(gone)} in it"
        yield case.not_checked(reason, (fuse.ref,))
        return
    yield _off(case, fuse, rated, drawn, size)


def _gone(case: Case) -> list[str]:
    """Parts not there without which a set draws less, so that a fuse looks too large for it."""
    return [
        part.ref for part in case.chassis.parts
        if not part.fitted and (part.kind in _DRAWING or part.description.has("electrolytic"))
    ]  # fmt: skip


def _off(case: Case, fuse: Part, rated: Value, drawn: LineCurrent, size: float) -> Finding:
    times = rated.si / drawn.rms_a
    low = times * _STEADY < 1.0
    low_a, high_a = (factor * drawn.rms_a for factor in _FITTING)
    slow = " slow" if drawn.transformer or fuse.description.has("slow") else ""
    most = "2 times, or the next standard size from there, is the most"
    limit = "1.33 times is the least" if low else most
    return case.finding(
        f"{named(fuse)} is {times:.3g} times the {amount(drawn.rms_a, 'A')} the set draws; {limit}",
        rated.span,
        harm=Harm.DAMAGE if times > _FAR else Harm.PERFORMANCE,
        parts=(fuse.ref,),
        calc=(
            Calculation(
                "rms line current", drawn.rms_a, "A", None, _sum(drawn),
            ),
            Calculation(
                "fuse to fit", size, "A", None,
                f"1.5 to 2 x {amount(drawn.rms_a, 'A')} = {low_a:.2g} to {high_a:.2g} A",
            ),
        ),
        action=f"fit {size:g} A{slow} (1.5 to 2 times the set's current, next standard size)",
    )  # fmt: skip


def _sum(drawn: LineCurrent) -> str:
    steady = f"{amount(drawn.steady_a, 'A')} of heaters, lamps and loads"
    if drawn.transformer:
        steady += " with a tenth for the transformer's own loss"
    if drawn.pulse_a < 1e-6 * drawn.rms_a:
        return f"{steady} at {amount(drawn.line_v, 'V')}"
    return (
        f"rms over the line's cycle: {steady}, {amount(drawn.pulse_a, 'A')} rms of rectifier "
        "pulses, together where both peak"
    )


def _fast(case: Case, fuse: Part) -> Finding:
    return case.finding(
        f"{named(fuse)} is a fast one before a transformer, whose inrush opens it by and by",
        fuse.span_of("fast"),
        harm=Harm.PERFORMANCE,
        parts=(fuse.ref,),
        action="fit a slow fuse of the size that the set's current asks for",
    )
