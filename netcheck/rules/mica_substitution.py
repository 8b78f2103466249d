"""A mica of a tuned circuit replaced by another.

Why: A padder or fixed mica sets where the stations stand on the dial. One of another value moves
the oscillator by kilohertz that no trimmer at the other end of the dial takes back; one of another
dielectric drifts away from the station while the set warms.
False alarm: The circuit has a slug or trimmer with reach enough, and was aligned again: accept it.
`policy mica-substitution khz` sets the error that is told.
Source: f = 1 / (2 pi sqrt(L C)): elementary; residual tracking error of a three-point dial some 5
kHz: computed, as F. Langford-Smith, Radiotron Designer's Handbook, 4th ed., ch. 25 (from memory);
dials from 540 to 1600 kHz where the text gives no henries: from memory; drift in 25 degrees of
warm-up, polyester 1 %, ceramic of unstated kind 3 %, paper 2 %: from memory; 1 kHz of drift as what
is heard: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.circuit.wiring import Role
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._capacitors import dielectric_of, dielectric_span_word
from netcheck.rules._tuned import Tuned, tracking, tuned_by
from netcheck.rules._words import amount, named

_DRIFT = {"polyester": 0.01, "film": 0.01, "ceramic": 0.03, "paper": 0.02, "wax-paper": 0.02,
          "moulded-paper": 0.02}  # fmt: skip
_DRIFT_HZ = 1e3

_SET = """C1A 12-420 mmf air gang: OSC to B-
C3 3-30 mmf mica trimmer: OSC to B-
L2 oscillator coil{henry}: grid OSC to PAD, tickler TICK to FEED
T3 IF, 455 kc: primary PLATE to B+, secondary DIODE to DET
C5 {padder}: PAD to B-{mark}
"""


@rule(
    harm=Harm.PERFORMANCE,
    options={
        "khz": Option("5", ("2", "5", "10"), "the error of the dial, in kHz, that is told")
    },
    bad=(
        Example(
            _SET.format(henry="", padder="460 mmf mica, replaces 430 mmf mica", mark="   # <-"),
            "lower (at the bottom of a broadcast dial)",
        ),
        Example(
            _SET.format(henry=", grid 117 uH", padder="430 mmf 500 V mica, measured 475 mmf",
                        mark="   # <-"),
            "by the coil's henries, gang closed",
        ),
        Example(
            _SET.format(henry="", padder="430 mmf 630 V ceramic, replaces 430 mmf mica",
                        mark="   # <-"),
            "drifts by",
        ),
    ),
    good=(
        _SET.format(henry="", padder="430 mmf 500 V silver mica, replaces 430 mmf mica", mark=""),
        _SET.format(henry="", padder="250-500 mmf mica padder", mark=""),
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each tuned capacitor that moves the dial, or drifts."""
    limit_hz = float(case.option("khz")) * 1e3
    for part in case.chassis.of_kind("capacitor"):
        if case.circuit.wiring.role_of(part.ref) is not Role.TUNED:
            continue
        change = _change(part)
        if change is None:
            continue
        circuit = tuned_by(case, part, change.was)
        if isinstance(circuit, str):
            if abs(change.now / change.was - 1) > 0.01 or change.drift:
                yield case.not_checked(f"what {part.ref} does to the dial: {circuit}", (part.ref,))
            continue
        moved = circuit.moved_hz(change.was, change.now)
        warm = circuit.moved_hz(change.now, change.now * (1 + change.drift))
        if abs(moved) > limit_hz or abs(warm) > _DRIFT_HZ:
            yield _finding(case, part, change, circuit, moved, warm, limit_hz)


@dataclass(frozen=True, slots=True)
class _Change:
    """Farads before and now, and how far the new dielectric drifts more than mica (a fraction)."""

    was: float
    now: float
    drift: float
    measured: bool


