"""The comma-parts of a terminal list, and what every kind of part does with them.

Belongs here: a connection (label and nodes), mechanical terminals, paths with taps. Does not
belong here: the rules of one kind (terminals.py, tube_terminals.py).
"""

from __future__ import annotations

from dataclasses import dataclass

from lark import Token, Tree

from netcheck.findings import Span
from netcheck.language.drafts import Draft, RawTerminal, subtrees, tokens
from netcheck.language.mistakes import did_you_mean, joined, nearest
from netcheck.language.vocabulary import TERMINAL_SYNONYMS
from netcheck.parts import Path

__all__ = [
    "EXTRAS", "Connection", "add", "along", "canonical", "connections", "ends", "extra", "one_node",
    "single_path", "unknown_label",
]  # fmt: skip

# Mechanical or screening terminals that a part has whether or not its line names them.
EXTRAS: dict[str, tuple[str, ...]] = {
    "resistor": ("shaft", "body", "case"),
    "capacitor": ("body", "shaft"),
    "speaker": ("frame",),
    "switch": ("shaft", "frame"),
    "transformer": ("core", "can"),
    "coil": ("can", "core"),
    "tube": ("shell", "shield"),
    "lamp": ("socket",),
    "fuse": ("holder",),
    "jack": ("sleeve", "tip", "ring"),
    "meter": ("case",),
    "vibrator": ("can",),
    "plug": ("shell",),
}


@dataclass(frozen=True, slots=True)
class Connection:
    """One comma-part of a terminal list: its label (if any) and its nodes as written."""

    label: Token | None
    nodes: tuple[Token, ...]
    span: Span

    @property
    def is_open(self) -> bool:
        """Whether it says `open`: left unconnected on purpose."""
        return len(self.nodes) == 1 and str(self.nodes[0]).casefold() == "open"


def connections(draft: Draft, tree: Tree[Token]) -> list[Connection]:
    """The connections of a `terminals` tree."""
    found = []
    for child in subtrees(tree):
        label: Token | None = None
        nodes: tuple[Token, ...] = ()
        for side in subtrees(child):
            if side.data == "label":
                label = tokens(side)[0]
            else:
                nodes = tuple(token for token in tokens(side) if token.type == "NODE")
        found.append(Connection(label, nodes, draft.place(child)))
    return found


def add(
    draft: Draft, name: str, each: Connection, node: Token | None = None, pin: str | None = None
) -> None:
    """Put terminal `name` on a node (the connection's only one unless `node` is given)."""
    token = node if node is not None else each.nodes[0]
    unused = str(token).casefold() == "open"
    place = draft.place(token)
    draft.terminals.append(
        RawTerminal(name, None if unused else token, place, pin=pin, unused=unused)
    )


def one_node(draft: Draft, each: Connection) -> bool:
    """Whether the connection names one node; more are a mistake."""
    if len(each.nodes) == 1:
        return True
    draft.wrong(
        f"{each.label} takes one node, and {len(each.nodes)} are given",
        each.span,
        "join nodes that are one by `wire A to B`",
    )
    return False


def extra(draft: Draft, each: Connection) -> bool:
    """Take a mechanical terminal (`body CHASSIS`); True when it was one."""
    if each.label is None:
        return False
    word = str(each.label).casefold()
    word = TERMINAL_SYNONYMS.get(draft.kind, {}).get(word, word)
    if word not in EXTRAS.get(draft.kind, ()):
        return False
    if one_node(draft, each):
        add(draft, word, each)
    return True


def along(draft: Draft, each: Connection, names: list[str], path: str = "") -> None:
    """Put terminals on the nodes of a path, in its order."""
    for name, node in zip(names, each.nodes, strict=True):
        add(draft, name, each, node)
    draft.paths.append(Path(path, tuple(names), span=each.span))


def ends(count: int, first: str = "a", last: str = "b") -> list[str]:
    """a, tap1, tap2 …, b."""
    return [first, *(f"tap{n}" for n in range(1, count - 1)), last]


def unknown_label(draft: Draft, each: Connection, known: list[str], noun: str) -> None:
    """Note that the label is none of `known`."""
    draft.wrong(
        f"{each.label} is no {noun} of a {draft.kind}",
        draft.place(each.label) if each.label is not None else each.span,
        did_you_mean(str(each.label), known, f"it has {joined(known, 'and')}"),
    )


def _not_a_path(draft: Draft, each: Connection) -> None:
    """Say what two names in a row may have been meant for: `A B`, `to B`, a misspelt terminal."""
    extras = list(EXTRAS.get(draft.kind, ()))
    word = str(each.label)
    if word.casefold() == "to":
        draft.wrong("the path has no start", each.span, "write both ends as `A to B`")
    elif nearest(word, extras) is not None:
        unknown_label(draft, each, extras, "terminal")
    else:
        draft.wrong(
            f"{word} and {each.nodes[0]} stand side by side",
            each.span,
            f"write `{word} to {each.nodes[0]}`, if they are its two ends",
        )


def single_path(draft: Draft, found: list[Connection]) -> Connection | None:
    """The one unlabelled path of a part with two ends, extras taken out."""
    paths = []
    for each in found:
        if extra(draft, each):
            continue
        if each.label is not None:
            _not_a_path(draft, each)
            return None
        paths.append(each)
    if not paths:
        return None
    if len(paths) > 1:
        draft.wrong(
            "it has more than one path",
            paths[1].span,
            "write its ends once, as `A to B`; a section of a body has its own line (C1A, C1B)",
        )
        return None
    if len(paths[0].nodes) == 1:
        draft.wrong(
            "only one of its ends is given",
            paths[0].span,
            "write both ends as `A to B`; an end left free on purpose is `open`",
        )
        return None
    return paths[0]


def canonical(kind: str, label: Token) -> str:
    """The canonical word of a label for this kind of part."""
    word = str(label).casefold()
    return TERMINAL_SYNONYMS.get(kind, {}).get(word, word)
