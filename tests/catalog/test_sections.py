"""The streams of a tube follow from its kind and electrodes, for built-in and home-made types."""

from __future__ import annotations

import pytest

from netcheck.catalog.sections import build_sections, terminal_names
from netcheck.catalog.tubes import find_tube
from netcheck.parts import Section


def sections(name: str) -> tuple[Section, ...]:
    tube = find_tube(name)
    assert tube is not None
    return tube.sections


@pytest.mark.parametrize(
    ("name", "kinds"),
    [
        ("12AV6", ["triode", "diode", "diode"]),
        ("EABC80", ["triode", "diode", "diode", "diode"]),
        ("12AX7", ["triode", "triode"]),
        ("50C5", ["beam pentode"]),
        ("24A", ["tetrode"]),
        ("35/51", ["tetrode"]),
        ("6SK7", ["pentode"]),
        ("45", ["triode"]),
        ("12BE6", ["converter"]),
        ("6A8", ["converter", "triode"]),
        ("7A8", ["converter", "triode"]),
        ("1R5", ["converter"]),
        ("ECH81", ["converter", "triode"]),
        ("6K8", ["converter", "triode"]),
        ("80", ["rectifier", "rectifier"]),
        ("25Z6", ["rectifier", "rectifier"]),
        ("35W4", ["rectifier"]),
        ("6E5", ["triode", "target"]),
        ("1S5", ["pentode", "diode"]),
        ("UBF89", ["pentode", "diode", "diode"]),
        ("UCL82", ["pentode", "triode"]),
        ("6H6", ["diode", "diode"]),
    ],
)
def test_kinds_of_the_sections(name: str, kinds: list[str]) -> None:
    assert [section.kind for section in sections(name)] == kinds


def test_a_converter_names_the_signal_grid_first() -> None:
    assert sections("12BE6")[0] == Section(
        "converter", "converter", "plate", "cathode", ("g3", "g1"), "g2"
    )
    assert sections("6A8") == (
        Section("converter", "converter", "plate", "cathode", ("g4", "g1"), "g3"),
        Section("oscillator", "triode", "g2", "cathode", ("g1",)),
    )
    assert sections("ECH81")[0].controls == ("g1", "g3")
    assert sections("6K8")[0].controls == ("g3", "g1")


def test_cathodes() -> None:
    assert [s.cathode for s in sections("25Z6")] == ["cathode1", "cathode2"]
    assert [s.cathode for s in sections("6SC7")] == ["cathode", "cathode"]
    assert [s.cathode for s in sections("5Y3GT")] == ["heater1", "heater1"]
    assert [s.cathode for s in sections("5V4G")] == ["heater2", "heater2"]
    assert {s.name: s.cathode for s in sections("EABC80")}["diode2"] == "cathode2"
    assert sections("1T4")[0].cathode == "heater1"
    assert sections("UCL82")[1].cathode == "triode-cathode"


def test_an_unknown_kind_or_a_missing_plate_gives_no_section() -> None:
    assert build_sections("gas regulator", {"1": ("plate",), "2": ("cathode",)}) == ()
    assert build_sections("triode", {"1": ("g1",), "2": ("cathode",)}) == ()
    assert build_sections("pentagrid converter", {"1": ("g1",)}) == ()


def test_a_type_of_a_file_is_read_by_the_same_law() -> None:
    pins = {"1": ("g1",), "2": ("cathode", "g3"), "5": ("plate",), "6": ("g2",)}
    assert build_sections("beam pentode", pins) == (
        Section("pentode", "beam pentode", "plate", "cathode", ("g1",), "g2"),
    )


def test_joined_electrodes_take_the_first_name_on_the_pin() -> None:
    names = terminal_names({"1": ("heater1", "g3"), "5": ("heater1", "g3"), "6": ()}, ["plate"])
    assert names == {"heater1": "heater1", "g3": "heater1", "plate": "plate"}
