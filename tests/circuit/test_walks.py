"""The walks against networkx, and what must hold for any set whatever."""

from __future__ import annotations

import random
import time

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.chassis import Chassis, Wire
from netcheck.circuit.wiring import Kind, Wiring
from netcheck.findings import Span
from netcheck.language import read
from netcheck.parts import Part, Path, Terminal

NETS = ["LINE", "NEUT", "B-", "B+", "CHASSIS", "EARTH", *(f"N{i}" for i in range(8))]
SPAN = Span("<test>", 1, 1, 1, 2)
NODE = st.sampled_from(NETS)


def two_ended(draw, number):
    letters, value = draw(
        st.sampled_from(
            [("R", "470K"), ("R", "47 ohm"), ("C", ".01 mfd"),
             ("C", "20 mfd"), ("L", "20 ohm"), ("F", "1 A"),
             ("LS", "3.2 ohm"), ("DS", "47"), ("Z", "5 mA")]
        )
    )  # fmt: skip
    return f"{letters}{number} {value}: {draw(NODE)} to {draw(NODE)}"


@st.composite
def sets(draw):
    """Texts of sets: plugs, tubes, transformers and two-ended parts thrown together."""
    pins = (
        "polarized: hot LINE, neutral NEUT",
        "not polarized: 1 LINE, 2 NEUT",
        "polarized: hot LINE, neutral B-, earth EARTH",
    )
    plug = draw(st.sampled_from(pins))
    lines = ["line 117 V 60 Hz", f"P1 plug, {plug}"]
    lines += [two_ended(draw, number) for number in range(1, draw(st.integers(0, 14)))]
    for number in range(20, 20 + draw(st.integers(0, 3))):
        n = [draw(NODE) for _ in range(6)]
        lines.append(draw(st.sampled_from([
            f"V{number} 50C5: plate {n[0]}, g2 {n[1]}, g1 {n[2]}, cathode {n[3]}, heater "
            f"{n[4]} to {n[5]}",
            f"V{number} 35W4: plate {n[0]}, cathode {n[1]}, heater {n[2]} to {n[3]} to {n[4]}",
            f"T{number} power: primary {n[0]} to {n[1]}, high {n[2]} to {n[3]} to {n[4]}",
            f"S{number}: ONE {n[0]} to {n[1]}, TWO {n[2]} to {n[3]}",
            f"D{number}: anode {n[0]}, cathode {n[1]}",
            f"J{number}: {n[0]}",
        ])))  # fmt: skip
    return "\n".join(lines)


def everything(w):
    """Ask every view, as rules do; the comparable part of the answers."""
    for net in w.nets:
        w.line_path(net), w.line_ohm(net), w.incomplete(net), w.return_path(net)
        w.dc_path(net, {"B-", "CHASSIS"})
    return {
        "line side": w.line_side, "touchable": w.touchable, "isolated": w.isolated,
        "supplies": w.supplies, "b_plus": w.b_plus, "positive": w.positive,
        "roles": dict(w.roles), "couplings": {(c.ref, c.tube, c.electrode) for c in w.couplings},
        "fuses": {r: f.poles for r, f in w.fuses.items()},
        "leads": {p: x.refs for p, x in w.leads.items()},
        "barrier": {e.ref for e in w.barrier()}, "rectifiers": {e.ref for e in w.rectifiers},
        "power": w.supply.power_refs,
    }  # fmt: skip


@settings(deadline=None, max_examples=150)
@given(sets())
def test_any_set_can_be_asked_anything(text):
    w = Wiring(read(text))
    answers = everything(w)
    assert answers["line side"] | answers["touchable"] | answers["isolated"] == w.nets | w.bare
    assert answers["b_plus"] <= answers["positive"]
    assert w.line_poles <= w.line_side
    # Whatever is line side is so by elements that carry current to a pole.
    for net in w.line_side:
        path = w.line_path(net)
        assert all(e.kind not in (Kind.CAPACITOR, Kind.VARISTOR) for e in path)
        at = net
        for e in path:
            assert at in e.nets
            at = e.other(at)
        assert at in w.line_poles
    # Every chain of the barrier leads from the line side to metal.
    for chain in w.barrier_chains:
        assert set(chain[0].nets) & w.line_side


@settings(deadline=None, max_examples=60)
@given(sets(), st.randoms(use_true_random=False))
def test_renaming_nodes_changes_nothing(text, rng):
    """Free nodes are called anything; only CHASSIS, B-, B+ and EARTH mean something."""
    free = [n for n in NETS if n not in ("CHASSIS", "B-", "B+", "EARTH")]
    names = [f"X{chr(65 + i)}X" for i in range(len(free))]
    rng.shuffle(names)
    new = dict(zip(free, names, strict=True))
    renamed = " ".join(
        new.get(w, w) for w in text.replace("\n", " \n ").replace(",", " , ").split(" ")
    )
    before, after = everything(Wiring(read(text))), everything(Wiring(read(renamed)))
    for view in ("line side", "touchable"):
        assert {new.get(n, n) for n in before[view]} == after[view]
    assert before["couplings"] == after["couplings"]
    assert {new.get(p, p): refs for p, refs in before["leads"].items()} == after["leads"]
    assert before["barrier"] == after["barrier"]


@settings(deadline=None, max_examples=60)
@given(sets(), st.randoms(use_true_random=False))
def test_the_order_of_the_lines_changes_no_side(text, rng):
    lines = text.split("\n")
    rng.shuffle(lines)
    before, after = everything(Wiring(read(text))), everything(Wiring(read("\n".join(lines))))
    for view in ("line side", "touchable", "b_plus", "positive", "barrier", "leads", "power"):
        assert before[view] == after[view]


