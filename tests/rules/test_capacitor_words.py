"""What capacitors are made of, how far they leak, and which new one stands for which old one."""

from __future__ import annotations

import pytest

from netcheck.circuit import Circuit
from netcheck.language import read
from netcheck.parts import Part
from netcheck.rules import builtin
from netcheck.rules._base import Case
from netcheck.rules._capacitors import (
    Leak,
    age_calculation,
    dielectric_of,
    dielectric_span_word,
    insulates_as_new,
    leak_of,
    leakage_reading,
    within_limit,
)
from netcheck.rules._stand_ins import stand_ins

C1 = "C1 {}: + X1, - X2\n"


def _part(description: str) -> Part:
    polar = "electrolytic" in description or "wet" in description or "tantalum" in description
    ends = "+ X1, - X2" if polar else "X1 to X2"
    chassis = read(f"C1 {description}: {ends}\n")
    assert not chassis.findings, [each.message for each in chassis.findings]
    (part,) = chassis.parts
    return part


@pytest.mark.parametrize(
    ("words", "word", "name"),
    [
        ("silver mica", "silver-mica", "silver-mica"),
        ("mica moulded", "mica", "mica"),
        ("ceramic disc", "ceramic", "ceramic"),
        ("disc", "disc", "ceramic"),
        ("polypropylene film", "polypropylene", "polypropylene"),
        ("polystyrene", "polystyrene", "polystyrene"),
        ("mylar", "polyester", "polyester"),
        ("film", "film", "film"),
        ("tantalum", "tantalum", "tantalum"),
        ("wet electrolytic", "wet", "wet-electrolytic"),
        ("electrolytic", "electrolytic", "electrolytic"),
        ("paper oil", "oil", "oil-paper"),
        ("bathtub", "bathtub", "oil-paper"),
        ("moulded paper", "moulded", "moulded-paper"),
        ("waxed paper", "wax", "wax-paper"),
        ("paper", "paper", "paper"),
        ("paper film", "film", "paper-film"),
        ("paper mylar", "polyester", "paper-film"),
        ("paper mica", "mica", "mica"),
        ("air", "air", "air"),
        ("variable", "variable", "air"),
        ("trimmer", "trimmer", "air"),
        ("padder", "padder", "air"),
        ("tubular", "", None),
        ("", "", None),
    ],
)
def test_the_words_of_the_text_say_what_it_is_made_of(
    words: str, word: str, name: str | None
) -> None:
    part = _part(f".01 mfd 400 V {words}")
    kind = dielectric_of(part)
    assert dielectric_span_word(part) == word
    assert (None if kind is None else kind.name) == name


# --- what leaks


@pytest.mark.parametrize(
    ("reading", "leak"),
    [
        ("900 meg at 90 V", Leak(9e8, 1e-7, "900M as measured at 90 V")),
        ("12 uA at 200 V", Leak(200 / 12e-6, 12e-6, "200 V / 12 uA = 16.7M")),
        (
            "0.3 V at 90 V, meter 10 M",
            Leak(1e7 * 89.7 / 0.3, 0.3 / 1e7, "10M x (90 V - 0.3 V) / 0.3 V = 2990M"),
        ),
        # A short: the meter has all of the volts, and no less than nothing is left.
        (
            "90.5 V at 90 V, meter 10 M",
            Leak(0.0, 90.5 / 1e7, "10M x (90 V - 90.5 V) / 90.5 V = 0 ohm"),
        ),
        ("0.3 V at 90 V", None),
        ("0 V at 90 V, meter 10 M", None),
        ("0 uA at 90 V", None),
    ],
)
def test_a_leakage_reading_is_ohms_and_amperes(reading: str, leak: Leak | None) -> None:
    chassis = read(f"C1 .01 mfd 400 V paper: X1 to X2\nreading C1 leakage {reading}\n")
    assert not chassis.findings
    read_of = leakage_reading(chassis, "C1")
    assert read_of is not None
    found = leak_of(read_of)
    if leak is None or found is None:
        assert found is leak
        return
    assert (found.ohm, found.ampere) == pytest.approx((leak.ohm, leak.ampere))
    assert found.sum == leak.sum


