"""Tube, socket and text do not fit each other.

Why: Tubes of one family come on different bases and with different pins: in a socket wired for
another type, B+ may meet a heater or a grid. An electrode the text leaves out is not checked at
all, and in the chassis it is a dead stage. A pin without an electrode often serves as a tie point,
and a metal tube of the same number puts it on its bare shell.
False alarm: The socket was rewired for the other type, or an adapter is used: accept it. An
electrode left unconnected on purpose is answered by `open`.
Source: pins, bases and heaters: tube data (each with its source, see `netcheck tube`); substituted
types are common in sets as found: richardsradios.co.uk, repairing.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.catalog.tubes import find_tube
from netcheck.findings import Finding, Harm, NotChecked
from netcheck.parts import Part, TubeType
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._tube_types import base_difference, heater_difference, pin_differences
from netcheck.rules._words import listed, named

# Electrodes that may be missing from a text: metal and shields do nothing by themselves, and a
# heater tap is there to be used or not.
_OPTIONAL = frozenset({"shell", "shield", "tap"})


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            "V4 50C5: plate PLATE, screen B1, g1 DRIVE   # <-\n",
            "V4 (50C5) has its cathode, heater1 and heater2 nowhere in the text",
        ),
        Example(
            "V7A 12AX7: plate1 X1, grid1 B-, cathode1 B-, heater H1 to H2   # <-\n",
            "V7 (12AX7; V7A) has its plate2, grid2 and cathode2 nowhere in the text",
        ),
        Example(
            "V5 6X5GT, replaces 5Y3GT: plate1 HA, plate2 HB, cathode B1, heater H1 to H2   # <-\n",
            "V5 (6X5GT) replaces a 5Y3GT and differs from it: pin 3",
        ),
        Example(
            """
V2 12SA7, glass: plate PLATE, screen B+, g1 OSC, g3 SIGNAL, cathode TAP, shell B-, \
heater H2 to H1   # <-
""",
            "its glass form, the 12SA7GT, differs from it: pin 1 is nothing and not g5",
        ),
        Example(
            """
V4 50L6GT: 1 BIAS, plate PLATE, screen B+, g1 DRIVE, cathode B-, heater H2 to H1   # <-
R1 1K 1/2 W 10%, new: B- to BIAS
""",
            "pin 1 of V4 (50L6GT) is no electrode, and BIAS is on it",
        ),
    ),
    good=(
        """
V4 50C5: plate PLATE, screen B+, g1 DRIVE, cathode KOUT, heater H2 to H1
R9 470K 1/2 W, new: DRIVE to B-
R12 150 ohm 1 W: KOUT to B-
""",
        """
V5 5Y3GT, replaces 5Y3G: plate1 HA, plate2 HB, heater FIL to B1
V6 6X5GT, replaces 6X5: plate1 HA, plate2 HB, cathode B2, heater H3 to H4
V3A 6SN7GT: plate1 PLATE, grid1 B-, cathode1 B-
V3B 6SN7GT: plate2 open, grid2 open, cathode2 open, heater H2 to H1
""",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield what is left out of each tube, how it differs from the old one, and stray pins."""
    bodies: dict[str, list[Part]] = {}
    for part in case.chassis.of_kind("tube"):
        if part.tube is not None:
            bodies.setdefault(part.body_ref, []).append(part)
            yield from _replaced(case, part, part.tube)
            yield from _form(case, part, part.tube)
            yield from _stray_pins(case, part, part.tube)
    for parts in bodies.values():
        yield from _left_out(case, parts)


def _left_out(case: Case, parts: list[Part]) -> Iterator[Finding]:
    """The electrodes of one bulb that none of its lines names, not even as `open`."""
    first, tube = parts[0], parts[0].tube
    if tube is None or any(part.tube != tube for part in parts):
        return
    said = {terminal.name for part in parts for terminal in part.terminals}
    met = {e for group in tube.pins.values() if said & set(group) for e in group}
    missing = [e for e in tube.electrodes if e not in met | said | _OPTIONAL]
    if missing:
        yield case.finding(
            f"{_bulb(parts)} has its {listed(missing)} nowhere in the text",
            first.span_of("type"),
            harm=Harm.PERFORMANCE,
            parts=[part.ref for part in parts],
            action=f"write where {'it goes' if len(missing) == 1 else 'they go'}, or `open`",
        )


def _bulb(parts: list[Part]) -> str:
    """The bulb that lines of the text are about: itself, or named by the sections it has there."""
    first = parts[0]
    if first.ref == first.body_ref:
        return named(first)
    return f"{first.body_ref} ({first.tube_name}; {listed(part.ref for part in parts)})"


def _replaced(case: Case, part: Part, tube: TubeType) -> Iterator[Finding | NotChecked]:
    name = part.replaces.designation if part.replaces is not None else ""
    if not name:
        return
    own = (t for t in case.chassis.types if t.name.upper() == name.upper())
    old = next(own, None) or find_tube(name)
    if old is None:
        yield case.not_checked(f"{part.ref}: the old type {name} is not known", (part.ref,))
        return
    by_volts = bool(case.circuit.wiring.supply.windings)
    differences = base_difference(tube, old) or [
        *pin_differences(tube, old),
        *(heater_difference(tube, old) if by_volts else ()),
    ]
    if differences:
        yield case.finding(
            f"{named(part)} replaces a {name} and differs from it: {'; '.join(differences)}",
            part.span_of("type"),
            parts=(part.ref,),
            action=f"fit a {name}, or rewire the socket for the {tube.name} and accept this",
        )


def _form(case: Case, part: Part, tube: TubeType) -> Iterator[Finding]:
    """A tube said to be glass or metal, of a type whose data are those of the other form."""
    metal = "shell" in tube.electrodes
    stem = tube.name.removesuffix("T").removesuffix("G")
    if part.description.has("metal") and not metal:
        other = find_tube(stem)
        known = other is not None and "shell" in other.electrodes
        yield case.finding(
            f"{named(part)} is said to be metal, and the {tube.name} has no shell: whether the "
            "shell can be touched is not checked",
            part.span_of("metal"),
            harm=Harm.RECORD,
            parts=(part.ref,),
            action=f"write the metal type{f', {stem},' if known else ''} and where its shell goes",
        )
    if part.description.has("glass") and metal:
        glass = find_tube(f"{stem}GT") or find_tube(f"{stem}G")
        if glass is not None and (differences := pin_differences(glass, tube)):
            yield case.finding(
                f"{named(part)} is said to be glass, and its glass form, the {glass.name}, "
                f"differs from it: {'; '.join(differences)}",
                part.span_of("glass"),
                harm=Harm.RECORD,
                parts=(part.ref,),
                action=f"write {glass.name}, if that is on the bulb",
            )


def _stray_pins(case: Case, part: Part, tube: TubeType) -> Iterator[Finding]:
    """Pins without an electrode that serve as a tie point."""
    for terminal in part.terminals:
        pin = terminal.name.removeprefix("pin")
        if terminal.name == pin or terminal.unused or tube.pins.get(pin, ("",)):
            continue
        yield case.finding(
            f"pin {pin} of {named(part)} is no electrode, and {terminal.node} is on it",
            terminal.span,
            harm=Harm.RECORD,
            parts=(part.ref,),
            nodes=(case.chassis.net(terminal.node),),
            action=f"keep metal tubes and other makes out of this socket, or take {terminal.node} "
            "to a tie point of its own",
        )
