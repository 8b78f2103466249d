"""Cutting a text into statements: what goes on, what opens anew, and where every sign came from.

Belongs here: line ends, comments, typographic signs, and the map from statements back to lines and
columns. Does not belong here: what a statement means.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from netcheck.findings import Span
from netcheck.language import read
from netcheck.language.source import Source, cut

# What an author's keyboard, a forum or a word processor puts in, and what it stands for.
SIGNS = {
    "\u00a0": " ", "\u2009": " ", "\u202f": " ", "\u3000": " ",
    "\u2010": "-", "\u2011": "-", "\u2013": "-", "\u2014": "-", "\u2212": "-",
    "\u00b5": "u", "\u03bc": "u", "\u03a9": "ohm", "\u2126": "ohm",
    "\u200b": "", "\u00ad": "", "\u00b1": "",
    "\u00bd": "1/2", "\u00bc": "1/4", "\u00be": "3/4",
    "\u201c": '"', "\u201d": '"', "\u201e": '"', "\u00ab": '"', "\u00bb": '"',
    "\U0001f600": "\U0001f600", "e\u0301": "e\u0301", "\u00c4": "\u00c4", "\t": "\t",
}  # fmt: skip
QUOTES = '"\u201c\u201d\u201e\u00ab\u00bb'
BEHIND_A_DIGIT = {"\u00bd": ".5", "\u00bc": ".25", "\u00be": ".75"}

_atoms = st.sampled_from(
    ["R1", "470", "K", "B", "-", "+", " ", " ", "to", "V3.plate", ".05", "mfd", ":", ",", "a", "1"]
    + [sign for sign in SIGNS if sign not in QUOTES]
)
_bodies = st.lists(_atoms, min_size=1, max_size=12).map("".join)
_quoted = st.builds(
    lambda left, inner, right: left + inner.replace("#", "") + right,
    st.sampled_from(QUOTES),
    _bodies,
    st.sampled_from(QUOTES),
)
_lines = st.lists(st.one_of(_bodies, _bodies, _quoted), min_size=1, max_size=3).map("".join)
_texts = st.tuples(
    st.lists(_lines, min_size=1, max_size=5), st.sampled_from(["\n", "\r\n", "\r"])
).map(lambda pair: pair[1].join(pair[0]))


def _physical(text: str) -> list[str]:
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def _at(text: str, span: Span) -> str:
    """What stands at a span of one line."""
    assert span.line == span.end_line
    return _physical(text)[span.line - 1][span.column - 1 : span.end_column - 1]


def _in_plain_signs(written: str) -> str:
    plain = ""
    for sign in written:
        behind_a_digit = sign in BEHIND_A_DIGIT and plain[-1:].isdigit()
        plain += BEHIND_A_DIGIT[sign] if behind_a_digit else SIGNS.get(sign, sign)
    return plain


def _words(source: Source) -> list[tuple[str, Span]]:
    """Every run of signs outside quotation marks, with its place."""
    found = []
    for statement in source.statements:
        outside = re.sub(r'"[^"]*("|$)', lambda m: " " * len(m.group()), statement.text)
        for match in re.finditer(r"[^\s]+", outside):
            found.append((match.group(), statement.span(*match.span())))
    return found


@settings(deadline=None)
@given(_texts)
@example("R1 470K\u00a0½ W, C1 1½ A:\r\n\u2009B–")
@example("\U0001f600\t\u2126 x")
@example("„ä ½“ ½")
def test_every_word_points_at_the_very_signs_it_was_written_in(text: str) -> None:
    for word, span in _words(cut(text, "set")):
        assert _in_plain_signs(_at(text, span)) == word


@settings(deadline=None)
@given(_texts)
def test_every_single_sign_points_at_the_sign_it_stands_for(text: str) -> None:
    for statement in cut(text, "set").statements:
        inside = False
        for offset, plain in enumerate(statement.text):
            inside ^= plain == '"'
            if plain.isspace() or inside:
                continue  # blanks are put in between lines
            written = _at(text, statement.span(offset, offset + 1))
            assert len(written) == 1
            assert plain in SIGNS.get(written, written) + BEHIND_A_DIGIT.get(written, "")


@settings(deadline=None)
@given(_texts)
def test_texts_in_quotation_marks_are_kept_as_they_are(text: str) -> None:
    for statement in cut(text, "set").statements:
        for match in re.finditer(r'"([^"]*)"', statement.text):
            span = statement.span(*match.span())
            if span.line == span.end_line:
                assert _at(text, span)[1:-1] == match.group(1)


@settings(deadline=None)
@given(st.text(max_size=200))
def test_no_text_ends_in_an_exception_and_no_span_leaves_it(text: str) -> None:
    lines = _physical(text.removeprefix("\ufeff"))
    chassis = read(text, "set")

    for finding in chassis.findings:
        span = finding.span
        assert 1 <= span.line <= span.end_line <= len(lines)
        assert span.column >= 1
        assert (span.line, span.column) < (span.end_line, span.end_column)
        assert span.column <= len(lines[span.line - 1]) + 1
        assert span.end_column <= len(lines[span.end_line - 1]) + 2


_grammatical = st.lists(
    st.sampled_from(
        ["R1", "C2A", "V3", "12AV6", "470K", "1/2", "W", ".05 mfd", "?", '"x"', ":", ":", ",", "\n",
         "to", "A", "B-", "+", "-", "replaces", "measured", "or", "on", "not", "fitted", "class",
         "X2", "primary", "heater", "open", "type", "line", "117 V", "60 Hz", "reading", "at",
         "set", "touchable", "accept", "policy", "meter", "#", "½", "use", "wire", "hold",
         "notation", "M", "=", "1000", "switch", "none", "each", "reversed", "mark", "surge", "hot",
         "T1", "L2", "control", "lamp", "47", "pins", "1", "limit", "point", "plate",
         "triode", "V3.plate"]
    ),
    max_size=40,
)  # fmt: skip


@settings(deadline=None)
@given(_grammatical, st.sampled_from([" ", ""]))
def test_no_heap_of_right_words_ends_in_an_exception(words: list[str], joint: str) -> None:
    chassis = read(joint.join(words), "set")

    assert chassis.was_read == (not [f for f in chassis.findings if f.rule != "old-notation"])


# --- what is one statement ----------------------------------------------------------------------


def _cut(text: str) -> list[str]:
    return [" ".join(statement.text.split()) for statement in cut(text, "set").statements]


@pytest.mark.parametrize(
    ("text", "statements"),
    [
        ("R1 1K: A to B\nR2 1K: A to B", ["R1 1K: A to B", "R2 1K: A to B"]),
        ("R1 1K:\n  A to B", ["R1 1K: A to B"]),
        ("R1 1K,\n1 W:\nA to B", ["R1 1K, 1 W: A to B"]),
        ("R1 1K,\n\n\n1 W: A to B", ["R1 1K, 1 W: A to B"]),
        ("R1 1K,   # a remark\n1 W: A to B", ["R1 1K, 1 W: A to B"]),
        ("R1 1K,\n# a remark\n1 W: A to B", ["R1 1K, 1 W: A to B"]),
        ("R1 1K: A\nto B", ["R1 1K: A", "to B"]),
        ("R1 1K,\nR2 1K: A to B", ["R1 1K,", "R2 1K: A to B"]),
        ("R1 1K:\nwire A to B", ["R1 1K:", "wire A to B"]),
        ("touchable: A,\nline 117 V 60 Hz", ["touchable: A,", "line 117 V 60 Hz"]),
        ("touchable: A,\nB1, C1", ["touchable: A, B1, C1"]),
        ("R1 1K,", ["R1 1K,"]),
        ('R1 "a: b,": A to B', ['R1 "a: b,": A to B']),
        ('R1 "a # b": A to B # c', ['R1 "a # b": A to B']),
        ("  \n\t\n# only\n", []),
        ("", []),
    ],
)
def test_a_comma_or_a_colon_at_the_end_goes_on(text: str, statements: list[str]) -> None:
    assert _cut(text) == statements


def test_what_ends_in_a_comma_is_unfinished_and_nothing_else() -> None:
    source = cut("R1 1K,\nR2 1K: A to B\nR3 1K:", "set")

    assert [statement.unfinished for statement in source.statements] == [True, False, True]


# --- comments -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "text", "heading"),
    [
        ("# a remark", "a remark", False),
        ("#a remark", "a remark", False),
        ("R1 1K: A to B  # trailing", "trailing", False),
        ("# --- supply", "supply", True),
        ("#--- supply ---", "supply", True),
        ("# ------ supply ------", "supply", True),
        ("# -- not one", "-- not one", False),
        ("# ---", "", True),
        ("#", "", False),
    ],
)
def test_comments_and_headings_are_told_apart(line: str, text: str, heading: bool) -> None:
    (remark,) = cut(line, "set").remarks

    assert (remark.text, remark.heading) == (text, heading)
    assert _at(line, remark.span) == line[line.index("#") :]


def test_a_byte_order_mark_moves_no_column_and_is_no_sign() -> None:
    chassis = read("\ufeffR1 1K: V33.plate to B-", "set")

    (found,) = chassis.findings
    assert chassis.line_text(found.span)[found.span.column - 1 :].startswith("V33.plate")
    assert (found.span.column, found.span.end_column) == (8, 17)


@pytest.mark.parametrize("sign", ["\x00", "\x1b", "\x7f", "\x85", "\u202e", "\u2066"])
def test_control_signs_are_refused_where_they_stand(sign: str) -> None:
    line = f"R1 1K: A{sign} to B"

    (found,) = read(line, "set").findings

    assert "control character" in found.message
    assert line[found.span.column - 1 : found.span.end_column - 1] == sign
