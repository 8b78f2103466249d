"""Thousands of damaged sets, and every set with one line missing.

Belongs here: that no text, however broken, brings down reading or linting, and that a lost line
costs only what it spoke of. Does not belong here: the wording of any mistake.
"""

from __future__ import annotations

import random
import re
import time
from collections.abc import Callable, Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from lark import Lark

from netcheck.chassis import Chassis
from netcheck.cli import DEBUG, app
from netcheck.findings import Finding
from netcheck.language import read
from netcheck.rules import _base
from netcheck.rules._base import Rule
from netcheck.rules._runner import lint

from .table import EXAMPLES, rules

MUTANTS = 5200
SLOWEST_S = 2.0
_SEED = 20_250_301

# --- ways to damage a text ----------------------------------------------------------------------

_ODD = (
    *"\"#:,.;=%?+-/\\()[]{}<>|&~^`'!$@_\t\v\f\r\0\x1b",
    "\u00a0", "\u200b", "\u202e", "\ufeff", "\u2013", "\u201c", "\u00bd", "\u00b5", "\u03a9",
    "\u00b1", "\u2028", "\U0001f4fb", "\ud800", "\u00e9", "\u0661", "\u00b2", "\u4e00", "\n\n",
    "open", " to ", " replaces ", " or ", " measured ", " on ", " in ", " class ", " not ",
    "340-0-340", "1/0", "9" * 40, "1e999", "0", "-0", "#" * 3, '""', ", ,", ": :", "to to",
    "A" * 5000,
)  # fmt: skip
_UNITS = (
    "mfd", "mmf", "pF", "nF", "uF", "mF", "F", "ohm", "K", "M", "meg", "V", "VAC", "kV", "mA", "A",
    "W", "H", "mH", "uH", "kc", "Hz", "%", "cm", "u", "n", "p", "m", "umho", "k/V", "",
)  # fmt: skip
_UNIT = re.compile(r"(?<=\d)[ ]?(?:mfd|mmf|ohm|meg|mA|VAC|kc|Hz|[KVWAH%])(?![\w])")

Damage = Callable[[random.Random, str], str]


def _place(chance: random.Random, text: str) -> int:
    return chance.randrange(len(text) + 1)


def _delete_characters(chance: random.Random, text: str) -> str:
    at = _place(chance, text)
    return text[:at] + text[at + chance.choice((1, 1, 1, 2, 5, 40)) :]


def _double_characters(chance: random.Random, text: str) -> str:
    at = _place(chance, text)
    length = chance.choice((1, 1, 2, 8))
    return text[:at] + text[at : at + length] * chance.choice((2, 2, 3)) + text[at + length :]


def _swap_characters(chance: random.Random, text: str) -> str:
    at = _place(chance, text)
    return text[:at] + text[at + 1 : at + 2] + text[at : at + 1] + text[at + 2 :]


def _insert_odd(chance: random.Random, text: str) -> str:
    at = _place(chance, text)
    return text[:at] + chance.choice(_ODD) + text[at:]


def _change_case(chance: random.Random, text: str) -> str:
    at = _place(chance, text)
    return text[:at] + text[at : at + 12].swapcase() + text[at + 12 :]


def _truncate(chance: random.Random, text: str) -> str:
    at = _place(chance, text)
    return text[:at] if chance.random() < 0.7 else text[at:]


def _change_unit(chance: random.Random, text: str) -> str:
    units = list(_UNIT.finditer(text))
    if not units:
        return text
    unit = chance.choice(units)
    return text[: unit.start()] + f" {chance.choice(_UNITS)}" + text[unit.end() :]


def _change_number(chance: random.Random, text: str) -> str:
    numbers = list(re.finditer(r"(?<![\w.])[\d.]+", text))
    if not numbers:
        return text
    number = chance.choice(numbers)
    other = chance.choice(("0", "-1", "1e9", "0.000000001", "99999999", "1/3", ".", "1-2-3-4", ""))
    return text[: number.start()] + other + text[number.end() :]


