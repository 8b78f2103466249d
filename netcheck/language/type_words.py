"""The words of a `type` statement: kinds, electrodes, limits, figures, rating systems.

Belongs here: closed lists that the reader and the layout share. Does not belong here: reading.
"""

from __future__ import annotations

from collections.abc import Iterable

__all__ = [
    "ELECTRODES", "FIGURES", "HEATER_WORDS", "KINDS", "KNOWN_ELECTRODES", "LIMITS", "RATINGS",
    "section_of",
]  # fmt: skip

# Words of a text -> kind as the catalogue has it.
KINDS = {
    kind: kind
    for kind in (
        "triode", "tetrode", "remote-cutoff tetrode", "pentode", "beam pentode",
        "remote-cutoff pentode", "semiremote-cutoff pentode", "twin triode", "triode pentode",
        "remote-cutoff triode pentode",
        "diode triode", "duo-diode triode", "triple-diode triode", "diode pentode",
        "duo-diode pentode", "twin diode", "pentagrid converter", "octode converter",
        "triode heptode converter", "triode hexode converter", "half-wave rectifier",
        "full-wave rectifier", "doubler rectifier", "tuning eye",
    )
} | {
    "sharp-cutoff pentode": "pentode", "duo-diode": "twin diode", "double triode": "twin triode",
}  # fmt: skip

RATINGS = {
    "design-centre": "design-centre", "design-center": "design-centre",
    "design-maximum": "design-maximum", "absolute": "absolute", "absolute-maximum": "absolute",
}  # fmt: skip

HEATER_WORDS = frozenset({"heater", "h", "filament", "f"})

# Short and other words for electrodes.
ELECTRODES = {
    "anode": "plate", "p": "plate", "k": "cathode", "grid": "g1", "g": "g1", "screen": "g2",
    "suppressor": "g3", "s": "shell", "d1": "diode1", "d2": "diode2", "d3": "diode3",
    "d": "diode1", "diode": "diode1", "is": "shield", "internal-shield": "shield",
    "anode1": "plate1", "anode2": "plate2", "p1": "plate1", "p2": "plate2", "k1": "cathode1",
    "k2": "cathode2", "heater-tap": "tap", "t": "target",
}  # fmt: skip

KNOWN_ELECTRODES = frozenset(
    (
        "plate", "plate1", "plate2", "g1", "g2", "g3", "g4", "g5", "g6", "grid1", "grid2",
        "cathode", "cathode1", "cathode2", "diode1", "diode2", "diode3", "target", "shell",
        "shield", "tap", "triode-plate", "triode-grid", "triode-cathode", "heater1", "heater2",
    )
)  # fmt: skip

# limit WORD, dimension of its value -> name of the limit in TubeType.limits.
LIMITS = {
    ("plate", "voltage"): "plate-v", ("plate", "power"): "plate-w",
    ("plate", "voltage-ac"): "plate-ac-v", ("screen", "voltage"): "screen-v",
    ("screen", "power"): "screen-w", ("screen-supply", "voltage"): "screen-supply-v",
    ("cathode", "current"): "cathode-a", ("heater-cathode", "voltage"): "heater-cathode-v",
    ("inverse", "voltage"): "inverse-v", ("output", "current"): "output-a",
    ("reservoir", "capacitance"): "reservoir-f", ("impedance", "resistance"): "impedance-ohm",
    ("drop", "voltage"): "drop-v", ("drop", "current"): "drop-a",
    ("grid", "resistance"): "grid-ohm-cathode", ("grid-fixed", "resistance"): "grid-ohm-fixed",
    ("peak", "current"): "peak-a", ("diode", "current"): "diode-a",
    ("oscillator-plate", "voltage"): "oscillator-plate-v",
    ("oscillator-plate", "power"): "oscillator-plate-w",
    ("triode-plate", "voltage"): "triode-plate-v", ("triode-plate", "power"): "triode-plate-w",
    ("triode-cathode", "current"): "triode-cathode-a", ("target", "voltage"): "target-v",
    ("target-least", "voltage"): "target-min-v",
}  # fmt: skip

# Figures of a point and the dimension of each.
FIGURES = {
    "gm": "conductance", "rp": "resistance", "mu": "ratio", "load": "resistance",
    "output": "power", "bias": "resistance",
}  # fmt: skip


def section_of(electrodes: Iterable[str], names: set[str], chief: str) -> str:
    """The section a point belongs to: by a numbered or triode electrode, else the chief one."""
    for electrode in electrodes:
        for stem in ("plate", "grid", "cathode"):
            if electrode in (f"{stem}1", f"{stem}2") and f"triode{electrode[-1]}" in names:
                return f"triode{electrode[-1]}"
        if electrode.startswith("triode-") and "triode" in names:
            return "triode"
        if electrode.startswith("diode") and electrode in names:
            return electrode
    return chief
