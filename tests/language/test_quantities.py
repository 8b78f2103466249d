"""Quantities: every spelling of the grammar is a unit, and pint agrees with the factors."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.findings import Span
from netcheck.language import quantities
from netcheck.language.drafts import subtrees
from netcheck.language.loading import parser
from netcheck.language.quantities import UNITS, pint_quantity, read_quantity, registry
from netcheck.parts import Value

HERE = Span("set", 1, 1, 1, 2)


def _quantity(text: str, notation_m: float | None = None) -> Value:
    tree = parser().parse(text, start="description")
    (clause,) = subtrees(tree)
    (quantity,) = subtrees(clause)
    assert len(clause.children) == 1, f"{text} is more than a quantity to the grammar"
    return read_quantity(quantity, HERE, notation_m)


@pytest.mark.parametrize("spelling", sorted(UNITS))
def test_every_unit_of_the_table_is_a_unit_of_the_grammar(spelling: str) -> None:
    assert _quantity(f"2 {spelling}").dimension == UNITS[spelling].role


def test_every_unit_of_the_grammar_is_in_the_table() -> None:
    (pattern,) = [t.pattern.value for t in parser().terminals if t.name == "UNIT"]
    inner = re.search(r"\(\?:([a-z?:|()\\.\[\]]+)\)\(\?!", pattern)
    assert inner is not None
    spellings = [
        each
        for alternative in re.split(r"\|(?![^(]*\))", inner.group(1))
        for each in _expanded(alternative)
    ]

    assert len(spellings) > 80
    assert {s for s in spellings if s not in UNITS} <= {"m", "mohm", "mohms"}


def _expanded(pattern: str) -> list[str]:
    """All texts of a small pattern: `x?`, `(?:a|b)`, `[ab]`, `\\.`."""
    group = re.search(r"\(\?:([^)]*)\)", pattern)
    if group:
        return [
            each
            for inner in group.group(1).split("|")
            for each in _expanded(pattern[: group.start()] + inner + pattern[group.end() :])
        ]
    chosen = re.search(r"\[(\w+)\]", pattern)
    if chosen:
        return [
            each
            for letter in chosen.group(1)
            for each in _expanded(pattern[: chosen.start()] + letter + pattern[chosen.end() :])
        ]
    pattern = pattern.replace("\\.", "\0")
    optional = re.search(r"(.)\?", pattern)
    if optional:
        both = (
            pattern[: optional.start()] + keep + pattern[optional.end() :]
            for keep in (optional.group(1), "")
        )
        return [each for text in both for each in _expanded(text.replace("\0", "\\."))]
    return [pattern.replace("\0", ".")]


@pytest.mark.parametrize(
    ("text", "si", "canonical"),
    [
        (".05 mfd", 0.05e-6, "0.05 mfd"),
        ("0.050uF", 0.05e-6, "0.05 mfd"),
        ("1 1/2 A", 1.5, "1 1/2 A"),
        ("1/2 W", 0.5, "1/2 W"),
        ("1.5 kV", 1500.0, "1.5 kV"),
        ("20%", 0.2, "20%"),
        ("470K", 470e3, "470K"),
        ("2.2M", 2.2e6, "2.2 meg"),
        ("4K7", 4700.0, "4.7K"),
        ("455 kc", 455e3, "455 kc"),
        ("-3 V", -3.0, "-3 V"),
        ("010 V", 10.0, "10 V"),
        ("100. V", 100.0, "100 V"),
    ],
)
def test_reads_as_parts_lists_write(text: str, si: float, canonical: str) -> None:
    value = _quantity(text)

    assert value.si == pytest.approx(si, rel=1e-12)
    assert value.text == canonical


def test_series_along_a_path_keep_their_order() -> None:
    assert _quantity("200-620-230 ohm").amounts == (200.0, 620.0, 230.0)
    assert _quantity("340-0-340 V").amounts == (340.0, 0.0, 340.0)


def test_a_trimmer_has_a_spread() -> None:
    value = _quantity("10-420 mmf")

    assert value.spread
    assert value.amounts == pytest.approx((10e-12, 420e-12))


def test_notation_turns_m_into_thousand() -> None:
    assert _quantity("250M", 1e3).si == 250e3
    assert _quantity("2M", 1e6).si == 2e6


@given(
    st.sampled_from(sorted(set(UNITS) - {"%", "percent"})),
    st.floats(min_value=0.001, max_value=9999.0),
)
def test_pint_gives_the_same_amount(spelling: str, number: float) -> None:
    written = f"{number:.4f}"
    expected = registry().Quantity(float(written), UNITS[spelling].pint_name).to_base_units()

    value = _quantity(f"{written} {spelling}")

    assert value.si == pytest.approx(expected.magnitude, rel=1e-9)


@pytest.mark.parametrize("unit", sorted({unit.pint_name for unit in UNITS.values()}))
def test_the_ready_factors_are_those_of_pint(unit: str) -> None:
    expected = registry().Quantity(1.0, unit).to_base_units().magnitude

    assert quantities._FACTORS[unit] == pytest.approx(expected, rel=1e-12)


def test_reading_a_set_does_not_import_pint_or_numpy(checkout: Path) -> None:
    code = (
        "import sys; from netcheck.language import read;"
        "read('line 117 V 60 Hz\\nR1 470K 1/2 W: A1 to B1');"
        "print(sorted({'pint', 'numpy'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=checkout
    )

    assert done.stdout.strip() == "[]"


def test_a_value_is_a_pint_quantity_of_its_dimension() -> None:
    assert pint_quantity(_quantity("470K")).check("[voltage] / [current]")
    with pytest.raises(ValueError, match="no unit"):
        pint_quantity(Value((1.0,), "nonsense", "1", HERE))
