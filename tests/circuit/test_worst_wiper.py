"""Controls count where they do most harm: the wiper at either end, never at both at once."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from random import Random

import pytest

from netcheck.circuit.wiring import Wiring
from netcheck.language import read

Wired = Callable[[str], Wiring]
LINE = "line 117 V 60 Hz\nP1 plug, not polarized: 1 LINE, 2 B-\n"


@pytest.mark.parametrize(
    ("text", "net", "ohm"),
    [
        # To the wiper at either end 0 ohm, through the whole track all of it.
        ("R1 control, 1 meg: TOP to VOL to B-", "VOL", 0.0),
        ("R1 control, 1 meg: TOP to VOL to B-", "TOP", 1e6),
        ("R1 control, 1 meg, measured 1.1 meg: TOP to VOL to B-", "TOP", 1.1e6),
        # A rheostat at its end.
        ("R1 control, 1 meg: TOP to B-", "TOP", 0.0),
        # Full volume, then a balance control with its wiper on B- at its end.
        ("R1 control, 1 meg: TOP to VOL to B-\nR2 control, 2 meg: VOL to B- to OTHER", "TOP", 0.0),
        # The wiper leads on through 47K: its end and 47K are less than the track.
        ("R1 control, 1 meg: TOP to VOL to B-\nR2 47K: VOL to B-", "TOP", 47e3),
        # The other end of the track, reached by the wiper that 47K joins to B-: not through 0 ohm
        # from one end of the track to the other.
        ("R1 control, 1 meg: TOP to VOL to FAR\nR2 47K: TOP to B-\nR3 47K: VOL to B-", "FAR", 47e3),
        ("R1 control, 1 meg: TOP to VOL to FAR\nR2 1K: TOP to B-\nR3 47K: VOL to B-", "FAR", 47e3),
        ("R1 control, 1 meg: TOP to VOL to FAR\nR2 1K: TOP to B-", "FAR", 1.001e6),
        # A tap is a place of the wiper like the ends.
        ("R1 control, 1 meg: TOP to TAP to B-, wiper VOL", "VOL", 0.0),
        ("R1 control, 1 meg: TOP to TAP to B-, wiper VOL", "TOP", 1e6),
        ("R1 control, 1 meg: TOP to TAP to B-, wiper VOL", "TAP", 500e3),
    ],
)
def test_line_ohm(wired: Wired, text: str, net: str, ohm: float) -> None:
    w = wired(LINE + text + "\n")
    assert w.line_ohm(net) == pytest.approx(ohm)


def test_the_path_has_the_ohms_that_were_counted(wired: Wired) -> None:
    w = wired(LINE + "R1 control, 1 meg: TOP to VOL to FAR\nR2 1K: TOP to B-\nR3 47K: VOL to B-\n")
    assert [e.ref for e in w.line_path("FAR")] == ["R1", "R3"]
    assert [e.ref for e in w.line_path("VOL")] == ["R1", "R2"]
    assert w.line_ohm("VOL") == pytest.approx(1e3)
    (track, cut) = wired(
        LINE + "R1 control, 1 meg: TOP to VOL to FAR\nR2 1K: TOP to B-\n"
    ).line_path("FAR")
    assert (track.ref, track.ohm, set(track.nets)) == ("R1", 1e6, {"TOP", "FAR"})
    assert cut.ref == "R2"


def test_a_jack_on_a_wiper_is_live_at_the_end_of_the_track(wired: Wired) -> None:
    """At minimum volume nothing but the wiper is between B- and the jack."""
    w = wired(LINE + "R1 control, 500K: TOP to WIPED to B-\nJ1 phono: WIPED\ntouchable: WIPED\n")
    assert "WIPED" in w.touchable & w.line_side


def test_a_jack_behind_a_whole_track_is_behind_a_bridge(wired: Wired) -> None:
    w = wired(LINE + "R1 control, 500K: PU to VOL to B-\nJ1 phono: PU\ntouchable: PU\n")
    assert "PU" not in w.line_side
    assert {e.ref for e in w.barrier()} == {"R1"}


def test_the_elements_of_a_set_do_not_change(wired: Wired) -> None:
    w = wired(LINE + "R1 control, 1 meg: TOP to VOL to B-\n")
    assert [(e.a, e.b, e.ohm) for e in w.of("R1")] == [("TOP", "VOL", 5e5), ("VOL", "B-", 5e5)]


# --- against trying every place of every wiper

_Edge = tuple[str, str, float]


def _least(edges: list[_Edge], starts: list[str]) -> dict[str, float]:
    """Ohms of the shortest way to every net, by relaxing every edge until nothing changes."""
    ohm = dict.fromkeys(starts, 0.0)
    changed = True
    while changed:
        changed = False
        for a, b, r in [*edges, *((b, a, r) for a, b, r in edges)]:
            if a in ohm and ohm[a] + r < ohm.get(b, float("inf")):
                ohm[b] = ohm[a] + r
                changed = True
    return ohm


@pytest.mark.parametrize("seed", range(60))
def test_every_place_of_every_wiper(wired: Wired, seed: int) -> None:
    """The least over all wipers at either end, from a random set of resistors and controls."""
    some = Random(seed)
    nets = [f"N{i}" for i in range(some.randint(3, 6))] + ["B-"]
    fixed: list[_Edge] = []
    controls: list[tuple[str, str, str, float]] = []
    text = LINE
    for i in range(some.randint(1, 4)):
        a, b = some.sample(nets, 2)
        fixed.append((a, b, 1e3 * (i + 1)))
        text += f"R{i + 1} {i + 1}K: {a} to {b}\n"
    for i in range(some.randint(1, 3)):
        a, wiper, b = some.sample(nets, 3)
        controls.append((a, wiper, b, 1e4 * (i + 1)))
        text += f"R{i + 20} control, {10 * (i + 1)}K: {a} to {wiper} to {b}\n"
    best: dict[str, float] = {}
    for places in product((0.0, 1.0), repeat=len(controls)):
        edges = list(fixed)
        for (a, wiper, b, r), place in zip(controls, places, strict=True):
            edges += [(a, wiper, r * place), (wiper, b, r * (1 - place))]
        for net, ohm in _least(edges, ["LINE", "B-"]).items():
            best[net] = min(ohm, best.get(net, float("inf")))
    w = Wiring(read(text))
    for net in w.nets:
        assert w.line_ohm(net) == (pytest.approx(best[net]) if net in best else None), net
