"""Preferred values keep the ratios of their series, and the next rating is never below."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.catalog.preferred import (
    nearest_preferred,
    next_rating,
    rating_kinds,
    ratings,
    series,
)
from netcheck.catalog.tables import CatalogueError


@pytest.mark.parametrize(("name", "steps"), [("E6", 6), ("E12", 12), ("E24", 24)])
def test_each_value_is_near_its_root_of_ten(name: str, steps: int) -> None:
    values = series(name)
    assert len(values) == steps
    for step, value in enumerate(values):
        assert value == pytest.approx(10 ** (step / steps), rel=0.05)


def test_each_series_holds_the_coarser_one() -> None:
    assert set(series("E6")) < set(series("E12")) < set(series("E24"))


@pytest.mark.parametrize(
    ("old_uf", "new_uf"),
    [(0.05, 0.047), (0.02, 0.022), (0.002, 0.0022), (0.1, 0.1), (0.0005, 0.00047), (4, 3.9)],
)
def test_nearest_value_of_e12(old_uf: float, new_uf: float) -> None:
    assert nearest_preferred(old_uf) == new_uf


@given(st.floats(min_value=1e-12, max_value=1e9), st.sampled_from(["E6", "E12", "E24"]))
def test_nearest_is_within_half_a_step(value: float, name: str) -> None:
    found = nearest_preferred(value, name)
    widest = max(
        math.log(b / a) for a, b in zip(series(name), (*series(name)[1:], 10.0), strict=True)
    )
    assert abs(math.log(found / value)) <= widest / 2 + 1e-9
    assert nearest_preferred(found, name) == found


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_no_preferred_value_for_what_is_no_size(value: float) -> None:
    with pytest.raises(ValueError, match="positive number"):
        nearest_preferred(value)


def test_unknown_series_and_kinds_are_broken_calls() -> None:
    for name in ("E7", "source"):
        with pytest.raises(CatalogueError):
            series(name)
    with pytest.raises(CatalogueError):
        next_rating(1, "wishes")


@pytest.mark.parametrize(
    ("amount", "kind", "rating"),
    [
        (400, "film-dc", 400),
        (401, "film-dc", 630),
        (150, "electrolytic-dc", 160),
        (117, "safety-ac", 250),
        (0.7, "resistor-w", 1),
        (0.385, "fuse-ul", 0.5),
        (0.641, "fuse-ul", 0.75),
        (0.3, "fuse-iec", 0.315),
    ],
)
def test_next_rating(amount: float, kind: str, rating: float) -> None:
    assert next_rating(amount, kind) == rating


@pytest.mark.parametrize("kind", rating_kinds())
def test_ratings_rise_and_end(kind: str) -> None:
    values = ratings(kind)
    assert list(values) == sorted(set(values))
    assert next_rating(values[-1] * 1.01, kind) is None
