"""Power-off ohms against networkx, exact fractions, and charts worked by hand."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.circuit.direct_model import reference_of
from netcheck.circuit.direct_parts import CONTACT_OHM, Branch, direct_parts
from netcheck.circuit.elements import Kind
from netcheck.circuit.ohms import PowerOff, power_off
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved
from netcheck.language import read, read_file

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
SETS = sorted(path.stem for path in EXAMPLES.glob("*.chassis"))


@cache
def wired(name: str) -> Wiring:
    return Wiring(read_file(EXAMPLES / f"{name}.chassis"))


def positions(wiring: Wiring) -> dict[str, str]:
    """As `switch` says, else the first of the text."""
    found = {}
    for part in wiring.chassis.of_kind("switch"):
        if part.positions:
            found.setdefault(part.body_ref, part.positions[0])
    return found | {s.switch: s.position for s in wiring.chassis.settings}


def resistor_graph(wiring: Wiring) -> tuple[nx.Graph, dict[str, str]]:
    """Every net's joint (what contacts join is one), and the ohms between joints."""
    branches = direct_parts(wiring, positions(wiring), hot=False).branches
    branches = [b for b in branches if b.kind is not Kind.BATTERY]
    joints = nx.utils.UnionFind(wiring.nets)
    for b in branches:
        if b.ohm <= CONTACT_OHM:
            joints.union(b.a, b.b)
    graph: nx.Graph = nx.Graph()
    graph.add_nodes_from(joints[net] for net in wiring.nets)
    for b in branches:
        i, j = joints[b.a], joints[b.b]
        if i != j:
            siemens = graph.edges[i, j]["siemens"] if graph.has_edge(i, j) else 0.0
            graph.add_edge(i, j, siemens=siemens + 1 / b.ohm)
    return graph, {net: joints[net] for net in wiring.nets}


def by_networkx(graph: nx.Graph, base: str) -> dict[str, float]:
    """Ohms of every node to `base`, by networkx.resistance_distance.

    It inverts the whole Laplacian at once, where a grid leak beside a coil costs it seven digits.
    Resistance adds up from block to block of a graph (what meets in one node only), so it is asked
    block by block.
    """
    found = {base: 0.0}
    blocks = [set(block) for block in nx.biconnected_components(graph)]
    while blocks:
        block = next((b for b in blocks if b & found.keys()), None)
        if block is None:
            return found
        blocks.remove(block)
        entry = next(iter(block & found.keys()))
        ohm = nx.resistance_distance(
            graph.subgraph(block).copy(), nodeA=entry, weight="siemens", invert_weight=False
        )
        found.update({n: found[entry] + ohm[n] for n in block if n not in found})
    return found


def by_fractions(graph: nx.Graph, base: str) -> dict[str, float]:
    """The same by elimination in exact fractions."""
    others = sorted(nx.node_connected_component(graph, base) - {base})
    index = {n: k for k, n in enumerate(others)}
    count = len(others)
    rows = [[Fraction(0)] * count + [Fraction(i == j) for j in range(count)] for i in range(count)]
    for a, b, data in graph.edges(data=True):
        siemens = Fraction(data["siemens"])
        for near, far in ((a, b), (b, a)):
            if near in index:
                rows[index[near]][index[near]] += siemens
                if far in index:
                    rows[index[near]][index[far]] -= siemens
    for k in range(count):
        rows[k] = [value / rows[k][k] for value in rows[k]]
        for i in range(count):
            if i != k and rows[i][k]:
                factor = rows[i][k]
                rows[i] = [x - factor * y for x, y in zip(rows[i], rows[k], strict=True)]
    return {base: 0.0} | {n: float(rows[k][count + k]) for n, k in index.items()}


