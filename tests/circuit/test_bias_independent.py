"""Bias supplies of whole sets against scipy.integrate.solve_ivp on equations written here anew.

Transformer, both rectifiers and both reservoirs run in time together; the periodic state is the
fixed point of one cycle of that. Of netcheck only the law of the tube rectifier is taken.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, root

from netcheck.circuit import Circuit
from netcheck.circuit.operating import Point
from netcheck.circuit.source import RectifierSource, rectifier_sources
from netcheck.circuit.states import Edit, State
from netcheck.language import read

Record = Callable[[str, object], None]
Rate = Callable[[float, np.ndarray], list[float]]

OMEGA = 2 * np.pi * 60
CYCLE_S = 1 / 60
PRIMARY_OHM = 6 * 1.15
SILICON_V, SILICON_OHM = 0.7, 0.2

SET = """line 117 V 60 Hz
measure from CHASSIS
P1 plug, polarized: hot LINE, neutral N
T1 power, primary 117 V 6 ohm, high 300-0-300 V 100 mA 150 ohm each,
   bias 55 V 20 mA 20 ohm, rectifier 5 V 2 A: primary LINE to N, high HTA to CHASSIS to HTB,
   bias BW to CHASSIS, rectifier B1 to FIL2
V5 5Y3GT: plate1 HTA, plate2 HTB, filament B1 to FIL2
C1 16 mfd 600 V electrolytic: + B1, - CHASSIS
{load}
{feed}
CR1 silicon 1N4007: cathode RAW, anode BIAS
C2 10 mfd 150 V electrolytic: + CHASSIS, - BIAS
R28 27K 1 W: BIAS to CHASSIS
R29 220K 1/2 W: BIAS to G
R30 1 meg 1/2 W: G to CHASSIS
"""
LOAD_OHM = 1 / (1 / 27e3 + 1 / 1.22e6)


LOAD = "R1 4.7K 50 W: B1 to CHASSIS"


def solved(feed: str, load: str = "") -> tuple[Circuit, Point]:
    """The set; without a load the main rectifier takes nothing from the crest."""
    circuit = Circuit(read(SET.format(feed=feed, load=load)))
    assert circuit.chassis.findings == ()
    return circuit, circuit.operating.point()


def fixed_point(rate: Rate, start: list[float]) -> np.ndarray:
    """Means over a cycle of the states that repeat after it."""

    def after(y: np.ndarray) -> np.ndarray:
        end = solve_ivp(rate, (0, CYCLE_S), y, rtol=1e-8, atol=1e-8, max_step=CYCLE_S / 150)
        return np.asarray(end.y[:, -1] - y)

    found = root(after, start, tol=1e-7)
    assert found.success, found.message
    last = solve_ivp(
        rate, (0, CYCLE_S), found.x, rtol=1e-8, atol=1e-8, max_step=CYCLE_S / 150,
        t_eval=np.linspace(0, CYCLE_S, 2001),
    )  # fmt: skip
    return np.asarray(np.trapezoid(last.y, last.t, axis=1) / CYCLE_S)


def valve(volts: float, ohm: float, perveance: float) -> float:
    """`volts = ohm I + (I / perveance)^(2/3)`, by bisection."""
    if volts <= 0:
        return 0.0
    most = perveance * volts**1.5
    return float(
        brentq(lambda i: ohm * i + (i / perveance) ** (2 / 3) - volts, 0.0, most, xtol=1e-12)
    )


def silicon(volts: float, ohm: float) -> float:
    return max(volts - SILICON_V, 0.0) / (ohm + SILICON_OHM)


def no_load(printed_v: float, load_a: float, own_ohm: float) -> float:
    """The winding's volts rms without load, from those at the load printed with them."""
    return printed_v + load_a * (own_ohm * 1.15 + (printed_v / 117) ** 2 * PRIMARY_OHM)


