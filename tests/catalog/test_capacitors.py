"""Dielectrics are known by their trade words; limits outside the tables are not guessed."""

from __future__ import annotations

import pytest

from netcheck.catalog.capacitors import dielectric, dielectrics, leakage_limit_ma, surge_v

SUSPECT = {
    "paper", "wax-paper", "moulded-paper", "oil-paper", "paper-film", "electrolytic",
    "wet-electrolytic",
}  # fmt: skip


def test_which_old_parts_no_test_clears() -> None:
    assert {d.name for d in dielectrics().values() if d.suspect_when_original} == SUSPECT


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("Paper", "paper"),
        ("wax paper", "wax-paper"),
        ("molded", "moulded-paper"),
        ("moulded mica", "mica"),
        ("paper in oil", "oil-paper"),
        ("mylar", "polyester"),
        ("silver mica", "silver-mica"),
        ("silver-mica", "silver-mica"),
        ("ceramic disc", "ceramic"),
        ("electrolytic", "electrolytic"),
    ],
)
def test_trade_words(word: str, name: str) -> None:
    found = dielectric(word)
    assert found is not None
    assert found.name == name


def test_an_unknown_word_is_unknown() -> None:
    assert dielectric("unobtainium") is None
    assert dielectric("") is None


def test_no_word_means_two_dielectrics() -> None:
    seen: dict[str, str] = {}
    for each in dielectrics().values():
        for word in each.words:
            assert seen.setdefault(word.replace("-", " "), each.name) == each.name, word


def test_every_dielectric_says_how_it_ages_and_why_we_think_so() -> None:
    for each in dielectrics().values():
        assert each.ageing.endswith(".")
        assert each.source
        assert bool(each.floor_source) == bool(each.floor_ohm or each.floor_s)


def test_only_electrolytics_and_tantalum_are_polarized() -> None:
    polarized = {d.name for d in dielectrics().values() if d.polarized}
    assert polarized == {"electrolytic", "wet-electrolytic", "tantalum"}


def test_insulation_floor_goes_over_to_the_product_above_its_capacitance() -> None:
    film = dielectric("polypropylene")
    assert film is not None
    assert film.insulation_floor_ohm(0.33e-6) == pytest.approx(100e9)
    assert film.insulation_floor_ohm(1e-6) == pytest.approx(30e9)
    electrolytic = dielectric("electrolytic")
    assert electrolytic is not None
    assert electrolytic.insulation_floor_ohm(8e-6) is None


def test_leakage_outside_the_table_is_not_known() -> None:
    assert leakage_limit_ma(10, 2.9) is None
    assert leakage_limit_ma(10, 501) is None


@pytest.mark.parametrize(("below_v", "above_v"), [(100.0, 101.0), (250.0, 251.0), (350.0, 351.0)])
def test_leakage_steps_up_at_the_edges_of_the_table(below_v: float, above_v: float) -> None:
    below, above = leakage_limit_ma(10, below_v), leakage_limit_ma(10, above_v)
    assert below is not None
    assert above is not None
    assert above > below


def test_surge_outside_the_table_is_not_known() -> None:
    assert surge_v(0) is None
    assert surge_v(2000) is None
