"""The laws as a solver meets them: exact slopes, finite everywhere, nothing guessed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from netcheck.catalog.tubes import all_tubes, find_tube
from netcheck.circuit.tube_laws import GROUND, OSCILLATOR_STATES, LawStack, TubeLaw, law_of
from netcheck.circuit.tube_laws import why_no_law as why
from netcheck.language import read
from netcheck.parts import TubeType

KNOWN = [name for name, tube in all_tubes().items() if law_of(tube) is not None]


def tube(name: str) -> TubeType:
    found = find_tube(name)
    assert found is not None
    return found


def law(name: str) -> TubeLaw:
    found = law_of(tube(name))
    assert found is not None
    return found


def at(of: TubeLaw, volts: Mapping[str, float], **options: Any) -> dict[str, float]:
    """Currents by electrode at some volts, the others at zero."""
    row = [[volts.get(name, 0.0) for name in of.terminals]]
    amperes, _ = of.currents(row, **options)
    return dict(zip(of.terminals, amperes[0], strict=True))


def random_volts(width: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.concatenate([rng.uniform(-20, 250, (40, width)), rng.normal(0.0, 3.0, (40, width))])


def test_most_types_have_a_law() -> None:
    assert len(KNOWN) > 190


@pytest.mark.parametrize("state", OSCILLATOR_STATES)
@pytest.mark.parametrize("name", KNOWN)
def test_slopes_are_exact_and_currents_sum_to_zero(name: str, state: str) -> None:
    of = law(name)
    volts = random_volts(len(of.terminals), 7)
    amperes, slopes = of.currents(volts, oscillator=state)
    assert np.abs(amperes.sum(axis=1)).max() <= 1e-14 * np.abs(amperes).max() * len(of.terminals)
    step = 1e-5
    forgiven = 1e-7 * np.abs(slopes).max(axis=(1, 2))[:, None] + 1e-10
    for k in range(len(of.terminals)):
        change = np.zeros(len(of.terminals))
        change[k] = step
        above, _ = of.currents(volts + change, oscillator=state)
        below, _ = of.currents(volts - change, oscillator=state)
        assert (np.abs((above - below) / (2 * step) - slopes[:, :, k]) < forgiven).all()


@pytest.mark.parametrize("state", OSCILLATOR_STATES)
@pytest.mark.parametrize("name", KNOWN)
def test_finite_for_any_volts(name: str, state: str) -> None:
    of = law(name)
    rng = np.random.default_rng(3)
    steps = [-1e4, -300.0, -5.0, 0.0, 0.3, 20.0, 1e4]
    volts = rng.choice(steps, (200, len(of.terminals)))
    with np.errstate(over="raise", invalid="raise", divide="raise"):
        amperes, slopes = of.currents(volts, oscillator=state)
    assert np.isfinite(amperes).all()
    assert np.isfinite(slopes).all()


@pytest.mark.parametrize("name", KNOWN)
def test_only_differences_of_volts_count(name: str) -> None:
    of = law(name)
    volts = random_volts(len(of.terminals), 5)
    here, _ = of.currents(volts)
    there, _ = of.currents(volts + 100.0)
    assert there == pytest.approx(here, rel=1e-9, abs=1e-14)


@pytest.mark.parametrize("name", ["12AV6", "50C5", "12SK7", "45", "12BE6", "6A8", "ECH81", "35W4"])
def test_currents_rise_with_the_volts_that_draw_them(name: str) -> None:
    """Plate current with plate, screen and grid volts, deep in the knee too."""
    of = law(name)
    volts = np.abs(random_volts(len(of.terminals), 11))
    _, slopes = of.currents(volts, oscillator="dead")
    for section in of.tube.sections:
        plate = of.terminals.index(section.plate)
        for other in (section.plate, section.screen, *section.controls):
            if other and section.kind != "converter":
                assert (slopes[:, plate, of.terminals.index(other)] >= 0.0).all(), other


@pytest.mark.parametrize(
    ("name", "electrode", "ohm", "rest_v"),
    [
        ("12AV6", "g1", 10e6, -0.75),
        ("12SQ7", "g1", 10e6, -0.75),
        ("50L6GT", "g1", 10e6, -0.75),
        ("12AX7", "grid2", 10e6, -0.75),
        ("12AV6", "diode1", 500e3, -0.5),
        ("12SQ7", "diode2", 500e3, -0.5),
        ("6H6", "diode2", 500e3, -0.5),
    ],
)
def test_contact_potential_at_rest(name: str, electrode: str, ohm: float, rest_v: float) -> None:
    """Grids on 10 megohm rest at -0.5 to -1 V, a detector near -0.5 V (common practice)."""
    of = law(name)

    def balance(volts: float) -> float:
        return at(of, {electrode: volts, "plate": 50.0, "g2": 50.0})[electrode] + volts / ohm

    assert brentq(balance, -5.0, 0.5) == pytest.approx(rest_v, abs=0.02)


def test_retarding_field_is_a_tenth_of_a_volt_for_each_factor_e() -> None:
    of = law("12AV6")
    far, near = (at(of, {"diode1": v})["diode1"] for v in (-1.6, -1.5))
    assert near / far == pytest.approx(np.e, rel=1e-3)


def test_a_filament_tube_rests_nearer_zero() -> None:
    of = law("1S5")

    def balance(volts: float) -> float:
        given = {"g1": volts, "plate": 30.0, "g2": 30.0, "heater2": 1.4}
        return at(of, given)["g1"] + volts / 10e6

    assert -0.5 < brentq(balance, -5.0, 0.5) < 0.0


def test_cold_weak_and_shifted() -> None:
    of = law("50C5")
    row = [[110.0 if name in ("plate", "g2") else -7.5 if name == "g1" else 0.0]
           for name in of.terminals]  # fmt: skip
    volts = np.array(row).T.repeat(4, axis=0)
    emission, shift = np.array([1.0, 0.5, 0.0, 1.0]), np.array([0.0, 0.0, 0.0, 0.2])
    amperes, slopes = of.currents(volts, emission=emission, contact_shift_v=shift)
    plate = amperes[:, of.terminals.index("plate")]
    assert plate[1] == pytest.approx(plate[0] / 2)
    assert np.abs(amperes[2]).max() == 0.0
    assert np.abs(slopes[2]).max() == 0.0
    assert 1.0e-3 < plate[3] - plate[0] < 2.0e-3  # 0.2 V at 7500 umho


def test_where_grid_current_starts_is_apart_from_the_drive() -> None:
    """Each shift moves its own: the grid's current, or the plate's and a detector diode's."""
    of = law("12AV6")
    volts = {"plate": 60.0, "g1": -0.6, "diode1": -0.4}
    row = np.array([[volts.get(name, 0.0) for name in of.terminals]])
    plain, _ = of.currents(row)
    grid, _ = of.currents(row, grid_shift_v=0.15)
    drive, _ = of.currents(row, contact_shift_v=0.15)
    at_g1, at_plate, at_diode = (of.terminals.index(n) for n in ("g1", "plate", "diode1"))
    # 0.15 V at 0.1 V for a factor e: 4.5 times, a little less where the bend begins.
    assert grid[0, at_g1] / plain[0, at_g1] == pytest.approx(np.exp(1.5), rel=0.15)
    assert grid[0, [at_plate, at_diode]] == pytest.approx(plain[0, [at_plate, at_diode]])
    assert drive[0, at_g1] == pytest.approx(plain[0, at_g1])
    assert drive[0, at_plate] > 1.2 * plain[0, at_plate]
    assert drive[0, at_diode] > 2 * plain[0, at_diode]


