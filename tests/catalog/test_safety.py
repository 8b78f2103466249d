"""The ladder takes what it should at each place and refuses the rest."""

from __future__ import annotations

import pytest

from netcheck.catalog.safety import accepts, class_info, duties, policies, required_text
from netcheck.catalog.tables import CatalogueError

ALL = ("X1", "X2", "X3", "Y1", "Y2", "Y3", "Y4")
UNEARTHED = ("line-to-unearthed-metal", "b-minus-to-chassis", "antenna")


def taken(duty: str, line_v: float, policy: str = "practice", in_series: int = 1) -> set[str]:
    return {
        mark for mark in ALL if accepts(duty, [mark], line_v, policy=policy, in_series=in_series)
    }


@pytest.mark.parametrize("policy", policies())
@pytest.mark.parametrize("line_v", [117.0, 230.0])
def test_across_the_line(line_v: float, policy: str) -> None:
    assert taken("across-line", line_v, policy) == {"X1", "X2", "Y1", "Y2"}


@pytest.mark.parametrize("policy", policies())
def test_line_to_earthed_metal(policy: str) -> None:
    assert taken("line-to-earthed-metal", 117.0, policy) == {"Y1", "Y2", "Y4"}
    assert taken("line-to-earthed-metal", 150.0, policy) == {"Y1", "Y2"}
    assert taken("line-to-earthed-metal", 230.0, policy) == {"Y1", "Y2"}


@pytest.mark.parametrize("duty", UNEARTHED)
@pytest.mark.parametrize("line_v", [117.0, 230.0])
def test_metal_that_is_not_earthed(duty: str, line_v: float) -> None:
    assert taken(duty, line_v) == {"Y1", "Y2"}
    assert taken(duty, line_v, "strict") == {"Y1"}
    assert taken(duty, line_v, "strict", in_series=2) == {"Y1", "Y2"}


@pytest.mark.parametrize("duty", ["line-to-earthed-metal", *UNEARTHED])
@pytest.mark.parametrize("in_series", [1, 2, 3])
def test_an_x_part_never_stands_in_for_a_y_part(duty: str, in_series: int) -> None:
    for policy in policies():
        assert not accepts(duty, ["X1"], 117.0, policy=policy, in_series=in_series)
        assert not accepts(duty, ["X2"], 117.0, policy=policy, in_series=in_series)


def test_a_y2_stands_in_for_an_x2() -> None:
    assert accepts("across-line", ["Y2"], 230.0)


def test_a_dual_mark_counts_as_either() -> None:
    assert accepts("line-to-earthed-metal", ["X1", "y2"], 230.0)
    assert accepts("across-line", ["X1", "Y2"], 230.0)


@pytest.mark.parametrize("duty", duties())
def test_no_mark_is_never_enough(duty: str) -> None:
    for policy in policies():
        assert not accepts(duty, [], 117.0, policy=policy, in_series=2)
        assert not accepts(duty, ["film"], 117.0, policy=policy, in_series=2)


def test_unknown_names_are_broken_calls() -> None:
    with pytest.raises(CatalogueError, match="across-line"):
        accepts("across the bed", ["X2"], 117.0)
    with pytest.raises(CatalogueError, match="strict"):
        accepts("across-line", ["X2"], 117.0, policy="lax")
    with pytest.raises(CatalogueError):
        required_text("across the bed")


@pytest.mark.parametrize("duty", duties())
def test_the_words_name_the_classes_that_are_taken(duty: str) -> None:
    for policy in policies():
        text = required_text(duty, policy)
        both = taken(duty, 117.0, policy) | taken(duty, 117.0, policy, in_series=2)
        assert {mark for mark in ALL if mark in text} == both


def test_class_info_by_edition() -> None:
    y2 = class_info("y2")
    assert y2 is not None
    limits = {each.edition: each.to_v for each in y2.rated}
    assert limits == {"1993": 250.0, "2005": 300.0, "2013": 500.0}
    assert class_info("Z9") is None


def test_y_classes_bridge_more_than_functional_insulation() -> None:
    for mark in ALL:
        info = class_info(mark)
        assert info is not None
        assert info.source
        assert (info.insulation == "functional") == mark.startswith("X")
