"""Turns the parts of a chassis into two-ended elements, because a graph needs edges.

Belongs here: which pairs of terminals a part joins, in which way, and its printed ohms. Does not
belong here: what the elements together do (sides, supply, roles) or any law of physics.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from itertools import pairwise

from netcheck.chassis import Chassis
from netcheck.parts import Description, Part, Path, Terminal

__all__ = ["Electrode", "Element", "Kind", "electrodes", "elements_of", "is_known"]


class Kind(Enum):
    """How an element joins its two ends.

    STREAM is the electron stream of a tube: its end `a` is the plate (or screen, or diode
    plate), `b` the cathode. DIODE: `a` anode, `b` cathode. STRAP: two pins that one electrode
    comes out on. VARISTOR: open below its voltage. CONTACT: a closed switch path or a
    vibrator contact.
    """

    __hash__ = object.__hash__  # a member is one object: its name need not be hashed

    RESISTOR = "resistor"
    CAPACITOR = "capacitor"
    WINDING = "winding"
    HEATER = "heater"
    CONTACT = "contact"
    FUSE = "fuse"
    LAMP = "lamp"
    SPEAKER = "speaker"
    METER = "meter"
    DIODE = "diode"
    STREAM = "stream"
    BATTERY = "battery"
    LOAD = "load"
    STRAP = "strap"
    VARISTOR = "varistor"


@dataclass(frozen=True, slots=True)
class Element:
    """One edge: part `ref` joins nets `a` and `b` (chief names) between its `terminals`.

    `path` is the winding, heater, stream or switch path it belongs to; `position` the switch
    position that closes it. `ohm` is the printed DC resistance in ohms (a heater's or lamp's is
    its running volts over amperes), None when it is not known. Polarized: `a` is plus.
    """

    ref: str
    kind: Kind
    a: str
    b: str
    terminals: tuple[str, str]
    path: str = ""
    position: str = ""
    ohm: float | None = None

    @property
    def nets(self) -> tuple[str, str]:
        """Both nets."""
        return (self.a, self.b)

    def other(self, net: str) -> str:
        """The net at the other end than `net`."""
        return self.b if net == self.a else self.a


@dataclass(frozen=True, slots=True)
class Electrode:
    """A connected tube electrode: on which net, of which section, doing what.

    `duty` is plate, screen, grid, cathode or diode (the plate of a diode or rectifier);
    `section_kind` is that of `netcheck.parts.Section`.
    """

    ref: str
    name: str
    net: str
    duty: str
    section: str
    section_kind: str


_LEAST_TERMINALS = {"jack": 1, "plug": 1, "vibrator": 1}
_POSITIVE_ENDS = (("+", "-"), ("a", "b"), ("anode", "cathode"))
_SIMPLE = {
    "capacitor": Kind.CAPACITOR,
    "fuse": Kind.FUSE,
    "lamp": Kind.LAMP,
    "speaker": Kind.SPEAKER,
    "meter": Kind.METER,
    "diode": Kind.DIODE,
    "battery": Kind.BATTERY,
    "load": Kind.LOAD,
    "varistor": Kind.VARISTOR,
    "resistor": Kind.RESISTOR,
    "thermistor": Kind.RESISTOR,
    "coil": Kind.WINDING,
    "transformer": Kind.WINDING,
}


def is_known(part: Part) -> bool:
    """Whether the connections of a fitted part are known: read whole, and a tube's type known."""
    if part.broken or part.misplaced:
        return False
    if part.kind != "tube":
        return True
    tube = part.tube
    return tube is not None and (bool(tube.sections) or "ballast" in tube.kind)


def terminals_seem_whole(part: Part) -> bool:
    """Whether a broken part at least names as many terminals as its kind needs."""
    least = 4 if part.description.has("bridge") else _LEAST_TERMINALS.get(part.kind, 2)
    return len(part.terminals) >= least


def elements_of(chassis: Chassis) -> Iterator[Element]:
    """Yield the elements of every part that is fitted and could be read, in text order.

    A part wired to itself gives an element with twice the same net. Terminals left `open` give
    none; the sections on both sides of an open tap are one element.
    """
    for part in chassis.parts:
        if part.fitted and not (part.broken or part.misplaced):
            yield from _MAKERS.get(part.kind, _simple)(chassis, part)


def electrodes(chassis: Chassis) -> Iterator[Electrode]:
    """Yield every connected electrode of every section of the tubes whose type is known."""
    for part in chassis.of_kind("tube"):
        for section in part.tube.sections if part.tube else ():
            rectifying = section.kind in ("diode", "rectifier")
            named = [(section.plate, "diode" if rectifying else "plate")]
            named += [(grid, "grid") for grid in section.controls]
            named += [(section.screen, "screen")] if section.screen else []
            named += [(section.cathode, "cathode")]
            for name, duty in named:
                for terminal in _pins(part, name):
                    net = chassis.net(terminal.node)
                    yield Electrode(part.ref, name, net, duty, section.name, section.kind)


