"""Capacitors from a positive net to a grid, and their DC paths, on hand-drawn small sets."""

from __future__ import annotations

import pytest

STAGES = """
line none
V3 12AV6: plate V3.plate, grid VOLGRID, cathode B-, diode1 DET, heater X to B-
R7 470K: B2 to V3.plate
R8 1.2K: B+ to B2
V4 50C5: plate PL, g2 B2, g1 DRIVE, cathode KOUT, heater Y to X
R12 150 ohm: KOUT to B-
C14 .01 mfd: V3.plate to DRIVE
"""


def only(wired, text):
    (coupling,) = wired(STAGES + text).couplings
    return coupling


def refs(elements):
    return [e.ref for e in elements]


def test_plain_coupling(wired):
    c = only(wired, "R9 470K: DRIVE to B-")
    assert (c.ref, c.source, c.far, c.grid) == ("C14", "V3.plate", "DRIVE", "DRIVE")
    assert (c.tube, c.electrode) == ("V4", "g1")
    assert refs(c.feed) == ["R8", "R7"]  # from the supply on
    assert refs(c.leak) == ["R9"]
    assert c.leak_ohm == 470e3
    assert c.returns_to == "B-"


def test_the_way_round_it_is_written_does_not_matter(wired):
    w = wired(STAGES.replace("V3.plate to DRIVE", "DRIVE to V3.plate") + "R9 470K: DRIVE to B-")
    assert [(c.source, c.far) for c in w.couplings] == [("V3.plate", "DRIVE")]


def test_no_return_at_all(wired):
    c = only(wired, "")
    assert c.leak == ()
    assert c.leak_ohm is None
    assert c.returns_to == ""


def test_unknown_leak_value(wired):
    c = only(wired, "R9 ?: DRIVE to B-")
    assert refs(c.leak) == ["R9"]
    assert c.leak_ohm is None
    assert c.returns_to == "B-"


def test_through_a_grid_stopper(wired):
    w = wired(STAGES.replace("to DRIVE", "to NODE") + "R9 470K: NODE to B-\nR10 1K: NODE to DRIVE")
    (c,) = w.couplings
    assert (c.far, c.grid) == ("NODE", "DRIVE")
    assert refs(c.leak) == ["R9"]


def test_through_a_volume_control(wired):
    w = wired(STAGES.replace("to DRIVE", "to TOP") + "R9 control, 500K: TOP to DRIVE to B-")
    (c,) = w.couplings
    assert (c.far, c.grid, c.tube) == ("TOP", "DRIVE", "V4")
    assert c.leak_ohm == 500e3


def test_to_an_avc_diode_whose_line_leads_to_grids(wired):
    # The plate of the last IF tube drives the AVC diode: a leak lifts the AVC line.
    w = wired("line none\nV2 12BA6: plate PL, g2 B+, g1 GR, cathode B-, heater X to B-\n"
              "T1 IF: primary B+ to PL, secondary S to DET\nC1 47 mmf: PL to AVCD\n"
              "V3 12AL5: plate1 AVCD, cathode1 B-, heater Y to X\nR1 1M: AVCD to B-\n"
              "R2 2.2M: AVCD to AVC\nL1 rf, 5 ohm: AVC to GR")  # fmt: skip
    (c,) = w.couplings
    assert (c.source, c.far, c.grid, c.tube) == ("PL", "AVCD", "GR", "V2")
    assert refs(c.leak) == ["R1"]


def test_leak_returning_through_the_avc_line(wired):
    c = only(wired, "R9 1M: DRIVE to AVC\nR10 2.2M: AVC to DET\nR11 500K: DET to B-")
    assert refs(c.leak) == ["R9", "R10", "R11"]
    assert c.leak_ohm == pytest.approx(3.7e6)


def test_leak_to_a_cathode_tap(wired):
    w = wired(
        STAGES.replace("KOUT to B-", "KOUT to TAP") + "R13 33 ohm: TAP to B-\nR9 470K: DRIVE to TAP"
    )
    (c,) = w.couplings
    assert refs(c.leak) == ["R9", "R13"]


def test_leak_to_a_held_bias_rail(wired):
    c = only(wired, "R9 220K: DRIVE to BIAS\nhold BIAS -12 V")
    assert refs(c.leak) == ["R9"]
    assert c.returns_to == "BIAS"


def test_the_other_stages_plate_load_is_no_leak(wired):
    # A divider from B2 feeds the grid; its lower half is the return, not the bleeder of B2.
    c = only(wired, "R9 1M: DRIVE to B-\nR10 1M: B2 to DRIVE\nR11 10K: B2 to B-")
    assert refs(c.leak) == ["R9"]


