"""Finds the electron streams of a tube from its kind and electrodes, one law for every type.

Belongs here: which electrodes form a triode, pentode, converter, diode, rectifier or eye. It serves
the catalogue and types defined in a file alike. Does not belong here: what the streams do.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from netcheck.parts import Section

__all__ = ["build_sections", "terminal_names"]

_DIODES = ("diode1", "diode2", "diode3")


def terminal_names(
    pins: Mapping[str, tuple[str, ...]], unplaced: Iterable[str] = ()
) -> dict[str, str]:
    """Map every electrode to the name of its terminal: the first electrode on its first pin.

    Electrodes joined inside the tube are one terminal (g2 and g4 of a 12BE6 are `g2`).
    `unplaced` electrodes exist, but their pin is not known; each is its own terminal.
    """
    names: dict[str, str] = {}
    for group in pins.values():
        for electrode in group:
            names.setdefault(electrode, names.get(group[0], group[0]))
    for electrode in unplaced:
        names.setdefault(electrode, electrode)
    return names


def build_sections(
    kind: str, pins: Mapping[str, tuple[str, ...]], unplaced: Iterable[str] = ()
) -> tuple[Section, ...]:
    """Return the sections of a tube, the main stream first, in terminal names.

    `kind` is the trade's word for the type (`pentagrid converter`, `twin triode`, ...). A stream
    whose plate is not among the electrodes is left out; an unknown kind gives no sections.
    """
    names = terminal_names(pins, unplaced)
    if "rectifier" in kind:
        return _rectifier_sections(names)
    if "twin" in kind:
        return _twin_sections(names)
    main: tuple[Section, ...] = ()
    if "converter" in kind:
        main = _converter_sections(names)
    elif "triode" in kind and "pentode" in kind:
        main = (*_stream("pentode", kind, names), *_triode_half(names))
    elif "eye" in kind:
        main = (*_stream("triode", "triode", names), *_target(names))
    else:
        main = _stream(_family(kind), kind, names)
    return (*main, *_diode_sections(names))


def _family(kind: str) -> str:
    """The plain word for a one-stream kind (`remote-cutoff pentode` is a pentode)."""
    for word in ("pentode", "tetrode", "triode"):
        if word in kind:
            return word
    return ""


def _cathode(names: Mapping[str, str], number: str = "") -> str:
    """The terminal of the cathode: its own, the common one, else the filament's first end."""
    for electrode in (f"cathode{number}", "cathode", "cathode1", "heater1"):
        if electrode in names:
            return names[electrode]
    return ""


def _stream(name: str, kind: str, names: Mapping[str, str]) -> tuple[Section, ...]:
    """A single triode, tetrode or pentode on plate, g1 and (if it has one) g2."""
    if not name or "plate" not in names:
        return ()
    kind = "beam pentode" if "beam" in kind else name
    controls = (names["g1"],) if "g1" in names else ()
    screen = names.get("g2") if name != "triode" else None
    return (Section(name, kind, names["plate"], _cathode(names), controls, screen),)


def _triode_half(names: Mapping[str, str]) -> tuple[Section, ...]:
    """The triode beside a pentode, hexode or heptode."""
    if "triode-plate" not in names:
        return ()
    cathode = names.get("triode-cathode") or _cathode(names)
    controls = (names["triode-grid"],) if "triode-grid" in names else ()
    return (Section("triode", "triode", names["triode-plate"], cathode, controls),)


def _twin_sections(names: Mapping[str, str]) -> tuple[Section, ...]:
    """Two like triodes (triode1, triode2), or two like diodes (diode1, diode2)."""
    found = []
    for number in "12":
        plate = f"plate{number}"
        if plate in names:
            controls = (names[f"grid{number}"],) if f"grid{number}" in names else ()
            cathode = _cathode(names, number)
            found.append(Section(f"triode{number}", "triode", names[plate], cathode, controls))
    return (*found, *_diode_sections(names))


def _diode_sections(names: Mapping[str, str]) -> tuple[Section, ...]:
    """Detector diodes; each may have a cathode of its own (diode2 of an EABC80 has)."""
    found = [d for d in _DIODES if d in names]
    return tuple(Section(d, "diode", names[d], _cathode(names, d[-1])) for d in found)


def _rectifier_sections(names: Mapping[str, str]) -> tuple[Section, ...]:
    """One section a plate; a doubler's plates have cathodes of their own."""
    found = []
    for number in ("", "1", "2"):
        plate = f"plate{number}"
        if plate in names:
            cathode = _cathode(names, number)
            found.append(Section(f"rectifier{number}", "rectifier", names[plate], cathode))
    return tuple(found)


def _target(names: Mapping[str, str]) -> tuple[Section, ...]:
    if "target" not in names:
        return ()
    return (Section("target", "target", names["target"], _cathode(names)),)


def _converter_sections(names: Mapping[str, str]) -> tuple[Section, ...]:
    """The mixer first (controls: signal grid, then oscillator grid), then the oscillator's stream.

    Three families (RCA Receiving Tube Manual, section on frequency conversion; from memory):
    with a triode beside it (ECH81, 6K8); with g2 as oscillator anode (6A8, 7A8, 1A7); with g2 and
    g4 joined as screen and no oscillator anode (6SA7, 12BE6, 1R5).
    """
    if "plate" not in names or "g1" not in names:
        return ()
    if "triode-plate" in names:
        return (_mixer(names, *_hexode_grids(names)), *_triode_half(names))
    if "g4" in names and names.get("g2") != names["g4"]:
        mixer = _mixer(names, ("g4", "g1"), "g3")
        oscillator = Section("oscillator", "triode", names["g2"], _cathode(names), (names["g1"],))
        return (mixer, oscillator) if "g2" in names else (mixer,)
    return (_mixer(names, ("g3", "g1"), "g2"),)


def _hexode_grids(names: Mapping[str, str]) -> tuple[tuple[str, str], str]:
    """Signal and injection grid: the one joined to the triode's grid is the injection grid."""
    joined = names.get("triode-grid") == names["g1"]
    return (("g3", "g1") if joined else ("g1", "g3")), "g2"


def _mixer(names: Mapping[str, str], grids: tuple[str, str], screen: str) -> Section:
    controls = tuple(names[grid] for grid in grids if grid in names)
    cathode = _cathode(names)
    return Section("converter", "converter", names["plate"], cathode, controls, names.get(screen))
