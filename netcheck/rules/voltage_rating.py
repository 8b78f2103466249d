"""A part sees more volts than it is rated for.

Why: An electrolytic over its rating draws current, boils and bursts; paper and film break down and
short. What counts is the highest the set can do: the line at its highest, the warm-up of a
rectifier that is quicker than the tubes it feeds, a plug that is out, an output tube that is
pulled or cold, a filter electrolytic that has dried out (the rectifier's bare pulses then stand
across what is beside it). A small resistor over its working volts changes value or arcs along its
body.
False alarm: A rating written from the wrong part. Where a rectifier tube is heated indirectly and
shares its warm-up with the others, no unloaded state is counted but that with the output tube
cold: worn out, or slower than the rectifier. Safety capacitors and everything
across the line is left to `line-capacitor-class`.
Source: surge 1.15 x rated up to 315 V, 1.10 x above (EPCOS B41505/B43505 data sheet; dividing line
of IEC 60384-4 from memory), an old part's as printed; DC plus ripple peak within the rating: from
memory of IEC 60384-4; resistors 250, 350, 500 V for 1/4, 1/2, 1 W: from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.catalog.capacitors import surge_v
from netcheck.catalog.preferred import next_rating
from netcheck.circuit.wiring import Role
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Condition, Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._capacitors import dielectric_of
from netcheck.rules._operating import (
    NOMINAL,
    instant_rectifiers,
    shorted,
    tried,
)
from netcheck.rules._stand_ins import stand_ins
from netcheck.rules._unloaded import unloaded_supply
from netcheck.rules._words import amount, named
from netcheck.rules._worst_volts import LASTING_MARGIN, Asked, asked_states, ripple_of

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

_LIVE = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
V5 35W4: plate H5, cathode B1, heater FUSED to H5 to H4
DS1 lamp 47: FUSED to H5
V4 50C5: plate T2.plate, screen B2, g1 DRIVE, cathode KOUT, heater H4 to H3
V3 12AV6: plate V3.plate, grid VOL, cathode B-, diode1 open, diode2 open, heater H3 to H2
R90 140 ohm 10 W: H2 to B-
T2 output, 2500 ohm to 3.2 ohm, primary 190 ohm: primary B1 to T2.plate, secondary VC to VCR
LS1 3.2 ohm: VC to VCR
R7 470K 1/2 W: B2 to V3.plate
R8 10M 1/2 W: VOL to B-
R9 470K 1/2 W: DRIVE to B-
R10 1.2K 2 W: B1 to B2
R12 150 ohm 1 W: KOUT to B-
"""
_REST = """
C1A 33 mfd 160 V electrolytic, new: + B1, - B-
C1B 68 mfd 160 V electrolytic, new: + B2, - B-
C14 .01 mfd 630 V film, new: V3.plate to DRIVE
"""
_FILAMENT = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 1/2 A 250 V slow: LINE to FUSED
T1 power, high 285-0-285 V 180 ohm each, rectifier 5 V 2 A, heater 6.3 V 1 A:
   primary FUSED to COLD, high HA to CHASSIS to HB, rectifier B+ to FIL, heater H1 to CHASSIS
V5 80: plate1 HA, plate2 HB, filament B+ to FIL
R1 1K 10 W: B+ to B2
V4 6F6: plate T2.plate, screen B2, grid DRIVE, cathode KOUT, shell CHASSIS, heater H1 to CHASSIS
T2 output, 7000 ohm to 4 ohm, primary 400 ohm: primary B2 to T2.plate, secondary VC to VCR
LS1 4 ohm: VC to VCR
R4 470 ohm 2 W: KOUT to CHASSIS
R3 470K 1/2 W: DRIVE to CHASSIS
R2 470K 1 W: B+ to CHASSIS
"""
_SLOW = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 3/8 A 250 V slow: LINE to FUSED
T1 power, primary 117 V 6 ohm, high 250-0-250 V 180 ohm each, heater 6.3 V 2 A:
   primary FUSED to COLD, high HA to CHASSIS to HB, heater H to CHASSIS
V5 6X5GT: plate1 HA, plate2 HB, cathode B+, heater H to CHASSIS
R1 1K 10 W: B+ to B2
Z1 load 40 mA: B2 to CHASSIS
R2 470K 1 W: B+ to CHASSIS
C1 10 mfd 450 V electrolytic, new: + B+, - CHASSIS
C2 22 mfd 450 V electrolytic, new: + B2, - CHASSIS
"""


