"""Finds the supplies of bias with their figures, so that no grid rests on volts nobody computed.

Belongs here: what drives a bias diode, against which net, into which reservoir. Does not belong
here: which diodes they are (supply_bias), the supplies of B+ (source), solving (rectify).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import Walk
from netcheck.circuit.power import PowerWinding
from netcheck.circuit.rectify_law import RectifierLaw
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec, Wave
from netcheck.circuit.source_crest import Crest
from netcheck.circuit.source_drive import DWELL, Drive, Missing, SwitchedOff, phases
from netcheck.circuit.source_law import shared_law
from netcheck.circuit.source_network import Branch, seen_from
from netcheck.circuit.source_reservoir import (
    Reservoir,
    joined_nets,
    large_between,
    series_of,
)
from netcheck.circuit.source_types import Off, RectifierSource, Unknown
from netcheck.circuit.supply_bias import BiasDiode, rail_nets
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed

__all__ = ["BiasFinder"]

_Source = RectifierSource | Off | Unknown

_BIAS_WINDING_A = 0.02
"""What a winding for bias alone is made for (from memory: some milliamperes to some tens)."""

_LEAST_FARAD = 1e-8
"""A smaller capacitor on a bias rail smooths nothing: it keeps radio frequency off."""

_MOST_FILTER_OHM = 100e3
"""More is no filter ahead of a reservoir but the leak of a grid (common practice, no source)."""


class BiasFinder:
    """The bias supplies of one set at one line voltage, beside its supplies of B+."""

    def __init__(self, wiring: Wiring, drive: Drive, main: Sequence[RectifierSource]) -> None:
        self._wiring = wiring
        self._drive = drive
        self._main = main
        self._low = wiring.supply.returns
        self._crest = Crest(wiring, drive, main)

    def all(self) -> Iterator[_Source]:
        """Every bias supply; of one whose figures do not follow, why."""
        groups: dict[tuple[frozenset[str], bool], list[BiasDiode]] = {}
        for each in self._wiring.supply.bias_diodes:
            key = joined_nets(self._wiring, each.rail), each.is_negative
            groups.setdefault(key, []).append(each)
        for diodes in groups.values():
            refs = tuple(dict.fromkeys(each.element.ref for each in diodes))
            rail = diodes[0].rail
            try:
                yield self._source(diodes)
            except SwitchedOff as off:
                yield Off(refs, rail, off.reason)
            except Missing as missing:
                driven = frozenset(each.driven for each in diodes)
                parts = dict.fromkeys((*refs, *missing.parts))
                yield self._refused(rail, refs, missing.reason, driven, tuple(parts))
        yield from self._strange({each.element for each in self._wiring.supply.bias_diodes})

    def _refused(
        self, rail: str, refs: Sequence[str], reason: str, driven: frozenset[str],
        parts: tuple[str, ...],
    ) -> Unknown:  # fmt: skip
        drives = joined_nets(self._wiring, rail) | driven
        said = (
            f"{refs[0]}: the bias that it makes at {rail} is not computed: {_lowered(reason)} "
            f"Or measure it and state it (`hold {rail} -20 V`, with the volts you read)."
        )
        return Unknown(said, parts, drives, frozenset(self._rail(rail)))

    def _strange(self, known: Collection[Element]) -> Iterator[Unknown]:
        """Driven diodes that fill a capacitor whose plus is on the return, in no known circuit.

        Their rail would stand at 0 V in the sums, and every tube it biases would seem to run away.
        """
        counted = {ref for each in self._main for ref in each.refs} | {e.ref for e in known}
        base = frozenset({self._wiring.chassis.net(name) for name in ("B-", "CHASSIS")})
        for e in self._wiring.elements:
            if e not in self._wiring.supply.power_diodes or e in self._wiring.rectifiers:
                continue
            own = joined_nets(self._wiring, e.a)
            if (
                e.ref in counted
                or e.a in {*base, e.b}
                or not large_between(self._wiring, base, own)
            ):
                continue
            reason = "This circuit is not known."
            yield self._refused(e.a, (e.ref,), reason, frozenset({e.b}), (e.ref,))

    def _source(self, diodes: Sequence[BiasDiode]) -> RectifierSource:
        arms = [each.element for each in diodes]
        refs = tuple(dict.fromkeys(e.ref for e in arms))
        law, taken = shared_law(self._wiring, arms)
        first = diodes[0]
        winding = self._winding(first.source)
        self._refuse_clamped(winding, refs)
        branches, back = self._driving(winding, first, refs, taken)
        wave, hertz = self._drive.wave_at(first.source, taken)
        reservoir = self._reservoir(first.rail, refs)
        spec = RectifierSpec(
            RectifierKind.HALF_WAVE, law, 0.0, hertz, 0.0, reservoir.farad,
            choke_h=reservoir.choke_h, choke_ohm=reservoir.ohm, wave=wave, dwell=DWELL,
        )  # fmt: skip
        driven = list(dict.fromkeys(each.driven for each in diodes))
        counter = self._counter(diodes, driven)
        drawn = tuple((net, back) for net in driven)
        if first.coupling:
            spec, back = self._coupled(spec, first, counter, branches, back, refs)
            drawn = ()
        elif counter:
            spec, back = self._bridge(spec, driven, counter, branches, refs)
            drawn = ((driven[0], driven[1]),)
        else:
            spec = self._plain(spec, law, arms, driven, branches, back, refs)
        if wave is Wave.STEADY:
            raise Missing(f"The line is DC, and {refs[0]} makes no bias of it.", refs)
        shared_with, shared_ohm = self._crest.shared(spec, winding, first, taken)
        plus, minus = (back, first.rail) if first.is_negative else (first.rail, back)
        if first.is_negative:
            drawn = tuple((b, a) for a, b in drawn)
        taken += reservoir.assumed
        return RectifierSource(
            tuple(dict.fromkeys((*refs, *(e.ref for e in counter)))), tuple(arms), plus, minus, "",
            spec, reservoir, tuple(dict.fromkeys(taken)), drawn,
            winding.ref if winding is not None else "", bias=True,
            shared_with=shared_with, shared_ohm=shared_ohm,
            wound_ohm=self._wound_ohm(winding, first.source, back),
        )  # fmt: skip

    # --- what drives it

    def _winding(self, net: str) -> PowerWinding | None:
        for winding in self._wiring.supply.windings:
            if net in winding.nets and not winding.driven:
                return winding
        return None

    def _refuse_clamped(self, winding: PowerWinding | None, refs: Sequence[str]) -> None:
        """Raise Missing where a bridge on the same winding keeps its ends above the bridge's minus.

        Only a tap on the return gives the ends a sine against it.
        """
        nets = set() if winding is None else set(winding.nets)
        for each in self._main:
            if each.spec.kind is not RectifierKind.BRIDGE or nets & self._low:
                continue
            if nets & set(each.driven):
                raise Missing(
                    f"The bridge of {', '.join(each.refs)} keeps the ends of its winding from "
                    "going below its minus.",
                    refs,
                )

    def _driving(
        self, winding: PowerWinding | None, first: BiasDiode, refs: Sequence[str],
        taken: list[Assumed],
    ) -> tuple[list[Branch], str]:  # fmt: skip
        """The branches that drive the diodes, and the net that the bias is made against."""
        if winding is None:
            side, common = self._drive.side, self._wiring.common
            if isinstance(side, str):
                raise Missing(side, refs)
            if common is None:
                raise Missing("What the supply returns to was not found.", refs)
            return side, common
        if self._drive.wave_at(first.source, [])[0] is Wave.STEADY:
            raise Missing(f"{winding.ref} is a transformer and the line is DC.", [winding.ref])
        found = self._drive.secondary(winding, self._load_a(winding))
        taken += found.assumed
        returning = [net for net in winding.nets if net in self._low and net != first.source]
        ends = [net for net in (winding.nets[0], winding.nets[-1]) if net != first.source]
        back = next(iter((*returning, *ends)), "")
        return [*found.branches, *self._drive.passive()], self._drive.through(back, refs)

    def _wound_ohm(self, winding: PowerWinding | None, net: str, back: str) -> float:
        if winding is None:
            return 0.0
        seen = seen_from(self._drive.secondary(winding, None).branches, [net], back)
        return 0.0 if seen is None else float(seen.between_ohm[0, 0])

    def _load_a(self, winding: PowerWinding) -> float | None:
        """Amperes at which the printed volts hold: those of the main rectifier on the winding."""
        for source in self._main:
            for arm in source.arms:
                if self._wiring.supply.source_of(arm) in winding.nets:
                    return self._drive.rated_load_a(arm)
        return _BIAS_WINDING_A

    def _counter(self, diodes: Sequence[BiasDiode], driven: Sequence[str]) -> list[Element]:
        """The diodes from the return to the driven nets: of a bridge or a doubler."""
        own = {each.element for each in diodes}
        negative = diodes[0].is_negative
        found = []
        for e in self._wiring.elements:
            if e.kind in (Kind.DIODE, Kind.STREAM) and e not in own:
                near, far = (e.a, e.b) if negative else (e.b, e.a)
                if near in driven and far in self._low:
                    found.append(e)
        return found

    # --- the circuits

    def _plain(
        self, spec: RectifierSpec, law: RectifierLaw, arms: Sequence[Element],
        driven: Sequence[str], branches: Sequence[Branch], back: str, refs: Sequence[str],
    ) -> RectifierSpec:  # fmt: skip
        """Half wave, or full wave from both ends of a winding."""
        seen = self._drive.seen(branches, driven, back, refs)
        on = [next(net for net in driven if net in e.nets) for e in arms]
        kind, volts, ohm, abreast = phases(seen, refs, on, driven)
        return replace(spec, kind=kind, law=law.times(abreast), volts=volts, source_ohm=ohm)

    def _bridge(
        self, spec: RectifierSpec, driven: Sequence[str], counter: Sequence[Element],
        branches: Sequence[Branch], refs: Sequence[str],
    ) -> tuple[RectifierSpec, str]:  # fmt: skip
        far = {net for e in counter for net in e.nets} - set(driven)
        if len(driven) != 2 or len(counter) != 2 or len(far) != 1:
            raise Missing(f"This circuit of {', '.join(refs)} is not known.", refs)
        volts, ohm = self._drive.across(branches, driven, refs)
        return replace(spec, kind=RectifierKind.BRIDGE, volts=volts, source_ohm=ohm), far.pop()

    def _coupled(
        self, spec: RectifierSpec, first: BiasDiode, counter: Sequence[Element],
        branches: Sequence[Branch], back: str, refs: Sequence[str],
    ) -> tuple[RectifierSpec, str]:  # fmt: skip
        """Through a capacitor: with a second diode a doubler, else with a resistor at the diode."""
        if len(first.coupling) != 1 or spec.has_choke:
            raise Missing(f"This circuit of {', '.join(refs)} is not known.", refs)
        pump = first.coupling[0]
        part = self._wiring.chassis.part(pump.ref)
        farad = part.value("capacitance") if part is not None else None
        if farad is None:
            raise Missing(f"The capacitance of {pump.ref} is not given.", [pump.ref])
        near, far = _ends(first, pump)
        seen = self._drive.seen(branches, [near], back, refs)
        volts, ohm = abs(float(seen.volts[0])), float(seen.between_ohm[0, 0])
        if counter:
            ground = {net for e in counter for net in e.nets} - {first.driven}
            if len(counter) > 1 or far != first.driven or back not in ground:
                raise Missing(f"This circuit of {', '.join(refs)} is not known.", refs)
            spec = replace(spec, kind=RectifierKind.CASCADE_DOUBLER, second_f=farad, choke_ohm=0.0)
            return replace(spec, volts=volts, source_ohm=ohm), back
        nets = list(dict.fromkeys((far, first.driven)))
        behind = seen_from(self._drive.passive(), nets, back)
        if behind is None:
            raise Missing(
                f"{pump.ref} lets no direct current through, and nothing else joins {far} to {back}"
                f": what {refs[0]} then gives fades away.",
                [pump.ref],
            )
        if behind.doubtful:
            raise Missing(f"The ohms of {', '.join(behind.doubtful)} are not given.", refs)
        r = behind.between_ohm
        loop = ohm + float(r[0, 0])
        return replace(
            spec, kind=RectifierKind.COUPLED_HALF_WAVE, volts=volts, second_f=farad, loop_ohm=loop,
            share=float(r[0, -1]) / loop, source_ohm=float(r[-1, -1]) - float(r[0, -1]) ** 2 / loop,
        ), back  # fmt: skip

    # --- its reservoir

    def _rail(self, rail: str) -> Walk:
        walls = self._low | self._wiring.b_plus
        return rail_nets(self._wiring.adjacency, rail, walls)

    def _reservoir(self, rail: str, refs: Sequence[str]) -> Reservoir:
        reached = self._rail(rail)
        for net, step in reached.items():
            own = [e for e in self._wiring.at(net) if self._smooths(e, net)]
            if not own or step.ohm > _MOST_FILTER_OHM:
                continue
            farad = 0.0
            for e in own:
                part = self._wiring.chassis.part(e.ref)
                value = part.value("capacitance") if part is not None else None
                if value is None:
                    raise Missing(
                        f"The capacitance of the reservoir {e.ref} is not given; write its mfd.",
                        [e.ref],
                    )
                farad += value
            way = reached.chain(net)
            series = tuple(e for e in way if e.kind in (Kind.RESISTOR, Kind.WINDING))
            found = series_of(self._wiring, series)
            if isinstance(found, str):
                raise Missing(found, refs)
            return replace(found, refs=tuple(e.ref for e in own), farad=farad)
        raise Missing(
            f"No capacitor smooths {rail}: half waves stand on the grids, and what the tubes draw "
            f"then is not computed.",
            refs,
        )

    def _smooths(self, e: Element, net: str) -> bool:
        if e.kind is not Kind.CAPACITOR or e.other(net) not in self._low:
            return False
        part = self._wiring.chassis.part(e.ref)
        farad = part.value("capacitance") if part is not None else None
        return farad >= _LEAST_FARAD if farad is not None else self._wiring.supply.is_large(e)


def _ends(first: BiasDiode, pump: Element) -> tuple[str, str]:
    """The nets of the coupling capacitor: towards the winding, towards the diode."""
    at = first.source
    for e in first.way:
        if e is pump:
            return at, e.other(at)
        at = e.other(at)
    return at, at


def _lowered(reason: str) -> str:
    first = reason.split(" ", 1)[0]
    words = first.isalpha() and first[1:].islower()
    return reason[0].lower() + reason[1:] if words or len(first) == 1 else reason
