"""Data files are read whole or refused; citations never dangle; loading stays cheap."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from netcheck.catalog import tables
from netcheck.catalog.bases import base_names, legal_pins
from netcheck.catalog.published import rectifier_loads, resistance_coupled
from netcheck.catalog.tubes import all_tubes, find_tube


def test_a_missing_file_is_said_so() -> None:
    with pytest.raises(tables.CatalogueError, match="nothing"):
        tables.read_csv("nothing.csv")


def test_a_dangling_citation_is_refused() -> None:
    with pytest.raises(tables.CatalogueError, match="nobody"):
        tables.citation("rca+nobody")


def test_several_citations_are_joined() -> None:
    assert tables.citation("rca+lovell").count(";") == 1


def test_every_citation_is_used() -> None:
    folder = Path(tables.__file__).parent / "data"
    cells = " ".join((folder / name).read_text("utf-8") for name in CITING)
    keys = [row["key"] for row in tables.read_csv("sources.csv")]
    assert len(set(keys)) == len(keys)
    assert [key for key in keys if key not in cells] == []


CITING = ("tubes.csv", "points.csv", "rectifier-loads.csv", "resistance-coupled.csv")


def test_application_tables_belong_to_types() -> None:
    names = {row["type"] for row in tables.read_csv("rectifier-loads.csv")}
    names |= {n for row in tables.read_csv("resistance-coupled.csv") for n in row["types"].split()}
    assert names <= set(all_tubes())
    assert len(names) >= 14


def test_application_tables_in_si_units() -> None:
    rectifier, triode = find_tube("35W4"), find_tube("6J5")
    assert rectifier is not None
    assert triode is not None
    load = rectifier_loads(rectifier)[0]
    assert (load.plate_ac_v, load.output_v, load.output_a) == (117.0, 120.0, 0.1)
    assert load.reservoir_f == pytest.approx(40e-6)
    assert rectifier_loads(triode) == ()
    stages = resistance_coupled(triode)
    assert len(stages) == 9
    assert stages[0].coupling_f == pytest.approx(0.06e-6)
    assert resistance_coupled(rectifier) == ()


@pytest.mark.parametrize("base", base_names())
def test_a_base_counts_its_pins_from_one(base: str) -> None:
    pins = legal_pins(base)
    assert pins is not None
    assert pins[0] == "1"
    assert pins[-1] == "cap"


def test_base_aliases() -> None:
    assert legal_pins("noval") == legal_pins("9-pin miniature")
    assert legal_pins("B8A") == legal_pins("rimlock")
    assert legal_pins("banana") is None


def test_finding_one_tube_builds_no_other_and_reads_no_toml() -> None:
    code = (
        "import sys, netcheck.catalog.tubes as t; "
        "t.find_tube('12AX7'); "
        "assert t._build.cache_info().currsize == 1, t._build.cache_info(); "
        "assert t.read_csv.cache_info().currsize <= 3; "
        "from netcheck.catalog.tables import read_toml; "
        "assert read_toml.cache_info().currsize == 0"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
