"""Files of a set: what `use` brings in, and the fence around what it may reach.

Belongs here: paths, encodings, sizes, cycles, and the file names that findings carry. Does not
belong here: what a set means.
"""

from __future__ import annotations

import re
import sys
import time
from pathlib import Path

import pytest

from netcheck.chassis import Chassis
from netcheck.findings import Finding
from netcheck.language import read, read_file

TYPE = "type 6ZZ6 triode, pins 1 plate 2 grid 3 cathode\n"


def _write(folder: Path, **files: str) -> Path:
    """Files `name.chassis` in a folder; returns the one called `main`."""
    for name, text in files.items():
        (folder / f"{name}.chassis").write_text(text, encoding="utf-8")
    return folder / "main.chassis"


def _only(chassis: Chassis) -> Finding:
    (found,) = chassis.findings
    assert not chassis.was_read
    assert found.rule == "unreadable"
    return found


# --- what a used file brings --------------------------------------------------------------------


def test_a_used_file_brings_types_parts_and_wires(tmp_path: Path) -> None:
    main = _write(
        tmp_path,
        main='use "more.chassis"\nline 117 V 60 Hz\nV1 6ZZ6: plate A1, grid G, cathode B-\n',
        more=TYPE + "R1 470K: A1 to B+\nwire B+ to SUPPLY\n",
    )

    chassis = read_file(main)

    assert chassis.findings == ()
    assert [part.ref for part in chassis.parts] == ["R1", "V1"]
    assert chassis.net("SUPPLY") == "B+"
    assert chassis.uses == ("more.chassis",)
    assert [tube.name for tube in chassis.types] == ["6ZZ6"]


def test_the_place_of_use_does_not_matter_for_types(tmp_path: Path) -> None:
    main = _write(tmp_path, main='V1 6ZZ6: plate A1\nuse "more.chassis"\n', more=TYPE)

    assert read_file(main).findings == ()


def test_a_used_file_may_use_another_beside_itself(tmp_path: Path) -> None:
    (tmp_path / "tubes").mkdir()
    (tmp_path / "tubes" / "a.chassis").write_text('use "b.chassis"\n')
    (tmp_path / "tubes" / "b.chassis").write_text(TYPE)
    main = _write(tmp_path, main='use "tubes/a.chassis"\nV1 6ZZ6: plate A1\n')

    assert read_file(main).findings == ()


def test_a_file_of_a_folder_below_may_use_one_above_within_the_sets_folder(tmp_path: Path) -> None:
    (tmp_path / "tubes").mkdir()
    (tmp_path / "tubes" / "a.chassis").write_text('use "../b.chassis"\n')
    main = _write(tmp_path, main='use "tubes/a.chassis"\nV1 6ZZ6: plate A1\n', b=TYPE)

    assert read_file(main).findings == ()


@pytest.mark.parametrize(
    "statement",
    [
        "line 117 V 60 Hz", "measure from B-", "touchable: CHASSIS", "reading A1 100 V",
        "hold A1 100 V", 'accept loose-end: "why"', "policy touch-current class strict",
        "switch S1 at ON",
    ],
)  # fmt: skip
def test_what_belongs_to_the_set_may_not_stand_in_a_used_file(
    tmp_path: Path, statement: str
) -> None:
    main = _write(
        tmp_path,
        main='use "more.chassis"\n',
        more=f"R1 1K: A1 to B-\nS1: ON A1 to B-\n{statement}\n",
    )

    found = _only(read_file(main))

    word = re.match(r"\w+", statement)
    assert word is not None
    assert f"`{word.group()}` stands in a file that another set uses" in (found.message)
    assert (Path(found.span.file).name, found.span.line) == ("more.chassis", 3)


def test_title_and_comments_of_a_used_file_stay_its_own(tmp_path: Path) -> None:
    main = _write(
        tmp_path,
        main='set "mine"\n# my remark\nuse "more.chassis"\n',
        more='set "theirs"\n# their remark\nR1 1K: A1 to B-\n',
    )

    chassis = read_file(main)

    assert chassis.findings == ()
    assert chassis.title == "mine"
    assert [remark.text for remark in chassis.remarks] == ["my remark"]


def test_findings_in_a_used_file_carry_its_name_line_and_text(tmp_path: Path) -> None:
    main = _write(
        tmp_path, main='# one\nuse "more.chassis"\n', more="# two\n\nR1 1K: V9.plate to B-\n"
    )

    found = _only(read_file(main))

    assert Path(found.span.file) == tmp_path / "more.chassis"
    assert (found.span.line, found.span.column) == (3, 8)
    assert found.line_text == "R1 1K: V9.plate to B-"


