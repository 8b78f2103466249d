"""The whole job in order for one set, with boxes to tick and those ticked that the text tells of.

Belongs here: the order of the job, which items this set has, what counts as done. Does not belong
here: which part to fit (recap.py), steps under power (powerup.py), the look (output/).

The order is that of the trade (common practice, no source): what can kill, cold checks, resistors
measured, power filters first and the rest a few at a time, sockets and controls, power, then the
wiring dressed and the bottom cover on before alignment, alignment last, a soak, the note.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.bench.jobsheet_parts import (
    alignment_items,
    cleaning_items,
    cold_items,
    dress_items,
    resistor_items,
    running_items,
)
from netcheck.bench.recap import BY_THE_PART, Recap, Row, recap
from netcheck.bench.workup import Workup
from netcheck.circuit.wiring import Role
from netcheck.findings import Finding, Harm

__all__ = ["Item", "JobSheet", "Section", "job_sheet"]

_FILTERS = {Role.RESERVOIR.value, Role.SMOOTHING.value, Role.BIAS_BYPASS.value}


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


def job_sheet(work: Workup) -> JobSheet:
    """The job for this set, in order."""
    paper = recap(work)
    stages = (
        ("Know the set", _first(work)),
        ("What can kill or burst, before anything else", _deadly(work, paper)),
        ("Cold checks, plug out and capacitors discharged", _items(cold_items(work))),
        ("Resistors, measured with one end lifted", _items(resistor_items(work))),
        ("Power filters and line capacitors, then a test", _renewed(work, paper, filters=True)),
        ("Other parts, one or two at a time, a test after each", _renewed(work, paper)),
        ("Sockets, switches and controls", _items(cleaning_items(work))),
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
    )


def _items(rows: Iterator[tuple[str, bool, tuple[str, ...]]]) -> Iterator[Item]:
    for text, done, refs in rows:
        yield Item(text, done, refs)


def _first(work: Workup) -> Iterator[Item]:
    yield Item("do not plug it in to try it")
    yield Item("photograph top and underside; compare every part with the drawing and this text")
    doubts = [each for each in work.chassis.findings if each.harm.at_least(Harm.DAMAGE)]
    if doubts or not work.chassis.was_read:
        yield Item("correct the text: `netcheck lint` tells what could not be read")
    for each in work.found("rating-missing", "value-missing", "line-not-stated"):
        yield Item(f"{_refs(each)}{each.action}", False, each.parts)


def _refs(found: Finding) -> str:
    return f"{', '.join(found.parts)}: " if found.parts else ""


def _deadly(work: Workup, paper: Recap) -> Iterator[Item]:
    """Findings of injury; what is mended by a new part alone stands under the parts."""
    fitted = {row.ref for row in paper.rows if row.fit is not None}
    for each in work.report.findings:
        by_part = each.rule in BY_THE_PART and fitted.intersection(each.parts)
        if not each.harm.at_least(Harm.BURST) or by_part:
            continue
        if each.accepted is not None and each.harm is not Harm.SHOCK_NOW:
            yield Item(f'{_refs(each)}left as it is: "{each.accepted}"', True, each.parts)
        else:
            yield Item(f"{_refs(each)}{each.action}", False, each.parts)


def _is_filter(row: Row) -> bool:
    return row.role in _FILTERS or (row.fit is not None and bool(row.fit.mark))


def _renewed(work: Workup, paper: Recap, *, filters: bool = False) -> Iterator[Item]:
    roles = work.circuit.wiring.role_of
    for row in paper.rows:
        if row.fit is None or _is_filter(row) is not filters:
            continue
        ends = f", {row.connection}" if row.connection else ""
        pieces = f"{row.fit.count} x " if row.fit.count > 1 else ""
        yield Item(f"{row.ref}: fit {pieces}{row.fit.text}{ends}", False, (row.ref,))
    for each in paper.done:
        part = work.chassis.part(each.ref)
        first = roles(each.ref).value in _FILTERS or bool(part and part.description.classes)
        if first is filters:
            yield Item(f"{each.ref}: {each.there} ({each.why})", True, (each.ref,))


def _last(work: Workup) -> Iterator[Item]:
    yield Item("let it play for two hours or more with the cover on; look in often")
    if work.circuit.wiring.supply.power_refs:
        named = ", ".join(sorted(work.circuit.wiring.supply.power_refs))
        yield Item(f"{named}: a hand must bear its heat for some seconds, else look for the cause")
    yield Item("take the chart again and compare it with the first")
    if work.circuit.wiring.line_side:
        yield Item(
            "measure the touch current of every bare metal part, both plug positions, on and off"
        )
    yield Item("leave the note in the chassis: `netcheck note`")
