"""Catalogue values whose source was seen; each test names it."""

from __future__ import annotations

import pytest

from netcheck.catalog.capacitors import dielectric, leakage_limit_ma, surge_v
from netcheck.catalog.lamps import ballast
from netcheck.catalog.safety import accepts, class_info, film_ac_rating_v
from netcheck.catalog.tubes import find_tube
from netcheck.parts import TubeType


def tube(name: str) -> TubeType:
    found = find_tube(name)
    assert found is not None
    return found


def string(*names: str) -> tuple[float, set[float]]:
    """Total heater volts of a series string and the different heater currents in it."""
    heaters = [tube(name) for name in names]
    volts = sum(each.heater_v or 0.0 for each in heaters)
    return volts, {each.heater_a or 0.0 for each in heaters}


@pytest.mark.parametrize(
    "names",
    [
        ("12BA6", "12BE6", "12AV6", "50C5", "35W4"),  # heaters: Ambersong manual ch. 13
        ("12SA7", "12SK7", "12SQ7", "50L6GT", "35Z5GT"),  # heaters: Lovell tube table, 1989
        ("14Q7", "14A7", "14B6", "50A5", "35Y4"),  # the same volts in loctal, from memory
    ],
)
def test_five_tube_strings_add_up(names: tuple[str, ...]) -> None:
    volts, currents = string(*names)
    assert volts == pytest.approx(122.8)
    assert currents == {0.15}
    assert volts * 0.15 == pytest.approx(18.4, abs=0.05)


def test_the_300_ma_string_of_a_1935_table_set() -> None:
    """6A7G 6F7G 43 25Z5 = 62.6 V, 0.3 A (Cape old radio site, page on AC/DC resistors)."""
    volts, currents = string("6A7", "6F7", "43", "25Z5")
    assert volts == pytest.approx(62.6)
    assert currents == {0.3}


def test_high_mu_twin_triode_sheet() -> None:
    """12AX7 data sheet copied as text, seen via guitarkitbuilder.com."""
    each = tube("12AX7")
    assert each.limits == {"plate-v": 300.0, "plate-w": 1.0, "heater-cathode-v": 180.0}
    assert each.pins["1"] == ("plate2",)
    assert each.pins["6"] == ("plate1",)
    assert each.pins["9"] == ("tap",)
    point = each.points[0]
    assert (point.section, point.volts["plate1"], point.volts["grid1"]) == ("triode1", 250.0, -2.0)
    assert point.amperes["plate1"] == pytest.approx(1.2e-3)
    assert (point.gm_s, point.rp_ohm, point.mu) == (0.0016, 62500.0, 100.0)


def test_medium_mu_twin_triode_point() -> None:
    """Wikipedia 6SN7 infobox: 250 V, -8 V, 9 mA, 2600 umho, 7700 ohm, mu 20; base 8BD."""
    each = tube("6SN7")
    assert each.basing == "8BD"
    second = next(p for p in each.points if p.section == "triode2")
    assert dict(second.volts) == {"plate2": 250.0, "grid2": -8.0}
    assert dict(second.amperes) == {"plate2": 0.009}
    assert (second.gm_s, second.rp_ohm, second.mu) == (0.0026, 7700.0, 20.0)


def test_output_tubes_of_one_basing() -> None:
    """Wikipedia 25L6 article: 7AC; heaters of 25L6, 35L6, 50L6."""
    heaters = {"25L6GT": (25.0, 0.3), "35L6GT": (35.0, 0.15), "50L6GT": (50.0, 0.15)}
    for name, heater in heaters.items():
        assert (tube(name).heater_v, tube(name).heater_a) == heater
        assert tube(name).basing == "7AC"


def test_tapped_rectifier() -> None:
    """Wireless World note (35 V, 7.5 V lamp section, 0.15 A, 100 mA); totron page (pins)."""
    each = tube("35Z5GT")
    assert (each.heater_v, each.tap_v, each.heater_a) == (35.0, 7.5, 0.15)
    assert each.limits["output-a"] == 0.1
    assert (each.pin_of("heater1"), each.pin_of("tap"), each.pin_of("heater2")) == ("2", "3", "7")
    assert not {"4", "6"} & set(each.pins)


def test_miniature_output_tube() -> None:
    """Ambersong manual ch. 13: 50C5 pins, plate and screen ratings."""
    each = tube("50C5")
    assert [each.pins[pin] for pin in "1567"] == [("cathode",), ("g1",), ("g2",), ("plate",)]
    assert (each.limits["plate-v"], each.limits["screen-v"]) == (150.0, 130.0)
    assert (each.limits["plate-w"], each.limits["screen-w"]) == (7.0, 1.4)
    assert not each.sources["plate-w"].startswith("from memory")


def test_first_capacitor_of_the_filament_rectifier() -> None:
    """tubeofile.com 5Y3 page: 20 uF, 125 mA, 60 V drop."""
    limits = tube("5Y3GT").limits
    assert limits["reservoir-f"] == pytest.approx(20e-6)
    assert (limits["output-a"], limits["drop-v"], limits["drop-a"]) == (0.125, 60.0, 0.125)


