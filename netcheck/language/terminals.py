"""Reading the terminals of a part: which of its terminals stands on which node.

Belongs here: what stands behind the colon, kind by kind, and the words by which a terminal can
be named from elsewhere (`V3.plate`). Does not belong here: whether the named nodes exist
(resolve.py).
"""

from __future__ import annotations

from collections.abc import Callable

from netcheck.catalog import tubes
from netcheck.language.bridges import connect_bridge, names_corners
from netcheck.language.connections import (
    EXTRAS,
    Connection,
    add,
    along,
    canonical,
    connections,
    ends,
    extra,
    one_node,
    single_path,
    unknown_label,
)
from netcheck.language.drafts import Draft, RawTerminal
from netcheck.language.mistakes import joined
from netcheck.language.tube_terminals import connect_tube, electrode_of
from netcheck.language.vocabulary import TERMINAL_SYNONYMS, WINDING_SYNONYMS, WINDINGS
from netcheck.parts import Path

__all__ = [
    "connect", "connections", "extra_terminals", "find_terminal",
    "winding_labels",
]  # fmt: skip

_PLUG_WORDS = ("hot", "neutral", "earth")
_SWITCH_MINIMUM = 2
_TAPPED = frozenset({"tapped", "dropper", "cord", "metal-clad", "bleeder", "ballast"})


def winding_labels(found: list[Connection]) -> list[str]:
    """The winding names among the labels, canonical, so that a description can use them."""
    return [_winding(str(each.label)) for each in found if each.label is not None]


def connect(draft: Draft, found: list[Connection]) -> None:
    """Fill the draft's terminals and paths from its connections, by the rules of its kind."""
    _CONNECTORS[draft.kind](draft, [each for each in found if not _misplaced_tap(draft, each)])
    extras = EXTRAS.get(draft.kind, ())
    if draft.kind != "tube":  # the electrical ends first, wherever the line has the others
        draft.terminals.sort(key=lambda terminal: terminal.name in extras)
    names: dict[str, RawTerminal] = {}
    for terminal in draft.terminals:
        if terminal.name in names:
            draft.wrong(
                f"its {terminal.name} is connected twice",
                terminal.span,
                "keep one; two nodes that are one are joined by `wire A to B`",
            )
        names[terminal.name] = terminal


def _misplaced_tap(draft: Draft, each: Connection) -> bool:
    """A tap has one place, its place along the path; anywhere else it would be a guess."""
    if each.label is None or str(each.label).casefold() not in ("tap", "tap1", "tap2", "ct"):
        return False
    if draft.kind not in ("tube", "resistor", "coil", "transformer", "thermistor"):
        return False
    path = "heater A to TAP to B" if draft.kind == "tube" else "A to TAP to B"
    draft.wrong(
        "a tap is written in its place along the path",
        each.span,
        f"write `{path}`",
    )
    return True


# --- one connector a kind ----------------------------------------------------------------------


def _two_ends(draft: Draft, found: list[Connection]) -> None:
    path = single_path(draft, found)
    if path is None:
        return
    if len(path.nodes) > 2:
        draft.wrong(
            f"a {draft.kind} has two ends, and {len(path.nodes)} nodes are given",
            path.span,
            "write `A to B`",
        )
        return
    along(draft, path, ["a", "b"])


def _capacitor(draft: Draft, found: list[Connection]) -> None:
    words = draft.description.words
    ends = [each for each in found if not extra(draft, each)]
    if not ends:
        return
    labelled = [each for each in ends if each.label is not None]
    polarized = {"electrolytic", "polarized", "tantalum", "wet"} & set(words)
    if not labelled:
        if polarized and "non-polarized" not in words:
            draft.wrong(
                "which end of it is plus? A polarized capacitor names its ends",
                ends[0].span,
                "write `+ B1, - B-` (or the word non-polarized, if it is)",
            )
            return
        _two_ends(draft, ends)
        return
    names = TERMINAL_SYNONYMS["capacitor"]
    for each in ends:
        word = str(each.label).casefold()
        name = names.get(word, word) if each.label is not None else ""
        if name not in ("+", "-"):
            unknown_label(draft, each, ["+", "-", *EXTRAS["capacitor"]], "terminal")
        elif one_node(draft, each):
            add(draft, name, each)


