"""Buffer capacitor of a vibrator supply missing, paper or under-rated.

Why: The buffer across the high-voltage winding times how the flux turns over while both contacts
are open. Without it, or with another value, the contacts open against full current: metal wanders
from one to the other until they weld. When it shorts, the contacts weld at once and the fuse blows.
False alarm: The buffer stands in the text as a part of another circuit (a potted unit): write it
as a capacitor across the winding. A maker who kept fewer volts, where the part lasted: accept it.
Source: what the buffer does, and value kept within 5 %: cool386.com radiotronics page; contacts
that weld: philcoradio.com thread 1917; 1600 to 2000 V parts on 500 V windings, so 2.5 times the
flat top for the ringing of a bouncing contact: common practice, no source; contacts open 15 % of
each half cycle: from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.catalog.preferred import next_rating
from netcheck.circuit.paths import walk
from netcheck.circuit.power import PowerWinding
from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules import _replaced
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._capacitors import dielectric_of
from netcheck.rules._words import amount, named

# A resistor that limits the buffer's current is at most some kilohms; buffers are small.
_SERIES_OHM, _MOST_F = 10e3, 0.2e-6  # common practice, no source
# So little is short of the volts asked that no part of the next rating is asked for it.
_SHORT = 0.97

_SET = """line none
BT1 6.3 V storage A-battery, running 7.2 V: + BATTERY, - CHASSIS
F1 10 A 32 V fast: BATTERY to TAP
G1 vibrator, non-synchronous, 115 Hz 6.3 V: reed CHASSIS, contacts VA to VB, coil VA
T1 vibrator, primary .08 ohm each, high 235-0-235 V 65 mA 230 ohm each:{mark}
   primary VA to TAP to VB, high HTA to CHASSIS to HTB
V6 0Z4: plate1 HTA, plate2 HTB, cathode B+, shell CHASSIS
C2 10 mfd 450 V electrolytic, new: + B+, - CHASSIS
Z1 load 50 mA: B+ to CHASSIS
"""


@rule(
    harm=Harm.DAMAGE,
    options={
        "times": Option(
            "2.5", ("2", "2.5", "3"), "how many times the flat top a buffer must be rated for"
        )
    },
    bad=(
        Example(_SET.format(mark="   # <-"), "no buffer capacitor across its high winding"),
        Example(
            _SET.format(mark="") + "C33 .0075 mfd 630 V film, new: HTA to HTB   # <-\n",
            "rated 630 V where 1490 V are asked",
        ),
        Example(
            _SET.format(mark="") + "C33 .0075 mfd 2000 V oil paper: HTA to HTB   # <-\n",
            "is paper",
        ),
    ),
    good=(
        _SET.format(mark="") + "C33 .0075 mfd 1600 V 5% film buffer, new: HTA to HTB\n",
        _SET.format(mark="") + "C33 .0075 mfd 1600 V film, new: HTA to BUFF\n"
        "R1 5K 1 W, new: BUFF to HTB\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each high winding of a vibrator without a sound buffer."""
    vibrators = [part for part in case.chassis.of_kind("vibrator") if part.fitted]
    if not vibrators:
        return
    tops = _flat_tops(case)
    for winding in _high_windings(case):
        part = case.chassis.part(winding.ref)
        if part is None:
            continue
        buffers = list(_buffers(case, winding))
        top = tops.get(frozenset((winding.nets[0], winding.nets[-1])))
        if not buffers:
            yield _missing(case, part, winding, top)
        for each in buffers:
            yield from _judged(case, each, part, top)


@dataclass(frozen=True, slots=True)
class _Buffer:
    """A buffer: the capacitor, and whether the whole winding is across it or one half."""

    part: Part
    whole: bool


def _high_windings(case: Case) -> Iterator[PowerWinding]:
    """High windings of a vibrator's transformer: beside the primary, or rectified by contacts."""
    supply = case.circuit.wiring.supply
    contacts = supply.power.vibrator_contacts
    heating = supply.heaters - supply.returns
    refs = {w.ref for w in supply.windings if w.driven and set(w.nets) & contacts}
    for winding in supply.windings:
        rectified = bool(set(winding.nets) & supply.rectified)
        beside = rectified or not winding.driven
        if winding.ref in refs and beside and not set(winding.nets) & heating:
            yield winding


def _flat_tops(case: Case) -> dict[frozenset[str], float]:
    """Flat-top volts of a whole winding by its outer ends, where they are known."""
    from netcheck.circuit.rectify_spec import Wave
    from netcheck.circuit.source import RectifierSource, rectifier_sources

    found: dict[frozenset[str], float] = {}
    windings = case.circuit.wiring.supply.windings
    for source in rectifier_sources(case.circuit.wiring):
        if not isinstance(source, RectifierSource) or source.spec.wave is not Wave.SQUARE:
            continue
        plates = {arm.a for arm in source.arms}
        for winding in windings:
            if plates & set(winding.nets) or source.plus in winding.nets:
                ends = frozenset((winding.nets[0], winding.nets[-1]))
                # A rectifier that draws from end to end has the volts of the whole winding.
                from_tap = _is_tapped(winding) and all(set(pair) != ends for pair in source.drawn)
                found[ends] = (2 if from_tap else 1) * float(source.spec.figure("volts")[0])
    return found


