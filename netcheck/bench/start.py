"""A starting text for a line-up of tubes, because editing is quicker than writing.

Belongs here: what each tube of the line-up is for, the order of the stages. Does not belong here:
the parts of a stage (start_stages.py), of a supply (start_supply.py).

Every value that the line-up does not fix carries the note "assumed": it is a typical one (common
practice, no source, or a published point of the tube), to be replaced by what is on the drawing.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from netcheck.bench.start_output import output, pair
from netcheck.bench.start_stages import (
    bias_of,
    converter,
    demand_a,
    detector,
    eye,
    main_section,
    rf_stage,
    voltage_stage,
)
from netcheck.bench.start_supply import Bulb, others, supply_of
from netcheck.bench.start_text import Build
from netcheck.catalog.tubes import find_tube, nearest_tubes
from netcheck.findings import NetcheckError
from netcheck.parts import TubeType

__all__ = ["NoLineUp", "starting_text"]

_OUTPUT_W = 4.0  # from this plate rating on a pentode is for power: a 6AU6 has 3 W


class NoLineUp(NetcheckError, ValueError):
    """Types from which no text can be started; the message says which, and what is near."""


def starting_text(names: str) -> str:
    """The text of a set with these tubes, in the order given.

    Args:
        names: type names parted by blanks or commas.

    Raises:
        NoLineUp: a name is not in the catalogue, or there is none.
    """
    tubes = [_found(name) for name in re.split(r"[\s,]+", names.strip()) if name]
    if not tubes:
        raise NoLineUp('name the tubes of the set: netcheck start "12BE6 12BA6 12AV6 50C5 35W4"')
    bulbs = [Bulb(f"V{k}", tube, _duty(tube)) for k, tube in enumerate(tubes, start=1)]
    build = Build()
    head = [
        '# A starting text: the tubes are yours, every part with the note "assumed" is',
        "# typical for such a line-up and stands for what is on the drawing. Go through",
        "# it with the schematic: put in the real values and nodes, and delete each note.",
        f'set "{" ".join(bulb.tube.name for bulb in bulbs)[:60]}",',
        '    source "started from its tubes"',
    ]
    _write(build, bulbs)
    touch = _touchable(build)
    return "\n".join([*head, *build.lines, "", *touch]) + "\n"


def _found(name: str) -> TubeType:
    tube = find_tube(name)
    if tube is None:
        near = " or ".join(nearest_tubes(name))
        hint = f"; did you mean {near}?" if near else ""
        raise NoLineUp(f"the catalogue has no tube {name}{hint}")
    return tube


def _duty(tube: TubeType) -> str:
    """What a tube is for, by its kind and its plate rating."""
    kind = tube.kind
    if tube.is_rectifier:
        return "rectifier"
    if "converter" in kind:
        return "converter"
    if "eye" in kind:
        return "eye"
    if _is_output(tube):
        return "output"
    if "diode" in kind:
        return "detector"
    if "remote" in kind:
        return "rf"
    return "audio"


def _is_output(tube: TubeType) -> bool:
    section = main_section(tube)
    if section.kind == "beam pentode":
        return True
    if "twin" in tube.kind or section.kind not in ("pentode", "triode"):
        return False
    delivers = any(p.output_w and section.plate in p.volts for p in tube.points)
    power = tube.limits.get("plate-w", 0.0) >= _OUTPUT_W
    return delivers or (power and section.kind == "pentode" and "remote" not in tube.kind)


def _write(b: Build, bulbs: Sequence[Bulb]) -> None:
    of = {duty: [x for x in bulbs if x.duty == duty] for duty in ("rf", "converter", "output")}
    line_up = supply_line(bulbs)
    # A filament has no cathode resistor: its bias comes from the negative lead.
    filament = bool(of["output"]) and of["output"][0].tube.heating == "direct"
    back = line_up and (filament or (len(bulbs) > 3 and bool(of["converter"])))
    amperes = sum(demand_a(x.tube, 235.0) for x in bulbs if x.duty != "rectifier")
    bias_v = bias_of(of["output"][0].tube, 235.0) if of["output"] and back else None
    if all(x.tube.heating == "direct" and (x.tube.heater_v or 9) < 3 for x in bulbs):
        amperes = sum(demand_a(x.tube, 67.5) for x in bulbs)
        bias_v = bias_of(of["output"][0].tube, 67.5) if of["output"] else None
    supply_of(bulbs, max(amperes, 0.005), bias_v)(b)
    others(b, bulbs)
    screens_a = _screens_a(bulbs)
    before = [
        x for x in of["rf"] if of["converter"] and bulbs.index(x) < bulbs.index(of["converter"][0])
    ]
    detects = any(x.duty == "detector" or "diode" in x.tube.kind for x in bulbs)
    if not detects:  # nothing makes an AVC
        b.avc = b.common
        before = before if of["converter"] else of["rf"]
    behind = [x for x in of["rf"] if x not in before]
    for x in before:
        rf_stage(b, x.ref, x.tube, screens_a, tuned=True, last=False)
    for x in of["converter"]:
        converter(b, x.ref, x.tube, screens_a, last=not behind and detects)
    for x in behind:
        rf_stage(b, x.ref, x.tube, screens_a, tuned=False, last=x is behind[-1] and detects)
    _audio_side(b, bulbs)


def _audio_side(b: Build, bulbs: Sequence[Bulb]) -> None:
    detectors = [x for x in bulbs if x.duty == "detector"]
    for number, x in enumerate(detectors):
        if number:
            voltage_stage(b, x.ref, x.tube)
        else:
            detector(b, x.ref, x.tube, output_in_it=False)
    outputs = [x for x in bulbs if x.duty == "output"]
    twins = len(outputs) > 1 and outputs[0].tube.name == outputs[1].tube.name
    audio = [x for x in bulbs if x.duty == "audio"]
    if not detectors:
        _grid_detector(b, [*audio, *outputs])
    for x in audio:
        splits = twins and x is audio[-1] and x.tube.kind == "twin triode"
        voltage_stage(b, x.ref, x.tube, splits=splits)
    if twins:
        pair(b, (outputs[0].ref, outputs[1].ref), outputs[0].tube)
    for number, x in enumerate(outputs):
        if number:
            again = f"{x.ref} is a further output tube: lay it as the drawing has it."
        if twins and number < 2:
            continue
        if number:
            b.say(again)
        output(b, x.ref, x.tube, str(number + 1) if number else "")
    for x in bulbs:
        if x.duty == "eye":
            eye(b, x.ref, x.tube)


def _grid_detector(b: Build, after: Sequence[Bulb]) -> None:
    """The tube behind the last tuned circuit, where no diode detects and no jack brings audio."""
    if b.signal and not b.audio and after:
        b.say(f"{after[0].ref} detects at its grid (typical; compare the drawing).")
        b.audio = b.signal


def supply_line(bulbs: Sequence[Bulb]) -> bool:
    """Whether a rectifier that takes a transformer is in the line-up."""
    return any(x.tube.kind == "full-wave rectifier" for x in bulbs)


def _screens_a(bulbs: Sequence[Bulb]) -> float:
    """Amperes of the small screens together, by their points near 100 V of screen."""
    total = 0.0
    for x in bulbs:
        section = main_section(x.tube)
        if x.duty not in ("rf", "converter") or section.screen is None:
            continue
        drawn = [p.amperes[section.screen] for p in x.tube.points if section.screen in p.amperes]
        total += min(drawn) if drawn else 0.002
    return total


def _touchable(b: Build) -> list[str]:
    """What a hand reaches in such a set: to be corrected like the rest."""
    return ["touchable: CHASSIS"] if any("CHASSIS" in line for line in b.lines) else []