def test_battery_tube_point() -> None:
    """Japanese battery-tube page: 3S4 at 90 V, 7.4 mA, 1575 umho, 0.27 W."""
    point = next(p for p in tube("3S4").points if p.volts["plate"] == 90)
    assert point.amperes["plate"] == pytest.approx(7.4e-3)
    assert (point.gm_s, point.output_w) == (0.001575, 0.27)


@pytest.mark.parametrize(
    ("c_uf", "rated_v", "limit_ma"),
    [(20, 450, 1.10), (20, 250, 0.70)],
)
def test_leakage_limits_as_quoted(c_uf: float, rated_v: float, limit_ma: float) -> None:
    """amradio list msg21215, quoting JAN-C-62."""
    assert leakage_limit_ma(c_uf, rated_v) == pytest.approx(limit_ma)


@pytest.mark.parametrize(
    ("c_uf", "rated_v", "limit_ma"),
    [
        (8, 450, 0.62),
        (10, 450, 0.70),
        (16, 450, 0.94),
        (40, 450, 1.90),
        (40, 150, 1.10),
        (50, 150, 1.30),
        (30, 350, 1.05),
        (25, 25, 0.55),
    ],
)
def test_leakage_limits_by_hand(c_uf: float, rated_v: float, limit_ma: float) -> None:
    """K C + 0.3 with the K of JAN-C-62, worked by hand."""
    assert leakage_limit_ma(c_uf, rated_v) == pytest.approx(limit_ma)


@pytest.mark.parametrize(
    ("dc_v", "ac_v"),
    [
        (630, 220),
        (850, 300),
        (1000, 350),
        (1250, 425),
        (1400, 500),
        (1600, 550),
        (2000, 700),
        (2500, 900),
    ],
)
def test_film_on_ac(dc_v: float, ac_v: float) -> None:
    """Vishay MMKP 386 data sheet."""
    assert film_ac_rating_v(dc_v) == ac_v


def test_film_between_and_below_the_rows() -> None:
    assert film_ac_rating_v(800) == 220
    assert film_ac_rating_v(600) is None


@pytest.mark.parametrize(
    ("mark", "impulse_v"),
    [("X1", 4000), ("X2", 2500), ("X3", None), ("Y1", 8000), ("Y2", 5000), ("Y3", None),
     ("Y4", 2500)],
)  # fmt: skip
def test_impulse_of_each_class(mark: str, impulse_v: float | None) -> None:
    """AVX/TPC data sheet (IEC 384-14:1993), Kyocera safety standard page."""
    info = class_info(mark)
    assert info is not None
    assert info.impulse_v == impulse_v


def test_impulse_above_one_microfarad() -> None:
    """vcf-midatlantic list, Dec 2015: X2 4 uF 1.25 kV; X1 2.2 uF 2.697 kV."""
    x1, x2, y2 = class_info("X1"), class_info("X2"), class_info("Y2")
    assert x1 is not None
    assert x2 is not None
    assert y2 is not None
    assert x2.impulse_for_v(4e-6) == pytest.approx(1250)
    assert x1.impulse_for_v(2.2e-6) == pytest.approx(2697, abs=1)
    assert x2.impulse_for_v(0.1e-6) == 2500
    assert y2.impulse_for_v(4e-6) == 5000


def test_two_readings_of_line_to_unearthed_metal() -> None:
    """emc-pstc msg21132: one Y1 or two Y2; audiokarma 763137: one Y2 in hobby practice."""
    place = "line-to-unearthed-metal"
    assert accepts(place, ["Y2"], 117.0)
    assert not accepts(place, ["Y2"], 117.0, policy="strict")
    assert accepts(place, ["Y2"], 117.0, policy="strict", in_series=2)


def test_insulation_of_a_new_y2_film_part() -> None:
    """KEMET R41 data sheet: to 0.33 uF 100,000 megohm; above 30,000 s."""
    film = dielectric("polypropylene")
    assert film is not None
    assert film.insulation_floor_ohm(0.1e-6) == pytest.approx(1e11)
    assert film.insulation_floor_ohm(0.47e-6) == pytest.approx(30000 / 0.47e-6)


def test_surge_ratings_of_modern_electrolytics() -> None:
    """EPCOS B41505/B43505 data sheet p. 2: 1.15 to 250 V, 1.10 from 400 V."""
    assert surge_v(160) == pytest.approx(184)
    assert surge_v(450) == pytest.approx(495)


def test_ballast_code_worked_by_the_source() -> None:
    """capeoldradio.com ballast page: L49 in a 0.3 A string drops 49 V, 163 ohm, 14.7 W."""
    each = ballast("L49")
    assert each is not None
    assert each.drop_v == 49
    assert each.ohm(0.3) == pytest.approx(163.3, abs=0.1)
    assert each.watts(0.3) == pytest.approx(14.7)
    assert (each.lamp_v, each.lamp_a) == (6.3, 0.25)
