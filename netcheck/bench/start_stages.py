"""The stages of a starting text up to the output: converter, IF, detector, audio, eye.

Belongs here: the usual parts of each with typical values. Does not belong here: the output
(start_output.py), the supply (start_supply.py), the order of stages (start.py). Typical values are
common practice, no source, unless they follow from a published point of the tube itself.
"""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.bench.start_text import Build, best_point, ohm_text
from netcheck.catalog.preferred import next_rating
from netcheck.parts import Section, TubeType

__all__ = [
    "bias_of",
    "converter",
    "coupled",
    "demand_a",
    "detector",
    "ends_of",
    "eye",
    "rf_stage",
    "voltage_stage",
]

_SCREEN_V = 90.0  # what screens of small pentodes stand at (common practice, no source)
_DRAWN = 0.8  # of what the points say: those are without AVC and cathode resistor
_LOW_RAIL_V = 130.0  # below it screens are fed straight from the rail


def main_section(tube: TubeType) -> Section:
    """The section that gives a tube its duty: the largest grid tube in it."""
    rank = ("beam pentode", "pentode", "converter", "tetrode", "triode")
    return min(tube.sections, key=lambda s: rank.index(s.kind) if s.kind in rank else 9)


def demand_a(tube: TubeType, rail_v: float) -> float:
    """Plate and screen amperes of a tube's sections near some volts; 3 mA where none is known."""
    total = 0.0
    for section in tube.sections:
        if section.kind in ("diode", "rectifier"):
            continue
        point = best_point(tube, section, rail_v)
        if point is None:
            total += 0.003 if section.kind != "triode" else 0.001
        else:
            total += point.amperes[section.plate]
            total += point.amperes.get(section.screen or "", 0.0)
    return total


def bias_of(tube: TubeType, rail_v: float) -> float | None:
    """The grid bias of an output tube at its published point nearest to some volts."""
    section = main_section(tube)
    point = best_point(tube, section, rail_v)
    grid = section.controls[0] if section.controls else ""
    return point.volts.get(grid) if point is not None else None


def ends_of(b: Build, tube: TubeType, nodes: Mapping[str, str], rest: str) -> list[tuple[str, str]]:
    """Every electrode with its node, once for each pin.

    Those not named go to `rest`, shields to the common wire, diodes stay open. A type whose pins
    the catalogue lacks has the electrodes of its sections.
    """
    own = {n for s in tube.sections for n in (s.plate, s.cathode, *s.controls, s.screen) if n}
    groups = list(tube.pins.values()) if set(tube.electrodes) & set(nodes) else [(n,) for n in own]
    found: dict[str, str] = {}
    for group in groups:
        heated = any(name.startswith("heater") or name == "tap" for name in group)
        named = next((name for name in group if name in nodes), None)
        name = named or next(iter(group), "")
        if not name or heated or name in found:
            continue
        found[name] = nodes[name] if named else _unnamed(name, b.common, rest)
    return [(name, node) for name, node in found.items() if node]


def _unnamed(name: str, common: str, rest: str) -> str:
    if name in ("shell", "shield"):
        return common
    if name.startswith(("diode", "triode", "plate", "target")):
        return "open"
    return rest if name.startswith(("g", "cathode")) else ""


def _cathode(b: Build, tube: TubeType, ohm: float | None, net: str) -> str:
    """A cathode resistor with its bypass, or the common wire where there is none to fit."""
    if tube.heating == "direct" or ohm is None:
        return b.common
    b.part("R", f"{ohm_text(ohm)} 1/2 W", f"{net} to {b.common}")
    b.part("C", ".05 mfd 200 V paper", f"{net} to {b.common}")
    return net


def _screen(b: Build, tubes_a: float) -> str:
    """The rail of the small screens: B2 itself in a set of low volts, else behind a dropper."""
    if not b.screen:
        if b.rail_v < _LOW_RAIL_V:
            b.screen = b.rail
        else:
            b.screen = "SCREEN"
            drop_v, drawn_a = b.rail_v - _SCREEN_V, max(_DRAWN * tubes_a, 1e-3)
            watts = max(next_rating(2 * drop_v * drawn_a, "resistor-w") or 10.0, 2.0)
            b.part("R", f"{ohm_text(drop_v / drawn_a)} {watts:g} W", f"{b.rail} to SCREEN")
            b.part("C", f".1 mfd {b.film} paper", f"SCREEN to {b.common}")
    return b.screen


