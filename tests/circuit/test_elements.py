"""Which edges each kind of part gives, with their ohms."""

from __future__ import annotations

import pytest

from netcheck.chassis import Chassis
from netcheck.circuit.wiring import Kind, Wiring
from netcheck.findings import Span
from netcheck.language import read
from netcheck.parts import Part, Terminal


def edges(w, ref):
    return [(e.a, e.b) for e in w.of(ref)]


def ohms(w, ref):
    return [e.ohm for e in w.of(ref)]


def test_a_centre_tapped_winding_has_each_half(wired):
    w = wired(
        "line none\nT1 power, high 340-0-340 V 190 ohm each: primary A1 to A2, high X to CT to Y"
    )
    assert edges(w, "T1") == [("A1", "A2"), ("X", "CT"), ("CT", "Y")]
    assert ohms(w, "T1") == [None, 190, 190]
    assert {e.path for e in w.of("T1")} == {"primary", "high"}
    # Induction joins nothing.
    assert w.dc_path("A1", {"X"}) is None


def test_windings_share_one_printed_resistance(wired):
    w = wired("line none\nT2 output, primary 400 ohm: primary PA to BB to PB, secondary VC to VCR")
    assert ohms(w, "T2") == [200, 200, None]


def test_a_coil_of_one_winding_has_the_ohms_of_its_description(wired):
    w = wired("line none\nL1 field, 1000 ohm: AA to BB\nL2 rf, primary 3 ohm: primary CC to DD")
    assert ohms(w, "L1") == [1000]
    assert ohms(w, "L2") == [3]


def test_a_dropper_has_its_sections_in_order(wired):
    w = wired("line none\nR1 dropper, 200-620-230 ohm: AA to BB to CC to DD")
    assert edges(w, "R1") == [("AA", "BB"), ("BB", "CC"), ("CC", "DD")]
    assert ohms(w, "R1") == [200, 620, 230]


def test_an_open_tap_joins_its_neighbours(wired):
    w = wired("line none\nR1 dropper, 200-620-230 ohm: AA to open to CC to DD")
    assert edges(w, "R1") == [("AA", "CC"), ("CC", "DD")]
    assert ohms(w, "R1") == [820, 230]


def test_a_control_stands_in_the_middle(wired):
    w = wired("line none\nR6 control, 500K: TOP to WIPER to B-")
    assert edges(w, "R6") == [("TOP", "WIPER"), ("WIPER", "B-")]
    assert ohms(w, "R6") == [250e3, 250e3]


def test_measured_resistance_counts(wired):
    w = wired("line none\nR7 470K, measured 531K: AA to BB")
    assert ohms(w, "R7") == [531e3]


def test_tube_streams_and_heater(wired):
    w = wired("line none\nV5 35W4: plate PL, cathode B1, heater LINE to TAP to H4")
    assert [(e.kind, e.a, e.b) for e in w.of("V5")] == [
        (Kind.HEATER, "LINE", "TAP"), (Kind.HEATER, "TAP", "H4"), (Kind.STREAM, "PL", "B1"),
    ]  # fmt: skip
    assert ohms(w, "V5")[:2] == [pytest.approx(7.5 / 0.15), pytest.approx(27.5 / 0.15)]


def test_the_tap_section_follows_the_heater_however_it_is_written(wired):
    for words in ("heater H4 to TAP to LINE", "3 LINE, 4 H4, 6 TAP"):
        w = wired("line none\nV5 35W4: plate PL, cathode B1, " + words)
        by_nets = {e.nets: e.ohm for e in w.of("V5") if e.kind is Kind.HEATER}
        # Between heater1 (pin 4) and the tap lies the lamp section of 7.5 V.
        assert by_nets[("H4", "TAP")] == pytest.approx(50)


