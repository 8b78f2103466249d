"""The card that stays in the chassis, for whoever opens it next.

Belongs here: what was renewed, fuse, lamp, plug, isolation, the line it was tested on, what was
accepted as it is. Does not belong here: how it is laid out on a card (output/).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.bench.workup import Workup
from netcheck.circuit.states import line_volts
from netcheck.findings import Harm, NotSolved
from netcheck.parts import Condition, Part
from netcheck.rules._words import amount, described

__all__ = ["ChassisNote", "chassis_note"]


@dataclass(frozen=True, slots=True)
class ChassisNote:
    """What the card says, as (heading, text) in order; `by` and `date` empty: to fill in by hand.

    `open_points` tell of findings of damage or worse that stand: the card must not look like a
    pass.
    """

    file: str
    title: str
    by: str
    date: str
    lines: tuple[tuple[str, str], ...]
    open_points: tuple[str, ...]


def chassis_note(work: Workup, by: str = "", date: str = "") -> ChassisNote:
    """The note of a set as its text has it now."""
    return ChassisNote(
        work.chassis.file,
        work.chassis.title,
        by,
        date,
        tuple((heading, text) for heading, text in _lines(work) if text),
        tuple(_open(work)),
    )


def _lines(work: Workup) -> Iterator[tuple[str, str]]:
    parts = work.chassis.parts
    yield "line", _line(work)
    yield "isolation", _isolation(work)
    yield "plug", "; ".join(_plugs(parts))
    yield (
        "fuse",
        "; ".join(_said(p) for p in parts if p.kind == "fuse" and p.fitted) or _no_fuse(work),
    )
    lamps = dict.fromkeys(described(p) for p in parts if p.kind == "lamp" and p.fitted)
    yield "lamp", ", ".join(said.removeprefix("lamp ") for said in lamps)
    yield "restuffed", _refs(p for p in parts if p.condition is Condition.RESTUFFED)
    yield (
        "new",
        _refs(p for p in parts if p.condition is Condition.NEW and p.kind not in ("fuse", "plug")),
    )
    yield "taken out", _refs(p for p in parts if p.condition is Condition.REMOVED)
    yield "computed", _supplies(work)
    yield "kept as is", "; ".join(_kept(work))
    yield "no verdict", _unchecked(work)
    yield (
        "assumed",
        "; ".join(
            dict.fromkeys(f"{a.part}: {a.what}" if a.part else a.what for a in work.report.assumed)
        ),
    )


def _refs(parts: Iterator[Part]) -> str:
    """References, runs of following numbers drawn together (C12-C15)."""
    said: list[str] = []
    run: list[Part] = []
    for part in [*parts, None]:
        follows = (
            part is not None
            and bool(run)
            and not part.section
            and not run[-1].section
            and (part.letters, part.number) == (run[-1].letters, run[-1].number + 1)
        )
        if not follows:
            said += [p.ref for p in run] if len(run) < 3 else [f"{run[0].ref}-{run[-1].ref}"]
            run = []
        if part is not None:
            run.append(part)
    return " ".join(said)


def _said(part: Part) -> str:
    return f"{part.ref} {described(part)}"


def _no_fuse(work: Workup) -> str:
    return "none" if work.circuit.wiring.line_side or work.circuit.wiring.supply.power_refs else ""


def _line(work: Workup) -> str:
    line = work.chassis.line
    if line is None:
        return "not stated"
    volts = line_volts(work.chassis)["nominal"]
    if volts is None:
        return "none (batteries)"
    return f"{amount(volts, 'V')} {f'{line.hertz:g} Hz' if line.hertz else 'DC'}"


def _isolation(work: Workup) -> str:
    """Whether chassis and common wire are on the line, as wired."""
    wiring, chassis = work.circuit.wiring, work.chassis.net("CHASSIS")
    if not wiring.line_side:
        return ""
    # A transformer says nothing of a chassis that some other wire joins to the line.
    if chassis in wiring.line_side:
        return "NONE: the chassis is on the line. Isolation transformer only"
    live = sorted(wiring.line_side & wiring.touchable)
    if live:
        return f"NONE: {', '.join(live)} is on the line. Isolation transformer only"
    if wiring.supply.power_refs and wiring.common not in wiring.line_side:
        return f"power transformer {', '.join(sorted(wiring.supply.power_refs))}"
    common = wiring.common or "the common wire"
    return f"NONE: {common} is on the line, chassis apart. Isolation transformer only"


def _plugs(parts: tuple[Part, ...]) -> Iterator[str]:
    for part in parts:
        if part.kind == "plug" and part.fitted and part.terminal("hot") is not None:
            ends = [(name, part.terminal(name)) for name in ("hot", "neutral", "earth")]
            said = ", ".join(f"{name} to {t.node}" for name, t in ends if t is not None)
            kind = "polarized, " if part.description.has("polarized") else ""
            yield f"{part.ref} {kind}{said}"
        elif part.kind == "plug" and part.fitted and part.description.has("not-polarized"):
            yield f"{part.ref} not polarized: either wire may be hot"


def _supplies(work: Workup) -> str:
    """What was computed of each supply, which is not what anybody measured."""
    point = work.point
    if isinstance(point, NotSolved):
        return "no voltages"
    said = ", ".join(
        f"{each.rail[0]} {amount(each.rail[1], 'V')} {amount(each.amperes, 'A')}"
        for each in point.supplies
    )
    return f"{said} (measured: ______)" if said else ""


def _unchecked(work: Workup) -> str:
    """The rules that gave none, so that a card without OPEN does not read like a pass."""
    said = dict.fromkeys(
        f"{each.rule} ({' '.join(each.parts)})" if each.parts else each.rule
        for each in work.report.not_checked
    )
    return ", ".join(said)


def _kept(work: Workup) -> Iterator[str]:
    for each in work.report.findings:
        if each.accepted is not None:
            yield f"{', '.join(each.parts) or each.rule}: {each.accepted}"


def _open(work: Workup) -> Iterator[str]:
    """What speaks against the set, shortest first: doubts, then how many findings, and where."""
    if not work.chassis.was_read:
        yield "the text could not be read whole"
    if work.circuit.solved is False:
        yield "voltages not solved"
    standing = work.report.standing(Harm.DAMAGE)
    if standing:
        refs = dict.fromkeys(ref for each in standing for ref in each.parts)
        what = "finding stands" if len(standing) == 1 else "findings stand"
        yield f"{len(standing)} {what} (netcheck lint): {' '.join(refs) or 'the set'}"
