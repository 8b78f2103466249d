"""From text to chassis: every statement of every file, all mistakes in one pass.

Belongs here: the order of the stages and what happens when one fails. Does not belong here: what
any statement means. A statement that cannot be read is one finding; what it would have said is
unknown, and later stages stay quiet about it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from lark import Token, Tree

from netcheck.catalog import tubes
from netcheck.chassis import Chassis, Remark
from netcheck.findings import Finding, Span
from netcheck.language import describe, statements, terminals
from netcheck.language.bulbs import check_bulbs
from netcheck.language.drafts import Draft, RawTerminal, subtrees, tokens
from netcheck.language.mistakes import STATEMENT_WORDS, Mistake, did_you_mean, nearest
from netcheck.language.parsing import REFERENCE, colon_of, parse_statement
from netcheck.language.resolve import Resolver
from netcheck.language.source import Statement, cut
from netcheck.language.typecards import read_type
from netcheck.language.vocabulary import LETTER_HINTS, LETTERS
from netcheck.parts import TubeType

__all__ = ["FileText", "read_files"]

# Beyond this many mistakes a file is no set; reading on would only bury the first of them.
_MOST_MISTAKES = 200

_MANY_TERMINALS = frozenset({"tube", "coil", "transformer", "switch", "plug", "vibrator"})
# What looks like clauses or connections of a part above: it has a `to`, a comma, a colon, a sign.
_ORPHAN = re.compile(r"\s*(?:[+\-\d]|\S+(?=.*(?:\sto\s|[,:])))", re.IGNORECASE)
_TYPE_NAME = re.compile(r"\s*type\s+([A-Za-z0-9][\w/-]*)", re.IGNORECASE)
# Possessive, and never from the middle of a word: a line of one long word must not cost a minute.
_NAME = r"(?<!\w)[^\W\d_]\w*+[+\-]*+(?![\w.])"
_BESIDE_TO = re.compile(rf"{_NAME}(?=\s+to\b)|(?<=\bto\s){_NAME}", re.IGNORECASE)
_LAST_NAME = re.compile(rf"{_NAME}(?=\s*(?:,|$))")
_ONLY_IN_MAIN = frozenset(
    {
        "line_statement", "measure_statement", "touchable_statement", "reading_statement",
        "hold_statement", "accept_statement", "policy_statement", "switch_statement",
    }
)  # fmt: skip

Includer = Callable[[str, Span], Iterable["FileText"]]


@dataclass(frozen=True, slots=True)
class FileText:
    """A file by the name that findings give it."""

    name: str
    text: str


@dataclass
class _Stage:
    """What is known while the statements of a set are read."""

    mistakes: list[Mistake] = field(default_factory=list)
    trees: list[tuple[Tree[Token], Statement, bool]] = field(default_factory=list)
    drafts: list[Draft] = field(default_factory=list)
    types: dict[str, TubeType] = field(default_factory=dict)
    unknown_types: set[str] = field(default_factory=set)
    orphans: list[tuple[Statement, Mistake]] = field(default_factory=list)
    told_above: set[int] = field(default_factory=set)
    remarks: list[Remark] = field(default_factory=list)
    uses: list[str] = field(default_factory=list)
    texts: dict[str, str] = field(default_factory=dict)
    notation_m: float | None = None
    spans: dict[str, Span] = field(default_factory=dict)


def read_files(main: FileText, include: Includer | None = None) -> Chassis:
    """Read a set from its file and those it uses.

    Args:
        main: the set's own file.
        include: gives the files a `use` statement names; raises Mistake. None: no file system.

    Returns:
        The chassis; its `findings` are the mistakes of reading.
    """
    stage = _Stage()
    _parse_file(stage, main, include, is_main=True)
    if not stage.trees and not stage.mistakes and not stage.uses:
        stage.mistakes.append(_nothing_in(main))
    for tree, statement, _ in stage.trees:
        _guard(stage, _notation_and_types, stage, tree, statement)
    for tree, statement, _ in stage.trees:
        if tree.data in ("part", "tube_part", "broken_part"):
            _read_part(stage, tree, statement)
    stage.told_above = {id(draft) for draft in stage.drafts if draft.mistakes or draft.broken}
    check_bulbs(stage.drafts)
    resolver = Resolver(stage.drafts)
    parts = resolver.parts()
    gathered = statements.Gathered(notation_m=stage.notation_m)
    for tree, statement, is_main in stage.trees:
        _guard(stage, _gather, tree, statement, gathered, resolver, is_main)
    stage.mistakes.extend(m for each in stage.orphans for m in _orphan_mistakes(stage, *each))
    for draft in stage.drafts:
        stage.mistakes.extend(draft.mistakes)
    chassis = Chassis(
        file=main.name,
        title=gathered.title,
        travels=dict(gathered.travels),
        line=gathered.line,
        measure_from=gathered.measure_from,
        parts=tuple(resolver.implied_terminal(part) for part in parts),
        wires=tuple(gathered.wires),
        touchable=None if gathered.touchable is None else tuple(gathered.touchable),
        types=tuple(stage.types.values()),
        readings=tuple(gathered.readings),
        holds=tuple(gathered.holds),
        acceptances=tuple(gathered.acceptances),
        policies=tuple(gathered.policies),
        settings=tuple(gathered.settings),
        notation_m=stage.notation_m,
        uses=tuple(stage.uses),
        remarks=tuple(stage.remarks),
        texts=dict(stage.texts),
        spans={**stage.spans, **gathered.spans},
    )
    return _with_findings(chassis, stage.mistakes)


def _nothing_in(main: FileText) -> Mistake:
    return Mistake(
        "there is no statement in this text",
        Span(main.name, 1, 1, 1, 2),
        "describe the set, a line a part: R1 470K 1/2 W: B+ to V1.plate",
    )


def _is_orphan(text: str) -> bool:
    """Whether a line that is no statement looks like the rest of one."""
    opening = text.split(None, 1)[0].rstrip(":,")
    return _ORPHAN.match(text) is not None and nearest(opening, STATEMENT_WORDS) is None


def _part_above(stage: _Stage, orphan: Statement) -> Draft | None:
    """The part whose line ends right above a line that is nothing by itself."""
    above = orphan.pieces[0].line - 1
    for draft in stage.drafts:
        if draft.statement.file == orphan.file and draft.statement.pieces[-1].line == above:
            return draft
    return None


def _orphan_mistakes(stage: _Stage, orphan: Statement, mistake: Mistake) -> list[Mistake]:
    """What to say of a line that is nothing by itself: once, here or at the part above."""
    draft = _part_above(stage, orphan)
    if draft is not None and id(draft) in stage.told_above:
        return []
    if draft is None or draft.kind not in _MANY_TERMINALS:
        return [mistake]
    return [
        Mistake(
            f"this line seems to belong to {draft.ref}, whose line does not say that it goes on",
            orphan.whole(),
            f"end the line of {draft.ref} with a comma (or the colon it lacks)",
            parts=(draft.ref,),
        )
    ]


def _with_findings(chassis: Chassis, mistakes: list[Mistake]) -> Chassis:
    kept = mistakes[:_MOST_MISTAKES]
    found = [mistake.finding(chassis.line_text(mistake.span)) for mistake in kept]
    found.sort(key=lambda each: (each.span.file, each.span.line, each.span.column))
    unique: dict[tuple[object, ...], Finding] = {}
    for each in found:
        unique.setdefault((each.rule, each.span, each.message), each)
    unread = any(each.rule not in _READ_ALL_THE_SAME for each in unique.values())
    return replace(chassis, findings=tuple(unique.values()), was_read=not unread)


# Notices of the reader that leave nothing unread.
_READ_ALL_THE_SAME = frozenset({"old-notation"})


def _guard(stage: _Stage, step: Callable[..., None], *arguments: object) -> None:
    """Run one step for one statement; its mistake is kept, and the next statement read."""
    try:
        step(*arguments)
    except Mistake as mistake:
        stage.mistakes.append(mistake)


# --- parsing -----------------------------------------------------------------------------------


def _parse_file(
    stage: _Stage, source: FileText, include: Includer | None, *, is_main: bool
) -> None:
    stage.texts[source.name] = source.text.removeprefix("\ufeff")  # it is no column
    cut_up = cut(source.text, source.name)
    if is_main:
        stage.remarks.extend(cut_up.remarks)
    for statement in cut_up.statements:
        if len(stage.mistakes) >= _MOST_MISTAKES:
            stage.mistakes[-1] = Mistake(
                f"there are more than {_MOST_MISTAKES} mistakes; reading stopped here",
                statement.whole(),
                "mend the first ones and read again",
            )
            return
        tree = parse_statement(statement, stage.mistakes)
        if tree is None:
            named = _TYPE_NAME.match(statement.text)
            if named:  # users of a type that cannot be read are not told a second time
                stage.unknown_types.add(_type_key(named.group(1)))
            elif _is_orphan(statement.text):
                stage.orphans.append((statement, stage.mistakes.pop()))
            continue
        if tree.data == "use_statement":
            _use(stage, tree, statement, include)
        else:
            stage.trees.append((tree, statement, is_main))


def _use(stage: _Stage, tree: Tree[Token], statement: Statement, include: Includer | None) -> None:
    name = str(tree.children[1])[1:-1]
    stage.uses.append(name)
    stage.spans[f"use {name}"] = statement.whole()
    try:
        if include is None:
            raise Mistake(
                f"{name} cannot be used here: this set was read from a text, not from a file",
                statement.whole(),
                "read the set from its file",
            )
        for each in include(name, statement.whole()):
            if each.name not in stage.texts:
                _parse_file(stage, each, include, is_main=False)
    except Mistake as mistake:
        stage.mistakes.append(mistake)


# --- reading -----------------------------------------------------------------------------------


def _notation_and_types(stage: _Stage, tree: Tree[Token], statement: Statement) -> None:
    if tree.data == "notation_statement":
        if "notation" in stage.spans:
            raise Mistake(
                f"`notation` stands here and in line {stage.spans['notation'].line}",
                statement.whole(),
                "keep one",
            )
        stage.notation_m = statements.notation(tree, statement)
        stage.spans["notation"] = statement.whole()
    elif tree.data == "type_statement":
        key = _type_key(str(tokens(tree)[1]))
        stage.unknown_types.add(key)  # until it is read whole, nobody wonders what it is
        made = read_type(tree, statement)
        stage.unknown_types.discard(key)
        if key in stage.types:
            raise Mistake(
                f"the type {made.name} is defined twice", statement.whole(), "keep one of them"
            )
        stage.types[key] = made


def _gather(
    tree: Tree[Token],
    statement: Statement,
    gathered: statements.Gathered,
    resolver: Resolver,
    is_main: bool,
) -> None:
    kind = str(tree.data)
    if kind in ("part", "tube_part", "broken_part", "type_statement", "notation_statement"):
        return
    if not is_main:
        if kind in _ONLY_IN_MAIN:
            word = kind.partition("_")[0]
            raise Mistake(
                f"`{word}` stands in a file that another set uses",
                statement.whole(),
                "a used file brings parts, wires and types; put the rest into the set's own file",
            )
        if kind == "set_statement":
            return
    statements.gather(tree, statement, gathered, resolver)


def _read_part(stage: _Stage, tree: Tree[Token], statement: Statement) -> None:
    reference = tokens(tree)[0]
    draft = _draft(stage, reference, statement)
    if draft is None:
        return
    if tree.data == "broken_part":
        draft.broken = True
        draft.terminals.extend(_guessed_nodes(statement))
        stage.drafts.append(draft)
        return
    *described, connected = subtrees(tree)
    found = terminals.connections(draft, connected)
    labels = (
        set(terminals.winding_labels(found)) if draft.kind in ("coil", "transformer") else set()
    )
    draft.labels = frozenset(labels)
    for each in described:
        describe.describe(draft, each, stage.notation_m)
    if draft.kind == "tube":
        _find_type(stage, draft)
    terminals.connect(draft, found)
    if not draft.broken:  # what follows from a slip is no second slip
        describe.check_whole(draft)
    stage.drafts.append(draft)


def _draft(stage: _Stage, reference: Token, statement: Statement) -> Draft | None:
    head = REFERENCE.match(str(reference))
    assert head is not None  # noqa: S101 - REF has this shape
    letters, number, section = head.group(1).upper(), head.group(2), head.group(3).upper()
    start = int(reference.start_pos or 0)
    span = statement.span(start, int(reference.end_pos or start + 1))
    kind = LETTERS.get(letters)
    if kind is None:
        hint = LETTER_HINTS.get(letters)
        stage.mistakes.append(
            Mistake(
                f"no part begins with {letters}",
                span,
                f"did you mean {hint}{number}{section} (a {LETTERS[hint]})?"
                if hint
                else did_you_mean(letters, LETTERS, f"the letters are {', '.join(LETTERS)}"),
            )
        )
        return None
    ref = f"{letters}{int(number)}{section}" if len(number) < 9 else f"{letters}{number}{section}"
    return Draft(statement, ref, letters, int(number[:9]), section, kind, statement.whole(), span)


def _guessed_nodes(statement: Statement) -> list[RawTerminal]:
    """What a broken part may be connected to, so that nobody concludes from its absence.

    Nodes stand beside `to`, and at the end of each comma-part behind the colon.
    """
    text = statement.text
    colon = colon_of(text)
    found: dict[int, re.Match[str]] = {}
    for match in _BESIDE_TO.finditer(text, max(colon + 1, 0)):
        found.setdefault(match.start(), match)
    if colon >= 0:
        for match in _LAST_NAME.finditer(text, colon + 1):
            found.setdefault(match.start(), match)
    guessed = []
    for number, match in enumerate(found.values(), start=1):
        if match.group().casefold() in ("to", "open"):
            continue
        token = Token("NODE", match.group(), start_pos=match.start(), end_pos=match.end())
        guessed.append(RawTerminal(f"?{number}", token, statement.span(match.start(), match.end())))
    return guessed


def _find_type(stage: _Stage, draft: Draft) -> None:
    """The tube's type: one defined in the text comes before the catalogue's."""
    name = draft.tube_name
    # 0Z4 and its kin are often typed with the letter O.
    zeroed = f"0{name[1:]}" if name[:1] in "Oo" else name
    own = stage.types.get(_type_key(name))
    draft.tube = own or tubes.find_tube(name) or tubes.find_tube(zeroed)
    if draft.tube is None and _type_key(name) in stage.unknown_types:
        draft.broken = True
    elif draft.tube is None:
        close = tubes.nearest_tubes(name, 1)
        draft.broken = True
        draft.mistakes.append(
            Mistake(
                f"{draft.ref}: I do not know the tube type {name}",
                draft.spans.get("type", draft.ref_span),
                (f"did you mean {close[0]}? Else define it" if close else "define it")
                + f" with `type {name} …` from its data sheet",
                rule="unknown-tube",
                parts=(draft.ref,),
                why="Without its pins, heater and limits nothing about this stage is checked.",
            )
        )


def _type_key(name: str) -> str:
    """Types are found whatever their case, dashes and blanks, as those of the catalogue are."""
    return re.sub(r"[\s-]+", "", name).upper()