@rule(
    harm=Harm.BURST,
    bad=(
        Example(
            _LIVE + _REST.replace("C1A 33 mfd 160 V electrolytic, new: + B1, - B-",
                                  "C1A 33 mfd 100 V electrolytic, new: + B1, - B-  # <-"),
            "C1A (33 mfd 100 V electrolytic, new) sees",
        ),
        Example(
            _FILAMENT
            + "C16 10 mfd 425 V electrolytic: + B+, - CHASSIS  # <-\n"
            + "C17 22 mfd 500 V electrolytic, new: + B2, - CHASSIS\n",
            "no load, line high",
        ),
        Example(_LIVE + _REST + "C19 .1 mfd 100 V film, new: B2 to B-  # <-\n", "100 V"),
        Example(
            _LIVE + _REST.replace("C1A 33 mfd 160 V electrolytic, new: + B1, - B-",
                                  "C1A 33 mfd 150 V electrolytic, new: + B1, - B-  # <-"),
            "(V4 cold or worn out, line high), over its surge",
        ),
        Example(_SLOW + "C3 .1 mfd 356 V film, new: B+ to CHASSIS  # <-\n", "(C1 open, line high)"),
    ),
    good=(
        _LIVE + _REST,
        _FILAMENT
        + "C16 10 mfd 500 V electrolytic, new: + B+, - CHASSIS\n"
        + "C17 22 mfd 500 V electrolytic, new: + B2, - CHASSIS\n",
        _SLOW + "C3 .1 mfd 630 V film, new: B+ to CHASSIS\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each capacitor and resistor over its volts in some state of the set."""
    states = asked_states(case)
    points = tried(case, [each.state for each in states])
    steady = points[0]
    if isinstance(steady, NotSolved):
        yield from _unsolved(case, steady)
        return
    pairs = list(zip(states, points, strict=True))
    for why in dict.fromkeys(p.reason for p in points if isinstance(p, NotSolved)):
        yield case.not_checked(why)
    solved = [(asked, point) for asked, point in pairs if not isinstance(point, NotSolved)]
    told = set()
    for part in _rated_capacitors(case):
        for found in _capacitor(case, part, solved):
            told.add(part.ref)
            yield found
    yield from _cathode_bypasses(case, told)
    for part in case.chassis.of_kind("resistor"):
        yield from _resistor(case, part, steady, states[0].said)


# --- capacitors

_ALTERNATING = (
    Role.ACROSS_LINE, Role.ACROSS_SWITCH, Role.LINE_TO_CHASSIS, Role.COMMON_TO_CHASSIS,
    Role.ANTENNA_ISOLATION, Role.BUFFER, Role.HEATER_BYPASS,
)  # fmt: skip


def _rated_capacitors(case: Case) -> Iterator[Part]:
    """Capacitors with DC volts printed on them, where direct current is what counts."""
    for part in case.chassis.of_kind("capacitor"):
        if part.value("voltage") is None or part.description.classes:
            continue
        if case.circuit.wiring.role_of(part.ref) not in _ALTERNATING:
            yield part


@dataclass(frozen=True, slots=True)
class _Excess:
    """Volts across a part in a state against the most it stands there."""

    asked: Asked
    volts: float
    limit: float
    kind: str
    sum: str

    @property
    def ratio(self) -> float:
        """How far over the limit."""
        return self.volts / self.limit


def _capacitor(case: Case, part: Part, solved: Iterable[tuple[Asked, Point]]) -> Iterator[Finding]:
    found = [excess for asked, point in solved if (excess := _excess(case, part, asked, point))]
    if not found:
        return
    # What lasts is worse than what passes; then the one furthest over.
    worst = max(found, key=lambda each: (not each.asked.short, each.ratio))
    burst = _is_electrolytic(part)
    yield case.finding(
        f"{named(part)} sees {amount(worst.volts, 'V')} ({worst.asked.said}), over its "
        f"{worst.kind} {amount(worst.limit, 'V')}",
        part.span_of("voltage"),
        parts=(part.ref,),
        nodes=case.circuit.wiring.of(part.ref)[0].nets,
        state=worst.asked.state.name,
        harm=Harm.BURST if burst else Harm.DAMAGE,
        calc=[
            Calculation(
                f"volts across {part.ref}, {e.asked.state.name}", e.volts, "V", e.limit, e.sum
            )
            for e in found
        ],
        action=_to_do(case, part, [(e.volts, not e.asked.short) for e in found]),
    )


def _to_do(case: Case, part: Part, seen: Sequence[tuple[float, bool]]) -> str:
    """The rating to fit for volts that are seen (and last: then a tenth more), as made today.

    No fewer volts than the part that stood there; nothing where a new part does its work already.
    """
    both = stand_ins(case).get(part.ref)
    if both is not None:
        return f"cut {part.ref} free: {both[1].ref} stands there already (see parallel-original)"
    least = max(volts * (LASTING_MARGIN if lasts else 1.0) for volts, lasts in seen)
    before = part.replaces.number("voltage") if part.replaces is not None else None
    series = "electrolytic-dc" if _is_electrolytic(part) else "film-dc"
    rating = next_rating(max(least, before or 0.0), series)
    if rating is None:
        return f"fit a {part.ref} rated for at least {amount(least, 'V')}"
    return f"fit a {part.ref} of {amount(rating, 'V')} or more"


def _is_electrolytic(part: Part) -> bool:
    kind = dielectric_of(part)
    return part.description.has("electrolytic") or (kind is not None and kind.polarized)


def _excess(case: Case, part: Part, asked: Asked, point: Point) -> _Excess | None:
    (element,) = case.circuit.wiring.of(part.ref)[:1] or (None,)
    if element is None or {element.a, element.b} & point.model.floating:
        return None
    volts = point.between(element.a, element.b)
    rated = part.value("voltage")
    if volts is None or not rated:
        return None
    if any(edit.ref == part.ref for edit in asked.state.edits):
        return None  # it is the one that is open
    ripple = ripple_of(asked, point, frozenset(element.nets))
    limit, kind = rated, "rated"
    if asked.short and (surge := _surge(part, rated)) > rated:
        limit, kind = surge, "surge"
    across = abs(volts) + ripple
    nearly = asked.short and kind == "rated" and _is_electrolytic(part)
    if across <= limit * (_ABOUT if nearly else 1.0):
        return None
    said = f"{amount(abs(volts), 'V')} DC, solved"
    if ripple and asked.short:
        said += f", and {amount(ripple, 'V')} above that where the pulses peak"
    elif ripple:
        said += f", and half of {amount(2 * ripple, 'V')} ripple peak to peak"
    return _Excess(asked, across, limit, kind, f"{said}; {asked.said}")


# An old electrolytic bore a surge above its printed volts, of which nothing is known: what passes
# must be over them by more than the computed volts may be wrong (rectifier tables: 5 %).
_ABOUT = 1.05


def _surge(part: Part, rated: float) -> float:
    """Surge volts as printed; a new electrolytic's by its standard; else the rating itself."""
    printed = part.description.number("surge")
    if printed is not None:
        return printed
    if part.condition is Condition.ORIGINAL or not _is_electrolytic(part):
        return rated
    return surge_v(rated) or rated


# --- a cathode bypass when the coupling before it fails


def _cathode_bypasses(case: Case, told: set[str]) -> Iterator[Finding]:
    """What a shorted coupling does to the cathode bypass behind it (not those told already)."""
    wiring = case.circuit.wiring
    rated = (part for part in _rated_capacitors(case) if part.ref not in told)
    bypasses = [part for part in rated if wiring.role_of(part.ref) is Role.CATHODE_BYPASS]
    cathodes = {e.net: e.ref for e in wiring.electrodes if e.duty == "cathode"}
    wanted = []
    for part in bypasses:
        element = wiring.of(part.ref)[0]
        tubes = {cathodes[net] for net in element.nets if net in cathodes}
        wanted += [(part, c.ref) for c in wiring.couplings if c.tube in tubes]
    points = tried(case, [NOMINAL, *(shorted(ref) for _, ref in wanted)])
    sound = points[0]
    for (part, coupling), point in zip(wanted, points[1:], strict=True):
        if not isinstance(point, NotSolved) and not isinstance(sound, NotSolved):
            yield from _bypass(case, part, coupling, sound, point)


def _bypass(case: Case, part: Part, coupling: str, sound: Point, point: Point) -> Iterator[Finding]:
    element = case.circuit.wiring.of(part.ref)[0]
    volts, before = point.between(element.a, element.b), sound.between(element.a, element.b)
    rated, before_part = part.value("voltage"), case.chassis.part(coupling)
    if volts is None or before is None or not rated or before_part is None:
        return
    if abs(volts) <= rated:
        return
    old = dielectric_of(before_part)
    suspect = before_part.condition is Condition.ORIGINAL and (
        old is None or old.suspect_when_original
    )
    yield case.finding(
        f"{named(part)} would see {amount(abs(volts), 'V')} if {coupling} shorted, over its rated "
        f"{amount(rated, 'V')}",
        part.span_of("voltage"),
        parts=(part.ref,),
        harm=Harm.DAMAGE if suspect else Harm.RECORD,
        state=point.state.name,
        related=[Related(before_part.ref_span or before_part.span, f"{named(before_part)}, the "
                         "coupling capacitor before it")],
        calc=[Calculation(f"volts across {part.ref}, {coupling} shorted", abs(volts), "V", rated,
                          f"solved; {amount(abs(before), 'V')} in the sound set")],
        why="The tube draws all it can, its cathode rises with the current, and the bypass goes "
        "with it.",
        action=f"{_to_do(case, part, [(abs(volts), False)])}, and a sound {coupling}",
    )  # fmt: skip


# --- resistors

# (watts, working volts) of carbon resistors, largest first (from memory).
_WORKING_V = ((2.0, 750.0), (1.0, 500.0), (0.5, 350.0), (0.25, 250.0))


def _resistor(case: Case, part: Part, steady: Point, said: str) -> Iterator[Finding]:
    """A resistor in the running set at line high (what passes within a minute does no harm)."""
    watts, words = part.value("power"), part.description
    if watts is None or words.has("wirewound", "metal-clad", "dropper", "cord", "control"):
        return
    limit = next((volts for least, volts in _WORKING_V if watts >= least * 0.99), None)
    elements = case.circuit.wiring.of(part.ref)
    if limit is None or watts > 2.0 or len(elements) != 1:
        return
    volts = steady.between(*elements[0].nets)
    if volts is None or set(elements[0].nets) & steady.model.floating or abs(volts) <= limit:
        return
    yield case.finding(
        f"{named(part)} has {amount(abs(volts), 'V')} across it ({said}); a resistor of "
        f"{amount(watts, 'W')} stands {amount(limit, 'V')}",
        part.span_of("power"),
        parts=(part.ref,),
        harm=Harm.DAMAGE,
        state=steady.state.name,
        calc=[Calculation(f"volts across {part.ref}", abs(volts), "V", limit, "solved")],
        action=f"fit a larger {part.ref}, or two of half its ohms in series",
    )


# --- a set that is not solved


def _unsolved(case: Case, why: NotSolved) -> Iterator[Finding | NotChecked]:
    """What can be said without a solution: filter capacitors of a quick rectifier, unloaded."""
    yield case.not_checked(why.reason)
    if not instant_rectifiers(case):
        return
    wiring = case.circuit.wiring
    for part in _rated_capacitors(case):
        element = wiring.of(part.ref)[0] if wiring.of(part.ref) else None
        role = wiring.role_of(part.ref)
        if element is None or role not in (Role.RESERVOIR, Role.SMOOTHING):
            continue
        supply = unloaded_supply(case, element.a)
        rated = part.value("voltage") or 0.0
        limit = _surge(part, rated)
        if supply is None or supply.volts <= limit or element.b not in wiring.returns:
            continue
        kind = "surge" if limit > rated else "rated"
        yield case.finding(
            f"{named(part)} sees up to {amount(supply.volts, 'V')} unloaded, over its {kind} "
            f"{amount(limit, 'V')}",
            part.span_of("voltage"),
            parts=(part.ref,),
            harm=Harm.BURST if _is_electrolytic(part) else Harm.DAMAGE,
            state="no load, line high",
            calc=[Calculation(f"volts across {part.ref}", supply.volts, "V", limit, supply.sum)],
            action=_to_do(case, part, [(supply.volts, False)]),
        )
