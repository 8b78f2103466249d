"""What people read: 78 columns, the mark under the right words, nothing that acts on a terminal."""

from __future__ import annotations

import re
import unicodedata

import pytest

from netcheck.findings import Calculation, Harm, Related, Signal, Span
from netcheck.output.cautions import CAUTIONS
from netcheck.output.text import lines
from netcheck.rules._runner import Report

from .sets import TEXT, finding, full_report, report, span_of

EXPECTED = """\
2. WARNING (shock)  line-capacitor-class
   invented.chassis, line 5

     5  C21  .05 mfd 400 V paper:   B- to CHASSIS
        ===
   C21 joins B- and CHASSIS and has no class; when it shorts, CHASSIS is live
   state     line high, plug reversed
   why       A paper capacitor of that age leaks, then shorts. A paper
             capacitor of that age leaks, then shorts. A paper capacitor of
             that age leaks, then shorts.
   sum       current if CHASSIS is touched: 2.21 mA; limit 0.5 mA
             2 x pi x 60 Hz x 0.05 uF x 117 V = 2.21 mA
   sum       resistance: unknown ohm
   to do     fit 0.0047 uF class Y2
"""


def text_of(*reports: Report, looked_for: tuple[str, ...] = ()) -> str:
    return "\n".join(lines(reports, looked_for)) + "\n"


def shown_columns(line: str) -> int:
    """Columns of a line, counted here anew and not by the code under test."""
    count = 0
    for character in line:
        if unicodedata.combining(character):
            continue
        count += 2 if unicodedata.east_asian_width(character) in "WF" else 1
    return count


def column_of(line: str, words: str) -> int:
    return shown_columns(line[: line.index(words)])


def mark_under(text: str) -> tuple[str, str]:
    """The line of the set and its underline in a report."""
    listed = text.split("\n")
    number = next(n for n, line in enumerate(listed) if re.fullmatch(" +=+", line))
    return listed[number - 1], listed[number]


def test_a_finding_is_laid_out_as_agreed() -> None:
    assert EXPECTED in text_of(full_report())


def test_the_worst_finding_comes_first_as_the_report_has_it() -> None:
    words = re.findall(r"^\d\. (\w+)", text_of(full_report()), re.MULTILINE)
    assert words == ["DANGER", "WARNING", "NOTICE"]


def test_the_heading_has_title_file_and_counts() -> None:
    top = text_of(full_report()).split("\n")[:3]
    assert top == [
        "Larkfield five",
        "file invented.chassis",
        "1 danger, 1 warning, 0 cautions, 1 notice",
    ]


@pytest.mark.parametrize(
    "nasty",
    [
        "R1 " + "x" * 300 + ": A to B",
        "R1 470K, " * 60,
        "\u96fb" * 200,
        "\u26a1 " * 150,
        "a\u0301" * 300,
        "e" + "\u0301" * 500,
        "\t\t\tR1\t470K:\tA to B" * 9,
        "\x1b[31m" * 60,
        "\u202eR1 470K\u202c" * 30,
        "\U0010ffff" * 40,
        "\udc80" * 40,
    ],
)
def test_every_line_fits_78_columns_and_nothing_acts_on_the_terminal(nasty: str) -> None:
    found = finding(
        nasty,
        nasty,
        message=nasty,
        why=nasty,
        action=nasty,
        state=nasty,
        accepted=nasty,
        parts=(nasty,),
        calc=(Calculation(nasty, 1.0, "V", 2.0, nasty),),
        related=(Related(span_of(nasty, nasty), nasty), Related(Span(nasty, 1, 1, 1, 2), "")),
    )
    whole = text_of(Report(report(nasty, title=nasty).chassis, (found,)), looked_for=(nasty,))
    assert max(shown_columns(line) for line in whole.split("\n")) <= 78
    for character in whole.replace("\n", ""):
        assert unicodedata.category(character)[0] != "C", hex(ord(character))


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("R1 470K: A to B", "470K"),
        ("\u26a1 R1 470K: A to B", "470K"),
        ("\u96fb\u6c17 R1 470K: A to B", "470K"),
        ("R\u0301e\u0308 470K: A to B", "470K"),
        ("R1\t470K:\tA to B", "470K"),
        ("\tR1\t\u26a1\t470K:\tA to B", "470K"),
        ("\x1b[1mR1 470K: A to B", "470K"),
        ("\ufeffR1 470K: A to B", "470K"),
        ("\u2066R1 470K: A to B", "470K"),
        ("R1 " + "composition " * 12 + "470K: A to B" + " and more" * 20, "470K"),
    ],
)
def test_the_underline_lies_under_the_marked_words(line: str, words: str) -> None:
    shown, under = mark_under(text_of(report(line, finding(line, words))))
    assert column_of(shown, words) == under.index("=")
    assert under.count("=") == len(words)


def test_a_mark_on_a_wide_word_is_as_wide_as_the_word() -> None:
    line = "R1 \u96fb\u6c17 A"
    _, under = mark_under(text_of(report(line, finding(line, "\u96fb\u6c17"))))
    assert under.count("=") == 4


