"""A chassis back to text, in the one canonical layout.

Belongs here: columns, line breaks, the order of statements, comments and headings. Does not belong
here: the words of one part (part_text.py). Written text reads back as an equal chassis, and laying
it out again changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from netcheck.chassis import Chassis, LineSupply, Reading, Remark
from netcheck.findings import NetcheckError, Span
from netcheck.language.part_text import description_clauses, terminal_clauses
from netcheck.language.type_words import LIMITS
from netcheck.parts import OperatingPoint, Part, TubeType

__all__ = ["NotWritable", "write"]

_WIDTH = 78
_DESCRIPTION = 5  # blanks before the description: it starts in column 6
_TERMINALS = 39  # the terminals start in column 40 where they fit


class NotWritable(NetcheckError, ValueError):
    """A chassis that was not read whole: writing it would lose what could not be read."""

    def __init__(self, file: str) -> None:
        super().__init__(f"{file} was not read whole, so it is not written anew: mend it first")
        self.file = file


def write(chassis: Chassis) -> str:
    """Lay a chassis out as text: one statement after another in the order of its text.

    Statements of files it uses stay in those files.

    Raises:
        NotWritable: some of the text could not be read.
    """
    if not chassis.was_read:
        raise NotWritable(chassis.file)
    lines: list[str] = []
    for _, text in sorted(_statements(chassis), key=lambda each: each[0]):
        if text.startswith("# ---") and lines:
            lines.append("")
        lines.append(text)
    return "\n".join(lines) + "\n" if lines else ""


def _statements(chassis: Chassis) -> Iterator[tuple[tuple[int, int], str]]:
    """Every statement and comment of the chassis's own file with its place."""
    for span, text in _all_statements(chassis):
        if span.file == chassis.file:
            yield (span.line, span.column), text


def _all_statements(chassis: Chassis) -> Iterator[tuple[Span, str]]:
    top = Span(chassis.file, 0, 0, 0, 0)
    for remark in chassis.remarks:
        yield _above(chassis, remark.span), _remark(remark)
    yield from _once(chassis, top)
    for part in chassis.parts:
        yield part.span, _part(part)
    for tube in chassis.types:
        yield tube.span or top, _wrapped(f"type {tube.name} {tube.kind}", _type_clauses(tube))
    for wire in chassis.wires:
        yield wire.span, f"wire {' to '.join(wire.nodes)}"
    for reading in chassis.readings:
        yield reading.span, _reading(reading)
    for hold in chassis.holds:
        yield hold.span, f"hold {hold.node} {hold.value.text}"
    for acceptance in chassis.acceptances:
        on = f" on {', '.join(acceptance.targets)}" if acceptance.targets else ""
        yield acceptance.span, _accept(f"accept {acceptance.rule}{on}:", acceptance.reason)
    for policy in chassis.policies:
        yield policy.span, f"policy {policy.rule} {policy.option} {policy.value}"
    for setting in chassis.settings:
        yield setting.span, f"switch {setting.switch} at {setting.position}"


def _above(chassis: Chassis, span: Span) -> Span:
    """A comment behind or inside a statement goes above it; one by itself stays."""
    text = chassis.line_text(span)
    inside = next(
        (p.span for p in chassis.parts if p.span.line <= span.line <= p.span.end_line), None
    )
    if inside is not None and inside.file == span.file:
        return Span(span.file, inside.line, 0, inside.line, 0)
    if text[: span.column - 1].strip():
        return Span(span.file, span.line, 0, span.line, 0)
    return span


def _once(chassis: Chassis, top: Span) -> Iterator[tuple[Span, str]]:
    """The statements that a set has once."""
    at = chassis.spans
    if "set" in at:
        travels = [f'{word} "{text}"' for word, text in chassis.travels.items()]
        yield at["set"], _wrapped(f'set "{chassis.title}"', travels)
    if chassis.line is not None:
        yield chassis.line.span, _line(chassis.line)
    if chassis.measure_from is not None:
        yield at.get("measure from", top), f"measure from {chassis.measure_from}"
    if chassis.touchable is not None:
        yield at.get("touchable", top), _listed("touchable:", chassis.touchable)
    if chassis.notation_m is not None:
        yield at.get("notation", top), f"notation M = {chassis.notation_m:.0f}"
    for name in chassis.uses:
        yield at.get(f"use {name}", top), f'use "{name}"'


def _remark(remark: Remark) -> str:
    if remark.heading:
        return f"# --- {remark.text}".rstrip()
    return f"# {remark.text}".rstrip()


def _line(line: LineSupply) -> str:
    if line.volts is None:
        return "line none"
    kind = f"{line.hertz:.12g} Hz" if line.hertz else "DC"
    spread = line.tolerance
    given = f" +{spread.above * 100:.12g}% -{spread.below * 100:.12g}%"
    return f"line {line.volts:.12g} V {kind}{given if line.tolerance_given else ''}"


def _accept(head: str, reason: str) -> str:
    text = f'{head} "{reason}"'
    return text if len(text) <= _WIDTH else f'{head}\n{" " * _DESCRIPTION}"{reason}"'


def _reading(reading: Reading) -> str:
    text = f"reading {reading.target} "
    text += "leakage " if reading.leakage else ""
    text += reading.value.text
    text += f" at {reading.at_v.text}" if reading.at_v is not None else ""
    text += f", meter {_ohms(reading.meter_ohm)}" if reading.meter_ohm is not None else ""
    text += f", accuracy {reading.accuracy * 100:.12g}%" if reading.accuracy is not None else ""
    return text