@pytest.mark.parametrize("name", SETS)
def test_equals_networkx_for_every_node_of_every_example(name: str) -> None:
    wiring = wired(name)
    graph, joints = resistor_graph(wiring)
    common = reference_of(wiring)
    expected = by_networkx(graph, joints[common])
    found = power_off(wiring, positions(wiring)).readings(common)
    assert set(found) == set(wiring.nets)
    assert sum(ohm is not None for ohm in found.values()) > 8
    for net, ohm in found.items():
        if ohm is None:
            assert joints[net] not in expected
        else:
            assert ohm == pytest.approx(expected[joints[net]], rel=1e-9, abs=1e-12), net


@pytest.mark.parametrize("name", SETS[::3])
def test_equals_exact_fractions(name: str) -> None:
    wiring = wired(name)
    graph, joints = resistor_graph(wiring)
    common = reference_of(wiring)
    expected = by_fractions(graph, joints[common])
    for net, ohm in power_off(wiring, positions(wiring)).readings(common).items():
        if ohm is not None:
            assert ohm == pytest.approx(expected[joints[net]], rel=1e-13), net


def _resistor(a: str, b: str, ohm: float) -> Branch:
    return Branch("R1", "", ("a", "b"), a, b, ohm, Kind.RESISTOR)


_NETS = st.sampled_from("ABCDEFG")
_BRANCHES = st.lists(
    st.tuples(_NETS, _NETS, st.floats(0.1, 1e7)).filter(lambda b: b[0] != b[1]),
    min_size=1, max_size=14,
)  # fmt: skip


@settings(max_examples=60)
@given(branches=_BRANCHES, extra=st.tuples(_NETS, _NETS, st.floats(1.0, 1e7)))
def test_any_network_is_symmetric_and_falls_when_a_resistor_is_added(
    branches: list[tuple[str, str, float]], extra: tuple[str, str, float]
) -> None:
    """Rayleigh's monotonicity law, and the triangle inequality of resistance distance."""
    before = PowerOff("ABCDEFG", [_resistor(*b) for b in branches])
    after = PowerOff("ABCDEFG", [_resistor(*b) for b in (*branches, extra)])
    for net in "BCDEFG":
        one, other = before.between(net, "A"), before.between("A", net)
        assert (one is None) == (other is None)
        if one is None or other is None:
            continue
        assert one == pytest.approx(other, rel=1e-12)
        assert (after.between(net, "A") or 0.0) <= one * (1 + 1e-12)
        middle = before.between("B", net)
        if middle is not None:
            assert one <= (before.between("B", "A") or 0.0) + middle + 1e-9 * one


# --- charts worked by hand

# Larkfield five, restored, to B-. A cold heater has a seventh of its running ohms:
#   12.6 V / 0.15 A / 7 = 12.000; 50 V / 0.15 A / 7 = 47.619 (V4);
#   35W4: 7.5 V of 35 V to the tap: 7.143 and 26.190; lamp 47: 6.3 V / 0.15 A / 10 = 4.2.
# String from B-: V3 12, V1 12, V2 12, V4 47.619, then V5 26.190 to its tap (PILOT), then 7.143
# with R11 150 and the lamp 4.2 beside it: 1 / (1/150 + 1/4.2 + 1/7.142857) = 1 / 0.3847619,
# that is 2.599010.
LARKFIELD_ON = {
    "H1": 12.0,  # V3
    "H3": 36.0,  # V3 + V1 + V2
    "H4": 36.0 + 50 / 0.15 / 7,  # + V4 = 83.619048
    "PILOT": 109.8095238,  # + 26.190476
    "LINE": 112.4085337,  # + 2.599010, through S1 and F1
    "CHASSIS": 470e3,  # R20 alone, C21 is open
    "OSC": 4.8,  # L2 0.8 + 4 ohm
    "DET": 500e3,  # R6, its wiper at DET: the whole track
    "DIODE": 547014.0,  # R6 500K + R4 47K + T3 secondary 14
    "LOOP": 3800001.2,  # R6 500K + R2 3.3M + L1 loop 1.2
    "VOLGRID": 11.1e6,  # R8 as measured
    "B1": None,  # nothing but capacitors and cold tubes to B-
}
# With S1 off the string is as before, but the line is cut from it.
LARKFIELD_OFF = {
    **LARKFIELD_ON, "LINE": None, "FUSED": None, "SWITCHED": 112.4085337, "KOUT": 150.0,
}  # fmt: skip

