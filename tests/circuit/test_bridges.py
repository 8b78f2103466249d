"""A bridge in one piece against the same four diodes by themselves, and against equations anew."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from netcheck.bench.resistance_chart import resistance_chart
from netcheck.circuit import Circuit
from netcheck.circuit.line_current import LineCurrent, line_current
from netcheck.circuit.rectify_fit import diode_law
from netcheck.circuit.rectify_spec import RectifierKind
from netcheck.circuit.source import RectifierSource, Unknown, rectifier_sources
from netcheck.circuit.states import Edit, State
from netcheck.findings import NotSolved
from netcheck.language import read

Record = Callable[[str, object], None]

WOUND = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 1/2 A 250 V slow: LINE to FUSED
T1 power, primary 117 V 5 ohm, high 180 V 60 mA 90 ohm, heater 6.3 V 1 A: primary FUSED to COLD,
   high HA to HB, heater H1 to {low}
{bridge}
C1 22 mfd 350 V electrolytic, new: + B1, - {low}
R1 1.5K 5 W, new: B1 to B2
C2 22 mfd 350 V electrolytic, new: + B2, - {low}
V1 6V6: plate PL, screen B2, grid G, cathode K, heater H1 to {low}
T2 output, 5000 ohm to 3.2 ohm, primary 300 ohm: primary B1 to PL, secondary VC to {low}
LS1 3.2 ohm: VC to {low}
R2 270 ohm 1 W, new: K to {low}
R3 470K 1/2 W, new: G to {low}
R4 100K 2 W, new: B2 to {low}
"""
PLAIN = WOUND.replace("{low}", "CHASSIS")
# The supply returns to B- through a resistor: a bias in the negative lead.
BACK = WOUND.replace("- {low}", "- B-").replace("{low}", "CHASSIS") + (
    "R5 47 ohm 2 W, new: B- to CHASSIS\n"
)
ON_LINE = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral HB
F1 1/2 A 250 V slow: LINE to FUSED
R9 47 ohm 5 W wirewound, new: FUSED to HA
{bridge}
C1 47 mfd 250 V electrolytic, new: + B1, - B-
R1 1.5K 5 W, new: B1 to B2
C2 47 mfd 250 V electrolytic, new: + B2, - B-
Z1 load 30 mA: B2 to B-
"""
SETS = {"wound": (PLAIN, "CHASSIS"), "back bias": (BACK, "B-"), "on the line": (ON_LINE, "B-")}


def one(minus: str, words: str = "silicon 400 V 1 A") -> str:
    return f"D1 bridge {words}: ac HA to HB, + B1, - {minus}"


def four(minus: str, words: str = "silicon 400 V 1 A") -> str:
    return (
        f"D1 {words}: anode HA, cathode B1\nD2 {words}: anode HB, cathode B1\n"
        f"D3 {words}: anode {minus}, cathode HA\nD4 {words}: anode {minus}, cathode HB"
    )


def circuit(text: str, bridge: str) -> Circuit:
    chassis = read(text.replace("{bridge}", bridge))
    assert chassis.was_read, chassis.findings
    return Circuit(chassis)


def the_source(found: Circuit) -> RectifierSource:
    (source,) = rectifier_sources(found.wiring)
    assert isinstance(source, RectifierSource), source
    return source


@pytest.mark.parametrize("name", list(SETS))
def test_the_same_volts_and_amperes_as_four_diodes(name: str) -> None:
    text, minus = SETS[name]
    pair = [circuit(text, form(minus)) for form in (one, four)]
    for state in (State("nominal"), State("high", line_v=129.0)):
        mine, other = (c.operating.point(state) for c in pair)
        for net in other.model.index:
            volts, wanted = mine.between(net, minus), other.between(net, minus)
            assert (volts is None) == (wanted is None), net
            if wanted is not None:
                assert volts == pytest.approx(wanted, rel=1e-6, abs=1e-9), net
        assert mine.between("B2", minus) > 100
        (a,), (b,) = mine.supplies, other.supplies
        assert a.source.spec.kind is RectifierKind.BRIDGE
        assert (a.source.minus, a.source.reservoir) == (b.source.minus, b.source.reservoir)
        for figure in ("dc_v", "ripple_v", "plate_peak_a", "plate_rms_a", "peak_inverse_v"):
            assert getattr(a.cycle, figure) == pytest.approx(getattr(b.cycle, figure), rel=1e-6)


@pytest.mark.parametrize("name", ["wound", "on the line"])
def test_the_same_line_current_and_roles_as_four_diodes(name: str) -> None:
    text, minus = SETS[name]
    mine, other = (circuit(text, form(minus)) for form in (one, four))
    drawn = [line_current(c.line_side.point()) for c in (mine, other)]
    assert isinstance(drawn[0], LineCurrent)
    assert drawn[0].rms_a == pytest.approx(drawn[1].rms_a, rel=1e-6)
    assert mine.wiring.line_side == other.wiring.line_side
    assert mine.wiring.b_plus == other.wiring.b_plus
    for part in other.wiring.chassis.parts:
        if part.kind != "diode":
            assert mine.wiring.role_of(part.ref) == other.wiring.role_of(part.ref), part.ref


@pytest.mark.parametrize("name", list(SETS))
def test_the_same_ohms_as_four_diodes(name: str) -> None:
    text, minus = SETS[name]
    charts = [resistance_chart(read(text.replace("{bridge}", form(minus)))) for form in (one, four)]
    mine, other = ({n.name: n.ohm for n in chart.nodes} for chart in charts)
    assert mine == other
    # With the leads exchanged the meter may send current through: the sheet names what does.
    assert charts[0].rectifiers == ("D1",)
    assert charts[1].rectifiers == ("D1", "D2", "D3", "D4")


def test_a_winding_into_a_reservoir_by_hand(record_property: Record) -> None:
    """Each path written by its corners: HA, diode, plus, load, minus, diode, HB; and back."""
    text = (
        "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral N\n"
        "T1 power, primary 117 V 5 ohm, high 250 V 60 mA 100 ohm: primary LINE to N, "
        "high HA to HB\nD1 bridge silicon 600 V 1 A: ac HA to HB, + B1, - B-\n"
        "C1 16 mfd 450 V electrolytic, new: + B1, - B-\nR1 5K 25 W: B1 to B-\n"
    )
    found = circuit(text, "")
    # Hot windings have 1.15 times their ohms; the printed volts hold at the printed amperes.
    ohm = 1.15 * 100 + (250 / 117) ** 2 * 1.15 * 5
    peak = (250 + 0.06 * ohm) * np.sqrt(2)
    source = the_source(found)
    assert float(source.spec.figure("source_ohm")[0]) == pytest.approx(ohm, rel=1e-3)

    def winding_a(t: float, v: float) -> float:
        e = peak * np.sin(2 * np.pi * 60 * t)
        loop = ohm + 0.2 + 0.2
        forth = max(e - 0.7 - v - 0.7, 0.0) / loop  # HA to plus, minus to HB
        back = max(-e - 0.7 - v - 0.7, 0.0) / loop  # HB to plus, minus to HA
        return forth - back

    def rate(t: float, y: np.ndarray) -> list[float]:
        return [(abs(winding_a(t, y[0])) - y[0] / 5e3) / 16e-6]

    y, cycle = np.array([300.0]), 1 / 60
    for _ in range(60):
        y = solve_ivp(rate, (0, cycle), y, rtol=1e-8, atol=1e-8, max_step=cycle / 400).y[:, -1]
    last = solve_ivp(
        rate, (0, cycle), y, rtol=1e-9, atol=1e-9, max_step=cycle / 400,
        t_eval=np.linspace(0, cycle, 8001),
    )  # fmt: skip
    v, t = last.y[0], last.t
    mean_v = np.trapezoid(v, t) / cycle
    wound_a = np.array([winding_a(a, b) for a, b in zip(t, v, strict=True)])
    point = found.operating.point(State("nominal"))
    (supply,) = point.supplies
    record_property("volts by hand", round(float(mean_v), 3))
    assert point.between("B1", "B-") == pytest.approx(mean_v, rel=1e-3)
    assert supply.cycle.ripple_v[0, 0] == pytest.approx(np.ptp(v), rel=1e-2)
    rms_a = np.sqrt(np.trapezoid(wound_a**2, t) / cycle)
    assert supply.cycle.source_rms_a[0, 0] == pytest.approx(rms_a, rel=1e-2)


def test_the_halves_of_its_rating() -> None:
    """A selenium bridge for 250 V and 75 mA: each arm blocks 250 V and carries 37.5 mA."""
    chassis = read(
        "line none\nD1 bridge selenium 250 VAC 75 mA: ac HA to HB, + B1, - B-\n"
        "D2 selenium 250 VAC 37.5 mA: anode HA, cathode B1\n"
    )
    whole, arm = (chassis.part(ref) for ref in ("D1", "D2"))
    assert whole is not None
    assert arm is not None
    assert diode_law(whole)[0] == diode_law(arm)[0]


def test_half_of_it_rectifies_both_ends_of_a_tapped_winding() -> None:
    text = PLAIN.replace("high HA to HB", "high HA to CHASSIS to HB").replace("180 V", "360 V")
    half = "D1 bridge silicon 1000 V 1 A: ac HA to HB, + B1, - open"
    two = "D1 silicon: anode HA, cathode B1\nD2 silicon: anode HB, cathode B1"
    sources = [the_source(circuit(text, bridge)) for bridge in (half, two)]
    assert sources[0].spec.kind is RectifierKind.FULL_WAVE
    assert sources[0].spec.figure("volts") == pytest.approx(sources[1].spec.figure("volts"))


@pytest.mark.parametrize("form", [one, four])
@pytest.mark.parametrize(
    ("corner", "other"), [("HB", "B1"), ("CHASSIS", "CHASSIS")], ids=["exchanged", "tap grounded"]
)
def test_no_volts_are_told_of_a_winding_that_it_shorts(
    form: Callable[[str], str], corner: str, other: str
) -> None:
    """With plus and an AC corner exchanged, or minus on a tap, a half wave meets no load."""
    bridge = form("CHASSIS")
    if corner == "HB":
        bridge = bridge.replace("HB", "SWAP").replace("B1", "HB").replace("SWAP", other)
        text = PLAIN
    else:
        text = PLAIN.replace("high HA to HB", "high HA to CHASSIS to HB")
    found = rectifier_sources(circuit(text, bridge).wiring)
    assert [each.reason for each in found if isinstance(each, Unknown)]
    assert "T1 is shorted in one half wave" in found[0].reason
    assert not any(isinstance(each, RectifierSource) for each in found)


@pytest.mark.parametrize(
    "edit", [Edit("short", "D1"), Edit("leak", "D1", 1e4), Edit("open", "D1", path="ac1 to +")]
)
def test_a_half_broken_bridge_is_refused_and_not_taken_for_a_sound_one(edit: Edit) -> None:
    found = circuit(PLAIN, one("CHASSIS"))
    with pytest.raises(NotSolved, match="D1 is four diodes"):
        found.operating.point(State("broken", edits=(edit,)))
    point = found.operating.point(State("out", edits=(Edit("open", "D1"),)))
    assert point.between("B1", "CHASSIS") == pytest.approx(0.0, abs=1.0)


BIAS = """D5 silicon 1 kV 50 mA: anode BIAS, cathode HA
C3 20 mfd 400 V electrolytic, new: + CHASSIS, - BIAS
R7 220K 1/2 W: BIAS to CHASSIS
"""


@pytest.mark.parametrize("form", [one, four])
def test_a_bias_diode_on_a_winding_end_is_no_part_of_the_bridge(
    form: Callable[[str], str],
) -> None:
    """The bridge stays one; its diode to minus holds HA up, so that the bias is not half a sine."""
    main, bias = rectifier_sources(circuit(PLAIN + BIAS, form("CHASSIS")).wiring)
    alone = the_source(circuit(PLAIN, form("CHASSIS")))
    assert isinstance(main, RectifierSource)
    assert main.spec.kind is RectifierKind.BRIDGE
    assert main.spec.figure("volts") == pytest.approx(alone.spec.figure("volts"))
    assert isinstance(bias, Unknown)
    assert bias.parts == ("D5",)
    assert "below its minus" in bias.reason


def test_a_bias_from_a_bridge_with_its_tap_on_the_return_is_computed() -> None:
    """Plus and minus rails about a grounded tap: the ends have a sine against the return."""
    text = PLAIN.replace("high HA to HB", "high HA to CHASSIS to HB") + BIAS.replace(
        "cathode HA", "cathode RB"
    )
    text += "R8 100K 2 W: RB to HA\nC4 22 mfd 350 V electrolytic, new: + CHASSIS, - LOW\n"
    found = rectifier_sources(circuit(text + "R9 47K 2 W: LOW to CHASSIS\n", one("LOW")).wiring)
    (bias,) = (s for s in found if isinstance(s, RectifierSource) and s.bias and "D5" in s.refs)
    assert bias.spec.kind is RectifierKind.HALF_WAVE
