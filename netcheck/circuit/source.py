"""Finds the rectifier supplies of a set with all their figures, because the charts start there.

Belongs here: which rectifiers work together, between which nets, from what volts and ohms, into
which reservoir. Does not belong here: the AC side (source_side, source_windings), the reservoir
(source_reservoir), solving (rectify), batteries and held rails.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property, lru_cache

from netcheck.circuit.edits import intact
from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.rectifier_loops import rectifier_loops
from netcheck.circuit.rectify_fit import CONTACT_LAW
from netcheck.circuit.rectify_law import RectifierLaw
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec, Wave
from netcheck.circuit.source_bias import BiasFinder
from netcheck.circuit.source_drive import DWELL, Drive, Missing, SwitchedOff, phases
from netcheck.circuit.source_interrupted import interrupting
from netcheck.circuit.source_law import shared_law
from netcheck.circuit.source_reservoir import (
    Reservoir,
    find_reservoir,
    joined_nets,
    large_between,
)
from netcheck.circuit.source_types import Off, RectifierSource, Unknown
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed

__all__ = ["Off", "RectifierSource", "Unknown", "rectifier_sources"]


def rectifier_sources(
    wiring: Wiring, line_volts: float | None = None
) -> tuple[RectifierSource | Off | Unknown, ...]:
    """Every rectifier supply of a set, in the order of the text.

    Args:
        wiring: the set.
        line_volts: rms (DC of a DC line); the set's stated volts when None.
    """
    line = wiring.chassis.line
    stated = line.volts if line is not None else None
    return _found(wiring, stated if line_volts is None else line_volts)


@lru_cache(maxsize=16)
def _found(wiring: Wiring, line_volts: float | None) -> tuple[RectifierSource | Off | Unknown, ...]:
    return tuple(_Finder(wiring, line_volts).all())


@lru_cache(maxsize=16)
def _intact(wiring: Wiring) -> Wiring:
    """The set with all that is supposed to be out in its place."""
    chassis, before = intact(wiring.chassis), wiring.before
    return before if before is not None and before.chassis == chassis else Wiring(chassis)


def _told(at: Sequence[str], refs: Sequence[str]) -> str:
    return f"The supply is interrupted at {', '.join(at)}: nothing drives {', '.join(refs)}."


def _returns_of(source: RectifierSource) -> tuple[str, ...]:
    """The nets against which a supply's driven nets have their volts."""
    if source.bias:
        return tuple(net for pair in source.drawn for net in pair)
    return source.minus, source.middle


def _without_reservoir(source: RectifierSource | Off, gone: set[str]) -> str | None:
    """Why a supply is not computed whose filter capacitor is supposed to be open."""
    stored = source.reservoir.refs if isinstance(source, RectifierSource) else ()
    missing = [ref for ref in stored if ref in gone]
    if not missing:
        return None
    without, refs = f"Without {', '.join(missing)}", ", ".join(source.refs)
    if len(missing) < len(stored):
        return f"{without} the circuit of {refs} is another one, which is not computed."
    return (
        f"{without} no filter capacitor is left behind {refs}: what is fed by bare pulses is not "
        "computed."
    )