def test_pentode_has_a_stream_from_plate_and_screen(wired):
    w = wired("line none\nV4 50C5: plate PL, g2 SC, g1 GR, cathode KK, heater HH to B-")
    streams = {(e.path, e.a, e.b) for e in w.of("V4") if e.kind is Kind.STREAM}
    assert streams == {("pentode", "PL", "KK"), ("screen", "SC", "KK")}
    assert {(x.name, x.duty) for x in w.electrodes_on("GR")} == {("g1", "grid")}


def test_directly_heated_tube_streams_to_its_filament(wired):
    w = wired("line none\nV1 1U4: plate PL, g2 SC, g1 GR, filament FP to B-")
    assert ("STREAM", "PL", "FP") in {(e.kind.name, e.a, e.b) for e in w.of("V1")}


def test_an_unconnected_electrode_gives_no_stream(wired):
    w = wired(
        "line none\nV3 12AV6: plate PL, grid GR, cathode KK, diode1 open, diode2 open, "
        "heater HH to B-"
    )
    assert {e.path for e in w.of("V3") if e.kind is Kind.STREAM} == {"triode"}


def test_one_grid_on_two_pins_is_joined_inside_the_tube():
    span = Span("<test>", 1, 1, 1, 2)
    terminals = (Terminal("g1", "GA", span, pin="2"), Terminal("g1", "GB", span, pin="5"))
    w = Wiring(Chassis(parts=(Part("V4", "V", 4, "tube", span, terminals=terminals),)))
    (strap,) = w.of("V4")
    assert strap.kind is Kind.STRAP
    assert strap.ohm == 0.0
    assert w.dc_path("GA", {"GB"}) == (strap,)


def test_switch_paths_carry_their_position(wired):
    w = wired("line none\nS1: LW ANT to LONG, MW ANT to MED")
    assert [(e.position, e.a, e.b, e.ohm) for e in w.of("S1")] == [
        ("LW", "ANT", "LONG", 0.0), ("MW", "ANT", "MED", 0.0),
    ]  # fmt: skip


def test_vibrator_reed_contacts_and_coil(wired):
    w = wired("line none\nG1 vibrator: reed CHASSIS, contacts VA to VB, coil VC")
    assert {(e.kind, e.a, e.b) for e in w.of("G1")} == {
        (Kind.CONTACT, "CHASSIS", "VA"), (Kind.CONTACT, "CHASSIS", "VB"),
        (Kind.WINDING, "CHASSIS", "VC"),
    }  # fmt: skip


def test_second_reed_carries_the_second_contacts(wired):
    w = wired(
        "line none\nG1 vibrator: reed CHASSIS, reed2 RB, contacts VA to VB, contacts2 SA to "
        "SB, coil VC"
    )
    assert ("RB", "SA") in edges(w, "G1")
    assert ("RB", "VA") not in edges(w, "G1")


@pytest.mark.parametrize(
    ("line", "kind", "ends", "ohm"),
    [
        ("C1A 50 mfd 150 V electrolytic: - AA, + BB", Kind.CAPACITOR, ("BB", "AA"), None),
        ("D1: cathode AA, anode BB", Kind.DIODE, ("BB", "AA"), None),
        ("F1 1 A: AA to BB", Kind.FUSE, ("AA", "BB"), 0.0),
        ("DS1 6.3 V 150 mA: AA to BB", Kind.LAMP, ("AA", "BB"), pytest.approx(42)),
        ("LS1 3.2 ohm: AA to BB", Kind.SPEAKER, ("AA", "BB"), 3.2),
        ("BT1 90 V: + AA, - BB", Kind.BATTERY, ("AA", "BB"), None),
        ("Z1 load 35 mA: AA to BB", Kind.LOAD, ("AA", "BB"), None),
        ("RV1 150 VAC: AA to BB", Kind.VARISTOR, ("AA", "BB"), None),
        ("RT1 50 ohm: AA to BB", Kind.RESISTOR, ("AA", "BB"), 50),
    ],
)
def test_two_ended_parts(wired, line, kind, ends, ohm):
    w = wired("line none\n" + line)
    (e,) = w.elements
    assert (e.kind, e.nets, e.ohm) == (kind, ends, ohm)
    assert w.at("AA") == w.at("BB") == (e,)


