"""A role is sure only where the wiring shows what makes it certain."""

from __future__ import annotations

import pytest

from netcheck.circuit import Circuit
from netcheck.circuit.wiring import Role
from netcheck.language import read
from netcheck.rules._certain import is_sure

# Every net has its electrode or return; each row changes what a part hangs on.
STAGE = """line none
hold B+ 250 V
hold SCR 100 V
V1 6K7: plate PLATE, screen SCREEN, suppressor CHASSIS, grid GRID, cathode KATH,
   shell CHASSIS, heater H1 to CHASSIS
R90 100K 1/2 W: GRID to CHASSIS
R91 1K 1/2 W: KATH to CHASSIS
R92 10K 1/2 W: PLATE to B+
R93 10K 1/2 W: SCREEN to SCR
R94 10K 1/2 W: FREE to FAR
R95 10K 1/2 W: FAR to CHASSIS
"""
_IF = "T1 IF, primary 10 ohm, secondary 10 ohm: primary W1 to W2, secondary W3 to W4"
_OUTPUT = "T1 output, 2500 ohm to 4 ohm: primary W1 to W2, secondary W3 to W4"


def _sure(part: str, role: Role, more: str = "") -> bool:
    chassis = read(STAGE + part + "\n" + more)
    assert not chassis.findings, [each.message for each in chassis.findings]
    found = chassis.part(part.split(maxsplit=1)[0])
    assert found is not None
    return is_sure(Circuit(chassis).wiring, found, role)


@pytest.mark.parametrize(
    ("role", "ends", "sure"),
    [
        (Role.PLATE_LOAD, "PLATE to B+", True),
        (Role.PLATE_LOAD, "B+ to PLATE", True),
        (Role.PLATE_LOAD, "PLATE to CHASSIS", True),
        (Role.PLATE_LOAD, "GRID to B+", False),
        (Role.PLATE_LOAD, "FREE to FAR", False),
        (Role.GRID_LEAK, "GRID to CHASSIS", True),
        (Role.GRID_LEAK, "CHASSIS to GRID", True),
        (Role.GRID_LEAK, "GRID to FREE", False),
        (Role.GRID_LEAK, "PLATE to CHASSIS", False),
        (Role.TONE, "PLATE to CHASSIS", True),
        (Role.TONE, "GRID to CHASSIS", False),
        # Whatever lies behind them, a screen and a cathode are enough.
        (Role.SCREEN_DROPPER, "SCREEN to FREE", True),
        (Role.SCREEN_DROPPER, "PLATE to FREE", False),
        (Role.CATHODE_BIAS, "FREE to KATH", True),
        (Role.CATHODE_BIAS, "GRID to CHASSIS", False),
        # What the wiring says of other roles holds.
        (Role.BLEEDER, "FREE to FAR", True),
        (Role.UNKNOWN, "FREE to FAR", True),
    ],
)
def test_a_resistor_is_sure_of_its_role_by_its_electrode(role: Role, ends: str, sure: bool) -> None:
    assert _sure(f"R1 10K 1/2 W: {ends}", role) is sure


@pytest.mark.parametrize(
    ("ends", "sure"),
    [("FREE to GRID", True), ("GRID to FREE", True), ("FREE to PLATE", False)],
)  # fmt: skip
def test_a_coupling_is_sure_where_a_grid_is(ends: str, sure: bool) -> None:
    assert _sure(f"C1 .01 mfd 400 V film: {ends}", Role.COUPLING) is sure


@pytest.mark.parametrize(("ends", "sure"), [("PLATE to CHASSIS", True), ("PLATE to FREE", False)])
def test_a_tone_capacitor_is_sure_where_it_ends_well(ends: str, sure: bool) -> None:
    assert _sure(f"C1 .01 mfd 400 V film: {ends}", Role.TONE) is sure


def test_a_coupling_that_the_wiring_knows_is_sure_without_a_grid_on_it() -> None:
    more = (
        "V2 6K7: plate PL2, screen SCREEN, suppressor CHASSIS, grid GR2, cathode KATH,\n"
        "   shell CHASSIS, heater H1 to CHASSIS\nR2 10K 1/2 W: PL2 to B+\n"
        "R3 500K control: COUPLED to GR2 to CHASSIS\n"
    )
    chassis = read(STAGE + "C1 .01 mfd 400 V film: PLATE to COUPLED\n" + more)
    assert not chassis.findings
    wiring = Circuit(chassis).wiring
    part = chassis.part("C1")
    assert part is not None
    known = any(coupling.ref == "C1" for coupling in wiring.couplings)
    assert is_sure(wiring, part, Role.COUPLING) is known
    assert known


@pytest.mark.parametrize(
    ("winding", "ends", "sure"),
    [
        # Across the whole winding: it must be one of radio frequency.
        (_IF, "W1 to W2", True),
        (_IF, "W2 to W1", True),
        (_IF.replace("IF", "456 kc"), "W3 to W4", True),
        ("L1 antenna coil: W1 to W2", "W1 to W2", True),
        ("L1 loop antenna: W1 to W2", "W2 to W1", True),
        (_OUTPUT, "W1 to W2", False),
        ("L1 choke, 10 H: W1 to W2", "W1 to W2", False),
        # From one end: only to a return (a padder).
        ("L1 oscillator coil: W1 to W2", "W1 to CHASSIS", True),
        ("L1 oscillator coil: W1 to W2", "CHASSIS to W2", True),
        ("L1 oscillator coil: W1 to W2", "W1 to FREE", False),
        (_OUTPUT, "W1 to CHASSIS", False),
        ("L1 oscillator coil: W1 to W2\nL2 choke, 10 H: W1 to W3", "W1 to CHASSIS", False),
        # Two windings between the nets: one of radio frequency is enough.
        ("L1 choke, 10 H: W1 to W2\nL2 oscillator coil: W1 to W2", "W1 to W2", True),
        ("L1 oscillator coil: W1 to W2", "FREE to CHASSIS", False),
    ],
)  # fmt: skip
def test_a_tuned_capacitor_is_sure_at_a_winding_of_radio_frequency(
    winding: str, ends: str, sure: bool
) -> None:
    assert _sure(f"C1 100 mmf 500 V mica: {ends}", Role.TUNED, winding + "\n") is sure
