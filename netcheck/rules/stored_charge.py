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
    every = list(held_charges(case.circuit.wiring))
    for held in every:
        kept = _kept(case, held, [each for each in every if _is_beside(each, held)])
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
    """A capacitor that is not emptied in time: its farads, the supply's peak, seconds to 60 V.

    `beside_f` are its farads and those of every capacitor that stands at the same nets.
    """

    part: Part
    held: Held
    farad: float
    beside_f: float
    peak: Unloaded
    seconds: float

    @property
    def joule(self) -> float:
        return self.farad * self.peak.volts**2 / 2


def _is_beside(each: Held, held: Held) -> bool:
    return (each.state, each.plus, each.minus) == (held.state, held.plus, held.minus)


def _farad(case: Case, held: Held) -> float | None:
    part = case.chassis.part(held.ref)
    return part.value("capacitance") if part is not None else None


def _kept(case: Case, held: Held, beside: Sequence[Held]) -> _Kept | str | None:
    part = case.chassis.part(held.ref)
    farad = _farad(case, held)
    peak = unloaded_supply(case, held.plus)
    if part is None or any(case.circuit.wiring.incomplete(n) for n in (held.plus, held.minus)):
        return f"whether something empties {held.ref}: a part beside it is not known"
    if farad is None or peak is None:
        what = "its value is" if farad is None else "the volts of its supply are"
        return f"how much {held.ref} keeps with {held.state}: {what} not known"
    if peak.volts <= _SAFE_V:
        return None
    if held.unknown:
        return f"how fast {held.ref} is emptied with {held.state}: {held.unknown}"
    each_f = [_farad(case, each) for each in beside]
    all_f = sum(each or 0.0 for each in each_f)
    seconds = math.inf
    if held.ohm is not None:
        seconds = held.ohm * all_f * math.log(peak.volts / _SAFE_V)
    if seconds > _LONGEST_S:
        return _Kept(part, held, farad, all_f, peak, seconds)
    if None in each_f:
        why = "the value of one beside it is not known"
        return f"how fast {held.ref} is emptied with {held.state}: {why}"
    return None


def _harm(group: Sequence[_Kept]) -> Harm:
    joule = sum(each.joule for each in group)
    if joule < _STARTLES_J:
        return Harm.RECORD
    return Harm.SHOCK if joule >= _KILLS_J else Harm.BURST


def _finding(case: Case, group: Sequence[_Kept]) -> Finding:
    first = max(group, key=lambda each: (each.beside_f * each.peak.volts**2, each.joule))
    refs = [each.part.ref for each in group]
    joule = sum(each.joule for each in group)
    slow = [each for each in group if each.seconds < math.inf]
    never = [each.part.ref for each in group if each not in slow]
    how = [f"nothing empties {listed(never)}"] if never else []
    if slow:
        how.append(f"it takes over a minute to empty {listed(each.part.ref for each in slow)}")
    return case.finding(
        f"with {first.held.state} {' and '.join(how)}: up to {amount(first.peak.volts, 'V')},"
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
        action=_action(first, group),
    )


def _energy(each: _Kept) -> Calculation:
    said = f"{amount(each.farad, 'F')} x ({amount(each.peak.volts, 'V')})^2 / 2, {each.peak.sum}"
    return Calculation(f"energy in {each.part.ref}", each.joule, "J", _STARTLES_J, said)


def _time(each: _Kept) -> Calculation:
    volts = amount(each.peak.volts, "V")
    said = f"{amount(each.held.ohm or 0.0, 'ohm')} x {amount(each.beside_f, 'F')} x "
    said += f"ln({volts} / {_SAFE_V:g} V)"
    return Calculation(f"{each.part.ref} to 60 V", each.seconds, "s", _LONGEST_S, said)


def _action(first: _Kept, group: Sequence[_Kept]) -> str:
    volts = first.peak.volts
    # A third of the longest wait, so that tolerances do not matter; half the watts of its rating.
    ohm = min(_LONGEST_S / 3 / (first.beside_f * math.log(volts / _SAFE_V)), _MOST_OHM)
    fitted = nearest_preferred(ohm, "E12")
    watts = next_rating(2 * volts**2 / fitted, "resistor-w")
    rated = f" {amount(watts, 'W')}" if watts is not None else ""
    # One resistor for all that stands at the same nets.
    others = [
        each.part.ref for n, each in enumerate(group)
        if all(not _is_beside(each.held, e.held) for e in (first, *group[:n]))
    ]  # fmt: skip
    it = "them" if others else "it"
    return (
        f"fit {amount(fitted, 'ohm')}{rated} across {listed([first.part.ref, *others])}, or empty "
        f"{it} through 10K with clips and measure, each time before a hand goes in"
    )
