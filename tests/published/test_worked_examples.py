"""Circuits with values that somebody published, worked by the solver.

Each names its source. Factory voltage sheets carry 20 % and are rounded to 5 V (10 V at the rail);
where a narrower band stands, the sheet is consistent in itself. `computed` marks arithmetic on
the given values, which the source leaves to its reader.
"""

from __future__ import annotations

import pytest

from netcheck.catalog.tubes import find_tube
from netcheck.circuit import Circuit
from netcheck.circuit.operating import Point
from netcheck.circuit.states import NOMINAL, Edit, State
from netcheck.language import read


def solved(text: str, state: State = NOMINAL) -> Point:
    chassis = read(text)
    assert [f.message for f in chassis.findings] == []
    return Circuit(chassis).operating.point(state)


def volts(point: Point, net: str) -> float:
    found = point.volts(net)
    assert found is not None
    return found


# --- a push-pull amplifier with fixed bias and a cathodyne
#
# Fender factory schematic 5F11 (Vibrolux), voltages to ground by electronic voltmeter, 20 %; seen
# as a scan in the public repository profedney/tubeamps. The high-voltage winding's volts are not
# printed, so the rails are held as printed. Jack 1 is empty: its contact closes 68K to chassis,
# which is the only way the first grid gets to chassis.

OPEN_AMPLIFIER = """
line none
measure from CHASSIS
hold B1 340 V
hold BIAS -31 V
V1A 12AX7: plate TREMPLATE, grid TREMGRID, cathode TREMCATH
R1 100K 1/2 W: B3 to TREMPLATE
R2 1500 ohm 1/2 W: TREMCATH to CHASSIS
C1 25 mfd 25 V electrolytic: + TREMCATH, - CHASSIS
R3 1 meg 1/2 W: TREMGRID to CHASSIS
C2 .02 mfd 600 V paper: TREMPLATE to TREMOUT
R4 2 meg 1/2 W, "speed": TREMOUT to SPEED
R5 100K 1/2 W: SPEED to CHASSIS
C3 .01 mfd 600 V paper: TREMOUT to PHASE
R6 1 meg 1/2 W: PHASE to TREMCATH
C4 .01 mfd 600 V paper: PHASE to TREMGRID
R7 68K 1/2 W: JACK1 to INGRID
R8 68K 1/2 W: JACK2 to INGRID
R9 68K 1/2 W: JACK3 to INGRID
wire JACK1 to CHASSIS
V1B 12AX7: plate INPLATE, grid INGRID, cathode INCATH
R10 100K 1/2 W: B3 to INPLATE
R11 1500 ohm 1/2 W: INCATH to CHASSIS
C5 25 mfd 25 V electrolytic: + INCATH, - CHASSIS
C6 .02 mfd 600 V paper: INPLATE to TOP
R12 volume control, 1 meg: TOP to SECONDGRID to CHASSIS
V2A 12AX7: plate SECONDPLATE, grid SECONDGRID, cathode SECONDCATH
R13 100K 1/2 W: B3 to SECONDPLATE
R14 1500 ohm 1/2 W: SECONDCATH to CHASSIS
R15 56K 1/2 W: SECONDCATH to VC
C7 .02 mfd 600 V paper: SECONDPLATE to SPLITGRID
V2B 12AX7: plate SPLITPLATE, grid SPLITGRID, cathode SPLITCATH
R16 56K 1/2 W: B3 to SPLITPLATE
R17 1500 ohm 1/2 W: SPLITCATH to TAIL
R18 56K 1/2 W: TAIL to CHASSIS
R19 1 meg 1/2 W: SPLITGRID to TAIL
C8 .1 mfd 400 V paper: SPLITPLATE to DRIVE3
C9 .1 mfd 200 V paper: SPLITCATH to DRIVE4
R20 control, 250K, "depth": BIAS to GB to DEPTH
C10 .1 mfd 400 V paper: DEPTH to TREMPLATE
R21 220K 1/2 W: GB to DRIVE3
R22 220K 1/2 W: GB to DRIVE4
R23 1500 ohm 1/2 W: DRIVE3 to GRID3
R24 1500 ohm 1/2 W: DRIVE4 to GRID4
V3 6V6GT: plate T2.primary1, screen B2, grid GRID3, cathode CHASSIS
V4 6V6GT: plate T2.primary3, screen B2, grid GRID4, cathode CHASSIS
T2 output, primary 250 ohm, secondary .4 ohm:
   primary T2.primary1 to B1 to T2.primary3, secondary VC to CHASSIS
C11 16 mfd 450 V electrolytic: + B1, - CHASSIS
R25 470 ohm 1 W: B1 to B2
C12 16 mfd 450 V electrolytic: + B2, - CHASSIS
R26 22K 1 W: B2 to B3
C13 16 mfd 450 V electrolytic: + B3, - CHASSIS
"""
PRINTED = {
    "TREMPLATE": 155.0, "TREMCATH": 1.5, "INPLATE": 160.0, "INCATH": 1.3, "SECONDPLATE": 160.0,
    "SPLITPLATE": 205.0, "SPLITCATH": 50.0, "TAIL": 48.7, "B2": 330.0, "GB": -31.0,
}  # fmt: skip