def converter(b: Build, ref: str, tube: TubeType, screens_a: float, last: bool) -> None:
    """Antenna, oscillator, converter and its IF transformer."""
    b.heading("antenna and converter")
    b.avc = b.avc or "AVC"
    c = b.common
    if not b.signal:
        b.part("L", "loop antenna, 1.5 ohm", f"LOOP to {b.avc}")
        b.part("C", "10-365 mmf air", f"LOOP to {c}")
        b.signal = "LOOP"
    b.part("C", "10-140 mmf air", f"OSC to {c}")
    section = next(s for s in tube.sections if s.kind == "converter")
    oscillator = next((s for s in tube.sections if s.kind == "triode"), None)
    screen = _screen(b, screens_a)
    nodes = {section.plate: f"{ref}.plate", section.controls[0]: b.signal}
    grid = oscillator.controls[0] if oscillator is not None else section.controls[-1]
    nodes[grid] = "OSCGRID"
    rest = c
    if oscillator is not None:
        b.part("L", "oscillator coil, grid 3 ohm, tickler 2 ohm",
               f"grid OSC to {c}, tickler OSCPLATE to OSCFEED")  # fmt: skip
        b.part("R", "22K 2 W", f"{b.rail} to OSCFEED")
        b.part("C", f".05 mfd {b.film} paper", f"OSCFEED to {c}")
        nodes[oscillator.plate] = "OSCPLATE"
        nodes[section.screen or "g2"] = screen
        if "triode-grid" in tube.electrodes and section.controls[-1] == "g3":
            nodes["g3"] = "OSCGRID"  # the heptode's injection grid
        rest = _cathode(b, tube, 220.0, f"K{ref}")
    elif tube.heating == "direct":
        b.part("L", "oscillator coil, grid 3.5 ohm, tickler 1.2 ohm",
               f"grid OSC to {c}, tickler {ref}.screen to {screen}")  # fmt: skip
        nodes[section.screen or "g2"] = f"{ref}.screen"
    else:
        b.part("L", "oscillator coil, .8-4 ohm", f"{c} to OSCTAP to OSC")
        nodes[section.screen or "g2"] = screen
        nodes[section.cathode] = "OSCTAP"
    b.part("C", "50 mmf 500 V mica", "OSC to OSCGRID")
    leak = "100K" if tube.heating == "direct" else "47K" if oscillator is not None else "22K"
    b.part("R", f"{leak} 1/2 W", f"OSCGRID to {rest}")
    b.tube(ref, tube, ends_of(b, tube, _named(section, nodes, rest), rest))
    _if_transformer(b, f"{ref}.plate", last)


def _named(section: Section, nodes: dict[str, str], cathode: str) -> dict[str, str]:
    """The nodes with the cathode's, where the cathode is an electrode of its own."""
    if section.cathode.startswith("heater") or section.cathode in nodes:
        return nodes
    return {**nodes, section.cathode: cathode}


def _if_transformer(b: Build, plate: str, last: bool) -> None:
    ref = b.ref("T")
    far = ("DIODE", "IFLOW") if last else (f"{ref}.grid", b.avc)
    ends = f"primary {plate} to {b.rail}, secondary {far[0]} to {far[1]}, can CHASSIS"
    b.part("T", "IF, 455 kc, primary 14 ohm, secondary 14 ohm", ends, ref=ref)
    b.signal = far[0]
    if last:
        b.detector = "IFLOW"