def test_plate_without_volts_leaves_the_screen_all_the_current() -> None:
    """An open output transformer: no plate current, a hot screen (worked example 6F6)."""
    of = law("6F6")
    volts = {"g2": 241.2, "g1": -10.8}
    whole = at(of, {**volts, "plate": 240.0})
    broken = at(of, {**volts, "plate": 3.8})
    assert broken["plate"] < 0.2 * whole["plate"]
    assert broken["g2"] > 4 * whole["g2"]


def test_an_open_screen_cuts_the_plate_off() -> None:
    of = law("12SK7")

    def flow(screen_v: float) -> float:
        return at(of, {"plate": 90.0, "g2": screen_v, "g1": -1.0})["g2"]

    floating = brentq(lambda v: flow(v) - 1e-9, -5.0, 20.0)
    assert at(of, {"plate": 90.0, "g2": floating, "g1": -1.0})["plate"] < 0.3e-3


@pytest.mark.parametrize(
    ("name", "screen_v", "bias_v", "umho", "forgiven"),
    [
        ("12SK7", 100.0, -35.0, 10.0, 0.05),  # from memory, as all of cutoffs.csv
        ("7B7", 100.0, -40.0, 10.0, 0.2),
        ("6K7", 100.0, -42.5, 2.0, 0.6),  # three points share the fit with the cut-off
        ("12BA6", 100.0, -20.0, 40.0, 0.25),  # as near as the form comes
    ],
)
def test_remote_cutoff_where_the_maker_puts_it(
    name: str, screen_v: float, bias_v: float, umho: float, forgiven: float
) -> None:
    of = law(name)
    given = {"plate": 250.0, "g2": screen_v, "g1": bias_v}
    _, slopes = of.currents([[given.get(t, 0.0) for t in of.terminals]])
    gm = slopes[0, of.terminals.index("plate"), of.terminals.index("g1")]
    assert gm * 1e6 == pytest.approx(umho, rel=forgiven)


