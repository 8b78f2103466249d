"""Capacitor at an output plate rated below the plate's peak.

Why: Sound swings an output plate from near zero to about twice its direct volts, and further
when the load is off. A tone or plate capacitor that is rated for the supply alone breaks down.
From plate to B- or chassis its short puts the supply across the output transformer's primary and
burns it; across the primary or from plate to B+ it only silences the set.
False alarm: A capacitor behind a resistor that takes the swing, or one that lasted since it was
made: accept it. Who asks for more than twice the volts sets `policy output-capacitor times 3`.
Source: 600 and 630 V from plate to ground, 1000 V asked across a primary, and pulses that need
film: philcoradio.com forum post 102614, gammaelectronics.xyz vrarh_20; a plate swings to about
twice its volts: the load line of a transformer-coupled stage, elementary; more where makers fitted
three times: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from netcheck.catalog.preferred import next_rating
from netcheck.circuit.wiring import Element, Role
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules import _replaced
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._burnt import Burnt, Comparison
from netcheck.rules._operating import (
    NOMINAL,
    driven_transformers,
    line_high,
    output_nets,
    shorted,
    tried,
)
from netcheck.rules._words import amount, named

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

_SET = """
line none
hold B+ 250 V
V4 6V6GT: plate T2.plate, screen B+, g1 DRIVE, cathode KOUT, heater H1 to B-
R9 470K 1/2 W, new: DRIVE to B-
R12 250 ohm 2 W: KOUT to B-
T2 output, 5000 ohm to 4 ohm, primary 300 ohm: primary B+ to T2.plate, secondary VC to VCR
LS1 4 ohm: VC to VCR
"""
# At these places a capacitor sees the plate's swing; a coupling passes it on instead.
_ROLES = (Role.TONE, Role.RF_BYPASS, Role.UNKNOWN, Role.TUNED, Role.HUM_FILTER)


@rule(
    harm=Harm.DAMAGE,
    options={
        "times": Option(
            "2", ("2", "3"), "how many times the plate's direct volts the capacitor must stand"
        )
    },
    bad=(
        Example(
            _SET + "C15 .01 mfd 400 V film, new: T2.plate to B-   # <-\n",
            "sees peaks of 460 V",
        ),
        Example(
            _SET + "C15 .01 mfd 200 V film, new: T2.plate to B+   # <-\n",
            "only silences the set",
        ),
        Example(
            _SET + "R13 tone control, 50K 1/2 W: TONE to B-\n"
            "C16 .02 mfd 400 V film, new: T2.plate to TONE   # <-\n",
            "C16 (.02 mfd 400 V film, new)",
        ),
    ),
    good=(
        _SET + "C15 .01 mfd 630 V film, new: T2.plate to B-\n",
        _SET + "C15 .01 mfd 400 V film, new: T2.plate to B+\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each capacitor at an output plate that its peaks exceed."""
    found = list(_at_plates(case))
    if not found:
        return
    states = [line_high(case), NOMINAL, *(shorted(part.ref) for part, _, _ in found)]
    high, sound, *faults = tried(case, states)
    if isinstance(high, NotSolved):
        yield case.not_checked(high.reason, [part.ref for part, _, _ in found])
        return
    for (part, element, plate), fault in zip(found, faults, strict=True):
        rated = part.value("voltage")
        if any(_replaced.volts(part)):
            continue  # fewer volts than the part it replaces: `replacement-rating` tells that
        if rated is None:
            yield case.not_checked("its DC volts are not stated", (part.ref,))
            continue
        peak = _peak(case, high, element, plate)
        if peak is not None and peak[0] > rated * 1.005:
            burnt: tuple[Burnt, ...] = ()
            if not isinstance(sound, NotSolved) and not isinstance(fault, NotSolved):
                burnt = Comparison(case, sound).burnt_by(fault)
            yield _finding(case, part, plate, rated, peak, high, burnt)


def _at_plates(case: Case) -> Iterator[tuple[Part, Element, str]]:
    """Capacitors with an end on an output plate, and which net that is."""
    wiring, plates = case.circuit.wiring, output_nets(case, "plate")
    for part in case.chassis.of_kind("capacitor"):
        elements = wiring.of(part.ref)
        if not elements or wiring.role_of(part.ref) not in _ROLES:
            continue
        own = [net for net in elements[0].nets if net in plates]
        if own and elements[0].a != elements[0].b:
            yield part, elements[0], own[0]


def _peak(case: Case, high: Point, element: Element, plate: str) -> tuple[float, str] | None:
    """Peak volts across a capacitor and their sum; None where nothing gives volts.

    The plate swings about its own direct volts by as much again; the far end stands still.
    """
    far = element.other(plate)
    cathode_v = _cathode_v(case, high, plate)
    plate_v, far_v = high.volts(plate), high.volts(far)
    if plate_v is None or cathode_v is None:
        return None
    if far_v is None:
        far_v = cathode_v  # behind the capacitor nothing holds it up
    times = float(case.option("times"))
    swing = (times - 1) * (plate_v - cathode_v)
    if far in output_nets(case, "plate"):  # the other plate of push-pull swings the other way
        swing *= 2
    steady = abs(plate_v - far_v)
    said = f"{amount(steady, 'V')} DC + {amount(swing, 'V')} of swing ({times:g} times the plate)"
    return steady + swing, said


def _cathode_v(case: Case, high: Point, plate: str) -> float | None:
    for tube in high.tubes.values():
        if any(e.net == plate and e.name.startswith("plate") for e in tube.electrodes):
            return tube.cathode_v
    return None


def _finding(
    case: Case, part: Part, plate: str, rated: float, peak: tuple[float, str], high: Point,
    burnt: tuple[Burnt, ...],
) -> Finding:  # fmt: skip
    volts, said = peak
    does = f"its short would {burnt[0].said}" if burnt else "its short only silences the set"
    fit = next_rating(volts, "film-dc") or 100.0 * math.ceil(volts / 100)
    return case.finding(
        f"{named(part)} sees peaks of {amount(volts, 'V')} at the plate {plate}, over its rated "
        f"{amount(rated, 'V')}; {does}",
        part.span_of("voltage"),
        harm=Harm.DAMAGE if burnt else Harm.PERFORMANCE,
        parts=(part.ref,),
        nodes=case.circuit.wiring.of(part.ref)[0].nets,
        related=[
            Related(t.ref_span or t.span, f"{named(t)}: its primary swings that plate")
            for t in driven_transformers(case)
            if plate in {case.chassis.net(node) for node in t.nodes}
        ],
        state=high.state.name,
        calc=[
            Calculation(f"peak across {part.ref}", volts, "V", rated, said),
            *(b.calculation(f"{part.ref} shorted") for b in burnt),
        ],
        action=f"fit a film capacitor of {amount(fit, 'V')} DC as {part.ref}",
    )