def rf_stage(
    b: Build, ref: str, tube: TubeType, screens_a: float, *, tuned: bool, last: bool
) -> None:
    """A stage of a remote cut-off pentode: before the converter (`tuned`) or on the IF."""
    b.avc = b.avc or "AVC"
    section = main_section(tube)
    b.heading("radio frequency" if tuned else "intermediate frequency")
    if not b.signal:
        b.part("J", "antenna, screw", "ANT")
        b.part("L", "antenna coil, primary 20 ohm, secondary 4 ohm",
               f"primary ANT to {b.common}, secondary {ref}.grid to {b.avc}")  # fmt: skip
        b.part("C", "10-365 mmf air", f"{ref}.grid to {b.common}")
        b.signal = f"{ref}.grid"
    point = best_point(tube, section, min(b.rail_v, 250.0))
    ohm = None
    if b.rail_v > _LOW_RAIL_V or (point is not None and point.cathode_ohm):
        ohm = point.cathode_ohm if point is not None and point.cathode_ohm else 330.0
    cathode = _cathode(b, tube, ohm, f"K{ref}")
    nodes = {section.plate: f"{ref}.plate", section.controls[0]: b.signal}
    if section.screen:
        nodes[section.screen] = _screen(b, screens_a)
    b.tube(ref, tube, ends_of(b, tube, _named(section, nodes, cathode), cathode))
    if tuned:
        b.part("L", "rf coil, primary 30 ohm, secondary 4 ohm",
               f"primary {ref}.plate to {b.rail}, secondary RF{ref} to {b.avc}")  # fmt: skip
        b.part("C", "10-365 mmf air", f"RF{ref} to {b.common}")
        b.signal = f"RF{ref}"
    else:
        _if_transformer(b, f"{ref}.plate", last)


def detector(b: Build, ref: str, tube: TubeType, output_in_it: bool) -> None:
    """The diode, volume control and AVC, and the audio section in the same bulb."""
    c = b.common
    b.heading("detector and AVC")
    if not b.detector:
        b.detector = "IFLOW"
        b.part("T", "IF, 455 kc, primary 14 ohm, secondary 14 ohm",
               f"primary {b.signal or 'IFIN'} to {b.rail}, secondary DIODE to IFLOW")  # fmt: skip
    b.part("C", "100 mmf 500 V mica", f"IFLOW to {c}")
    b.part("R", "47K 1/2 W", "IFLOW to DET")
    b.part("C", "100 mmf 500 V mica", f"DET to {c}")
    b.part("R", "control, 500K audio taper", f"DET to VOL to {c}")
    b.avc = b.avc or "AVC"
    b.part("R", "2.2 meg 1/2 W", f"DET to {b.avc}")
    b.part("C", ".05 mfd 200 V paper", f"{b.avc} to {c}")
    b.audio = "VOL"
    diodes = {s.plate: "DIODE" for s in tube.sections if s.kind == "diode"}
    first = next(iter(diodes), "")
    others = {name: c for name in diodes if name != first}
    cathodes = {s.cathode: c for s in tube.sections if not s.cathode.startswith("heater")}
    nodes = {first: "DIODE", **others, **cathodes} if first else cathodes
    section = main_section(tube)
    if section.kind == "diode" or output_in_it:
        b.tube(ref, tube, ends_of(b, tube, nodes, c))
        return
    _audio(b, ref, tube, section, nodes)


def voltage_stage(b: Build, ref: str, tube: TubeType, *, splits: bool = False) -> None:
    """Resistance-coupled audio: each section of the tube one after the other.

    With `splits` the last one drives a push-pull pair, from its plate and from its cathode.
    """
    b.heading("audio")
    sections = [s for s in tube.sections if s.kind in ("triode", "pentode", "tetrode")]
    nodes: dict[str, str] = {}
    for number, section in enumerate(sections):
        if splits and section is sections[-1]:
            nodes |= _split(b, ref, section)
        else:
            nodes |= coupled(b, f"{ref}.{section.plate}", section, tube, number)
    b.tube(ref, tube, ends_of(b, tube, nodes, b.common))


def _input(b: Build) -> None:
    """A phono jack and the volume control, where nothing else brings a signal."""
    if b.audio:
        return
    if b.live:  # a pickup's metal must not meet the line
        sleeve = "CHASSIS"
        if b.common == "CHASSIS":
            sleeve = "PHONOLOW"
            b.part("C", ".01 mfd 1000 V paper", "PHONOLOW to CHASSIS")
        b.part("J", "phono", f"tip PHONO, sleeve {sleeve}")
        b.part("C", f".01 mfd {'400' if b.rail_v < _LOW_RAIL_V else '1000'} V paper",
               "PHONO to INPUT")  # fmt: skip
    else:
        b.part("J", "phono", f"tip INPUT, sleeve {b.common}")
    b.part("R", "control, 500K audio taper", f"INPUT to VOL to {b.common}")
    b.audio = "VOL"


