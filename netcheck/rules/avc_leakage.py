"""AVC bypass leaks, or its time constant is off.

Why: The line for automatic volume control is fed through a megohm or more. A bypass that leaks a
little divides its volts: strong stations overload, and the dial drifts. With far more microfarads
or megohms the set stays deaf for a second after a strong station; with far fewer the control
follows the bass and takes it away.
False alarm: A set with a fast and a slow position, or a maker's own long time: accept it.
Source: leakage of 20 times the resistors that feed it or more: siliconchip.com.au A_103008; 0.05 to
0.3 s as receivers have it, told from half and twice of it on: common practice, no source; time
constant R x C, share lost R / (R + leak): elementary circuit theory.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._avc import AvcLine, avc_lines
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._capacitors import Leak, leak_of, leakage_reading
from netcheck.rules._words import amount, listed, named

_USUAL_S = (0.05, 0.3)
_FAR = 2.0

_SET = """hold B+ 250 V
V2 6SK7: plate T3.plate, screen SCREEN, suppressor B-, grid T2.grid, cathode K2, shell B-,
   heater H1 to B-
R2 300 ohm 1/2 W: K2 to B-
R6 47K 1 W, new: B+ to SCREEN
T2 IF, 455 kc, primary 10 ohm, secondary 10 ohm: primary X to Y, secondary T2.grid to AVC
T3 IF, 455 kc, primary 10 ohm, secondary 10 ohm: primary B+ to T3.plate, secondary DIODE to DET
V3 6H6: plate1 DIODE, plate2 B-, cathode1 B-, cathode2 B-, shell B-, heater H1 to B-
R4 500K 1/2 W, new: DET to B-
R3 {ohm} 1/2 W, new: DET to AVC
"""


@rule(
    harm=Harm.PERFORMANCE,
    options={
        "times": Option("20", ("10", "20", "50"), "how many times its resistors the leak must be")
    },
    bad=(
        Example(
            _SET.format(ohm="1 meg") + "C12 .1 mfd 400 V film, new: AVC to B-   # <-\n"
            "reading C12 leakage 5 V at 50 V, meter 1 M\n",
            "leaks through 9M",
        ),
        Example(
            _SET.format(ohm="2.2 meg") + "C12 .68 mfd 400 V film, new: AVC to B-   # <-\n",
            "time constant of 1.5 s",
        ),
    ),
    good=(
        _SET.format(ohm="1 meg") + "C12 .1 mfd 400 V film, new: AVC to B-\n"
        "reading C12 leakage 0.2 V at 50 V, meter 10 M\n",
        _SET.format(ohm="2.2 meg") + "C12 .047 mfd 400 V film, new: AVC to B-\n",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each AVC bypass that leaks, and for each line that is slow or fast."""
    for line in avc_lines(case):
        refs = [part.ref for part in line.bypasses]
        ohm = line.ohm
        if ohm is None:
            if any(e.ohm is None for e in line.feeding):
                yield case.not_checked(f"the ohms that feed {line.net} are not known", refs)
            continue
        for part in line.bypasses:
            yield from _leaking(case, line, part, ohm)
        yield from _timing(case, line, ohm)


def _leaking(case: Case, line: AvcLine, part: Part, ohm: float) -> Iterator[Finding | NotChecked]:
    reading = leakage_reading(case.chassis, part.ref)
    if reading is None:
        return  # old paper without a reading: `aged-capacitor` tells it
    leak = leak_of(reading)
    if leak is None:
        yield case.not_checked(f"the leakage reading of {part.ref} lacks a value", (part.ref,))
        return
    least = ohm * float(case.option("times"))
    if leak.ohm < least:
        yield _leak_finding(case, line, part, ohm, leak, least)


def _leak_finding(
    case: Case, line: AvcLine, part: Part, ohm: float, leak: Leak, least: float
) -> Finding:
    lost = ohm / (ohm + leak.ohm)
    share = float(f"{lost * 100:.2g}")
    feeding = listed(e.ref for e in line.feeding)
    tubes = listed(e.ref for e in line.grids)
    return case.finding(
        f"{named(part)} leaks through {amount(leak.ohm, 'ohm')} on a line fed through "
        f"{amount(ohm, 'ohm')} ({feeding}), which takes {share:g} % of the AVC of {tubes}",
        part.span_of("capacitance"),
        parts=(part.ref,),
        nodes=(line.net,),
        calc=[
            Calculation(
                f"insulation of {part.ref}", leak.ohm / 1e6, "Mohm", least / 1e6, leak.sum
            ),
            Calculation(
                "AVC lost of every 10 V", 10 * lost, "V", None,
                f"10 V x {amount(ohm, 'ohm')} / ({amount(ohm, 'ohm')} + {amount(leak.ohm, 'ohm')})",
            ),
        ],
        action=f"fit a film capacitor as {part.ref}; {amount(least, 'ohm')} or more is asked there",
    )  # fmt: skip


def _timing(case: Case, line: AvcLine, ohm: float) -> Iterator[Finding | NotChecked]:
    farads = {p.ref: f for p in line.bypasses if (f := p.value("capacitance")) is not None}
    if len(farads) < len(line.bypasses):
        yield case.not_checked(f"the microfarads on {line.net} are not known",
                               [part.ref for part in line.bypasses])  # fmt: skip
        return
    farad = sum(farads.values())
    seconds = ohm * farad
    low, high = _USUAL_S[0] / _FAR, _USUAL_S[1] * _FAR
    if low <= seconds <= high:
        return
    slow = seconds > high
    part = max(line.bypasses, key=lambda p: farads[p.ref])
    others = [p for p in line.bypasses if p is not part]
    said = listed([named(part), *(p.ref for p in others)])
    does = "the set stays deaf after a strong station" if slow else "the control follows the bass"
    limit = high if slow else low
    fit = _fitting(ohm)
    yield case.finding(
        f"{said} with {amount(ohm, 'ohm')} ({listed(e.ref for e in line.feeding)}) "
        f"{'have' if others else 'has'} a time constant of {amount(seconds, 's')}: {does}",
        part.span_of("capacitance"),
        parts=(part.ref,),
        nodes=(line.net,),
        related=[Related(p.span_of("capacitance"), f"{named(p)} is on the same line")
                 for p in others],
        calc=[
            Calculation(
                f"time constant of {line.net}", seconds, "s", limit,
                f"{amount(ohm, 'ohm')} x {amount(farad, 'F')}; 0.05 to 0.3 s is usual",
            )
        ],
        action=f"compare {part.ref} and its resistors with the maker's list: {amount(fit, 'F')} "
        f"with {amount(ohm, 'ohm')} has 0.1 s",
    )  # fmt: skip


def _fitting(ohm: float) -> float:
    from netcheck.catalog.preferred import nearest_preferred

    return nearest_preferred(0.1 / ohm * 1e12, "E6") * 1e-12