def _lines(work: Callable[[random.Random, list[str]], None]) -> Damage:
    def damage(chance: random.Random, text: str) -> str:
        lines = text.split("\n")
        work(chance, lines)
        return "\n".join(lines)

    return damage


def _delete_line(chance: random.Random, lines: list[str]) -> None:
    del lines[chance.randrange(len(lines))]


def _double_line(chance: random.Random, lines: list[str]) -> None:
    lines.insert(chance.randrange(len(lines)), chance.choice(lines))


def _swap_lines(chance: random.Random, lines: list[str]) -> None:
    one, two = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one], lines[two] = lines[two], lines[one]


def _join_lines(chance: random.Random, lines: list[str]) -> None:
    at = chance.randrange(len(lines))
    lines[at : at + 2] = [" ".join(lines[at : at + 2])]


def _tokens(work: Callable[[random.Random, list[str], list[int]], None]) -> Damage:
    """Damage the words of a text, with what stands between them kept as it is."""

    def damage(chance: random.Random, text: str) -> str:
        pieces = re.split(r"(\s+)", text)
        words = [n for n, piece in enumerate(pieces) if piece and not piece.isspace()]
        if words:
            work(chance, pieces, words)
        return "".join(pieces)

    return damage


def _delete_token(chance: random.Random, pieces: list[str], words: list[int]) -> None:
    pieces[chance.choice(words)] = ""


def _double_token(chance: random.Random, pieces: list[str], words: list[int]) -> None:
    at = chance.choice(words)
    pieces[at] = f"{pieces[at]} {pieces[at]}"


def _swap_tokens(chance: random.Random, pieces: list[str], words: list[int]) -> None:
    one, two = chance.choice(words), chance.choice(words)
    pieces[one], pieces[two] = pieces[two], pieces[one]


def _replace_token(chance: random.Random, pieces: list[str], words: list[int]) -> None:
    pieces[chance.choice(words)] = pieces[chance.choice(words)]


_DAMAGES: tuple[Damage, ...] = (
    _delete_characters, _double_characters, _swap_characters, _insert_odd, _insert_odd,
    _change_case, _truncate, _change_unit, _change_unit, _change_number,
    _lines(_delete_line), _lines(_double_line), _lines(_swap_lines), _lines(_join_lines),
    _tokens(_delete_token), _tokens(_double_token), _tokens(_swap_tokens), _tokens(_replace_token),
    _tokens(_replace_token),
)  # fmt: skip


@cache
def _texts() -> tuple[str, ...]:
    return tuple(example.read_text(encoding="utf-8") for example in EXAMPLES)


