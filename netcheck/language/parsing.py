"""One statement to one tree, whatever is wrong with it.

Belongs here: the parser's complaints as mistakes, and the stand-in tree of a part that does not
parse. Does not belong here: what a tree means (reader.py).
"""

from __future__ import annotations

import re

from lark import Token, Tree
from lark.exceptions import UnexpectedInput

from netcheck.language.drafts import subtrees, tokens
from netcheck.language.loading import parser
from netcheck.language.mistakes import STATEMENT_WORDS, Mistake, nearest, syntax_message
from netcheck.language.source import MOST_SIGNS, Statement

__all__ = ["REFERENCE", "colon_of", "parse_statement"]

REFERENCE = re.compile(r"\s*([A-Za-z]{1,3})(\d+)([A-Za-z]?)(?![\w.\-+])")


def parse_statement(statement: Statement, mistakes: list[Mistake]) -> Tree[Token] | None:
    """Parse one statement; a part that fails is parsed side by side, so that less is lost."""
    if len(statement.text) > MOST_SIGNS:
        mistakes.append(
            Mistake(
                f"this statement is longer than {MOST_SIGNS} signs",
                statement.span(0, 1),
                "a statement is one part or one fact: look for a comma or a colon at a line's end",
            )
        )
        return _unparsed_part(statement)
    if statement.mistakes:
        mistakes.append(statement.mistakes[0])
        return _unparsed_part(statement)
    if statement.unfinished:
        text = statement.text.rstrip()
        mistakes.append(
            Mistake(
                f"this statement ends in a {'comma' if text.endswith(',') else 'colon'}, "
                "and nothing of it follows",
                statement.span(len(text) - 1, len(text)),
                "add what is missing, or take the sign out",
            )
        )
        return _unparsed_part(statement)
    try:
        (tree,) = subtrees(parser().parse(statement.text, start="statement"))
        return tree
    except UnexpectedInput as fault:
        broken = _unparsed_part(statement)
        if broken is None:
            mistakes.append(_not_a_statement(statement, fault))
        else:
            mistakes.extend(_part_mistakes(statement, broken, fault))
        return broken


def _not_a_statement(statement: Statement, fault: UnexpectedInput) -> Mistake:
    text = statement.text
    start = len(text) - len(text.lstrip())
    first = re.compile(r'[^\s":]+').match(text, start)
    word = first.group() if first else text[start : start + 1]
    if word.casefold() in STATEMENT_WORDS:
        message, _, begin, end = syntax_message(fault, text, tell_expected=False)
        span = statement.span(begin, end)
        return Mistake(f"`{word.casefold()}`: {message}", span, _form_of(word))
    span = statement.span(start, start + max(len(word), 1))
    close = nearest(word, STATEMENT_WORDS)
    return Mistake(
        f"{word} is neither a part's reference nor a word that opens a statement",
        span,
        f"did you mean {close}?"
        if close
        else "a line opens with a reference (R1, C1A, V3) or a word such as line, wire, touchable; "
        "a remark opens with #",
    )


_FORMS = {
    "set": 'set "title", by "…", source "…", licence "…", note "…"',
    "line": "line 117 V 60 Hz",
    "wire": "wire A to B",
    "measure": "measure from B-",
    "touchable": "touchable: CHASSIS, R6.shaft",
    "type": "type NAME kind, base octal, heater 6.3 V 0.3 A, pins 1 shell 2 heater …",
    "reading": "reading V4.plate 110 V, meter 11 M",
    "hold": "hold B1 276 V",
    "accept": 'accept RULE on R20: "the reason"',
    "policy": "policy RULE option value",
    "switch": "switch S3 at MW",
    "notation": "notation M = 1000",
    "use": 'use "file.chassis"',
}


def _form_of(word: str) -> str:
    return f"write it like: {_FORMS[word.casefold()]}"


def _unparsed_part(statement: Statement) -> Tree[Token] | None:
    """A stand-in for a part whose statement does not parse: reference and two raw sides."""
    head = REFERENCE.match(statement.text)
    if head is None:
        return None
    return Tree("broken_part", [Token("REF", head.group().strip(), start_pos=head.start(1),
                                      end_pos=head.end())])  # fmt: skip


def _part_mistakes(
    statement: Statement, broken: Tree[Token], fault: UnexpectedInput
) -> list[Mistake]:
    """The mistakes of a part that does not parse: one for each of its two sides at most."""
    ref = str(broken.children[0]).upper()
    text = statement.text
    colon = colon_of(text)
    if "#" in text[: colon if colon >= 0 else None]:
        colon = -1
    if colon < 0:
        message, action, start, end = syntax_message(fault, text)
        return [_sided(statement, ref, message, action or "", start, end)]
    found = []
    start_rule = "tube_description" if ref.startswith("V") and ref[1:2].isdigit() else "description"
    after_ref = tokens(broken)[0].end_pos or 0
    for rule, begin, finish in (
        (start_rule, after_ref, colon),
        ("terminals", colon + 1, len(text)),
    ):
        side = " " * begin + text[begin:finish]
        if rule == "description" and not side.strip():
            continue
        try:
            parser().parse(side, start=rule)
        except UnexpectedInput as side_fault:
            message, action, start, end = syntax_message(side_fault, side)
            if not side.strip():
                start, end = begin - len(ref), begin  # nothing stands there; mark the reference
            found.append(_sided(statement, ref, message, action, start, end))
    if found:
        return found
    message, action, start, end = syntax_message(fault, text)
    return [_sided(statement, ref, message, action, start, end)]


def _sided(
    statement: Statement, ref: str, message: str, action: str, start: int, end: int
) -> Mistake:
    if colon_of(statement.text) < 0:
        length = len(statement.text.rstrip())
        if re.match(r"#\s*\w", statement.comment):
            return Mistake(
                f"{ref}: the rest of the line is a comment from the # on",
                statement.span(0 if length < 2 else length - 1, length),
                "write the number without the #, as in lamp 47; # opens a comment",
                parts=(ref,),
            )
        return Mistake(
            f"{ref}: there is no colon, so it is on no node",
            statement.span(0 if length < 2 else length - 1, length),
            "write a colon after the description, and then where it goes: `A to B`",
            parts=(ref,),
        )
    return Mistake(
        f"{ref}: {message}",
        statement.span(start, end),
        action or "commas part clauses, a colon parts description and terminals",
        parts=(ref,),
    )


def colon_of(text: str) -> int:
    """The offset of the first colon outside quotation marks, or -1."""
    at = text.find(":")
    while at >= 0 and text.count('"', 0, at) % 2:
        at = text.find(":", at + 1)
    return at
