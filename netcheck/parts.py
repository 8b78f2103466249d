"""The words of one part: value, description, terminal, path, tube type, part.

Belongs here: immutable records of what a text (or the catalogue) says of one part, each with
the span it came from. Does not belong here: what joins parts (chassis.py), physics (circuit/),
parsing (language/), facts about components (catalog/). All numbers are SI floats; pint stays at
the boundary in language/quantities.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from types import MappingProxyType

from netcheck.findings import Span

__all__ = [
    "Condition",
    "Description",
    "OperatingPoint",
    "Part",
    "Path",
    "Section",
    "Terminal",
    "TubeType",
    "Value",
]


class Condition(Enum):
    """What is physically in the set at a part's place."""

    ORIGINAL = "original"
    NEW = "new"
    RESTUFFED = "restuffed"
    REMOVED = "removed"
    NOT_FITTED = "not fitted"


@dataclass(frozen=True, slots=True)
class Value:
    """A quantity as SI numbers and as written.

    `amounts` has one entry for a plain value, more for a series along a path (340-0-340 V),
    none for `?` (unknown). `spread` marks a range (10-420 pF). `dimension` is the name of the
    quantity: resistance, capacitance, voltage, current, power, frequency, inductance, ratio …
    """

    amounts: tuple[float, ...]
    dimension: str
    text: str
    span: Span = field(compare=False)
    spread: bool = False

    @property
    def known(self) -> bool:
        """Whether the text gives a number (`?` does not)."""
        return bool(self.amounts)

    @property
    def si(self) -> float:
        """The (first) amount in SI units. Raises ValueError when the value is unknown."""
        if not self.amounts:
            raise ValueError(f"{self.text!r} is an unknown value")
        return self.amounts[0]

    @property
    def highest(self) -> float:
        """The largest amount in SI units. Raises ValueError when the value is unknown."""
        if not self.amounts:
            raise ValueError(f"{self.text!r} is an unknown value")
        return max(self.amounts)

    @property
    def total(self) -> float:
        """The sum of the amounts along a path, in SI units."""
        return sum(self.amounts)


@dataclass(frozen=True, slots=True)
class Description:
    """What a part is, in values and trade words; also used for the old part behind `replaces`.

    `values` maps a role to its value: capacitance, resistance, inductance, voltage (DC),
    voltage-ac, surge, current, power, tolerance, frequency, running, hot, impedance, to-impedance.
    `words` are canonical trade words (`paper`, `electrolytic`, `slow`, `control`, `can` …).
    `classes` are IEC 60384-14 classes with the AC voltage written beside them.
    `designation` is a type number (lamp 47, ballast K55B). `windings` holds the clauses of each
    named winding. `alternates` are further values after `or`.
    """

    values: Mapping[str, Value] = field(default_factory=lambda: MappingProxyType({}))
    words: tuple[str, ...] = ()
    classes: tuple[tuple[str, Value | None], ...] = ()
    designation: str = ""
    windings: Mapping[str, Description] = field(default_factory=lambda: MappingProxyType({}))
    alternates: tuple[Value, ...] = ()
    text: str = field(default="", compare=False)
    span: Span | None = field(default=None, compare=False)

    def has(self, *words: str) -> bool:
        """Whether any of `words` stands in the description."""
        return any(word in self.words for word in words)

    def number(self, role: str) -> float | None:
        """The SI amount of `role`, or None when it is absent or unknown."""
        value = self.values.get(role)
        return value.si if value is not None and value.known else None


@dataclass(frozen=True, slots=True)
class Terminal:
    """One connection of a part: `name` in canonical words, the `node` it is on, its socket pin.

    `unused` is True for `open` (left unconnected on purpose). `given` is False when the text
    gave no node, so that the node is the dotted name of the terminal itself.
    """

    name: str
    node: str
    span: Span = field(compare=False)
    pin: str | None = None
    unused: bool = False
    given: bool = True


@dataclass(frozen=True, slots=True)
class Path:
    """Terminals in order along a winding, heater, dropper, control, or a closed switch path.

    `position` is the switch position that closes it (empty for every other part).
    """

    name: str
    terminals: tuple[str, ...]
    position: str = ""
    span: Span | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """One published (or file-given) point of a tube: electrode volts, milliamperes as SI amperes.

    `volts` and `amperes` map electrode names to numbers; `gm_s`, `rp_ohm`, `mu` may be None.
    """

    use: str = ""
    section: str = ""
    volts: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    amperes: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    gm_s: float | None = None
    rp_ohm: float | None = None
    mu: float | None = None
    cathode_ohm: float | None = None
    load_ohm: float | None = None
    output_w: float | None = None
    note: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """One electron stream of a tube: which electrodes form it.

    `kind` is triode, tetrode, pentode, beam pentode, converter, diode, rectifier, target.
    `plate` and `cathode` are electrode names; a directly heated section has cathode `heater1`.
    `controls` are the grids that take a signal or bias (a converter has two), worst first.
    """

    name: str
    kind: str
    plate: str
    cathode: str
    controls: tuple[str, ...] = ()
    screen: str | None = None


