"""Coupling capacitors: what is asked of them, what is said when something is not known."""

from __future__ import annotations

import pytest

from netcheck.circuit import Circuit
from netcheck.findings import Harm
from netcheck.language import read
from netcheck.rules._base import Case
from netcheck.rules._divider import shift_v
from netcheck.rules._runner import Report, lint
from netcheck.rules._sweep import Sweep, sweeps
from netcheck.rules.coupling_leakage import check as coupling_leakage

LINE_SET = """
line 117 V 60 Hz{tolerance}
P1 plug, polarized: hot LINE, neutral B-
V5 35W4: plate LINE, cathode B1, heater LINE to HB
R7 {load}: B1 to V3.plate
V3 6J5GT: plate V3.plate, grid B-, cathode B-, heater HB to B-
{coupling}
R9 {leak}: DRIVE to B-
V4 50C5: plate T2.plate, screen B1, g1 DRIVE, cathode B-, heater HA to HC
T2 output, 2500 ohm to 4 ohm: primary B1 to T2.plate, secondary VC to VCR
"""
# A resistor of unknown ohms keeps a set from being solved: what is then said is tested too.
UNSOLVED = "\nR99 ? 1 W: B1 to B-\n"
PAPER = "C14 .01 mfd 400 V paper: V3.plate to DRIVE"


def report(
    coupling: str = PAPER, leak: str = "470K", load: str = "470K", tolerance: str = ""
) -> Report:
    text = LINE_SET.format(coupling=coupling, leak=leak, load=load, tolerance=tolerance)
    return linted(text)


def linted(text: str) -> Report:
    chassis = read(text)
    assert not chassis.findings, "a set that cannot be read proves nothing"
    return lint(chassis, [coupling_leakage])


def test_the_dc_path_is_told_line_by_line() -> None:
    (found,) = report().findings
    lines = [(related.span.line, related.message) for related in found.related]
    assert [line for line, _ in lines] == [5, 9, 8]
    assert "R7" in lines[0][1]
    assert "g1 of V4" in lines[1][1]
    assert "R9" in lines[2][1]
    assert found.harm is Harm.DAMAGE
    assert found.span.line == 7
    assert "glows red" in found.why
    assert "T2 burns" in found.why
    assert "aged-capacitor" in found.why


def test_the_bound_follows_the_line_and_its_tolerance() -> None:
    (usual,) = report(PAPER + UNSOLVED).findings
    (exact,) = report(PAPER + UNSOLVED, tolerance=" +0% -10%").findings
    assert "up to 182 V" in usual.message
    assert "up to 165 V" in exact.message
    assert "upper bound, because the set is not solved: R99" in usual.why


@pytest.mark.parametrize(
    "what",
    ["film", "polyester", "mica", "ceramic", "paper, new", "film, replaces .01 mfd 400 V paper"],
)
def test_what_does_not_age_or_is_new_is_silent(what: str) -> None:
    found = report(f"C14 .01 mfd 400 V {what}: V3.plate to DRIVE")
    assert not found.findings
    assert not found.not_checked


def test_an_unknown_dielectric_is_not_cleared() -> None:
    found = report("C14 .01 mfd 400 V: V3.plate to DRIVE")
    assert not found.findings
    (not_checked,) = found.not_checked
    assert "C14" in not_checked.parts
    assert "made of" in not_checked.reason


def test_an_unknown_grid_resistor_is_said_and_no_figure_given() -> None:
    found = report(leak="?")
    assert [f.calc for f in found.findings] == [()]
    assert any("no megohm" in n.reason for n in found.not_checked)


def test_a_reading_without_its_meter_is_not_judged() -> None:
    more = "C14 .01 mfd 400 V film: V3.plate to DRIVE\nreading C14 leakage 3 V at 90 V"
    found = report(more)
    assert not found.findings
    assert any("meter" in n.reason for n in found.not_checked)


@pytest.mark.parametrize(
    ("reading", "fires"),
    [("1 uA at 90 V", True), ("0.1 uA at 90 V", False), ("50 meg at 90 V", True),
     ("900 meg at 90 V", False), ("90 V at 90 V, meter 11 M", True)],
)  # fmt: skip
def test_readings_in_microamperes_ohms_and_volts(reading: str, fires: bool) -> None:
    new = "C14 .01 mfd 400 V film, new: V3.plate to DRIVE\nreading C14 leakage "
    assert bool(report(new + reading + UNSOLVED).findings) is fires


