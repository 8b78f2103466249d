"""Trade words mean the right electrode, and a word that could mean two means none."""

from __future__ import annotations

import pytest

from netcheck.catalog.tubes import (
    all_tubes,
    ambiguous_word,
    electrode,
    electrode_words,
    find_tube,
)
from netcheck.parts import TubeType


def tube(name: str) -> TubeType:
    found = find_tube(name)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("name", "word", "meant"),
    [
        ("12AV6", "plate", "plate"),
        ("12AV6", "Anode", "plate"),
        ("12AV6", "a", "plate"),
        ("12AV6", "grid", "g1"),
        ("12AV6", "control grid", "g1"),
        ("12AV6", "k", "cathode"),
        ("12AV6", "d2", "diode2"),
        ("12AV6", "triode-plate", "plate"),
        ("1H5GT", "diode", "diode1"),
        ("50C5", "grid", "g1"),
        ("50C5", "screen", "g2"),
        ("50C5", "h1", "heater1"),
        ("6K7", "cap", "g1"),
        ("6K7", "top cap", "g1"),
        ("6A8", "cap", "g4"),
        ("6K7", "suppressor", "g3"),
        ("EL84", "suppressor", "cathode"),
        ("12BE6", "oscillator", "g1"),
        ("12BE6", "signal", "g3"),
        ("12BE6", "screen", "g2"),
        ("12BE6", "g4", "g2"),
        ("12BE6", "g5", "cathode"),
        ("6A8", "screen", "g3"),
        ("6A8", "g5", "g3"),
        ("6A8", "signal", "g4"),
        ("6A8", "oscillator", "g1"),
        ("6A8", "oscplate", "g2"),
        ("6A8", "oscillator-anode", "g2"),
        ("ECH81", "oscillator", "triode-grid"),
        ("ECH81", "oscplate", "triode-plate"),
        ("ECH81", "signal", "g1"),
        ("ECH81", "heptode anode", "plate"),
        ("6K8", "signal", "g3"),
        ("6K8", "triode-grid", "g1"),
        ("12AX7", "g2", "grid2"),
        ("12AX7", "anode 1", "plate1"),
        ("12AX7", "tap", "tap"),
        ("6SC7", "cathode2", "cathode"),
        ("5V4G", "cathode", "heater2"),
        ("25Z6", "k1", "cathode1"),
        ("25Z6", "shell", "shell"),
        ("6H6", "plate1", "diode1"),
        ("6E5", "target", "target"),
        ("35Y4", "plate", "plate"),
        ("35Y4", "tap", "tap"),
        ("UCL82", "pentode-grid", "g1"),
        ("UCL82", "triode-cathode", "triode-cathode"),
        ("1R5", "g5", "heater1"),
        ("1T4", "filament 2", "heater2"),
    ],
)
def test_word_means_electrode(name: str, word: str, meant: str) -> None:
    assert electrode(tube(name), word) == meant


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("35W4", "grid"),
        ("35W4", "plate2"),
        ("35W4", "cathode2"),
        ("6A8", "suppressor"),
        ("12BE6", "oscplate"),
        ("12AV6", "screen"),
        ("12AV6", "signal"),
        ("12AV6", "cap"),
        ("12AV6", "shell"),
        ("1T4", "cathode"),
        ("6F6G", "shell"),
        ("50C5", "nonsense"),
        ("50C5", ""),
    ],
)
def test_a_word_the_type_does_not_have_is_refused_without_a_choice(name: str, word: str) -> None:
    assert electrode(tube(name), word) is None
    assert ambiguous_word(tube(name), word) is None


@pytest.mark.parametrize(
    ("name", "word", "choices"),
    [
        ("12BE6", "grid", ("signal (g3)", "oscillator (g1)")),
        ("6A8", "grid", ("signal (g4)", "oscillator (g1)")),
        ("12AX7", "plate", ("plate1", "plate2")),
        ("12AX7", "grid", ("grid1", "grid2")),
        ("12AV6", "diode", ("diode1", "diode2")),
        ("25Z6", "cathode", ("cathode1", "cathode2")),
        ("UCL82", "grid", ("g1", "triode-grid")),
    ],
)
def test_a_word_that_could_mean_two_is_refused_with_the_choice(
    name: str, word: str, choices: tuple[str, ...]
) -> None:
    assert electrode(tube(name), word) is None
    sentence = ambiguous_word(tube(name), word)
    assert sentence is not None
    assert " or ".join(choices) in sentence
    assert tube(name).name in sentence


def test_every_word_offered_is_accepted_and_no_electrode_is_left_out() -> None:
    for each in all_tubes().values():
        words = electrode_words(each)
        assert len(set(words)) == len(words)
        assert all(electrode(each, word) for word in words), each.name
        assert {electrode(each, e) for e in each.electrodes} <= set(words)


def test_electrodes_of_one_pin_are_one_terminal() -> None:
    for each in all_tubes().values():
        for group in each.pins.values():
            assert len({electrode(each, e) for e in group}) <= 1, each.name
