"""Reading the terminals of a tube: electrodes, socket pins, the heater and its tap.

Belongs here: what a tube's line may connect. Does not belong here: what electrodes a type has and
what they are called (catalog/).
"""

from __future__ import annotations

from lark import Token

from netcheck.catalog import tubes
from netcheck.language.connections import EXTRAS, Connection, add, along, one_node
from netcheck.language.drafts import Draft, RawTerminal
from netcheck.language.mistakes import Mistake, article, did_you_mean, joined
from netcheck.parts import Path

__all__ = ["connect_tube", "electrode_of"]

_HEATER_TERMINALS = ("heater1", "tap", "heater2")
_HEATER = frozenset({"heater", "heaters", "filament", "filaments", "h", "f"})


def connect_tube(draft: Draft, found: list[Connection]) -> None:
    """Fill the terminals of a tube from its connections: electrodes first, then socket pins."""
    pins = []
    for each in found:
        if each.label is None:
            draft.wrong(
                f"{each.nodes[0]} stands on no electrode",
                each.span,
                "write the electrode or the socket pin before its node, as in `plate B1`",
            )
        elif each.label.type == "PIN":
            pins.append((each.label, each))
        elif str(each.label).casefold() in _HEATER:
            _heater(draft, each)
        else:
            _electrode(draft, each.label, each)
    named = len(draft.terminals)
    seen: set[str] = set()
    for label, each in pins:
        if str(label) in seen:
            draft.wrong(
                f"pin {label} is wired twice",
                each.span,
                "keep one; two nodes that are one are joined by `wire A to B`",
            )
        elif one_node(draft, each):
            _pin(draft, str(label), each)
        seen.add(str(label))
    _order(draft, named)


def _order(draft: Draft, named: int) -> None:
    """Bring what was given by pins behind what was given by name, in the layout's order."""
    by_pin = draft.terminals[named:]
    heater = [t for t in by_pin if t.name in _HEATER_TERMINALS]
    usual = [t for t in by_pin if t not in heater and _is_usual(draft, t)]
    rest = [t for t in by_pin if t not in heater and t not in usual]
    heater.sort(key=lambda t: _HEATER_TERMINALS.index(t.name))
    draft.terminals[named:] = [*heater, *usual, *rest]
    names = {t.name for t in draft.terminals if not t.unused}
    has_path = any(path.name == "heater" for path in draft.paths)
    if not has_path and {"heater1", "heater2"} <= names:
        # Heater ends given one by one make the same path as `heater A to B`.
        draft.paths.append(Path("heater", tuple(n for n in _HEATER_TERMINALS if n in names)))


def _is_usual(draft: Draft, terminal: RawTerminal) -> bool:
    return draft.tube is not None and draft.tube.pin_of(terminal.name) == terminal.pin


def electrode_of(draft: Draft, word: str) -> str | None:
    """The canonical electrode that `word` means for this tube; V7A is the first of a twin."""
    if draft.tube is None:
        return None
    word = "grid" if word.casefold() == "cg" else word
    name = tubes.electrode(draft.tube, word)
    if name is None and draft.section:
        number = ord(draft.section) - ord("A") + 1
        name = tubes.electrode(draft.tube, f"{word}{number}")
    return name


def _heater(draft: Draft, each: Connection) -> None:
    tapped = draft.tube is not None and "tap" in draft.tube.electrodes
    count = len(each.nodes)
    if each.is_open:
        for name in ("heater1", "heater2"):
            draft.terminals.append(RawTerminal(name, None, each.span, unused=True))
    elif count == 2:
        along(draft, each, ["heater1", "heater2"], "heater")
        _give_pins(draft)
    elif count == 3 and (tapped or draft.tube is None):
        along(draft, each, ["heater1", "tap", "heater2"], "heater")
        _give_pins(draft)
    elif count == 3:
        draft.wrong(
            f"the heater of {article(draft.tube_name)} has no tap, and three nodes are given",
            each.span,
            "write `heater A to B`",
        )
    else:
        draft.wrong(
            f"a heater is a path between two ends, and this has {count}",
            each.span,
            "write `heater A to B` (a tapped one `heater A to TAP to B`)",
        )


def _give_pins(draft: Draft) -> None:
    for terminal in draft.terminals:
        if terminal.name in _HEATER_TERMINALS and draft.tube is not None:
            terminal.pin = draft.tube.pin_of(terminal.name)


def _electrode(draft: Draft, label: Token, each: Connection) -> None:
    word = str(label)
    if not one_node(draft, each):
        return
    if draft.tube is None:
        add(draft, word.casefold(), each)
        return
    name = electrode_of(draft, word)
    if name is not None:
        add(draft, name, each, pin=draft.tube.pin_of(name))
        return
    if word.casefold() in EXTRAS["tube"]:  # a shield can, or a shell the type's form lacks
        add(draft, word.casefold(), each)
        return
    ambiguous = tubes.ambiguous_word(draft.tube, word)
    if ambiguous is not None:
        draft.wrong(ambiguous, draft.place(label), "write which of them is meant")
        return
    known = list(tubes.electrode_words(draft.tube))
    direct = draft.tube.heating == "direct" and word.casefold() in ("cathode", "k")
    draft.wrong(
        f"{article(draft.tube_name)} has no {word}",
        draft.place(label),
        "its cathode is the filament: write `filament A to B`"
        if direct
        else did_you_mean(word, known, f"it has {joined(known, 'and')}"),
    )


def _pin(draft: Draft, pin: str, each: Connection) -> None:
    if draft.tube is None:
        add(draft, f"pin{pin}", each, pin=pin)
        return
    if pin not in draft.tube.pins:
        known = [p for p in draft.tube.pins if p.isdigit()]
        draft.wrong(
            f"{article(draft.tube_name)} has no pin {pin}",
            each.span,
            f"it has {joined(known, 'and')}",
        )
        return
    electrodes = draft.tube.pins[pin]
    name = electrodes[0] if electrodes else f"pin{pin}"
    already = next((t for t in draft.terminals if t.name == name), None)
    if already is None:
        add(draft, name, each, pin=pin)
    elif not (_same_node(already, each) or _other_end(draft, name, each)):
        draft.mistakes.append(_disagreement(draft, name, pin, already, each))
        draft.broken = True


def _same_node(already: RawTerminal, each: Connection) -> bool:
    return str(already.node).casefold() == str(each.nodes[0]).casefold()


def _other_end(draft: Draft, name: str, each: Connection) -> bool:
    """Whether the pin agrees with a heater written from its other end (no tap, so no matter)."""
    other = {"heater1": "heater2", "heater2": "heater1"}.get(name)
    terminal = next((t for t in draft.terminals if t.name == other), None)
    tapped = any(t.name == "tap" for t in draft.terminals)
    return terminal is not None and not tapped and _same_node(terminal, each)


def _disagreement(
    draft: Draft, name: str, pin: str, already: RawTerminal, each: Connection
) -> Mistake:
    return Mistake(
        f"{draft.ref}: pin {pin} of {article(draft.tube_name)} is its {name}, which is already on "
        f"{already.node}",
        each.span,
        "give the electrode or its pin, not both with different nodes",
        rule="pin-wired-twice",
        parts=(draft.ref,),
        why="Pin and electrode name the same wire; with two nodes one of them is a slip.",
    )
