"""The tube law against points and voltages whose source was seen.

Factory voltage sheets carry +-20 % themselves; D1 and D3 are their names in the project's issues.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pytest
from scipy.optimize import root

from netcheck.catalog.tubes import all_tubes, find_tube
from netcheck.circuit.tube_fit_check import families, hard_pairs
from netcheck.circuit.tube_laws import TubeLaw, law_of

Record = Callable[[str, object], None]


def law(name: str) -> TubeLaw:
    tube = find_tube(name)
    assert tube is not None
    found = law_of(tube)
    assert found is not None
    return found


def currents(of: TubeLaw, volts: Mapping[str, float]) -> dict[str, float]:
    amperes, _ = of.currents([[volts.get(name, 0.0) for name in of.terminals]])
    return dict(zip(of.terminals, amperes[0], strict=True))


@pytest.mark.parametrize(
    ("name", "volts", "plate", "milliamps"),
    [
        # 12AX7 data sheet copied as text, guitarkitbuilder.com.
        ("12AX7", {"plate1": 250.0, "grid1": -2.0}, "plate1", 1.2),
        # Wikipedia 6SN7 infobox.
        ("6SN7", {"plate1": 250.0, "grid1": -8.0}, "plate1", 9.0),
        # Japanese battery-tube page: plate volts, plate current, transconductance.
        ("1T4", {"plate": 90.0, "g2": 67.5, "heater2": 1.4}, "plate", 3.5),
        ("3S4", {"plate": 90.0, "g2": 67.5, "g1": -7.0, "heater1": 1.4, "heater2": 1.4},
         "plate", 7.4),
        # Wikipedia 6L6 infobox (GE Essential Characteristics 1973).
        ("6L6", {"plate": 350.0, "g2": 250.0, "g1": -18.0}, "plate", 54.0),
    ],
)  # fmt: skip
def test_points_that_were_seen(
    name: str, volts: Mapping[str, float], plate: str, milliamps: float
) -> None:
    assert currents(law(name), volts)[plate] * 1e3 == pytest.approx(milliamps, rel=0.03)


def test_seen_points_foretold_from_others(record_property: Record) -> None:
    """Pairs whose foretold row was seen; 12AU7's current and 12AT7's bias in it are from memory."""
    found = [
        pair
        for family in families(all_tubes().values())
        for pair in hard_pairs(family.values())
        if not pair.asked.point.source.startswith("from memory")
    ]
    errors = np.abs([pair.error for pair in found])
    for pair in found:
        record_property("pair", pair.label)
    record_property("median", f"{np.median(errors):.2%}")
    record_property("worst", f"{errors.max():.2%}")
    assert len(found) >= 4
    assert errors.max() <= 0.20


def stage(supply_v: float, plate_ohm: float, cathode_ohm: float) -> tuple[float, float]:
    """Plate and cathode volts of a high-mu triode with cathode bias and 1 megohm at its grid."""
    of = law("12AX7")

    def balance(x: np.ndarray) -> list[float]:
        plate_v, cathode_v, grid_v = x
        into = currents(of, {"plate1": plate_v, "cathode1": cathode_v, "grid1": grid_v})
        return [
            ((supply_v - plate_v) / plate_ohm - into["plate1"]) * 1e3,
            (cathode_v / cathode_ohm + into["cathode1"]) * 1e3,
            (grid_v / 1e6 + into["grid1"]) * 1e6,
        ]

    solved = root(balance, [supply_v / 2, 1.5, 0.0])
    assert solved.success
    return float(solved.x[0]), float(solved.x[1])


@pytest.mark.parametrize(
    ("section", "plate_ohm", "cathode_ohm", "published_v"),
    [
        ("V1A", 100e3, 1500.0, 148.0),
        ("V1B", 100e3, 2700.0, 169.0),
        ("V2A", 220e3, 2700.0, 133.0),
        ("V2B", 220e3, 2700.0, 129.0),
    ],
)
def test_preamplifier_d3(
    section: str, plate_ohm: float, cathode_ohm: float, published_v: float, record_property: Record
) -> None:
    """Fender Champ 12 sheet (scan in profedney/tubeamps), A+ pinned at 226 V: plates within 7 %."""
    plate_v, cathode_v = stage(226.0, plate_ohm, cathode_ohm)
    record_property(
        section, f"{plate_v:.1f} V, sheet {published_v:g} ({plate_v / published_v - 1:+.1%})"
    )
    assert plate_v == pytest.approx(published_v, rel=0.07)
    computed_v = (226.0 - published_v) / plate_ohm * cathode_ohm
    assert cathode_v == pytest.approx(computed_v, rel=0.15)


@pytest.mark.parametrize(
    ("section", "plate_v", "cathode_v"),
    [("V1A", 155.0, 1.5), ("V1B", 160.0, 1.3), ("V2A", 160.0, None)],
)
def test_open_amplifier_d1_stages(
    section: str, plate_v: float, cathode_v: float | None, record_property: Record
) -> None:
    """Fender 5F11 sheet (scan in profedney/tubeamps), B+3 pinned at 260 V: within 15 %."""
    plate, cathode = stage(260.0, 100e3, 1500.0)
    record_property(section, f"{plate:.1f} V, sheet {plate_v:g} ({plate / plate_v - 1:+.1%})")
    assert plate == pytest.approx(plate_v, rel=0.15)
    if cathode_v is not None:
        assert cathode == pytest.approx(cathode_v, rel=0.15)


def test_open_amplifier_d1_phase_splitter(record_property: Record) -> None:
    """The same sheet: 205 V, 50 V and 48.7 V within 15 %; the grid's leak returns to the tap."""
    of = law("12AX7")

    def balance(x: np.ndarray) -> list[float]:
        plate_v, cathode_v, grid_v, tap_v = x
        into = currents(of, {"plate2": plate_v, "cathode2": cathode_v, "grid2": grid_v})
        return [
            ((260.0 - plate_v) / 56e3 - into["plate2"]) * 1e3,
            ((cathode_v - tap_v) / 1500.0 + into["cathode2"]) * 1e3,
            ((grid_v - tap_v) / 1e6 + into["grid2"]) * 1e6,
            ((tap_v - cathode_v) / 1500.0 + tap_v / 56e3 + (tap_v - grid_v) / 1e6) * 1e3,
        ]

    solved = root(balance, [200.0, 50.0, 48.0, 48.7])
    assert solved.success
    record_property("plate, cathode, tap", [round(float(solved.x[k]), 1) for k in (0, 1, 3)])
    assert solved.x[[0, 1, 3]] == pytest.approx([205.0, 50.0, 48.7], rel=0.15)
