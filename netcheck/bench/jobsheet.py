"""The whole job in order for one set, with boxes to tick and those ticked that the text tells of.

Belongs here: the order of the job, which items this set has, what counts as done. Does not belong
here: which part to fit (recap.py), steps under power (powerup.py), the look (output/).

The order is that of the trade (common practice, no source): what can kill, what is wired or fitted
wrong, cold checks, resistors measured, sockets and controls, before any test under power; then
filters and the coupling to the output tube first and the rest a few at a time, power, the wiring
dressed and the bottom cover on before alignment, alignment last, a soak, the note.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.bench.jobsheet_parts import (
    alignment_items,
    cleaning_items,
    cold_items,
    dress_items,
    on_line,
    resistor_items,
    running_items,
)
from netcheck.bench.recap import BY_THE_PART, Recap, Row, is_marked_on, recap
from netcheck.bench.workup import Workup
from netcheck.circuit.wiring import Role
from netcheck.findings import Assumed, Finding, Harm
from netcheck.rules import _operating

__all__ = ["Item", "JobSheet", "Section", "job_sheet"]

_FILTERS = {
    Role.RESERVOIR.value, Role.SMOOTHING.value, Role.BIAS_BYPASS.value, Role.BUFFER.value,
}  # fmt: skip
_WRONG_TUBE = ("heater-current-mixed", "socket-mismatch")
_BEFORE = ("rating-missing", "value-missing", "line-not-stated")  # told under "Know the set"


@dataclass(frozen=True, slots=True)
class Item:
    """A box: what to do, and whether the text says that it is done."""

    text: str
    done: bool = False
    refs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """A stage of the job with its boxes, in order."""

    title: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class JobSheet:
    """The job sheet of one set; `solved` False: figures that need its volts are left blank."""

    file: str
    title: str
    solved: bool | None
    sections: tuple[Section, ...]
    assumed: tuple[Assumed, ...] = ()


def job_sheet(work: Workup) -> JobSheet:
    """The job for this set, in order."""
    paper = recap(work)
    stages = (
        ("Know the set", _first(work)),
        ("What can kill or burst, before anything else", _deadly(work, paper)),
        ("What is wired or fitted wrong, before any test", _wrong(work, paper)),
        ("Cold checks, plug out and capacitors discharged", _items(cold_items(work))),
        ("Resistors, measured with one end lifted", _items(resistor_items(work))),
        ("Sockets, switches and controls", _items(cleaning_items(work, _suspect(work)))),
        (
            "Power filters, line capacitors, the output's coupling, then a test",
            _renewed(work, paper, filters=True),
        ),
        ("Other parts, one or two at a time, a test after each", _renewed(work, paper)),
        ("What would play or last better", _wrong(work, paper, grave=False)),
        ("Power, with the meter connected before the plug", _items(running_items(work))),
        ("Dress and close, before any alignment", _items(dress_items(work))),
        ("Alignment, last", _items(alignment_items(work))),
        ("Soak and hand back", _last(work)),
    )
    sections = tuple(Section(title, tuple(items)) for title, items in stages)
    return JobSheet(
        work.chassis.file,
        work.chassis.title,
        work.circuit.solved,
        tuple(each for each in sections if each.items),
        work.report.assumed,
    )


def _items(rows: Iterator[tuple[str, bool, tuple[str, ...]]]) -> Iterator[Item]:
    for text, done, refs in rows:
        yield Item(text, done, refs)


def _first(work: Workup) -> Iterator[Item]:
    fed = "plug it in" if work.circuit.wiring.line_plug is not None else "join its batteries"
    yield Item(f"do not {fed} to try it")
    yield Item("photograph top and underside; compare every part with the drawing and this text")
    doubts = [each for each in work.chassis.findings if each.harm.at_least(Harm.DAMAGE)]
    if doubts or not work.chassis.was_read:
        yield Item("correct the text: `netcheck lint` tells what could not be read")
    for each in work.found(*_BEFORE):
        yield Item(f"{_refs(work, each)}{each.action}", False, each.parts)


def _refs(work: Workup, found: Finding) -> str:
    """The part at which something is to be done: that on whose words the finding is marked."""
    parts = [part for ref in found.parts if (part := work.chassis.part(ref)) is not None]
    marked = [part.ref for part in parts if is_marked_on(found, part)]
    refs = marked[:1] or list(found.parts)
    return f"{', '.join(refs)}: " if refs else ""


def _deadly(work: Workup, paper: Recap) -> Iterator[Item]:
    """Findings of injury; what is mended by a new part alone stands under the parts."""
    for each in work.report.findings:
        if not each.harm.at_least(Harm.BURST) or _with_part(paper, each):
            continue
        if each.accepted is not None and each.harm is not Harm.SHOCK_NOW:
            yield Item(f'{_refs(work, each)}left as it is: "{each.accepted}"', True, each.parts)
        else:
            yield Item(f"{_refs(work, each)}{each.action}", False, each.parts)


def _with_part(paper: Recap, found: Finding) -> bool:
    """Whether a finding is mended by fitting the part that the list names for it."""
    fitted = {row.ref for row in paper.rows if row.fit is not None}
    by_part = found.rule in BY_THE_PART or found.rule == "parallel-original"
    return by_part and bool(fitted.intersection(found.parts))


def _wrong(work: Workup, paper: Recap, *, grave: bool = True) -> Iterator[Item]:
    """What else the findings ask for besides new parts: a wrong tube, a wire, a battery.

    What damages nothing (a heater high in its string, as the maker had it) is not `grave`.
    """
    told = {each.text for each in _deadly(work, paper)}
    for each in work.report.findings:
        if each.harm.at_least(Harm.DAMAGE) is not grave:
            continue
        text = f"{_refs(work, each)}{each.action}"
        left = each.harm is Harm.RECORD or each.accepted is not None or each.rule in _BEFORE
        if left or not each.action or text in told or _with_part(paper, each):
            continue
        told.add(text)
        yield Item(text, False, each.parts)


def _suspect(work: Workup) -> frozenset[str]:
    """The tubes whose own words are wrong: the list of tubes must not confirm them."""
    return frozenset(
        part.body_ref
        for part in work.chassis.of_kind("tube")
        for each in work.by_part.get(part.ref, ())
        if each.rule in _WRONG_TUBE and is_marked_on(each, part)
    )


def _renewed(work: Workup, paper: Recap, *, filters: bool = False) -> Iterator[Item]:
    first = _first_parts(work, paper)
    rows = [row for row in paper.rows if row.fit is not None and (row.ref in first) is filters]
    for row in rows:
        yield Item(_fitting(row), False, (row.ref,))
    for each in paper.done:
        if (each.ref in first) is filters:
            yield Item(f"{each.ref}: {each.there} ({each.why})", True, (each.ref,))
    if rows:
        yield Item(
            "the test: as under Power below, meter connected before the plug; then plug out,"
            " capacitors discharged through a resistor and measured, before the next part"
        )


def _fitting(row: Row) -> str:
    """One part with its ends, and what else is done as it goes in."""
    if row.fit is None:
        return ""
    ends = f", {row.connection}" if row.connection else ""
    pieces = f"{row.fit.count} x " if row.fit.count > 1 else ""
    also = "".join(f"; {each}" for each in row.asks if each.startswith("take "))
    return f"{row.ref}: fit {pieces}{row.fit.text}{ends}{also}"


def _first_parts(work: Workup, paper: Recap) -> frozenset[str]:
    """What goes in before the first test: what bursts, what is on the line, what spares a tube.

    A leaking capacitor before the output tube's grid costs the tube within minutes; all sections of
    a can go in together.
    """
    wiring = work.circuit.wiring
    coupled = _operating.output_nets(work.case(), "grid")
    parts = [p for p in work.chassis.parts if p.kind == "capacitor"]
    marked = {row.ref for row in paper.rows if row.fit is not None and row.fit.mark}
    first = marked | {
        p.ref for p in parts
        if wiring.role_of(p.ref).value in _FILTERS
        or p.description.classes
        or (
            wiring.role_of(p.ref) is Role.COUPLING
            and any(net in coupled for e in wiring.of(p.ref) for net in e.nets)
        )
    }  # fmt: skip
    first |= {p.ref for p in work.chassis.of_kind("fuse")}
    cans = {p.body_ref for p in parts if p.ref in first and p.section}
    return frozenset(first | {p.ref for p in parts if p.body_ref in cans})


def _last(work: Workup) -> Iterator[Item]:
    yield Item("let it play for two hours or more with the cover on; look in often")
    if work.circuit.wiring.supply.power_refs:
        named = ", ".join(sorted(work.circuit.wiring.supply.power_refs))
        yield Item(f"{named}: a hand must bear its heat for some seconds, else look for the cause")
    yield Item("take the chart again and compare it with the first")
    if on_line(work):
        common = work.circuit.wiring.common or "the chassis"
        yield Item(
            f"at the wall, back on: {common} to earth reads nearly 0 V AC, switch on and off; else"
            " the plug or the outlet is the wrong way round"
        )
    if work.circuit.wiring.line_side:
        yield Item(
            "measure the touch current of every bare metal part, both plug positions, on and off"
        )
    yield Item("leave the note in the chassis: `netcheck note`")