def test_the_last_leakage_reading_of_the_part_counts() -> None:
    chassis = read(
        "C1 .01 mfd 400 V paper: X1 to X2\nC2 .01 mfd 400 V paper: X1 to X2\n"
        "reading C1 leakage 1 meg at 90 V\nreading C1 leakage 2 meg at 90 V\n"
        "reading C1 .012 mfd\nreading C2 leakage 3 meg at 90 V\nreading X1 5 V\n"
    )
    assert not chassis.findings
    last = leakage_reading(chassis, "C1")
    assert last is not None
    assert last.value.si == pytest.approx(2e6)
    assert leakage_reading(chassis, "C3") is None


# 20 mfd 450 V: 0.04 x 20 + 0.3 = 1.1 mA (JAN-C-62).
@pytest.mark.parametrize(
    ("words", "reading", "within"),
    [
        ("20 mfd 450 V", "1.1 mA at 450 V", True),
        ("20 mfd 450 V", "1.11 mA at 450 V", False),
        ("20 mfd", "0.1 mA at 450 V", False),
        ("450 V", "0.1 mA at 450 V", False),
        ("20 mfd 450 V", "", False),
    ],
)
def test_an_electrolytic_is_within_its_limit_or_that_is_not_known(
    words: str, reading: str, within: bool
) -> None:
    said = f"reading C1 leakage {reading}\n" if reading else ""
    chassis = read(C1.format(f"{words} electrolytic") + said)
    assert not chassis.findings
    assert within_limit(chassis, chassis.parts[0]) is within


# 1000 s / .05 mfd = 20,000 megohm for new paper; a film of unknown plastic has no published floor.
@pytest.mark.parametrize(
    ("words", "reading", "new"),
    [
        (".05 mfd 400 V paper", "20000 meg at 400 V", True),
        (".05 mfd 400 V paper", "19900 meg at 400 V", False),
        (".05 mfd 400 V paper", "20000 meg at 399 V", False),
        (".05 mfd 400 V paper", "30000 meg at 500 V", True),
        (".05 mfd paper", "30000 meg at 500 V", False),
        ("400 V paper", "30000 meg at 500 V", False),
        (".05 mfd 400 V", "30000 meg at 500 V", False),
        (".05 mfd 400 V film", "30000 meg at 500 V", False),
        (".05 mfd 400 V paper", "1 V at 500 V", False),
        (".05 mfd 400 V paper", "", False),
    ],
)
def test_paper_insulates_as_new_only_if_it_was_read_at_its_volts(
    words: str, reading: str, new: bool
) -> None:
    said = f"reading C1 leakage {reading}\n" if reading else ""
    chassis = read(f"C1 {words}: X1 to X2\n" + said)
    assert not chassis.findings
    assert insulates_as_new(chassis, chassis.parts[0]) is new


@pytest.mark.parametrize(
    ("words", "reading", "told"),
    [
        (
            ".05 mfd 400 V paper",
            "",
            "insulation of a new C1 20000 Mohm None: 1000 s / 0.05 mfd = 20000M (from memory "
            "(EIA RS-218 / MIL-C-25 family): a new part; old ones are below 50 s)",
        ),
        (
            "20 mfd 450 V electrolytic",
            "",
            "leakage C1 may have 1.1 mA None: k x C + 0.3 mA = 1.1 mA for 20 mfd (JAN-C-62)",
        ),
        (
            "20 mfd 450 V electrolytic",
            "3 mA at 450 V",
            "leakage of C1 3 mA 1.1: k x C + 0.3 mA = 1.1 mA for 20 mfd (JAN-C-62)",
        ),
        ("20 mfd electrolytic", "", None),
        ("400 V paper", "", None),
        (".05 mfd 400 V", "", None),
        (".05 mfd 400 V film", "", None),
        (".05 mfd 400 V mica", "", None),
    ],
)
def test_the_number_an_old_part_has_to_meet(words: str, reading: str, told: str | None) -> None:
    ends = "+ X1, - X2" if "electrolytic" in words else "X1 to X2"
    said = f"reading C1 leakage {reading}\n" if reading else ""
    chassis = read(f"C1 {words}: {ends}\n" + said)
    assert not chassis.findings
    found = age_calculation(chassis, chassis.parts[0])
    limit = None if found is None or found.limit is None else f"{found.limit:.4g}"
    words_of = found and f"{found.name} {found.value:.5g} {found.unit} {limit}: {found.sum}"
    assert words_of == told