def test_a_mark_past_the_end_of_the_line_still_shows() -> None:
    line = "R1 470K"
    found = finding(line, "R1")
    past = Span(found.span.file, 1, 40, 1, 44)
    moved = type(found)("past", Harm.DAMAGE, "m", past, line_text=line)
    shown, under = mark_under(text_of(report(line, moved)))
    assert len(under) <= len(shown) + 1


def test_a_mark_over_several_lines_is_told_with_its_last_line() -> None:
    text = "R1 470K:\n  A to B"
    found = finding(text, "R1")
    long = type(found)("long", Harm.DAMAGE, "m", Span(found.span.file, 1, 4, 2, 5), line_text=text)
    whole = text_of(report(text, long))
    assert "lines 1 to 2" in whole
    assert mark_under(whole)[1].endswith("=====")


def test_control_characters_of_the_set_are_shown_by_their_number() -> None:
    line = "R1 \x1b[31m\u202e\x07: A to B"
    whole = text_of(report(line, finding(line, "R1")))
    assert r"\x1b[31m\u202e\x07" in whole


def test_many_other_places_are_all_told() -> None:
    text = "\n".join(f"C{n} .01 mfd paper: A to B" for n in range(1, 31))
    related = tuple(Related(span_of(text, f"C{n} "), "paper, original") for n in range(1, 31))
    whole = text_of(report(text, finding(text, "C1 ", related=related)))
    assert whole.count("paper, original") == 1
    for number in range(1, 31):
        assert re.search(rf"\b{number}\b", whole.partition("paper, original")[2])
    assert "and 18 more" in whole


def test_a_place_in_another_file_names_that_file() -> None:
    related = (Related(Span("types.chassis", 3, 1, 3, 5), "defined here"),)
    whole = text_of(report(TEXT, finding(TEXT, "C21", related=related)))
    assert "in types.chassis:" in whole
    assert "not at hand" in whole


def test_an_accepted_finding_prints_its_reason() -> None:
    assert 'accepted  "for show only, never powered"' in text_of(full_report())


def test_what_was_not_checked_is_told_by_reason_and_with_parts() -> None:
    whole = text_of(full_report())
    assert "* touch-current (C21), fuse-rating: no line voltage is stated" in whole
    assert "what the text does not say; and workmanship" in " ".join(whole.split())


def test_a_set_without_findings_is_told_what_was_looked_for_and_is_no_clearance() -> None:
    clean = full_report()
    bare = Report(clean.chassis, (), clean.not_checked)
    whole = text_of(bare, looked_for=("aged-cord", "touch-current"))
    assert "That is no clearance" in whole
    looked_for = next(line for line in whole.split("\n") if line.startswith("Looked for"))
    assert "aged-cord" in looked_for
    assert "touch-current" not in looked_for


@pytest.mark.parametrize("findings", [True, False])
def test_no_output_ever_clears_a_set(findings: bool) -> None:
    made = full_report()
    whole = text_of(made if findings else Report(made.chassis, ()), looked_for=("aged-cord",))
    for word in ("safe", "all clear", "no problems", "passed", "ok"):
        assert not re.search(rf"\b{word}\b", whole, re.IGNORECASE), word


def test_every_output_ends_with_the_cautions() -> None:
    flat = " ".join(text_of(full_report()).split())
    ending = flat.partition("Before you touch the set")[2]
    for caution in CAUTIONS:
        assert caution in ending


@pytest.mark.parametrize(
    "subject",
    ["lethal voltages", "isolation transformer", "Discharge", "Local codes", "not a clearance"],
)
def test_the_cautions_speak_of(subject: str) -> None:
    assert subject in " ".join(CAUTIONS)


def test_a_set_not_read_whole_says_so_at_the_top() -> None:
    whole = text_of(report(TEXT, finding(TEXT, "C21"), was_read=False))
    assert whole.index("NOT READ WHOLE") < whole.index("C21")


def test_a_file_that_was_not_read_has_no_line_number() -> None:
    found = finding("x", "x", message="there is no such file", line_text="")
    whole = text_of(Report(type(full_report().chassis)(file="gone", was_read=False), (found,)))
    assert "line 1" not in whole


def test_several_sets_end_with_their_sum() -> None:
    assert "2 sets: 2 dangers, 2 warnings, 0 cautions, 2 notices" in text_of(
        full_report(), full_report()
    )


def test_colour_is_only_there_when_asked_for() -> None:
    assert "\x1b" not in "\n".join(lines([full_report()]))
    coloured = "\n".join(lines([full_report()], colour=True))
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == "\n".join(lines([full_report()]))
    assert coloured.count("\x1b[0m") == 3


def test_every_signal_word_has_a_colour() -> None:
    for harm in Harm:
        whole = "\n".join(lines([report(TEXT, finding(TEXT, "C21", harm=harm))], colour=True))
        assert re.search(rf"\x1b\[[0-9;]+m1\. {harm.signal.value.upper()}", whole)
    assert {harm.signal for harm in Harm} == set(Signal)