def test_sharp_cutoff_is_sharp() -> None:
    assert at(law("6SJ7"), {"plate": 250.0, "g2": 100.0, "g1": -20.0})["plate"] < 1e-9


def test_running_converter_follows_its_screen_and_not_its_oscillator_grid() -> None:
    of = law("12BE6")
    point = {"plate": 100.0, "g2": 100.0, "g3": -1.5, "g1": -10.0}
    here = at(of, point)
    assert -here["cathode"] == pytest.approx(10.1e-3, rel=0.03)  # published
    assert here["g1"] == pytest.approx(0.5e-3, rel=0.01)
    half = at(of, {**point, "plate": 50.0, "g2": 50.0})
    assert (half["plate"] + half["g2"]) / (here["plate"] + here["g2"]) == pytest.approx(
        0.5**1.5, rel=0.01
    )
    other = at(of, {**point, "g1": -12.0})
    assert other["plate"] == here["plate"]
    assert other["g1"] < 1e-6


def test_dead_oscillator_draws_more_and_obeys_its_first_grid() -> None:
    for name, screen in (("12BE6", "g2"), ("6A8", "g3"), ("1R5", "g2")):
        of = law(name)
        point = {"plate": 90.0, screen: 67.5, "g2": 67.5}
        running, dead = (at(of, point, oscillator=s)[screen] for s in OSCILLATOR_STATES)
        assert 1.8 * running < dead < 3.5 * running
        assert at(of, {**point, "g1": -40.0}, oscillator="dead")[screen] < 1e-9


@pytest.mark.parametrize("name", ["12SA7", "6A8", "1A7GT", "1R5", "ECH81", "7A8"])
def test_swing_on_the_leak_it_was_published_with(name: str) -> None:
    of = law(name)
    assert of.swing is not None
    offset = of.tube.heater_v / 2 if of.filament and of.tube.heater_v else 0.0
    # The swing counts from the mean of the filament.
    given = {of.swing.grid: -of.swing.volts + offset, "heater2": 2 * offset}
    assert at(of, given)[of.swing.grid] == pytest.approx(of.swing.amperes, rel=1e-3)


def test_triode_heptode_signal_grid_keeps_its_hold() -> None:
    of = law("ECH81")
    point = {"plate": 250.0, "g2": 100.0, "g1": -2.0, "triode-grid": -10.0, "g3": -10.0}
    here = at(of, point)
    assert here["plate"] == pytest.approx(3.25e-3, rel=0.02)
    assert here["g2"] == pytest.approx(6.7e-3, rel=0.02)
    assert at(of, {**point, "g1": -20.0})["plate"] < 0.1 * here["plate"]


def test_tuning_eye_triode_and_target() -> None:
    """6E5 (from memory): target 4 mA at 250 V, 1 mA at 100 V; plate 0.24 mA through 1 megohm."""
    of = law("6E5")
    assert at(of, {"target": 250.0})["target"] == pytest.approx(4e-3, rel=0.02)
    assert at(of, {"target": 100.0})["target"] == pytest.approx(1e-3, rel=0.02)

    def plate_v(grid_v: float) -> float:
        def balance(v: float) -> float:
            return at(of, {"plate": v, "g1": grid_v})["plate"] - (250.0 - v) / 1e6

        return float(brentq(balance, 0.0, 250.0))

    assert plate_v(0.0) < 20.0
    assert plate_v(-8.0) > 190.0  # closed: near the 250 V of the target