def _pins(part: Part, electrode: str) -> list[Terminal]:
    """The connected terminals of an electrode; else the electrode it shares a pin with."""
    own = [t for t in part.terminals if t.name == electrode and not t.unused]
    if own or part.tube is None:
        return own
    shared = {e for group in part.tube.pins.values() if electrode in group for e in group}
    return [t for t in part.terminals if t.name in shared and not t.unused]


def _join(
    chassis: Chassis, part: Part, kind: Kind, ends: Sequence[Terminal], **more: str | float | None
) -> Element:
    first, last = ends
    path, position, ohm = more.get("path", ""), more.get("position", ""), more.get("ohm")
    return Element(
        part.ref,
        kind,
        chassis.net(first.node),
        chassis.net(last.node),
        (first.name, last.name),
        str(path),
        str(position),
        float(ohm) if ohm is not None else None,
    )


def _simple(chassis: Chassis, part: Part) -> Iterator[Element]:
    """Parts of two ends; and anything that turns up with fewer or oddly named ends."""
    kind = _SIMPLE.get(part.kind)
    ends = _two_ends(part)
    if kind is not None and ends is not None:
        yield _join(chassis, part, kind, ends, ohm=_simple_ohm(part, kind))


def _two_ends(part: Part) -> tuple[Terminal, Terminal] | None:
    for first, last in _POSITIVE_ENDS:
        a, b = part.terminal(first), part.terminal(last)
        if a is not None and b is not None:
            return None if a.unused or b.unused else (a, b)
    rest = [t for t in part.terminals if t.name not in ("body", "frame", "shell", "shaft")]
    if len(rest) < 2 or rest[0].unused or rest[1].unused:
        return None
    return rest[0], rest[1]


def _simple_ohm(part: Part, kind: Kind) -> float | None:
    if kind is Kind.FUSE:
        return part.value("resistance") or 0.0
    if kind is Kind.LAMP:
        return _running_ohm(part.value("voltage"), part.value("current"))
    if kind is Kind.SPEAKER:
        return _first(part.value("resistance"), part.value("impedance"))
    if kind in (Kind.RESISTOR, Kind.WINDING, Kind.METER, Kind.LOAD, Kind.BATTERY):
        return part.value("resistance")
    return None


def _diode(chassis: Chassis, part: Part) -> Iterator[Element]:
    """One element; of a bridge in one piece its four diodes, two of them to plus.

    A corner left open leaves out its two diodes: what they could carry, the other corner's carry.
    """
    if not part.is_bridge:
        yield from _simple(chassis, part)
        return
    for first, last in (("ac1", "+"), ("ac2", "+"), ("-", "ac1"), ("-", "ac2")):
        anode, cathode = part.terminal(first), part.terminal(last)
        if anode is not None and cathode is not None and not (anode.unused or cathode.unused):
            ends = (anode, cathode)
            yield _join(chassis, part, Kind.DIODE, ends, path=f"{first} to {last}")


def _first(*values: float | None) -> float | None:
    return next((v for v in values if v is not None), None)


def _running_ohm(volts: float | None, amperes: float | None) -> float | None:
    return volts / amperes if volts and amperes else None


def _along(
    chassis: Chassis, part: Part, path: Path, kind: Kind, ohms: Sequence[float | None]
) -> Iterator[Element]:
    """The elements along a path; an open tap joins the two sections beside it into one."""
    at: Terminal | None = None
    gathered: float | None = 0.0
    for index, name in enumerate(path.terminals):
        here = part.terminal(name)
        if index and gathered is not None:
            step = ohms[index - 1]
            gathered = None if step is None else gathered + step
        if here is None or here.unused:
            continue
        if at is not None:
            ends = (at, here)
            yield _join(
                chassis, part, kind, ends, path=path.name, position=path.position, ohm=gathered
            )
        at, gathered = here, 0.0


def _shares(part: Part, description: Description, sections: int) -> list[float | None]:
    """Ohms of each section of a path: as listed, else the (measured) total in equal shares.

    Equal shares are an assumption: a centre tap or a control at mid-rotation. `190 ohm each`
    is the amount of every section.
    """
    value = description.values.get("resistance")
    each = description.number("resistance-each")
    if sections <= 0:
        return []
    if description is part.description and part.measured is not None:
        total = part.value("resistance")
        if total is not None and part.measured.dimension == "resistance":
            return [total / sections] * sections
    if value is None or not value.known:
        return [each] * sections
    if len(value.amounts) == sections:
        return list(value.amounts)
    return [value.total / sections] * sections


def _resistor(chassis: Chassis, part: Part) -> Iterator[Element]:
    if not part.paths:
        yield from _simple(chassis, part)
    loose = part.terminal("wiper")
    for path in part.paths:
        names = path.terminals
        if loose is not None and "wiper" not in names:
            if len(names) == 2:
                names = (names[0], "wiper", names[1])
            elif not loose.unused:
                yield from _wiper(chassis, part, path, loose)
        ohms = _shares(part, part.description, len(names) - 1)
        yield from _along(chassis, part, replace(path, terminals=names), Kind.RESISTOR, ohms)


