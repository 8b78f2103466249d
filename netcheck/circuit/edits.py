"""A set with parts changed, because a state or a supposition is a set that differs in one place.

Belongs here: new chassis from old ones: a value, a part out, a wire, a switch. Does not belong
here: the words of a supposition (bench/suppose.py), what cannot be said by a chassis (leaks, weak
tubes: they are edits of a state).
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace

from netcheck.chassis import Chassis, Setting, Wire
from netcheck.parts import Condition, Description, Part, Value

__all__ = [
    "intact", "interrupted", "joined", "switched", "with_terminal_cut", "with_value",
    "with_winding_ohm", "without", "without_winding",
]  # fmt: skip


def without(chassis: Chassis, refs: Collection[str]) -> Chassis:
    """The set with parts (or all sections of a body) out, and what is on a plug that is out."""
    return _less(
        chassis,
        lambda part: part.ref in refs or part.body_ref in refs or _rides_on(chassis, part, refs),
        lambda part: replace(part, condition=Condition.REMOVED),
    )


def _rides_on(chassis: Chassis, part: Part, refs: Collection[str]) -> bool:
    """Whether a part leaves with a plug: a control's shaft or a can takes nothing along."""
    if part.on is None or part.on not in refs:
        return False
    carrier = chassis.part(part.on)
    return carrier is not None and carrier.kind in ("plug", "jack")


def with_value(chassis: Chassis, ref: str, value: Value) -> Chassis:
    """The set with a part's value measured as `value`."""
    return _changed(
        chassis, lambda part: part.ref == ref, lambda part: replace(part, measured=value)
    )


def with_winding_ohm(chassis: Chassis, ref: str, path: str, value: Value) -> Chassis:
    """The set with a winding (or an unnamed single one) of so many ohms in all, as running."""

    def change(part: Part) -> Part:
        words = part.description
        if not path:
            return replace(part, description=_of_ohm(words, value), measured=None)
        own = _of_ohm(words.windings.get(path, Description()), value)
        windings = {**words.windings, path: own}
        return replace(part, description=replace(words, windings=windings))

    return _changed(chassis, lambda part: part.ref == ref, change)


def _of_ohm(words: Description, value: Value) -> Description:
    kept = {k: v for k, v in words.values.items() if k not in ("hot", "resistance-each")}
    return replace(words, values={**kept, "resistance": value})


def without_winding(chassis: Chassis, ref: str, path: str) -> Chassis:
    """The set with one winding (or heater) of a part broken."""
    return _less(
        chassis,
        lambda part: part.ref == ref,
        lambda part: replace(part, paths=tuple(p for p in part.paths if p.name != path)),
    )


def with_terminal_cut(chassis: Chassis, ref: str, terminal: str) -> Chassis:
    """The set with the lead of one terminal cut: the terminal is on a node of its own."""
    alone = f"{ref}.{terminal} (cut)"  # no text can name it

    def change(part: Part) -> Part:
        return replace(
            part,
            terminals=tuple(
                replace(t, node=alone, given=False) if t.name == terminal else t
                for t in part.terminals
            ),
        )

    return _less(chassis, lambda part: part.ref == ref, change)


def intact(chassis: Chassis, refs: Collection[str] | None = None) -> Chassis:
    """The set with what was taken out or cut (all of it, or those of `refs`) as its text has it."""
    whole: dict[str, Part] = {}
    for part in chassis.interrupted:
        if refs is None or part.ref in refs:
            whole.setdefault(part.ref, part)  # the first is the text's
    left = tuple(part for part in chassis.interrupted if part.ref not in whole)
    parts = tuple(whole.get(part.ref, part) for part in chassis.parts)
    return replace(chassis, parts=parts, interrupted=left)


def interrupted(chassis: Chassis, before: Chassis) -> Chassis:
    """The set with the parts noted that join less in it than they did in `before`."""
    gone = tuple(
        old for old, new in zip(before.parts, chassis.parts, strict=True)
        if old is not new and old.fitted
    )  # fmt: skip
    return replace(chassis, interrupted=(*before.interrupted, *gone))


def joined(chassis: Chassis, nodes: tuple[str, ...]) -> Chassis:
    """The set with a wire between nodes."""
    wire = Wire(nodes, chassis.parts[0].span)
    return replace(chassis, wires=(*chassis.wires, wire))


def switched(chassis: Chassis, switch: str, position: str) -> Chassis:
    """The set with a switch (by its body) in a position."""
    setting = Setting(switch, position, chassis.parts[0].span)
    kept = tuple(each for each in chassis.settings if each.switch != switch)
    return replace(chassis, settings=(*kept, setting))


def _less(
    chassis: Chassis, chosen: Callable[[Part], bool], change: Callable[[Part], Part]
) -> Chassis:
    return interrupted(_changed(chassis, chosen, change), chassis)


def _changed(
    chassis: Chassis, chosen: Callable[[Part], bool], change: Callable[[Part], Part]
) -> Chassis:
    return replace(
        chassis, parts=tuple(change(part) if chosen(part) else part for part in chassis.parts)
    )
