"""The output of a starting text: one tube, a pair in push-pull, or two beside each other.

Belongs here: the usual parts of an output stage with typical values. Does not belong here: the
stages before it (start_stages.py). Typical values are common practice, no source, unless they
follow from a published point of the tube itself.
"""

from __future__ import annotations

from netcheck.bench.start_stages import bias_of, coupled, ends_of, main_section
from netcheck.bench.start_text import Build, best_point, ohm_text
from netcheck.catalog.preferred import next_rating
from netcheck.parts import OperatingPoint, Section, TubeType

__all__ = ["output", "pair"]

_LOW_RAIL_V = 130.0
_PAIR_OHM = 8000.0  # plate to plate, where no point of the pair is known
_WATTS = 2.0


def output(b: Build, ref: str, tube: TubeType, mark: str = "") -> None:
    """The output tube with its transformer and speaker, and a triode in the same bulb before it.

    `mark` sets the nodes of a further output apart from those of the first.
    """
    section = main_section(tube)
    nodes: dict[str, str] = {}
    triode = next((s for s in tube.sections if s.kind == "triode" and s is not section), None)
    if triode is not None:
        b.heading("audio")
        nodes |= coupled(b, f"{ref}.{triode.plate}", triode, tube, 0)
    b.heading("output")
    nodes |= _driven(b, section, f"DRIVE{mark}", b.audio)
    cathode = _cathode(b, tube, section, f"KOUT{mark}", 1)
    _tube(b, ref, tube, section, nodes, cathode)
    b.part("C", f".005 mfd {b.plate_film} paper", f"{ref}.plate to {b.plates}")
    point = _point(b, tube, section)
    load = point.load_ohm if point is not None and point.load_ohm else 5000.0
    _transformer(b, load, f"{b.plates} to {ref}.plate", mark)


def pair(b: Build, refs: tuple[str, str], tube: TubeType) -> None:
    """Two output tubes of a kind: in push-pull behind a splitter, else beside each other."""
    section = main_section(tube)
    one, other = refs
    b.heading("output")
    if not b.other:
        b.say(
            f"{one} and {other} are laid beside each other, as no tube of the line-up splits the"
            " phase. In push-pull each has its own half of the primary and, before its grid, its"
            " half of a driver transformer; in a stereo set each has its own stages."
        )
    cathode = _cathode(b, tube, section, "KOUT", 2)
    for ref, drive, audio in ((one, "DRIVE1", b.audio), (other, "DRIVE2", b.other)):
        if b.other or ref == one:
            nodes = _driven(b, section, drive, audio)
        _tube(b, ref, tube, section, nodes, cathode, f"{ref if b.other else one}.plate")
    if not b.other:
        point = _point(b, tube, section)
        load = point.load_ohm if point is not None and point.load_ohm else 5000.0
        _transformer(b, load / 2, f"{b.plates} to {one}.plate", "")
        return
    both = (p.load_ohm for p in tube.points if "push-pull" in p.use and p.load_ohm)
    _transformer(b, next(both, _PAIR_OHM), f"{one}.plate to {b.plates} to {other}.plate", "")


def _driven(b: Build, section: Section, drive: str, audio: str) -> dict[str, str]:
    if audio:
        b.part("C", f".01 mfd {b.film} paper", f"{audio} to {drive}")
    b.part("R", "470K 1/2 W", f"{drive} to {b.bias or b.common}")
    nodes = {section.controls[0]: drive}
    if section.screen is not None:
        nodes[section.screen] = b.rail
    return nodes


def _cathode(b: Build, tube: TubeType, section: Section, net: str, tubes: int) -> str:
    """The node of the cathodes, with the resistor that biases so many tubes where it is there."""
    if b.bias or section.cathode.startswith("heater"):
        return b.common
    point = _point(b, tube, section)
    bias_v = bias_of(tube, _plate_v(b))
    ohm = _own_bias(point, section, bias_v) / tubes
    watts = next_rating(_WATTS * (bias_v or 10.0) ** 2 / ohm, "resistor-w") or 10.0
    b.part("R", f"{ohm_text(ohm)} {max(watts, 1.0):g} W", f"{net} to {b.common}")
    return net


def _tube(
    b: Build, ref: str, tube: TubeType, section: Section, nodes: dict[str, str], cathode: str,
    plate: str = "",
) -> None:  # fmt: skip
    nodes = {**nodes, section.plate: plate or f"{ref}.plate"}
    if not section.cathode.startswith("heater"):
        nodes[section.cathode] = cathode
    nodes |= {s.plate: "open" for s in tube.sections if s.kind == "diode" and s.plate not in nodes}
    b.tube(ref, tube, ends_of(b, tube, nodes, cathode))


def _plate_v(b: Build) -> float:
    return 110.0 if b.rail_v < _LOW_RAIL_V else b.rail_v


def _point(b: Build, tube: TubeType, section: Section) -> OperatingPoint | None:
    return best_point(tube, section, _plate_v(b))


def _transformer(b: Build, load_ohm: float, primary: str, mark: str) -> None:
    b.part("T", f"output, {load_ohm:g} ohm to 3.2 ohm, primary 250 ohm, secondary .4 ohm",
           f"primary {primary}, secondary VC{mark} to VCR{mark}")  # fmt: skip
    b.part("LS", "3.2 ohm permanent magnet", f"VC{mark} to VCR{mark}")


def _own_bias(point: OperatingPoint | None, section: Section, bias_v: float | None) -> float:
    """The cathode resistor by a published point: stated, else bias over cathode current."""
    if point is None:
        return 470.0
    if point.cathode_ohm:
        return point.cathode_ohm
    amperes = point.amperes[section.plate] + point.amperes.get(section.screen or "", 0.0)
    return abs(bias_v) / amperes if bias_v and amperes else 470.0