@settings(deadline=None, max_examples=60)
@given(sets())
def test_line_side_is_a_component_of_the_galvanic_graph(text):
    """Without touchable metal in the way, networkx finds the same nets."""
    w = Wiring(read(text + "\ntouchable: R99.shaft\nR99 control, 1K: RA to RB to RC"))
    if any(len(p.positions) > 1 for p in w.chassis.of_kind("switch")):
        return
    graph = nx.MultiGraph(w.graph)
    graph.remove_edges_from(
        [(a, b, k) for a, b, k, e in w.graph.edges(data="element", keys=True)
         if e.kind in (Kind.CAPACITOR, Kind.VARISTOR)]
    )  # fmt: skip
    reached = set().union(*(nx.node_connected_component(graph, p) for p in w.line_poles))
    earthed = w.sides.earthed
    assert reached == w.line_side or earthed & reached


@settings(deadline=None, max_examples=60)
@given(sets(), NODE, NODE)
def test_dc_path_is_the_shortest_that_networkx_finds(text, start, goal):
    w = Wiring(read(text))
    graph = nx.MultiGraph()
    graph.add_nodes_from([start, goal])
    kinds = (
        Kind.RESISTOR,
        Kind.WINDING,
        Kind.CONTACT,
        Kind.FUSE,
        Kind.HEATER,
        Kind.LAMP,
        Kind.SPEAKER,
    )
    for e in w.elements:
        if e.kind in kinds:
            graph.add_edge(e.a, e.b, weight=e.ohm or 0.0)
    path = w.dc_path(start, {goal})
    if not nx.has_path(graph, start, goal):
        assert path is None
        return
    assert path is not None
    expected = nx.shortest_path_length(graph, start, goal, weight="weight")
    assert sum(e.ohm or 0.0 for e in path) == pytest.approx(expected)


def broken_shapes():
    def part(ref, kind, *nodes, paths=(), names=None):
        names = names or [chr(97 + i) for i in range(len(nodes))]
        terminals = tuple(Terminal(n, node, SPAN) for n, node in zip(names, nodes, strict=True))
        return Part(ref, ref[0], int(ref[1:]), kind, SPAN, terminals=terminals, paths=paths)

    yield Chassis()
    yield Chassis(wires=(Wire(("A", "B"), SPAN),))
    for kind in ("capacitor", "resistor", "coil", "transformer", "tube", "diode", "switch", "fuse",
                 "lamp", "speaker", "meter", "vibrator", "plug", "jack", "battery", "load",
                 "thermistor", "varistor", "something else"):  # fmt: skip
        for count in range(4):
            nodes = ["N"] * count
            yield Chassis(parts=(part("X1", kind, *nodes),))
            yield Chassis(parts=(part("X1", kind, *nodes, names=["odd"] * count),))
            yield Chassis(parts=(part("X1", kind, *nodes, paths=(Path("p", ("gone", "a", "q")),)),))
    yield Chassis(parts=tuple(part(f"R{i}", "resistor", "HUB", "HUB") for i in range(300)))
    yield Chassis(parts=tuple(part(f"R{i}", "resistor", "HUB", f"N{i}") for i in range(300)))
    yield Chassis(parts=(part("P1", "plug", "HUB", "HUB", names=["hot", "neutral"]),
                         part("F1", "fuse", "HUB", "HUB")))  # fmt: skip
    yield Chassis(parts=(part("R1", "resistor", "A", "B"), part("R1", "resistor", "B", "C")))


@pytest.mark.parametrize("chassis", list(broken_shapes()))
def test_odd_chassis_never_crash(chassis):
    everything(Wiring(chassis))


def many(count):
    """A text of `count` parts: stages of five behind one supply, as real sets repeat them."""
    rng = random.Random(7)
    lines = [
        "line 117 V 60 Hz",
        "P1 plug, polarized: hot LINE, neutral B-",
        "F1 1 A: LINE to HOT",
        "V1 35W4: plate HOT, cathode RAIL0, heater HOT to open to B-",
        "C1 40 mfd 150 V electrolytic: + RAIL0, - B-",
        "C2 .05 mfd: B- to CHASSIS",
    ]
    for n in range(2, count // 6 + 1):
        g = "GRID1" if n == 2 else f"GRID{n - 1}X"
        lines += [
            f"V{n} 12AV6: plate PLATE{n}, grid {g}, cathode KATH{n}, heater HOT to B-",
            f"R{n}1 220K: RAIL{rng.randrange(n - 1)} to PLATE{n}", f"R{n}2 1.5K: KATH{n} to B-",
            f"R{n}3 470K: GRID{n}X to B-", f"C{n}1 .01 mfd: PLATE{n} to GRID{n}X",
            f"R{n}4 1K: RAIL{rng.randrange(n - 1)} to RAIL{n - 1}",
        ]  # fmt: skip
    return "\n".join(lines)


@pytest.mark.parametrize(("parts", "limit_s"), [(120, 0.2), (2000, 5.0)])
def test_speed(parts, limit_s, record_property):
    """Generous limits (a slow machine must pass); what was measured is shown."""
    chassis = read(many(parts))
    assert len(chassis.parts) > 0.9 * parts
    assert not chassis.findings
    best = 1e9
    for _ in range(3):
        start = time.perf_counter()
        w = Wiring(chassis)
        _ = (w.line_side, w.touchable, w.barrier_chains, w.roles, w.couplings, w.fuses, w.isolated)
        best = min(best, time.perf_counter() - start)
    record_property("ms", f"{best * 1e3:.1f} for {len(chassis.parts)} parts")
    assert len(w.couplings) > parts / 10
    assert best < limit_s