def _split(b: Build, ref: str, section: Section) -> dict[str, str]:
    """The phase splitter with equal loads in plate and cathode; `b.audio`, `b.other` drive."""
    b.say("Phase splitter: equal resistors in plate and cathode (typical; compare the drawing).")
    _input(b)
    plate, cathode, low = f"{ref}.{section.plate}", f"{ref}SPLIT", f"{ref}LOW"
    b.part("C", f".01 mfd {b.film} paper", f"{b.audio} to {ref}GRID")
    b.part("R", "470K 1/2 W", f"{ref}GRID to {low}")
    b.part("R", "1.5K 1/2 W", f"{cathode} to {low}")
    b.part("R", "47K 1 W", f"{low} to {b.common}")
    b.part("R", "47K 1 W", f"{b.rail} to {plate}")
    b.audio, b.other = plate, cathode
    return {section.plate: plate, section.controls[0]: f"{ref}GRID", section.cathode: cathode}


def coupled(b: Build, plate: str, section: Section, tube: TubeType, number: int) -> dict[str, str]:
    """One resistance-coupled stage behind `b.audio`; the nodes of its electrodes."""
    point = best_point(tube, section, b.rail_v)
    high = section.screen is not None or (point is not None and (point.mu or 0) > 50)
    grid = f"GRID{len(b.lines)}"
    _input(b)
    b.part("C", f".01 mfd {b.film} paper", f"{b.audio} to {grid}")
    b.part("R", "470K 1/2 W", f"{grid} to {b.common}")
    nodes = {section.plate: plate, section.controls[0]: grid}
    if not section.cathode.startswith("heater"):
        cathode = f"{plate.partition('.')[0]}K{number + 1}"
        b.part("R", f"{'2.2K' if high else '1.5K'} 1/2 W", f"{cathode} to {b.common}")
        b.part("C", "25 mfd 25 V electrolytic", f"+ {cathode}, - {b.common}")
        nodes[section.cathode] = cathode
    if section.screen is not None:
        screen = f"{plate.partition('.')[0]}.screen"
        b.part("R", "1 meg 1/2 W", f"{b.rail} to {screen}")
        b.part("C", f".1 mfd {b.film} paper", f"{screen} to {b.common}")
        nodes[section.screen] = screen
    b.part("R", f"{'220K 1/2 W' if high else '47K 1 W'}", f"{b.rail} to {plate}")
    b.audio = plate
    return nodes


def _audio(b: Build, ref: str, tube: TubeType, section: Section, nodes: dict[str, str]) -> None:
    """The first audio stage behind the detector, biased by its own grid leak."""
    b.part("C", f".005 mfd {b.film} paper", f"{b.audio} to VOLGRID")
    b.part("R", "10 meg 1/2 W", f"VOLGRID to {b.common}")
    nodes = {**nodes, section.plate: f"{ref}.plate", section.controls[0]: "VOLGRID"}
    if section.screen is not None:
        b.part("R", "3.3 meg 1/2 W", f"{b.rail} to {ref}.screen")
        b.part("C", ".05 mfd 200 V paper", f"{ref}.screen to {b.common}")
        nodes[section.screen] = f"{ref}.screen"
    b.tube(ref, tube, ends_of(b, tube, nodes, b.common))
    load = "1 meg" if section.screen is not None else "470K" if b.rail_v < _LOW_RAIL_V else "270K"
    b.part("R", f"{load} 1/2 W", f"{b.rail} to {ref}.plate")
    b.part("C", "220 mmf 500 V mica", f"{ref}.plate to {b.common}")
    b.audio = f"{ref}.plate"


def eye(b: Build, ref: str, tube: TubeType) -> None:
    """The tuning eye on the AVC line."""
    b.heading("tuning eye")
    b.part("R", "1 meg 1/2 W", f"{b.rail} to {ref}.plate")
    nodes = {
        "plate": f"{ref}.plate",
        "target": b.rail,
        "g1": b.avc or b.common,
        "cathode": b.common,
    }
    b.tube(ref, tube, ends_of(b, tube, nodes, b.common))
