"""A value is far off what its place can have.

Why: A misplaced point or unit makes a part a thousand times too large or too small, and every
    figure that follows from it is wrong without looking wrong.

False alarm: An odd but real value: accept it with where you read it,
    `accept value-implausible on R5: "measured, and so in the maker's list"`.

Source: common practice, no source (the ranges span what domestic sets of 1925 to 1970 hold, with
    room on both sides).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.role import Role
from netcheck.findings import Calculation, Finding, Harm
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._certain import is_sure
from netcheck.rules._words import amount

_UNITS = {
    "capacitance": "F", "resistance": "ohm", "voltage": "V", "power": "W", "current": "A",
    "inductance": "H",
}  # fmt: skip

# Least and largest SI value of a role of a part, or of a value of a kind of part.
_BY_ROLE: dict[Role, tuple[str, float, float]] = {
    # From the grid capacitor of an oscillator (some tens of pF) to that of a bass amplifier.
    Role.COUPLING: ("capacitance", 5e-12, 2e-6),
    Role.TUNED: ("capacitance", 0.5e-12, 10e-9),
    Role.TONE: ("capacitance", 50e-12, 100e-6),
    Role.RESERVOIR: ("capacitance", 0.5e-6, 1000e-6),
    Role.SMOOTHING: ("capacitance", 0.5e-6, 1000e-6),
    Role.PLATE_LOAD: ("resistance", 200.0, 5e6),
    Role.GRID_LEAK: ("resistance", 1e3, 50e6),
    Role.CATHODE_BIAS: ("resistance", 5.0, 100e3),
    Role.SCREEN_DROPPER: ("resistance", 100.0, 5e6),
}
_BY_KIND: dict[str, tuple[tuple[str, float, float], ...]] = {
    "capacitor": (("capacitance", 0.1e-12, 10e-3), ("voltage", 1.0, 20e3)),
    "resistor": (
        ("resistance", 0.01, 200e6), ("power", 0.05, 500.0), ("voltage", 1.0, 20e3),
    ),
    # From the fuse of a meter to that of a car set's dash, 30 A (common practice, no source).
    "fuse": (("current", 10e-3, 40.0),),
    "battery": (("voltage", 0.5, 500.0),),
    "load": (("current", 1e-6, 20.0),),
    "coil": (("inductance", 10e-9, 1000.0),),
}  # fmt: skip
_REST = "\nZ1 load 35 mA: B+ to B-"
_STAGE = (
    "line none\nhold B+ 100 V\nV1 6J5: plate PX, grid GX, cathode B-, heater open\n"
    "R1 {load} 1/2 W 10%: B+ to PX\nR2 470K 1/2 W 10%: GX to B-\n"
)


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example("line none\nC1 0.05 F 400 V film: B+ to B-  # <-" + _REST, says="0.05 F"),
        Example(
            (_STAGE + "Z1 load 35 mA: B+ to B-").format(load="1 ohm").replace(
                "B+ to PX", "B+ to PX  # <-"
            ),
            says="plate load",
        ),
    ),
    good=(
        Example("line none\nC1 0.05 mfd 400 V film: B+ to B-" + _REST),
        "line none\nF1 30 A 32 V: BATTERY to B+\nBT1 6 V storage: + BATTERY, - B-" + _REST,
        Example((_STAGE + "Z1 load 35 mA: B+ to B-").format(load="47K")),
        # The cathode is not in the text: what is on its net is no grid leak for that.
        "line none\nhold B+ 100 V\nV1 6J5: plate PX, grid GX, heater open, cathode open\n"
        "R1 47K 1/2 W 10%: B+ to PX\nR2 47K 1/2 W 10%: GX to KX\nR3 180 ohm 1/2 W 10%: KX to B-"
        "\nC1 .01 mfd 400 V film: SX to GX" + _REST,
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding]:
    """Compare values with the range of the part's role, else of its kind."""
    wiring = case.circuit.wiring
    for part in case.chassis.of_kind(*_BY_KIND):
        role = wiring.role_of(part.ref)
        ranges = _BY_KIND[part.kind]
        of = f"a {part.kind}"
        # A tapped resistor is several resistors; its role is that of one of them at most.
        sure = len(part.terminals) == 2 and role in _BY_ROLE and is_sure(wiring, part, role)
        if sure and _BY_ROLE[role][0] in part.description.values:
            ranges = (_BY_ROLE[role], *(r for r in ranges if r[0] != _BY_ROLE[role][0]))
            of = f"a {role.value}"
        for name, least, most in ranges:
            found = _judge(case, part, of, name, least, most)
            if found is not None:
                yield found


def _judge(case: Case, part: Part, of: str, name: str, least: float, most: float) -> Finding | None:
    value = part.description.values.get(name)
    if value is None or not value.known:
        return None
    if all(least <= each <= most for each in value.amounts if each):
        return None
    worst = next(each for each in value.amounts if each and not least <= each <= most)
    unit = _UNITS[name]
    limit = most if worst > most else least
    span = part.span_of(name)
    return case.finding(
        f"{part.ref}: {value.text} is no {name} that {of} has "
        f"({amount(least, unit)} to {amount(most, unit)})",
        span,
        parts=(part.ref,),
        calc=(Calculation(name, worst, unit, limit, f"as written: {value.text}"),),
        action="check the point and the unit against the part",
    )
