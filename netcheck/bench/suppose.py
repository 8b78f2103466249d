"""Suppositions in words ("R9 610K", "V4 pulled"): a set as it would be with one thing different.

Belongs here: reading the words, finding the part, saying the nearest right word. Does not belong
here: changing a set (edits.py), what follows for heaters (charting.py), solving.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, NoReturn

from netcheck.bench.asked import NotUnderstood
from netcheck.chassis import Chassis
from netcheck.circuit import edits
from netcheck.circuit.states import SHORT_OHM, Edit, State
from netcheck.language import read
from netcheck.language.mistakes import joined, nearest
from netcheck.parts import Part, Value

__all__ = ["Supposed", "suppose"]

HALF_EMISSION: Final = 0.5  # what testers call the end of a tube's life (common practice)
_TO: Final = ("to", "and", "with", "-")
_OPEN: Final = ("open", "opened", "broken", "burnt", "blown")
_SHORT: Final = ("short", "shorted", "shorts", "bridged")
_OUT: Final = ("out", "pulled", "removed", "unplugged", "missing")
_LEAK: Final = ("leaks", "leaky", "leaking", "leak", "leakage")
_COLD: Final = ("dead", "cold")
_SAYABLE: Final = {
    "resistor": ("a value (610K)", "open", "short", "leaks VALUE", "out"),
    "thermistor": ("a value", "open", "short"),
    "capacitor": ("leaks VALUE (2M)", "open", "short", "a value"),
    "coil": ("a value in ohms", "open", "short", "WINDING open"),
    "transformer": ("WINDING open (primary open)", "WINDING VALUE", "WINDING short"),
    "tube": ("pulled", "weak", "heater open"),
    "switch": ("at POSITION", "open"),
    "fuse": ("blown", "bridged"),
    "plug": ("out",),
    "jack": ("out",),
}
_OTHERWISE: Final = ("out", "open", "short")


@dataclass(frozen=True)
class Supposed:
    """A set as supposed: the changed `chassis`, the `state` on top of it, and what was `said`.

    `pulled` are the bulbs that are out of their sockets, `weak` those at half emission.
    """

    chassis: Chassis
    state: State = field(default_factory=lambda: State("this chart"))
    said: tuple[str, ...] = ()
    pulled: tuple[str, ...] = ()
    weak: tuple[str, ...] = ()


def suppose(chassis: Chassis, texts: Iterable[str]) -> Supposed:
    """The set with every supposition made, in order.

    Args:
        chassis: the set as its text says it.
        texts: such as "R9 610K", "C14 leaks 2M", "T2 primary open", "V4 pulled", "P2 out",
            "S3 at LW", "wire B1 to B2", "cut R7", "oscillator dead".

    Raises:
        NotUnderstood: one of them cannot be read, or names something that the set has not.
    """
    found = Supposed(chassis)
    for text in texts:
        plain = " ".join(text.split())
        found = _Reader(found, plain).made()
        found = replace(found, said=(*found.said, plain))
    return found


class _Reader:
    """One supposition on top of what was supposed before."""

    def __init__(self, before: Supposed, text: str) -> None:
        self.before = before
        self.chassis = before.chassis
        self.text = text
        self.words = text.split()
        self.folded = [word.casefold() for word in self.words]

    def made(self) -> Supposed:
        if len(self.words) < 2:
            self._fail("say what of which part, such as `R9 610K` or `V4 pulled`")
        match self.folded[0]:
            case "wire" | "join" | "jumper":
                return self._with(edits.joined(self.chassis, self._nodes(self.words[1:])))
            case "cut" | "clip" | "unsolder":
                return self._cut(" ".join(self.words[1:]))
            case "oscillator":
                return self._oscillator()
        return self._part(self._bodies(self.words[0]))

    def _fail(self, remedy: str) -> NoReturn:
        raise self._fault(remedy)

    def _fault(self, remedy: str) -> NotUnderstood:
        end = "" if remedy.endswith("?") else "."
        return NotUnderstood(f'--suppose "{self.text}": {remedy}{end}')

    def _with(self, chassis: Chassis) -> Supposed:
        return replace(self.before, chassis=chassis)

    def _edit(self, edit: Edit) -> Supposed:
        state = self.before.state
        return replace(self.before, state=replace(state, edits=(*state.edits, edit)))

    # --- wires

    def _nodes(self, words: Sequence[str]) -> tuple[str, ...]:
        names = [word.rstrip(",") for word in words if word.casefold() not in _TO]
        if len(names) < 2:
            self._fail("a wire joins two nodes: `wire B1 to B2`")
        return tuple(self._node(name) for name in names)

    def _node(self, name: str) -> str:
        known: dict[str, str] = {}
        for node in self.chassis.nodes.values():
            known.update((each.casefold(), each) for each in (node.name, *node.also))
        for part in self.chassis.parts:
            for terminal in part.terminals:
                known.setdefault(f"{part.ref}.{terminal.name}".casefold(), terminal.node)
        found = known.get(name.casefold())
        if found is None:
            close = nearest(name, known)
            meant = f"; did you mean {known[close]}?" if close else ""
            self._fail(f"the set has no node {name}{meant}")
        return found

    def _cut(self, name: str) -> Supposed:
        ref, dot, terminal = name.partition(".")
        part = self._bodies(ref)[0]
        if not dot:
            return self._with(edits.without(self.chassis, {part.ref}))
        found = next((t for t in part.terminals if t.name == terminal.casefold()), None)
        if found is None:
            found = part.terminal(terminal)
        if found is None:
            names = [t.name for t in part.terminals]
            self._fail(f"{part.ref} has no terminal {terminal}; it has {joined(names, 'and')}")
        return self._with(edits.with_terminal_cut(self.chassis, part.ref, found.name))

    def _oscillator(self) -> Supposed:
        if self.folded[1] not in ("dead", "running"):
            self._fail("the oscillator is `dead` or `running`")
        state = replace(self.before.state, oscillator=self.folded[1])
        return replace(self.before, state=state)

    # --- parts

    def _bodies(self, name: str) -> list[Part]:
        """The part of this reference, or every section of the body."""
        ref = name.upper().rstrip(":,")
        sections = [p for p in self.chassis.parts if p.body_ref == ref]
        found = [p for p in self.chassis.parts if p.ref == ref]
        if len(sections) > len(found):
            found = sections  # the line of a can or gang stands for all that is in it
        if not found:
            refs = [p.ref for p in self.chassis.parts]
            close = nearest(ref, refs)
            self._fail(
                f"the set has no part {name}" + (f"; did you mean {close}?" if close else "")
            )
        out = [p.ref for p in found if not p.fitted]
        if out:
            self._fail(f"{joined(out, 'and')} is not fitted, so nothing can be different about it")
        if found[0].kind == "tube":
            return [p for p in self.chassis.parts if p.body_ref == found[0].body_ref]
        return found

    def _part(self, parts: list[Part]) -> Supposed:
        first = parts[0]
        rest, words = self.folded[1:], self.words[1:]
        if first.kind == "tube":
            return self._tube(parts, rest)
        if first.kind == "switch" and self._is_setting(rest):
            return self._switch(first, words)
        if rest[0] in _OUT:
            refs = {first.body_ref} if len(parts) > 1 else {first.ref}
            return self._with(edits.without(self.chassis, refs))
        if len(parts) > 1:
            inside = [p.ref for p in parts if p.section]
            self._fail(f"name the section that is meant: {joined(inside)}")
        if first.kind in ("plug", "jack"):
            raise self._not_sayable(first)
        if first.is_bridge and rest[0] in (*_LEAK, *_SHORT):
            self._fail(
                f"{first.ref} is four diodes; a short in one of them joins two corners: "
                f"`wire {first.ref}.ac1 to {first.ref}.+`"
            )
        if rest[0] in _LEAK:
            value = self._value("R1", words[1:], "resistance")
            return self._edit(Edit("leak", first.ref, max(value.si, SHORT_OHM)))
        if first.kind in ("coil", "transformer"):
            return self._winding(first, words)
        if rest[0] in _OPEN:
            return self._with(edits.without(self.chassis, {first.ref}))
        if rest[0] in _SHORT:
            return self._edit(Edit("leak", first.ref, SHORT_OHM))
        return self._valued(first, words)

    def _is_setting(self, rest: Sequence[str]) -> bool:
        return rest[0] in ("at", "on", "off") or rest[0] not in (*_OPEN, *_SHORT, *_OUT)

    def _valued(self, part: Part, words: Sequence[str]) -> Supposed:
        roles = {"resistor": "resistance", "thermistor": "resistance", "capacitor": "capacitance"}
        role = roles.get(part.kind)
        if role is None:
            raise self._not_sayable(part)
        value = self._value(f"{part.letters}1", words, role, part)
        return self._with(edits.with_value(self.chassis, part.ref, value))

    def _winding(self, part: Part, words: Sequence[str]) -> Supposed:
        path, rest = self._path(part, words)
        if not rest:
            raise self._not_sayable(part)
        action = rest[0].casefold()
        if action in _OPEN:
            if not path and len(part.paths) < 2:
                return self._with(edits.without(self.chassis, {part.ref}))
            return self._with(edits.without_winding(self.chassis, part.ref, path))
        if action in _SHORT:
            if part.description.has("power", "vibrator"):
                self._fail("turns of a power transformer that are shorted are not computed")
            rest = ["0", "ohm"]
        value = self._value("R1", rest, "resistance", part)
        return self._with(edits.with_winding_ohm(self.chassis, part.ref, path, value))

    def _path(self, part: Part, words: Sequence[str]) -> tuple[str, Sequence[str]]:
        names = {path.name.casefold(): path.name for path in part.paths}
        if words[0].casefold() in names:
            return names[words[0].casefold()], words[1:]
        if len(names) == 1:
            return next(iter(names.values())), words
        if words[0].casefold() in (*_OPEN, *_SHORT) or words[0][0].isdigit():
            self._fail(f"say which winding of {part.ref}: {joined(names)}")
        close = nearest(words[0], names)
        raise self._fault(
            f"{part.ref} has no winding {words[0]}; "
            + (f"did you mean {close}?" if close else f"it has {joined(names, 'and')}")
        )

    def _switch(self, part: Part, words: Sequence[str]) -> Supposed:
        position = words[1] if words[0].casefold() == "at" and len(words) > 1 else words[0]
        body = part.body_ref
        known = {
            p.upper(): p for each in self.chassis.parts if each.body_ref == body
            for p in each.positions
        }  # fmt: skip
        if len(known) == 1:
            known.setdefault("OFF", "OFF")
        found = known.get(position.upper())
        if found is None:
            close = nearest(position, known)
            self._fail(
                f"{body} has no position {position}; "
                + (f"did you mean {close}?" if close else f"it has {joined(known.values(), 'and')}")
            )
        return self._with(edits.switched(self.chassis, body, found))

    def _tube(self, parts: list[Part], rest: Sequence[str]) -> Supposed:
        bulb = parts[0].body_ref
        if rest[0] in _OUT:
            return self._pulled(bulb, parts)
        if rest[0] == "weak" or rest[0] in _COLD:
            found = self._emitting(bulb, parts, HALF_EMISSION if rest[0] == "weak" else 0.0)
            return replace(found, weak=(*found.weak, bulb)) if rest[0] == "weak" else found
        if rest[:2] in (["heater", "open"], ["filament", "open"]):
            return self._heater_open(parts)
        raise self._not_sayable(parts[0])

    def _pulled(self, bulb: str, parts: list[Part]) -> Supposed:
        """A tube out of its socket.

        A rectifier stays in the wiring, so that its supply is known to be one that gives nothing.
        """
        pulled = (*self.before.pulled, bulb)
        if not _is_rectifier(parts):
            chassis = edits.without(self.chassis, {p.ref for p in parts})
            return replace(self.before, chassis=chassis, pulled=pulled)
        chassis = self.chassis
        for part in parts:
            for terminal in part.terminals:
                if terminal.name in ("tap", "heater2"):
                    chassis = edits.with_terminal_cut(chassis, part.ref, terminal.name)
        return replace(self._emitting(bulb, parts, 0.0), chassis=chassis, pulled=pulled)

    def _emitting(self, bulb: str, parts: list[Part], factor: float) -> Supposed:
        refs = [p.ref for p in parts] if _is_rectifier(parts) else [bulb]
        state = self.before.state
        emission = (*state.emission, *((ref, factor) for ref in refs))
        return replace(self.before, state=replace(state, emission=emission))

    def _heater_open(self, parts: list[Part]) -> Supposed:
        for part in parts:
            if part.terminal("heater2") is not None:
                return self._with(edits.with_terminal_cut(self.chassis, part.ref, "heater2"))
        raise self._fault(f"the set does not say where the heater of {parts[0].body_ref} is wired")

    def _not_sayable(self, part: Part) -> NotUnderstood:
        said = _SAYABLE.get(part.kind, _OTHERWISE)
        word = self.folded[1]
        close = nearest(word, [*_OPEN, *_SHORT, *_OUT, *_LEAK, *_COLD, "weak"])
        meant = f"; did you mean {close}?" if close and close != word else ""
        return self._fault(f"of the {part.kind} {part.ref} can be said: {joined(said)}{meant}")

    # --- values

    def _value(self, ref: str, words: Sequence[str], role: str, part: Part | None = None) -> Value:
        """The value that words are, as a parts list would have it."""
        text = " ".join(words).replace("#", " ")
        notation = ""
        if self.chassis.notation_m is not None:
            notation = f"notation M = {self.chassis.notation_m:.0f}\n"
        found = read(f"{notation}{ref} {text}: HERE to THERE")
        made = found.parts[0] if found.parts else None
        value = made.description.values.get(role) if made is not None else None
        if value is None or not value.known or value.si < 0 or not found.was_read:
            said = next((f"{f.message}; {f.action}" for f in found.findings), "")
            if part is not None and not text[:1].isdigit() and text[:1] != ".":
                raise self._not_sayable(part)
            self._fail(f"{text or 'nothing'} is no {role}" + (f" ({said})" if said else ""))
        return value


def _is_rectifier(parts: Sequence[Part]) -> bool:
    return any(part.tube is not None and part.tube.is_rectifier for part in parts)