@pytest.mark.parametrize(("net", "printed"), PRINTED.items())
def test_open_amplifier_with_its_last_rail_held(net: str, printed: float) -> None:
    point = solved(OPEN_AMPLIFIER + "hold B3 260 V\n")

    assert volts(point, net) == pytest.approx(printed, rel=0.15)


@pytest.mark.parametrize(("net", "printed"), [*PRINTED.items(), ("B3", 260.0)])
def test_open_amplifier_from_its_first_rail(net: str, printed: float) -> None:
    """B2 and B3 follow from what the tubes draw through 470 ohm and 22 kohm."""
    assert volts(solved(OPEN_AMPLIFIER), net) == pytest.approx(printed, rel=0.20)


def test_a_leak_into_a_grid_whose_bias_is_negative() -> None:
    """The grid leak returns to a bias of -31 V: the leak raises the grid from there, not from 0.

    Computed: 205 V at the plate, 10 megohm, 220 kohm: -31 + (205 + 31) x 0.22 / 10.22.
    """
    text = (
        "line none\nmeasure from CHASSIS\nhold PLATE 205 V\nhold BIAS -31 V\n"
        "C8 .1 mfd 400 V paper: PLATE to GRID\nR21 220K: GRID to BIAS\n"
        "V3 6V6GT: plate B1, screen B1, grid GRID, cathode CHASSIS\nR1 1K: PLATE to B1\n"
    )
    point = solved(text, State("leak", edits=(Edit("leak", "C8", 10e6),)))

    assert volts(point, "GRID") == pytest.approx(-31 + 236 * 0.22 / 10.22, abs=0.01)


def test_the_same_leak_in_the_whole_amplifier() -> None:
    """There the depth control stands in the bias lead too: 125 kohm of it at half its turn."""
    state = State("leak", edits=(Edit("leak", "C8", 10e6),))
    well, ill = solved(OPEN_AMPLIFIER), solved(OPEN_AMPLIFIER, state)
    plate = volts(ill, "SPLITPLATE")

    divided = -31 + (plate + 31) * 0.345 / 10.345
    assert volts(ill, "DRIVE3") == pytest.approx(divided, abs=0.02)
    assert ill.tubes["V3"].watts("plate") > 1.5 * well.tubes["V3"].watts("plate")


# --- a preamplifier: the cleanest triode stages found
#
# Fender factory schematic, Champ 12, voltages by vacuum-tube voltmeter without signal, resistors
# 5 %; seen as a scan in the public repository profedney/tubeamps. The rail is printed as 226 V.

STAGES = {"V1A": (100, 1.5, 148), "V1B": (100, 2.7, 169), "V2A": (220, 2.7, 133),
          "V2B": (220, 2.7, 129)}  # fmt: skip


def preamplifier() -> str:
    lines = ["line none", "measure from CHASSIS", "hold A+ 226 V"]
    for number, (ref, (load, bias, _)) in enumerate(STAGES.items(), 1):
        lines += [
            f"{ref} 12AX7: plate P{ref}X, grid G{ref}X, cathode K{ref}X",
            f"R{number}1 {load}K 1/2 W 5%: A+ to P{ref}X",
            f"R{number}2 {bias}K 1/2 W 5%: K{ref}X to CHASSIS",
            f"R{number}3 1 meg 1/2 W 5%: G{ref}X to CHASSIS",
        ]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("ref", STAGES)
def test_preamplifier_plates(ref: str) -> None:
    load, bias, printed = STAGES[ref]
    point = solved(preamplifier())
    plate = volts(point, f"P{ref}X")

    assert plate == pytest.approx(printed, rel=0.07)
    # The cathode is the same current over its resistor.
    assert volts(point, f"K{ref}X") == pytest.approx((226 - plate) / load * bias, rel=1e-3)


def test_preamplifier_current_is_that_of_its_plates() -> None:
    """Computed from the printed plates: 2.21 mA (its 7.5 kohm from 242 V shows 2.13 mA)."""
    point = solved(preamplifier())
    drawn = sum(point.amperes(f"R{n}1") or 0.0 for n in range(1, 5))

    assert drawn == pytest.approx(2.21e-3, rel=0.07)


def test_bias_returns_to_a_tap_of_the_cathode_resistors() -> None:
    """The same sheet's output stage: 27 V over 220 ohm and two 390 ohm in parallel, 65 mA.

    The grid leak returns to the junction, so the bias is 27 x 220 / 415 = 14.3 V and not 27 V
    (computed). The tube's type is not printed: a load draws its 65 mA.
    """
    point = solved(
        "line none\nmeasure from CHASSIS\nhold B+ 496 V\nZ1 load 65 mA: B+ to CATH\n"
        "R1 220 ohm: CATH to TAP\nR2 390 ohm: TAP to CHASSIS\nR3 390 ohm: TAP to CHASSIS\n"
        "R4 220K: GRID to TAP\nC1 .02 mfd 600 V film: GRID to CHASSIS\n"
    )

    assert volts(point, "CATH") == pytest.approx(27.0, rel=0.005)
    assert volts(point, "CATH") - volts(point, "GRID") == pytest.approx(14.3, rel=0.005)
    assert point.watts("R1") == pytest.approx(0.065**2 * 220, rel=1e-5)


