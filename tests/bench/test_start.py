"""Starting texts: common line-ups come out whole, any mix reads, and nothing assumed is hidden."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from netcheck import lint, read
from netcheck.bench.start import NoLineUp, starting_text
from netcheck.catalog.tubes import all_tubes
from netcheck.circuit import Circuit
from netcheck.circuit.operating import Point
from netcheck.cli import app
from netcheck.findings import Harm
from netcheck.rules._base import Case
from netcheck.rules._operating import streams

TRANSFORMERLESS = "12BE6 12BA6 12AV6 50C5 35W4"
BACK_BIAS = "6A8 6K7 6Q7 6F6 80"
AMPLIFIER = "12AX7 6V6 5Y3GT"
BATTERY = "1R5 1T4 1S5 3S4"
U_SERIES = "UCH81 UF89 UBC81 UL84 UY85"
COMMON = (TRANSFORMERLESS, BACK_BIAS, AMPLIFIER, BATTERY, U_SERIES,
          "12SA7 12SK7 12SQ7 50L6GT 35Z5GT", "6BE6 6BA6 6AT6 6AQ5 6X4")  # fmt: skip

# What such a text is expected to be told: old paper, an old line side.
EXPECTED = {
    "aged-capacitor", "coupling-leakage", "plug-not-polarized", "unfused-hot-lead",
    "line-capacitor-class", "live-chassis", "switch-in-neutral", "touch-current",
    "antenna-isolation", "live-shell", "stored-charge",
}  # fmt: skip


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments))


def solved(names: str) -> tuple[Circuit, Point]:
    circuit = Circuit(read(starting_text(names)))
    return circuit, circuit.operating.point()


@pytest.mark.parametrize("names", COMMON)
def test_common_line_ups_read_and_solve(names: str) -> None:
    chassis = read(starting_text(names))
    assert chassis.findings == ()
    assert Circuit(chassis).solved
    assert [p.tube_name for p in chassis.of_kind("tube")].sort() == names.split().sort()
    assert len(list(chassis.of_kind("tube"))) == len(names.split())


@pytest.mark.parametrize("names", COMMON)
def test_common_line_ups_have_nothing_astray_in_the_circuit(names: str) -> None:
    report = lint(read(starting_text(names)))
    astray = [f for f in report.findings if f.harm.at_least(Harm.DAMAGE)]
    assert {f.rule for f in astray} <= EXPECTED, [f.message for f in astray]


@pytest.mark.parametrize("names", COMMON)
def test_plates_and_biases_are_near_what_is_published(names: str) -> None:
    """Within the tubes' maxima, and the output tube's current within a half of its point."""
    circuit, point = solved(names)
    from netcheck.plugins import installed_rules

    case = Case(installed_rules()[0], circuit.chassis, circuit, {})
    looked = 0
    for stream in streams(case, point):
        most = stream.part.tube.limits.get("plate-v") if stream.part.tube else None
        if most is not None:
            assert stream.plate_v <= 1.1 * most
            looked += 1
    assert looked >= 2


WITHOUT_A_DIODE = (
    "24A 35/51 27 47 80", "58 58 57 47 80", "6D6 6C6 43 25Z5",
    "6K7 6J7 6F6 5Y3GT", "6A7 78 77 41 84", "6SK7 6SA7 6SK7 6V6GT 5Y3GT",
)  # fmt: skip
WITH_A_DIODE = (
    "6K7 6A7 6K7 75 42 80", "6A7 6D6 75 76 6V6GT 6V6GT 5Y3GT", "6SK7 6SA7 6SK7 6SQ7 6V6GT 0Z4",
    "12BA6 12BE6 12BA6 12AV6 35C5 35W4", "6A8 6K7 6H6 6F5 6F6 80 6E5", "ECH81 EBF80 ECL82 EZ80",
    "6BA6 6BE6 6BA6 6AL5 12AX7 6BQ5 6BQ5 5Y3GT", "6SN7GT 6SN7GT 6L6G 6L6G 5U4G",
    "24A 24A 27 45 45 80", "27 27 71A 80", "1R5 1T4 1S5 3S4",
)  # fmt: skip


@pytest.mark.parametrize("names", WITHOUT_A_DIODE + WITH_A_DIODE)
def test_every_wire_of_the_text_leads_on(names: str) -> None:
    chassis = read(starting_text(names))
    assert chassis.findings == ()
    told = {f.rule for f in lint(chassis).findings}
    astray = {"loose-end", "grid-return", "avc-return", "cathode-return", "plate-supply"}
    assert told & astray == set()
    assert Circuit(chassis).solved


@pytest.mark.parametrize("names", WITHOUT_A_DIODE)
def test_without_a_diode_the_next_tube_detects(names: str) -> None:
    text = starting_text(names)
    assert "detects at its grid" in text
    assert "AVC" not in text


def test_the_transformerless_five_is_inside_the_trades_chart() -> None:
    """A five-tube set at 117 V (trade experience; the marks of a five-tube chart)."""
    _, point = solved(TRANSFORMERLESS)
    limits = {"B1": (115, 132), "B2": (85, 112), "KOUT": (5.0, 8.0), "V3.plate": (25, 65),
              "AVC": (-0.9, -0.3), "OSCGRID": (-12, -4)}  # fmt: skip
    for net, (low, high) in limits.items():
        volts = point.volts(net)
        assert volts is not None
        assert low <= volts <= high, (net, volts)


def test_back_bias_gives_the_published_bias() -> None:
    """6F6: -16.5 V at 250 V (RCA Receiving Tube Manual, from memory)."""
    _, point = solved(BACK_BIAS)
    volts = point.volts("BACK")
    assert volts is not None
    assert volts == pytest.approx(-16.5, abs=3)


def test_what_is_assumed_says_so() -> None:
    chassis = read(starting_text(BACK_BIAS))
    unmarked = [p.ref for p in chassis.parts if p.kind != "tube" and p.note != "assumed"]
    assert unmarked == []


def test_a_string_that_is_shorter_than_the_line_gets_a_dropper() -> None:
    chassis = read(starting_text("25Z6 25L6 6SA7 6SK7 6SQ7"))
    dropper = next(p for p in chassis.of_kind("resistor") if p.description.has("dropper"))
    # (117 - 2 x 25 - 3 x 6.3) V / 0.3 A = 160 ohm; nearest of E12 150.
    assert dropper.value("resistance") == pytest.approx(150)


PUSH_PULL = ("6SN7GT 6V6GT 6V6GT 5Y3GT", "12AX7 12AX7 EL84 EL84 EZ81", "6SJ7 6SN7GT 6L6 6L6 5U4G")


@pytest.mark.parametrize("names", PUSH_PULL)
def test_two_outputs_behind_a_twin_triode_are_in_push_pull(names: str) -> None:
    circuit, point = solved(names)
    outputs = [
        p for p in circuit.chassis.of_kind("tube") if p.tube_name in ("6V6GT", "EL84", "6L6")
    ]
    assert len({p.terminal("g1").node for p in outputs}) == 2
    (iron,) = [p for p in circuit.chassis.of_kind("transformer") if p.description.has("output")]
    plates = {p.terminal("plate").node for p in outputs}
    assert plates | {"B2"} <= set(iron.nodes)
    splitter = max(
        (p for p in circuit.chassis.of_kind("tube") if p.tube and p.tube.kind == "twin triode"),
        key=lambda p: p.ref,
    ).ref
    # Equal resistors carry the same current: what the plate lacks, the low end of the cathode has.
    low, plate, rail = (
        point.volts(f"{splitter}LOW"),
        point.volts(f"{splitter}.plate2"),
        point.volts("B2"),
    )
    assert low is not None
    assert plate is not None
    assert rail is not None
    assert low == pytest.approx(rail - plate, rel=0.02)


def test_two_outputs_without_a_splitter_say_what_is_not_known() -> None:
    text = starting_text("6SQ7 6V6GT 6V6GT 5Y3GT")
    assert "laid beside each other" in text
    assert text.count("output, ") == 1  # one transformer, not one for each


def test_a_twelve_volt_heater_is_lit_by_halves_beside_six_volt_tubes() -> None:
    for names in ("12AX7 EL84 EZ81", "12AX7 6AU6"):
        text = starting_text(names)
        assert "heater HTR to CHASSIS to HTR" in text
        assert "6.3 V" in text
        assert "12.6 V" not in text


def test_a_heater_of_other_volts_is_not_put_on_the_common_winding() -> None:
    assert "V1 takes 2.5 V: give its heater a supply of its own" in " ".join(
        starting_text("2A3 6SN7GT 6SJ7 5Y3GT").replace("\n# ", " ").split()
    )


def test_a_tube_without_a_heater_gets_none() -> None:
    line = starting_text("6SQ7 6V6GT 0Z4").partition(" 0Z4:")[2].partition("\nC1 ")[0]
    assert "heater" not in line


def test_the_dropper_does_not_stand_in_the_tap_of_the_dial_lamp() -> None:
    text = starting_text("12AX7 50C5 35W4")
    assert "heater SWITCHED to PILOT to STRING" in text  # the lamp sees its tap and nothing else


def test_a_dropper_is_rated_twice_its_heat() -> None:
    chassis = read(starting_text(U_SERIES))
    dropper = next(p for p in chassis.of_kind("resistor") if p.description.has("dropper"))
    ohm, watts = dropper.value("resistance"), dropper.description.number("power")
    assert ohm is not None
    assert watts is not None
    assert watts >= 1.999 * 0.1**2 * ohm  # heaters of 100 mA


def test_a_filament_output_tube_has_its_bias() -> None:
    """45: -50 V at 250 V (RCA Receiving Tube Manual, from memory)."""
    _, point = solved("27 24A 24A 45 80")
    volts = point.volts("BACK")
    assert volts is not None
    assert -60 < volts < -30


def test_no_pickup_is_started_on_the_line() -> None:
    report = lint(read(starting_text("12AX7 50C5 35W4")))
    jack = [f for f in report.findings if "J1" in f.parts and "joined to the line" in f.message]
    assert jack == []


def test_a_small_sharp_pentode_is_no_output_tube() -> None:
    assert "output, " not in starting_text("6AU6 6AL5 12AU7")


@pytest.mark.parametrize("seed", range(40))
def test_any_mix_of_types_reads_without_a_mistake(seed: int) -> None:
    chance = random.Random(seed)
    names = [name.split("/")[0] for name in all_tubes()]
    chosen = " ".join(chance.sample(names, chance.randint(1, 9)))
    text = starting_text(chosen)
    chassis = read(text)
    assert [f.message for f in chassis.findings] == [], chosen
    assert len(list(chassis.of_kind("tube"))) == len(chosen.split())
    assert max(len(line) for line in text.split("\n")) <= 80


def test_every_type_of_the_catalogue_can_start_a_text() -> None:
    for name in all_tubes():
        chassis = read(starting_text(name.split("/")[0]))
        assert [f.message for f in chassis.findings] == [], name


def test_a_type_that_is_not_known_gets_the_nearest() -> None:
    with pytest.raises(NoLineUp, match="did you mean 12BE6"):
        starting_text("12BE66")
    with pytest.raises(NoLineUp, match="name the tubes"):
        starting_text("  ")


def test_the_command(tmp_path: Path) -> None:
    target = tmp_path / "new.chassis"
    assert run("start", TRANSFORMERLESS, "-o", str(target)).exit_code == 0
    assert run("lint", str(target)).exit_code == 1
    assert run("start", "12BE6", "12BA6").stdout.count("V1 ") >= 1
    again = run("start", TRANSFORMERLESS, "-o", str(target))
    assert again.exit_code == 2
    assert run("start", "12BE66").exit_code == 2
