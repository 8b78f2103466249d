"""Five kinds of set, whole: transformerless, back bias, portable, car, European live chassis.

Belongs here: that such a set reads without a word of complaint, and what the model then holds.
Does not belong here: mistakes and traps, or what rules say of the sets.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path as File

import pytest

from netcheck.chassis import Chassis
from netcheck.language import read_file
from netcheck.parts import Condition, Description, Part, Path

SETS = File(__file__).parent / "sets"
NAMES = (
    "transformerless",
    "back_bias",
    "three_way_portable",
    "vibrator_car",
    "european_live",
)


def _set(name: str) -> Chassis:
    return read_file(SETS / f"{name}.chassis")


def _part(chassis: Chassis, ref: str) -> Part:
    part = chassis.part(ref)
    assert part is not None, f"{ref} was not read"
    return part


def _wiring(part: Part) -> dict[str, str]:
    """Terminal to node; what is `open` stands as an empty text."""
    return {t.name: "" if t.unused else t.node for t in part.terminals}


def _path(part: Part, name: str) -> tuple[str, ...]:
    return next(path.terminals for path in part.paths if path.name == name)


def _on(chassis: Chassis, node: str) -> set[str]:
    """Who is on a node, as `REF.terminal`."""
    return {f"{ref}.{name}" for ref, name in chassis.nodes[chassis.net(node)].connections}


# --- all five -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_a_whole_set_reads_without_a_finding(name: str) -> None:
    chassis = _set(name)

    assert chassis.findings == ()
    assert chassis.was_read
    assert not [part.ref for part in chassis.parts if part.broken]


@pytest.mark.parametrize("name", NAMES)
def test_the_sets_are_of_the_length_of_real_ones(name: str) -> None:
    lines = (SETS / f"{name}.chassis").read_text(encoding="utf-8").splitlines()

    assert len([line for line in lines if line.strip() and not line.startswith("#")]) >= 40


@pytest.mark.parametrize("name", NAMES)
def test_no_electrode_or_end_hangs_in_the_air(name: str) -> None:
    chassis = _set(name)
    mechanical = {"shaft", "frame"}

    alone = {
        node.name
        for node in chassis.nodes.values()
        if len(node.connections) == 1
        and node.connections[0][1] not in mechanical
        and _part(chassis, node.connections[0][0]).kind not in ("jack",)
    }

    assert alone == set()


@pytest.mark.parametrize("name", NAMES)
def test_read_again_with_other_line_ends_it_is_the_same_set(name: str, tmp_path: File) -> None:
    text = (SETS / f"{name}.chassis").read_text(encoding="utf-8")
    copy = tmp_path / f"{name}.chassis"
    copy.write_bytes(("\ufeff" + text.replace("\n", "\r\n")).encode("utf-8"))

    again = read_file(copy)

    assert again.findings == ()
    assert again.parts == _set(name).parts
    assert again.readings == _set(name).readings


# --- transformerless ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def ac_dc() -> Chassis:
    return _set("transformerless")


def test_ac_dc_line_has_its_own_tolerances(ac_dc: Chassis) -> None:
    assert ac_dc.line is not None
    assert (ac_dc.line.volts, ac_dc.line.hertz) == (117.0, 60.0)
    assert (ac_dc.line.tolerance.above, ac_dc.line.tolerance.below) == (0.05, 0.1)
    assert ac_dc.line.tolerance_given
    assert ac_dc.measure_from == "B-"


def test_ac_dc_travelling_words_and_headings_are_kept(ac_dc: Chassis) -> None:
    assert ac_dc.title == "Pipit ten"
    assert ac_dc.travels == {
        "by": "R. Haverly",
        "source": "invented for the tests",
        "licence": "CC0-1.0",
        "note": "0.3 A string",
    }
    headings = [remark.text for remark in ac_dc.remarks if remark.heading]
    assert headings[0] == "line side"
    assert len(headings) == 4


def test_ac_dc_line_cord_resistor_is_a_path_with_a_value_for_each_section(ac_dc: Chassis) -> None:
    cord = _part(ac_dc, "R1")

    assert cord.description.words == ("cord",)
    assert cord.paths == (Path("", ("a", "tap1", "b")),)
    assert _wiring(cord) == {"a": "LA", "tap1": "CORDTAP", "b": "H5"}
    assert cord.description.values["resistance"].amounts == (20.0, 140.0)
    assert cord.note == "third wire of the cord"


def test_ac_dc_plug_is_unpolarized_and_switch_sits_on_the_control(ac_dc: Chassis) -> None:
    plug, switch = _part(ac_dc, "P1"), _part(ac_dc, "S1")

    assert plug.description.has("not-polarized")
    assert plug.description.has("rubber-cord")
    assert _wiring(plug) == {"1": "LA", "2": "LB"}
    assert switch.on == "R9"
    assert switch.positions == ("ON",)
    assert switch.paths == (Path("ON", ("ON.1", "ON.2"), "ON"),)


def test_ac_dc_can_has_a_body_of_its_own_and_marked_sections(ac_dc: Chassis) -> None:
    body = _part(ac_dc, "C3")
    sections = [_part(ac_dc, ref) for ref in ("C3A", "C3B", "C3C")]

    assert _wiring(body) == {"body": "B-"}
    assert set(body.description.words) == {"can", "uninsulated"}
    assert [s.mark for s in sections] == ["triangle", "plain", "square"]
    assert {s.body_ref for s in sections} == {"C3"}
    assert [s.section for s in sections] == ["A", "B", "C"]
    assert _wiring(sections[2]) == {"+": "KOUT", "-": "B-"}


def test_ac_dc_alternates_unknown_values_and_conditions(ac_dc: Chassis) -> None:
    assert [v.si for v in _part(ac_dc, "C2").description.alternates] == [
        pytest.approx(0.25e-6),
        pytest.approx(0.05e-6),
    ]
    burnt = _part(ac_dc, "R11").description.values["resistance"]
    assert not burnt.known
    assert _part(ac_dc, "R11").note == "colours burnt off"
    assert _part(ac_dc, "R2").condition is Condition.NOT_FITTED
    assert _part(ac_dc, "C16").condition is Condition.REMOVED
    assert _part(ac_dc, "RV1").condition is Condition.NEW
    assert not _part(ac_dc, "C16").fitted


def test_ac_dc_tube_by_pins_equals_a_tube_by_words(ac_dc: Chassis) -> None:
    converter = _part(ac_dc, "V1")

    assert _wiring(converter) == {
        "heater1": "H1", "plate": "T1.plate", "g3": "SCREEN", "g2": "OSCPLATE", "g1": "OSCGRID",
        "cathode": "K1", "heater2": "H2", "g4": "TUNED",
    }  # fmt: skip
    assert _path(converter, "heater") == ("heater1", "heater2")
    assert {t.pin for t in converter.terminals} == {"1", "2", "3", "4", "5", "6", "7", "cap"}


def test_ac_dc_tapped_control_has_a_track_and_a_wiper(ac_dc: Chassis) -> None:
    control = _part(ac_dc, "R9")

    assert _path(control, "") == ("a", "tap1", "b")
    assert _wiring(control)["wiper"] == "VOL"
    assert _wiring(control)["tap1"] == "R9.loud"


def test_ac_dc_heater_string_runs_through_every_tube(ac_dc: Chassis) -> None:
    strung = [_part(ac_dc, ref) for ref in ("V3", "V1", "V2", "V4", "V5")]
    nodes = [{_wiring(tube)[end] for end in _path(tube, "heater")} for tube in strung]

    assert [one & two for one, two in pairwise(nodes)] == [
        {"H1"}, {"H2"}, {"H3"}, {"H4"},
    ]  # fmt: skip
    heater_volts = sum(tube.tube.heater_v or 0 for tube in strung if tube.tube)
    assert heater_volts == pytest.approx(3 * 6.3 + 2 * 25)


def test_ac_dc_acceptances_and_policies(ac_dc: Chassis) -> None:
    everywhere, on_two = ac_dc.acceptances
    assert (everywhere.rule, everywhere.targets) == ("aged-capacitor", ())
    assert (on_two.rule, on_two.targets) == ("touch-current", ("C2", "C6"))
    assert on_two.reason == "no metal knobs"
    assert [(p.rule, p.option) for p in ac_dc.policies] == [
        ("line-capacitor-class", "class"),
        ("touch-current", "limit"),
    ]


def test_ac_dc_coil_words_are_told_from_winding_names(ac_dc: Chassis) -> None:
    aerial = _part(ac_dc, "L1")

    assert set(aerial.description.words) == {"antenna", "coil"}
    assert aerial.description.windings["antenna"].number("resistance") == 30.0
    assert _wiring(aerial)["antenna1"] == "L1.antenna1"
    assert _on(ac_dc, "L1.antenna1") == {"C6.b", "L1.antenna1"}


def test_ac_dc_a_glass_tube_may_have_a_shield_can(ac_dc: Chassis) -> None:
    tube = _part(ac_dc, "V2")

    assert tube.description.words == ("glass",)
    assert _wiring(tube)["shield"] == "B-"


def test_ac_dc_untraced_load_and_speaker_frame(ac_dc: Chassis) -> None:
    assert _part(ac_dc, "Z1").description.number("current") == pytest.approx(2e-3)
    speaker = _part(ac_dc, "LS1")
    assert speaker.description.number("impedance") == 4.0
    assert _wiring(speaker)["frame"] == "CHASSIS"


# --- back bias ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def back_bias() -> Chassis:
    return _set("back_bias")


def test_back_bias_m_is_thousand_on_this_drawing(back_bias: Chassis) -> None:
    assert back_bias.notation_m == 1000
    assert _part(back_bias, "R8").description.number("resistance") == 250e3
    assert _part(back_bias, "R6").description.number("resistance") == 500e3
    assert _part(back_bias, "R7").description.number("resistance") == 1e6


def test_back_bias_field_is_a_tapped_path_on_the_speaker_plug(back_bias: Chassis) -> None:
    field = _part(back_bias, "L5")

    assert field.on == "P2"
    assert field.description.words == ("field",)
    assert _path(field, "") == ("a", "tap1", "b")
    assert field.description.values["resistance"].amounts == (1500.0, 300.0)
    assert _wiring(field) == {"a": "CT", "tap1": "BIAS", "b": "CHASSIS"}
    assert {part.ref for part in back_bias.parts if part.on == "P2"} == {"L5", "T4", "L6", "LS1"}


def test_back_bias_transformer_windings_carry_their_own_values(back_bias: Chassis) -> None:
    power = _part(back_bias, "T1")
    windings = power.description.windings

    assert [path.name for path in power.paths] == ["primary", "high", "filament", "rectifier"]
    assert _path(power, "high") == ("high1", "high2", "high3")
    assert windings["high"].values["voltage"].amounts == (340.0, 0.0, 340.0)
    assert windings["high"].values["resistance"].amounts == (190.0, 200.0)
    assert windings["primary"].number("frequency") == 60.0
    assert windings["filament"].number("current") == 8.0
    assert power.description.number("power") == 25.0


def test_back_bias_directly_heated_rectifier(back_bias: Chassis) -> None:
    rectifier = _part(back_bias, "V7")

    assert rectifier.tube is not None
    assert rectifier.tube.heating == "direct"
    assert _wiring(rectifier) == {
        "plate1": "HT1", "plate2": "HT2", "heater1": "FA", "heater2": "B1",
    }  # fmt: skip
    assert _path(rectifier, "heater") == ("heater1", "heater2")


def test_back_bias_earth_is_the_chassis_only_because_a_wire_says_so(back_bias: Chassis) -> None:
    assert back_bias.net("EARTH") == "CHASSIS"
    assert back_bias.net("HCT") == "CHASSIS"
    assert "P1.earth" in _on(back_bias, "CHASSIS")
    assert back_bias.nodes["CHASSIS"].also == ("EARTH", "HCT")
    assert back_bias.net("CT") == "CT"


def test_back_bias_electrolytics_name_their_ends_and_their_history(back_bias: Chassis) -> None:
    first, second = _part(back_bias, "C20"), _part(back_bias, "C21A")

    assert _wiring(first) == {"+": "B1", "-": "CT"}
    assert first.description.number("voltage") == 475.0
    assert first.description.number("surge") == 525.0
    assert set(first.description.words) == {"wet", "electrolytic"}
    assert second.description.number("surge") == 550.0
    assert second.condition is Condition.NEW
    assert second.replaces is not None
    assert second.replaces.number("voltage") == 475.0
    assert set(second.replaces.words) == {"wet", "electrolytic"}
    assert _part(back_bias, "C21").condition is Condition.RESTUFFED


def test_back_bias_candohm_and_metal_clad(back_bias: Chassis) -> None:
    strip, body = _part(back_bias, "R21"), _part(back_bias, "R4")

    assert strip.description.words == ("metal-clad",)
    assert _path(strip, "") == ("a", "tap1", "tap2", "b")
    assert strip.description.values["resistance"].amounts == (8000.0, 12000.0, 150.0)
    assert _wiring(body) == {"case": "CHASSIS"}
    assert _part(back_bias, "R4B").body_ref == "R4"
    measured = _part(back_bias, "R4B").measured
    assert measured is not None
    assert measured.si == 412.0
    assert _part(back_bias, "R4B").value("resistance") == 412.0


def test_back_bias_centimetres_letter_codes_and_spreads(back_bias: Chassis) -> None:
    assert _part(back_bias, "C1").description.number("capacitance") == pytest.approx(
        5000 * 1.11e-12, rel=0.005
    )
    assert _part(back_bias, "C6").description.number("capacitance") == pytest.approx(2.2e-9)
    assert _part(back_bias, "R9").description.number("resistance") == 4700.0
    gang = _part(back_bias, "C2A").description.values["capacitance"]
    assert gang.spread
    assert gang.amounts == (pytest.approx(10e-12), pytest.approx(420e-12))
    assert _part(back_bias, "F1").description.number("current") == 1.5
    assert _part(back_bias, "F1").description.words == ("slow",)


def test_back_bias_parts_inside_cans_and_a_flipped_winding(back_bias: Chassis) -> None:
    inside = {part.ref: part.inside for part in back_bias.parts if part.inside}

    assert inside == {"C7A": "T2", "C7B": "T2", "R5": "T3"}
    assert _part(back_bias, "L4").reversed_windings == ("tickler",)


def test_back_bias_converter_by_trade_words(back_bias: Chassis) -> None:
    assert _wiring(_part(back_bias, "V2")) == {
        "plate": "T2.plate", "g3": "SCREEN", "g1": "OSCG", "g2": "OSCP", "g4": "MIXG",
        "cathode": "K4", "heater1": "HA", "heater2": "HB",
    }  # fmt: skip


def test_back_bias_a_removed_tube_has_open_electrodes(back_bias: Chassis) -> None:
    gone = _part(back_bias, "V6")

    assert not gone.fitted
    assert _wiring(gone) == {
        "plate": "", "g1": "", "cathode": "", "heater1": "HA", "heater2": "HB",
    }  # fmt: skip


def test_back_bias_settings_holds_and_readings(back_bias: Chassis) -> None:
    assert [(s.switch, s.position) for s in back_bias.settings] == [("S2", "PHONO")]
    assert [(h.node, h.value.si) for h in back_bias.holds] == [("B1", 268.0)]
    capacitance, volts = back_bias.readings
    assert (capacitance.part, capacitance.value.si) == ("C21A", pytest.approx(9.2e-6))
    assert (volts.node, volts.meter_ohm, volts.accuracy) == ("B1", 500e3, 0.03)


def test_back_bias_part_wired_straight_to_a_terminal(back_bias: Chassis) -> None:
    assert _on(back_bias, "V5.g1") == {"R9.b", "V5.g1"}
    assert _on(back_bias, "S2.radio") == {"R5.b", "S2.RADIO.1"}


# --- three-way portable -------------------------------------------------------------------------


@pytest.fixture(scope="module")
def portable() -> Chassis:
    return _set("three_way_portable")


def test_portable_changeover_switch_closes_several_paths_a_position(portable: Chassis) -> None:
    switch = _part(portable, "S1")
    closed = {
        position: [
            tuple(_wiring(switch)[name] for name in path.terminals)
            for path in switch.paths
            if path.position == position
        ]
        for position in switch.positions
    }

    assert closed == {
        "LINE": [("LA", "ACIN"), ("LB", "B-"), ("BDC", "B+"), ("ADC", "STRING")],
        "BATTERY": [("BT1.pos", "B+"), ("AB", "STRING")],
        "OFF": [()],
    }
    assert [(s.switch, s.position) for s in portable.settings] == [("S1", "BATTERY")]


def test_portable_batteries_state_their_ends_and_running_volts(portable: Chassis) -> None:
    high, low = _part(portable, "BT1"), _part(portable, "BT2")

    assert set(high.description.words) == {"B-battery", "dry"}
    assert high.description.number("voltage") == 67.5
    assert low.description.number("running") == 7.0
    assert _wiring(low) == {"+": "AB", "-": "B-"}
    assert _on(portable, "BT1.pos") == {"P2.1", "BT1.+", "S1.BATTERY.1"}


def test_portable_filament_string_runs_from_b_minus_to_the_output_tube(portable: Chassis) -> None:
    string = {ref: _wiring(_part(portable, ref)) for ref in ("V3", "V1", "V2", "V4")}

    assert [string[ref]["heater1"] for ref in string] == ["B-", "FIL1", "FIL2", "FIL3"]
    assert [string[ref]["heater2"] for ref in string] == ["FIL1", "FIL2", "FIL3", "STRING"]
    assert _path(_part(portable, "V4"), "heater") == ("heater1", "tap", "heater2")
    assert string["V4"]["tap"] == "V4MID"


def test_portable_selenium_and_its_unfitted_successor(portable: Chassis) -> None:
    stack, silicon = _part(portable, "CR1"), _part(portable, "D1")

    assert stack.description.words == ("selenium",)
    assert _wiring(stack) == {"anode": "CR1.in", "cathode": "RAW"}
    assert silicon.condition is Condition.NOT_FITTED
    assert silicon.description.number("voltage") == 1000.0
    assert silicon.note == "if the selenium goes"


def test_portable_wire_and_synonyms_make_one_node(portable: Chassis) -> None:
    # BPLUS is a way to write B+, and OSCTAP is FIL1 by a wire.
    assert portable.net("OSCTAP") == portable.net("FIL1")
    assert {"L2.tap1", "V1.heater1", "R7.b"} <= _on(portable, "FIL1")
    assert {"V4.g2", "R8.a", "S1.LINE.6", "T3.primary1"} <= _on(portable, "B+")


def test_portable_touchable_names_a_shaft_that_no_line_connects(portable: Chassis) -> None:
    assert portable.touchable == ("CHASSIS", "R10.shaft")
    assert _wiring(_part(portable, "R10"))["shaft"] == "R10.shaft"


def test_portable_alternate_resistor_and_two_readings(portable: Chassis) -> None:
    shunt = _part(portable, "R5").description

    assert shunt.number("resistance") == 1500.0
    assert [v.si for v in shunt.alternates] == [1600.0]
    volts, ohms = portable.readings
    assert (volts.node, volts.meter_ohm) == ("STRING", 10e6)
    assert (ohms.part, ohms.value.si) == ("R4", 1810.0)


# --- vibrator car set ---------------------------------------------------------------------------


@pytest.fixture(scope="module")
def car() -> Chassis:
    return _set("vibrator_car")


def test_car_has_no_line_but_a_battery_that_runs_high(car: Chassis) -> None:
    assert car.line is not None
    assert car.line.volts is None
    battery = _part(car, "BT1")
    assert battery.description.number("voltage") == 6.3
    assert battery.description.number("running") == 7.2
    assert set(battery.description.words) == {"storage", "A-battery"}


def test_car_vibrator_reed_contacts_and_coil(car: Chassis) -> None:
    vibrator = _part(car, "G1")

    assert vibrator.kind == "vibrator"
    assert _wiring(vibrator) == {
        "reed": "CHASSIS", "contact1": "VA", "contact2": "VB", "coil": "VA",
    }  # fmt: skip
    assert _path(vibrator, "contacts") == ("contact1", "contact2")
    assert vibrator.description.number("frequency") == 115.0


def test_car_transformer_values_of_each_half(car: Chassis) -> None:
    windings = _part(car, "T1").description.windings

    assert windings["high"].number("resistance-each") == 210.0
    assert windings["primary"].number("resistance-each") == 0.05
    assert windings["high"].values["voltage"].amounts == (280.0, 0.0, 280.0)
    assert _wiring(_part(car, "T1"))["high2"] == "CHASSIS"


def test_car_buffer_capacitor_with_alternate(car: Chassis) -> None:
    buffer = _part(car, "C3").description

    assert buffer.number("capacitance") == pytest.approx(7.5e-9)
    assert buffer.number("voltage") == 1600.0
    assert [v.si for v in buffer.alternates] == [pytest.approx(8e-9)]
    assert set(buffer.words) == {"oil", "paper", "buffer"}


def test_car_type_of_the_file_is_a_tube_like_any_other(car: Chassis) -> None:
    (made,) = car.types
    tube = _part(car, "V1")

    assert made.name == "6ZP7"
    assert made.pins["cap"] == ("g1",)
    assert (made.heater_v, made.heater_a) == (6.3, 0.3)
    assert made.limits == {"plate-v": 300.0, "plate-w": 2.75, "screen-v": 125.0}
    assert made.rating_system == "design-centre"
    (point,) = made.points
    assert (point.volts["plate"], point.amperes["plate"]) == (250.0, pytest.approx(7e-3))
    assert (point.volts["g1"], point.gm_s) == (-3.0, pytest.approx(1450e-6))
    assert made.sources == {"all": "made up for this page"}
    assert tube.tube == made
    assert _wiring(tube)["g1"] == "RFG"


def test_car_cold_cathode_rectifier_has_no_heater(car: Chassis) -> None:
    gas = _part(car, "V7")

    assert gas.tube is not None
    assert gas.tube.heating == "none"
    assert gas.paths == ()
    assert _wiring(gas) == {
        "shell": "CHASSIS", "plate1": "HT1", "plate2": "HT2", "cathode": "RAW",
    }  # fmt: skip


def test_car_twin_triode_in_two_sections_of_one_bulb(car: Chassis) -> None:
    one, two = _part(car, "V3A"), _part(car, "V3B")

    assert one.body_ref == two.body_ref == "V3"
    assert (one.tube_name, two.tube_name) == ("6SN7GT", "6SN7GT")
    assert {t.pin for t in two.terminals} == {"1", "2", "3"}
    assert _on(car, "KINV") == {"V3A.cathode1", "V3B.cathode2", "R10.a"}
    assert _on(car, "V3B.plate2") == {"V3B.plate2", "R12.b", "C14.a"}


def test_car_slug_tuned_coil_meter_and_open_core(car: Chassis) -> None:
    tuned = _part(car, "L3").description.values["inductance"]

    assert tuned.spread
    assert tuned.amounts == (pytest.approx(80e-6), pytest.approx(300e-6))
    assert _part(car, "M1").description.number("current") == pytest.approx(1e-3)
    assert _wiring(_part(car, "T2"))["core"] == ""
    assert _wiring(_part(car, "R9"))["shaft"] == "CHASSIS"
    assert _wiring(_part(car, "J1")) == {"tip": "ANT", "sleeve": "CHASSIS"}


def test_car_push_pull_output_is_one_tapped_winding(car: Chassis) -> None:
    output = _part(car, "T3")

    assert set(output.description.words) == {"output", "push-pull"}
    assert _path(output, "primary") == ("primary1", "primary2", "primary3")
    assert _wiring(output)["primary2"] == "B+"
    assert output.description.number("impedance") == 10e3
    assert output.description.number("to-impedance") == 4.0


# --- European live chassis ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def live() -> Chassis:
    return _set("european_live")


def test_live_line_of_fifty_hertz_with_uneven_tolerance(live: Chassis) -> None:
    assert live.line is not None
    assert (live.line.volts, live.line.hertz) == (230.0, 50.0)
    assert live.line.tolerance.above == pytest.approx(0.10)
    assert live.line.tolerance.below == pytest.approx(0.06)


def test_live_chassis_is_b_minus_by_a_wire(live: Chassis) -> None:
    assert live.net("B-") == "CHASSIS"
    assert live.net("H1") == "CHASSIS"
    assert live.measure_from == "B-"
    assert {"S1.ON.4", "C1.b", "V1.heater1", "C3.body"} <= _on(live, "CHASSIS")


def test_live_mains_selector_has_numbered_positions(live: Chassis) -> None:
    selector = _part(live, "S2")

    assert selector.description.words == ("voltage-selector",)
    assert selector.positions == ("127", "150", "220", "240")
    assert selector.paths[2] == Path("220", ("220.1", "220.2"), "220")
    assert [(s.switch, s.position) for s in live.settings] == [("S2", "220"), ("S3", "MW")]


def test_live_dropper_follows_the_selector(live: Chassis) -> None:
    dropper = _part(live, "R1")

    assert dropper.description.words == ("dropper",)
    assert [_wiring(dropper)[name] for name in _path(dropper, "")] == [
        "TAP240", "TAP220", "TAP150", "TAP127",
    ]  # fmt: skip
    assert dropper.description.values["resistance"].amounts == (200.0, 700.0, 230.0)


def test_live_thermistor_is_cold_and_hot(live: Chassis) -> None:
    thermistor = _part(live, "RT1")

    assert thermistor.kind == "thermistor"
    assert thermistor.description.number("resistance") == 1500.0
    assert thermistor.description.number("hot") == 45.0
    assert thermistor.description.number("current") == pytest.approx(0.1)


def test_live_double_pole_switch_has_two_paths_in_one_position(live: Chassis) -> None:
    switch = _part(live, "S1")

    assert switch.positions == ("ON",)
    assert [path.terminals for path in switch.paths] == [("ON.1", "ON.2"), ("ON.3", "ON.4")]
    assert switch.on == "R14"


def test_live_band_switch_wafers(live: Chassis) -> None:
    body, first, second = (_part(live, ref) for ref in ("S3", "S3A", "S3B"))

    assert body.positions == ("LW", "MW", "SW")
    assert first.positions == second.positions == ("LW", "MW", "SW", "TA")
    assert first.paths[3].terminals == ()
    assert [_wiring(second)[name] for name in second.paths[0].terminals] == ["OLW", "OSC", "OSC2"]
    assert first.body_ref == second.body_ref == "S3"


def test_live_isolating_capacitors_carry_their_classes(live: Chassis) -> None:
    aerial, earth, gram = (_part(live, ref).description for ref in ("C4", "C5", "C6"))

    def classes(described: Description) -> list[tuple[str, float | None]]:
        return [(name, v.si if v else None) for name, v in described.classes]

    assert classes(aerial) == [("Y1", 400.0)]
    assert classes(earth) == [("X1", 300.0), ("Y2", 300.0)]
    assert classes(gram) == [("Y2", 250.0)]
    assert gram.number("voltage-ac") == 250.0
    old = _part(live, "C5").replaces
    assert old is not None
    assert old.number("capacitance") == pytest.approx(5.55e-9, rel=0.005)
    assert old.number("voltage") == 1500.0


def test_live_words_of_the_other_side_of_the_ocean(live: Chassis) -> None:
    rectifier, output = _part(live, "V4"), _part(live, "V3")

    assert set(_wiring(rectifier)) == {"plate", "cathode", "heater1", "heater2"}
    assert _wiring(output)["triode-plate"] == "TA1"
    assert _wiring(output)["g2"] == "B2"
    assert set(_part(live, "J1").description.words) == {"antenna", "socket"}
    assert _part(live, "J3").description.words == ("phono",)
    assert _part(live, "F1").description.words == ("slow",)


def test_live_typographic_signs_are_read_and_notes_kept(live: Chassis) -> None:
    assert live.travels["by"] == "K. Örtel"
    assert _part(live, "C3A").description.number("capacitance") == pytest.approx(50e-6)
    assert _part(live, "C3B").description.number("capacitance") == pytest.approx(50e-6)
    assert _part(live, "R2").description.number("resistance") == 390.0
    assert _part(live, "R8").description.number("resistance") == 1e6
    assert _part(live, "R10").description.number("power") == 0.5
    assert _part(live, "C15").note == "black"


def test_live_touchable_and_acceptances_name_nodes_and_parts(live: Chassis) -> None:
    assert live.touchable == ("ANT", "EARTHSOCKET", "GRAM", "GRAMLOW", "LSA")
    assert [(a.rule, a.targets) for a in live.acceptances] == [
        ("live-chassis", ("CHASSIS",)),
        ("unfused-hot-lead", ("P1", "F1", "S1")),
    ]


def test_live_leakage_reading_in_microamperes(live: Chassis) -> None:
    (reading,) = live.readings

    assert reading.leakage
    assert reading.part == "C15"
    assert reading.value.si == pytest.approx(12e-6)
    assert reading.at_v is not None
    assert reading.at_v.si == 200.0
