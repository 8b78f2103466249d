"""Reading: what the grammar costs beside bare tokens, and the reader beside the bare parse.

Stressed: a set of a hundred parts, read again and again in one process with all tables made. The
yardsticks are lark itself: its LALR parse of the same statements with the shipped grammar, and with
a grammar that knows words, strings and two signs. Left out: the first read of a process
(test_startup.py).

Marks of the project: reading at most 3 x the bare parse; the shipped grammar at most 2 x the bare
tokens. Where a bound below is wider than its mark, the mark is not reached yet and the bound only
keeps what is.
"""

from __future__ import annotations

from collections.abc import Callable

from lark import Lark

from netcheck.language import read
from netcheck.language.loading import parser
from netcheck.language.source import cut

from ..circuit.generated import a_set
from .test_solver import seconds

Note = Callable[[str, object], None]

READ_MARK, READ_BOUND = 3.0, 3.0
GRAMMAR_MARK, GRAMMAR_BOUND = 2.0, 2.0
RUNS = 15
TOKENS_ONLY = r"""
start: (STRING | SIGN | WORD)*
STRING: /"[^"]*"/
SIGN: /[,:]/
WORD: /[^\s,:"]+/
%ignore /\s+/
"""


def test_reading_costs_little_more_than_parsing(record_property: Note) -> None:
    text = a_set(29, 100)
    statements = [each.text for each in cut(text, "set").statements]
    assert len(statements) >= 95
    tokens = Lark(TOKENS_ONLY, parser="lalr", lexer="contextual", propagate_positions=True)
    shipped = parser()

    def bare() -> None:
        for each in statements:
            shipped.parse(each, start="statement")

    def least() -> None:
        for each in statements:
            tokens.parse(each)

    assert not read(text).findings
    ours = seconds(lambda: read(text), RUNS)
    parse, token = seconds(bare, RUNS), seconds(least, RUNS)
    record_property("reading [ms]", f"{ours * 1e3:.1f}")
    record_property("bare parse [ms]", f"{parse * 1e3:.1f}")
    record_property("bare tokens [ms]", f"{token * 1e3:.1f}")
    record_property(f"reading / parse (mark {READ_MARK:g})", f"{ours / parse:.2f}")
    record_property(f"grammar / tokens (mark {GRAMMAR_MARK:g})", f"{parse / token:.2f}")
    assert ours <= READ_BOUND * parse
    assert parse <= GRAMMAR_BOUND * token
