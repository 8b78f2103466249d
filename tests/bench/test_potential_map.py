"""The map: every part in the panel where a reader looks for it, no panel for one part."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import pytest

from netcheck.bench.dossier import Dossier
from netcheck.bench.potential_map import COLUMNS, Panel, PotentialMap
from tests.bench.conftest import EXAMPLES, example

NAMES = sorted(path.stem for path in EXAMPLES.glob("*.chassis"))


@cache
def map_of(name: str) -> PotentialMap:
    return Dossier(example(name)).map


def home(name: str, ref: str, label: str = "") -> str:
    """The title of the panel in which a part (or its winding of this name) stands."""
    (found,) = {
        panel.title.partition(",")[0]
        for panel in map_of(name).panels
        for part in panel.parts
        if part.ref == ref and label in part.label
    }
    return found


@pytest.mark.parametrize(
    ("name", "ref", "label", "panel"),
    [
        ("larkfield-five-restored", "LS1", "", "V4 50C5"),
        ("larkfield-five-restored", "T2", "secondary", "V4 50C5"),
        ("larkfield-five-restored", "L1", "antenna", "V1 12BE6"),
        ("tansley-console-restored", "L6", "", "V4 6F6"),  # hum bucking, in the voice coil's loop
        ("tansley-console-restored", "L1", "primary", "V1 6A8"),
        ("plovermere-three-way-restored", "R8", "", "V3 1U5"),  # the dropper of its own screen
        ("plovermere-three-way-restored", "L2", "tickler", "V1 1R5"),
        (
            "ellernbach-live-restored",
            "C10",
            "",
            "V1 UCH81",
        ),  # a trimmer, though the chassis is live
        ("pennick-phonograph-restored", "LS2", "", "V3 50C5"),
        ("tansley-console-restored", "C16", "", "supply"),
        ("larkfield-five-restored", "C20", "", "heaters and line"),
    ],
)
def test_a_part_stands_with_its_stage(name: str, ref: str, label: str, panel: str) -> None:
    assert home(name, ref, label) == panel


@pytest.mark.parametrize("name", NAMES)
def test_no_panel_is_left_with_one_part_of_many(name: str) -> None:
    panels = map_of(name).panels
    for one, other in pairwise(panels):
        if other.title.startswith(one.title):  # the same stage going on
            assert abs(one.columns - other.columns) <= 1
            assert other.columns <= COLUMNS


@pytest.mark.parametrize("name", NAMES)
def test_what_shares_a_column_is_in_series_or_apart(name: str) -> None:
    for panel in map_of(name).panels:
        row = {each.net: k for k, each in enumerate(panel.rows)}
        columns: dict[int, list[tuple[int, int]]] = {}
        for part in panel.parts:
            columns.setdefault(part.column, []).append((row[part.top], row[part.bottom]))
        for spans in columns.values():
            spans.sort()
            assert all(a[1] <= b[0] for a, b in pairwise(spans))


def strings(panel: Panel) -> list[float]:
    return [row.ac_v for row in panel.rows if row.ac_v is not None]


def test_a_heater_string_runs_from_the_line_down_to_the_return() -> None:
    panel = next(
        p for p in map_of("larkfield-five-restored").panels if p.title.startswith("heaters")
    )
    alternating = strings(panel)
    assert alternating == sorted(alternating, reverse=True)
    kinds = [
        row.ac_v is None for row in panel.rows if row.ac_v is not None or row.volts is not None
    ]
    assert kinds == sorted(kinds)  # what stands at DC, the return, comes below
