"""The supply's return through its bias resistor is open.

Why: Where the negative lead makes the bias, through a resistor or field coil, that is the only
way back for every tube's current. Open, no tube draws any: the reservoir stands at the peak of the
winding, and the whole supply lies across what should have been a few volts of bias. Shorted instead
(by the filter capacitor across it), the bias is gone and the output tube runs hot.
False alarm: The part that closes the lead is not in the text yet: write it, or `Z1 load` for what
is not traced. What a short would do is a note, and no fault: accept it.
Source: dead set, reservoir high, or a burned resistor with the whole supply across it:
philcoradio.com forum post 106531; what a shorted bias filter does: solved; unloaded volts: peak of
the winding, elementary rectifier theory.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Role
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._burnt import Comparison
from netcheck.rules._operating import NOMINAL, shorted, tried
from netcheck.rules._reach import doubt, reached
from netcheck.rules._unloaded import unloaded_supply
from netcheck.rules._words import amount, listed, named

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

_SET = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 1/2 A 250 V slow: LINE to FUSED
T1 power, primary 6 ohm, high 240-0-240 V 80 mA 180 ohm each, heater 6.3 V 2 A,
   rectifier 5 V 2 A: primary FUSED to COLD, high HA to CT to HB, heater H to CHASSIS,
   rectifier B+ to FIL
V5 80: plate1 HA, plate2 HB, filament B+ to FIL
C16 8 mfd 525 V electrolytic, new: + B+, - CT
C17 16 mfd 525 V electrolytic, new: + B2, - CHASSIS
R1 47 ohm 10 W: B+ to B2
V4 6F6: plate T2.plate, screen B2, grid DRIVE, cathode CHASSIS, shell CHASSIS,
   heater H to CHASSIS
T2 output, 7000 ohm to 4 ohm, primary 400 ohm: primary B2 to T2.plate, secondary VC to VCR
LS1 4 ohm: VC to VCR
R16 100K 1/2 W, new: DRIVE to {bias}
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _SET.format(bias="CHASSIS").replace("C16 8", "R25 390 ohm 5 W, removed: CT to CHASSIS"
                                                "\nC16 8").replace("- CT", "- CT   # <-"),
            "no way back to CT",
        ),
        Example(
            _SET.format(bias="BIAS") + "R25 390 ohm 5 W: CT to BIAS\n"
            "R26 390 ohm 5 W, removed: BIAS to CHASSIS\n"
            "C25 10 mfd 50 V electrolytic, new: + CHASSIS, - BIAS   # <-\n",
            "C25",
        ),
        Example(
            _SET.format(bias="CT") + "R25 390 ohm 5 W: CT to CHASSIS\n"
            "C25 10 mfd 50 V electrolytic, new: + CHASSIS, - CT   # <-\n",
            "shorted, would put",
        ),
    ),
    good=(
        _SET.format(bias="CT") + "R25 390 ohm 5 W: CT to CHASSIS\n",
        _SET.format(bias="CHASSIS").replace("cathode CHASSIS", "cathode K").replace("CT", "CHASSIS")
        + "R25 430 ohm 5 W: K to CHASSIS\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for an open return, and one for the bias filters whose short burns."""
    opened = _open_return(case)
    if opened is not None:
        yield opened
        return
    yield from _shorts(case)


def _open_return(case: Case) -> Finding | NotChecked | None:
    """The supply's return and the cathodes are on nets that no direct current joins."""
    wiring, chassis = case.circuit.wiring, case.chassis
    common = wiring.common
    base = {chassis.net(name) for name in ("B-", "CHASSIS")} & set(wiring.nets)
    if common is None or common in base or not wiring.rectifiers:
        return None
    cathodes = sorted(
        e.net for e in wiring.electrodes
        if e.duty == "cathode" and e.section_kind not in ("rectifier", "diode")
    )  # fmt: skip
    low = [net for net in cathodes if wiring.dc_path(net, base) is not None]
    if not low or any(wiring.dc_path(net, {common}) is not None for net in low):
        return None
    side = reached(case, common, until=base)
    # A plug whose speaker and field are in the text leads to nothing unknown.
    known = {p.on for p in chassis.parts if p.on is not None}
    plugged = {
        chassis.net(t.node) for p in chassis.of_kind("plug", "jack") if p.ref in known
        for t in p.terminals
    }  # fmt: skip
    beyond = sorted(n for n in side & plugged if wiring.incomplete(n))
    reason = doubt(case, side - plugged) or (
        f"a part at {beyond[0]} is not known" if beyond else None
    )
    if reason is not None:
        return case.not_checked(f"whether the supply has its way back to {common}: {reason}")
    return _open(case, common, low[0], side, base)


