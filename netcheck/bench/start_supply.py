"""The supply of a starting text: transformerless, transformer, battery, or only a held rail.

Belongs here: choosing it from the tubes, its parts with typical values. Does not belong here: the
stages it feeds (start_stages.py). Typical values are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from netcheck.bench.start_text import Build, ohm_text
from netcheck.catalog.preferred import next_rating
from netcheck.parts import TubeType

__all__ = ["Bulb", "others", "supply_of"]

_LEAST, _MOST = 0.4, 1.12  # heater volts of a string, as a share of the line


@dataclass(frozen=True, slots=True)
class Bulb:
    """A tube of the line-up: its reference, type, and what it does."""

    ref: str
    tube: TubeType
    duty: str


def supply_of(
    bulbs: Sequence[Bulb], demand_a: float, bias_v: float | None
) -> Callable[[Build], None]:
    """The supply that fits a line-up; calling it writes its parts.

    Args:
        bulbs: the tubes with their duties.
        demand_a: direct current of all plates and screens, amperes.
        bias_v: the bias of the output tube, for a set that takes it from its negative lead.
    """
    rectifier = next((b for b in bulbs if b.duty == "rectifier"), None)
    currents = {b.tube.heater_a for b in bulbs}
    volts = sum(b.tube.heater_v or 0.0 for b in bulbs)
    if rectifier is None:
        cells = all(b.tube.heating == "direct" and (b.tube.heater_v or 9) <= 2.8 for b in bulbs)
        if cells and bulbs:
            return lambda b: _battery(b, bulbs, demand_a, bias_v)
        return lambda b: _held(b, bulbs)
    # Heaters of 100 mA are those of 220 V countries; the rest of the line is on a dropper.
    line_v, hertz = (220.0, 50) if currents == {0.1} else (117.0, 60)
    within = _LEAST * line_v <= volts <= _MOST * line_v
    if rectifier.tube.kind != "full-wave rectifier" and len(currents) == 1 and within:
        return lambda b: _string(b, bulbs, rectifier, line_v, hertz, volts)
    return lambda b: _transformer(b, bulbs, rectifier, demand_a, bias_v)


# --- heaters in series across the line


def _string(
    b: Build, bulbs: Sequence[Bulb], rectifier: Bulb, line_v: float, hertz: int, volts: float
) -> None:
    low_line = line_v < 150
    b.live = True
    b.common = "B-" if low_line else "CHASSIS"
    b.rail_v = 95.0 if low_line else 170.0
    b.lines += [f"line {line_v:g} V {hertz} Hz", f"measure from {b.common}"]
    b.heading("line side")
    b.part("P", "plug, not polarized", f"1 LINE, 2 {b.common if low_line else 'RETURN'}")
    b.part("S", "power", "ON LINE to SWITCHED" if low_line else f"ON RETURN to {b.common}")
    feed = "SWITCHED" if low_line else "LINE"
    b.part("C", f".05 mfd {400 if low_line else 1000} V paper", f"{feed} to {b.common}")
    if low_line:
        b.part("C", ".2 mfd 400 V paper", "B- to CHASSIS")
        b.part("R", "220K 1/2 W", "B- to CHASSIS")
    order = _string_order(bulbs)
    nodes = [feed, *(f"H{k}" for k in range(len(order) - 1, 0, -1)), b.common]
    spare_v, amperes = line_v - volts, rectifier.tube.heater_a or 0.15
    ends = list(zip(order, nodes, nodes[1:], strict=False))
    if spare_v > 0.05 * line_v:
        watts = next_rating(2 * spare_v * amperes, "resistor-w") or 50.0
        words = f"dropper, {ohm_text(spare_v / amperes)} {watts:g} W"
        if rectifier.tube.tap_v:  # the lamp's tap is counted from the line: the dropper follows
            b.part("R", words, f"STRING to {nodes[1]}")
            ends[0] = (ends[0][0], feed, "STRING")
        else:
            b.part("R", words, f"{feed} to STRING")
            ends[0] = (ends[0][0], "STRING", ends[0][2])
    heaters = {}
    for bulb, one, other in ends:
        tapped = bulb is rectifier and bulb.tube.tap_v
        heaters[bulb.ref] = (
            f"heater {one} to PILOT to {other}" if tapped else f"heater {one} to {other}"
        )
    b.heaters = heaters
    b.heading("supply")
    _half_wave(b, rectifier, feed, low_line)


def _half_wave(b: Build, rectifier: Bulb, feed: str, low_line: bool) -> None:
    tube, volts = rectifier.tube, 150 if low_line else 350
    if tube.tap_v:
        plate = "PILOT"
        b.part("DS", "lamp 47", f"{feed} to PILOT")
    else:
        plate = "ANODE"
        b.part("R", "33 ohm 1 W" if low_line else "160 ohm 10 W", f"{feed} to ANODE")
    if tube.kind == "doubler rectifier":  # its two halves side by side
        ends = [(n, plate) for n in ("plate1", "plate2")] + [
            (n, "B1") for n in ("cathode1", "cathode2")
        ]
    else:
        ends = [("plate", plate), ("cathode", "B1")]
    b.tube(rectifier.ref, tube, _with_shell(tube, ends, b.common))
    b.part("C", f"50 mfd {volts} V electrolytic", f"+ B1, - {b.common}")
    b.part("R", "1.2K 2 W", "B1 to B2")
    b.part("C", f"30 mfd {volts} V electrolytic", f"+ B2, - {b.common}")


def _cathode_on_heater(tube: TubeType) -> bool:
    """Whether cathode and heater come out on one pin, so that the winding must stand at B+."""
    return any({"cathode", "heater2"} <= set(group) for group in tube.pins.values())


def others(b: Build, bulbs: Sequence[Bulb]) -> None:
    """Rectifiers besides the first: in their sockets, to be wired as the drawing has them."""
    for bulb in [x for x in bulbs if x.duty == "rectifier"][1:]:
        b.say(f"{bulb.ref} is a second rectifier: wire it as the drawing has it.")
        names = {n for s in bulb.tube.sections for n in (s.plate, s.cathode)}
        heated = {n for group in bulb.tube.pins.values() if "heater2" in group for n in group}
        ends = [(n, "open") for n in sorted(names) if not n.startswith("heater")]
        b.tube(bulb.ref, bulb.tube, [e for e in ends if e[0] not in heated])


def _with_shell(tube: TubeType, ends: list[tuple[str, str]], common: str) -> list[tuple[str, str]]:
    return [*ends, ("shell", common)] if "shell" in tube.electrodes else ends


def _string_order(bulbs: Sequence[Bulb]) -> list[Bulb]:
    """From the line on: rectifier, output, the rest, and the first audio stage at the return."""
    rank = {"rectifier": 0, "output": 1, "audio": 4, "detector": 5}
    return sorted(bulbs, key=lambda bulb: rank.get(bulb.duty, 3))


# --- a power transformer


def _transformer(
    b: Build, bulbs: Sequence[Bulb], rectifier: Bulb, demand_a: float, bias_v: float | None
) -> None:
    tube = rectifier.tube
    b.rail_v = 235.0
    b.lines += ["line 117 V 60 Hz", "measure from CHASSIS"]
    b.heading("line side")
    b.part("P", "plug, not polarized", "1 LA, 2 LB")
    b.part("S", "power", "ON LA to SWITCHED")
    b.heading("supply")
    own = tube.heating == "direct" or _cathode_on_heater(tube)
    lit = [bulb for bulb in bulbs if not (own and bulb is rectifier)]
    volts, amperes = _common_heater(lit)
    ma = max(round(demand_a * 1e3 / 5 + 1) * 5, 30)
    words = "power, primary 6 ohm"
    words += f", high 260-0-260 V {ma} mA 150 ohm each, heater {volts:g} V {amperes:.2g} A"
    center = "BACK" if bias_v else "CHASSIS"
    ends = f"primary SWITCHED to LB, high HTA to {center} to HTB, heater HTR to CHASSIS"
    if own:
        words += f", rectifier {tube.heater_v:g} V {tube.heater_a:g} A"
        ends += ", rectifier B1 to FIL"
    b.part("T", words, ends)
    b.heaters = _parallel(b, lit, volts)
    single = "half-wave" in tube.kind or "doubler" in tube.kind
    plates = [("plate", "HTA")] if single else [("plate1", "HTA"), ("plate2", "HTB")]
    if tube.kind == "doubler rectifier":
        plates = [("plate1", "HTA"), ("plate2", "HTB"), ("cathode1", "B1"), ("cathode2", "B1")]
    if own:
        ends = "filament B1 to FIL" if tube.heating == "direct" else "heater FIL to B1"
        b.heaters = {**b.heaters, rectifier.ref: ends}
    elif tube.kind != "doubler rectifier":
        plates.append(("cathode", "B1"))
    b.tube(rectifier.ref, tube, _with_shell(tube, plates, "CHASSIS"))
    b.part("C", "8 mfd 450 V electrolytic", f"+ B1, - {center}")
    b.part("L", "choke, 10 H 300 ohm", "B1 to B2")
    b.part("C", "16 mfd 450 V electrolytic", "+ B2, - CHASSIS")
    b.plates = "B2"
    if bias_v:
        b.say("The output tube's bias is what all current drops in the negative lead.")
        b.part("R", f"{ohm_text(abs(bias_v) / demand_a)} 5 W", "CHASSIS to BACK")
        rating = 50 if abs(bias_v) < 35 else 100
        b.part("C", f"10 mfd {rating} V electrolytic", "+ CHASSIS, - BACK")
        b.bias = "BACK"


def _centre_tapped(tube: TubeType) -> bool:
    """Whether the heater may be lit by halves, as of a 12AX7 on 6.3 V."""
    volts = tube.heater_v or 0.0
    return bool(tube.tap_v) and abs(2 * (tube.tap_v or 0.0) - volts) < 0.1 * volts


def _common_heater(bulbs: Sequence[Bulb]) -> tuple[float, float]:
    """Volts that most heaters take, a tapped one by halves where others need it, and amperes."""
    whole = [b.tube.heater_v for b in bulbs if b.tube.heater_v and not _centre_tapped(b.tube)]
    halves = [(b.tube.heater_v or 0.0) / 2 for b in bulbs if _centre_tapped(b.tube)]
    counted = whole or halves or [6.3]
    volts = max(counted, key=counted.count)
    amperes = 0.0
    for bulb in bulbs:
        if bulb.tube.heater_v:
            twice = _centre_tapped(bulb.tube) and bulb.tube.heater_v > 1.5 * volts
            amperes += (bulb.tube.heater_a or 0.3) * (2 if twice else 1)
    return volts, amperes


def _parallel(b: Build, bulbs: Sequence[Bulb], volts: float) -> dict[str, str]:
    """Each heater across the common winding; a tube of other volts is left out, and said so."""
    found = {}
    for bulb in bulbs:
        own = bulb.tube.heater_v
        if own is None:
            continue
        if _centre_tapped(bulb.tube) and own > 1.5 * volts:
            found[bulb.ref] = "heater HTR to CHASSIS to HTR"
        elif abs(own - volts) <= 0.1 * volts:
            found[bulb.ref] = "heater HTR to CHASSIS"
        else:
            b.say(f"{bulb.ref} takes {own:g} V: give its heater a supply of its own.")
    return found


# --- batteries, or a rail only


def _battery(b: Build, bulbs: Sequence[Bulb], demand_a: float, bias_v: float | None) -> None:
    b.rail_v, b.plates = 67.5, "B2"
    volts = min(bulb.tube.heater_v or 1.4 for bulb in bulbs)
    b.lines += ["line none", "measure from CHASSIS"]
    b.heading("batteries")
    cell = 1.5 if volts < 1.6 else 2.0 if volts < 2.3 else 3.0
    b.part("BT", f"{cell:g} V A-battery", "+ ABAT, - CHASSIS")
    b.part("BT", "67.5 V B-battery", "+ B2, - BBAT")
    b.part("S", "dpst", "ON ABAT to A+, ON BBAT to B-")
    b.part("R", f"{ohm_text(abs(bias_v or 5.0) / demand_a)} 1/2 W", "B- to CHASSIS")
    b.part("C", "10 mfd 25 V electrolytic", "+ CHASSIS, - B-")
    b.part("C", "8 mfd 150 V electrolytic", "+ B2, - CHASSIS")
    b.bias = "B-"
    b.heaters = {bulb.ref: _filament(bulb.tube, volts) for bulb in bulbs}


def _filament(tube: TubeType, volts: float) -> str:
    if tube.tap_v and (tube.heater_v or 0.0) > 1.5 * volts:  # both halves side by side
        return "filament A+ to CHASSIS to A+"
    return "filament CHASSIS to A+"


def _held(b: Build, bulbs: Sequence[Bulb]) -> None:
    b.plates = "B2"
    old = bool(bulbs) and all(bulb.tube.heating == "direct" for bulb in bulbs)
    b.rail_v = 135.0 if old else 250.0
    b.lines += ["line none", "measure from CHASSIS"]
    b.heading("supply")
    b.say("No rectifier is in the line-up: the rail is held at what you measure.")
    b.lines.append(f"hold B2 {b.rail_v:g} V")
    volts, _ = _common_heater(bulbs)
    b.part("BT", f"{volts:g} V storage A-battery", "+ HTR, - CHASSIS")
    b.part("C", "16 mfd 450 V electrolytic", "+ B2, - CHASSIS")
    b.heaters = _parallel(b, bulbs, volts)