def test_a_good_reading_of_old_paper_leaves_it_to_the_other_rule() -> None:
    good = PAPER + "\nreading C14 leakage 900 meg at 90 V"
    assert not report(good).findings


def test_one_capacitor_is_one_finding_though_two_grids_hang_on_it() -> None:
    text = LINE_SET.format(coupling=PAPER, leak="470K", load="470K", tolerance="")
    text += "V6 50C5: plate T2.plate, screen B1, g1 DRIVE, cathode B-, heater HC to HD\n"
    assert len(linted(text).findings) == 1


def test_the_policy_sets_the_shift() -> None:
    text = "policy coupling-leakage shift 0.1\n" + LINE_SET.format(
        coupling=PAPER + UNSOLVED, leak="470K", load="470K", tolerance=""
    )
    (found,) = linted(text).findings
    assert found.calc[0].value == pytest.approx(0.47 * (182.009 - 0.1) / 0.1, rel=1e-4)


@pytest.mark.parametrize(
    ("winding", "volts"),
    [("high 340-0-340 V", "529 V"), ("high 340 V each", "529 V")],
)
def test_a_transformer_gives_the_peak_of_one_half(winding: str, volts: str) -> None:
    text = f"""
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
T1 power, {winding}: primary LINE to COLD, high HA to CHASSIS to HB
V1 6X5GT: plate1 HA, plate2 HB, cathode B1, heater X1 to X2
R7 250K: B1 to V3.plate
V3 6J5GT: plate V3.plate, grid CHASSIS, cathode CHASSIS, heater X1 to X2
{PAPER}{UNSOLVED}
R9 470K: DRIVE to CHASSIS
V4 6V6GT: plate B1, screen B1, g1 DRIVE, cathode CHASSIS, heater X1 to X2
"""
    (found,) = linted(text).findings
    assert f"up to {volts}" in found.message


def test_a_vibrator_set_that_is_not_solved_has_no_known_peak() -> None:
    text = f"""
line none
BT1 6 V A-battery: + BAT, - CHASSIS
G1 vibrator: reed CHASSIS, contacts VA to VB
T1 vibrator, high 250-0-250 V: primary VA to BAT to VB, high HA to CHASSIS to HB
V1 6X5GT: plate1 HA, plate2 HB, cathode B1, heater BAT to CHASSIS
R7 250K: B1 to V3.plate
V3 6J5GT: plate V3.plate, grid CHASSIS, cathode CHASSIS, heater BAT to CHASSIS
{PAPER}{UNSOLVED}
R9 470K: DRIVE to CHASSIS
V4 6V6GT: plate B1, screen B1, g1 DRIVE, cathode CHASSIS, heater BAT to CHASSIS
"""
    found = linted(text)
    (finding,) = found.findings
    assert "volts not known" in finding.message
    assert not finding.calc
    assert found.not_checked


# --- the solved sweep

AMPLIFIER = """
line none
hold B+ 250 V
V3 6SQ7: plate V3.plate, grid VOL, cathode B-, diode1 open, diode2 open, heater H1 to B-
R6 10M 1/2 W: VOL to B-
R7 250K 1/2 W: B+ to V3.plate
C14 .01 mfd 400 V paper: V3.plate to DRIVE
R9 {leak}: DRIVE to B-
V4 6V6GT: plate T2.plate, screen B+, g1 DRIVE, cathode KOUT, heater H1 to B-
R12 250 ohm 1 W: KOUT to B-
T2 output, 5000 ohm to 4 ohm, primary 300 ohm: primary B+ to T2.plate, secondary VC to VCR
"""


def _sweep(leak: str = "470K") -> tuple[Case, Sweep]:
    text = AMPLIFIER.format(leak=leak)
    chassis = read(text)
    assert not chassis.findings
    case = Case(coupling_leakage, chassis, Circuit(chassis))
    (found,) = sweeps(case, case.circuit.wiring.couplings).values()
    assert isinstance(found, Sweep)
    return case, found


