"""A coupling capacitor that leaks would make its grid positive.

Why: The capacitor keeps the plate's or supply's volts off the next grid; through a leak they divide
between it and the grid resistor. An output tube then draws far too much current, its plate glows
red, and its output transformer burns, often with the rectifier; in an earlier stage the sound
distorts. `aged-capacitor` lists old paper as such; this says what this one would do.
False alarm: A leak within the number given. The set is solved with leaks from 1 kilohm to 10
gigohms; where it cannot be, the volts are those of the unloaded supply, an upper bound, and the
finding says so. `policy coupling-leakage shift` sets how far the grid may move.
Source: divider Vg = V x Rg / (Rg + Rleak) while no grid current flows: elementary circuit theory;
what a leak does: wkars.wordpress.com 2022 ("that capacitor") and the stason.org FAQ on distorted
audio; insulation by a meter in series: Collins list, February 2003; plate and screen maxima: tube
data. A tenth of the bias as the shift allowed: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.circuit.wiring import Coupling
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
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
from netcheck.rules._sweep import Sweep, sweeps
from netcheck.rules._words import amount, named

_STAGE = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
S1 power: ON FUSED to H5
C1 47 mfd 160 V electrolytic, new: + B1, - B-
V5 35W4: plate H5, cathode B1, heater HTOP to H4
R90 130 ohm 10 W: H5 to HTOP
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
# The shift allowed where the bias is not known (common practice, no source).
_UNSOLVED_V = 0.5


@rule(
    harm=Harm.DAMAGE,
    options={
        "shift": Option(
            "tenth",
            ("tenth", "0.1", "0.5", "1"),
            "how far a leak may move a grid: a tenth of its bias (0.5 V where the set is not "
            "solved), or so many volts",
        )
    },
    bad=(
        Example(
            _STAGE + "C14 .01 mfd 400 V paper: V3.plate to DRIVE   # <-\n",
            "V off the g1 of V4 (50C5)",
        ),
        Example(
            _STAGE
            + "C14 .01 mfd 630 V film, new: V3.plate to DRIVE   # <-\n"
            + "reading C14 leakage 40 V at 90 V, meter 10 M\n",
            "C14 (.01 mfd 630 V film, new) leaks through 12.5M",
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
    judged = []
    for ref, coupling in reversed(by_ref.items()):
        part = case.chassis.part(ref)
        if part is None:
            continue
        suspect, why_not = _suspect(case, coupling, part)
        if suspect is not None:
            judged.append(suspect)
        elif why_not:
            yield _unknown(case, part, why_not)
    measured = {each.part.ref: each.leak.ohm for each in judged if each.leak is not None}
    solved = sweeps(case, [each.coupling for each in judged], measured) if judged else {}
    for suspect in judged:
        yield from _judged(case, suspect, solved[suspect.part.ref])


@dataclass(frozen=True, slots=True)
class _Suspect:
    """A coupling to judge: its leak as measured, or None for old paper without a reading."""

    coupling: Coupling
    part: Part
    leak: Leak | None


def _suspect(case: Case, coupling: Coupling, part: Part) -> tuple[_Suspect | None, str]:
    """The suspect that a coupling is; else why it cannot be told, empty if it is none."""
    reading = leakage_reading(case.chassis, part.ref)
    if reading is not None:
        leak = leak_of(reading)
        why_not = "its leakage reading lacks the meter or the volts"
        return (None, why_not) if leak is None else (_Suspect(coupling, part, leak), "")
    if part.condition is not Condition.ORIGINAL or part.description.classes:
        return None, ""
    kind = dielectric_of(part)
    if kind is None:
        where = grid_words(case, coupling)
        return None, f"it leads to {where}, and what it is made of is not said"
    return (_Suspect(coupling, part, None) if kind.suspect_when_original else None), ""


def _judged(case: Case, suspect: _Suspect, sweep: Sweep | NotSolved) -> Iterator[_Result]:
    """Judge by the solved sweep; by the unloaded supply, and saying so, where there is none."""
    leak, part = suspect.leak, suspect.part
    option = case.option("shift")
    if isinstance(sweep, Sweep):
        most_v = sweep.tenth_v if option == _TENTH else float(option)
        ohm = sweep.least_ohm(most_v)
        if ohm > (leak.ohm if leak is not None else 0.0):
            yield _finding(case, suspect, _Need.solved(sweep, ohm, most_v, leak))
        return
    demand = demand_of(case, suspect.coupling, _UNSOLVED_V if option == _TENTH else float(option))
    if demand is None:
        if leak is None:
            yield _finding(case, suspect, None)
        yield _unknown(case, part, _NO_DEMAND)
    elif leak is None or leak.ohm < demand.ohm:
        yield _finding(case, suspect, _Need.bound(demand, leak, sweep))


_Result = Finding | NotChecked
_NO_DEMAND = "the unloaded supply or the grid resistor is not known, so no megohm to ask of it"
_NO_FIGURE = "how well it must insulate cannot be told"
_TENTH = "tenth"


def _unknown(case: Case, part: Part, why: str) -> NotChecked:
    return case.not_checked(f"{part.ref}: {why}", (part.ref,))


@dataclass(frozen=True, slots=True)
class _Need:
    """The insulation to ask for, and the numbers it comes from, in words for the finding."""

    ohm: float
    volts: str
    calc: tuple[Calculation, ...]
    said: str = ""

    @classmethod
    def solved(cls, sweep: Sweep, ohm: float, most_v: float, leak: Leak | None) -> _Need:
        """From the solved leaks."""
        calc = sweep.calculations(leak.ohm if leak else _USUAL_OHM, most_v)
        reason = (
            f"a leak of {amount(ohm, 'ohm')} moves the grid by {amount(most_v, 'V')} or brings "
            "the tube to a maximum, a better insulation does not (leaks of 1K to 10000M solved)"
        )
        least = Calculation("least insulation", ohm / 1e6, "Mohm", None, reason)
        return cls(ohm, amount(sweep.sound.source_v, "V"), (least, *calc))

    @classmethod
    def bound(cls, demand: Demand, leak: Leak | None, why: NotSolved) -> _Need:
        """From the unloaded supply, because the set is not solved."""
        calc = demand.calculations(leak.ohm if leak else _USUAL_OHM)
        volts = f"up to {amount(demand.supply.volts, 'V')}"
        reason = why.reason.rstrip(".")
        said = f" The figures are an upper bound, because the set is not solved: {reason}."
        return cls(demand.ohm, volts, calc, said)


def _finding(case: Case, suspect: _Suspect, need: _Need | None) -> Finding:
    """Old paper, or a part whose measured leak is below the need."""
    coupling, part, leak = suspect.coupling, suspect.part, suspect.leak
    grid = grid_words(case, coupling)
    ask = f"it needs an insulation of {amount(need.ohm, 'ohm')}" if need else _NO_FIGURE
    calc = need.calc if need else ()
    related = list(path_lines(case, coupling))
    if leak is not None and need is not None:
        said = f"leaks through {amount(leak.ohm, 'ohm')} to {grid}"
        calc = (Calculation("insulation", leak.ohm / 1e6, "Mohm", need.ohm / 1e6, leak.sum), *calc)
        reading = leakage_reading(case.chassis, part.ref)
        if reading is not None:
            related.insert(0, Related(reading.value.span, f"the leakage of {part.ref} as read"))
    else:
        said = f"is old paper and keeps {need.volts if need else 'volts not known'} off {grid}"
    kind = dielectric_of(part)
    old = part.condition is Condition.ORIGINAL and kind is not None and kind.suspect_when_original
    also = " aged-capacitor lists the same part: a new one clears both." if old else ""
    return case.finding(
        f"{named(part)} {said}; {ask}",
        part.span_of(dielectric_span_word(part)),
        parts=(part.ref, coupling.tube),
        nodes=(coupling.source, coupling.grid),
        related=related,
        calc=calc,
        why=f"Where it leaks, {fate(case, coupling)}.{need.said if need else ''}{also}",
        action=f"fit a film capacitor for {part.ref}; then no DC may be across the grid resistor",
    )
