"""What this very set asks for at each stage of a job: windings, resistors, controls, readings.

Belongs here: items as (text, done, references), from the chassis and its solution. Does not belong
here: their order (jobsheet.py).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.bench.resistance_chart import resistance_chart
from netcheck.bench.workup import Workup
from netcheck.circuit.operating import Point
from netcheck.circuit.states import switch_positions
from netcheck.circuit.wiring import Element, Kind, Role
from netcheck.findings import NotSolved
from netcheck.parts import Condition, Part
from netcheck.rules import _operating
from netcheck.rules._drift import drift_of
from netcheck.rules._words import amount, described

__all__ = [
    "alignment_items", "cleaning_items", "cold_items", "dress_items", "resistor_items",
    "running_items",
]  # fmt: skip

Row = tuple[str, bool, tuple[str, ...]]

_FIRST_OHM = 33e3  # from here on composition drifts upward (common practice, no source)
_STABLE = ("wirewound", "metal-film", "film", "metal-clad", "dropper", "cord", "flameproof")
_PLATE_BATTERY_V = 20.0  # a battery of more is for plates, not for filaments
_METAL = "; nothing metal of it, and no earthed instrument, touched or joined meanwhile"
_BIASING = (Role.CATHODE_BIAS, Role.BACK_BIAS, Role.SCREEN_DROPPER, Role.PLATE_LOAD)
# Of whatever they are made: what carries a supply or the heaters opens, or feeds all wrongly.
_FEEDING = (Role.HEATER_DROPPER, Role.HEATER_SHUNT, Role.SURGE, Role.FILTER)
_OVER = 1.3  # of a battery's current: something is shorted (common practice, no source)


def cold_items(work: Workup) -> Iterator[Row]:
    """Windings with their printed ohms, and the reading across B+ before power."""
    read = {
        each.part: amount(each.value.si, "ohm")
        for each in work.chassis.readings
        if each.value.dimension == "resistance" and each.value.si is not None
    }
    for part in work.chassis.of_kind("transformer", "coil", "speaker"):
        for number, said in enumerate(_windings(part)):
            # A reading of a part with several windings is that of the first one.
            ohms = read.get(part.ref) if not number else None
            found = f"; measured {ohms}" if ohms else ""
            yield (
                f"{part.ref} {said}; open means a new one{found}",
                ohms is not None,
                (part.ref,),
            )
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
        value = each.values.get("resistance") or each.values.get("resistance-each")
        if value is not None and value.known:
            half = " to the tap, each half" if "resistance" not in each.values else ""
            yield f"{name}: {value.text}{half}"
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
        if ohm is None or value is None or value.spread or not _asked(work, part):
            continue
        tolerance = part.description.number("tolerance") or 0.2
        low, high = amount(ohm * (1 - tolerance), "ohm"), amount(ohm * (1 + tolerance), "ohm")
        role = work.circuit.wiring.role_of(part.ref)
        place = "" if role is Role.UNKNOWN else f", {role.value}"
        if len(value.amounts) > 1:
            yield (
                f"{part.ref}{place}: {value.text}, section by section, each within {tolerance:.0%}",
                False,
                (part.ref,),
            )
            continue
        measured = drift_of(part)
        found = f"; measured {amount(measured[1], 'ohm')}" if measured else ""
        text = f"{part.ref}{place}: {amount(ohm, 'ohm')}, between {low} and {high}{found}"
        yield text, measured is not None, (part.ref,)


def _matters(work: Workup, part: Part) -> bool:
    return work.circuit.wiring.role_of(part.ref) in (*_BIASING, *_FEEDING)


def _asked(work: Workup, part: Part) -> bool:
    if part.condition is not Condition.ORIGINAL or part.description.has("control", "cord"):
        return False
    old = (part.description.number("resistance") or 0.0) >= _FIRST_OHM
    return _matters(work, part) or (old and not part.description.has(*_STABLE))


def cleaning_items(work: Workup, suspect: frozenset[str] = frozenset()) -> Iterator[Row]:
    """Controls, switches, sockets; tubes that lock in or have a cap.

    Tubes in `suspect` are not those that belong there: they are not confirmed.
    """
    controls = (p for p in work.chassis.of_kind("resistor")
                if p.description.has("control", "rheostat"))  # fmt: skip
    for ref in dict.fromkeys(p.body_ref for p in controls):
        yield f"{ref}: clean the track and wiper, turn it some twenty times", False, (ref,)
    switches = dict.fromkeys(p.body_ref for p in work.chassis.of_kind("switch"))
    for ref in switches:
        yield f"{ref}: clean the contacts (no spray near the tuning coils)", False, (ref,)
    yield from _fed_rightly(work)
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
        right = [p for p in tubes if p.body_ref not in suspect]
        named = ", ".join(dict.fromkeys(f"{p.body_ref} {p.tube_name}" for p in right))
        yield f"right tube in each socket, pins bright: {named}", False, ()
    if suspect:
        yield f"{', '.join(sorted(suspect))}: not as it stands in the text, see above", False, ()
    for part in work.chassis.of_kind("lamp"):
        said = " ".join(part.description.text.split())
        yield f"{part.ref} {said}: the right lamp, good contact", False, (part.ref,)


def _fed_rightly(work: Workup) -> Iterator[Row]:
    """The voltage selector's position and the fuses, which the last owner may have changed."""
    positions, line = switch_positions(work.chassis), work.chassis.line
    for part in work.chassis.of_kind("switch"):
        if part.description.has("voltage-selector") and part.body_ref in positions:
            of = f" (the text's line: {amount(line.volts, 'V')})" if line and line.volts else ""
            yield f"{part.ref}: stands at {positions[part.body_ref]}{of}", False, (part.ref,)
    for part in work.chassis.of_kind("fuse"):
        if part.fitted and not part.broken:
            said = f"{part.ref} {described(part)}: this fuse and no larger one, tight"
            yield said, False, (part.ref,)


