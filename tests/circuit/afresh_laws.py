"""The tube laws written a second time, from laws.csv, one stream and one number at a time.

Belongs here: diode, triode and split stream as scalar formulas, which streams a tube has, a tube
on its nets. Does not belong here: the rest of a set (afresh.py). Nothing of tube_law_forms,
tube_law_build or tube_law_stack is called; what is shared is the catalogue.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from netcheck.parts import Section, TubeType

__all__ = ["Bulb", "Stream", "bulb_on", "streams_of"]

WIDTH_V = 0.15  # 0.1 V of retarding field for each factor e of a current that is soft(v)^1.5


# --- the laws, volts against the cathode


def soft(volts: float, width_v: float = WIDTH_V) -> float:
    """`w ln(1 + exp(v / w))`."""
    if volts > 0.0:
        return volts + width_v * math.log1p(math.exp(-volts / width_v))
    return width_v * math.log1p(math.exp(volts / width_v))


def remote(volts: float, stretch: float) -> float:
    """The volts of a grid wound with a varying pitch: below zero they count as an arc tangent."""
    if not stretch:
        return volts
    below = soft(-volts)
    return volts + below - math.atan(stretch * below) / stretch


def passing(volts: float, knee_v: float) -> float:
    return -math.expm1(-((soft(volts) / knee_v) ** 1.5))


@dataclass(frozen=True)
class Stream:
    """One law of a tube on its electrodes; `amperes` says what flows into each of them."""

    kind: str
    fit: Mapping[str, float]
    electrodes: tuple[str, ...]  # plate(, screen, grid, second grid), cathode

    def amperes(self, volts: Mapping[str, float]) -> dict[str, float]:
        cathode = self.electrodes[-1]
        above = [volts[name] - volts[cathode] for name in self.electrodes[:-1]]
        found = getattr(self, f"_{self.kind}")(*above)
        into = dict.fromkeys(self.electrodes, 0.0)
        for name, current in zip(self.electrodes, found, strict=False):
            into[name] += current
        into[cathode] -= sum(found)
        return into

    def _diode(self, plate: float) -> tuple[float, ...]:
        return (self.fit["perveance"] * soft(plate + self.fit["contact-v"]) ** 1.5,)

    def _triode(self, plate: float, grid: float) -> tuple[float, ...]:
        fit = self.fit
        drive = soft(
            fit["grid-control"] * grid + plate / fit["mu"] + fit["contact-v"], fit["width-v"]
        )
        return (fit["perveance"] * drive**1.5 * passing(plate, fit["knee-v"]),)

    def _split(self, plate: float, screen: float, grid: float, second: float) -> tuple[float, ...]:
        fit = self.fit
        drive = soft(
            fit["grid-control"] * remote(grid, fit["stretch"])
            + screen / fit["screen-mu"]
            + plate / fit["mu"]
            + fit["contact-v"],
            fit["width-v"],
        )
        space = fit["perveance"] * drive**1.5
        above, base = soft(plate), drive + 0.3
        ratio = fit.get("ratio", 1.0) * self._second(second)
        rise = fit.get("rise", 0.0)
        knee = fit.get("knee-drive", 1.0) * base
        ratio *= (above / base) ** rise * (above / (above + knee)) ** (1.5 - rise)
        share = ratio / (1.0 + ratio)
        return space * share, space * (1.0 - share) * passing(screen, 2.0)

    def _second(self, volts: float) -> float:
        norm = self.fit.get("second-drive-v", 0.0)
        if not norm:
            return 1.0
        counted = remote(volts, self.fit["second-stretch"]) + self.fit["second-contact-v"]
        return (soft(counted) / norm) ** 1.5


# --- which streams a tube has


@cache
def _laws() -> dict[str, dict[str, dict[str, float]]]:
    found: dict[str, dict[str, dict[str, float]]] = {}
    text = (resources.files("netcheck.catalog") / "data" / "laws.csv").read_text("utf-8")
    for row in csv.DictReader(text.splitlines()):
        pairs = (pair.split("=") for pair in row["law"].split())
        found.setdefault(row["type"], {})[row["section"]] = {k: float(v) for k, v in pairs}
    return found


def _resting(perveance: float, rest_v: float, ohm: float) -> float:
    """The contact potential of a diode that rests at -`rest_v` on `ohm`, by bisection."""
    low, high = -10.0, 10.0
    for _ in range(100):
        middle = (low + high) / 2
        more = perveance * soft(middle - rest_v) ** 1.5 > rest_v / ohm
        low, high = (low, middle) if more else (middle, high)
    return middle


def _on_dc(tube: TubeType) -> float:
    """Half the volts of a battery filament (0.3 A or less), 0 for any other heater."""
    if tube.heating != "direct" or not tube.heater_v or (tube.heater_a or 0.0) > 0.3:
        return 0.0
    return (tube.heater_v - (tube.tap_v or 0.0)) / 2


def _oscillation(tube: TubeType) -> tuple[str, float, float] | None:
    """The oscillating grid of a converter, its rectified volts and amperes."""
    mixer = next((s for s in tube.sections if s.kind == "converter"), None)
    if mixer is None or len(mixer.controls) < 2:
        return None
    own = [s for s in tube.sections if s.name in ("oscillator", "triode") and s.controls]
    grid = own[0].controls[0] if own else mixer.controls[1]
    published = sorted(p.amperes["g1"] for p in tube.points if "g1" in p.amperes)
    amperes = published[(len(published) - 1) // 2] if published and grid == "g1" else 0.2e-3
    has_plate = any(s.name in ("oscillator", "triode") for s in tube.sections)
    ohm = {(0, 0): 20e3, (1, 0): 50e3, (0, 1): 100e3, (1, 1): 200e3}[has_plate, _on_dc(tube) > 0]
    return grid, amperes * ohm + _on_dc(tube), amperes


def streams_of(tube: TubeType) -> tuple[Stream, ...]:
    """The streams of a type with its oscillator (if it is a converter) running."""
    return tuple(_made(tube))


def _made(tube: TubeType) -> Iterator[Stream]:
    oscillation = _oscillation(tube)
    grids: dict[str, tuple[str, float]] = {}
    for section in tube.sections:
        k = section.cathode
        if section.kind == "diode":
            yield _detector(tube, section)
            continue
        fit = _laws()[tube.name][section.name]
        if section.kind == "target":
            yield Stream("diode", fit, (section.plate, k))
        elif section.screen is None:
            yield _triode_of(section, fit, oscillation)
        else:
            yield _split_of(section, fit)
        for grid in section.controls:
            grids.setdefault(grid, (k, fit["perveance"]))
    for grid, (k, perveance) in grids.items():
        if oscillation is not None and grid == oscillation[0]:
            # The rectified current over the last volt before the peak of the swing.
            _, volts, amperes = oscillation
            fit = {"perveance": amperes, "contact-v": volts + 1.0}
        else:
            rest = 0.15 if _on_dc(tube) else 0.75
            contact = _resting(0.2 * perveance, rest, 10e6) + _on_dc(tube)
            fit = {"perveance": 0.2 * perveance, "contact-v": contact}
        yield Stream("diode", fit, (grid, k))


def _detector(tube: TubeType, section: Section) -> Stream:
    perveance = 1e-3 if "twin diode" in tube.kind else 0.2e-3
    rest = 0.15 if _on_dc(tube) else 0.5
    contact = _resting(perveance, rest, 500e3) + _on_dc(tube)
    fit = {"perveance": perveance, "contact-v": contact}
    return Stream("diode", fit, (section.plate, section.cathode))


def _triode_of(
    section: Section, fit: dict[str, float], oscillation: tuple[str, float, float] | None
) -> Stream:
    grid = section.controls[0] if section.controls else section.cathode
    own = {**fit, "grid-control": 1.0}
    if "dead-perveance" in fit or not section.controls:  # the plate's mean follows its volts alone
        own["grid-control"] = 0.0
    elif oscillation is not None and oscillation[0] == grid:
        own |= {"grid-control": 0.0, "perveance": fit["perveance"] / 2.5}
    return Stream("triode", own, (section.plate, grid, section.cathode))


def _split_of(section: Section, fit: dict[str, float]) -> Stream:
    k = section.cathode
    own = {"grid-control": 1.0, **fit}
    grid, second = (section.controls or (k,))[0], k
    if not section.controls:
        own["grid-control"] = 0.0
    if section.kind == "converter" and grid != "g1":  # the oscillation is on the first grid
        own["grid-control"] = 0.0
        second, grid = grid, section.controls[1]
    return Stream("split", own, (section.plate, section.screen or k, grid, second, k))


def _filament(tube: TubeType) -> dict[str, float]:
    """The part of the cathode current that leaves at each filament end."""
    if tube.heating != "direct":
        return {}
    names = {e for pins in tube.pins.values() for e in pins}
    if {"heater1", "tap", "heater2"} <= names:
        return {"heater1": 0.25, "tap": 0.5, "heater2": 0.25}
    return {"heater1": 0.5, "heater2": 0.5}


@dataclass(frozen=True)
class Bulb:
    """A tube of a set: its streams, and the net of each electrode that takes part in them."""

    ref: str
    streams: tuple[Stream, ...]
    filament: Mapping[str, float]
    nets: Mapping[str, str]

    def amperes(self, net_v: Mapping[str, float]) -> dict[str, float]:
        """Amperes into each electrode when the nets have these volts."""
        volts = {name: net_v[net] for name, net in self.nets.items()}
        seen = dict(volts)
        if self.filament:
            seen["heater1"] = sum(part * volts[end] for end, part in self.filament.items())
        into: dict[str, float] = {}
        for stream in self.streams:
            for name, current in stream.amperes(seen).items():
                into[name] = into.get(name, 0.0) + current
        if self.filament:
            cathode = into.pop("heater1")
            into |= {end: part * cathode for end, part in self.filament.items()}
        return into

    def currents(self, net_v: Mapping[str, float]) -> dict[str, float]:
        """Amperes out of each net into the tube."""
        found: dict[str, float] = {}
        for name, current in self.amperes(net_v).items():
            found[self.nets[name]] = found.get(self.nets[name], 0.0) + current
        return found


def bulb_on(ref: str, tube: TubeType, nets: Mapping[str, str]) -> Bulb:
    """A tube with these electrodes on these nets, each other one on a net of its own."""
    streams, filament = streams_of(tube), _filament(tube)
    names = {name for stream in streams for name in stream.electrodes} | filament.keys()
    return Bulb(ref, streams, filament, {n: nets.get(n, f"{ref}.{n}") for n in sorted(names)})