@dataclass(frozen=True, slots=True)
class TubeType:
    """A tube type, built in or defined in a file: the two are equal in every way.

    `pins` maps a pin label (`1`..`9`, `cap`) to the electrodes on it (empty = no connection).
    Electrode names: plate, plate1, plate2, g1..g5, grid1, grid2, cathode, cathode1, cathode2,
    diode1..3, target, shell, shield, heater1, heater2, tap, triode-plate, triode-grid.
    `heating` is indirect, direct or none. `limits` are SI numbers under the names
    plate-v, screen-v, plate-w, screen-w, cathode-a, heater-cathode-v, inverse-v, output-a,
    reservoir-f, impedance-ohm, drop-v, drop-a, grid-ohm-fixed, grid-ohm-cathode, peak-a,
    plate-ac-v. `sources` maps a subject (pins, heater, limits, points …) to where it was seen,
    or to a text that begins `from memory`.
    """

    name: str
    kind: str
    aliases: tuple[str, ...] = ()
    base: str = ""
    basing: str = ""
    pins: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    heating: str = "indirect"
    heater_v: float | None = None
    heater_a: float | None = None
    tap_v: float | None = None
    limits: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    rating_system: str = "unknown"
    sections: tuple[Section, ...] = ()
    points: tuple[OperatingPoint, ...] = ()
    sources: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    note: str = ""
    span: Span | None = field(default=None, compare=False)

    @property
    def electrodes(self) -> tuple[str, ...]:
        """Every electrode name once, in pin order."""
        return tuple(dict.fromkeys(e for group in self.pins.values() for e in group))

    @property
    def is_rectifier(self) -> bool:
        """Whether the type is a power rectifier."""
        return "rectifier" in self.kind

    def pin_of(self, electrode: str) -> str | None:
        """The first pin that carries `electrode`, or None."""
        return next((pin for pin, group in self.pins.items() if electrode in group), None)

    def source_of(self, limit: str) -> str:
        """Where a limit was seen: its own source, that of the limits, or that of a whole type."""
        seen = self.sources
        return seen.get(limit) or seen.get("limits") or seen.get("all", "source not stated")


@dataclass(frozen=True, slots=True)
class Part:
    """A part: reference, what it is, its terminals and their order along it.

    `letters`, `number`, `section` split the reference (C, 1, A). `kind` is the plain word
    (capacitor, resistor, thermistor, varistor, coil, transformer, tube, diode, switch, fuse,
    lamp, speaker, meter, vibrator, plug, jack, battery, load). `fitted` is False when the
    condition says that nothing is there. A `broken` part could not be read whole: it is
    unknown, and later stages stay quiet about it. A `misplaced` part is known, but not all of the
    nodes it is on: it is not in the wiring.
    """

    ref: str
    letters: str
    number: int
    kind: str
    span: Span = field(compare=False)
    section: str = ""
    description: Description = field(default_factory=Description)
    condition: Condition = Condition.ORIGINAL
    measured: Value | None = None
    replaces: Description | None = None
    tube: TubeType | None = None
    tube_name: str = ""
    terminals: tuple[Terminal, ...] = ()
    paths: tuple[Path, ...] = ()
    on: str | None = None
    inside: str | None = None
    mark: str | None = None
    reversed_windings: tuple[str, ...] = ()
    note: str = ""
    broken: bool = False
    misplaced: bool = False
    ref_span: Span | None = field(default=None, compare=False)
    spans: Mapping[str, Span] = field(default_factory=lambda: MappingProxyType({}), compare=False)

    @property
    def fitted(self) -> bool:
        """Whether something is electrically there."""
        return self.condition not in (Condition.REMOVED, Condition.NOT_FITTED)

    @property
    def body_ref(self) -> str:
        """The reference of the body this is a section of (C1 for C1A; itself without section)."""
        return f"{self.letters}{self.number}"

    @property
    def is_bridge(self) -> bool:
        """Whether it is a rectifier bridge in one piece: four diodes with ac1, ac2, + and -."""
        return self.kind == "diode" and self.terminal("ac1") is not None

    @property
    def positions(self) -> tuple[str, ...]:
        """Switch positions in the order of the text."""
        return tuple(dict.fromkeys(p.position for p in self.paths if p.position))

    @property
    def nodes(self) -> tuple[str, ...]:
        """The nodes its connected terminals are on, each once, in order (before `wire` merging)."""
        return tuple(dict.fromkeys(t.node for t in self.terminals if not t.unused))

    def terminal(self, name: str) -> Terminal | None:
        """The terminal called `name` (canonical), or None."""
        return next((t for t in self.terminals if t.name == name), None)

    def value(self, role: str) -> float | None:
        """The SI number the part now has for `role`: measured if it was, else as described."""
        measured = self.measured
        if measured is not None and measured.known and measured.dimension == role:
            return measured.si
        return self.description.number(role)

    def span_of(self, what: str) -> Span:
        """The span of a clause, value or terminal called `what`, else that of the reference."""
        return self.spans.get(what) or self.ref_span or self.span