# --- what stands for what


@pytest.mark.parametrize(
    ("old", "new", "stands"),
    [
        (".05 mfd 400 V paper", ".047 mfd 630 V film, new", True),
        (".05 mfd 400 V paper", ".047 mfd 630 V film, restuffed", True),
        (".05 mfd 400 V paper", ".047 mfd 630 V film", False),
        (".05 mfd 400 V mica", ".047 mfd 630 V film, new", False),
        (".05 mfd 400 V", ".047 mfd 630 V film, new", False),
        (".05 mfd 400 V paper, new", ".047 mfd 630 V film, new", False),
        # Five times either way is the job of another part.
        (".05 mfd 400 V paper", ".25 mfd 630 V film, new", True),
        (".05 mfd 400 V paper", ".26 mfd 630 V film, new", False),
        (".05 mfd 400 V paper", ".01 mfd 630 V film, new", True),
        (".05 mfd 400 V paper", ".0098 mfd 630 V film, new", False),
        ("400 V paper", ".01 mfd 630 V film, new", True),
        (".05 mfd 400 V paper", "630 V film, new", True),
        # It says what it replaces: this one, within a step of E6, or another.
        (".05 mfd 400 V paper", ".047 mfd 630 V film, replaces .075 mfd 400 V paper", True),
        (".05 mfd 400 V paper", ".047 mfd 630 V film, replaces .08 mfd 400 V paper", False),
        (".06 mfd 400 V paper", ".047 mfd 630 V film, replaces .04 mfd 400 V paper", True),
        (".06 mfd 400 V paper", ".047 mfd 630 V film, replaces .038 mfd 400 V paper", False),
        (".05 mfd 400 V paper", ".3 mfd 630 V film, replaces .05 mfd 400 V paper", False),
        (".05 mfd 400 V paper", ".047 mfd 630 V film, replaces 400 V paper", True),
    ],
)
def test_a_new_part_stands_for_the_old_one_it_lies_across(old: str, new: str, stands: bool) -> None:
    chassis = read(f"C1 {old}: X1 to X2\nC2 {new}: X2 to X1\nC3 .05 mfd 400 V paper: X1 to X1\n")
    assert not chassis.findings
    case = Case(builtin()[0], chassis, Circuit(chassis))
    c1, c2, _ = chassis.parts
    assert stand_ins(case) == ({"C1": (c1, c2)} if stands else {})


def test_each_old_part_has_the_first_new_one_at_its_own_place() -> None:
    chassis = read(
        "C1 .05 mfd 400 V paper: X1 to X2\nC2 .05 mfd 400 V paper: X1 to X3\n"
        "C3 .05 mfd 400 V paper: X2 to X1\nC4 .05 mfd 400 V paper: X2 to X3\n"
        "C5 .5 mfd 400 V film, new: X1 to X2\nC6 .05 mfd 400 V film, new: X1 to X2\n"
        "C7 .05 mfd 400 V film, new: X1 to X2\nC8 .05 mfd 400 V film, new: X3 to X2\n"
        "C9 .05 mfd 400 V film, new: X9 to X9\nC10 .05 mfd 400 V paper: X9 to X9\n"
    )
    assert not chassis.findings
    found = stand_ins(Case(builtin()[0], chassis, Circuit(chassis)))
    assert {old: new.ref for old, (_, new) in found.items()} == {"C1": "C6", "C3": "C6", "C4": "C8"}