def test_a_return_only_in_one_switch_position_shows_its_contact(wired):
    c = only(wired, "S1: PHONO DRIVE to B-, RADIO DRIVE to X")
    assert refs(c.leak) == ["S1"]
    # ... but a permanent leak is preferred, however many ohms.
    c = only(wired, "S1: PHONO DRIVE to B-, RADIO DRIVE to X\nR9 10M: DRIVE to B-")
    assert refs(c.leak) == ["R9"]


def test_bypass_filter_and_direct_coupling_are_none(wired):
    w = wired(STAGES.replace("C14 .01 mfd: V3.plate to DRIVE", "wire V3.plate to DRIVE")
              + "C1 .1 mfd: B2 to B-\nC2 .1 mfd: B+ to V3.plate\nC3 20 mfd 150 V "
              "electrolytic: + B2, - B-\n"
              "C4 25 mfd 25 V electrolytic: + KOUT, - B-")  # fmt: skip
    assert w.couplings == ()


def test_a_filter_capacitor_whose_minus_feeds_grids_is_none(wired):
    w = wired(STAGES + "R9 470K: DRIVE to LOW\nR13 39 ohm: LOW to B-\n"
              "C3 20 mfd 150 V electrolytic: + B2, - LOW")  # fmt: skip
    assert [c.ref for c in w.couplings] == ["C14"]


def test_both_outputs_of_a_phase_splitter_couple(wired):
    w = wired("line none\nV1 12AX7: plate1 PL, grid1 GR, cathode1 K\nR1 56K: B+ to PL\nR2 "
    "56K: K to B-\n"
              "V2 6V6: plate B+, g2 B+, g1 GA, cathode B-, heater X to B-\n"
              "V3 6V6: plate B+, g2 B+, g1 GB, cathode B-, heater X to B-\nC1 .1 mfd: PL to GA\n"
              "C2 .1 mfd: K to GB\nR3 470K: GA to B-\nR4 470K: GB to B-")  # fmt: skip
    assert [(c.ref, c.source, c.tube) for c in w.couplings] == [
        ("C1", "PL", "V2"),
        ("C2", "K", "V3"),
    ]


def test_two_tubes_on_one_grid_net(wired):
    w = wired(STAGES + "V6 50C5: plate PL, g2 B2, g1 DRIVE, cathode KOUT, heater Y to X")
    assert [c.tube for c in w.couplings] == ["V4", "V6"]


class TestTied:
    """A grid may get its DC from a leak, a held rail or the plate before it; else it floats."""

    def test_by_a_leak(self, wired):
        assert wired(STAGES + "R9 470K: DRIVE to B-").grids.is_tied("DRIVE")

    def test_not_by_capacitors(self, wired):
        w = wired(STAGES + "C2 .01 mfd: DRIVE to B-")
        assert not w.grids.is_tied("DRIVE")
        assert w.return_path("DRIVE") is None

    def test_by_direct_coupling(self, wired):
        w = wired(STAGES.replace("C14 .01 mfd: V3.plate to DRIVE", "R14 1K: V3.plate to DRIVE"))
        assert w.grids.is_tied("DRIVE")
        assert w.return_path("DRIVE") is None

    def test_by_a_supply(self, wired):
        w = wired("line none\nV1 12AX7: plate1 B+, grid1 GR, cathode1 K\nR1 1M: GR to B+")
        assert w.grids.is_tied("GR")

    def test_by_a_held_rail(self, wired):
        w = wired(STAGES + "R9 220K: DRIVE to BIAS\nhold BIAS -12 V")
        assert w.grids.is_tied("DRIVE")
        assert refs(w.return_path("DRIVE")) == ["R9"]

    def test_a_return_is_its_own(self, wired):
        assert wired(STAGES).return_path("B-") == ()


def test_a_bypass_to_the_return_is_no_coupling_though_a_grid_stands_on_it(wired):
    w = wired(
        "hold B+ 250 V\nV1 6J5: plate PL, grid B-, cathode B-\nR1 47K: B+ to PL\n"
        "C1 .1 mfd 400 V: PL to B-\nC2 .1 mfd 400 V: PL to NEXT\nR2 470K: NEXT to B-\n"
        "V2 6J5: plate B+, grid NEXT, cathode B-\n"
    )
    assert [c.ref for c in w.couplings] == ["C2"]
