"""Tuned circuits as the text gives them: coil, gang, trimmers, padder, and their frequency.

Belongs here: the circuit that a capacitor tunes, its frequency by the resonance formula, how its
dial tracks. Does not belong here: what a changed capacitor means (mica_substitution.py).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from netcheck.circuit.uses import is_tunable
from netcheck.circuit.wiring import Element, Kind
from netcheck.parts import Part
from netcheck.rules._base import Case

__all__ = ["Tuned", "intermediate_hz", "resonance_hz", "tracking", "tuned_by"]

# Where a dial begins and ends when the text does not tell (from memory: broadcast receivers).
_DIAL_HZ = (540e3, 1600e3)


@dataclass(frozen=True, slots=True)
class Tuned:
    """A tuned circuit with the capacitor asked about in it.

    `beside_f` stands across the coil with it (or, of a padder, is the gang in series with it).
    `hertz` is the frequency it has with the printed values, `known` whether the text gives it (the
    coil's own or by its henries) or it is that of a broadcast dial; `offset_hz` is the intermediate
    frequency that the dial lies below.
    """

    coil: Part
    padder: bool
    beside_f: float
    hertz: float
    known: bool
    offset_hz: float
    where: str
    gang: Part | None = None
    henry: float | None = None

    def total_f(self, farad: float) -> float:
        """Farads across the coil with this capacitor."""
        if self.padder:
            return farad * self.beside_f / (farad + self.beside_f)
        return farad + self.beside_f

    def moved_hz(self, was: float, now: float) -> float:
        """By how much the frequency moves when the capacitor changes: f ~ 1 / root of C."""
        return self.hertz * (math.sqrt(self.total_f(was) / self.total_f(now)) - 1)


def resonance_hz(henry: float, farad: float) -> float:
    """1 / (2 pi sqrt(L C)), elementary."""
    return 1 / (2 * math.pi * math.sqrt(henry * farad))


def intermediate_hz(case: Case) -> float | None:
    """The set's intermediate frequency, as its IF transformers say."""
    for part in case.chassis.of_kind("transformer", "coil"):
        hertz = part.value("frequency")
        if part.description.has("if") and hertz:
            return hertz
    return None


def tuned_by(case: Case, part: Part, was: float) -> Tuned | str:
    """The circuit that a capacitor in the role TUNED tunes, at its printed farads, or why not."""
    wiring = case.circuit.wiring
    a, b = wiring.of(part.ref)[0].nets
    in_part = False
    for owner, coil in _coils(case, a):
        along = [e for e in wiring.of(coil.ref) if e.path == coil.path]
        if {along[0].a, along[-1].b} == {a, b}:
            return _parallel(case, part, owner, coil, was)
        in_part = in_part or any(b in e.nets for e in along)
    for net, low in ((a, b), (b, a)):
        found = next(_coils(case, net), None)
        # At a return end every coil of the set: only the other end tells which it tunes.
        if found is not None and low in wiring.returns and not in_part:
            return _padder(case, *found, net, low, was)
    return "it stands across a part of its coil only"


def _coils(case: Case, net: str) -> Iterator[tuple[Part, Element]]:
    """The windings at a net that a capacitor can tune, and whose they are."""
    for coil in case.circuit.wiring.at(net):
        owner = case.chassis.part(coil.ref)
        if coil.kind is Kind.WINDING and owner is not None and is_tunable(owner):
            yield owner, coil


def _henry(part: Part, coil: Element) -> float | None:
    own = part.description.windings.get(coil.path)
    value = own.number("inductance") if own is not None else None
    return value or part.value("inductance")


def _variable(case: Case, nets: tuple[str, str], but: str) -> tuple[float, float, Part | None]:
    """Farads across two nets with the gang open and closed, trimmers at their middle."""
    wiring = case.circuit.wiring
    least = most = 0.0
    gang: Part | None = None
    # A coil's low end on an AVC line is on a return for radio frequency.
    low = {nets[1]} | wiring.returns
    for e in wiring.at(nets[0]):
        part = case.chassis.part(e.ref)
        if e.kind is not Kind.CAPACITOR or part is None or e.ref == but:
            continue
        value = part.description.values.get("capacitance")
        if e.other(nets[0]) not in low or value is None or not value.known:
            continue
        small = value.highest < 5e-9
        if value.spread and small and not part.description.has("trimmer"):
            least, most, gang = least + value.amounts[0], most + value.highest, part
        elif small:
            middle = sum(value.amounts) / len(value.amounts)
            least, most = least + middle, most + middle
    return least, most, gang


def _parallel(case: Case, part: Part, owner: Part, coil: Element, was: float) -> Tuned | str:
    net, other = case.circuit.wiring.of(part.ref)[0].nets
    if net in case.circuit.wiring.returns:
        net, other = other, net
    least, _, gang = _variable(case, (net, other), part.ref)
    hertz, henry = owner.value("frequency"), _henry(owner, coil)
    if hertz:
        return Tuned(owner, False, least, hertz, True, 0.0, f"at the {hertz / 1e3:g} kHz printed")
    if henry:
        total = was + least
        known = resonance_hz(henry, total)
        return Tuned(owner, False, least, known, True, 0.0, "by the coil's henries", gang, henry)
    if gang is None:
        return "neither the frequency nor the henries of its coil are stated"
    offset = intermediate_hz(case) if owner.description.has("oscillator") else 0.0
    if offset is None:
        return "no IF transformer tells the intermediate frequency"
    return Tuned(owner, False, least, _DIAL_HZ[1] + offset, False, offset,
                 "at the top of a broadcast dial", gang)  # fmt: skip


def _padder(case: Case, owner: Part, coil: Element, net: str, low: str, was: float) -> Tuned | str:
    along = [e for e in case.circuit.wiring.of(coil.ref) if e.path == coil.path]
    top = along[-1].b if net == along[0].a else along[0].a
    _, most, gang = _variable(case, (top, low), "")
    if gang is None:
        return "the gang of its circuit is not in the text"
    offset = intermediate_hz(case)
    if offset is None:
        return "no IF transformer tells the intermediate frequency"
    henry = _henry(owner, coil)
    found = Tuned(owner, True, most, _DIAL_HZ[0] + offset, False, offset,
                  "at the bottom of a broadcast dial", gang, henry)  # fmt: skip
    if henry:
        own = resonance_hz(henry, found.total_f(was))
        found = replace(found, hertz=own, known=True, where="by the coil's henries, gang closed")
    return found


# --- tracking of the dial

_POINTS_HZ = (600e3, 1000e3, 1500e3)
"""Where a broadcast dial is adjusted (F. Langford-Smith, Radiotron Designer's Handbook, 4th ed.,
ch. 25, from memory)."""


def tracking(
    case: Case, circuit: Tuned, was: float, now: float
) -> tuple[tuple[float, float, float], ...]:
    """Dial hertz, and the oscillator's error there with the old and the new padder.

    Only where the text gives what it takes: henries of the oscillator and of a signal coil, both
    tuned by sections of one gang that are alike in shape. The signal circuit is on the dial's
    frequency; its capacitance gives the turn of the gang, that the oscillator's.
    """
    signal = _signal(case, circuit)
    if signal is None or circuit.henry is None or circuit.gang is None or not circuit.padder:
        return ()
    henry, (low, high), beside = signal
    own = circuit.gang.description.values["capacitance"]
    trimmed = circuit.beside_f - own.highest
    found = []
    for hertz in _POINTS_HZ:
        turn = (1 / ((2 * math.pi * hertz) ** 2 * henry) - beside - low) / (high - low)
        if not 0 <= turn <= 1:
            continue
        gang = own.amounts[0] + turn * (own.highest - own.amounts[0]) + trimmed
        errors = [
            resonance_hz(circuit.henry, gang * padder / (gang + padder)) - hertz - circuit.offset_hz
            for padder in (was, now)
        ]
        found.append((hertz, errors[0], errors[1]))
    return tuple(found)


def _signal(case: Case, circuit: Tuned) -> tuple[float, tuple[float, float], float] | None:
    """Henries of a signal coil, the range of its gang section, and the farads beside it."""
    if circuit.gang is None or circuit.gang.description.has("cut-plate"):
        return None
    for section in case.chassis.of_kind("capacitor"):
        value = section.description.values.get("capacitance")
        if section.body_ref != circuit.gang.body_ref or section.ref == circuit.gang.ref:
            continue
        if value is None or not value.spread or section.description.has("cut-plate"):
            continue
        for element in case.circuit.wiring.of(section.ref):
            for net in set(element.nets) - case.circuit.wiring.returns:
                for owner, coil in _coils(case, net):
                    henry = _henry(owner, coil)
                    if henry:
                        least, _, _ = _variable(case, (net, element.other(net)), section.ref)
                        return henry, (value.amounts[0], value.highest), least
    return None
