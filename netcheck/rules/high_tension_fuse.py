"""No high-voltage fuse behind a rectifier known to short.

Why: Some rectifier tubes end in a short from plate or heater to cathode. The high-voltage winding
then feeds the short, and a fuse in the primary, sized for the whole set, need not notice: the
transformer burns. A fuse in the winding's centre tap, or one in each plate lead, opens at once.
False alarm: It is advice: nothing is wrong while the tube is sound. Where the winding's own ohms
keep the primary fuse's current up, or the set stays as its maker built it, accept it. Sets on a
vibrator are left out: their short blows the fuse of the battery lead.
Source: 6X5, 6X4, 84 and transformers lost to their shorts: nostalgiaair.org t50176,
vintage-radio.com.au th 1197, philcoradio.com post 78003; a primary fuse that does not save the
winding, and one in the centre tap: vintage-radio.com.au th 1197, premierguitar.com; the short as
volts over the winding's hot ohms, an upper bound: Ohm's law; a slow fuse opens within ten seconds
from 2.75 times its rating on: from memory (IEC 60127-2 sheet 3).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.catalog.preferred import ratings
from netcheck.circuit.paths import OHMIC, walk
from netcheck.circuit.power import PowerWinding
from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._line import line_fuses, on_line, parts_of
from netcheck.rules._operating import solved
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.operating import SupplyPoint

_SHORTING = ("6X5", "6X4", "84", "6Z4", "EZ90", "EZ35")
# A fuse is chosen 1.5 to 2 times the current it carries (common practice, no source).
_FITTING, _OPENS = 1.5, 2.75

_SET = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUTRAL
F1 {fuse} 250 V slow: LINE to FUSED
T1 power, primary 117 V 6 ohm, high 250-0-250 V 70 mA 180 ohm each, heater 6.3 V 2 A:
   primary FUSED to NEUTRAL, high HA to {tap} to HB, heater H to CHASSIS
V5 {tube}, cathode B+, heater H to CHASSIS{mark}
C1 10 mfd 450 V electrolytic, new: + B+, - CHASSIS
Z1 load 60 mA: B+ to CHASSIS
"""
_EIGHTY = """policy high-tension-fuse types every
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUTRAL
F1 3/4 A 250 V slow: LINE to FUSED
T1 power, high 300-0-300 V 60 mA 200 ohm each, rectifier 5 V 2 A:
   primary FUSED to NEUTRAL, high HA to CHASSIS to HB, rectifier B+ to FIL
V5 80: plate1 HA, plate2 HB, filament B+ to FIL   # <-
C1 8 mfd 525 V electrolytic, new: + B+, - CHASSIS
Z1 load 60 mA: B+ to CHASSIS
"""
_6X5 = "6X5GT: plate1 HA, plate2 HB"


@rule(
    harm=Harm.PERFORMANCE,
    options={
        "types": Option(
            "known", ("known", "every"), "which rectifier tubes are told: those known to short, "
            "or every one on a power transformer",
        )
    },
    bad=(
        Example(
            _SET.format(fuse="1 A", tap="CHASSIS", tube=_6X5, mark="   # <-"),
            "F1 (1 A 250 V slow) need not open within",
        ),
        Example(
            _EIGHTY,
            "V5 (80)",
        ),
    ),
    good=(
        _SET.format(fuse="3/4 A", tap="CT", tube=_6X5, mark="")
        + "F2 150 mA 250 V fast: CT to CHASSIS\n",
        _SET.format(fuse="3/4 A", tap="CHASSIS", tube="6X5GT: plate1 PA, plate2 PB", mark="")
        + "F2 100 mA 250 V fast: HA to PA\nF3 100 mA 250 V fast: HB to PB\n",
        _EIGHTY.replace("policy high-tension-fuse types every\n", "").replace("   # <-", ""),
    ),
)  # fmt: skip
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each transformer whose rectifier may short without a fuse to open."""
    told: set[str] = set()
    for part, winding in _rectifiers(case):
        if part.ref in told or _is_fused(case, part, winding):
            continue
        told.add(part.ref)
        transformer = case.chassis.part(winding.ref)
        if transformer is None:
            continue
        if any(case.circuit.wiring.incomplete(net) for net in winding.nets):
            yield case.not_checked(
                f"whether {part.ref} is fused: a part at its winding is not known", (part.ref,)
            )
            continue
        supply = _supply(case, part)
        if isinstance(supply, str):
            yield case.not_checked(f"what a short of {part.ref} draws: {supply}", (part.ref,))
        else:
            yield _finding(case, part, transformer, winding, _short_of(case, supply))


def _rectifiers(case: Case) -> Iterator[tuple[Part, PowerWinding]]:
    """Rectifier tubes with a plate on a winding of a line transformer."""
    wiring = case.circuit.wiring
    for element in wiring.rectifiers:
        part = case.chassis.part(element.ref)
        source = wiring.supply.source_of(element)
        if part is None or part.tube is None or source is None:
            continue
        known = part.tube.name.split("/")[0].removesuffix("GT").removesuffix("G") in _SHORTING
        if not known and case.option("types") == "known":
            continue
        for winding in wiring.supply.windings:
            if not winding.driven and source in winding.nets:
                yield part, winding


_THROUGH = OHMIC - {Kind.FUSE, Kind.HEATER, Kind.BATTERY}


def _is_fused(case: Case, part: Part, winding: PowerWinding) -> bool:
    """Whether no plate is joined through the winding to the supply's return without a fuse."""
    wiring = case.circuit.wiring

    def ohm_of(e: Element) -> float | None:
        own = e.ref != winding.ref or e.path == winding.path
        foreign = e.ref in wiring.supply.power_refs and e.ref != winding.ref
        passes = e.kind in _THROUGH
        return (e.ohm or 0.0) if passes and own and not foreign else None

    # The minus ends of the supply's capacitors and the return: where the short's current goes.
    low = wiring.supply.returns - set(winding.nets[1:-1])
    low |= {
        e.b for e in wiring.elements
        if e.kind is Kind.CAPACITOR and e.terminals[0] == "+" and e.a in wiring.b_plus
    }  # fmt: skip
    plates = [e.a for e in wiring.rectifiers if e.ref == part.ref]
    for plate in plates:
        if low & set(walk(wiring.adjacency, [plate], ohm_of)):
            return False
    return bool(plates)


