"""The language reference keeps its word: every example, list and table of grammar/README.md.

Belongs here: what holds the page, the grammar and the reader together. Does not belong here: what
the page does not say. The blocks between `<!-- made: … -->` and `<!-- end -->` are made from the
reader's own lists; run this file as a program to write them anew after a list has changed.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from lark import Lark
from lark import logger as lark_logger

from netcheck.catalog import tubes
from netcheck.catalog.bases import base_names
from netcheck.chassis import Chassis
from netcheck.findings import Finding
from netcheck.language import read_file
from netcheck.language.connections import EXTRAS
from netcheck.language.files import MOST_BYTES
from netcheck.language.layout import write
from netcheck.language.loading import START_RULES, grammar_text, parser
from netcheck.language.mistakes import EXPECTED, STATEMENT_WORDS
from netcheck.language.quantities import UNITS
from netcheck.language.type_words import FIGURES, KNOWN_ELECTRODES, LIMITS
from netcheck.language.type_words import KINDS as TUBE_KINDS
from netcheck.language.vocabulary import (
    FORBIDDEN_NODES,
    KINDS,
    LETTERS,
    NODE_SYNONYMS,
    WINDING_SYNONYMS,
    WINDINGS,
    phrase,
    word_list,
)

PAGE = Path(__file__).resolve().parents[2] / "grammar" / "README.md"
TEXT = PAGE.read_text(encoding="utf-8")


@dataclass(frozen=True)
class Block:
    """A fenced block: the words behind its fence, its text, its line on the page."""

    tag: str
    text: str
    line: int


def _blocks() -> Iterator[Block]:
    for match in re.finditer(r"(?ms)^```(.*?)\n(.*?)^```$", TEXT):
        yield Block(match[1], match[2], TEXT.count("\n", 0, match.start()) + 1)


BLOCKS = list(_blocks())
FILES = {b.tag.partition("=")[2]: b.text for b in BLOCKS if b.tag.startswith("chassis file=")}
SHOWN = [b for b in BLOCKS if b.tag == "chassis" or b.tag.startswith("chassis file=")]
MARKED = [b for b in BLOCKS if b.tag in ("chassis refused", "chassis notice")]


def _read(block: Block, folder: Path) -> Chassis:
    """Read a block in a folder with the files that other blocks of the page make."""
    for name, text in FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    file = folder / "block.chassis"
    file.write_text(block.text, encoding="utf-8")
    return read_file(file)


# --- blocks -------------------------------------------------------------------------------------


def test_every_block_has_a_known_tag() -> None:
    known = {"chassis", "chassis refused", "chassis notice", ""}

    assert {b.tag for b in BLOCKS} - {f"chassis file={name}" for name in FILES} <= known
    assert len(SHOWN) > 30
    assert len(MARKED) > 25


@pytest.mark.parametrize("block", SHOWN, ids=lambda block: f"line {block.line}")
def test_a_block_reads_without_a_finding(block: Block, tmp_path: Path) -> None:
    chassis = _read(block, tmp_path)

    assert [(f.span.line, f.message, f.action) for f in chassis.findings] == []
    assert chassis.was_read


@pytest.mark.parametrize("block", SHOWN, ids=lambda block: f"line {block.line}")
def test_a_block_laid_out_is_the_same_set(block: Block, tmp_path: Path) -> None:
    chassis = _read(block, tmp_path)

    again = _read(Block("", write(chassis), 0), tmp_path)

    assert again == chassis
    assert write(again) == write(chassis)


def _promises(block: Block) -> dict[int, list[str]]:
    """Line of the block -> the pieces of the sentence that is promised for it."""
    return {
        number + 1: [piece.strip() for piece in match[1].split("…") if piece.strip()]
        for number, line in enumerate(block.text.split("\n"), start=1)
        if (match := re.match(r"# (?:refused|notice): (.*)", line))
    }


@pytest.mark.parametrize("block", MARKED, ids=lambda block: f"line {block.line}")
def test_a_marked_line_is_told_as_the_page_says(block: Block, tmp_path: Path) -> None:
    chassis = _read(block, tmp_path)
    promised = _promises(block)

    told: dict[int, list[Finding]] = {}
    for finding in chassis.findings:
        told.setdefault(finding.span.line, []).append(finding)
    assert promised
    assert {line: len(found) for line, found in told.items()} == dict.fromkeys(promised, 1), [
        (f.span.line, f.message) for f in chassis.findings
    ]
    for line, pieces in promised.items():
        sentence = f"{told[line][0].message} | {told[line][0].action}"
        assert [piece for piece in pieces if piece not in sentence] == [], sentence
    assert chassis.was_read == (block.tag == "chassis notice")


def test_the_error_shown_is_the_one_that_comes(tmp_path: Path) -> None:
    (shown,) = [b for b in BLOCKS if b.tag == ""]
    source, underline, message, remedy = shown.text.rstrip("\n").split("\n")
    numbered = re.match(r" *(\d+)  (.*)", source)
    assert numbered is not None
    number, text = numbered.groups()

    (found,) = _read(Block("", "line none\n" * (int(number) - 1) + text, 0), tmp_path).findings

    assert found.message == message.strip()
    assert found.action == remedy.replace("to do", "").strip()
    start = source.index(text) + found.span.column - 1
    width = found.span.end_column - found.span.column
    assert underline == " " * start + "=" * width


# One letter or sign taken out of a line, once each; the page says: one slip is one finding.
SLIPS = [
    "R2 3.3 meg 20%, masured 4.4 meg: A1 to B-",
    "C15 .02 mfd 200 V film, rplaces .02 mfd 600 V paper: A1 to B-",
    "R6 cntrol, 500K: DET to VOL to B-",
    "R6 control, 500K adio taper: DET to VOL to B-",
    "R6 control, 500K audio tper: DET to VOL to B-",
    "P1 plug, not plarized, rubber cord: 1 LA, 2 LB",
    "DS1 lmp 47: A1 to B-",
    "C1A 8 mfd electrolytic, mrk half-moon: + A1, - B-",
    "T2 output, pimary 190 ohm, secondary .4 ohm: primary A1 to B1, secondary VC to VCR",
    "T2 output, primary 190 ohm, secondary .4 ohm: pimary A1 to B1, secondary VC to VCR",
    "T2 output, primary 190 ohm\n   primary A1 to B1, secondary VC to VCR",
    "V3 12AV6: plate A1, grid G\n   cathode B-",
    "V3 12AV: plate A1, grid G, cathode B-\nR1 1K: V3.plate to V3.grid",
    "S2 on the back: ON LINE to SWITCHED",
    "C2 4.7 nF 250 VAC class 2: B- to CHASSIS",
    "L1 coil: A1 to B1, C to D",
    "R1 1K, replaces 2K, replaces 3K: A1 to B-",
    "R1 1K: A1 to\nR2 1K: R1.b to B-",
    "L2 coil, .8-4 ohm: B- OSCTAP to OSC",
    "R25 metal clad, 45-210 ohm: CHASSIS BIAS3 to BIAS",
    "T1 IF, secondary 14 ohm: primary A1 to B2\n   secondary C to D",
    "C1A 33 mfd electrolytic, restuffed\n   replaces 30 mfd electrolytic: + A1, - B-",
    "P1 plug, not polarized\n   1 LA, 2 LB",
    "C16 8 mfd electrolytic\n   + A1, - B-",
    "R1 470K replaces 500K: A1 to B-",
    "V1 6V6 replaces 6F6: plate A1",
]


@pytest.mark.parametrize("text", SLIPS)
def test_one_slip_is_one_finding(text: str, tmp_path: Path) -> None:
    chassis = _read(Block("", text, 0), tmp_path)

    assert len(chassis.findings) == 1, [(f.span.line, f.message) for f in chassis.findings]
    assert not chassis.was_read


# --- made tables --------------------------------------------------------------------------------


def _ticked(words: Iterable[str]) -> str:
    return ", ".join(f"`{word}`" for word in words)


def _letters() -> str:
    rows = "\n".join(f"| {letters} | {kind} |" for letters, kind in LETTERS.items())
    return f"| letters | what |\n| --- | --- |\n{rows}"


def _units() -> str:
    by_unit: dict[tuple[str, str], list[str]] = {}
    for spelling, unit in UNITS.items():
        by_unit.setdefault((unit.role, unit.canonical), []).append(spelling)
    rows = "\n".join(
        f"| {role.replace('voltage-ac', 'AC voltage')} | `{canonical}` | {_ticked(spellings)} |"
        for (role, canonical), spellings in sorted(by_unit.items())
    )
    return f"| quantity | layout | written |\n| --- | --- | --- |\n{rows}"


def _kind_words(kind: str) -> str:
    letters = " or ".join(letter for letter, named in LETTERS.items() if named == kind)
    own = sorted(KINDS[kind].words)
    others = []
    for said in word_list(kind):
        meant = phrase(kind, said.split())
        if said in own or meant is None or meant[0] in ((), tuple(said.split())):
            continue
        others.append(f"`{said}` → {' '.join(meant[0])}")
    text = f"**{kind}** ({letters}): {_ticked(own)}."
    return f"{text} Also {', '.join(sorted(others))}." if others else text


def _words() -> str:
    empty = [said for said in word_list("load") if phrase("load", said.split()) == ((), 1)]
    passed = f"Passed over, in every kind: {_ticked(sorted(empty))}."
    return "\n\n".join([*(_kind_words(kind) for kind in KINDS), passed])


def _windings() -> str:
    others = ", ".join(f"`{said}` → {meant}" for said, meant in sorted(WINDING_SYNONYMS.items()))
    return f"The names of windings: {_ticked(WINDINGS)}. Also {others}."


def _extras() -> str:
    rows = "\n".join(f"| {kind} | {_ticked(words)} |" for kind, words in EXTRAS.items())
    return f"| part | mechanical terminals |\n| --- | --- |\n{rows}"


def _types() -> str:
    limits: dict[str, list[str]] = {}
    for word, dimension in LIMITS:
        limits.setdefault(word, []).append(dimension.replace("voltage-ac", "AC voltage"))
    rows = "\n".join(f"| `{word}` | {', '.join(each)} |" for word, each in sorted(limits.items()))
    figures = "\n".join(f"| `{word}` | {dimension} |" for word, dimension in FIGURES.items())
    return (
        f"The kinds: {_ticked(TUBE_KINDS)}.\n\nThe bases: {_ticked(sorted(base_names()))}.\n\n"
        f"The electrodes: {_ticked(sorted(KNOWN_ELECTRODES))}; `heater` twice is its two ends.\n\n"
        f"| `limit` | value |\n| --- | --- |\n{rows}\n\n"
        f"| figure of a `point` | value |\n| --- | --- |\n{figures}"
    )


MADE: dict[str, Callable[[], str]] = {
    "letters": _letters, "units": _units, "words": _words, "windings": _windings,
    "extras": _extras, "types": _types,
}  # fmt: skip
_MADE = r"(?s)<!-- made: {} -->\n.*?<!-- end -->"


def _framed(name: str) -> str:
    return f"<!-- made: {name} -->\n{MADE[name]()}\n<!-- end -->"


def _rewrite() -> None:
    text = TEXT
    for name in MADE:
        whole, framed = re.compile(_MADE.format(name)), _framed(name)
        text = whole.sub(framed.replace("\\", r"\\"), text)
    PAGE.write_text(text, encoding="utf-8")


@pytest.mark.parametrize("name", MADE)
def test_a_list_of_the_page_is_the_reader_s_own(name: str) -> None:
    found = re.findall(_MADE.format(name), TEXT)

    assert found == [_framed(name)], f"run: python {Path(__file__).name}"


def test_no_made_list_is_forgotten() -> None:
    assert sorted(re.findall(r"<!-- made: (\w+) -->", TEXT)) == sorted(MADE)


# --- the page against the grammar ---------------------------------------------------------------


def test_every_statement_has_its_heading() -> None:
    rules = re.findall(r"(?m)^(\w+)_statement:", grammar_text())
    headings = re.findall(r"(?m)^### `([a-z ]+)`$", TEXT)

    assert sorted(heading.split()[0] for heading in headings) == sorted(rules)
    assert set(rules) == set(STATEMENT_WORDS)


def test_every_letter_has_its_heading() -> None:
    headings = re.findall(r"(?m)^### ([A-Z]{1,2}(?:, [A-Z]{1,2})*)$", TEXT)

    assert sorted(letter for heading in headings for letter in heading.split(", ")) == sorted(
        LETTERS
    )


def test_every_letter_is_in_an_example() -> None:
    lines = "\n".join(block.text for block in SHOWN)

    for letters in LETTERS:
        assert re.search(rf"(?m)^{letters}\d+[A-Z]?\b.*", lines), letters


def test_every_word_that_opens_a_clause_is_on_the_page_and_in_an_example() -> None:
    lines = "\n".join(block.text for block in SHOWN)

    words = (
        "class", "measured", "or", "running", "hot", "surge", "to", "on", "in", "mark", "reversed",
        "not fitted", "new", "restuffed", "removed", "replaces", "each", "?",
    )  # fmt: skip
    for word in words:
        assert f"`{word}" in TEXT, word
        assert re.search(rf"(?<!\w){re.escape(word)}(?!\w)", lines), word


@pytest.mark.parametrize("name", sorted(FORBIDDEN_NODES | set(NODE_SYNONYMS)))
def test_every_name_with_a_meaning_of_its_own_is_on_the_page(name: str) -> None:
    section = TEXT[TEXT.index("\n## Names") : TEXT.index("\n## Quantities")]

    assert re.search(rf"(?<![\w+-]){re.escape(name)}(?![\w+-])", section)


def test_every_word_of_the_table_of_electrodes_means_what_it_says() -> None:
    rows = re.findall(r"(?m)^\| `([\w-]+)` \| (\w+) \| `([\w-]+)` \|$", TEXT)

    assert len(rows) > 15
    for word, name, meant in rows:
        tube = tubes.find_tube(name)
        assert tube is not None, name
        assert tubes.electrode(tube, word) == meant, (word, name)


def test_links_of_the_page_lead_to_its_headings() -> None:
    headings = re.findall(r"(?m)^#+ (.*)$", TEXT)
    anchors = {re.sub(r"[^\w\- ]", "", h.lower()).replace(" ", "-") for h in headings}

    assert set(re.findall(r"\]\(#([^)]*)\)", TEXT)) <= anchors


def test_the_limits_of_the_page_are_the_reader_s() -> None:
    assert f"| the text of one file | {MOST_BYTES / 1e6:.0f} MB |" in TEXT
    assert (TEXT.count("| 50 |"), TEXT.count("| 200 |")) == (1, 1)  # test_files.py tries them


# --- the grammar --------------------------------------------------------------------------------


def test_every_sign_of_the_grammar_has_a_name_for_sentences() -> None:
    signs = {t.name for t in parser().terminals if not t.name.startswith("__IGNORE")}

    assert signs | {"$END"} == set(EXPECTED)


@pytest.mark.parametrize(
    ("start", "text"),
    [
        ("statement", "R1 470K 1/2 W: A to B"),
        ("description", "470K 1/2 W, replaces 500K"),
        ("tube_description", "12AV6 metal, replaces 6F6"),
        ("terminals", "plate A, 3 B, heater C to D"),
    ],
)
def test_every_start_rule_parses(start: str, text: str) -> None:
    assert start in START_RULES
    assert len(START_RULES) == 4
    assert parser().parse(text, start=start).data == start


def _conflicts(grammar: str, start: list[str]) -> list[str]:
    """What lark's table builder resolved by itself: it tells so in its log, when asked to."""
    told: list[str] = []

    class Listener(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            told.append(record.getMessage())

    listener, level = Listener(), lark_logger.level
    lark_logger.addHandler(listener)
    lark_logger.setLevel(logging.DEBUG)
    try:
        Lark(grammar, parser="lalr", lexer="contextual", start=start, debug=True)
    finally:
        lark_logger.removeHandler(listener)
        lark_logger.setLevel(level)
    return [each for each in told if "conflict" in each.casefold()]


def test_the_grammar_has_no_conflict() -> None:
    assert _conflicts(grammar_text(), list(START_RULES)) == []


def test_a_conflict_would_be_seen() -> None:
    dangling = 'start: "i" start | "i" start "e" start | "x"'

    assert _conflicts(dangling, ["start"]) != []


if __name__ == "__main__":
    _rewrite()