def test_a_bias_beside_the_main_rectifier(record_property: Record) -> None:
    """Both draw at the crest, through one primary; of the bias that takes some volts."""
    circuit, point = solved("R27 1K 1 W: BW to RAW", LOAD)
    main = rectifier_sources(circuit.wiring)[0]
    assert isinstance(main, RectifierSource)
    perveance = main.spec.law.perveance
    n_high, n_bias = no_load(300, 0.1, 150) / 117, no_load(55, 0.02, 20) / 117

    def rate(t: float, y: np.ndarray) -> list[float]:
        main_v, bias_v = y
        line_v = 117 * np.sqrt(2) * np.sin(OMEGA * t)

        def currents(core_v: float) -> tuple[float, float, float]:
            return (
                valve(n_high * core_v - main_v, 150 * 1.15, perveance),
                valve(-n_high * core_v - main_v, 150 * 1.15, perveance),
                silicon(-n_bias * core_v - bias_v, 1000 + 20 * 1.15),
            )

        def off(core_v: float) -> float:
            first, second, third = currents(core_v)
            drawn = n_high * (first - second) - n_bias * third
            return line_v - PRIMARY_OHM * drawn - core_v

        bound = abs(line_v) + 1.0
        first, second, third = currents(float(brentq(off, -bound, bound, xtol=1e-9)))
        return [
            (first + second - main_v / 4700) / 16e-6,
            (third - bias_v / LOAD_OHM) / 10e-6,
        ]

    main_v, bias_v = fixed_point(rate, [330.0, 60.0])
    found = point.volts("B1"), -(point.volts("BIAS") or 0.0)
    record_property("main: stepped, netcheck", f"{main_v:.3f}, {found[0]:.3f}")
    record_property("bias: stepped, netcheck", f"{bias_v:.3f}, {found[1]:.3f}")
    assert found[0] == pytest.approx(main_v, rel=0.01)
    assert found[1] == pytest.approx(bias_v, rel=0.01)
    idle = circuit.operating.point(State("no load", edits=(Edit("open", "R1"),)))
    assert -(idle.volts("BIAS") or 0.0) > 1.015 * bias_v  # what the other takes is seen here


def test_a_bias_through_a_capacitor(record_property: Record) -> None:
    """C27 and R27 make a loop; the diode sees what R27 has."""
    _, point = solved("C27 .22 mfd 400 V: BW to X\nR26 1K: X to RAW\nR27 47K: RAW to CHASSIS")
    volts = no_load(55, 0.02, 20) * np.sqrt(2)
    ahead = 20 * 1.15 + (55 / 117) ** 2 * PRIMARY_OHM + 1000

    def rate(t: float, y: np.ndarray) -> list[float]:
        lifted_v, bias_v = y
        source_v = volts * np.sin(OMEGA * t) - lifted_v

        def off(raw_v: float) -> float:
            drawn = -silicon(-raw_v - bias_v, 0.0)
            return (source_v - raw_v) / ahead - raw_v / 47e3 - drawn

        bound = abs(source_v) + 1.0
        raw_v = float(brentq(off, -bound, bound, xtol=1e-10))
        drawn = silicon(-raw_v - bias_v, 0.0)
        return [(source_v - raw_v) / ahead / 0.22e-6, (drawn - bias_v / LOAD_OHM) / 10e-6]

    _, bias_v = fixed_point(rate, [0.0, 30.0])
    found = -(point.volts("BIAS") or 0.0)
    record_property("bias: stepped, netcheck", f"{bias_v:.3f}, {found:.3f}")
    assert found == pytest.approx(bias_v, rel=0.01)


def test_a_bias_by_a_doubler(record_property: Record) -> None:
    """C27 is filled in one half cycle through CR2 and emptied into C2 in the other."""
    _, point = solved(
        "C27 .22 mfd 400 V: BW to RAW\nCR2 silicon 1N4007: anode RAW, cathode CHASSIS"
    )
    volts = no_load(55, 0.02, 20) * np.sqrt(2)
    ohm = 20 * 1.15 + (55 / 117) ** 2 * PRIMARY_OHM

    def rate(t: float, y: np.ndarray) -> list[float]:
        lifted_v, bias_v = y
        source_v = volts * np.sin(OMEGA * t)
        filling = silicon(source_v - lifted_v, ohm)
        drawn = silicon(lifted_v - source_v - bias_v, ohm)
        return [(filling - drawn) / 0.22e-6, (drawn - bias_v / LOAD_OHM) / 10e-6]

    _, bias_v = fixed_point(rate, [60.0, 60.0])
    found = -(point.volts("BIAS") or 0.0)
    record_property("bias: stepped, netcheck", f"{bias_v:.3f}, {found:.3f}")
    assert found == pytest.approx(bias_v, rel=0.01)
