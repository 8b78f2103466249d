"""A saved result appears whole or not at all, and never over another file by surprise."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from netcheck.output.saving import NotSaved, check_target, save


def test_a_result_is_saved(tmp_path: Path) -> None:
    save(str(tmp_path / "out"), ["a", "\u96fb"], replace=False)
    assert (tmp_path / "out").read_bytes() == "a\n\u96fb\n".encode()
    assert os.listdir(tmp_path) == ["out"]


def test_a_file_is_not_overwritten_without_being_told_to(tmp_path: Path) -> None:
    target = tmp_path / "out"
    target.write_text("mine")
    with pytest.raises(NotSaved, match="there already; add --replace"):
        check_target(str(target), replace=False)
    with pytest.raises(NotSaved, match="there already; add --replace"):
        save(str(target), ["yours"], replace=False)
    assert target.read_text() == "mine"
    assert os.listdir(tmp_path) == ["out"]


def test_a_file_is_overwritten_when_told_to_and_keeps_its_mode(tmp_path: Path) -> None:
    target = tmp_path / "out"
    target.write_text("old")
    target.chmod(0o640)
    save(str(target), ["new"], replace=True)
    assert target.read_text() == "new\n"
    assert target.stat().st_mode & 0o777 == 0o640


def test_replacing_through_a_link_keeps_the_link(tmp_path: Path) -> None:
    (tmp_path / "real").write_text("old")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    save(str(tmp_path / "link"), ["new"], replace=True)
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_text() == "new\n"


@pytest.mark.parametrize("replace", [True, False])
def test_nothing_is_left_when_making_the_result_fails(tmp_path: Path, replace: bool) -> None:
    def broken() -> Iterator[str]:
        yield "half"
        raise ValueError("no more")

    with pytest.raises(ValueError, match="no more"):
        save(str(tmp_path / "out"), broken(), replace)
    assert os.listdir(tmp_path) == []


def test_a_set_being_read_is_never_the_target(tmp_path: Path) -> None:
    mine = tmp_path / "mine.chassis"
    mine.write_text("set")
    (tmp_path / "other-name").symlink_to(mine)
    with pytest.raises(NotSaved, match="one of the sets being read"):
        check_target(str(tmp_path / "other-name"), replace=True, read=["gone", str(mine)])


def test_a_target_that_is_no_file_is_refused(tmp_path: Path) -> None:
    for target in (str(tmp_path), os.devnull):
        with pytest.raises(NotSaved, match="no ordinary file"):
            check_target(target, replace=True)


def test_a_target_without_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(NotSaved, match="folder does not exist"):
        check_target(str(tmp_path / "gone" / "out"), replace=False)


def test_a_folder_that_cannot_be_written_ends_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(NotSaved, match=r"nothing is saved to .*no such file"):
        save(str(tmp_path / "gone" / "out"), ["a"], replace=False)
