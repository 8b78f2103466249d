"""What joins the parts: statements, nodes and the chassis as its text says it.

Belongs here: immutable records with the span each came from. Does not belong here: one part's
own words (parts.py), physics (circuit/), parsing (language/), facts about components (catalog/).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType

from netcheck.findings import Finding, Span
from netcheck.parts import Part, TubeType, Value

__all__ = [
    "Acceptance",
    "Chassis",
    "Hold",
    "LineSupply",
    "Node",
    "Policy",
    "Reading",
    "Remark",
    "Setting",
    "Tolerances",
    "Wire",
]


@dataclass(frozen=True, slots=True)
class Wire:
    """`wire A to B to C`: one node under several names."""

    nodes: tuple[str, ...]
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Tolerances:
    """How far the line may stray from its stated volts, as fractions (0.1 = 10 %)."""

    above: float = 0.1
    below: float = 0.1


@dataclass(frozen=True, slots=True)
class LineSupply:
    """`line 117 V 60 Hz`, `line 220 V DC` (hertz 0.0), `line none` (volts None).

    `rated_v` is the line the text states where `volts` is another one, today's at the wall.
    """

    volts: float | None
    hertz: float
    span: Span = field(compare=False)
    tolerance: Tolerances = Tolerances()
    tolerance_given: bool = False
    rated_v: float | None = None

    @property
    def made_for_v(self) -> float | None:
        """The line volts the set was made for: those its windings are printed at."""
        return self.volts if self.rated_v is None else self.rated_v


@dataclass(frozen=True, slots=True)
class Reading:
    """`reading …`: a terminal, node or part measured; `meter_ohm` loads it; `at_v` for leakage."""

    target: str
    value: Value
    span: Span = field(compare=False)
    part: str | None = None
    node: str | None = None
    leakage: bool = False
    at_v: Value | None = None
    meter_ohm: float | None = None
    accuracy: float | None = None


@dataclass(frozen=True, slots=True)
class Hold:
    """`hold NODE 276 V`: a measured rail from which the rest is computed."""

    node: str
    value: Value
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Acceptance:
    """`accept RULE on REF: "reason"`: a known finding; empty `targets` means the whole set."""

    rule: str
    targets: tuple[str, ...]
    reason: str
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Policy:
    """`policy RULE option value`: where good practitioners differ."""

    rule: str
    option: str
    value: str
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Setting:
    """`switch S3 at MW`: the position the charts are made for."""

    switch: str
    position: str
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Remark:
    """A comment of the text (`heading` for `# ---`), kept by the layout and the reports."""

    text: str
    heading: bool
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Node:
    """A node after `wire` merging: its chief name, its other names, who is on it."""

    name: str
    also: tuple[str, ...]
    connections: tuple[tuple[str, str], ...]
    span: Span = field(compare=False)


_CHIEF = {"CHASSIS": 0, "EARTH": 1, "B-": 2, "B+": 3}


@dataclass(frozen=True)
class Chassis:
    """A set as its text says it: parts, wires, statements, and the mistakes of reading.

    Immutable; derived views (`nodes`, `part`) are cached. Equality ignores spans, so a text
    written by layout and read again gives an equal chassis. `interrupted` is empty in a set as its
    text says it; in a supposed one it has the parts that were taken out or cut, as the text has
    them.
    """

    file: str = "<text>"
    title: str = ""
    travels: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    line: LineSupply | None = None
    measure_from: str | None = None
    parts: tuple[Part, ...] = ()
    wires: tuple[Wire, ...] = ()
    touchable: tuple[str, ...] | None = None
    types: tuple[TubeType, ...] = ()
    readings: tuple[Reading, ...] = ()
    holds: tuple[Hold, ...] = ()
    acceptances: tuple[Acceptance, ...] = ()
    policies: tuple[Policy, ...] = ()
    settings: tuple[Setting, ...] = ()
    notation_m: float | None = None
    uses: tuple[str, ...] = ()
    remarks: tuple[Remark, ...] = ()
    interrupted: tuple[Part, ...] = ()
    findings: tuple[Finding, ...] = field(default=(), compare=False)
    texts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}), compare=False)
    spans: Mapping[str, Span] = field(default_factory=lambda: MappingProxyType({}), compare=False)
    was_read: bool = field(default=True, compare=False)

    @cached_property
    def _index(self) -> Mapping[str, Part]:
        return {part.ref: part for part in reversed(self.parts)}

    def part(self, ref: str) -> Part | None:
        """The part with this reference (whatever its case), or None."""
        return self._index.get(ref) or self._index.get(ref.upper())

    def of_kind(self, *kinds: str) -> Iterator[Part]:
        """Yield the parts of these kinds that could be read and are fitted, in text order."""
        for part in self.parts:
            if part.kind in kinds and part.fitted and not part.broken:
                yield part

    @cached_property
    def _chief_names(self) -> Mapping[str, str]:
        chief: dict[str, str] = {}

        def find(name: str) -> str:
            while chief.setdefault(name, name) != name:
                chief[name] = chief[chief[name]]
                name = chief[name]
            return name

        for wire in self.wires:
            for other in wire.nodes[1:]:
                pair = sorted(
                    (find(wire.nodes[0]), find(other)),
                    key=lambda n: (_CHIEF.get(n, 9), "." in n),
                )
                chief[pair[1]] = pair[0]
        return {name: find(name) for name in tuple(chief)}

    def net(self, node: str) -> str:
        """The chief name of a node after all `wire` statements (itself when it has no other)."""
        return self._chief_names.get(node, node)

    @cached_property
    def nodes(self) -> Mapping[str, Node]:
        """Every node by its chief name, in order of first mention."""
        connections: dict[str, list[tuple[str, str]]] = {}
        spans: dict[str, Span] = {}
        also: dict[str, dict[str, None]] = {}
        for part in self.parts:
            for terminal in part.terminals:
                if terminal.unused:
                    continue
                name = self.net(terminal.node)
                connections.setdefault(name, []).append((part.ref, terminal.name))
                spans.setdefault(name, terminal.span)
                also.setdefault(name, {})[terminal.node] = None
        for wire in self.wires:
            for node in wire.nodes:
                name = self.net(node)
                connections.setdefault(name, [])
                spans.setdefault(name, wire.span)
                also.setdefault(name, {})[node] = None
        return {
            name: Node(name, tuple(n for n in also[name] if n != name), tuple(refs), spans[name])
            for name, refs in connections.items()
        }

    def line_text(self, span: Span) -> str:
        """The text of the first line of `span`, or an empty string when its file is not at hand."""
        lines = self._lines.get(span.file, ())
        return lines[span.line - 1] if 0 < span.line <= len(lines) else ""

    @cached_property
    def _lines(self) -> Mapping[str, tuple[str, ...]]:
        return {
            file: tuple(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"))
            for file, text in self.texts.items()
        }
