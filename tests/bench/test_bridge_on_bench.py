"""The papers of a set with a bridge in one piece."""

from __future__ import annotations

from netcheck.bench.voltage_chart import voltage_chart
from netcheck.language import read

SET = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
T1 power, primary 117 V 5 ohm, high 180 V 60 mA 90 ohm, heater 6.3 V 1 A: primary LINE to COLD,
   high HA to HB, heater H1 to CHASSIS
D1 bridge silicon 400 V 1 A: ac HA to HB, + B1, - CHASSIS
C1 22 mfd 350 V electrolytic, new: + B1, - CHASSIS
R1 10K 10 W: B1 to CHASSIS
V1 6V6: plate B1, screen B1, grid CHASSIS, cathode K, heater H1 to CHASSIS
R2 1K 5 W: K to CHASSIS
"""


def test_the_ends_of_a_bridges_winding_have_no_volts_of_their_own_to_the_chassis() -> None:
    """They were told as nothing and as the whole winding: in truth each carries half of every peak.

    Nothing but the diodes joins the winding to the chassis; the heater's winding has an end on it.
    """
    nodes = {node.name: node for node in voltage_chart(read(SET)).nodes}

    assert (nodes["HA"].ac_v, nodes["HB"].ac_v) == (None, None)
    assert (nodes["HA"].volts, nodes["HB"].volts) == (None, None)
    assert nodes["H1"].ac_v is not None
    assert nodes["B1"].volts is not None
