"""Cutting a text into statements whose every character knows where it came from.

Belongs here: line ends, byte-order mark, typographic signs, comments, continuation lines, and
the map from a statement's offsets back to lines and columns. Does not belong here: what a
statement means.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field

from lark import Token, Tree

from netcheck.chassis import Remark
from netcheck.findings import Span
from netcheck.language.mistakes import Mistake

__all__ = ["MOST_SIGNS", "Item", "Source", "Statement", "cut", "without_comment"]

Item = Token | Tree[Token]

# The longest real statement is a `type` with all its points: about two thousand signs.
MOST_SIGNS = 10_000

_PLAIN = {
    **dict.fromkeys("\u00a0\u2002\u2003\u2004\u2005\u2006\u2007\u2008", " "),
    **dict.fromkeys("\u2009\u200a\u202f\u3000", " "),
    **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63\uff0d", "-"),
    **dict.fromkeys("\u201c\u201d\u201e\u201f\u00ab\u00bb\uff02", '"'),
    **dict.fromkeys("\u00b5\u03bc", "u"),
    **dict.fromkeys("\u03a9\u2126", "ohm"),
    **dict.fromkeys("\u200b\u200c\u200d\u2060\ufeff\u00ad\u00b1", ""),
    **dict.fromkeys("\uff1a", ":"),
    "\u00bd": "1/2", "\u00bc": "1/4", "\u00be": "3/4", "\u2153": "1/3", "\u2154": "2/3",
    "\u215b": "1/8", "\u215c": "3/8", "\u215d": "5/8", "\u215e": "7/8",
}  # fmt: skip
_DECIMALS = {
    "\u00bd": ".5", "\u00bc": ".25", "\u00be": ".75", "\u215b": ".125", "\u215c": ".375",
    "\u215d": ".625", "\u215e": ".875",
}  # fmt: skip
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
_COMMA_IN_NUMBER = re.compile(r"(?<![\w.])\d*,\d+(?=\s*[A-Za-z%/]|\s*$)|\d,\d")
_HEADING = re.compile(r"#\s*-{3,}\s*(.*?)\s*-*\s*$")

# A line that looks like one of these opens a statement even where the line before it asked for
# more: a lost continuation must not swallow the next part.
_OPENS = re.compile(
    r"""\s*(?:
        [A-Za-z]{1,3}\d+[A-Za-z]?(?:\s(?:[^":]|"[^"]*")*|\s*):         # a part: reference … colon
      | set\s+" | line\s+(?:none\b|[\d.+-]) | wire\s+\S+\s+to\b | measure\s+from\b
      | touchable\s*: | type\s+\S+\s+\w | reading\s+\S+\s+(?:leakage\s+)?[\d.+-]
      | hold\s+\S+\s+[\d.] | accept\s+[\w-]+(?:\s+on\s.*)?: | policy\s+[\w-]+\s+\w
      | switch\s+\S+\s+at\b | notation\s | use\s+"
    )""",
    re.VERBOSE | re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class _Piece:
    """One physical line within a statement: where it starts in it, and its column map."""

    start: int
    line: int
    columns: tuple[int, ...] | None  # None: column = offset + 1

    def column(self, offset: int) -> int:
        inner = offset - self.start
        if self.columns is None:
            return inner + 1
        if inner < len(self.columns):
            return self.columns[inner]
        return (self.columns[-1] if self.columns else 0) + 1 + inner - len(self.columns)


@dataclass(slots=True)
class Statement:
    """One statement in plain signs, comments blanked, continuation lines joined by a blank."""

    file: str
    text: str = ""
    pieces: list[_Piece] = field(default_factory=list)
    mistakes: list[Mistake] = field(default_factory=list)
    unfinished: bool = False
    comment: str = ""

    def add(self, text: str, line: int, columns: tuple[int, ...] | None) -> None:
        """Append one physical line."""
        if len(self.text) > MOST_SIGNS:
            return  # it is refused for its length, whatever else it says
        if self.pieces:
            self.text += " "
        self.pieces.append(_Piece(len(self.text), line, columns))
        self.text += text

    def span(self, start: int, end: int) -> Span:
        """The place in the file of the characters `start` to `end` (exclusive) of the text."""
        end = max(end, start + 1)
        first, last = self._piece(start), self._piece(end - 1)
        return Span(self.file, first.line, first.column(start), last.line, last.column(end - 1) + 1)

    def place(self, item: Item) -> Span:
        """The place of a token or tree of this statement."""
        if isinstance(item, Tree):
            return (
                self.whole()
                if item.meta.empty
                else self.span(item.meta.start_pos, item.meta.end_pos)
            )
        start = int(item.start_pos or 0)
        return self.span(start, int(item.end_pos or start + 1))

    def whole(self) -> Span:
        """The place of the statement without its outer blanks."""
        stripped = self.text.strip()
        start = self.text.find(stripped) if stripped else 0
        return self.span(start, start + max(len(stripped), 1))

    def _piece(self, offset: int) -> _Piece:
        index = bisect_right([piece.start for piece in self.pieces], offset) - 1
        return self.pieces[max(index, 0)]


@dataclass(slots=True)
class Source:
    """A file cut into statements and comment lines."""

    statements: list[Statement] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)


def cut(text: str, file: str) -> Source:
    """Cut `text` into statements.

    A line that ends in a comma or a colon goes on in the next line that is not blank, unless
    that line opens a statement of its own.
    """
    source = Source()
    current: Statement | None = None
    for number, raw in _lines(text):
        plain, columns, mistakes = _plain(raw, number, file)
        body, comment = _split_comment(plain)
        if comment is not None:
            source.remarks.append(_remark(comment, number, raw, file))
        if not body.strip():
            continue
        if current is not None and (_OPENS.match(body) or not _wants_more(current.text)):
            current.unfinished = _wants_more(current.text)
            current = None
        if current is None:
            current = Statement(file)
            source.statements.append(current)
        current.add(body, number, columns)
        current.comment = comment or ""
        current.mistakes.extend(mistakes)
        current.mistakes.extend(_line_mistakes(body, number, columns, file))
        if not _wants_more(body):
            current = None
    if current is not None:
        current.unfinished = True
    return source


def _lines(text: str) -> Iterator[tuple[int, str]]:
    yield from enumerate(
        text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n"), start=1
    )


def _wants_more(text: str) -> bool:
    return text.rstrip().endswith((",", ":"))


def _plain(raw: str, number: int, file: str) -> tuple[str, tuple[int, ...] | None, list[Mistake]]:
    """Write typographic signs in plain forms; return the text, its column map and mistakes."""
    mistakes = [
        Mistake(
            f"there is a control character ({hex(ord(m.group()))}) in this line",
            Span(file, number, m.start() + 1, number, m.start() + 2),
            "delete it and type the text again",
        )
        for m in _CONTROL.finditer(raw)
    ][:1]
    if mistakes:
        raw = _CONTROL.sub(" ", raw)
    if raw.isascii():
        return raw, None, mistakes
    out: list[str] = []
    columns: list[int] = []
    quoted = False
    for column, sign in enumerate(raw, start=1):
        plain = _PLAIN.get(sign, sign)
        if quoted and plain != '"':
            plain = sign if sign not in "\ufeff" else ""
        if sign in _DECIMALS and not quoted and out and out[-1].isdigit():
            plain = _DECIMALS[sign]  # 22½ is one number
        quoted ^= plain == '"'
        out.extend(plain)
        columns.extend([column] * len(plain))
    return "".join(out), tuple(columns), mistakes


def without_comment(line: str) -> str:
    """Return a line of a text up to its comment."""
    return _split_comment(line)[0]


def _split_comment(text: str) -> tuple[str, str | None]:
    """Split at the first `#` outside quotation marks; only the text before it keeps its place."""
    at = text.find("#")
    while at >= 0 and text.count('"', 0, at) % 2:
        at = text.find("#", at + 1)
    return (text, None) if at < 0 else (text[:at], text[at:])


def _remark(comment: str, number: int, raw: str, file: str) -> Remark:
    span = Span(file, number, raw.find("#") + 1, number, len(raw) + 1)
    heading = _HEADING.match(comment)
    if heading:
        return Remark(heading.group(1), True, span)
    return Remark(comment[1:].strip(), False, span)


def _line_mistakes(
    body: str, number: int, columns: tuple[int, ...] | None, file: str
) -> Iterator[Mistake]:
    """What is wrong with a line whatever statement it belongs to."""
    piece = _Piece(0, number, columns)

    def span(start: int, end: int) -> Span:
        return Span(file, number, piece.column(start), number, piece.column(end - 1) + 1)

    if body.count('"') % 2:
        at = body.rfind('"')
        yield Mistake(
            "this quotation mark is not closed in its line",
            span(at, len(body.rstrip())),
            'close it with another ", and keep a text in one line',
        )
        return
    outside = re.sub(r'"[^"]*"', lambda m: " " * len(m.group()), body)
    found = _COMMA_IN_NUMBER.search(outside)
    if found:
        written = found.group().lstrip()
        yield Mistake(
            f"there is a comma inside the number {written}",
            span(found.start(), found.end()),
            _without_comma(written),
        )


def _without_comma(number: str) -> str:
    whole, _, fraction = number.partition(",")
    point = f"{whole or '0'}.{fraction}"
    if len(fraction) == 3 and whole.strip("0"):
        # 470,000 is thousands to one half of the world and 470 to the other.
        return f"write {whole}{fraction} if thousands are meant, {point} if a fraction is"
    return f"write {point}, with a point"