def _ohms(value: float) -> str:
    return f"{value / 1e6:.12g} meg" if value >= 1e6 else f"{value:.12g} ohm"


# --- parts -------------------------------------------------------------------------------------


def _part(part: Part) -> str:
    description = description_clauses(part)
    head = f"{part.ref:<{_DESCRIPTION}}".rstrip() if not description else ""
    if description:
        head = _wrapped(f"{part.ref:<{_DESCRIPTION - 1}} {description[0]}", description[1:])
    terminals = terminal_clauses(part)
    *earlier, last = f"{head}:".split("\n")
    for column in (_TERMINALS, len(last) + 1):
        joined = f"{last:<{column}}{', '.join(terminals)}"
        if len(last) < column and len(joined) <= _WIDTH:
            return "\n".join([*earlier, joined])
    # Too long for one line: the first clauses stand behind the colon if they fit there.
    indent = _TERMINALS if max(map(len, terminals)) < _WIDTH - _TERMINALS else _DESCRIPTION
    wrapped = _broken_at_commas(terminals, indent)
    if len(last) < indent:
        wrapped[0] = f"{last:<{indent}}{wrapped[0].lstrip()}"
        return "\n".join([*earlier, *wrapped])
    return "\n".join([*earlier, last, *wrapped])


def _listed(head: str, names: Iterable[str]) -> str:
    first, *rest = names
    return _wrapped(f"{head} {first}", rest)


def _wrapped(head: str, clauses: Iterable[str], indent: int = _DESCRIPTION) -> str:
    """Clauses after a head, parted by commas, broken where a line would grow too long."""
    lines = [head]
    for clause in clauses:
        longer = f"{lines[-1]}, {clause}"
        if len(longer) < _WIDTH:  # the comma behind it has to fit too
            lines[-1] = longer
        else:
            lines[-1] += ","
            lines.append(" " * indent + clause)
    return "\n".join(lines)


def _broken_at_commas(clauses: list[str], indent: int) -> list[str]:
    return _wrapped(" " * indent + clauses[0], clauses[1:], indent).split("\n")


# --- types -------------------------------------------------------------------------------------

_UNITS = {
    "voltage": "V", "voltage-ac": "VAC", "current": "A", "power": "W", "resistance": "ohm",
    "capacitance": "mfd",
}  # fmt: skip
_LIMIT_TEXTS = {name: (word, _UNITS[role]) for (word, role), name in LIMITS.items()}


def _type_clauses(tube: TubeType) -> Iterator[str]:
    if tube.base:
        yield f"base {tube.base}"
    heater = [
        f"{value:.12g} {unit}"
        for value, unit in ((tube.heater_v, "V"), (tube.heater_a, "A"))
        if value is not None
    ]
    if heater:
        tap = f" tap {tube.tap_v:.12g} V" if tube.tap_v is not None else ""
        yield f"{'filament' if tube.heating == 'direct' else 'heater'} {' '.join(heater)}{tap}"
    yield f"pins {_pins(tube)}"
    for name, value in tube.limits.items():
        word, unit = _LIMIT_TEXTS[name]
        scaled = value * 1e6 if unit == "mfd" else value
        yield f"limit {word} {scaled:.12g} {unit}"
    if tube.rating_system != "unknown":
        yield f"rating {tube.rating_system}"
    for point in tube.points:
        yield f"point {_point(point)}"
    source = tube.sources.get("all", "this file")
    if source != "this file":
        yield f'source "{source}"'
    if tube.note:
        yield f'note "{tube.note}"'


def _pins(tube: TubeType) -> str:
    """Pins in order; electrodes whose pin is not known stand behind `?`."""
    ends = [e for group in tube.pins.values() for e in group if e in ("heater1", "heater2")]
    plain = {"heater1": "heater", "heater2": "heater"} if ends == ["heater1", "heater2"] else {}
    texts = [
        f"{pin} {' '.join(plain.get(name, name) for name in group) or 'nc'}"
        for pin, group in tube.pins.items()
    ]
    used = dict.fromkeys(
        name
        for each in tube.sections
        for name in (each.plate, each.cathode, *each.controls, each.screen)
        if name and name not in tube.electrodes
    )
    return " ".join([*texts, *(["?", *used] if used else [])])


def _point(point: OperatingPoint) -> str:
    texts = []
    for electrode in dict.fromkeys((*point.volts, *point.amperes)):
        figures = [electrode]
        if electrode in point.volts:
            figures.append(f"{point.volts[electrode]:.12g} V")
        if electrode in point.amperes:
            figures.append(f"{point.amperes[electrode] * 1e3:.12g} mA")
        texts.append(" ".join(figures))
    others = {
        "gm": (point.gm_s, 1e6, " umho"), "rp": (point.rp_ohm, 1, " ohm"), "mu": (point.mu, 1, ""),
        "bias": (point.cathode_ohm, 1, " ohm"), "load": (point.load_ohm, 1, " ohm"),
        "output": (point.output_w, 1, " W"),
    }  # fmt: skip
    texts += [
        f"{name} {value * scale:.12g}{unit}"
        for name, (value, scale, unit) in others.items()
        if value is not None
    ]
    return " ".join(texts)
