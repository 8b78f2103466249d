"""The voltage chart of known circuits: marks of the trade, and which way each fault moves them.

Stressed: the five-tube set at 117 V with an 11 megohm meter, and what a fault does to it: the signs
a repairman knows. Back bias that returns to a tap. Figures and directions are common practice
without a source unless one is named; magnitudes stand only where the trade gives them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from netcheck.circuit import Circuit
from netcheck.circuit.operating import Operating, Point
from netcheck.circuit.states import NOMINAL, Edit, State
from netcheck.findings import NotSolved
from netcheck.language import read, read_file

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
METER_OHM = 11e6


@cache
def operating(name: str) -> Operating:
    return Circuit(read_file(EXAMPLES / f"{name}.chassis")).operating


def larkfield(state: State = NOMINAL) -> Point:
    return operating("larkfield-five-restored").point(state)


def tansley(state: State = NOMINAL) -> Point:
    return operating("tansley-console-restored").point(state)


def with_edit(kind: str, ref: str, ohm: float = 0.0, path: str = "") -> State:
    return State(f"{ref} {kind} {ohm:g}", edits=(Edit(kind, ref, ohm, path=path),))


def volts(point: Point, net: str) -> float:
    found = point.volts(net)
    assert found is not None, net
    return found


def metered(net: str) -> float:
    """What a meter reads at a net of the five-tube set: the set is solved with it on."""
    return volts(larkfield(State(f"meter on {net}", meter=(net, METER_OHM))), net)


def watts(point: Point, tube: str, name: str = "plate") -> float:
    return point.tubes[tube].watts(name)


# --- the five-tube set (trade experience: computation marks of the project)


@pytest.mark.parametrize(
    ("net", "low", "high"),
    [
        ("B1", 115.0, 132.0),
        ("B2", 85.0, 112.0),
        ("KOUT", 5.5, 8.0),  # cathode of the 50C5
        ("DRIVE", -0.1, 0.1),  # its grid
        ("V3.plate", 25.0, 65.0),  # first audio stage on 470K
        ("AVC", -0.9, -0.3),  # no signal: contact potential of the detector
        ("OSCGRID", -12.0, -4.0),  # oscillator running
    ],
)
def test_the_five_tube_set_reads_what_such_sets_read(net: str, low: float, high: float) -> None:
    assert low <= metered(net) <= high


def test_the_output_plate_is_a_little_below_b_plus() -> None:
    assert 3.0 <= metered("B1") - metered("T2.plate") <= 12.0


def test_the_meter_loads_what_is_of_high_resistance_and_nothing_else() -> None:
    idle = larkfield()

    assert metered("B1") == pytest.approx(volts(idle, "B1"), rel=1e-4)
    # 470K plate load (531K measured) beside the tube's plate resistance: 0.5 to 3 % of the volts
    assert 0.97 < metered("V3.plate") / volts(idle, "V3.plate") < 0.995
    # a grid on 10 megohm: the meter halves the leak
    grid = volts(idle, "VOLGRID")
    assert -1.0 < grid < -0.4
    assert 0.05 < metered("VOLGRID") - grid < 0.2


def test_an_older_meter_reads_a_high_resistance_point_low() -> None:
    """1,000 ohm per volt on 250 V is 250 kohm; service sheets of its time show such readings."""
    old = larkfield(State("250 K on V3.plate", meter=("V3.plate", 250e3)))

    assert volts(old, "V3.plate") < 0.7 * metered("V3.plate")
    assert volts(old, "B1") == pytest.approx(volts(larkfield(), "B1"), abs=0.1)


def test_low_and_high_line_move_the_rails_in_proportion() -> None:
    of = operating("larkfield-five-restored")
    low, high = of.points([State(f"line {n}", line_v=of.line[n]) for n in ("low", "high")])
    nominal = volts(larkfield(), "B1")

    assert 0.88 < volts(low, "B1") / nominal < 0.92
    assert 1.08 < volts(high, "B1") / nominal < 1.12


def test_without_load_the_reservoir_stands_at_the_peak_of_the_line() -> None:
    cold = larkfield(State("no load", emission=(("*", 0.0),)))

    assert cold.supplies[0].no_load_v == pytest.approx(117 * 2**0.5, rel=0.04)
    assert 0.9 * 117 * 2**0.5 < volts(cold, "B1") <= cold.supplies[0].no_load_v


# --- one fault after another


def test_a_leaky_coupling_capacitor() -> None:
    """Grid up, cathode up 1.3 to 2 times, B+ down 5 to 20 %, the plate redder."""
    well, ill = larkfield(), larkfield(with_edit("leak", "C14", 1e6))

    assert 0.5 < volts(ill, "DRIVE") < 20.0
    assert 1.3 < volts(ill, "KOUT") / volts(well, "KOUT") < 2.0
    assert 0.80 < volts(ill, "B1") / volts(well, "B1") < 0.95
    assert watts(ill, "V4") > 1.2 * watts(well, "V4")


def test_a_leak_moves_the_grid_the_more_the_less_its_ohms() -> None:
    of = operating("larkfield-five-restored")
    ohms = [10.0**k for k in range(3, 11)]
    found = of.points([with_edit("leak", "C14", ohm) for ohm in ohms])
    grid = [volts(point, "DRIVE") for point in found]

    assert grid == sorted(grid, reverse=True)
    assert abs(grid[-1] - volts(larkfield(), "DRIVE")) < 0.01
    # Before grid current flows the divider rules: 0.47 over 0.47 + 100 megohm of the plate's volts.
    hundred = volts(larkfield(with_edit("leak", "C14", 1e8)), "DRIVE")
    assert hundred == pytest.approx(volts(larkfield(), "V3.plate") * 0.47 / 100.47, rel=0.05)


def test_an_open_output_primary() -> None:
    """Plate near nothing, the screen takes the current: cathode about 60 % of what it was."""
    well, ill = larkfield(), larkfield(with_edit("open", "T2", path="primary"))

    assert -1.0 < volts(ill, "T2.plate") < 6.0
    assert volts(ill, "B2") > 0.6 * volts(well, "B2")
    assert 0.4 < volts(ill, "KOUT") / volts(well, "KOUT") < 0.85
    assert watts(ill, "V4", "g2") > 3 * watts(well, "V4", "g2")
    # The rail's resistor burns: 1.9 W in a 1 W part was found so (a common report of the trade).
    assert (ill.watts("R10") or 0.0) > 1.9


def test_an_open_cathode_resistor() -> None:
    well, ill = larkfield(), larkfield(with_edit("open", "R12"))

    assert volts(ill, "KOUT") > 2 * volts(well, "KOUT")
    assert (ill.tubes["V4"].electrode("plate") or pytest.fail("no plate")).amperes < 1e-5
    assert volts(ill, "B1") > 1.08 * volts(well, "B1")
    assert watts(ill, "V4") < 0.01


def test_a_shorted_cathode_bypass_takes_the_bias() -> None:
    well, ill = larkfield(), larkfield(with_edit("short", "R12"))

    assert abs(volts(ill, "KOUT")) < 0.01
    assert watts(ill, "V4") > 1.4 * watts(well, "V4")
    assert volts(ill, "B1") < 0.95 * volts(well, "B1")


def test_a_shorted_second_filter_capacitor() -> None:
    """B2 gone, the whole rail over the filter resistor, and that burns."""
    ill = larkfield(with_edit("short", "C1B"))

    assert abs(volts(ill, "B2")) < 0.1
    assert volts(ill, "B1") > 50.0
    assert (ill.watts("R10") or 0.0) == pytest.approx(volts(ill, "B1") ** 2 / 1200, rel=0.01)


def test_a_shorted_reservoir_overloads_the_rectifier() -> None:
    well, ill = larkfield(), larkfield(with_edit("short", "C1A"))

    assert abs(volts(ill, "B1")) < 0.1
    assert ill.supplies[0].amperes > 5 * well.supplies[0].amperes


def test_a_shorted_tone_capacitor_puts_the_rail_on_the_output_primary() -> None:
    ill = larkfield(with_edit("short", "C15"))

    assert abs(volts(ill, "T2.plate")) < 0.1
    assert volts(ill, "B1") < 0.7 * volts(larkfield(), "B1")
    assert (ill.watts("T2") or 0.0) > 10.0


def test_an_open_plate_load() -> None:
    well, ill = larkfield(), larkfield(with_edit("open", "R7"))

    assert abs(volts(ill, "V3.plate")) < 1.0
    assert volts(ill, "B2") == pytest.approx(volts(well, "B2"), abs=0.5)


def test_a_plate_load_that_drifted_high() -> None:
    ill = larkfield(with_edit("scale", "R7", 2.0))

    assert volts(ill, "V3.plate") < 0.9 * volts(larkfield(), "V3.plate")


def test_a_leaky_avc_capacitor() -> None:
    ill = larkfield(with_edit("leak", "C12", 1e5))

    assert volts(larkfield(), "AVC") < volts(ill, "AVC") <= 0.0


def test_a_dead_oscillator() -> None:
    """No self-bias at the oscillator grid, and so more current through the converter."""
    well, ill = larkfield(), larkfield(State("oscillator dead", oscillator="dead"))

    assert volts(ill, "OSCGRID") > -1.0
    assert volts(ill, "OSCTAP") > 1.2 * volts(well, "OSCTAP")
    assert volts(ill, "B2") < volts(well, "B2")


def test_a_weak_output_tube() -> None:
    well, ill = larkfield(), larkfield(State("V4 weak", emission=(("V4", 0.5),)))

    assert volts(ill, "KOUT") < 0.85 * volts(well, "KOUT")
    assert volts(ill, "B1") > volts(well, "B1")


def test_a_weak_rectifier_lowers_all_rails_alike() -> None:
    well, ill = larkfield(), larkfield(State("V5 weak", emission=(("V5", 0.4),)))
    parts = [volts(ill, net) / volts(well, net) for net in ("B1", "B2", "KOUT")]

    assert max(parts) < 0.99
    assert max(parts) - min(parts) < 0.05


def test_a_dead_rectifier_leaves_nothing() -> None:
    ill = larkfield(State("V5 dead", emission=(("V5", 0.0),)))

    assert abs(volts(ill, "B1")) < 3.0


@pytest.mark.parametrize(
    "state",
    [
        with_edit("open", "F1"),
        with_edit("open", "S1"),
        with_edit("open", "V5"),  # its heater
        State("lamp and its shunt out", edits=(Edit("open", "DS1"), Edit("open", "R11"))),
        State("F1 taken out", out=("F1",)),
        State("set off", closed=(("S1", "OFF"),)),
    ],
    ids=lambda state: state.name,
)
def test_what_feeds_the_rectifier_is_no_bystander(state: State) -> None:
    """Without it there is no B+ (or less): never the volts of the healthy set."""
    (found,) = operating("larkfield-five-restored").tried([state])

    if isinstance(found, Point):
        assert abs(volts(found, "B1")) < 0.97 * volts(larkfield(), "B1")
    else:
        assert isinstance(found, NotSolved)


def test_an_open_reservoir() -> None:
    """Half wave, average not peak: a transformerless set falls to some 50 V (trade experience)."""
    (found,) = operating("larkfield-five-restored").tried([with_edit("open", "C1A")])

    if isinstance(found, Point):
        assert 35.0 < volts(found, "B1") < 85.0


def test_an_open_field_coil() -> None:
    """The reservoir stands at the peak and nothing comes after it."""
    ill = tansley(with_edit("open", "L5"))

    assert ill.supplies[0].volts > 1.3 * tansley().supplies[0].volts
    assert abs(volts(ill, "B+")) < 2.0
    assert ill.supplies[0].amperes < 1e-4


def test_a_pulled_speaker_plug() -> None:
    ill = tansley(State("P2 out", out=("P2",)))

    assert abs(volts(ill, "B+")) < 2.0
    assert ill.supplies[0].volts > 1.3 * tansley().supplies[0].volts


def test_a_screen_dropper_that_drifted_high() -> None:
    well, ill = tansley(), tansley(with_edit("scale", "R5", 2.0))

    assert volts(ill, "SCREEN") < 0.8 * volts(well, "SCREEN")
    before, after = (p.tubes["V2"].electrode("plate") for p in (well, ill))
    assert before is not None
    assert after is not None
    assert after.amperes < 0.7 * before.amperes
    assert volts(ill, "B+") > volts(well, "B+")


def test_a_leaky_screen_bypass() -> None:
    well, ill = tansley(), tansley(with_edit("leak", "C9", 10e3))

    assert volts(ill, "SCREEN") < 0.7 * volts(well, "SCREEN")
    assert (ill.watts("R5") or 0.0) > 1.2 * (well.watts("R5") or 0.0)


def test_a_shorted_bias_filter() -> None:
    well, ill = tansley(), tansley(with_edit("short", "C25"))

    assert abs(volts(ill, "BIAS")) < 0.1
    assert watts(ill, "V4") > 1.2 * watts(well, "V4")
    assert volts(ill, "B+") < 0.9 * volts(well, "B+")


def test_back_bias_hides_part_of_a_leaky_coupling_capacitor() -> None:
    well, ill = tansley(), tansley(with_edit("leak", "C24", 1e6))

    assert volts(ill, "DRIVE") > volts(well, "DRIVE") + 5.0
    assert volts(ill, "BIAS") < volts(well, "BIAS") - 1.0  # the same current makes more bias
    assert watts(ill, "V4") > watts(well, "V4")


def test_an_open_back_bias_resistor() -> None:
    ill = tansley(with_edit("open", "R25"))

    assert volts(ill, "CT") < -300.0
    assert abs(volts(ill, "B+")) < 10.0


# --- bias in the negative lead


def test_back_bias_returns_to_its_tap_and_not_to_chassis() -> None:
    """R25, 45 + 210 ohm from CHASSIS: each grid gets the share of its tap of the supply current."""
    point = tansley()
    amperes = point.supplies[0].amperes

    assert volts(point, "CHASSIS") == 0.0
    assert volts(point, "BIAS") == pytest.approx(-amperes * 255, rel=0.005)
    assert volts(point, "BIAS3") == pytest.approx(-amperes * 45, rel=0.005)
    assert volts(point, "DRIVE") == pytest.approx(volts(point, "BIAS"), abs=0.02)
    assert volts(point, "VOLGRID") == pytest.approx(volts(point, "BIAS3"), abs=0.05)
    # The field coil is in the same lead: its drop is the rest, 900 ohm cold and a fifth more hot.
    assert volts(point, "CT") == pytest.approx(-amperes * (255 + 900 * 1.2), rel=0.005)


def test_what_a_held_rail_is_worth() -> None:
    """Two held rails, a divider between them: arithmetic, in the reading's own polarity."""
    text = (
        "line none\nmeasure from CHASSIS\nhold B1 250 V\nhold BIAS -30 V\n"
        "R1 100K: B1 to MIDDLE\nR2 40K: MIDDLE to BIAS\nR3 1K: CHASSIS to BIAS\n"
    )
    point = Circuit(read(text)).operating.point()

    assert volts(point, "MIDDLE") == pytest.approx(-30 + 280 * 40 / 140, rel=1e-9)
    assert point.amperes("R1") == pytest.approx(2e-3, rel=1e-9)
    assert point.watts("R3") == pytest.approx(0.9, rel=1e-9)
