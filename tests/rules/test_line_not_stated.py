"""Where the missing line is shown in a set whose parts come from another file.

Belongs here: places that a text of one file cannot show. Does not belong here: everything else
about the rule (its examples, tests/told/corners/line-not-stated.txt).
"""

from __future__ import annotations

from pathlib import Path

from netcheck.findings import Span
from netcheck.language import read_file
from netcheck.rules import builtin
from netcheck.rules._runner import lint

USED = "R1 1K 1 W 10%: B+ to B-\n"


def _at(folder: Path, text: str) -> Span:
    (folder / "used.chassis").write_text(USED, encoding="utf-8")
    path = folder / "set.chassis"
    path.write_text(text, encoding="utf-8")
    rules = [rule for rule in builtin() if rule.name == "line-not-stated"]
    (found,) = [f for f in lint(read_file(path), rules).findings if f.rule == "line-not-stated"]
    return found.span


def test_the_start_of_a_set_whose_parts_are_all_in_another_file_is_shown(tmp_path: Path) -> None:
    at = _at(tmp_path, '# a note\nuse "used.chassis"\n')
    assert Path(at.file).name == "set.chassis"
    assert (at.line, at.column, at.end_line, at.end_column) == (1, 1, 1, 2)


def test_the_first_part_of_the_set_itself_is_shown_before_one_of_another_file(
    tmp_path: Path,
) -> None:
    at = _at(tmp_path, 'use "used.chassis"\nR2 1K 1 W 10%: B+ to B-\n')
    assert Path(at.file).name == "set.chassis"
    assert at.line == 2