def test_filament_ends_share_the_cathode_current() -> None:
    of = law("1T4")
    point = {"plate": 90.0, "g2": 67.5, "heater2": 1.4}
    here = at(of, point)
    assert here["heater1"] == pytest.approx(here["heater2"])
    assert here["plate"] == pytest.approx(3.5e-3, rel=0.02)  # published against the negative end
    turned = at(of, {**point, "heater1": 1.4, "heater2": 0.0})
    assert turned == pytest.approx(here)
    lifted = {name: volts + 4.2 for name, volts in point.items()}
    assert at(of, {**lifted, "heater1": 4.2, "g1": 4.2})["plate"] == pytest.approx(here["plate"])


def test_a_tapped_filament_in_series_draws_less_than_in_parallel() -> None:
    """3V4 at 90/90/-4.5 V: 9.5 + 2.1 mA in parallel, 7.7 + 1.7 mA in series (from memory)."""
    of = law("3V4")
    assert [of.filament[name] for name in ("heater1", "tap", "heater2")] == [0.25, 0.5, 0.25]
    point = {"plate": 90.0, "g2": 90.0, "g1": -4.5}
    parallel = at(of, {**point, "heater1": 1.4, "heater2": 1.4})
    series = at(of, {**point, "tap": 1.4, "heater2": 2.8})
    totals = [each["plate"] + each["g2"] for each in (parallel, series)]
    assert totals == pytest.approx([11.6e-3, 9.4e-3], rel=0.05)


def test_twin_sections_are_alike_and_apart() -> None:
    of = law("12AX7")
    here = at(of, {"plate1": 250.0, "grid1": -2.0})
    assert here["plate1"] == pytest.approx(1.2e-3, rel=0.01)
    assert abs(here["plate2"]) < 1e-3 * here["plate1"]
    other = at(of, {"plate2": 250.0, "grid2": -2.0})
    assert other["plate2"] == here["plate1"]


def test_gas_rectifier_keeps_its_drop() -> None:
    of = law("0Z4")
    assert at(of, {"plate1": 24.0})["plate1"] == pytest.approx(75e-3, rel=0.01)
    assert at(of, {"plate1": 20.0})["plate1"] < 1e-9


@pytest.mark.parametrize("name", ["6SG7", "UY85", "ECC85", "1L6"])
def test_unknown_is_said_to_be_unknown(name: str) -> None:
    assert law_of(tube(name)) is None
    said = why(tube(name))
    assert said is not None
    assert name in said


def test_a_known_type_needs_no_reason() -> None:
    assert why(tube("12AX7")) is None
    assert law_of(tube("12AX7")) is law_of(tube("ECC83"))


def test_a_type_with_volts_but_no_slope_is_not_guessed() -> None:
    known = tube("6J5")
    bare = tuple(replace(p, gm_s=None, mu=None, rp_ohm=None) for p in known.points)
    said = why(replace(known, name="6J5X", points=bare))
    assert said is not None
    assert "transconductance" in said


def test_state_of_an_oscillator_is_running_or_dead() -> None:
    with pytest.raises(ValueError, match="running or dead"):
        law("12BE6").currents(np.zeros((1, 5)), oscillator="asleep")


TYPES = """
type 6ZP7 remote-cutoff pentode, heater 6.3 V 0.3 A,
     pins 1 shell 2 heater 3 plate 4 screen 5 suppressor 7 heater 8 cathode cap grid,
     point plate 250 V 7 mA screen 100 V 1.7 mA grid -3 V gm 1450 umho
type 6ZP8 triode, heater 6.3 V 0.3 A, pins 1 heater 2 plate 3 grid 4 cathode 5 heater,
     point plate 100 V 2 mA grid -1 V gm 2000 umho
type 6ZP9 triode, heater 6.3 V 0.3 A, pins 1 heater 2 plate 3 grid 4 cathode 5 heater
"""


