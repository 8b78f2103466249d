"""Component data of other distributions: taken in row by row, refused by name where wrong."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from .installing import install

DATA = {"netcheck.catalog": {"club": "club_data:data"}}
HEADER = (
    "name,aliases,glass,metal,kind,base,basing,heating,heater_v,heater_a,tap_v,pins,rating_system,"
    "limits,like,points_like,sources,note"
)
TRIODE = (
    "9ZZ9,9ZZ9GT,,,triode,octal,,indirect,6.3,0.3,,2=heater1 3=plate 5=g1 7=heater2 8=cathode,"
    "design-centre,plate-v=250 plate-w=2.5,,,pins=list heater=list limits=list rating-system=list,"
)
LIKE = "8ZZ8,,,,,,,,12.6,0.15,,,,,6SN7GT,,heater=list,made up"
SOURCES = 'key,source\nlist,"from memory, made up for a test"\n'
POINTS = (
    "type,section,use,volts,milliamps,gm_umho,rp_ohm,mu,cathode_ohm,load_ohm,output_w,source,note\n"
    "9ZZ9,,class A1 amplifier,plate=250 g1=-8,plate=9,2600,7700,20,,,,list,\n"
)
LAMPS = "designation,v,a,base,bead,source\n999,6.3,0.15,screw,brown,from memory\n"


def club(folder: Path, tubes: str = TRIODE, **more: str) -> dict[str, str]:
    tables = {"tubes": f"{HEADER}\n{tubes}\n", "sources": SOURCES, "points": POINTS, **more}
    files = {f"club_data/data/{name}.csv": text for name, text in tables.items() if text}
    files["club_data/__init__.py"] = (
        "from pathlib import Path\ndef data():\n    return Path(__file__).parent / 'data'\n"
    )
    return install(folder, "club-data", DATA, files)


def test_a_tube_of_another_distribution_is_known_and_says_whose_it_is(
    netcheck: Any, tmp_path: Path
) -> None:
    env = club(tmp_path, f"{TRIODE}\n{LIKE}", lamps=LAMPS)
    assert netcheck("plugins", **env).returncode == 0
    told = json.loads(netcheck("tube", "9zz9-gt", "--as", "json", **env).stdout)["tube"]
    assert (told["name"], told["heater_volts"]) == ("9ZZ9", 6.3)
    assert "brought by club-data" in told["note"]
    assert {each["from_memory"] for each in told["sources"]} == {True}
    assert told["points"][0]["mu"] == 20
    like = json.loads(netcheck("tube", "8ZZ8", "--as", "json", **env).stdout)["tube"]
    assert (like["base"], like["heater_volts"]) == ("octal", 12.6)


def test_a_set_with_it_is_solved(netcheck: Any, tmp_path: Path) -> None:
    text = (
        "line none\nhold B+ 250 V\nV1 9ZZ9: plate X1, grid X2, cathode X3, heater X4 to B-\n"
        "R1 47K 1 W, new: B+ to X1\nR2 2.2K 1/2 W, new: X3 to B-\nR3 470K 1/2 W, new: X2 to B-\n"
    )
    (tmp_path / "mine.chassis").write_text(text)
    without = json.loads(netcheck("lint", "mine.chassis", "--as", "json").stdout)["sets"][0]
    assert "unknown-tube" in {each["rule"] for each in without["findings"]}
    (told,) = json.loads(netcheck("lint", "mine.chassis", "--as", "json", **club(tmp_path)).stdout)[
        "sets"
    ]
    assert (told["read"], told["solved"]) == (True, True)
    assert "unknown-tube" not in {each["rule"] for each in told["findings"]}


REFUSED = {
    "taken": (TRIODE.replace("9ZZ9,9ZZ9GT", "6SN7GT,"), "the name 6SN7GT is taken by netcheck"),
    "alias taken": (TRIODE.replace("9ZZ9GT", "ecc83"), "the name ecc83 is taken by netcheck"),
    "twice": (f"{TRIODE}\n{TRIODE}", "the name 9ZZ9 is taken by club-data"),
    "no base": (TRIODE.replace("octal", "oktal"), "'oktal' is no base"),
    "no pin": (TRIODE.replace("8=cathode", "9=cathode"), "the base octal has no pin 9"),
    "no electrode": (TRIODE.replace("3=plate", "3=anode"), "anode on pin 3 is no electrode"),
    "a pin twice": (TRIODE.replace("3=plate", "2=plate"), "cannot read '2=plate'"),
    "no kind": (TRIODE.replace("triode,", "triod,"), "'triod' is no kind"),
    "no number": (TRIODE.replace("6.3", "about 6"), "could not convert"),
    "nan": (TRIODE.replace("6.3", "nan"), "must be above zero"),
    "negative": (TRIODE.replace("plate-w=2.5", "plate-w=-2"), "must be above zero"),
    "no limit": (TRIODE.replace("plate-w", "plate-x"), "plate-x is no limit"),
    "no source": (TRIODE.replace("pins=list ", ""), "its pins has no source"),
    "lost source": (TRIODE.replace("pins=list", "pins=book"), "its source book is not among"),
    "like nothing": (LIKE.replace("6SN7GT", "7QQ7"), "it is like 7QQ7, not known here"),
}  # fmt: skip


@pytest.mark.parametrize(("row", "said"), REFUSED.values(), ids=REFUSED.keys())
def test_a_row_that_is_wrong_is_refused_by_name_and_the_rest_stays(
    netcheck: Any, tmp_path: Path, row: str, said: str
) -> None:
    right = TRIODE.replace("9ZZ9,9ZZ9GT", "7YY7,")
    env = club(tmp_path, f"{right}\n{row}", points="")
    listed = netcheck("plugins", **env)
    assert listed.returncode == 2
    assert said in " ".join(listed.stdout.split())
    assert netcheck("tube", "7YY7", **env).returncode == 0
    assert "brought by" not in netcheck("tube", "6SN7GT", **env).stdout


BROKEN = {
    "no such column": ({"lamps": "designation,colour\n999,blue\n"}, "has no column colour"),
    "cells missing": ({"tubes": "9ZZ9,x"}, "wrong number of cells"),
    "no text": ({"lamps": LAMPS.replace("6.3", "much")}, "could not convert"),
    "lamp taken": ({"lamps": LAMPS.replace("999", "No. 47")}, "the name is taken by netcheck"),
    "point of another": ({"points": POINTS.replace("9ZZ9", "6J5")}, "brings no type of that name"),
    "odd volts": ({"points": POINTS.replace("plate=250", "plate=nan")}, "are no numbers"),
}


@pytest.mark.parametrize(("tables", "said"), BROKEN.values(), ids=BROKEN.keys())
def test_a_table_that_is_wrong_is_told(
    netcheck: Any, tmp_path: Path, tables: dict[str, str], said: str
) -> None:
    env = club(tmp_path, **tables)
    assert said in " ".join(netcheck("plugins", **env).stdout.split())
    done = netcheck("lint", "-", stdin="line none\nR1 1K 1 W: B+ to B-\n", **env)
    assert (done.returncode, done.stderr) == (0, "")
    assert "plugin-failed" in done.stdout


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("return 'no/such/folder'", "which is no folder"),
        ("return 7", "it returned a int, no folder and no tables"),
        ("return {'valves': []}", "there is no table valves"),
        ("return {'tubes': [None]}", "could not be loaded"),
        ("raise OSError('no disk')", "no disk"),
    ],
)
def test_a_callable_that_returns_something_else_is_told(
    netcheck: Any, tmp_path: Path, body: str, said: str
) -> None:
    env = install(tmp_path, "club-data", DATA, {"club_data.py": f"def data():\n    {body}\n"})
    listed = netcheck("plugins", **env)
    assert (listed.returncode, listed.stderr) == (2, "")
    assert said in " ".join(listed.stdout.split())


def test_rows_may_come_from_python(netcheck: Any, tmp_path: Path) -> None:
    row = {"name": "8ZZ8", "like": "6SN7GT", "heater_v": 12.6, "heater_a": 0.15,
           "sources": "heater=list", "note": "made up"}  # fmt: skip
    rows = {"tubes": [row], "sources": [{"key": "list", "source": "from memory"}]}
    files = {"club_data.py": f"def data():\n    return {rows!r}\n"}
    env = install(tmp_path, "club-data", DATA, files)
    told = json.loads(netcheck("tube", "8ZZ8", "--as", "json", **env).stdout)["tube"]
    assert told["heater_volts"] == 12.6