def running_items(work: Workup) -> Iterator[Row]:
    """What to read first under power, in the order in which it tells most, with the volts."""
    if on_line(work):
        yield f"the set plugs into an isolation transformer, not into the wall{_METAL}", False, ()
    batteries = [] if on_line(work) else list(_plate_batteries(work))
    if batteries:
        yield (
            "filaments first: volts at each socket, or right polarity and volts at the plugs,"
            " before the high-voltage supply is connected",
            False,
            (),
        )
    lit = [p for p in work.chassis.of_kind("tube") if p.tube and p.tube.heating == "direct"
           and not p.tube.is_rectifier]  # fmt: skip
    if lit:
        yield (
            "no tube in or out with a supply on or a filter capacitor charged: it burns filaments",
            False,
            (),
        )
    yield "bring it up as `netcheck powerup` tells, and stop where it says stop", False, ()
    point = work.point
    if isinstance(point, NotSolved):
        yield f"expected volts are not known: {point.reason}", False, ()
        return
    for each in point.supplies:
        pair = f"{each.source.plus} to {each.source.minus}"
        yield f"{pair}: {amount(each.volts, 'V')} at the first filter capacitor", False, ()
    for cells in batteries:
        volts, pair = point.between(cells.a, cells.b), f"{cells.a} to {cells.b}"
        if volts is not None:
            yield f"{pair}: {amount(volts, 'V')} from {cells.ref}", False, (cells.ref,)
    yield from _drawn(work, point)
    yield from _outputs(work, point)
    yield "then the whole chart: `netcheck volts`, with your meter and your line", False, ()
    if on_line(work) and list(_plate_batteries(work)):
        yield (
            "then on its batteries, changed over with the plug out and the capacitors discharged:"
            " the same readings, as `netcheck volts` has them with the switch there",
            False,
            (),
        )


def _drawn(work: Workup, point: Point) -> Iterator[Row]:
    """What each battery gives, in a set that hangs on no line."""
    for part in () if work.circuit.wiring.line_side else work.chassis.of_kind("battery"):
        drawn = point.amperes(part.ref) if part.fitted and not part.broken else None
        if drawn:
            most = amount(_OVER * abs(drawn), "A")
            yield (
                f"{part.ref} gives {amount(abs(drawn), 'A')}; above {most}: switch off",
                False,
                (part.ref,),
            )


def _outputs(work: Workup, point: Point) -> Iterator[Row]:
    """Each output tube's bias and current."""
    case, reference = work.case(), point.model.reference
    outputs = _operating.output_bulbs(case)
    for stream in _operating.streams(case, point):
        if stream.tube.ref not in outputs:
            continue
        bulb = work.chassis.part(stream.tube.ref)
        direct = bulb is not None and bulb.tube is not None and bulb.tube.heating == "direct"
        emits = "filament" if direct else "cathode"
        if stream.grid_v is not None:
            yield (
                f"{stream.tube.ref} grid to its own {emits}: {amount(stream.grid_v, 'V')}; anything"
                " positive: switch off",
                False,
                (stream.tube.ref,),
            )
        yield (
            f"{stream.tube.ref} plate {amount(stream.plate_a, 'A')}, {emits} to {reference} "
            f"{amount(stream.cathode_v, 'V')}",
            False,
            (stream.tube.ref,),
        )


def on_line(work: Workup) -> bool:
    """Whether the common wire or the chassis is joined to the line as wired."""
    wiring = work.circuit.wiring
    return bool({wiring.common, work.chassis.net("CHASSIS")} & set(wiring.line_side))


def _plate_batteries(work: Workup) -> Iterator[Element]:
    for e in work.circuit.wiring.elements:
        part = work.chassis.part(e.ref) if e.kind is Kind.BATTERY else None
        if part is not None and (part.description.number("voltage") or 0.0) > _PLATE_BATTERY_V:
            yield e


def dress_items(work: Workup) -> Iterator[Row]:
    """Wiring and covers, which move the dial once they are moved."""
    yield "plate and grid leads short and apart; nothing near a hot resistor or tube", False, ()
    shields = sorted({p.inside for p in work.chassis.parts if p.inside})
    if shields:
        said = "shield cans on, their lugs bright and joined as they were"
        yield f"{said}: {', '.join(shields)}", False, tuple(shields)
    yield "bottom cover and back on, as it will play", False, ()


def alignment_items(work: Workup) -> Iterator[Row]:
    """The order of alignment, with what this set has of it."""
    parts = work.chassis.parts
    stages = [p for p in parts if p.kind == "transformer" and p.description.has("if") and p.fitted]
    gangs = any(e.kind is Kind.CAPACITOR for e in work.circuit.wiring.elements) and any(
        p.kind == "capacitor" and p.description.has("gang", "air") for p in parts
    )
    if on_line(work) and (stages or gangs):
        yield (
            "generator and meter: set on its isolation transformer, their leads through 0.1 mfd"
            " 630 V each; their own metal must never meet the common wire on the bare line",
            False,
            (),
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
        loose = [p for p in parts if p.description.has("trimmer") and not p.inside]
        trims = tuple(p.ref for p in [q for q in loose if q.on] or loose)
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
