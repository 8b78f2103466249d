"""Fitting: closed forms, several points, what is stored equals what is fitted now."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from netcheck.catalog.published import RectifierLoad, rectifier_loads
from netcheck.catalog.tables import numbers, read_csv
from netcheck.catalog.tubes import all_tubes, find_tube
from netcheck.circuit.tube_fit import NoFit, fit_split, fit_triode, least_squares
from netcheck.circuit.tube_fit_check import families, predict, section_fit
from netcheck.circuit.tube_fit_readings import Reading, readings
from netcheck.circuit.tube_fit_rectifier import fit_rectifier, loaded_output_v
from netcheck.circuit.tube_fit_store import laws_text, new_fits
from netcheck.parts import OperatingPoint, TubeType


def tube(name: str) -> TubeType:
    found = find_tube(name)
    assert found is not None
    return found


def reading(**values: float | None) -> Reading:
    given: dict[str, Any] = {
        "plate_v": 250.0, "screen_v": None, "grid_v": -2.0, "space_a": 1.2e-3, "plate_a": 1.2e-3,
        "gm_s": 1.6e-3, "rp_ohm": 62500.0, "mu": 100.0, **values,
    }  # fmt: skip
    return Reading(**given, tubes=1, doubtful=False, point=OperatingPoint())


def test_closed_form_of_a_triode_by_hand() -> None:
    """E0 = 1.5 x 1.2 / 1.6 = 1.125 V; perveance 1.2 mA / 1.125^1.5; contact 1.125 + 2 - 2.5."""
    fit = fit_triode([reading()])
    assert fit["perveance"] == pytest.approx(1.2e-3 / 1.125**1.5)
    assert fit["contact-v"] == pytest.approx(0.625, abs=0.005)
    assert fit["mu"] == pytest.approx(100.0, rel=0.002)


def test_a_triode_without_mu_takes_the_usual_contact_potential() -> None:
    fit = fit_triode([reading(mu=None)])
    assert fit["contact-v"] == 0.7
    assert fit["mu"] == pytest.approx(250.0 / (1.125 + 2.0 - 0.7))


def test_a_triode_with_mu_alone() -> None:
    fit = fit_triode([reading(gm_s=None)])
    assert fit["perveance"] == pytest.approx(1.2e-3 / (2.5 - 2.0 + 0.7) ** 1.5)


def test_nothing_is_fitted_to_a_point_without_slopes() -> None:
    with pytest.raises(NoFit, match="transconductance"):
        fit_triode([reading(gm_s=None, mu=None)])
    with pytest.raises(NoFit, match="transconductance"):
        fit_split([reading(screen_v=100.0, gm_s=None)])


def test_a_triode_cut_off_at_its_own_point_is_refused() -> None:
    with pytest.raises(NoFit, match="cut it off"):
        fit_triode([reading(gm_s=None, mu=100.0, grid_v=-9.0)])


def test_closed_form_of_a_pentode_gives_its_point_back() -> None:
    section = tube("6SJ7").sections[0]
    point = reading(
        plate_v=100.0, screen_v=100.0, grid_v=-3.0, space_a=3.8e-3, plate_a=2.9e-3, gm_s=1.575e-3,
        rp_ohm=700e3, mu=None,
    )  # fmt: skip
    fit = fit_split([point])
    assert predict(section, fit, point) == pytest.approx(3.8e-3, rel=1e-3)
    assert fit["perveance"] == pytest.approx(3.8e-3 / (1.5 * 2.9 / 1.575) ** 1.5)


def test_least_squares_finds_the_bottom_of_a_bent_valley() -> None:
    found = least_squares(
        lambda x: np.array([10.0 * (x[1] - x[0] ** 2), 1.0 - x[0]]), np.array([-1.2, 1.0])
    )
    assert found == pytest.approx([1.0, 1.0], abs=1e-6)


@pytest.mark.parametrize("name", [n for n, t in all_tubes().items() if t.points])
def test_fits_stay_near_their_own_points(name: str) -> None:
    """Every published current that a law was fitted to, within 6 %; of a lone point, within 1 %."""
    each = tube(name)
    for family in families([each]):
        for member in family.values():
            if "eye" in each.kind:
                continue
            points = readings(each, member.section)
            fit = section_fit(each, member.section, points)
            miss = predict(member.section, fit, member.reading) / member.reading.space_a - 1.0
            assert abs(miss) < (0.06 if len(points) > 1 else 0.01), member.reading


def test_stored_laws_equal_new_fits() -> None:
    """laws.csv is the fit of points.csv; write it anew with netcheck.circuit.tube_fit_store."""
    rows = {(row["type"], row["section"]): numbers(row["law"]) for row in read_csv("laws.csv")}
    new = {}
    for line in laws_text().splitlines()[1:]:
        name, section, law = line.split(",")
        new[name, section] = numbers(law)
    assert rows.keys() == new.keys()
    for key, law in new.items():
        assert dict(rows[key]) == pytest.approx(dict(law), rel=1e-4, abs=1e-9), key


def test_types_without_points_are_stored_nowhere() -> None:
    stored = {row["type"] for row in read_csv("laws.csv")}
    for name, each in all_tubes().items():
        if name not in stored and "twin diode" not in each.kind:
            with pytest.raises(NoFit):
                new_fits(each)


@pytest.mark.parametrize("phases", [1, 2])
def test_a_rectifier_is_found_again_from_its_loaded_volts(phases: int) -> None:
    name = "5U4G" if phases == 2 else "35Z5GT"
    bare = replace(tube(name), limits={})
    load = RectifierLoad("capacitor", 300.0, 0.0, 0.1, 20e-6, 60.0, "", "")
    volts = float(loaded_output_v(replace(load, output_v=300.0), np.array([0.5e-3]), phases)[0])
    fit = fit_rectifier(bare, [replace(load, output_v=volts)])
    assert fit["perveance"] == pytest.approx(0.5e-3, rel=0.02)


def test_loaded_volts_of_an_ideal_switch() -> None:
    """Full wave, 5 % source resistance, large reservoir: 83.2 % of the peak (tan t - t = ...)."""
    peak = 100.0 * np.sqrt(2.0)
    out = 0.8322 * peak
    load = RectifierLoad("capacitor", 100.0, out, out / 1000.0, 1000e-6, 50.0, "", "")
    assert loaded_output_v(load, np.array([1e3]), 2)[0] == pytest.approx(out, rel=0.005)


@pytest.mark.parametrize(
    "name", [n for n, t in all_tubes().items() if t.is_rectifier and rectifier_loads(t)]
)
def test_rectifier_drop_and_table_agree(name: str) -> None:
    """One perveance meets the published drop within 15 % and the table's volts within 6 %."""
    each = tube(name)
    fit = new_fits(each)
    (perveance,) = {f["perveance"] for f in fit.values()}
    phases = 2 if "full-wave" in each.kind else 1
    drop_v, drop_a = each.limits.get("drop-v"), each.limits.get("drop-a")
    if drop_v and drop_a:
        assert (drop_a / perveance) ** (2 / 3) == pytest.approx(drop_v, rel=0.15)
    for load in rectifier_loads(each):
        if load.reservoir_f:
            volts = loaded_output_v(load, np.array([perveance]), phases)[0]
            assert volts == pytest.approx(load.output_v, rel=0.06)


def test_no_drop_and_no_table_is_no_law() -> None:
    with pytest.raises(NoFit, match="neither its drop"):
        fit_rectifier(tube("UY85"))
