"""A coupling capacitor that leaks would make its grid positive.

Why: The capacitor keeps the plate's or supply's volts off the next grid; through a leak they divide
between it and the grid resistor. An output tube then draws far too much current, its plate glows
red, and its output transformer burns, often with the rectifier; in an earlier stage the sound
distorts. `aged-capacitor` lists old paper as such; this says what this one would do.
False alarm: A leak within the number given. The volts are those of the unloaded supply, an upper
bound until the voltages of the set are solved: the real ones are lower, and so is the leak that
hurts. `policy coupling-leakage shift` sets how far the grid may move.
Source: divider Vg = V x Rg / (Rg + Rleak): elementary circuit theory; what a leak does:
wkars.wordpress.com 2022 ("that capacitor") and the stason.org FAQ on distorted audio; insulation by
a meter in series: Collins list, February 2003. The shift allowed: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Coupling
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Condition, Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._capacitors import (
    Leak,
    dielectric_of,
    dielectric_span_word,
    leak_of,
    leakage_reading,
)
from netcheck.rules._coupling import fate, grid_words, path_lines
from netcheck.rules._divider import Demand, demand_of
from netcheck.rules._words import amount, named

_STAGE = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
S1 power: ON FUSED to H5
C1 47 mfd 160 V electrolytic, new: + B1, - B-
V5 35W4: plate H5, cathode B1, heater H5 to H4
V4 50C5: plate T2.plate, screen B1, g1 DRIVE, cathode KOUT, heater H4 to H3
V3 12AV6: plate V3.plate, grid VOL, cathode B-, diode1 open, diode2 open, heater H3 to B-
T2 output, 2500 ohm to 3.2 ohm: primary B1 to T2.plate, secondary VC to VCR
LS1 3.2 ohm: VC to VCR
R7 470K 1/2 W, new: B1 to V3.plate
R8 10M 1/2 W, new: VOL to B-
R9 470K 1/2 W, new: DRIVE to B-
R12 150 ohm 1 W: KOUT to B-
"""
# A leak as old paper shows it (common practice, no source): to see what it would do.
_USUAL_OHM = 10e6


@rule(
    harm=Harm.DAMAGE,
    options={"shift": Option("0.5", ("0.1", "0.5", "1"), "volts by which a leak may move a grid")},
    bad=(
        Example(
            _STAGE + "C14 .01 mfd 400 V paper: V3.plate to DRIVE   # <-\n",
            "keeps up to 182 V off the g1 of V4 (50C5)",
        ),
        Example(
            _STAGE
            + "C14 .01 mfd 630 V film, new: V3.plate to DRIVE   # <-\n"
            + "reading C14 leakage 20 V at 90 V, meter 10 M\n",
            "C14 (.01 mfd 630 V film, new) leaks through 35M",
        ),
    ),
    good=(
        _STAGE + "C14 .01 mfd 630 V film, replaces .01 mfd 400 V paper: V3.plate to DRIVE\n",
        _STAGE
        + "C14 .01 mfd 630 V film, new: V3.plate to DRIVE\n"
        + "reading C14 leakage 0.3 V at 90 V, meter 10 M\n",
        _STAGE + "C14 .01 mfd 500 V ceramic: V3.plate to DRIVE\n",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each coupling that is old paper, or that is measured to leak."""
    by_ref = {c.ref: c for c in reversed(case.circuit.wiring.couplings)}
    for ref, coupling in reversed(by_ref.items()):
        part = case.chassis.part(ref)
        if part is not None:
            yield from _coupling(case, coupling, part)


def _coupling(case: Case, coupling: Coupling, part: Part) -> Iterator[Finding | NotChecked]:
    demand = demand_of(case, coupling, float(case.option("shift")))
    reading = leakage_reading(case.chassis, part.ref)
    leak = leak_of(reading) if reading is not None else None
    if reading is not None and leak is None:
        yield _unknown(case, part, "its leakage reading lacks the meter or the volts")
    if reading is not None and leak is not None:
        if demand is None:
            yield _unknown(case, part, _NO_DEMAND)
        elif leak.ohm < demand.ohm:
            yield _finding(case, coupling, part, demand, leak)
        return
    if part.condition is not Condition.ORIGINAL or part.description.classes:
        return
    kind = dielectric_of(part)
    if kind is None:
        where = grid_words(case, coupling)
        yield _unknown(case, part, f"it leads to {where}, and what it is made of is not said")
    elif kind.suspect_when_original:
        yield _finding(case, coupling, part, demand)
        if demand is None:
            yield _unknown(case, part, _NO_DEMAND)


_NO_DEMAND = "the unloaded supply or the grid resistor is not known, so no megohm to ask of it"


def _unknown(case: Case, part: Part, why: str) -> NotChecked:
    return case.not_checked(f"{part.ref}: {why}", (part.ref,))


def _finding(
    case: Case, coupling: Coupling, part: Part, demand: Demand | None, leak: Leak | None = None
) -> Finding:
    """Old paper (no `leak`), or a part whose measured leak is below the demand."""
    grid = grid_words(case, coupling)
    need = f"an insulation of {amount(demand.ohm, 'ohm')}" if demand else "more than can be told"
    calc = demand.calculations(leak.ohm if leak else _USUAL_OHM) if demand else ()
    related = list(path_lines(case, coupling))
    if leak is not None:
        said = f"leaks through {amount(leak.ohm, 'ohm')} to {grid}"
        calc = (Calculation("insulation", leak.ohm / 1e6, "Mohm", calc[0].value, leak.sum), *calc)
        reading = leakage_reading(case.chassis, part.ref)
        if reading is not None:
            related.insert(0, Related(reading.value.span, f"the leakage of {part.ref} as read"))
    else:
        volts = f"up to {amount(demand.supply.volts, 'V')}" if demand else "volts not known"
        said = f"is old paper and keeps {volts} off {grid}"
    kind = dielectric_of(part)
    old = part.condition is Condition.ORIGINAL and kind is not None and kind.suspect_when_original
    also = " aged-capacitor lists the same part: a new one clears both." if old else ""
    return case.finding(
        f"{named(part)} {said}; it needs {need}",
        part.span_of(dielectric_span_word(part)),
        parts=(part.ref, coupling.tube),
        nodes=(coupling.source, coupling.grid),
        related=related,
        calc=calc,
        why=f"Where it leaks, {fate(case, coupling)}.{also}",
        action=f"fit a film capacitor for {part.ref}; then no DC may be across the grid resistor",
    )