class _Finder:
    def __init__(self, wiring: Wiring, line_volts: float | None) -> None:
        self._wiring = wiring
        self._drive = Drive(wiring, line_volts)
        plus = dict.fromkeys(e.b for e in wiring.rectifiers)
        self._groups: dict[frozenset[str], list[Element]] = {}
        for net in plus:
            arms = [e for e in wiring.rectifiers if e.b == net]
            self._groups.setdefault(joined_nets(wiring, net), []).extend(arms)

    def all(self) -> list[RectifierSource | Off | Unknown]:
        found: list[RectifierSource | Off | Unknown] = []
        for arms in self._groups.values():
            try:
                found.append(self._source(arms))
            except SwitchedOff as off:
                refs = tuple(dict.fromkeys(e.ref for e in arms))
                found.append(Off(refs, arms[0].b, off.reason))
            except Missing as missing:
                found.append(self._interrupted(arms) or self._unknown(arms, missing))
        served = {net for nets in self._groups for net in nets}
        for rail in sorted(self._wiring.supply.rectified - served):
            try:
                found.append(self._synchronous(rail))
            except Missing as missing:
                found.append(Unknown(missing.reason, missing.parts))
        found += self._vanished(
            {
                ref
                for arms in self._groups.values()
                for e in arms
                for ref in (e.ref, *(o.ref for o in self._counter(arms)))
            }
            | {each.element.ref for each in self._wiring.supply.bias_diodes}
        )
        main = [each for each in found if isinstance(each, RectifierSource)]
        return [*found, *BiasFinder(self._wiring, self._drive, main).all()]

    # --- what was supposed to be out

    @cached_property
    def _whole(self) -> list[RectifierSource | Off]:
        """The supplies of the set with all that was supposed to be out in its place."""
        if not self._wiring.chassis.interrupted:
            return []
        found = _found(_intact(self._wiring), self._drive.line_v)
        return [each for each in found if not isinstance(each, Unknown)]

    def _interrupted(self, arms: list[Element]) -> Off | None:
        """A supply that only what was supposed to be out keeps from the line; None otherwise."""
        refs = tuple(dict.fromkeys(e.ref for e in arms))
        ends = [net for e in (*arms, *self._counter(arms)) for net in e.nets if net != e.b]
        for source in self._whole:
            if not set(refs) & set(source.refs):
                continue
            if isinstance(source, Off):
                far, reason = [self._wiring.common or ""], source.reason
            else:
                far, reason = [source.minus, source.middle], ""
            nets = [net for net in (*ends, *far) if net]
            if at := interrupting(self._wiring, [e.a for e in arms], nets):
                return Off(refs, arms[0].b, reason or _told(at, refs))
        return None

    def _unknown(self, arms: list[Element], missing: Missing) -> Unknown:
        drives = joined_nets(self._wiring, arms[0].b) | {e.a for e in arms}
        gone = {part.ref for part in self._wiring.chassis.interrupted}
        own = [s for s in self._whole if {e.ref for e in arms} & set(s.refs)]
        reasons = [why for source in own if (why := _without_reservoir(source, gone))]
        return Unknown(reasons[0] if reasons else missing.reason, missing.parts, drives)

    def _vanished(self, left: set[str]) -> Iterator[Off | Unknown]:
        """Supplies whose rectifiers are out, or no rectifiers any more without what is out."""
        gone = {part.ref for part in self._wiring.chassis.interrupted}
        for source in self._whole:
            if left & set(source.refs):
                continue
            if isinstance(source, Off) or gone >= set(source.refs):
                biased = not isinstance(source, Off) and source.bias
                gives = "biases has no bias" if biased else "feeds has no supply"
                reason = f"{', '.join(source.refs)} out of the circuit: what it {gives}."
                yield Off(source.refs, source.plus, reason)
                continue
            plates = list(source.driven)
            nets = [net for net in (*plates, *_returns_of(source)) if net]
            if at := interrupting(self._wiring, plates, nets):
                yield Off(source.refs, source.plus, _told(at, source.refs))
            else:
                known = f"What drives {', '.join(source.refs)} was not found."
                yield Unknown(_without_reservoir(source, gone) or known, source.refs)

    # --- one supply

    def _source(self, arms: list[Element]) -> RectifierSource:
        refs = tuple(dict.fromkeys(e.ref for e in arms))
        self._refuse_short(arms)
        lifted = self._counter(arms)
        law, taken = shared_law(self._wiring, arms)
        if lifted and len({e.a for e in arms}) == 1:
            return self._doubler(arms, lifted, law, taken)
        branches, minus = self._drive.branches(arms, lifted, taken)
        plates = list(dict.fromkeys(e.a for e in arms))
        if lifted:
            kind, (volts, ohm) = RectifierKind.BRIDGE, self._drive.across(branches, plates, refs)
            minus = lifted[0].a
            drawn = [(plates[0], plates[1])]
        else:
            seen = self._drive.seen(branches, plates, minus, refs)
            kind, volts, ohm, abreast = phases(seen, refs, [e.a for e in arms], plates)
            law = law.times(abreast)
            drawn = [(plate, minus) for plate in plates]
        reservoir = self._reservoir(arms[0].b, minus, refs)
        spec = self._spec(kind, law, volts, ohm, reservoir, arms, taken)
        assumed = (*taken, *reservoir.assumed)
        return RectifierSource(
            refs, tuple(arms), arms[0].b, minus, "", spec, reservoir,
            tuple(dict.fromkeys(assumed)), tuple(drawn),
        )  # fmt: skip

    def _refuse_short(self, arms: Sequence[Element]) -> None:
        """Raise Missing where rectifiers short what drives a supply in one half wave."""
        ends = {self._wiring.supply.source_of(e) for e in arms}
        on = {w.ref for w in self._wiring.supply.windings if ends & set(w.nets)}
        for loop in rectifier_loops(self._wiring):
            if not loop.ref or loop.ref in on:
                by = tuple(dict.fromkeys(e.ref for e in loop.rectifiers))
                what = loop.ref or "the line"
                raise Missing(f"{', '.join(by)}: {what} is shorted in one half wave.", by)

    def _counter(self, arms: Sequence[Element]) -> list[Element]:
        """The rectifiers whose cathode is a plate of this supply: of a bridge or a doubler.

        A bias diode on one end of the winding is none: it fills a capacitor whose plus is on the
        return, and the other end has no like of it on the same net.
        """
        plates = {e.a for e in arms}
        found = [
            e
            for e in self._wiring.elements
            if e.b in plates
            and e not in arms
            and (e.kind is Kind.DIODE or (e.kind is Kind.STREAM and self._is_rectifier(e)))
        ]
        if len(plates) == 1:
            return [e for e in found if not self._makes_bias(e)]
        minus = [
            a for a in {e.a: None for e in found} if {e.b for e in found if e.a == a} == plates
        ]
        return [e for e in found if e.a == minus[0]] if len(minus) == 1 else []

    def _makes_bias(self, e: Element) -> bool:
        chassis = self._wiring.chassis
        base = frozenset({chassis.net("B-"), chassis.net("CHASSIS")})
        own = frozenset({e.a})
        return e.a not in base and bool(large_between(self._wiring, base, own))

    def _is_rectifier(self, e: Element) -> bool:
        return any(
            one.ref == e.ref and one.section == e.path and one.section_kind == "rectifier"
            for one in self._wiring.electrodes
        )

    # --- doublers

    def _doubler(
        self, arms: list[Element], lifted: list[Element], law: RectifierLaw, taken: list[Assumed]
    ) -> RectifierSource:
        other, arm = lifted[0], arms[0]
        refs = tuple(dict.fromkeys(e.ref for e in (*arms, *lifted)))
        plus, minus = joined_nets(self._wiring, arm.b), joined_nets(self._wiring, other.a)
        middles = [
            e.b if e.a in plus else e.a
            for e in large_between(self._wiring, plus, self._wiring.nets)
            if not minus & set(e.nets)
        ]
        for middle in middles:
            lower = large_between(self._wiring, joined_nets(self._wiring, middle), minus)
            if lower:
                return self._full_wave_doubler(arms, refs, other.a, middle, law, taken)
        return self._cascade(arms, refs, other, law, taken)

    def _full_wave_doubler(
        self, arms: list[Element], refs: tuple[str, ...], minus: str, middle: str,
        law: RectifierLaw, taken: list[Assumed],
    ) -> RectifierSource:  # fmt: skip
        branches, _ = self._drive.branches(arms, arms, taken)
        seen = self._drive.seen(branches, [arms[0].a], middle, refs)
        upper = self._reservoir(arms[0].b, middle, refs)
        lower = self._reservoir(middle, minus, refs)
        spec = self._spec(
            RectifierKind.FULL_WAVE_DOUBLER, law, abs(float(seen.volts[0])),
            float(seen.between_ohm[0, 0]), upper, arms, taken,
        )  # fmt: skip
        spec = replace(spec, second_f=lower.farad, choke_h=0.0, choke_ohm=0.0)
        both = replace(upper, refs=(*upper.refs, *lower.refs))
        return RectifierSource(
            refs, tuple(arms), arms[0].b, minus, middle, spec, both,
            tuple(dict.fromkeys(taken)), ((arms[0].a, middle),),
        )  # fmt: skip

    def _cascade(
        self, arms: list[Element], refs: tuple[str, ...], other: Element, law: RectifierLaw,
        taken: list[Assumed],
    ) -> RectifierSource:  # fmt: skip
        """The plate is driven through a capacitor and held up by the other rectifier."""
        lifted = joined_nets(self._wiring, arms[0].a)
        pumps = [
            e for e in self._wiring.elements
            if e.kind is Kind.CAPACITOR and self._wiring.supply.is_large(e)
            and set(e.nets) & lifted
        ]  # fmt: skip
        if len(pumps) != 1:
            raise Missing(f"{', '.join(refs)}: this doubler circuit is not known.", list(refs))
        part = self._wiring.chassis.part(pumps[0].ref)
        farad = part.value("capacitance") if part else None
        if farad is None:
            raise Missing(f"The capacitance of {pumps[0].ref} is not given.", [pumps[0].ref])
        near = pumps[0].b if pumps[0].a in lifted else pumps[0].a
        branches, _ = self._drive.branches(arms, arms, taken)
        seen = self._drive.seen(branches, [near], other.a, refs)
        reservoir = self._reservoir(arms[0].b, other.a, refs)
        spec = self._spec(
            RectifierKind.CASCADE_DOUBLER, law, abs(float(seen.volts[0])),
            float(seen.between_ohm[0, 0]), reservoir, arms, taken,
        )  # fmt: skip
        spec = replace(spec, second_f=farad, choke_h=0.0, choke_ohm=0.0)
        return RectifierSource(
            refs, tuple(arms), arms[0].b, other.a, "", spec, reservoir,
            tuple(dict.fromkeys(taken)), ((near, other.a),),
        )  # fmt: skip

    # --- a synchronous vibrator

    def _synchronous(self, rail: str) -> RectifierSource:
        """The tap of a winding whose ends the vibrator's second contacts join to the return."""
        vibrator = next(self._wiring.chassis.of_kind("vibrator"), None)
        winding = next((w for w in self._wiring.supply.windings if rail in w.nets[1:-1]), None)
        common = self._wiring.common
        if vibrator is None or winding is None or common is None:
            raise Missing(f"What rectifies the supply at {rail} was not found.")
        taken: list[Assumed] = []
        source = self._drive.secondary(winding, None)
        taken += source.assumed
        half = source.branches[0]
        refs = (vibrator.ref,)
        reservoir = self._reservoir(rail, common, refs)
        hertz = self._drive.vibrator_hertz(taken)
        spec = RectifierSpec(
            RectifierKind.FULL_WAVE, CONTACT_LAW, abs(half.volts), hertz, half.ohm or 0.0,
            reservoir.farad, choke_h=reservoir.choke_h, choke_ohm=reservoir.ohm,
            wave=Wave.SQUARE, dwell=DWELL,
        )  # fmt: skip
        assumed = tuple(dict.fromkeys((*taken, *reservoir.assumed)))
        return RectifierSource(refs, (), rail, common, "", spec, reservoir, assumed)

    # --- figures

    def _reservoir(self, plus: str, minus: str, refs: Sequence[str]) -> Reservoir:
        found = find_reservoir(self._wiring, plus, minus)
        if isinstance(found, str):
            raise Missing(found, refs)
        return found

    def _spec(
        self, kind: RectifierKind, law: RectifierLaw, volts: float, ohm: float,
        reservoir: Reservoir, arms: Sequence[Element], taken: list[Assumed],
    ) -> RectifierSpec:  # fmt: skip
        wave, hertz = self._drive.wave(arms[0], taken)
        if wave is Wave.STEADY and kind.is_doubler:
            raise Missing("A voltage doubler gives nothing on a DC line.", [arms[0].ref])
        return RectifierSpec(
            kind, law, volts, hertz, ohm, reservoir.farad, choke_h=reservoir.choke_h,
            choke_ohm=reservoir.ohm, wave=wave, dwell=DWELL,
        )  # fmt: skip