@dataclass(frozen=True, slots=True)
class _Short:
    """What the rectifier's output gives into a short, in the winding and in the line."""

    supply: SupplyPoint
    winding_a: float
    line_a: float
    usual_a: float


def _supply(case: Case, part: Part) -> SupplyPoint | str:
    try:
        point = solved(case)
    except NotSolved as fault:
        return fault.reason
    found = [s for s in point.supplies if part.ref in s.source.refs]
    return found[0] if found else "its supply is not solved"


def _short_of(case: Case, supply: SupplyPoint) -> _Short:
    """A plate shorted to the cathode of its tube, both halves then feeding one short.

    The winding's half drives its own ohms: its volts over them. The line sees that in the ratio of
    the winding's volts to the line's.
    """
    spec = supply.supplies.spec_of(supply.line_row)
    volts, ohm = float(spec.figure("volts")[0]), float(spec.figure("source_ohm")[0])
    line = case.chassis.line
    winding_a = volts / max(ohm, 1.0)
    line_v = line.volts if line is not None and line.volts else volts
    usual = float(supply.cycle.source_rms_a.ravel()[0]) * math.sqrt(2)
    return _Short(supply, winding_a, winding_a * volts / line_v, usual)


def _finding(
    case: Case, part: Part, transformer: Part, winding: PowerWinding, short: _Short
) -> Finding:
    fuses = parts_of(case, line_fuses(case.circuit.wiring))
    sizes = [f.value("current") for f in fuses]
    rated = min((size for size in sizes if size), default=None)
    held = rated is None or short.line_a < _OPENS * rated
    does = "need not open within ten seconds" if held else "opens within ten seconds of that"
    primary = f"{listed(named(f) for f in fuses)} {does}" if fuses else "nor has the primary"
    size = _size(short.usual_a)
    where = "centre tap" if len(winding.nets) > 2 else "high winding"
    return case.finding(
        f"{named(part)}, shorted, draws up to {amount(short.winding_a, 'A')} from "
        f"{transformer.ref}, whose high winding has no fuse; {primary}",
        part.span_of("type"),
        harm=Harm.PERFORMANCE if held else Harm.RECORD,
        parts=(part.ref, transformer.ref),
        nodes=winding.nets,
        related=[
            Related(transformer.ref_span or transformer.span, f"{named(transformer)} feeds it")
        ],
        state=f"{part.ref} shorted from plate to cathode",
        calc=[
            Calculation(
                f"high winding of {transformer.ref}", short.winding_a * 1e3, "mA",
                short.usual_a * 1e3, "winding volts over its ohms; limit: rms in the running set",
            ),
            Calculation(
                "line current of the short", short.line_a, "A",
                None if rated is None else _OPENS * rated,
                "in the ratio of the windings; limit: where the line fuse opens within ten seconds",
            ),
        ],
        action=f"fit a fuse of {amount(size, 'A')} fast, 250 V or more, in the lead of "
        f"{transformer.ref}'s {where}",
    )  # fmt: skip


def _size(usual_a: float) -> float:
    """The standard size from 1.5 times the current on."""
    small = (0.05, 0.063, 0.1, 0.125, 0.15, 0.2)  # from memory (UL 248-14, IEC 60127-2 lists)
    sizes = sorted({*small, *ratings("fuse-ul")})
    least = _FITTING * usual_a
    return next((size for size in sizes if size >= least), float(f"{least:.2g}"))
