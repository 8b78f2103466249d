"""Invents plausible sets as text, so that the solver is tried on what nobody tuned it for.

Belongs here: the stages of a set with values as a parts list has them, joined by chance. Does not
belong here: judging what a solver makes of them. The same seed gives the same text; the sets are
invented, no maker built any of them.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from netcheck.chassis import Chassis, Wire

__all__ = ["FEWEST", "MOST", "a_set", "parts_in", "with_wires"]

FEWEST, MOST = 20, 400

_MINIATURE = {
    "converter": ("6BE6",), "if": ("6BA6", "6AU6"), "audio": ("6AV6", "6AT6"),
    "twin": ("12AX7", "12AU7"), "pentode": ("6AU6",), "output": ("6AQ5",),
}  # fmt: skip
_OCTAL = {
    "converter": ("6SA7", "6A8"), "if": ("6SK7", "6K7"), "audio": ("6SQ7", "6Q7"),
    "twin": ("6SN7GT", "6SL7GT"), "pentode": ("6SJ7", "6J7"), "output": ("6V6GT", "6F6", "6K6GT"),
}  # fmt: skip
_STRING = {
    "converter": ("12BE6",), "if": ("12BA6",), "audio": ("12AV6", "12AT6"), "output": ("50C5",),
}  # fmt: skip
_CATHODE_OHM = {"6AQ5": 270, "6V6GT": 270, "6F6": 430, "6K6GT": 560, "50C5": 140}


@dataclass
class _Build:
    """A set as it grows: its lines, how many parts, and the nodes that stages join."""

    chance: random.Random
    tubes: dict[str, tuple[str, ...]]
    common: str
    lines: list[str] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    rail: str = "B1"
    screen: str = ""
    avc: str = ""
    drive: str = ""  # the node behind the last coupling capacitor: an open grid until a stage
    string: list[str] = field(default_factory=list)  # heater nodes of a series string

    @property
    def parts(self) -> int:
        return sum(self.counts.values())

    def ref(self, letters: str) -> str:
        self.counts[letters] = self.counts.get(letters, 0) + 1
        return f"{letters}{self.counts[letters]}"

    def add(self, letters: str, description: str, terminals: str) -> str:
        ref = self.ref(letters)
        self.lines.append(f"{ref} {description}: {terminals}")
        return ref

    def ohms(self, *choices: str) -> str:
        """One of these values, now and then drifted from it."""
        value = self.chance.choice(choices)
        if self.chance.random() < 0.1:
            number = float(value.rstrip("KM")) * self.chance.uniform(0.85, 1.5)
            letter = value[-1] if value[-1] in "KM" else " ohm"
            return f"{_written(value)} 1/2 W, measured {number:.4g}{letter}"
        return f"{_written(value)} 1/2 W"

    def resistor(self, a: str, b: str, *choices: str) -> None:
        self.add("R", self.ohms(*choices), f"{a} to {b}")

    def capacitor(self, a: str, b: str, *choices: str) -> None:
        self.add("C", f"{self.chance.choice(choices)} mfd 630 V film", f"{a} to {b}")

    def heater(self, ref: str) -> str:
        if not self.string:
            return f"heater HTR to {self.common}"
        here = self.string[-1]
        self.string.append(f"H{ref}")
        return f"heater {here} to {self.string[-1]}"


def _written(value: str) -> str:
    return value if value[-1] in "KM" else f"{value} ohm"


# --- supplies


def _half_wave(b: _Build) -> None:
    b.lines += ["line 117 V 60 Hz", "measure from B-"]
    b.add("P", "plug, polarized", "hot LINE, neutral B-")
    b.add("F", "1/2 A 250 V slow", "LINE to SWITCHED")
    b.add("V", "35W4", "plate PILOT, cathode B1, heater SWITCHED to PILOT to HSTRING")
    b.add("DS", "lamp 47", "SWITCHED to PILOT")
    b.string = ["HSTRING"]
    b.add("C", "40 mfd 150 V electrolytic", "+ B1, - B-")
    b.add("R", "470K 1/2 W", "B- to CHASSIS")


def _full_wave(b: _Build) -> None:
    """A transformer; every third set has its bias in the negative lead, with a tap."""
    chance = b.chance
    ohm = chance.choice((60, 110, 180))
    volts = chance.choice((225, 285, 325))
    filament, ends = chance.choice((("80", "filament"), ("5Y3GT", "filament"), ("6X4", "cathode")))
    tap = "CT" if chance.random() < 1 / 3 else b.common
    b.lines += ["line 120 V 60 Hz", "measure from CHASSIS"]
    b.add("P", "plug, not polarized", "1 LINEA, 2 LINEB")
    heaters = "heater HTR to CHASSIS"
    words = "heater 6.3 V 9 A"
    if ends == "filament":
        words, heaters = f"{words}, rectifier 5 V 2 A", f"{heaters}, rectifier B1 to FIL2"
    b.add(
        "T", f"power, primary 5 ohm, high {volts}-0-{volts} V 120 mA {ohm} ohm each, {words}",
        f"primary LINEA to LINEB, high HTA to {tap} to HTB, {heaters}",
    )  # fmt: skip
    cathode = "filament B1 to FIL2" if ends == "filament" else "cathode B1, heater HTR to CHASSIS"
    b.add("V", filament, f"plate1 HTA, plate2 HTB, {cathode}")
    b.add("C", f"{chance.choice((8, 16, 30))} mfd 450 V electrolytic", f"+ B1, - {tap}")
    if tap == "CT":
        b.add("R", "metal clad, 40-180 ohm 5 W", "CHASSIS to BIASTAP to CT")


def _silicon(b: _Build) -> None:
    b.lines += ["line 230 V 50 Hz", "measure from CHASSIS"]
    b.add("P", "plug, not polarized", "1 LINEA, 2 LINEB")
    b.add(
        "T", "power, primary 20 ohm, high 250 V 150 mA 80 ohm, heater 6.3 V 9 A",
        "primary LINEA to LINEB, high HT to CHASSIS, heater HTR to CHASSIS",
    )  # fmt: skip
    b.add("R", f"{b.chance.choice((47, 100))} ohm 5 W", "HT to SURGE")
    b.add("D", "silicon 1000 V 1 A", "anode SURGE, cathode B1")
    b.add("C", "47 mfd 450 V electrolytic", "+ B1, - CHASSIS")


def _held(b: _Build) -> None:
    """An amplifier of which only the rail was measured."""
    b.lines += ["line none", "measure from CHASSIS", "hold B1 262 V"]
    b.add("C", "16 mfd 450 V electrolytic", "+ B1, - CHASSIS")
    b.add("BT", "6.3 V storage A-battery", "+ HTR, - CHASSIS")


# --- stages


def _next_rail(b: _Build) -> None:
    """A further section of the filter: a resistor, a choke or a field coil."""
    old, b.rail = b.rail, f"B{int(b.rail[1:]) + 1}"
    if int(b.rail[1:]) == 2 and b.chance.random() < 0.4:
        b.add("L", "choke, 8 H 350 ohm", f"{old} to {b.rail}")
    else:
        choices = ("1K", "1.5K") if int(b.rail[1:]) == 2 else ("4.7K", "10K")
        b.add("R", f"{b.chance.choice(choices)} 2 W", f"{old} to {b.rail}")
    b.add("C", "20 mfd 450 V electrolytic", f"+ {b.rail}, - {b.common}")


def _screen_supply(b: _Build) -> str:
    if not b.screen:
        if b.string:  # a transformerless set feeds its screens from the rail
            b.screen = b.rail
            return b.screen
        b.screen = f"SCREEN{b.parts}"
        b.add("R", f"{b.chance.choice(('15K', '22K'))} 2 W", f"{b.rail} to {b.screen}")
        b.add("R", f"{b.chance.choice(('22K', '33K'))} 2 W", f"{b.screen} to {b.common}")
        b.capacitor(b.screen, b.common, "0.1", "0.05")
    return b.screen


def _converter(b: _Build) -> None:
    tube = b.chance.choice(b.tubes["converter"])
    n, c = b.ref("V"), b.common
    b.avc = b.avc or "AVC"
    plate = f"{n}.plate"
    screen = _screen_supply(b)
    oscillator = f"oscillator OSCGRID{n}"
    if tube == "6A8":
        b.add("L", "oscillator coil, grid 3 ohm, tickler 2 ohm",
              f"grid OSC{n} to {c}, tickler {n}.g2 to OSCFEED{n}")  # fmt: skip
        b.add("R", "20K 1 W", f"{b.rail} to OSCFEED{n}")
        cathode, signal, leak = c, "g4", ("47K", "50K")
    else:
        b.add("L", "oscillator coil, 1-4 ohm", f"{c} to K{n} to OSC{n}")
        cathode, signal, leak = f"K{n}", "signal", ("20K", "22K")
    b.capacitor(f"OSC{n}", f"OSCGRID{n}", "0.00005")
    b.resistor(f"OSCGRID{n}", c, *leak)
    b.add("L", "antenna coil, primary 20 ohm, secondary 4 ohm",
          f"primary ANT{n} to {c}, secondary RF{n} to {b.avc}")  # fmt: skip
    b.add("T", "IF, 455 kc, primary 14 ohm, secondary 14 ohm",
          f"primary {plate} to {b.rail}, secondary IF{n} to {b.avc}")  # fmt: skip
    b.lines.append(
        f"{n} {tube}: plate {plate}, screen {screen}, {oscillator}, {signal} RF{n}, "
        f"cathode {cathode}, {b.heater(n)}"
    )
    b.drive = f"IF{n}"


def _if_stage(b: _Build) -> None:
    tube = b.chance.choice(b.tubes["if"])
    n, c = b.ref("V"), b.common
    b.avc = b.avc or "AVC"
    grid = b.drive if b.drive.startswith("IF") else f"IFIN{n}"
    if grid == f"IFIN{n}":
        b.resistor(grid, b.avc, "100K", "1M")
    b.resistor(f"K{n}", c, "68", "100", "330")
    b.capacitor(f"K{n}", c, "0.05", "0.1")
    b.add("T", "IF, 455 kc, primary 14 ohm, secondary 14 ohm",
          f"primary {n}.plate to {b.rail}, secondary IF{n} to IFLOW{n}")  # fmt: skip
    b.resistor(f"IFLOW{n}", c, "47K", "100K")
    b.resistor(f"IFLOW{n}", b.avc, "1M", "2.2M")
    b.lines.append(
        f"{n} {tube}: plate {n}.plate, screen {_screen_supply(b)}, suppressor {c}, grid {grid}, "
        f"cathode K{n}, {b.heater(n)}"
    )
    b.drive = f"IF{n}"


def _detector(b: _Build) -> None:
    """A duo-diode triode: detector, AVC, first audio stage on a grid leak of some megohms."""
    tube = b.chance.choice(b.tubes["audio"])
    n, c = b.ref("V"), b.common
    diode = b.drive if b.drive.startswith("IF") else f"DIODE{n}"
    b.add("R", "control, 500K audio taper", f"DET{n} to VOL{n} to {c}")
    b.resistor(diode, f"DET{n}", "47K", "100K")
    b.capacitor(f"VOL{n}", f"GRID{n}", "0.005", "0.01")
    b.resistor(f"GRID{n}", c, "4.7M", "10M")
    b.resistor(b.rail, f"{n}.plate", "220K", "270K", "470K")
    if b.avc:
        b.resistor(f"DET{n}", b.avc, "2.2M", "3.3M")
        b.capacitor(b.avc, c, "0.05", "0.1")
    _couple(b, f"{n}.plate")
    b.lines.append(
        f"{n} {tube}: plate {n}.plate, grid GRID{n}, cathode {c}, diode1 {diode}, diode2 open, "
        f"{b.heater(n)}"
    )


def _couple(b: _Build, plate: str) -> None:
    b.drive = f"DRIVE{b.parts}"
    b.capacitor(plate, b.drive, "0.01", "0.02", "0.05")


def _grid_of_audio(b: _Build, n: str) -> str:
    grid = b.drive if b.drive.startswith("DRIVE") else f"IN{n}"
    b.resistor(grid, b.common, "220K", "470K", "1M")
    return grid


def _twin(b: _Build) -> None:
    """Two halves: a stage with a cathode resistor, then one coupled or direct to a cathodyne."""
    tube = b.chance.choice(b.tubes["twin"])
    n, c = b.ref("V"), b.common
    b.counts["V"] += 1  # the other half is a part of its own
    other = f"V{b.counts['V']}"
    first, second = f"P{n}A", f"P{other}B"
    high = tube in ("12AX7", "6SL7GT")
    grid = _grid_of_audio(b, n)
    b.resistor(b.rail, first, *(("100K", "220K") if high else ("47K", "68K")))
    b.resistor(f"K{n}A", c, *(("1.5K", "2.7K") if high else ("1K", "2.2K")))
    if b.chance.random() < 0.5:  # direct coupled: the second grid sits on the first plate
        b.resistor(b.rail, second, "47K", "56K")
        b.resistor(f"K{n}B", c, "47K", "56K")
        second_grid = first
    else:
        b.capacitor(first, f"G{n}B", "0.02")
        b.resistor(f"G{n}B", c, "470K", "1M")
        b.resistor(b.rail, second, "100K", "220K")
        b.resistor(f"K{n}B", c, "1.5K", "3.3K")
        second_grid = f"G{n}B"
    _couple(b, second)
    b.lines += [
        f"{n}A {tube}: plate {first}, grid {grid}, cathode K{n}A, {b.heater(n)}",
        f"{n}B {tube}: plate {second}, grid {second_grid}, cathode K{n}B",
    ]


def _audio_pentode(b: _Build) -> None:
    tube = b.chance.choice(b.tubes["pentode"])
    n, c = b.ref("V"), b.common
    grid = _grid_of_audio(b, n)
    b.resistor(b.rail, f"{n}.plate", "100K", "220K", "270K")
    b.resistor(b.rail, f"S{n}", "470K", "1M", "1.2M")
    b.capacitor(f"S{n}", c, "0.1")
    b.resistor(f"K{n}", c, "1K", "1.5K", "2.2K")
    _couple(b, f"{n}.plate")
    b.lines.append(
        f"{n} {tube}: plate {n}.plate, screen S{n}, suppressor K{n}, grid {grid}, "
        f"cathode K{n}, {b.heater(n)}"
    )


def _output(b: _Build) -> None:
    tube = b.chance.choice(b.tubes["output"])
    n, c = b.ref("V"), b.common
    grid = b.drive if b.drive.startswith("DRIVE") else f"IN{n}"
    fixed = any("BIASTAP" in line for line in b.lines)
    b.resistor(grid, "CT" if fixed else c, "220K", "470K")
    b.add("T", f"output, 5000 ohm to 4 ohm, primary {b.chance.choice((180, 350))} ohm, "
          "secondary .4 ohm", f"primary B1 to {n}.plate, secondary VC{n} to VCR{n}")  # fmt: skip
    b.add("LS", "3.2 ohm permanent magnet", f"VC{n} to VCR{n}")
    b.capacitor(f"{n}.plate", c, "0.005", "0.01")
    cathode = c
    if not fixed:
        cathode = f"K{n}"
        ohm = str(_CATHODE_OHM[tube])
        b.resistor(cathode, c, ohm)
    screen = b.rail if b.rail != "B1" else "B1"
    b.lines.append(
        f"{n} {tube}: plate {n}.plate, screen {screen}, grid {grid}, cathode {cathode}, "
        f"{b.heater(n)}"
    )
    b.drive = ""


def _bleeder(b: _Build) -> None:
    b.add("R", f"{b.chance.choice(('47K', '68K', '100K'))} 2 W", f"{b.rail} to {b.common}")


_SUPPLIES: tuple[tuple[Callable[[_Build], None], dict[str, tuple[str, ...]], str], ...] = (
    (_half_wave, _STRING, "B-"),
    (_full_wave, _OCTAL, "CHASSIS"),
    (_full_wave, _MINIATURE, "CHASSIS"),
    (_silicon, _MINIATURE, "CHASSIS"),
    (_held, _OCTAL, "CHASSIS"),
)
_MORE = (_twin, _audio_pentode, _detector, _if_stage, _twin, _bleeder)


def a_set(seed: int, parts: int | None = None) -> str:
    """The text of an invented set of about so many parts; by chance between 20 and 400."""
    chance = random.Random(seed)
    wanted = parts or round(FEWEST * (MOST / FEWEST) ** chance.random())
    supply, tubes, common = chance.choice(_SUPPLIES[1:] if wanted > 60 else _SUPPLIES)
    b = _Build(chance, tubes, common)
    supply(b)
    _next_rail(b)
    if wanted > 30:
        _converter(b)
        _if_stage(b)
        _detector(b)
    else:
        _detector(b)
    _output(b)
    if not b.string:
        while b.parts < wanted - 8:
            if chance.random() < 0.12 and int(b.rail[1:]) < 4:
                _next_rail(b)
            chance.choice(_MORE)(b)
    while b.parts < wanted:  # decoupling and tone capacitors, and resistors that carry no current
        if chance.random() < 0.5:
            b.capacitor(b.rail, b.common, "0.1", "0.05")
        else:
            b.resistor(f"PAD{b.parts}", b.common, "47K", "1M")
            b.capacitor(f"PAD{b.counts['R'] + b.parts}", b.rail, "0.001")
    if b.string:
        b.add("R", f"{chance.choice((33, 47))} ohm 2 W", f"{b.string[-1]} to {b.common}")
    return "\n".join((f"# invented, seed {seed}", *b.lines)) + "\n"


def parts_in(text: str) -> int:
    """How many part lines a text has."""
    return sum(": " in line and not line.startswith("#") for line in text.splitlines())


def with_wires(chassis: Chassis, count: int, chance: random.Random) -> Chassis:
    """The set with so many wires between nodes chosen by chance: slips of the soldering iron."""
    nodes = [name for name in chassis.nodes if "." not in name]
    span = chassis.parts[0].span
    wires = (Wire(tuple(chance.sample(nodes, 2)), span) for _ in range(count))
    return replace(chassis, wires=(*chassis.wires, *wires))
