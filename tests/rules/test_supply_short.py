"""Cold ohms across the supply, against the resistance distance of networkx, and their limit."""

from __future__ import annotations

from collections.abc import Callable

import networkx as nx
import pytest

from netcheck.circuit import Circuit
from netcheck.circuit.direct_parts import CONTACT_OHM, direct_parts
from netcheck.circuit.ohms import PowerOff
from netcheck.circuit.states import switch_positions
from netcheck.language import read, read_file
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]
RULE = "supply-short"

SET = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
V5 35W4: plate LINE, cathode B1, heater LINE to open to H4
R13 550 ohm 30 W: H4 to B-
R10 1.2K 2 W: B1 to B2
C1 33 mfd 250 V electrolytic: + B1, - B-
C2 47 mfd 250 V electrolytic: + B2, - B-
"""


@pytest.mark.parametrize(
    ("more", "fires"),
    [
        ("", False),
        ("R1 47K: B1 to B-", False),
        # 117 V over the 100 mA of a 35W4: 1,170 ohm.
        ("R1 1.2K: B1 to B-", False),
        ("R1 1.1K: B1 to B-", True),
        ("R1 0.1 ohm: B1 to B-", True),
        ("wire B2 to B-", False),
        ("wire B2 to B-\nR1 22K: B1 to B-", True),
        # A load in amperes is what tubes draw, no ohms.
        ("Z1 load 90 mA: B1 to B-", False),
    ],
)
def test_the_least_ohms(linted: Linted, more: str, fires: bool) -> None:
    report = linted(RULE, SET + more + "\n")
    assert bool(report.findings) is fires
    assert not report.not_checked


def test_the_way_is_shown(linted: Linted) -> None:
    behind = "R1 300 ohm: B2 to MID\nR2 100 ohm: MID to B-\n"
    assert not linted(RULE, SET + behind).findings, "1.6K is enough"
    text = SET.replace("1.2K", "120 ohm") + behind
    (found,) = linted(RULE, text).findings
    assert "520 ohm" in found.message
    assert found.parts == ("R10", "R1", "R2")


@pytest.mark.parametrize(
    ("rectifier", "says"),
    [
        ("V5 35W4: plate LINE, cathode B1, heater LINE to open to H4", "its own return B-, 0 ohm"),
        ("CR1 silicon 400 V 1 A: anode LINE, cathode B1", "the return B-, and nothing else"),
    ],
)
def test_an_output_on_its_own_return(linted: Linted, rectifier: str, says: str) -> None:
    tube = "V5 35W4: plate LINE, cathode B1, heater LINE to open to H4"
    text = SET.replace(tube, rectifier) + "wire B1 to B-\n"
    (found,) = linted(RULE, text).findings
    assert says in found.message
    assert found.parts


def test_an_unknown_part_is_not_cleared(linted: Linted) -> None:
    assert linted(RULE, SET + "R1 ?: B1 to B-\n").not_checked


@pytest.mark.parametrize(
    "name", ["tansley-console", "plovermere-three-way", "ellernbach-live", "thorley-car"]
)
def test_ohms_agree_with_the_resistance_distance(name: str) -> None:
    chassis = read_file(f"examples/{name}-restored.chassis")
    circuit = Circuit(chassis)
    branches = direct_parts(circuit.wiring, switch_positions(chassis), hot=False).branches
    joined = nx.Graph((b.a, b.b) for b in branches if b.ohm <= CONTACT_OHM)  # contacts have no ohms
    one = {net: min(piece) for piece in nx.connected_components(joined) for net in piece}
    ends = [(one.get(b.a, b.a), one.get(b.b, b.b), {"ohm": b.ohm}) for b in branches]
    graph = nx.MultiGraph((a, b, ohm) for a, b, ohm in ends if a != b)
    minus = circuit.wiring.common or chassis.net("CHASSIS")
    minus = one.get(minus, minus)
    for plus in sorted({one.get(net, net) for net in circuit.wiring.supplies}):
        island = graph.subgraph(nx.node_connected_component(graph, plus))
        found = PowerOff((), branches).between(plus, minus)
        if minus not in island:
            assert found is None
            continue
        expected = nx.resistance_distance(island, plus, minus, weight="ohm", invert_weight=True)
        assert found == pytest.approx(expected, rel=1e-7)


def test_nets_that_nothing_joins_have_no_ohms() -> None:
    circuit = Circuit(read("R1 1K: X1 to X2\nR2 2K: X3 to X4\n"))
    branches = direct_parts(circuit.wiring, {}).branches
    cold = PowerOff((), branches)
    assert cold.between("X1", "X3") is None
    assert cold.between("X1", "X2") == pytest.approx(1000)
    assert cold.between("X1", "X1") == 0.0
