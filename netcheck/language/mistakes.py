"""A mistake in a text, and how a parser's complaint becomes a sentence.

Belongs here: the Mistake that the reading stages raise and collect, nearest right words, and the
words for what the grammar expected. Does not belong here: deciding what is a mistake.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import get_close_matches

from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from netcheck.findings import Finding, Harm, Related, Span

__all__ = ["EXPECTED", "Mistake", "article", "did_you_mean", "joined", "nearest", "syntax_message"]

UNREADABLE = "unreadable"

_WHY = (
    "What cannot be read is not checked: the part or statement counts as unknown until it is "
    "written so that it can be read."
)

# What each terminal of the grammar is called in a sentence; a test holds it complete.
EXPECTED = {
    "$END": "the end of the line",
    "COMMA": "a comma",
    "COLON": "a colon",
    "EQUAL": "`=`",
    "TO": "`to`",
    "NODE": "a name",
    "PIN": "a pin number",
    "PLUS": "`+`",
    "MINUS": "`-`",
    "NUMBER": "a value",
    "UNIT": "a unit",
    "WORD": "a word",
    "COUNTED": "a count (7-pin, 2nd)",
    "STRING": 'a text in quotation marks ("…")',
    "UNKNOWN": "`?`",
    "REF": "a part's reference (R1)",
    "TUBE_REF": "a tube's reference (V1)",
    "TUBE_TYPE": "a tube type (12AV6)",
    "TRAVEL": "`by`, `source`, `licence` or `note`",
    "REPLACES": "`replaces`",
    "ON": "`on`",
    "AT": "`at`",
    "FROM": "`from`",
    "NONE": "`none`",
    "LEAKAGE": "`leakage`",
    "METER": "`meter`",
    "ACCURACY": "`accuracy`",
    "SET": "`set`",
    "LINE": "`line`",
    "WIRE": "`wire`",
    "MEASURE": "`measure`",
    "TOUCHABLE": "`touchable`",
    "TYPE": "`type`",
    "READING": "`reading`",
    "HOLD": "`hold`",
    "ACCEPT": "`accept`",
    "POLICY": "`policy`",
    "SWITCH": "`switch`",
    "NOTATION": "`notation`",
    "USE": "`use`",
}

# Words that the parser's tables let follow a value only because a reading may have them.
_ELSEWHERE = frozenset({"AT", "METER", "ACCURACY", "LEAKAGE"})
# Where almost anything may stand, the usual things are named.
_USUAL = frozenset({"COMMA", "COLON", "TO", "NODE", "NUMBER", "WORD", "$END"})
_MOST_EXPECTED = 4

STATEMENT_WORDS = (
    "set", "line", "measure", "touchable", "type", "reading", "hold", "accept", "policy",
    "switch", "notation", "use", "wire",
)  # fmt: skip


class Mistake(Exception):
    """Something in a text that cannot be read as it stands: a sentence, its place, the remedy."""

    def __init__(
        self,
        message: str,
        span: Span,
        action: str = "",
        *,
        rule: str = UNREADABLE,
        harm: Harm = Harm.DAMAGE,
        parts: tuple[str, ...] = (),
        nodes: tuple[str, ...] = (),
        related: tuple[Related, ...] = (),
        why: str = _WHY,
    ) -> None:
        super().__init__(message)
        self.message = message
        self.span = span
        self.action = action
        self.rule = rule
        self.harm = harm
        self.parts = parts
        self.nodes = nodes
        self.related = related
        self.why = why

    def finding(self, line_text: str) -> Finding:
        """This mistake as a finding."""
        return Finding(
            rule=self.rule,
            harm=self.harm,
            message=self.message,
            span=self.span,
            related=self.related,
            parts=self.parts,
            nodes=self.nodes,
            state="as written",
            why=self.why,
            action=self.action or "write it as the language reference shows",
            line_text=line_text,
            subject="\n".join((self.message, *sorted(self.parts), *sorted(self.nodes))),
        )


def article(name: str) -> str:
    """A name with the article that is spoken before it: a resistor, an 80, an EL84, a 12AV6."""
    if name[:1].isupper() or name[:1].isdigit():  # a code, spelled letter by letter
        vowel = name[:1] in "AEFHILMNORSX8" or name[:2] in ("11", "18")
    else:
        vowel = name[:1] in "aeiou"
    return f"{'an' if vowel else 'a'} {name}"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that looks most like `word` whatever its case, or None when none is close."""
    by_fold = {each.casefold(): each for each in known}
    close = get_close_matches(word.casefold(), by_fold, n=1, cutoff=0.6)
    return by_fold[close[0]] if close else None


def did_you_mean(word: str, known: Iterable[str], otherwise: str) -> str:
    """A remedy that names the nearest right word, or `otherwise` when none is close."""
    close = nearest(word, known)
    return f"did you mean {close}?" if close else otherwise


def joined(words: Iterable[str], last: str = "or") -> str:
    """Words as English puts them: `a, b or c`."""
    listed = list(words)
    if len(listed) < 2:
        return "".join(listed)
    return f"{', '.join(listed[:-1])} {last} {listed[-1]}"


def syntax_message(
    fault: UnexpectedInput, text: str, *, tell_expected: bool = True
) -> tuple[str, str, int, int]:
    """Turn a parser's complaint into words; `tell_expected` names what could stand there.

    Returns:
        The sentence, the remedy, and the offsets in `text` of the words to mark.
    """
    start, end = _place(fault, text)
    written = text[start:end]
    special = _special(text, start, written)
    if special is not None:
        return (*special, start, end)
    belongs = f": here belongs {_expected(fault)}" if tell_expected else ""
    if start >= len(text.rstrip()):
        return f"the line ends too early{belongs}", "", start, end
    return f"{written!r} cannot stand here{belongs}", "", start, end


def _place(fault: UnexpectedInput, text: str) -> tuple[int, int]:
    if isinstance(fault, UnexpectedToken) and fault.token.type != "$END":
        start = fault.token.start_pos or 0
        return start, max(fault.token.end_pos or 0, start + 1)
    if isinstance(fault, UnexpectedCharacters):
        # lark's class says None, its instances hold the place.
        start = int(fault.pos_in_stream or 0)  # type: ignore[redundant-expr]
        word = re.compile(r"\S+?(?=[\s,:]|$)|\S").match(text, start)
        return start, word.end() if word else start + 1
    end = len(text.rstrip())
    return end, end + 1


def _expected(fault: UnexpectedInput) -> str:
    if isinstance(fault, UnexpectedToken):
        names = set(fault.expected)
    elif isinstance(fault, UnexpectedCharacters):
        names = set(fault.allowed)
    else:
        names = set()
    names -= _ELSEWHERE
    if len(names) > _MOST_EXPECTED:
        names &= _USUAL
    order = list(EXPECTED)
    words = [EXPECTED[n] for n in sorted(names & set(EXPECTED), key=order.index)]
    return joined(words) if words else "something else"


def _special(text: str, start: int, written: str) -> tuple[str, str] | None:
    """Mistakes that deserve their own words, tried in order."""
    before = text[:start].rstrip()
    if re.match(r"\d", written) and re.search(r"(?:\bto|:|,\s*[A-Za-z+\-][\w+\-]*)$", before):
        return (
            f"{written!r} is no name for a node",
            "a node's name starts with a letter; a pin number stands before a node",
        )
    if "." in written and re.fullmatch(r"[\w+\-]*\.\S*", written):
        return (
            f"{written!r} cannot stand here",
            "a dot joins a part to one of its own terminals (V3.plate) and to nothing else",
        )
    return None
