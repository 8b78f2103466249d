"""Plate or screen has no DC path to a supply.

Why: The stage is dead. Where an output tube's screen is fed and its plate is not, as with an open
output transformer or the speaker plug out, the screen takes the whole current and burns.
False alarm: A tube used as a diode with its plate on a return is left alone. What is fed from
outside, or not traced yet, is said to be not checked.
Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Electrode
from netcheck.findings import Finding, Harm, NotChecked
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._reach import grouped, is_lone, lacking, reached

_SUPPLY = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
S1 power: ON FUSED to H5
V5 35W4: plate H5, cathode B1, heater HTOP to H4
R90 170 ohm 10 W: H5 to HTOP
C1 47 mfd 160 V electrolytic, new: + B1, - B-
R9 470K 1/2 W, new: DRIVE to B-
R12 150 ohm 1 W: KOUT to B-
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _SUPPLY
            + "V4 50C5: plate PLATE, screen B1, g1 DRIVE, cathode KOUT, heater H4 to B-   # <-\n"
            + "T2 output, 2500 ohm, removed: primary B1 to PLATE\n"
            + "C9 .02 mfd 630 V film, new: PLATE to B-\n",
            "the plate of V4 (50C5) has no DC path to a supply while its screen is fed",
        ),
        Example(
            _SUPPLY
            + "V4 50C5: plate PLATE, screen B2, g1 DRIVE, cathode KOUT, heater H4 to B-   # <-\n"
            + "T2 output, 2500 ohm: primary B2 to PLATE\n"
            + "C2 33 mfd 160 V electrolytic, new: + B2, - B-\n",
            "the plate and g2 of V4 (50C5) have no DC path to a supply",
        ),
    ),
    good=(
        _SUPPLY
        + "V4 50C5: plate PLATE, screen B1, g1 DRIVE, cathode KOUT, heater H4 to B-\n"
        + "T2 output, 2500 ohm: primary B1 to PLATE\n",
        _SUPPLY
        + "V4 50C5: plate PLATE, screen B1, g1 DRIVE, cathode KOUT, heater H4 to H3\n"
        + "T2 output, 2500 ohm: primary B1 to PLATE\n"
        + "V3 12AV6: plate B-, grid B-, cathode B-, diode1 DRIVE, diode2 B-, heater H3 to B-\n",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for plates and screens that are not fed, one for each group joined."""
    wiring = case.circuit.wiring
    wanted = [e for e in wiring.electrodes if e.duty in ("plate", "screen")]
    if wanted and not wiring.supplies:
        yield case.not_checked("there is no rectifier, battery or held rail that feeds a plate")
        return
    found = []
    for electrode in reversed({(e.ref, e.name): e for e in reversed(wanted)}.values()):
        net = electrode.net
        if net in wiring.b_plus or is_lone(case, net) or _is_diode(case, electrode):
            continue
        nets = reached(case, net, avoid=wiring.returns, until=wiring.supplies)
        if not nets & wiring.supplies:
            found.append((nets, electrode))
    for nets, alike in grouped(found).items():
        burning = any(each.duty == "plate" and _screen_is_fed(case, each) for each in alike)
        what = f"no DC path to a supply{' while its screen is fed' if burning else ''}"
        action = f"find what feeds {alike[0].net} on the drawing: load, dropper, choke, transformer"
        harm = Harm.DAMAGE if burning else Harm.PERFORMANCE
        yield lacking(case, nets, alike, what, action, harm=harm)


def _is_diode(case: Case, plate: Electrode) -> bool:
    """Whether a plate is tied to a return, or to its own cathode or grid, to serve as a diode."""
    if plate.net in case.circuit.wiring.returns:
        return True
    return any(
        e.ref == plate.ref and e.duty in ("cathode", "grid")
        for e in case.circuit.wiring.electrodes_on(plate.net)
    )


def _screen_is_fed(case: Case, plate: Electrode) -> bool:
    wiring = case.circuit.wiring
    return any(
        (e.ref, e.section, e.duty) == (plate.ref, plate.section, "screen")
        and e.net in wiring.b_plus
        for e in wiring.electrodes
    )