def _resistor(draft: Draft, found: list[Connection]) -> None:
    words = set(draft.description.words)
    wipers = [
        each for each in found
        if each.label is not None and canonical(draft.kind, each.label) == "wiper"
    ]  # fmt: skip
    path = single_path(draft, [each for each in found if each not in wipers])
    if path is None:
        return
    count = len(path.nodes)
    if wipers:
        along(draft, path, ends(count))
        if one_node(draft, wipers[0]):
            add(draft, "wiper", wipers[0])
        return
    if words & {"control", "rheostat"}:
        if count > 3:
            draft.wrong(
                f"a control has an end, a wiper and an end, and {count} nodes are given",
                path.span,
                "for a tapped control write its track as a path and `wiper NODE` after a comma",
            )
            return
        along(draft, path, ["a", "wiper", "b"] if count == 3 else ["a", "wiper"])
        return
    if count > 2 and not words & _TAPPED and draft.broken:
        return  # a word that was not understood may have said that it is a control
    if count > 2 and not words & _TAPPED:
        draft.wrong(
            f"a plain {draft.kind} has two ends, and {count} nodes are given",
            path.span,
            "say what it is: control, tapped, dropper, cord or metal-clad",
        )
        return
    along(draft, path, ends(count))


def _winding(label: str) -> str:
    word = label.casefold()
    return WINDING_SYNONYMS.get(word, word)


def _wound(draft: Draft, found: list[Connection]) -> None:
    windings = [each for each in found if not extra(draft, each)]
    for each in windings:
        if each.label is None:
            if len(windings) > 1:
                draft.wrong(
                    "it has several windings, and this one has no name",
                    each.span,
                    "name each: primary A to B, secondary C to D",
                )
                return
            name = ""
        else:
            name = _winding(str(each.label))
            if name not in WINDINGS:
                unknown_label(draft, each, list(WINDINGS), "winding")
                continue
        if each.is_open:
            continue
        if len(each.nodes) < 2:
            draft.wrong(
                f"only one end of its {name or 'winding'} is given",
                each.span,
                "write the winding as a path, `A to B`, taps in order between the ends",
            )
            continue
        count = len(each.nodes)
        names = ends(count) if not name else [f"{name}{n}" for n in range(1, count + 1)]
        along(draft, each, names, name)


def _labelled(*names: str) -> Callable[[Draft, list[Connection]], None]:
    """A connector for parts whose every terminal has a word of its own."""

    def connector(draft: Draft, found: list[Connection]) -> None:
        for each in found:
            if extra(draft, each):
                continue
            if each.label is None:
                draft.wrong(
                    f"which of its terminals is on {each.nodes[0]}?",
                    each.span,
                    f"write {joined([f'{n} NODE' for n in names], 'and')}",
                )
                continue
            name = canonical(draft.kind, each.label)
            if name not in names:
                unknown_label(draft, each, list(names), "terminal")
            elif one_node(draft, each):
                add(draft, name, each)

    return connector


def _diode(draft: Draft, found: list[Connection]) -> None:
    if "bridge" in draft.description.words:
        connect_bridge(draft, found)
    elif not names_corners(draft, found):
        _labelled("anode", "cathode")(draft, found)


def _switch(draft: Draft, found: list[Connection]) -> None:
    counts: dict[str, int] = {}
    for each in found:
        if extra(draft, each):
            continue
        if each.label is None:
            draft.wrong(
                "which position closes this path?",
                each.span,
                "write the position before it, as in `ON A to B`",
            )
            continue
        position = str(each.label).upper()
        if each.is_open:
            draft.paths.append(Path(position, (), position=position, span=each.span))
            continue
        if len(each.nodes) < _SWITCH_MINIMUM:
            draft.wrong(
                f"position {position} closes nothing with one node",
                each.span,
                "write the contacts it joins, as in `ON A to B`, or `open`",
            )
            continue
        first = counts.get(position, 0) + 1
        names = [f"{position}.{n}" for n in range(first, first + len(each.nodes))]
        counts[position] = first + len(each.nodes) - 1
        for name, node in zip(names, each.nodes, strict=True):
            add(draft, name, each, node)
        draft.paths.append(Path(position, tuple(names), position=position, span=each.span))


