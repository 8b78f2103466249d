"""What stands in place of a field coil, the set as it was before, and the watts that are asked."""

from __future__ import annotations

import pytest

from netcheck.circuit import Circuit
from netcheck.language import read
from netcheck.parts import Condition
from netcheck.rules import builtin
from netcheck.rules._base import Case
from netcheck.rules._fields import Swap, field_swaps, watts_asked, watts_to_fit

FIELD = "L5 field, 1500 ohm 12 H, removed: X1 to X2\n"


def _case(text: str, policy: str = "") -> Case:
    chassis = read("line none\nwire X2 to X22\nR99 1K: X22 to X9\n" + text)
    assert not chassis.findings, [each.message for each in chassis.findings]
    chosen = {("field-substitute", "watts"): policy} if policy else {}
    return Case(builtin()[0], chassis, Circuit(chassis), chosen)


def _swaps(text: str) -> list[Swap]:
    return list(field_swaps(_case(text)))


def test_a_resistor_that_replaces_a_field_and_the_set_as_it_was() -> None:
    (swap,) = _swaps("R30 1500 ohm 25 W, measured 1.6K, replaces 1200 ohm field: X1 to X2\n")
    assert (swap.part.ref, swap.ohm, swap.henry, swap.nets) == ("R30", 1200.0, None, ("X1", "X2"))
    (back,) = swap.back
    assert (back.ref, back.kind, back.replaces, back.measured) == ("R30", "coil", None, None)
    assert back.condition is Condition.ORIGINAL
    assert back.value("resistance") == 1200.0


def test_a_choke_that_replaces_a_field_and_its_henries() -> None:
    (swap,) = _swaps("L5 choke, 10 H 250 ohm, replaces field, 1200 ohm 12 H: X1 to X2\n")
    assert (swap.part.ref, swap.ohm, swap.henry) == ("L5", 1200.0, 12.0)
    (back,) = swap.back
    assert back.value("inductance") == 12.0


def test_of_a_field_whose_ohms_are_not_told_nothing_is_known() -> None:
    (swap,) = _swaps("L5 choke, 10 H, replaces field: X1 to X2\n")
    assert (swap.part.ref, swap.ohm, swap.henry) == ("L5", None, None)


def test_a_new_part_across_the_place_of_a_removed_field() -> None:
    (swap,) = _swaps(FIELD + "R30 1500 ohm 25 W, new: X22 to X1\n")
    assert (swap.part.ref, swap.ohm, swap.henry, swap.nets) == ("R30", 1500.0, 12.0, ("X2", "X1"))
    field, gone = swap.back
    assert (field.ref, field.condition, field.fitted) == ("L5", Condition.ORIGINAL, True)
    assert (gone.ref, gone.condition, gone.fitted) == ("R30", Condition.REMOVED, False)


@pytest.mark.parametrize(
    ("text", "refs"),
    [
        # An old part was there beside the field, a new one elsewhere is no substitute.
        (FIELD + "R30 1500 ohm 25 W: X1 to X2\n", []),
        (FIELD + "R30 1500 ohm 25 W, new: X1 to X3\n", []),
        (FIELD + "C1 1 mfd 400 V film, new: X1 to X2\n", []),
        (FIELD.replace(", removed", ""), []),
        (FIELD.replace(", removed", "") + "R30 1500 ohm 25 W, new: X1 to X2\n", []),
        (FIELD.replace("field", "choke") + "R30 1500 ohm 25 W, new: X1 to X2\n", []),
        (FIELD.replace("removed", "not fitted") + "R30 1500 ohm 25 W, new: X1 to X2\n", ["R30"]),
        ("L5 field, 1500 ohm, replaces 1000 ohm field: X1 to X2\n", []),
        ("R30 1500 ohm 25 W, replaces 1500 ohm 5 W: X1 to X2\n", []),
        # One that has two halves is passed over, the next one is not.
        (
            "R29 1500 ohm 25 W tapped, replaces 1500 ohm field: X1 to X3 to X2\n"
            "R30 1500 ohm 25 W, replaces 1500 ohm field: X1 to X2\n"
            "L6 choke, 10 H, replaces field: X4 to X2\n",
            ["R30", "L6"],
        ),
        (FIELD + FIELD.replace("L5", "L6") + "R30 1500 ohm 25 W, new: X1 to X2\n", ["R30", "R30"]),
    ],
)
def test_what_is_no_substitute_is_passed_over(text: str, refs: list[str]) -> None:
    assert [swap.part.ref for swap in _swaps(text)] == refs


@pytest.mark.parametrize(
    ("policy", "heat_w", "asked_w", "fit_w"),
    [
        ("", 4.0, 8.0, 10.0),
        ("twice", 4.0, 8.0, 10.0),
        ("25", 4.0, 25.0, 25.0),
        ("25", 12.5, 25.0, 25.0),
        ("25", 15.0, 30.0, None),
        ("", 1e6, 2e6, 2e6),
    ],
)
def test_the_watts_that_are_asked(
    policy: str, heat_w: float, asked_w: float, fit_w: float | None
) -> None:
    case = _case("", policy)
    assert watts_asked(case, heat_w) == asked_w
    if fit_w is None:
        assert watts_to_fit(case, heat_w) >= asked_w
    else:
        assert watts_to_fit(case, heat_w) == fit_w