# Tansley console, restored, to CHASSIS. Bias chain CHASSIS - R25 45 - BIAS3 - 210 - BIAS - L5 900 -
# CT, nothing beside it (R18 ends at BIAS1, R16 at DRIVE, R12 at VOLGRID: no way on but through R8
# and R11 to AVC: no end on the chassis).
# B+ to CHASSIS: R5 21.1K (measured) + R6 33K = 54.1K; V5's filament winding 0.1, its cold filament
# 5 V / 2 A / 7 = 0.357 beside that.
TANSLEY_ON = {
    "BIAS3": 45.0,
    "BIAS": 255.0,  # 45 + 210
    "CT": 1155.0,  # + L5 900
    "HTA": 1335.0,  # + half of the high winding, 180
    "BIAS1": 100045.0,  # R18 100K + 45
    "DRIVE": 100255.0,  # R16 100K + 255
    "VOLGRID": 600045.0,  # R12 500K + BIAS1
    "AVCDIODE": 1250045.0,  # R8 1.15M as measured + BIAS1
    "B+": 54100.0,  # R5 + R6
    "V3.plate": 201100.0,  # R14 100K + R15 47K + 54.1K
    "SCREEN": 33000.0,  # R6; R5 leads only to B+, which has no other way
    "LINE": None,  # the primary is on no other winding
}
TANSLEY_OFF = {**TANSLEY_ON, "NEUTRAL": None, "SWITCHED": None}


@pytest.mark.parametrize(
    ("name", "position", "chart"),
    [
        ("larkfield-five-restored", "ON", LARKFIELD_ON),
        ("larkfield-five-restored", "OFF", LARKFIELD_OFF),
        ("tansley-console-restored", "ON", TANSLEY_ON),
        ("tansley-console-restored", "OFF", TANSLEY_OFF),
    ],
)
def test_charts_worked_by_hand(name: str, position: str, chart: dict[str, float | None]) -> None:
    """The controls stand halfway in the wiring; R6 and R9 only lead to B-, so it does not show."""
    wiring = wired(name)
    found = power_off(wiring, {"S1": position}).readings(reference_of(wiring))
    assert len(chart) >= 12
    for net, ohm in chart.items():
        assert found[net] == (None if ohm is None else pytest.approx(ohm, rel=1e-7)), net


def test_the_primary_is_seen_from_the_plug_only_with_the_switch_on() -> None:
    wiring = wired("tansley-console-restored")
    assert power_off(wiring, {"S1": "ON"}).between("LINE", "NEUTRAL") == pytest.approx(6.0)
    assert power_off(wiring, {"S1": "OFF"}).between("LINE", "NEUTRAL") is None


# --- what else reads


def test_a_leak_and_a_short_are_seen() -> None:
    wiring = wired("larkfield-five-restored")
    leaky = power_off(wiring, {"S1": "ON"}, [("C1A", 47e3)])
    assert leaky.between("B1", "B-") == pytest.approx(47e3)
    assert power_off(wiring, {"S1": "ON"}, [("C1A", 0.01)]).between("B1", "B-") == 0.0


def test_batteries_are_out() -> None:
    wiring = Wiring(read("BT1 B-battery 90 V: + B+, - B-\nR1 10K: B+ to B-"))
    assert power_off(wiring, {}).between("B+", "B-") == pytest.approx(10e3)


def test_unknown_ohms_are_no_reading() -> None:
    with pytest.raises(NotSolved, match="R1"):
        power_off(Wiring(read("R1 ?: X1 to B-\nR2 1K: X1 to B-")), {})


def test_large_ladders_are_quick() -> None:
    """The largest domestic sets have some 400 parts."""
    rungs = [_resistor(f"N{k}", f"N{k + 1}", 1.0) for k in range(400)]
    rungs += [_resistor(f"N{k}", "B-", 1e6) for k in range(401)]
    assert PowerOff(["B-"], rungs).between("N0", "B-") is not None