def _change(part: Part) -> _Change | None:
    """What changed in a fixed capacitor: it replaces one, or it measures otherwise."""
    value = part.description.values.get("capacitance")
    if value is None or not value.known or value.spread:
        return None
    now, old = part.value("capacitance") or value.si, part.replaces
    before = old.values.get("capacitance") if old is not None else None
    if old is not None and before is not None and before.known and not before.spread:
        kind = dielectric_of(part)
        drift = _DRIFT.get(kind.name, 0.0) if kind is not None else 0.0
        mica = old.has("mica", "silver-mica")
        return _Change(before.si, now, drift if mica else 0.0, False)
    if part.measured is not None and old is None:
        return _Change(value.si, now, 0.0, True)
    return None


def _finding(
    case: Case, part: Part, change: _Change, circuit: Tuned, moved: float, warm: float,
    limit_hz: float,
) -> Finding:  # fmt: skip
    said = []
    if abs(moved) > limit_hz:
        way = "lower" if moved < 0 else "higher"
        now = "measures" if change.measured else "is"
        said.append(
            f"{now} {amount(change.now, 'F')} where {amount(change.was, 'F')} was: "
            f"{circuit.coil.ref} tunes {amount(abs(moved), 'Hz')} {way} ({circuit.where})"
        )
    if abs(warm) > _DRIFT_HZ:
        said.append(f"drifts by some {amount(abs(warm), 'Hz')} as the set warms, as mica does not")
    off = abs(moved) > limit_hz
    span = part.span_of("measured" if change.measured else "capacitance")
    if not off:
        span = part.span_of(dielectric_span_word(part))
    return case.finding(
        f"{named(part)} {' and '.join(said)}",
        span,
        parts=(part.ref,),
        nodes=case.circuit.wiring.of(part.ref)[0].nets,
        related=[Related(circuit.coil.ref_span or circuit.coil.span, f"{named(circuit.coil)} is "
                         "what it tunes")],
        calc=[
            *_calculations(part, change, circuit, moved, warm, limit_hz),
            *_tracked(case, change, circuit),
        ],
        action=f"fit silver mica or polystyrene of {amount(change.was, 'F')} as {part.ref} (two in "
        "parallel make an odd value), then align",
    )  # fmt: skip


def _calculations(
    part: Part, change: _Change, circuit: Tuned, moved: float, warm: float, limit_hz: float
) -> Iterator[Calculation]:
    was, now = circuit.total_f(change.was), circuit.total_f(change.now)
    name = "in series with" if circuit.padder else "beside"
    beside = f", {name} {amount(circuit.beside_f, 'F')}" if circuit.beside_f else ""
    taken = "" if circuit.known else ", taken: no henries are stated"
    yield Calculation(
        f"shift of {circuit.coil.ref}", moved / 1e3, "kHz",
        (-1 if moved < 0 else 1) * limit_hz / 1e3,
        f"{amount(circuit.hertz, 'Hz')} ({circuit.where}{taken}) x (root of {amount(was, 'F')} / "
        f"{amount(now, 'F')} - 1){beside}",
    )  # fmt: skip
    if change.drift:
        yield Calculation(
            f"drift of {part.ref} in 25 degrees", warm / 1e3, "kHz", -_DRIFT_HZ / 1e3,
            f"{change.drift * 100:g} % of {amount(change.now, 'F')}, from memory",
        )  # fmt: skip


def _tracked(case: Case, change: _Change, circuit: Tuned) -> Iterator[Calculation]:
    """The dial at its three points, where the text has what it takes."""
    for hertz, before, after in tracking(case, circuit, change.was, change.now):
        yield Calculation(
            f"dial error at {hertz / 1e3:g} kHz", after / 1e3, "kHz", None,
            f"oscillator - {amount(circuit.offset_hz, 'Hz')} - dial; {before / 1e3:+.3g} kHz "
            f"with {amount(change.was, 'F')}",
        )  # fmt: skip