def test_a_type_of_a_text_has_a_law_by_the_same_door() -> None:
    pentode, triode, bare = read(TYPES).types
    mine = law_of(pentode)
    assert mine is not None
    here = at(mine, {"plate": 250.0, "g2": 100.0, "g1": -3.0})
    assert here["plate"] == pytest.approx(7e-3, rel=0.01)
    assert here["g2"] == pytest.approx(1.7e-3, rel=0.01)
    other = law_of(triode)
    assert other is not None
    assert at(other, {"plate": 100.0, "g1": -1.0})["plate"] == pytest.approx(2e-3, rel=0.01)
    assert law_of(bare) is None
    assert "6ZP9" in (why(bare) or "")


def test_a_type_from_elsewhere_equals_the_built_in() -> None:
    """The same points under another name: fitted at run time, the same law."""
    for name in ("6SJ7", "12AT6", "50L6GT", "12BE6", "1T4", "6E5", "5U4G"):
        known = tube(name)
        mine = law_of(replace(known, name="X" + name, aliases=()))
        assert mine is not None
        assert mine.fits.keys() == law(name).fits.keys()
        for section, fit in law(name).fits.items():
            assert dict(mine.fits[section]) == pytest.approx(dict(fit), rel=1e-5)


def test_stack_equals_each_law_by_itself() -> None:
    laws = [law(name) for name in ("12BE6", "12BA6", "12AV6", "50C5", "35W4", "1T4", "12AX7")]
    stack = LawStack(laws, oscillators=["dead"] + ["running"] * 6)
    volts = random_volts(stack.width, 2)
    emission = np.linspace(0.2, 1.0, 7)[None, :].repeat(len(volts), axis=0)
    amperes, slopes = stack.currents(volts, emission=emission, contact_shift_v=0.1)
    start = 0
    for k, each in enumerate(laws):
        part = slice(start, start + len(each.terminals))
        alone, slope = each.currents(
            volts[:, part], emission=emission[:, k], contact_shift_v=0.1,
            oscillator="running" if k else "dead",
        )  # fmt: skip
        assert amperes[:, part] == pytest.approx(alone, rel=1e-12, abs=1e-18)
        assert slopes[:, part, part] == pytest.approx(slope, rel=1e-12, abs=1e-18)
        start = part.stop
    rest = slopes.copy()
    start = 0
    for each in laws:
        stop = start + len(each.terminals)
        rest[:, start:stop, start:stop] = 0.0
        start = stop
    assert np.abs(rest).max() == 0.0


def test_stack_on_shared_nodes() -> None:
    """6J7 as a triode, its cathode at the reference: 180/-5.3 V, 5.3 mA (from memory)."""
    of = law("6J7")
    columns = {"plate": 0, "g2": 0, "g1": 1, "cathode": GROUND}
    stack = LawStack([of], [[columns[name] for name in of.terminals]])
    amperes, slopes = stack.currents([[180.0, -5.3]])
    assert amperes.shape == (1, 2)
    assert amperes[0, 0] == pytest.approx(5.3e-3, rel=0.05)
    assert slopes[0, 0, 1] == pytest.approx(1800e-6, rel=0.15)
    assert slopes[0, 0, 0] == pytest.approx(1 / 11000, rel=0.25)


def test_two_tubes_on_one_filament_string() -> None:
    """The upper tube's current leaves half at the node where the lower one's enters."""
    of = law("1T4")
    names = of.terminals
    upper = {"plate": 0, "g2": 1, "g1": 2, "heater1": 3, "heater2": 4}
    lower = {"plate": 0, "g2": 1, "g1": 2, "heater1": GROUND, "heater2": 3}
    stack = LawStack([of, of], [[each[n] for n in names] for each in (upper, lower)])
    amperes, slopes = stack.currents([[90.0, 67.5, 0.0, 1.4, 2.8]])
    both = -(amperes[0, :3].sum())
    assert amperes[0, 4] < 0.0
    assert amperes[0, 3] < amperes[0, 4]
    assert -amperes[0, 3:].sum() < -both  # the rest leaves at the reference
    step = np.zeros(5)
    step[3] = 1e-6
    volts = np.array([[90.0, 67.5, 0.0, 1.4, 2.8]])
    above, below = stack.currents(volts + step)[0], stack.currents(volts - step)[0]
    assert (above - below)[0] / 2e-6 == pytest.approx(slopes[0, :, 3], rel=1e-5)