def _plug(draft: Draft, found: list[Connection]) -> None:
    _pins_or_words(draft, found, _PLUG_WORDS)
    names = {terminal.name for terminal in draft.terminals}
    words = set(draft.description.words)
    told = names & {"hot", "neutral"}
    numbered = {name for name in names if name.isdigit()}
    if draft.broken:
        return
    if told and "not-polarized" in words:
        draft.wrong(
            "it goes in either way round, so no pin of it is hot or neutral",
            draft.span,
            "write `1 LA, 2 LB`, or say polarized",
        )
    elif numbered and (told or "polarized" in words):
        draft.wrong(
            "which of its pins is hot, and which neutral?",
            draft.span,
            "write `hot LINE, neutral B-` for a polarized plug",
        )


def _jack(draft: Draft, found: list[Connection]) -> None:
    if len(found) == 1 and found[0].label is None and len(found[0].nodes) == 1:
        add(draft, "1", found[0])
        return
    _pins_or_words(draft, found, ("tip", "ring", "sleeve", "switch", "shell", "hot", "earth"))


def _pins_or_words(draft: Draft, found: list[Connection], words: tuple[str, ...]) -> None:
    for each in found:
        if each.label is None:
            if len(found) == 1 and len(each.nodes) == 1:
                add(draft, "1", each)
                continue
            draft.wrong(
                f"which of its terminals is on {each.nodes[0]}?",
                each.span,
                f"write a pin number or {joined(words)} before the node",
            )
            continue
        name = canonical(draft.kind, each.label)
        if each.label.type != "PIN" and name not in words + EXTRAS.get(draft.kind, ()):
            unknown_label(draft, each, list(words), "terminal")
        elif one_node(draft, each):
            add(draft, name, each, pin=name if each.label.type == "PIN" else None)


def _vibrator(draft: Draft, found: list[Connection]) -> None:
    for each in found:
        if extra(draft, each):
            continue
        name = canonical("vibrator", each.label) if each.label is not None else ""
        if name in ("contacts", "contacts2", "coil") and len(each.nodes) == 2:
            stem = {"contacts": "contact", "contacts2": "contact", "coil": "coil"}[name]
            first = 3 if name == "contacts2" else 1
            along(draft, each, [f"{stem}{first}", f"{stem}{first + 1}"], name)
        elif name in ("reed", "reed2", "coil") and one_node(draft, each):
            add(draft, name, each)
        elif not draft.broken:
            draft.wrong(
                "a vibrator has a reed, contacts and a coil",
                each.span,
                "write `reed A, contacts B to C, coil D`",
            )


_CONNECTORS: dict[str, Callable[[Draft, list[Connection]], None]] = {
    "capacitor": _capacitor,
    "resistor": _resistor,
    "thermistor": _resistor,
    "varistor": _two_ends,
    "coil": _wound,
    "transformer": _wound,
    "tube": connect_tube,
    "diode": _diode,
    "switch": _switch,
    "fuse": _two_ends,
    "lamp": _two_ends,
    "speaker": _two_ends,
    "meter": _two_ends,
    "vibrator": _vibrator,
    "plug": _plug,
    "jack": _jack,
    "battery": _labelled("+", "-"),
    "load": _two_ends,
}


def extra_terminals(draft: Draft) -> tuple[str, ...]:
    """Terminals the part has although its line may not connect them."""
    if draft.kind == "tube" and draft.tube is not None:
        return (*tubes.electrode_words(draft.tube), *EXTRAS["tube"])
    return EXTRAS.get(draft.kind, ())


def find_terminal(draft: Draft, word: str) -> str | None:
    """The canonical name of the terminal that another part calls `word`, or None."""
    plain = word.casefold()
    own = {t.name.casefold(): t.name for t in draft.terminals}
    if draft.kind == "tube" and draft.tube is not None:
        if plain in draft.tube.pins:
            group = draft.tube.pins[plain]
            return group[0] if group else f"pin{plain}"
        if plain.startswith("pin") and plain[3:] in draft.tube.pins:
            return plain
        return electrode_of(draft, plain) or own.get(plain)
    plain = TERMINAL_SYNONYMS.get(draft.kind, {}).get(plain, plain)
    if plain in own:
        return own[plain]
    return plain if plain in extra_terminals(draft) else None
