"""Writing a starting text part by part, in the columns of the canonical layout.

Belongs here: references, lines, what every stage of a set shares while it grows. Does not belong
here: which parts a stage has (start_stages.py, start_supply.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from netcheck.catalog.preferred import nearest_preferred
from netcheck.parts import OperatingPoint, Section, TubeType
from netcheck.rules._words import amount

__all__ = ["Build", "best_point", "ohm_text"]

_LEFT = 39
_WIDE = 78
ASSUMED = '"assumed"'


@dataclass
class Build:
    """A text as it grows.

    `common` is what stages return to, `rail` the plate supply of the stages, `plates` that of the
    output, `rail_v` its volts as far as they are known beforehand; `heaters` gives each tube's
    heater nodes by its reference. `avc`, `signal`, `audio` are the nodes the next stage takes up,
    `other` the opposite phase of `audio`; `live` tells that the line is not kept off.
    """

    common: str = "CHASSIS"
    rail: str = "B2"
    plates: str = "B1"
    rail_v: float = 200.0
    bias: str = ""
    heaters: Mapping[str, str] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    tube_refs: dict[int, str] = field(default_factory=dict)
    screen: str = ""
    avc: str = ""
    signal: str = ""
    detector: str = ""
    audio: str = ""
    other: str = ""
    live: bool = False

    @property
    def film(self) -> str:
        """The volts that small capacitors of such a set are marked with."""
        return "600 V" if self.rail_v > 200 else "400 V" if self.rail_v > 80 else "200 V"

    @property
    def plate_film(self) -> str:
        """The volts of a capacitor at the output plate, where the signal doubles the supply."""
        return "1000 V" if self.rail_v > 200 else "600 V"

    def heading(self, text: str) -> None:
        """A heading that the layout keeps."""
        self.lines += ["", f"# --- {text}"]

    def say(self, text: str) -> None:
        """A comment of one or more lines."""
        words, line = text.split(), "#"
        for word in words:
            if len(line) + 1 + len(word) > _WIDE:
                self.lines.append(line)
                line = "#"
            line += f" {word}"
        self.lines.append(line)

    def ref(self, letters: str) -> str:
        """The next free reference of these letters."""
        self.counts[letters] = self.counts.get(letters, 0) + 1
        return f"{letters}{self.counts[letters]}"

    def part(
        self, letters: str, words: str, terminals: str, *, assumed: bool = True, ref: str = ""
    ) -> str:
        """Add a part; what was assumed says so in its note."""
        ref = ref or self.ref(letters)
        said = f"{words}, {ASSUMED}" if assumed else words
        self._put(f"{ref:<4} {said}:", terminals.split(", "))
        return ref

    def tube(self, ref: str, tube: TubeType, ends: Sequence[tuple[str, str]]) -> None:
        """Add a tube; a heater that nothing feeds yet ends in `?`-free open terminals."""
        said = [f"{electrode} {node}" for electrode, node in ends]
        if self.heaters.get(ref):
            said.append(self.heaters[ref])
        self._put(f"{ref:<4} {tube.name.split('/')[0]}:", said)

    def _put(self, left: str, terminals: Sequence[str]) -> None:
        """A part in two columns, either of them going on in the next line after a comma."""
        *before, last = _filled(left.split(", "), " " * 5, "")
        self.lines += before
        wide = len(last) >= _LEFT
        self.lines += [last] if wide else []
        first = " " * _LEFT if wide else last.ljust(_LEFT)
        self.lines += _filled(terminals, " " * _LEFT, first)


def _filled(pieces: Sequence[str], indent: str, first: str) -> list[str]:
    """Pieces joined by commas, as many in a line as fit."""
    lines, line, empty = [], first, True
    for piece in pieces:
        if not empty and len(line) + len(piece) + 3 > _WIDE:
            lines.append(f"{line},")
            line, empty = indent, True
        line += piece if empty else f", {piece}"
        empty = False
    return [*lines, line]


def ohm_text(ohm: float) -> str:
    """The nearest value of E12 as a schematic prints it."""
    return amount(nearest_preferred(ohm, "E12"), "ohm")


def best_point(tube: TubeType, section: Section, plate_v: float) -> OperatingPoint | None:
    """The published point of a section nearest to some plate volts, None where there is none."""
    found = [
        p for p in tube.points
        if section.plate in p.volts and section.plate in p.amperes
        and not any(word in p.use for word in ("triode conn", "push-pull", "separate"))
        and (section.screen is None or section.screen in p.volts)
    ]  # fmt: skip
    return min(found, key=lambda p: abs(p.volts[section.plate] - plate_v), default=None)
