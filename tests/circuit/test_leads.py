"""Where fuse and switch sit in the two leads of the line cord, on hand-drawn small sets."""

from __future__ import annotations

import pytest

HEAD = "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral NEUT\n"
# A rectifier plate and a heater string: where the hot lead divides.
LOAD = "V5 35W4: plate HOT, cathode B1, heater HOT to TAP to COLD\nR9 47K: B1 to COLD\n"


def refs(elements):
    return [e.ref for e in elements]


def test_hot_lead_runs_from_the_plug_to_the_first_branch(wired):
    w = wired(HEAD + "F1 1/2 A: LINE to A1\nS1: ON A1 to HOT\nwire NEUT to COLD\n" + LOAD)
    (lead,) = w.hot_leads
    assert refs(lead.elements) == refs(lead.cuts) == ["F1", "S1"]
    assert lead.end == "HOT"
    assert set(refs(lead.branches)) == {"V5"}
    assert refs(w.neutral_leads[0].cuts) == []


def test_switch_in_the_neutral_lead(wired):
    w = wired(HEAD + "F1 1/2 A: LINE to HOT\nS1: ON NEUT to COLD\n" + LOAD)
    assert w.lead("LINE").refs == ("F1",)
    assert w.lead("NEUT").refs == ("S1",)


def test_a_double_pole_switch_is_in_both_leads(wired):
    w = wired(HEAD + "S1: ON LINE to HOT, ON NEUT to COLD\n" + LOAD)
    assert w.lead("LINE").refs == w.lead("NEUT").refs == ("S1",)
    assert w.lead("LINE").cuts != w.lead("NEUT").cuts


def test_the_leads_of_a_transformer_set_end_at_the_primary(wired):
    # One series circuit: plug, fuse, primary, switch, plug.
    w = wired(HEAD + "F1 1 A: LINE to HOT\nT1 power: primary HOT to COLD, heater H to G\n"
              "S1: ON COLD to NEUT\nDS1 6.3 V .25 A: H to G")  # fmt: skip
    assert w.lead("LINE").refs == ("F1",)
    assert w.lead("NEUT").refs == ("S1",)


def test_a_line_choke_belongs_to_the_lead(wired):
    w = wired(HEAD + "L1 choke, 2 ohm: LINE to A1\nF1 1 A: A1 to HOT\nwire NEUT to COLD\n" + LOAD)
    assert w.lead("LINE").refs == ("L1", "F1")


def test_a_capacitor_ahead_of_the_fuse_is_a_branch(wired):
    w = wired(HEAD + "C1 .05 mfd: LINE to NEUT\nF1 1 A: LINE to HOT\nwire NEUT to COLD\n" + LOAD)
    lead = w.lead("LINE")
    assert refs(lead.elements) == []
    assert set(refs(lead.branches)) == {"C1", "F1"}
    assert refs(lead.cuts) == ["F1"]  # still, all but the capacitor's current passes it
    fuse = w.fuses["F1"]
    assert fuse.poles == ("LINE",)
    assert refs(fuse.branches_ahead) == ["C1"]
    assert refs(fuse.unprotected) == ["C1"]


def test_a_fuse_behind_the_first_branch_leaves_the_other_branch_unprotected(wired):
    # The heater string is tapped off ahead of the fuse.
    w = wired(HEAD + "F1 1 A: LINE to PLATE\nV5 35W4: plate PLATE, cathode B1,"
              " heater LINE to TAP to COLD\nR9 47K: B1 to COLD\nwire NEUT to COLD")  # fmt: skip
    fuse = w.fuses["F1"]
    assert fuse.poles == ()
    assert refs(fuse.unprotected) == ["V5", "V5"]  # both heater sections, not the stream


def test_fuse_behind_the_switch(wired):
    w = wired(HEAD + "S1: ON LINE to A1\nF1 1 A: A1 to HOT\nwire NEUT to COLD\n" + LOAD)
    fuse = w.fuses["F1"]
    assert fuse.poles == ("LINE",)
    assert refs(fuse.ahead) == ["S1"]
    assert fuse.branches_ahead == ()
    assert fuse.unprotected == ()


def test_fuse_in_the_neutral_lead(wired):
    w = wired(HEAD + "F1 1 A: NEUT to COLD\nwire LINE to HOT\n" + LOAD)
    assert w.fuses["F1"].poles == ("NEUT",)
    assert w.lead("LINE").cuts == ()


