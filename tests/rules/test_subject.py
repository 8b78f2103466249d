"""What a finding is about, in the words that its fingerprint is made from."""

from __future__ import annotations

from netcheck.chassis import Chassis
from netcheck.findings import Calculation, Finding, Harm, Span
from netcheck.language import read
from netcheck.rules._identity import subject

TEXT = """\
set "invented"
R1  470K 1/2 W,
    measured 610K:   X1 to   X2   # a note
R2 1K 1/2 X, # cannot be read
   new: X3 to X2
R3 1K: X4 to X2
wire X9 to X3
wire X3 to A9
reading R1   610K   # as read
reading R1 600K
reading R3 1.1K
"""


def _subject(at: Span | None = None, *, parts: str = "", nodes: str = "", calc: str = "") -> str:
    chassis = _chassis()
    found = Finding(
        "own-rule",
        Harm.RECORD,
        "V1 gets 5.5 V   of R2's 6.3",
        at or Span("set", 1, 1, 1, 4),
        parts=tuple(parts.split()),
        nodes=tuple(nodes.split()),
        state="line high",
        calc=tuple(Calculation(each, 1.0, "V", None, "") for each in calc.split()),
    )
    return subject(chassis, found)


def _chassis() -> Chassis:
    return read(TEXT, "set")


def test_what_is_about_nothing_is_told_by_its_message_without_its_numbers() -> None:
    assert _subject() == "# # #'s V # gets of"


def test_one_part_is_its_words_its_readings_its_state_its_mark_and_what_was_computed() -> None:
    part = _chassis().part("R1")
    assert part is not None
    assert _subject(part.span_of("measured"), parts="R1", calc="R1-drift other") == (
        "R1 470K 1/2 W, measured 610K: X1 to X2\n"
        "reading R1 600K\nreading R1 610K\nline high\nmeasured\n#-drift"
    )
    (first, _) = part.terminals
    assert _subject(first.span, parts="R1").split("\n")[-1] == first.name
    assert _subject(parts="R1").split("\n")[-2:] == ["line high", ""]


def test_a_part_that_cannot_be_read_is_its_text_without_comments_whatever_its_lines() -> None:
    assert _subject(parts="R2").split("\n")[0] == "R2: R2 1K 1/2 X, new: X3 to X2"


def test_a_part_that_is_not_there_is_its_reference() -> None:
    assert _subject(parts="R99") == "R99\nline high\n"


def test_of_several_parts_neither_state_nor_mark_tells() -> None:
    part = _chassis().part("R3")
    assert part is not None
    assert _subject(part.span_of("resistance"), parts="R3 R1", nodes="X2", calc="drift") == (
        "R1 470K 1/2 W, measured 610K: X1 to X2\nR3 1K: X4 to X2\nX2\n"
        "reading R1 600K\nreading R1 610K\nreading R3 1.1K"
    )


def test_a_node_has_the_first_of_its_names_and_stands_once() -> None:
    assert _subject(nodes="X3 X9 X1") == "A9\nX1\nline high\n"
