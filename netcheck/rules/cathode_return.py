"""A cathode has no DC path back to the supply.

Why: Without a way back no current flows and the stage is dead. The cathode then floats up towards
its plate's volts: its bypass capacitor and the insulation to its heater, made for a few tens of
volts, have to stand the whole supply.
False alarm: The part that returns it is not in the text yet: write it, or `Z1 load` for what is not
traced.
Source: common practice, no source; volts between heater and cathode: the tube's published limit
(its source: see `netcheck tube`).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Electrode
from netcheck.findings import Calculation, Finding, Harm, NotChecked
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._reach import grouped, is_lone, lacking, reached
from netcheck.rules._unloaded import unloaded_supply

_SUPPLY = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
S1 power: ON FUSED to H5
V5 35W4: plate H5, cathode B1, heater HTOP to H4
R90 215 ohm 10 W: H5 to HTOP
C1 47 mfd 160 V electrolytic, new: + B1, - B-
R9 470K 1/2 W, new: DRIVE to B-
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _SUPPLY
            + "V4 50C5: plate PLATE, screen B1, g1 DRIVE, cathode KOUT, heater H4 to B-   # <-\n"
            + "T2 output, 2500 ohm: primary B1 to PLATE\n"
            + "C7 22 mfd 25 V electrolytic, new: + KOUT, - B-\n",
            "the cathode of V4 (50C5) has no DC path back",
        ),
        Example(
            """
V1 6SN7GT: cathode1 K1, cathode2 K2, grid1 B-, grid2 B-, plate1 PLATE, plate2 B+,   # <-
  heater H1 to B-
R1 1K 1/2 W: K1 to K2
R2 47K 1 W, new: B+ to PLATE
""",
            "the cathode1 and cathode2 of V1 (6SN7GT)",
        ),
    ),
    good=(
        _SUPPLY
        + "V4 50C5: plate PLATE, screen B1, g1 DRIVE, cathode KOUT, heater H4 to B-\n"
        + "T2 output, 2500 ohm: primary B1 to PLATE\n"
        + "R12 150 ohm 1 W: KOUT to B-\n",
        """
V2 12BA6: plate PLATE, screen B+, g1 B-, g3 B-, cathode KIF, heater H4 to H3
L1 choke: KIF to B-
R2 4.7K 1 W, new: B+ to PLATE
""",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for the cathodes that reach no return, one for each group joined together."""
    wiring = case.circuit.wiring
    cathodes = [
        e for e in wiring.electrodes if e.duty == "cathode" and e.section_kind != "rectifier"
    ]
    ends = wiring.returns | {case.chassis.net(hold.node) for hold in case.chassis.holds}
    if cathodes and not ends:
        yield case.not_checked("there is no B-, CHASSIS or other return in the text")
        return
    found = []
    for cathode in reversed({(e.ref, e.net): e for e in reversed(cathodes)}.values()):
        if cathode.net not in ends and not is_lone(case, cathode.net):
            nets = reached(case, cathode.net, avoid=wiring.b_plus, until=ends)
            if not nets & ends:
                found.append((nets, cathode))
    for nets, alike in grouped(found).items():
        calc = [c for each in alike if (c := _heater_cathode(case, each)) is not None]
        beyond = any(c.limit is not None and c.value > c.limit for c in calc)
        action = f"fit the cathode resistor from {alike[0].net} to where the drawing returns it"
        yield lacking(
            case, nets, alike, "no DC path back to the supply", action,
            harm=Harm.DAMAGE if beyond else Harm.PERFORMANCE, calc=calc,
        )  # fmt: skip


def _heater_cathode(case: Case, cathode: Electrode) -> Calculation | None:
    """The volts a floating cathode may come to, against what its heater insulation stands."""
    tube = case.chassis.part(cathode.ref)
    limit = tube.tube.limits.get("heater-cathode-v") if tube is not None and tube.tube else None
    plates = [
        e.net
        for e in case.circuit.wiring.electrodes
        if e.ref == cathode.ref and e.section == cathode.section and e.duty == "plate"
    ]
    supply = unloaded_supply(case, plates[0]) if plates else None
    if supply is None or limit is None:
        return None
    said = f"{supply.sum}, unloaded: an upper bound"
    return Calculation(f"heater to cathode of {cathode.ref}", supply.volts, "V", limit, said)