def test_one_reference_in_two_files_is_a_twin(tmp_path: Path) -> None:
    main = _write(tmp_path, main='R1 1K: A1 to B-\nuse "more.chassis"\n', more="R1 2K: A1 to B-\n")

    (found,) = read_file(main).findings

    assert found.rule == "twin-reference"
    assert {Path(found.span.file).name, Path(found.related[0].span.file).name} == {
        "main.chassis", "more.chassis",
    }  # fmt: skip


# --- the fence ----------------------------------------------------------------------------------


@pytest.fixture
def fenced(tmp_path: Path) -> Path:
    """A folder for the set, with a file outside it that must never be read."""
    folder = tmp_path / "set"
    folder.mkdir()
    (tmp_path / "outside.chassis").write_text(TYPE)
    return folder


def _uses(folder: Path, name: str) -> Finding:
    main = _write(folder, main=f'line none\nuse "{name}"\n')
    chassis = read_file(main)
    found = _only(chassis)
    assert (found.span.file, found.span.line) == (str(main), 2)
    assert chassis.types == ()
    assert chassis.line is not None, "what stands beside the broken `use` is still read"
    return found


@pytest.mark.parametrize(
    "name", ["../outside.chassis", "a/../../outside.chassis", "./../set/../outside.chassis"]
)
def test_use_cannot_climb_out_of_the_folder(fenced: Path, name: str) -> None:
    assert "outside the folder of this set" in _uses(fenced, name).message


def test_use_takes_no_absolute_path(fenced: Path) -> None:
    name = fenced.parent / "outside.chassis"

    assert "outside the folder of this set" in _uses(fenced, name.as_posix()).message


@pytest.mark.skipif(sys.platform == "win32", reason="links need a privilege there")
@pytest.mark.parametrize("linked", ["file", "folder"])
def test_use_follows_no_link_out_of_the_folder(fenced: Path, linked: str) -> None:
    if linked == "file":
        (fenced / "link.chassis").symlink_to(fenced.parent / "outside.chassis")
        name = "link.chassis"
    else:
        (fenced / "link").symlink_to(fenced.parent)
        name = "link/outside.chassis"

    assert "outside the folder of this set" in _uses(fenced, name).message


@pytest.mark.skipif(sys.platform == "win32", reason="links need a privilege there")
def test_a_link_within_the_folder_is_fine(fenced: Path) -> None:
    (fenced / "real.chassis").write_text(TYPE)
    (fenced / "link.chassis").symlink_to(fenced / "real.chassis")
    main = _write(fenced, main='use "link.chassis"\nV1 6ZZ6: plate A1\n')

    assert read_file(main).findings == ()


@pytest.mark.skipif(sys.platform == "win32", reason="links need a privilege there")
def test_a_link_that_points_at_itself_is_one_finding(fenced: Path) -> None:
    (fenced / "loop.chassis").symlink_to(fenced / "loop.chassis")

    assert "loop.chassis" in _uses(fenced, "loop.chassis").message


