"""What this very set asks for at each stage of a job: windings, resistors, controls, readings.

Belongs here: items as (text, done, references), from the chassis and its solution. Does not belong
here: their order (jobsheet.py).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.bench.resistance_chart import resistance_chart
from netcheck.bench.workup import Workup
from netcheck.circuit.wiring import Kind, Role
from netcheck.findings import NotSolved
from netcheck.parts import Condition, Part
from netcheck.rules import _operating
from netcheck.rules._drift import drift_of
from netcheck.rules._words import amount

__all__ = [
    "alignment_items", "cleaning_items", "cold_items", "dress_items", "resistor_items",
    "running_items",
]  # fmt: skip

Row = tuple[str, bool, tuple[str, ...]]

_FIRST_OHM = 33e3  # from here on composition drifts upward (common practice, no source)
_STABLE = ("wirewound", "metal-film", "film", "metal-clad", "dropper", "cord", "flameproof")
_BIASING = (Role.CATHODE_BIAS, Role.BACK_BIAS, Role.SCREEN_DROPPER, Role.PLATE_LOAD)


def cold_items(work: Workup) -> Iterator[Row]:
    """Windings with their printed ohms, and the reading across B+ before power."""
    read = {each.part for each in work.chassis.readings if each.value.dimension == "resistance"}
    for part in work.chassis.of_kind("transformer", "coil", "speaker"):
        for said in _windings(part):
            yield f"{part.ref} {said}; open means a new one", part.ref in read, (part.ref,)
    chart = resistance_chart(work.chassis)
    for each in chart.before_power:
        pair = f"{each.plus} to {each.minus}"
        if each.ohm is None or each.least_ohm is None:
            yield f"{pair}: goes back to infinite once charged", False, ()
        else:
            yield (
                f"{pair}: {amount(each.ohm, 'ohm')} once charged, not below"
                f" {amount(each.least_ohm, 'ohm')}",
                False,
                (),
            )
    if not chart.solved or not chart.before_power:
        yield "B+ to B-: the text does not tell what it must read; find any short first", False, ()
    if work.circuit.wiring.line_side:
        yield "cord, plug and strain relief sound; no line wire bare or brittle", False, ()


def _windings(part: Part) -> Iterator[str]:
    words = part.description
    for name, each in words.windings.items():
        value = each.values.get("resistance")
        if value is not None and value.known:
            yield f"{name}: {value.text}"
    value = words.values.get("resistance")
    if value is not None and value.known and part.kind != "speaker":
        what = next((w for w in ("field", "choke", "oscillator", "antenna") if words.has(w)), "")
        yield f"{what}: {value.text}" if what else value.text


def resistor_items(work: Workup) -> Iterator[Row]:
    """Those that drift or that set a bias or a supply first, each with the limits it must keep."""
    parts = list(work.chassis.of_kind("resistor"))
    for part in sorted(parts, key=lambda p: not _matters(work, p)):
        ohm = part.description.number("resistance")
        value = part.description.values.get("resistance")
        if ohm is None or value is None or len(value.amounts) > 1 or not _asked(work, part):
            continue
        tolerance = part.description.number("tolerance") or 0.2
        low, high = amount(ohm * (1 - tolerance), "ohm"), amount(ohm * (1 + tolerance), "ohm")
        role = work.circuit.wiring.role_of(part.ref)
        place = "" if role is Role.UNKNOWN else f", {role.value}"
        measured = drift_of(part)
        found = f"; measured {amount(measured[1], 'ohm')}" if measured else ""
        text = f"{part.ref}{place}: {amount(ohm, 'ohm')}, between {low} and {high}{found}"
        yield text, measured is not None, (part.ref,)


def _matters(work: Workup, part: Part) -> bool:
    return work.circuit.wiring.role_of(part.ref) in _BIASING


def _asked(work: Workup, part: Part) -> bool:
    if part.condition is not Condition.ORIGINAL or part.description.has("control", "cord"):
        return False
    old = (part.description.number("resistance") or 0.0) >= _FIRST_OHM
    return _matters(work, part) or (old and not part.description.has(*_STABLE))


def cleaning_items(work: Workup) -> Iterator[Row]:
    """Controls, switches, sockets; tubes that lock in or have a cap."""
    for part in work.chassis.of_kind("resistor"):
        if part.description.has("control", "rheostat"):
            yield (
                f"{part.ref}: clean the track and wiper, turn it some twenty times",
                False,
                (part.ref,),
            )
    switches = dict.fromkeys(p.body_ref for p in work.chassis.of_kind("switch"))
    for ref in switches:
        yield f"{ref}: clean the contacts (no spray near the tuning coils)", False, (ref,)
    tubes = [p for p in work.chassis.of_kind("tube") if p.tube is not None]
    locked = [p.ref for p in tubes if p.tube and p.tube.base == "loctal"]
    capped = [p.ref for p in tubes if p.tube and "cap" in p.tube.pins]
    if locked:
        # From memory: the guide pin is held by a spring in the socket.
        yield (
            f"{', '.join(locked)}: lock-in tubes: press sideways at the base until the guide pin"
            " leaves its spring, then lift straight; never pull by the glass",
            False,
            tuple(locked),
        )
    if capped:
        yield f"{', '.join(capped)}: top caps and their leads clean and tight", False, tuple(capped)
    if tubes:
        named = ", ".join(dict.fromkeys(f"{p.body_ref} {p.tube_name}" for p in tubes))
        yield f"right tube in each socket, pins bright: {named}", False, ()
    for part in work.chassis.of_kind("lamp"):
        said = " ".join(part.description.text.split())
        yield f"{part.ref} {said}: the right lamp, good contact", False, (part.ref,)


def running_items(work: Workup) -> Iterator[Row]:
    """What to read first under power, in the order in which it tells most, with the volts."""
    yield "bring it up as `netcheck powerup` tells, and stop where it says stop", False, ()
    point = work.point
    if isinstance(point, NotSolved):
        yield f"expected volts are not known: {point.reason}", False, ()
        return
    reference = point.model.reference
    for each in point.supplies:
        pair = f"{each.source.plus} to {each.source.minus}"
        yield f"{pair}: {amount(each.volts, 'V')} at the first filter capacitor", False, ()
    case = work.case()
    outputs = {_operating.bulb_of(tube) for tube in _operating.output_tubes(case)}
    for stream in _operating.streams(case, point):
        if stream.tube.ref not in outputs:
            continue
        if stream.grid_v is not None:
            yield (
                f"{stream.tube.ref} grid to its own cathode: {amount(stream.grid_v, 'V')}; anything"
                " positive: switch off",
                False,
                (stream.tube.ref,),
            )
        yield (
            f"{stream.tube.ref} plate {amount(stream.plate_a, 'A')}, cathode to {reference} "
            f"{amount(stream.cathode_v, 'V')}",
            False,
            (stream.tube.ref,),
        )
    yield "then the whole chart: `netcheck volts`, with your meter and your line", False, ()


def dress_items(work: Workup) -> Iterator[Row]:
    """Wiring and covers, which move the dial once they are moved."""
    yield "plate and grid leads short and apart; nothing near a hot resistor or tube", False, ()
    shields = sorted({p.inside for p in work.chassis.parts if p.inside})
    if shields:
        yield f"shield cans on and earthed: {', '.join(shields)}", False, tuple(shields)
    yield "bottom cover and back on, as it will play", False, ()


def alignment_items(work: Workup) -> Iterator[Row]:
    """The order of alignment, with what this set has of it."""
    parts = work.chassis.parts
    stages = [p for p in parts if p.kind == "transformer" and p.description.has("if") and p.fitted]
    gangs = any(e.kind is Kind.CAPACITOR for e in work.circuit.wiring.elements) and any(
        p.kind == "capacitor" and p.description.has("gang", "air") for p in parts
    )
    loops = [p.ref for p in parts if p.description.has("loop-antenna") and p.fitted]
    if loops:
        yield f"{', '.join(loops)}: the loop in its place and connected", False, tuple(loops)
    if stages:
        hertz = next((v for p in stages if (v := p.description.number("frequency"))), None)
        at = amount(hertz, "Hz") if hertz else "the maker's frequency (not in the text)"
        refs = tuple(p.ref for p in reversed(stages))
        yield f"IF at {at}, last stage first: {', '.join(refs)}", False, refs
    if gangs:
        trims = tuple(p.ref for p in parts if p.description.has("trimmer") and not p.inside)
        yield (
            "dial at the high end: oscillator trimmer, then antenna"
            + (f" ({', '.join(trims)})" if trims else ""),
            False,
            trims,
        )
        pads = tuple(p.ref for p in parts if p.description.has("padder"))
        what = f"padder {', '.join(pads)}, rocking the dial" if pads else "oscillator slug, if any"
        yield f"dial at the low end: {what}; then both again until nothing moves", False, pads
    if not (stages or gangs):
        yield "nothing to align in this set", True, ()