@pytest.mark.parametrize("condition", ["removed", "not fitted"])
def test_what_is_not_there_joins_nothing(wired, condition):
    w = wired(f"line none\nR1 1K, {condition}: AA to BB\nF1 1 A: AA to BB")
    assert w.of("R1") == ()
    assert len(w.of("F1")) == 1
    assert w.unknown_parts == ()


def test_nets_go_by_their_chief_name(wired):
    w = wired("line none\nwire AA to CHASSIS\nR1 1K: AA to BB")
    assert edges(w, "R1") == [("CHASSIS", "BB")]


def test_a_can_body_joins_nothing(wired):
    w = wired(
        "line none\nC1 can, insulated: body CHASSIS\nC1A 8 mfd 450 V electrolytic: + AA, - BB"
    )
    assert w.of("C1") == ()
    assert w.at("CHASSIS") == ()


class TestIncomplete:
    """What could not be read must not be taken for not being there."""

    def test_a_whole_text_is_complete(self, wired):
        w = wired("line none\nR1 1K: AA to BB")
        assert not w.incomplete("AA")
        assert w.unknown_parts == ()

    def test_a_broken_part_makes_the_nets_it_names_incomplete(self):
        w = Wiring(read("line none\nR1 470Q: AA to BB\nR2 1K: BB to CC"))
        assert w.unknown_parts == ("R1",)
        assert w.of("R1") == ()
        assert w.incomplete("AA")
        assert w.incomplete("BB")
        assert not w.incomplete("CC")

    def test_a_broken_part_without_terminals_may_be_anywhere(self):
        w = Wiring(read("line none\nR1 470Q\nR2 1K: BB to CC"))
        assert w.unknown_parts == ("R1",)
        assert w.incomplete("CC")

    def test_an_unknown_tube_type(self):
        w = Wiring(read("line none\nV1 99ZZ9: plate PL, g1 GR, cathode B-\nR1 1K: PL to BB"))
        assert w.unknown_parts == ("V1",)
        assert w.incomplete("PL")
        assert not w.incomplete("BB")

    def test_a_broken_part_that_was_taken_out_is_not_missed(self):
        w = Wiring(read("line none\nR1 470Q, removed: AA to BB"))
        assert not w.incomplete("AA") or w.unknown_parts == ("R1",)


BRIDGE = ("ac1 to +", "ac2 to +", "- to ac1", "- to ac2")


@pytest.mark.parametrize(
    ("corners", "left"),
    [
        ("ac HA to HB, + B1, - B-", (0, 1, 2, 3)),
        ("- B-, + B1, ac2 HB, ac1 HA", (0, 1, 2, 3)),
        ("ac HA to HB, + B1, - open", (0, 1)),
        ("ac HA to HB, + open, - B-", (2, 3)),
        ("ac HA to open, + B1, - B-", (0, 2)),
        ("ac HA to HB, + open, - open", ()),
    ],
)
def test_a_bridge_in_one_piece_has_four_diodes(corners, left):
    wiring = Wiring(read(f"line none\nD1 bridge 400 V 1 A: {corners}\n"))
    nets = [("HA", "B1"), ("HB", "B1"), ("B-", "HA"), ("B-", "HB")]

    assert {(e.kind, e.a, e.b, e.path) for e in wiring.of("D1")} == {
        (Kind.DIODE, *nets[n], BRIDGE[n]) for n in left
    }


def test_a_bridge_with_a_corner_missing_may_be_anywhere():
    wiring = Wiring(read("line none\nD1 bridge: ac HA to HB, + B1\nR1 1K: X to Y\n"))

    assert wiring.of("D1") == ()
    assert wiring.incomplete("X")