def test_the_set_may_be_reached_from_another_folder(
    fenced: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _write(fenced, main='use "more.chassis"\nV1 6ZZ6: plate A1\n', more=TYPE)
    monkeypatch.chdir(fenced.parent)

    assert read_file("set/main.chassis").findings == ()


def test_a_text_without_a_file_uses_nothing() -> None:
    found = _only(read('use "more.chassis"'))

    assert "read from a text, not from a file" in found.message


# --- circles and repeats ------------------------------------------------------------------------


def test_a_file_that_uses_itself_is_told_so(fenced: Path) -> None:
    assert "uses itself" in _uses(fenced, "main.chassis").message


def test_two_files_that_use_each_other_end(fenced: Path) -> None:
    main = _write(
        fenced, main='use "more.chassis"\n', more='use "main.chassis"\n' + "R1 1K: A1 to B-\n"
    )

    chassis = read_file(main)

    assert "uses itself" in _only(chassis).message
    assert [part.ref for part in chassis.parts] == ["R1"]


def test_a_file_used_twice_is_told_so_and_read_once(fenced: Path) -> None:
    main = _write(
        fenced, main='use "more.chassis"\nuse "./more.chassis"\n', more="R1 1K: A1 to B-\n"
    )

    chassis = read_file(main)

    assert "used already" in _only(chassis).message
    assert len(chassis.parts) == 1


def test_a_set_uses_fifty_files_and_not_one_more(fenced: Path) -> None:
    most = 49  # with the set's own file: fifty
    for number in range(most + 1):
        (fenced / f"t{number}.chassis").write_text(TYPE.replace("6ZZ6", f"6Z{number}"))
    lines = [f'use "t{number}.chassis"\n' for number in range(most + 1)]

    allowed = read_file(_write(fenced, main="".join(lines[:-1])))
    found = _only(read_file(_write(fenced, main="".join(lines))))

    assert allowed.findings == ()
    assert "more than 50 files" in found.message
    assert found.span.line == most + 1


# --- files that are none ------------------------------------------------------------------------


def test_a_missing_file_is_one_finding(tmp_path: Path) -> None:
    chassis = read_file(tmp_path / "none.chassis")

    assert "there is no file" in _only(chassis).message
    assert chassis.file == str(tmp_path / "none.chassis")


def test_a_missing_used_file_is_told_at_its_use(fenced: Path) -> None:
    assert "there is no file" in _uses(fenced, "none.chassis").message


def test_a_folder_is_no_file(fenced: Path) -> None:
    (fenced / "tubes").mkdir()

    assert "is no file" in _only(read_file(fenced)).message
    assert "is no file" in _uses(fenced, "tubes").message


@pytest.mark.parametrize("name", ["", "a\x00b", "x" * 5000, "nul\\|?*"])
def test_a_name_that_no_file_can_have_is_one_finding(fenced: Path, name: str) -> None:
    if "\x00" in name:
        chassis = read_file(f"{fenced}/{name}")
        _only(chassis)
    else:
        _uses(fenced, name)


def test_what_is_not_utf8_is_told_with_its_line(tmp_path: Path) -> None:
    main = tmp_path / "main.chassis"
    main.write_bytes("# one\nR1 470 K: A1 to B-  # 1½ W\n".encode("latin-1"))

    found = _only(read_file(main))

    assert "is not UTF-8 text" in found.message
    assert "line 2" in found.message
    assert "save it as UTF-8" in found.action


def test_what_is_not_utf8_in_a_used_file_is_told_at_its_use(fenced: Path) -> None:
    (fenced / "more.chassis").write_bytes(b"\xff\xfe\x00")

    assert "is not UTF-8 text" in _uses(fenced, "more.chassis").message


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_byte_order_marks_and_line_ends_do_not_matter(
    tmp_path: Path, mark: bytes, end: bytes
) -> None:
    main = tmp_path / "main.chassis"
    main.write_bytes(mark + end.join([b"line none", b"R1 1K: V9.plate to B-", b""]))

    found = _only(read_file(main))

    assert (found.span.line, found.span.column) == (2, 8)
    assert found.line_text == "R1 1K: V9.plate to B-"


def test_five_megabytes_are_refused_unread(tmp_path: Path) -> None:
    main = tmp_path / "main.chassis"
    main.write_bytes(b"# a remark of some length, over and over again\n" * 110_000)

    chassis = read_file(main)

    found = _only(chassis)
    assert "5.17 MB" in found.message
    assert "at most 1 MB" in found.message
    assert chassis.texts == {}


def test_a_megabyte_is_still_read(tmp_path: Path) -> None:
    main = tmp_path / "main.chassis"
    remark = "# a remark\n"
    text = remark * (1_000_000 // len(remark) - 1) + "line none\n"
    main.write_text(text)

    chassis = read_file(main)

    assert len(text) <= 1_000_000
    assert chassis.findings == ()
    assert chassis.line is not None


def test_a_used_file_that_is_too_large_is_told_at_its_use(fenced: Path) -> None:
    (fenced / "more.chassis").write_bytes(b"#" * 1_000_001)

    assert "at most 1 MB" in _uses(fenced, "more.chassis").message


@pytest.mark.parametrize("text", ["", "\n\n", "   \t\n", "# a remark\n# --- a heading\n", "\ufeff"])
def test_nothing_at_all_is_a_finding_and_no_set(tmp_path: Path, text: str) -> None:
    main = _write(tmp_path, main=text)

    _only(read_file(main))
    _only(read(text))


def test_a_used_file_may_hold_nothing_but_remarks(fenced: Path) -> None:
    main = _write(fenced, main='use "more.chassis"\nline none\n', more="# nothing yet\n")

    assert read_file(main).findings == ()


def test_more_than_two_hundred_mistakes_stop_the_reading(tmp_path: Path) -> None:
    main = _write(tmp_path, main="zzz\n" * 1000)

    chassis = read_file(main)

    assert len(chassis.findings) == 200
    assert "more than 200 mistakes" in chassis.findings[-1].message
    assert not chassis.was_read


@pytest.mark.parametrize(
    "text",
    [
        "line none\n" + "\n".join(f"R{k} 1K: R{k + 1}.a to B-" for k in range(1, 3000)),
        "V1 12AV6: " + ",\n".join(f"plate N{k}x" for k in range(8000)),
        "line none\n" + "R1 1K: AA to B-\n" * 4000,
        "R1 470K " + "1" * 20_000 + ": AA to BB",
        "R1 " + "A " * 20_000 + ": AA to BB",
    ],
    ids=["a chain of terminals", "a line without end", "twins", "digits", "words"],
)
def test_reading_grows_with_the_text_and_not_with_its_square(text: str) -> None:
    start = time.process_time()
    read(text)

    # Some ten times what it takes; a quadratic reader takes minutes.
    assert time.process_time() - start < 20