def _wiper(chassis: Chassis, part: Part, path: Path, wiper: Terminal) -> Iterator[Element]:
    """The wiper of a tapped control, set to the tap nearest the middle of its track."""
    rest = part.terminal(path.terminals[len(path.terminals) // 2])
    if rest is not None and not rest.unused:
        yield _join(chassis, part, Kind.RESISTOR, (wiper, rest), path=path.name, ohm=0.0)


def _windings(chassis: Chassis, part: Part) -> Iterator[Element]:
    """Each winding by itself: what is joined only by induction is not joined here."""
    if not part.paths:
        yield from _simple(chassis, part)
    for path in part.paths:
        own = part.description.windings.get(path.name)
        alone = len(part.paths) == 1
        described = part.description if own is None and alone else own or Description()
        ohms = _shares(part, described, len(path.terminals) - 1)
        yield from _along(chassis, part, path, Kind.WINDING, ohms)


def _switch(chassis: Chassis, part: Part) -> Iterator[Element]:
    for path in part.paths:
        yield from _along(chassis, part, path, Kind.CONTACT, [0.0] * len(path.terminals))


def _vibrator(chassis: Chassis, part: Part) -> Iterator[Element]:
    """Reed to each contact, and the driving coil to the reed (its circuit closes through it).

    Contacts 3 and 4 are those of the second reed, if there is one.
    """
    wound = [p for p in part.paths if p.name.startswith("coil")]
    for path in wound:
        yield from _along(chassis, part, path, Kind.WINDING, [None] * len(path.terminals))
    first, second = part.terminal("reed"), part.terminal("reed2")
    for terminal in part.terminals:
        late = terminal.name in ("contact3", "contact4")
        reed = second if second is not None and late else first
        if terminal.unused or reed is None or reed.unused:
            continue
        name = terminal.name
        if name.startswith("contact"):
            ends = (reed, terminal)
            yield _join(chassis, part, Kind.CONTACT, ends, path=name, position=name, ohm=0.0)
        elif name == "coil" and not wound:
            yield _join(chassis, part, Kind.WINDING, (reed, terminal), path="coil")


def _tube(chassis: Chassis, part: Part) -> Iterator[Element]:
    yield from _heater(chassis, part)
    yield from _straps(chassis, part)
    for section in part.tube.sections if part.tube else ():
        cathode = _pins(part, section.cathode)[:1]
        streams = [(section.plate, section.name)]
        streams += [(section.screen, "screen")] if section.screen else []
        for electrode, name in streams:
            plate = _pins(part, electrode)[:1]
            if plate and cathode:
                yield _join(chassis, part, Kind.STREAM, (plate[0], cathode[0]), path=name)


def _heater(chassis: Chassis, part: Part) -> Iterator[Element]:
    paths = [p for p in part.paths if p.name in ("heater", "filament")]
    if not paths:
        names = tuple(n for n in ("heater1", "tap", "heater2") if part.terminal(n) is not None)
        paths = [Path("heater", names)]
    for path in paths:
        yield from _along(chassis, part, path, Kind.HEATER, _heater_ohms(part, path))


def _heater_ohms(part: Part, path: Path) -> list[float | None]:
    """Running ohms of the heater's sections: rated volts over amperes, split at the tap.

    `tap_v` is the volts between `heater1` and the tap, as in the catalogue.
    """
    sections = len(path.terminals) - 1
    tube = part.tube
    whole = _running_ohm(tube.heater_v, tube.heater_a) if tube else None
    if tube is None or whole is None or sections < 1:
        return [None] * max(sections, 0)
    if sections == 1:
        return [whole]
    if sections == 2 and tube.tap_v and tube.heater_a:
        tapped = tube.tap_v / tube.heater_a
        ohms: list[float | None] = [tapped, whole - tapped]
        return ohms if path.terminals[0] == "heater1" else ohms[::-1]
    return [whole / sections] * sections


def _straps(chassis: Chassis, part: Part) -> Iterator[Element]:
    """One electrode on two pins that are on two nets: the tube joins them."""
    for name in dict.fromkeys(t.name for t in part.terminals):
        same = [t for t in part.terminals if t.name == name and not t.unused]
        nets = {chassis.net(t.node): t for t in same}
        for ends in pairwise(nets.values()):
            yield _join(chassis, part, Kind.STRAP, ends, path=name, ohm=0.0)


_MAKERS: dict[str, Callable[[Chassis, Part], Iterator[Element]]] = {
    "resistor": _resistor,
    "thermistor": _resistor,
    "coil": _windings,
    "transformer": _windings,
    "switch": _switch,
    "vibrator": _vibrator,
    "tube": _tube,
    "diode": _diode,
}