def mutant(number: int) -> str:
    """The damaged text of this number: always the same one, of one to four damages.

    Two of three are of a set that is still being typed, as most sets are when they are linted.
    """
    chance = random.Random(_SEED + number)
    text = _texts()[number % len(EXAMPLES)]
    if number % 3:
        lines = text.split("\n")
        length = chance.randrange(10, len(lines) // 2)
        first = chance.randrange(len(lines) - length)
        text = "\n".join(lines[first : first + length])
    for _ in range(chance.choice((1, 1, 2, 3, 4))):
        text = chance.choice(_DAMAGES)(chance, text)
    return text


# --- damaged sets -------------------------------------------------------------------------------


@pytest.fixture
def unchanged_statements_parsed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Parse a statement that thousands of mutants share only once: a parse depends on its text."""
    parse = Lark.parse
    known: dict[tuple[str, str | None], object] = {}

    def remembered(self: Lark, text: str, start: str | None = None, **rest: Any) -> object:
        if (text, start) not in known:
            known[text, start] = parse(self, text, start=start, **rest)
        return known[text, start]

    monkeypatch.setattr(Lark, "parse", remembered)


@pytest.mark.usefixtures("unchanged_statements_parsed_once")
def test_no_damage_brings_down_reading_or_linting(record_property: Callable[..., None]) -> None:
    slowest_s, slowest = 0.0, -1
    started = time.perf_counter()
    for number in range(MUTANTS):
        text = mutant(number)
        before = time.process_time()  # which a busy machine does not lengthen
        try:
            report = lint(read(text), rules())
        except Exception as fault:
            raise AssertionError(f"mutant({number}) raised {fault!r}") from fault
        taken_s = time.process_time() - before
        failed = [found.message for found in report.findings if found.rule == "rule-failed"]
        assert not failed, f"mutant({number}): {failed[0]}"
        if taken_s > slowest_s:
            slowest_s, slowest = taken_s, number

    record_property("mutants", MUTANTS)
    record_property("slowest", f"{slowest_s * 1e3:.0f} ms, mutant({slowest})")
    record_property("whole run", f"{time.perf_counter() - started:.0f} s")
    assert slowest_s < SLOWEST_S


def test_the_mutants_are_damaged_in_many_ways() -> None:
    """Else the tests here would show little: some must be whole still, and none alike."""
    sample = [read(mutant(number)) for number in range(400)]
    whole = sum(chassis.was_read for chassis in sample)
    distinct = {found.message for chassis in sample for found in chassis.findings}

    assert 20 <= whole <= 200
    assert len(distinct) >= 400


@pytest.mark.parametrize("form", ["text", "json"])
def test_the_command_ends_damaged_sets_with_a_status_of_its_own(
    form: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(DEBUG, "1")  # else the command's last net would catch what this looks for
    file = tmp_path / "damaged.chassis"
    for number in range(0, MUTANTS, MUTANTS // 100):
        file.write_bytes(mutant(number).encode("utf-8", "surrogatepass"))

        result = CliRunner().invoke(app, ["lint", "--as", form, str(file)])

        assert result.exit_code in (0, 1, 2), f"mutant({number}): {result.output}"
        assert isinstance(result.exception, SystemExit | None), f"mutant({number})"


# --- one line missing ---------------------------------------------------------------------------

_NAME = re.compile(r"[^\W\d_][\w]*[+\-]*(?:\.[\w]+)?")

# Rule and name of each thing told, with all names in the findings that tell it.
Told = dict[tuple[str, str], list[frozenset[str]]]


class _Names:
    """The parts and nodes of a whole set, found again in texts about it."""

    def __init__(self, whole: Chassis) -> None:
        self.whole = whole
        self.known = {part.ref for part in whole.parts} | set(whole.nodes)
        self.known |= {other for node in whole.nodes.values() for other in node.also}
        # A bulb whose sections have lines of their own is V1 in words about V1A and V1B.
        self.known |= {part.body_ref for part in whole.parts}

    def within(self, text: str) -> set[str]:
        """The names in a text; with `V3.plate` also V3."""
        words = set(_NAME.findall(re.sub(r'"[^"]*"', "", text)))
        words |= {word.partition(".")[0] for word in words}
        return {self.whole.net(word) for word in words if word in self.known}

    def of_statement(self, text: str) -> set[str]:
        """The names in a statement, and the nodes its part's terminals are on."""
        part = self.whole.part(text.split(maxsplit=1)[0])
        nodes = part.nodes if part is not None else ()
        body = {part.body_ref} if part is not None else set()
        return self.within(text) | body | {self.whole.net(node) for node in nodes}

    def told(self, findings: Iterable[Finding]) -> Told:
        """What the findings tell: parts and nodes, with the names in their sentences."""
        told: Told = {}
        for found in findings:
            names = {*found.parts, *(self.whole.net(node) for node in found.nodes)}
            said = " ".join((found.message, *(each.message for each in found.related)))
            for name in names or {""}:
                told.setdefault((found.rule, name), []).append(frozenset(names | self.within(said)))
        return told


def _statement_of(lines: list[str], at: int) -> range:
    """The lines of the statement that line `at` belongs to (continuation by comma or colon)."""
    first = at
    while first > 0 and lines[first - 1].rstrip().endswith((",", ":")):
        first -= 1
    last = at
    while lines[last].rstrip().endswith((",", ":")) and last + 1 < len(lines):
        last += 1
    return range(first, last + 1)


def _changes(example: Path) -> Iterator[tuple[int, str, tuple[str, str], frozenset[str]]]:
    """For every line taken out, what is told or not told that the line did not speak of."""
    text = example.read_text(encoding="utf-8")
    lines = text.split("\n")
    whole = read(text)
    names = _Names(whole)
    asked = [each for each in rules() if not _asks_for_volts(each)]
    before = names.told(lint(whole, asked).findings)
    for at, line in enumerate(lines):
        if not line.strip():
            continue
        statement = _statement_of(lines, at)
        spoken_of = names.of_statement(" ".join(lines[n] for n in statement))
        found = lint(read("\n".join(lines[:at] + lines[at + 1 :])), asked).findings
        # What is left of a statement of several lines (1-based) may say anything about itself.
        remains = range(statement[0] + 1, statement[-1] + 1)
        after = names.told(each for each in found if each.span.line not in remains)
        apart = names.told(each for each in found if each.span.line in remains)
        for key in before.keys() ^ (after.keys() | apart.keys()):
            told = before.get(key) or after.get(key)
            if told and not any(spoken_of & each for each in told):
                yield at + 1, line.strip(), key, told[0]


_VOLTS = re.compile(
    r"_(?:operating|bias|drift|sweep|rectifiers|unloaded|heaters|taps)\b"
    r"|\.(?:operating|assumed|unsolved)\b|circuit\.line_side\b"
)


def _asks_for_volts(rule: Rule) -> bool:
    """Whether a rule judges by voltages, or by what was assumed to find them.

    A line of the supply moves every voltage of a set, so what such a rule tells without it may name
    parts far away, and rightly so.
    """
    file = Path(_base.__file__).with_name(rule.name.replace("-", "_") + ".py")
    return _VOLTS.search(file.read_text(encoding="utf-8")) is not None


@pytest.fixture
def nothing_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    """The runner itself asks for no operating point: what it says of it is not looked at here."""
    monkeypatch.setattr("netcheck.rules._runner._computed", lambda circuit: ((), None))


# Lines that speak of the whole set; what they change names no part of theirs.
_OF_THE_WHOLE_SET = re.compile(r"(set|line|measure|touchable|accept|policy)\b")


@pytest.mark.parametrize(
    "example", [e for e in EXAMPLES if e.stem.endswith("-restored")], ids=lambda path: path.stem
)
@pytest.mark.usefixtures("unchanged_statements_parsed_once", "nothing_solved")
def test_a_lost_line_costs_only_what_it_spoke_of(example: Path) -> None:
    astray = [
        f"without line {line} ({text}): {rule} on {name or 'the set'} {sorted(names)}"
        for line, text, (rule, name), names in _changes(example)
        if not _OF_THE_WHOLE_SET.match(text)
    ]

    assert astray == []


def test_some_rules_judge_by_voltages_and_as_many_do_not() -> None:
    asking = {each.name for each in rules() if _asks_for_volts(each)}

    assert {"dissipation", "voltage-rating", "coupling-leakage", "assumed-values"} <= asking
    assert not {"unfused-hot-lead", "line-capacitor-class", "aged-capacitor"} & asking
    assert 0.3 < len(asking) / len(rules()) < 0.6


@pytest.mark.parametrize(
    "example", [e for e in EXAMPLES if e.stem.endswith("-restored")], ids=lambda path: path.stem
)
def test_every_rule_bears_a_lost_line(example: Path) -> None:
    """Every 15th line taken out, voltages and all: no rule fails, whatever the set is then."""
    lines = example.read_text(encoding="utf-8").split("\n")
    for at in range(7, len(lines), 15):
        found = lint(read("\n".join(lines[:at] + lines[at + 1 :])), rules()).findings
        failed = [each.message for each in found if each.rule == "rule-failed"]
        assert failed == [], f"line {at + 1} of {example.stem}"