def _is_tapped(winding: PowerWinding) -> bool:
    return len(winding.nets) > 2


def _buffers(case: Case, winding: PowerWinding) -> Iterator[_Buffer]:
    """Small capacitors between the ends of a winding, or an end and its tap, resistors between."""
    wiring = case.circuit.wiring
    at = wiring.adjacency

    def ohm_of(e: Element) -> float | None:
        small = e.kind is Kind.RESISTOR and e.ohm is not None and e.ohm <= _SERIES_OHM
        return e.ohm if small else None

    def around(start: frozenset[str], but: frozenset[str]) -> frozenset[str]:
        return frozenset(walk(at, start, ohm_of, admit=lambda n, _: n not in but))

    ends = [winding.nets[0], winding.nets[-1]]
    near = [around(frozenset({net}), wiring.returns | wiring.b_plus) for net in ends]
    taps, not_tap = frozenset(winding.nets[1:-1]), wiring.b_plus | set(ends)
    tap = taps | around(taps - wiring.b_plus, not_tap)
    # A return that is no tap: the contacts or a bridge swing the whole winding against it.
    home = tap | around(wiring.returns - set(ends), not_tap)
    for part in case.chassis.of_kind("capacitor"):
        elements = wiring.of(part.ref)
        farad = part.value("capacitance")
        if not elements or (farad is not None and farad > _MOST_F):
            continue
        a, b = elements[0].nets
        sides = [{i for i, nets in enumerate(near) if net in nets} for net in (a, b)]
        if sides[0] and sides[1] and sides[0] != sides[1]:
            yield _Buffer(part, whole=True)
        elif (sides[0] and b in home) or (sides[1] and a in home):
            yield _Buffer(part, whole=not {a, b} & tap)


def _missing(
    case: Case, part: Part, winding: PowerWinding, top: float | None
) -> Finding | NotChecked:
    ends = (winding.nets[0], winding.nets[-1])
    if any(case.circuit.wiring.incomplete(net) for net in ends):
        reason = f"whether {part.ref} has its buffer: a part at {ends[0]} or {ends[1]} is not known"
        return case.not_checked(reason, (part.ref,))
    calc = []
    fit = ""
    if top is not None:
        fit = f", {amount(_rating(top * float(case.option('times'))), 'V')}"
        halves = f"2 x {amount(top / 2, 'V')} of each half, " if _is_tapped(winding) else ""
        calc.append(
            Calculation(
                f"flat top across {part.ref}", top, "V", None,
                f"{halves}contacts open 15 % of the half cycle",
            )
        )  # fmt: skip
    return case.finding(
        f"{named(part)} has no buffer capacitor across its high winding ({ends[0]} to {ends[1]})",
        part.ref_span or part.span,
        parts=(part.ref,),
        nodes=ends,
        calc=calc,
        state="vibrator running",
        action=f"fit the buffer of the maker's list (value within 5 %{fit}) from {ends[0]} to "
        f"{ends[1]}, before power",
    )


def _judged(
    case: Case, each: _Buffer, transformer: Part, top: float | None
) -> Iterator[Finding | NotChecked]:
    part = each.part
    rated = part.value("voltage")
    kind = dielectric_of(part)
    paper = kind is not None and "paper" in kind.name
    if top is None or rated is None:
        why = "the volts of the winding" if top is None else f"the DC volts of {part.ref}"
        yield case.not_checked(f"{why} are not known", (part.ref,))
        if not paper:
            return
    across = (top or 0.0) / (1 if each.whole else 2)
    least = across * float(case.option("times"))
    told = any(_replaced.volts(part))  # fewer volts than before: `replacement-rating` tells that
    low = rated is not None and rated < least * _SHORT and not told
    if not (low or paper):
        return
    faults = []
    if rated is not None and low:
        faults.append(f"rated {amount(rated, 'V')} where {amount(least, 'V')} are asked")
    if paper:
        faults.append("paper, which ages to a short")
    fit = f"{amount(_rating(least, rated or 0.0), 'V')} film"
    if top is None:
        fit = f"film of {case.option('times')} x the flat top of the winding"
    old, new = part.replaces, part.description
    farad = (old.number("capacitance") if old is not None else None) or new.number("capacitance")
    value = f"{amount(farad, 'F')} within 5 %" if farad else "the maker's value within 5 %"
    yield case.finding(
        f"{named(part)}, the buffer of {transformer.ref}, is {', and is '.join(faults)}",
        part.span_of("voltage" if low else "paper"),
        parts=(part.ref,),
        nodes=case.circuit.wiring.of(part.ref)[0].nets,
        related=[Related(transformer.ref_span or transformer.span, f"{named(transformer)}: its "
                         "high winding swings it")],
        state="vibrator running",
        calc=[] if top is None or rated is None else [
            Calculation(
                f"rating of {part.ref}", rated, "V", least,
                f"{case.option('times')} x {amount(across, 'V')} flat top, contacts open 15 % of "
                "the half cycle",
            )
        ],
        action=f"fit {value}, {fit}, as {part.ref}",
    )  # fmt: skip


def _rating(asked: float, least: float = 0.0) -> float:
    """The next rating that film capacitors are made in, or the volts asked where none is made."""
    return next_rating(max(asked * _SHORT, least), "film-dc") or asked
