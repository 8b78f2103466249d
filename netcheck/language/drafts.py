"""A part while it is being read: what its two sides say, before names are resolved.

Belongs here: the mutable record that describe.py and terminals.py fill and resolve.py turns into
a Part. Nothing outside the reader sees it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeGuard

from lark import Token, Tree

from netcheck.findings import Span
from netcheck.language.mistakes import Mistake
from netcheck.language.source import Item, Statement
from netcheck.parts import Condition, Description, Path, TubeType, Value

__all__ = ["DescriptionDraft", "Draft", "Item", "RawTerminal", "is_token", "subtrees", "tokens"]


def is_token(item: Item | None, kind: str) -> TypeGuard[Token]:
    """Whether `item` is a token of this kind."""
    return isinstance(item, Token) and item.type == kind


def tokens(tree: Tree[Token]) -> list[Token]:
    """The tokens that are direct children of a tree."""
    return [child for child in tree.children if isinstance(child, Token)]


def subtrees(tree: Tree[Token]) -> list[Tree[Token]]:
    """The trees that are direct children of a tree."""
    return [child for child in tree.children if isinstance(child, Tree)]


@dataclass(slots=True)
class RawTerminal:
    """A terminal with the node as written (None: `open`, or no node given)."""

    name: str
    node: Token | None
    span: Span
    pin: str | None = None
    unused: bool = False


@dataclass(slots=True)
class DescriptionDraft:
    """Values, words and classes as they are found."""

    values: dict[str, Value] = field(default_factory=dict)
    words: list[str] = field(default_factory=list)
    classes: list[tuple[str, Value | None]] = field(default_factory=list)
    designation: str = ""
    alternates: list[Value] = field(default_factory=list)
    windings: dict[str, DescriptionDraft] = field(default_factory=dict)
    text: str = ""
    span: Span | None = None

    def frozen(self) -> Description:
        """This description as an immutable record."""
        return Description(
            values=dict(self.values),
            words=tuple(sorted(set(self.words))),  # their order says nothing
            classes=tuple(self.classes),
            designation=self.designation,
            windings={name: each.frozen() for name, each in self.windings.items()},
            alternates=tuple(self.alternates),
            text=self.text,
            span=self.span,
        )


@dataclass(slots=True)
class Draft:
    """One part being read."""

    statement: Statement
    ref: str
    letters: str
    number: int
    section: str
    kind: str
    span: Span
    ref_span: Span
    description: DescriptionDraft = field(default_factory=DescriptionDraft)
    condition: Condition | None = None
    measured: Value | None = None
    replaces: DescriptionDraft | None = None
    tube: TubeType | None = None
    tube_name: str = ""
    terminals: list[RawTerminal] = field(default_factory=list)
    paths: list[Path] = field(default_factory=list)
    labels: frozenset[str] = frozenset()  # winding names behind the colon, as written
    leads: dict[str, str] = field(default_factory=dict)  # T2.plate -> its terminal's name
    on: str | None = None
    inside: str | None = None
    mark: str | None = None
    reversed_windings: list[str] = field(default_factory=list)
    note: str = ""
    broken: bool = False
    misplaced: bool = False
    spans: dict[str, Span] = field(default_factory=dict)
    mistakes: list[Mistake] = field(default_factory=list)

    def place(self, item: Item) -> Span:
        """The span of a token or tree of this part's statement."""
        return self.statement.place(item)

    def words_of(self, tree: Tree[Token]) -> str:
        """The text of a tree, blanks run together."""
        if tree.meta.empty:
            return ""
        return " ".join(self.statement.text[tree.meta.start_pos : tree.meta.end_pos].split())

    def wrong(self, message: str, span: Span, action: str) -> None:
        """Note a mistake that makes this part unknown; its message opens with the reference."""
        self.broken = True
        self.mistakes.append(Mistake(f"{self.ref}: {message}", span, action, parts=(self.ref,)))
