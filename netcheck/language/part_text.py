"""A part back to text: its description and its terminals in canonical words.

Belongs here: the order of clauses and the words of one part. Does not belong here: columns and
line breaks (layout.py). What is written here reads back as an equal part; a test holds it.
"""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.language.vocabulary import KINDS, phrase
from netcheck.parts import Condition, Description, Part, Path, Terminal

__all__ = ["description_clauses", "terminal_clauses"]

# Words that say what the part is; they stand first, in a clause of their own.
_LEADING = frozenset(
    {
        "control", "rheostat", "cord", "dropper", "metal-clad", "can", "gang", "plug", "battery",
        "A-battery", "B-battery", "C-battery", "load", "jack", "vibrator",
    }
)  # fmt: skip
_PREFIXED = ("running", "hot", "surge")
_VALUES_FIRST = frozenset({"capacitor", "resistor", "fuse", "thermistor", "varistor", "speaker"})


def description_clauses(part: Part) -> list[str]:
    """The clauses of a part's description, `replaces` last."""
    clauses = [part.tube_name] if part.kind == "tube" else []
    clauses += _chief_clauses(part.kind, part.description)
    for name, winding in part.description.windings.items():
        reverse = ["reversed"] if name in part.reversed_windings else []
        clauses.append(" ".join([name, *_values(winding), *winding.words, *reverse]))
    clauses += [
        f"{name} reversed"
        for name in part.reversed_windings
        if name not in part.description.windings
    ]
    if part.kind == "tube" and len(clauses) > 1:
        clauses = [" ".join(clauses)]
    if part.note:
        clauses.append(f'"{part.note}"')
    clauses += [f"{word} {ref}" for word, ref in (("on", part.on), ("in", part.inside)) if ref]
    if part.mark:
        clauses.append(f"mark {part.mark}")
    implied = Condition.ORIGINAL if part.replaces is None else Condition.NEW
    if part.condition is not implied:
        clauses.append(part.condition.value)
    if part.measured is not None:
        clauses.append(f"measured {part.measured.text}")
    if part.replaces is not None:
        first, *others = _old(part)
        clauses += [f"replaces {first}", *others]
    return clauses


def _old(part: Part) -> list[str]:
    """The old part behind `replaces`, in the same clauses."""
    old = part.replaces
    assert old is not None  # noqa: S101 - asked only for a part that replaces one
    return [old.designation] if part.kind == "tube" else _chief_clauses(part.kind, old)


def _chief_clauses(kind: str, description: Description) -> list[str]:
    values = _values(description)
    words = list(description.words)
    leading = [word for word in words if word in _LEADING]
    rest = [word for word in words if word not in leading]
    if kind in ("coil", "transformer"):
        # One word a clause: two words in a row could be taken for a winding and its values.
        return [*words, *([" ".join(values)] if values else [])]
    if description.designation:
        named = [word for word in words if word in KINDS[kind].designation_after][-1:]
        others = [word for word in words if word not in named]
        return [" ".join([*others, *named, description.designation, *values])]
    if _reads_as_phrase(kind, rest):
        return [*leading, *rest, " ".join([*values, *_classes(description)])]
    body = [*values, *rest] if kind in _VALUES_FIRST else [*rest, *values]
    body += _classes(description)
    return [clause for clause in (" ".join(leading), " ".join(body)) if clause]


def _reads_as_phrase(kind: str, words: list[str]) -> bool:
    """Whether words side by side would mean something else (carbon composition)."""
    for at in range(len(words) - 1):
        found = phrase(kind, words[at:])
        if found is not None and found[1] > 1:
            return True
    return False


def _classes(description: Description) -> list[str]:
    """Safety classes: behind the AC volts they share, else each with its own."""
    shared = description.values.get("voltage-ac")
    if all(volts == shared for _, volts in description.classes):
        names = "/".join(name for name, _ in description.classes)
        return [f"class {names}"] if names else []
    return [
        f"class {name} {volts.text}" if volts is not None else f"class {name}"
        for name, volts in description.classes
    ]


def _values(description: Description) -> list[str]:
    own = {
        "voltage-ac"
        for _, volts in description.classes
        if any(other != volts for _, other in description.classes)
    }
    texts = []
    for role, value in description.values.items():
        if role in own:
            continue
        if role == "to-impedance":
            texts.append(f"to {value.text}")
        elif role in _PREFIXED:
            texts.append(f"{role} {value.text}")
        elif role.endswith("-each"):
            texts.append(f"{value.text} each")
        elif role == "voltage-ac" and not value.text.endswith("VAC"):
            texts.append(f"{value.text} AC")
        else:
            texts.append(value.text)
    texts += [f"or {value.text}" for value in description.alternates]
    return texts


def terminal_clauses(part: Part) -> list[str]:
    """The connections of a part in the order of its text; a path where its first terminal is."""
    by_name = {terminal.name: terminal for terminal in part.terminals if terminal.given}
    path_of = {name: path for path in part.paths for name in path.terminals}
    waiting = list(part.paths)
    heater_open = all(
        name in by_name and by_name[name].unused for name in ("heater1", "heater2")
    ) and not any(path.name == "heater" for path in part.paths)
    clauses: list[str] = []
    for name, terminal in by_name.items():
        path = path_of.get(name)
        if path is not None:
            while path in waiting:  # positions that close nothing stand before it
                clauses.append(_path(part, waiting.pop(0), by_name))
        elif heater_open and name in ("heater1", "heater2"):
            clauses += ["heater open"] if name == "heater1" else []
        else:
            clauses.append(_single(part, terminal))
    clauses += [_path(part, path, by_name) for path in waiting]
    return sorted(clauses, key=lambda clause: part.kind == "tube" and clause[0].isdigit())


def _path(part: Part, path: Path, by_name: Mapping[str, Terminal]) -> str:
    nodes = [_node(by_name[name]) for name in path.terminals if name in by_name]
    label = path.name
    if label == "heater" and part.tube is not None and part.tube.heating == "direct":
        label = "filament"
    return f"{label} {' to '.join(nodes) if nodes else 'open'}".strip()


def _single(part: Part, terminal: Terminal) -> str:
    if terminal.name == "1" and terminal.pin is None:
        return _node(terminal)
    usual = part.tube.pin_of(terminal.name) if part.tube is not None else None
    by_pin = part.kind == "tube" and terminal.pin is not None and terminal.pin != usual
    return f"{terminal.pin if by_pin else terminal.name} {_node(terminal)}"


def _node(terminal: Terminal) -> str:
    return "open" if terminal.unused else terminal.node