def _open(case: Case, common: str, cathode: str, side: frozenset[str], base: set[str]) -> Finding:
    wiring, chassis = case.circuit.wiring, case.chassis
    gone = [
        p for p in chassis.parts
        if not p.fitted and {chassis.net(n) for n in p.nodes} & side and p.kind in
        ("resistor", "coil", "fuse", "switch")
    ]  # fmt: skip
    # Only capacitors are left on that side: the first of them is where the text shows it.
    stored = [
        part for part in chassis.of_kind("capacitor")
        if {chassis.net(n) for n in part.nodes} & side
    ]  # fmt: skip
    bridging = [p for p in stored if {chassis.net(n) for n in p.nodes} & base]
    first = next(iter(bridging or stored), None)
    span = chassis.nodes[common].span if first is None else first.span
    supply = unloaded_supply(case, sorted(wiring.supplies)[0]) if wiring.supplies else None
    calc = [] if supply is None else [
        Calculation(
            f"volts that can lie across {first.ref if first is not None else 'the gap'}",
            supply.volts, "V", first.value("voltage") if first is not None else None, supply.sum,
        )
    ]  # fmt: skip
    wound = {net for w in wiring.supply.windings for net in w.nets}
    where = listed(sorted(side - {common} - wound)) or "nothing but its winding"
    missing = f" where {listed(named(p) for p in gone)} was" if gone else ""
    seen = f" (at {first.ref})" if first is not None else ""
    return case.finding(
        f"the cathodes on {case.chassis.net(cathode)} have no way back to {common}, where the "
        f"supply returns{seen}: from there direct current reaches {where}",
        span,
        parts=tuple(dict.fromkeys([*(p.ref for p in gone), *((first.ref,) if first else ())])),
        nodes=(common, *sorted(side - {common})),
        related=[Related(p.ref_span or p.span, f"{named(p)} is not there") for p in gone],
        calc=calc,
        action=f"fit the bias resistor or field coil between {common} and "
        f"{listed(sorted(base))}{missing}, before power",
    )


def _shorts(case: Case) -> Iterator[Finding | NotChecked]:
    """What a short of each capacitor across the bias would burn."""
    wiring = case.circuit.wiring
    parts = [
        part for part in case.chassis.of_kind("capacitor")
        if wiring.role_of(part.ref) is Role.BIAS_BYPASS and wiring.of(part.ref)
    ]  # fmt: skip
    if not parts:
        return
    sound, *faults = tried(case, [NOMINAL, *(shorted(part.ref) for part in parts)])
    if isinstance(sound, NotSolved):
        yield case.not_checked(sound.reason, [part.ref for part in parts])
        return
    burns = Comparison(case, sound)
    for part, fault in zip(parts, faults, strict=True):
        if isinstance(fault, NotSolved):
            yield case.not_checked(f"{part.ref} shorted: {fault.reason}", (part.ref,))
        else:
            yield from _short(case, part, burns, fault)


def _short(case: Case, part: Part, burns: Comparison, fault: Point) -> Iterator[Finding]:
    burnt = burns.burnt_by(fault)
    volts = burns.sound.between(*case.circuit.wiring.of(part.ref)[0].nets)
    if not burnt or volts is None:
        return
    yield case.finding(
        f"{named(part)}, across {amount(abs(volts), 'V')} of bias, shorted, would {burnt[0].said}",
        part.ref_span or part.span,
        harm=Harm.RECORD,
        parts=(part.ref,),
        nodes=case.circuit.wiring.of(part.ref)[0].nets,
        state=fault.state.name,
        calc=[b.calculation(f"{part.ref} shorted") for b in burnt],
        action=f"nothing is shorted now: fit a new {part.ref} of good make",
    )
