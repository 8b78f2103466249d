"""Filter capacitor that keeps its charge.

Why: With its load cut off the capacitor stays at the full peak for hours after the plug is out, and
gives it to the first hand. What a tube does not empty while it cools, a resistor has to.
False alarm: You always short it through a resistor and measure before you reach in: accept it. Less
than a quarter of a joule only startles and is not reported; warm tubes count as emptying it.
Source: 60 V DC as the limit of what may be touched: IEC 60065 (Toshiba 32W1333DN service manual);
0.25 J startles, 10 J may kill: from memory (L. B. Gordon, hazard classes of capacitors over 100 V);
E = C x V^2 / 2, t = R x C x ln(V / 60 V): elementary theory; a minute as the longest wait: common
practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from netcheck.catalog.preferred import nearest_preferred, next_rating
from netcheck.circuit.discharge import Held, held_charges
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._unloaded import Unloaded, unloaded_supply
from netcheck.rules._words import amount, listed

_SAFE_V, _LONGEST_S = 60.0, 60.0
_STARTLES_J, _KILLS_J = 0.25, 10.0
_MOST_OHM = 470e3  # more is itself a part that drifts

_SUPPLY = (
    "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral N\n"
    "F1 1/4 A 250 V slow: LINE to FUSED\n"
    "S1 power: ON FUSED to SW\nT1 power, primary 117 V, high 185-0-185 V, heater 6.3 V:\n"
    "   primary SW to N, high HA to CT to HB, heater H1 to CHASSIS\n"
    "D1 silicon 1000 V 1 A: anode HA, cathode B+\nD2 silicon 1000 V 1 A: anode HB, cathode B+\n"
    "V4 6V6GT: plate PL, screen B2, g1 G, cathode K, heater H1 to CHASSIS\n"
    "R1 330 ohm 2 W: K to CHASSIS\nR2 220K 1/2 W: G to CHASSIS\n"
)
_FIELD = "P2 speaker plug: 1 B+, 2 B2, 3 PL\nL5 field 1000 ohm, on P2: B+ to B2\n"
_OUTPUT = (
    "T2 output, 5000 ohm to 4 ohm, on P2: primary B2 to PL, secondary VC to VCR\n"
    "LS1 4 ohm, on P2: VC to VCR\n"
)


@rule(
    harm=Harm.SHOCK,
    bad=(
        Example(
            _SUPPLY + "wire CT to CHASSIS\n" + _FIELD + _OUTPUT
            + "C16 16 mfd 500 V electrolytic, new: + B+, - CHASSIS   # <-\n",
            says="with P2 out nothing empties C16",
        ),
        Example(
            _SUPPLY + "wire CT to CHASSIS\nwire B+ to RAW\nS3 slide: ON RAW to B2\n"
            "T2 output, 5000 ohm to 4 ohm: primary B2 to PL, secondary VC to VCR\n"
            "LS1 4 ohm: VC to VCR\nC16 150 mfd 500 V electrolytic, new: + RAW, - CHASSIS   # <-\n",
            says="with S3 OFF nothing empties C16",
        ),
    ),
    good=(
        _SUPPLY + "wire CT to CHASSIS\n" + _FIELD + _OUTPUT
        + "C16 16 mfd 500 V electrolytic, new: + B+, - CHASSIS\nR9 220K 2 W: B+ to CHASSIS\n",
        _SUPPLY + "wire CT to CHASSIS\nwire B+ to B2\n"
        "T2 output, 5000 ohm to 4 ohm: primary B2 to PL, secondary VC to VCR\n"
        "LS1 4 ohm: VC to VCR\nC16 16 mfd 500 V electrolytic, new: + B+, - CHASSIS\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each group of filter capacitors that nothing empties in some state."""
    groups: dict[tuple[str, ...], list[_Kept]] = {}
    unknown: dict[str, str] = {}
    for held in held_charges(case.circuit.wiring):
        kept = _kept(case, held)
        if isinstance(kept, str):
            unknown[held.ref] = kept
        elif kept is not None and _harm([kept]) is not Harm.RECORD:
            groups.setdefault((held.state, held.minus), []).append(kept)
    seen: set[frozenset[str]] = set()
    for group in sorted(groups.values(), key=lambda g: -sum(each.joule for each in g)):
        refs = frozenset(each.part.ref for each in group)
        if not any(refs <= known for known in seen):
            seen.add(refs)
            yield _finding(case, group)
    told = frozenset(ref for refs in seen for ref in refs)
    for ref, reason in unknown.items():
        if ref not in told:
            yield case.not_checked(reason, [ref])