@pytest.mark.parametrize("grid_ohm", [47e3, 470e3, 1e6])
def test_the_sweep_agrees_with_the_hand_formula_while_no_grid_current_flows(
    grid_ohm: float,
) -> None:
    _, sweep = _sweep(f"{grid_ohm:.0f} ohm")
    checked = 0
    for leaky in sweep.leaks:
        if abs(leaky.grid_a) < 1e-12:
            by_hand = shift_v(leaky.source_v, grid_ohm, leaky.ohm)
            assert sweep.shift_v(leaky) == pytest.approx(by_hand, rel=1e-3, abs=2e-6)
            checked += 1
    assert checked >= 7


def test_the_sweep_goes_from_a_kilohm_to_ten_gigohms_in_one_batch() -> None:
    case, sweep = _sweep()
    assert sweep.leaks[0].ohm == 1e3
    assert sweep.leaks[-1].ohm == 1e10
    assert case.circuit.operating.solves == 1
    watts = [leaky.plate_w for leaky in sweep.leaks]
    assert max(watts) > sweep.sound.plate_w * 1.3


@pytest.mark.parametrize("what", ["shift", "plate-w"])
def test_between_the_leaks_of_the_sweep_the_crossings_are_those_of_the_set(what: str) -> None:
    case, sweep = _sweep()
    tenth = sweep.tenth_v
    ohm = sweep.ohm_at_shift(tenth) if what == "shift" else sweep.ohm_at_limit(what)
    assert ohm is not None
    (coupling,) = case.circuit.wiring.couplings
    (again,) = sweeps(case, [coupling], leaks_ohm=(ohm,)).values()
    assert isinstance(again, Sweep)
    (at,) = again.leaks
    reached = again.shift_v(at) / tenth if what == "shift" else at.plate_w / 12.0
    assert reached == pytest.approx(1.0, rel=0.02)


def test_the_demand_is_the_worse_of_shift_and_dissipation() -> None:
    _, sweep = _sweep()
    at_shift, at_limit = sweep.ohm_at_shift(sweep.tenth_v), sweep.ohm_at_limit("plate-w")
    assert at_shift is not None
    assert at_limit is not None
    assert sweep.least_ohm(sweep.tenth_v) == max(at_shift, at_limit)
    assert sweep.least_ohm(1000.0) == at_limit


def test_the_finding_tells_the_solved_numbers() -> None:
    (found,) = linted(AMPLIFIER.format(leak="470K")).findings
    names = [calc.name for calc in found.calc]
    assert names[0] == "least insulation"
    assert [name.split(" with")[0] for name in names[1:]] == [
        "grid shift", "plate current", "plate dissipation", "screen dissipation",
    ]  # fmt: skip
    assert found.calc[3].limit == 12.0
    assert "the maximum is reached at" in found.calc[3].sum
    assert "unloaded" not in found.why


@pytest.mark.parametrize(
    ("reading", "fires"), [("90 V at 90 V, meter 11 M", True), ("900 meg at 90 V", False)]
)
def test_a_reading_is_held_against_the_solved_demand(reading: str, fires: bool) -> None:
    text = AMPLIFIER.format(leak="470K").replace("400 V paper", "630 V film, new")
    found = linted(text + f"reading C14 leakage {reading}\n").findings
    assert bool(found) is fires
    for each in found:
        assert "leaks through 0 ohm" in each.message
        assert each.calc[2].name == "grid shift with a leak of 1K"


def test_a_grid_that_its_cathode_follows_is_not_held_to_its_small_bias() -> None:
    """The phase splitter of Fender factory schematic 5F11: grid leak to the tail, 48.7 V there.

    The cathode goes up with the grid: a leak of 1000 megohm is no fault, one of 20 megohm is.
    """
    text = (
        "line none\nmeasure from CHASSIS\nhold B3 260 V\nhold PLATE 160 V\n"
        "C7 .02 mfd 600 V film, new: PLATE to GRID\n"
        "V2A 12AX7: plate SPLIT, grid GRID, cathode CATH\nR16 56K: B3 to SPLIT\n"
        "R17 1500 ohm: CATH to TAIL\nR18 56K: TAIL to CHASSIS\nR19 1 meg: GRID to TAIL\n"
        "R1 1 meg: PLATE to CHASSIS\nreading C7 leakage {} at 150 V\n"
    )
    assert not linted(text.format("0.15 uA")).findings
    (found,) = linted(text.format("7.5 uA")).findings
    assert set(found.parts) == {"C7", "V2A"}