# --- hand estimates for two output tubes (ampbooks.com, amplifier analysis: facts only)


def test_a_shared_cathode_resistor_tells_the_current() -> None:
    """20 V over 250 ohm are 80 mA."""
    point = solved("line none\nmeasure from CHASSIS\nhold K 20 V\nR1 250 ohm 10 W: K to CHASSIS\n")

    assert point.amperes("R1") == pytest.approx(0.080, rel=1e-12)
    assert point.watts("R1") == pytest.approx(1.6, rel=1e-12)


def test_a_dropper_loses_its_ohms_times_amperes() -> None:
    """5 kohm at 9 mA lose 45 V."""
    point = solved(
        "line none\nmeasure from CHASSIS\nhold B1 300 V\nR1 5K 2 W: B1 to B2\n"
        "Z1 load 9 mA: B2 to CHASSIS\n"
    )

    # A load stands beside ten gigohms of insulation.
    assert volts(point, "B1") - volts(point, "B2") == pytest.approx(45.0, rel=1e-5)


# --- meters


@pytest.mark.parametrize(
    ("rail_v", "upper", "lower", "meter_ohm", "published"),
    [
        # US Army correspondence subcourse MM0455, lesson 5, fig. 5-1, p. 93: about 3.3 V
        (10.0, "10K", "10K", 10e3, 3.333),
        # an instrumentation textbook, ex. 3.14 (FOSSEE book 2360): 500 ohm/V on 150 V: 120.97 V
        (250.0, "20K", "25K", 75e3, 120.97),
        # Lessons in Electric Circuits, voltmeter impact: 250 M in parallel with 10 M is 9.615 M
        (24.0, "250 meg", "250 meg", 10e6, 24 * 9.6154 / 259.6154),
    ],
)
def test_a_meter_changes_what_it_measures(
    rail_v: float, upper: str, lower: str, meter_ohm: float, published: float
) -> None:
    text = (
        f"line none\nmeasure from CHASSIS\nhold B+ {rail_v:g} V\n"
        f"R1 {upper}: B+ to TAP\nR2 {lower}: TAP to CHASSIS\n"
    )
    point = solved(text, State("meter", meter=("TAP", meter_ohm)))

    assert volts(point, "TAP") == pytest.approx(published, rel=1e-3)
    assert volts(solved(text), "TAP") > volts(point, "TAP")


# --- a series heater string


def test_the_resistor_that_replaces_a_line_cord() -> None:
    """RCA 4X3: 6A7, 6F7, 43 and 25Z5 at 0.3 A on 117 V: 54.4 V too much, 181 ohm, 16 W.

    Cape old radio site, page on AC/DC radio resistors (capeoldradio.com). Computed: 62.6 V in the
    string, 181.3 ohm, 16.3 W.
    """
    tubes = [find_tube(name) for name in ("6A7", "6F7", "43", "25Z5")]
    assert None not in tubes
    string_v = sum(tube.heater_v or 0.0 for tube in tubes if tube)
    amperes = {tube.heater_a for tube in tubes if tube}

    assert amperes == {0.3}
    assert string_v == pytest.approx(62.6, abs=0.01)
    assert (117 - string_v) / 0.3 == pytest.approx(181, rel=0.005)
    assert (117 - string_v) * 0.3 == pytest.approx(16.3, rel=0.005)  # printed rounded down


def test_the_same_string_as_running_resistances() -> None:
    """Solved on 117 V DC, 83.3 ohm for the 25Z5: each of the others has its volts."""
    point = solved(
        "line none\nmeasure from CHASSIS\nhold TOP 117 V\nR1 181.33 ohm 30 W: TOP to H1\n"
        "R2 83.333 ohm 30 W: H1 to H2\n"
        "V3 6F7: cathode CHASSIS, heater H2 to H3\n"
        "V1 6A7: cathode CHASSIS, heater H3 to H4\n"
        "V2 43: cathode CHASSIS, heater H4 to CHASSIS\n"
    )

    assert (volts(point, "H2") or 0) - (volts(point, "H3") or 0) == pytest.approx(6.3, rel=1e-4)
    assert point.amperes("R1") == pytest.approx(0.3, rel=1e-4)
    assert volts(point, "H4") == pytest.approx(25.0, rel=1e-4)
    assert volts(point, "H3") - volts(point, "H4") == pytest.approx(6.3, rel=1e-4)
    assert point.watts("R1") == pytest.approx(16.3, rel=0.005)