@dataclass(frozen=True, slots=True)
class _Kept:
    """A capacitor that is not emptied in time: its farads, the supply's peak, seconds to 60 V."""

    part: Part
    held: Held
    farad: float
    peak: Unloaded
    seconds: float

    @property
    def joule(self) -> float:
        return self.farad * self.peak.volts**2 / 2


def _kept(case: Case, held: Held) -> _Kept | str | None:
    part = case.chassis.part(held.ref)
    farad = part.value("capacitance") if part is not None else None
    peak = unloaded_supply(case, held.plus)
    if part is None or any(case.circuit.wiring.incomplete(n) for n in (held.plus, held.minus)):
        return f"whether something empties {held.ref}: a part beside it is not known"
    if farad is None or peak is None:
        what = "its value" if farad is None else "the volts of its supply"
        return f"how much {held.ref} keeps with {held.state}: {what} is not known"
    if peak.volts <= _SAFE_V:
        return None
    if held.unknown:
        return f"how fast {held.ref} is emptied with {held.state}: {held.unknown}"
    seconds = math.inf
    if held.ohm is not None:
        seconds = held.ohm * farad * math.log(peak.volts / _SAFE_V)
    return _Kept(part, held, farad, peak, seconds) if seconds > _LONGEST_S else None


def _harm(group: Sequence[_Kept]) -> Harm:
    joule = sum(each.joule for each in group)
    if joule < _STARTLES_J:
        return Harm.RECORD
    return Harm.SHOCK if joule >= _KILLS_J else Harm.BURST


def _finding(case: Case, group: Sequence[_Kept]) -> Finding:
    first = max(group, key=lambda each: each.joule)
    refs = [each.part.ref for each in group]
    joule = sum(each.joule for each in group)
    slow = [each for each in group if each.seconds < math.inf]
    how = f"{'nothing empties' if not slow else 'it takes over a minute to empty'} {listed(refs)}"
    return case.finding(
        f"with {first.held.state} {how}: up to {amount(first.peak.volts, 'V')},"
        f" {amount(joule, 'J')}",
        first.part.span_of("capacitance"),
        harm=_harm(group),
        parts=refs,
        nodes=(first.held.plus, first.held.minus),
        state=first.held.state,
        related=[
            Related(each.part.ref_span or each.part.span, "keeps its charge too")
            for each in group
            if each is not first
        ],
        calc=[*(_energy(each) for each in group), *(_time(each) for each in slow)],
        action=_action(first),
    )


def _energy(each: _Kept) -> Calculation:
    said = f"{amount(each.farad, 'F')} x ({amount(each.peak.volts, 'V')})^2 / 2, {each.peak.sum}"
    return Calculation(f"energy in {each.part.ref}", each.joule, "J", _STARTLES_J, said)


def _time(each: _Kept) -> Calculation:
    ohm = each.held.ohm or 0.0
    said = (
        f"{amount(ohm, 'ohm')} x {amount(each.farad, 'F')} x ln({amount(each.peak.volts, 'V')} /"
        f" {_SAFE_V:g} V)"
    )
    return Calculation(f"{each.part.ref} to 60 V", each.seconds, "s", _LONGEST_S, said)


def _action(first: _Kept) -> str:
    volts = first.peak.volts
    # A third of the longest wait, so that tolerances do not matter; half the watts of its rating.
    ohm = min(_LONGEST_S / 3 / (first.farad * math.log(volts / _SAFE_V)), _MOST_OHM)
    fitted = nearest_preferred(ohm, "E12")
    watts = next_rating(2 * volts**2 / fitted, "resistor-w")
    rated = f" {amount(watts, 'W')}" if watts is not None else ""
    return (
        f"fit {amount(fitted, 'ohm')}{rated} across {first.part.ref}, or empty it through 10K with"
        " clips and measure, each time before a hand goes in"
    )
