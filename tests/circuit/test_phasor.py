"""Networks of one sine, against hand sums of elementary AC theory (common practice, no source)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from netcheck.circuit.phasor import Admittance, Coupling, phasors


def test_a_capacitor_and_a_resistor_divide_as_the_right_triangle_says() -> None:
    siemens = 1j * 2 * math.pi * 60 * 0.1e-6
    found = phasors(
        [Admittance("HOT", "X", siemens), Admittance("X", "COLD", 1 / 10e3)],
        {"HOT": 117.0, "COLD": 0.0},
    )
    reactance_ohm = 1 / (2 * math.pi * 60 * 0.1e-6)
    expected_v = 117 * 10e3 / math.hypot(10e3, reactance_ohm)
    assert abs(found.volts["X"][0]) == pytest.approx(expected_v, rel=1e-12)


def test_a_winding_takes_from_its_primary_what_its_load_needs() -> None:
    load, feed = Admittance("S", "T", 1 / 6.3), Admittance("HOT", "P", 1 / 10.0)
    found = phasors(
        [load, feed, Admittance("T", "COLD", 1e-12)],
        {"HOT": 117.0, "COLD": 0.0},
        [Coupling(("P", "COLD"), ("S", "T"), 0.1)],
    )
    # Seen from the primary the load is 6.3 / 0.1^2 = 630 ohm, in series with 10 ohm.
    primary_v = 117 * 630 / 640
    assert abs(found.volts["P"][0]) == pytest.approx(primary_v, rel=1e-9)
    across = found.between("S", "T")
    assert across is not None
    assert abs(across[0]) == pytest.approx(primary_v / 10, rel=1e-9)


def test_variants_are_solved_side_by_side() -> None:
    ohms = np.array([1e3, 2e3, 5e3])
    found = phasors(
        [Admittance("HOT", "X", 1 / ohms + 0j), Admittance("X", "COLD", 1e-3)],
        {"HOT": 10.0, "COLD": 0.0},
        variants=3,
    )
    assert found.volts["X"].real == pytest.approx(10 * 1e3 / (ohms + 1e3), rel=1e-12)


def test_what_nothing_holds_is_named_and_has_no_volts() -> None:
    found = phasors([Admittance("HOT", "X", 1.0), Admittance("Y", "Z", 1.0)], {"HOT": 5.0})
    assert found.floating == {"Y", "Z"}
    assert found.between("Y", "HOT") is None


def test_a_source_in_series_drives_what_it_feeds() -> None:
    source = Admittance("A", "COLD", 1 / 2.0, emf_v=6.0)
    load = Admittance("A", "COLD", 1 / 4.0)
    found = phasors([source, load], {"COLD": 0.0})
    assert found.volts["A"][0] == pytest.approx(4.0)
    assert found.through(load) == pytest.approx([1.0])
    assert found.through(source) == pytest.approx([-1.0])


@pytest.mark.parametrize("seed", range(5))
def test_a_network_that_held_nets_cut_apart_is_solved_whole(seed: int) -> None:
    """The equations of all nets as one matrix, made here, against blocks solved each by itself."""
    rng = np.random.default_rng(seed)
    fixed = {"HOT": 117.0, "COLD": 0.0, "TAP": 50.0 + 3.0j}
    nets = [f"N{k}" for k in range(30)]
    ends = [(net, str(rng.choice([*fixed, *nets[:k]]))) for k, net in enumerate(nets)]
    ends += [(str(rng.choice(nets)), str(rng.choice(list(fixed)))) for _ in range(12)]
    siemens = rng.uniform(0.1, 1.0, len(ends)) * np.exp(1j * rng.uniform(-1.5, 1.5, len(ends)))
    branches = [Admittance(a, b, s) for (a, b), s in zip(ends, siemens, strict=True)]
    found = phasors(branches, fixed, injected_a={"N3": 0.5, "COLD": 1.0})
    matrix, source = np.zeros((30, 30), dtype=complex), np.zeros(30, dtype=complex)
    source[3] = 0.5
    for (a, b), s in zip(ends, siemens, strict=True):
        for here, there in ((a, b), (b, a)):
            if here in nets:
                matrix[nets.index(here), nets.index(here)] += s
                if there in nets:
                    matrix[nets.index(here), nets.index(there)] -= s
                else:
                    source[nets.index(here)] += s * fixed[there]
    expected = np.linalg.solve(matrix, source)
    for net, volts in zip(nets, expected, strict=True):
        assert found.volts[net][0] == pytest.approx(volts, abs=1e-9)
    assert not found.floating
