"""Electrodes that only insulation holds: they rest below their cathode, and the set settles.

Stressed: a tube of which only the heater is wired yet. Left out: what rules say of it.
"""

from __future__ import annotations

from netcheck.circuit import Circuit
from netcheck.circuit.states import NOMINAL, State
from netcheck.language import read

HEATER_ONLY = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
V5 35W4: plate PILOT, cathode B1, heater FUSED to PILOT to H4
DS1 lamp 47: FUSED to PILOT
V4 50C5: heater H4 to H3
R9 250 ohm 10 W: H3 to B-
C1 40 mfd 250 V electrolytic, new: + B1, - B-
Z1 load 20 mA: B1 to B-
"""


def test_a_tube_of_which_only_the_heater_is_wired_settles() -> None:
    every = [NOMINAL, *(State(f"at {v} V", line_v=v) for v in (128.7, 105.3))]
    point, *_ = Circuit(read(HEATER_ONLY)).operating.points(every)
    tube = point.tubes["V4"]
    electrodes = {each.name: each for each in tube.electrodes}
    for name in ("plate", "g1", "g2"):
        assert electrodes[name].volts < electrodes["cathode"].volts
        assert abs(electrodes[name].amperes) < 1e-9