def test_an_open_neutral_fuse_still_lets_the_hot_lead_feed_the_earth(wired):
    w = wired(
        "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral NEUT, earth EARTH\n"
        "F1 1 A: NEUT to COLD\nwire LINE to HOT\nC1 .01 mfd: COLD to EARTH\n" + LOAD
    )
    assert "C1" in refs(w.fuses["F1"].unprotected)


def test_a_fuse_in_the_high_voltage_lead_is_in_no_lead(wired):
    w = wired(HEAD + "T1 power: primary LINE to NEUT, high HA to CT to HB, heater H to CT\n"
              "F1 1/4 A: CT to CHASSIS\nV1 6X5: plate1 HA, plate2 HB, cathode B1, heater H to CT\n"
              "R1 47K: B1 to CHASSIS")  # fmt: skip
    assert w.fuses["F1"].poles == ()
    assert set(refs(w.fuses["F1"].unprotected)) == {"T1"}


def test_either_lead_may_be_hot_when_the_plug_turns(wired):
    w = wired("line 117 V 60 Hz\nP1 plug, not polarized: 1 LA, 2 LB\nF1 1 A: LA to HOT\n"
              "S1: ON LB to COLD\n" + LOAD)  # fmt: skip
    assert [lead.refs for lead in w.hot_leads] == [("F1",), ("S1",)]
    assert w.fuses["F1"].poles == ("LA",)


def test_parallel_contacts_of_one_switch_are_one_way(wired):
    w = wired(HEAD + "S1: ON LINE to HOT, ON LINE to HOT\nF1 1 A: NEUT to COLD\n" + LOAD)
    assert set(w.lead("LINE").refs) == {"S1"}
    assert len(w.lead("LINE").cuts) == 2
    assert w.lead("LINE").end == "HOT"


def test_what_leaves_between_parallel_contacts_and_a_fuse(wired):
    w = wired(HEAD + "S1: ON LINE to A1, ON LINE to A1\nF1 1 A: A1 to HOT\nC1 .05 mfd: A1 to NEUT\n"
              "wire NEUT to COLD\n" + LOAD)  # fmt: skip
    assert refs(w.fuses["F1"].branches_ahead) == ["C1"]


def test_a_lamp_across_the_fuse_opens_a_way_around_it(wired):
    w = wired(HEAD + "F1 1 A: LINE to HOT\nDS1 neon: LINE to HOT\nwire NEUT to COLD\n" + LOAD)
    assert w.lead("LINE").cuts == ()
    assert {"DS1", "V5"} <= set(refs(w.fuses["F1"].unprotected))


def test_an_unused_tap_is_no_branch(wired):
    w = wired(HEAD + "S1: ON LINE to HOT\nT1 power: primary HOT to TAPPED to NEUT, heater H to G\n"
              "R1 10 ohm: HOT to NOWHERE\nDS1 6.3 V .25 A: H to G")  # fmt: skip
    assert {e.ref for e in w.lead("LINE").branches} == {"T1"}


@pytest.mark.parametrize("net", ["B1", "CHASSIS"])
def test_lead_of_no_pin(wired, net):
    w = wired(HEAD + LOAD)
    with pytest.raises(KeyError):
        w.lead(net)


def test_a_series_circuit_of_resistors_is_parted_at_its_load(wired):
    # Plug, switch, lamp, fuse, plug: the lamp is the load, the fuse protects from neutral only.
    w = wired(HEAD + "S1: ON LINE to A1\nDS1 120 V .5 A: A1 to A2\nF1 1 A: A2 to NEUT")
    assert w.lead("LINE").refs == ("S1",)
    assert w.lead("NEUT").refs == ("F1",)
    assert w.fuses["F1"].poles == ("NEUT",)
    assert refs(w.lead("LINE").branches) == ["DS1"]


def test_a_small_resistor_before_the_load_is_in_the_lead(wired):
    w = wired(HEAD + "R1 10 ohm: LINE to A1\nF1 1 A: A1 to A2\nR2 100 ohm: A2 to NEUT")
    assert w.lead("LINE").refs == ("R1", "F1")
    assert w.lead("NEUT").refs == ()


def test_a_drawing_in_pieces_is_followed_as_far_as_it_goes(wired):
    w = wired(HEAD + "F1 1 A: LINE to A1\nS1: ON A1 to HOT\nV5 35W4: plate HOT, cathode B1")
    assert w.lead("LINE").refs == ("F1", "S1")
    assert w.lead("LINE").end == "HOT"
    assert w.fuses["F1"].poles == ("LINE",)
