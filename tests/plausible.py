"""Invents whole sets of 20 to 2,000 parts as a restorer writes them down, the same for a seed.

Belongs here: a title, tolerances, measured and replaced parts, headings, and several chassis fed
from one line, put upon the stages of circuit/generated.py. Does not belong here: those stages,
and what anybody makes of the sets. No maker built any of them.
"""

from __future__ import annotations

import random
import re
from itertools import count

from hypothesis import strategies as st

from .circuit.generated import a_set

__all__ = ["FEWEST", "MOST", "a_plausible_set", "plausible_sets"]

FEWEST, MOST = 20, 2000
# A receiver with its amplifier; what is larger is several of them on one plug.
_MOST_ON_A_CHASSIS = 120

_PART = re.compile(r"(?P<letters>[A-Z]+)(?P<number>\d+)(?P<section>[A-Z]?)\b(?P<rest>.*)")
_SHARED = ("CHASSIS", "LINEA", "LINEB")
_TOLERANCES = (" 5%", " 10%", " 20%", " 20%", "")


def a_plausible_set(seed: int, parts: int) -> str:
    """The text of an invented set of about so many parts; above 120 on several chassis."""
    chance = random.Random(seed)
    units = -(-parts // _MOST_ON_A_CHASSIS)
    numbers = count(seed * 1000)
    head, first = _unit(next(numbers), parts // units)
    if units > 1 and "line none" in head:  # measured rails only: no line to feed others from
        return a_plausible_set(seed + 100_003, parts)
    bodies = [first]
    while len(bodies) < units:
        other_head, body = _unit(next(numbers), parts // units)
        if other_head == head:  # of the same line
            bodies.append(body)
    lines = [f'set "Invented {seed}, {units} chassis", source "made by a program"', *head]
    taken: dict[str, int] = {}
    for number, body in enumerate(bodies, start=1):
        lines.append(f"# --- chassis {number}")
        lines += [_dressed(chance, line) for line in _renamed(body, number, taken)]
    return "\n".join(lines) + "\n"


def plausible_sets(most: int = _MOST_ON_A_CHASSIS) -> st.SearchStrategy[str]:
    """A hypothesis strategy: such sets of up to `most` parts; it shrinks to small ones."""
    return st.builds(a_plausible_set, st.integers(0, 10**6), st.integers(FEWEST, most))


def _unit(seed: int, parts: int) -> tuple[list[str], list[str]]:
    """The statements on the line and the measuring point, and the parts (with their holds)."""
    lines = a_set(seed, parts).splitlines()[1:]
    head = [line for line in lines if line.startswith(("line ", "measure "))]
    return head, [line for line in lines if line not in head]


def _renamed(body: list[str], unit: int, taken: dict[str, int]) -> list[str]:
    """The lines with references that go on counting, and nodes of this chassis only.

    The plug is on the first chassis; the others are wired to it.
    """
    if unit == 1:
        for line in body:
            if part := _PART.match(line):
                taken[part["letters"]] = max(taken.get(part["letters"], 0), int(part["number"]))
        return body
    body = [line for line in body if not line.startswith("P")]
    above = dict(taken)
    refs: dict[str, str] = {}
    for line in body:
        if part := _PART.match(line):
            number = above.get(part["letters"], 0) + int(part["number"])
            taken[part["letters"]] = max(taken.get(part["letters"], 0), number)
            refs[part["letters"] + part["number"]] = f"{part['letters']}{number}"
    return [_renamed_line(line, unit, refs) for line in body]


def _renamed_line(line: str, unit: int, refs: dict[str, str]) -> str:
    """Give one line the references and nodes of its chassis."""
    part = _PART.match(line)
    if part is None:
        return line
    description, _, terminals = part["rest"].partition(": ")

    def node(found: re.Match[str]) -> str:
        name = found[0]
        body, _, terminal = name.partition(".")
        if terminal:
            return f"{refs[body]}.{terminal}"
        return name if name in _SHARED else f"{name}U{unit}"

    new = re.sub(r"\b[A-Z][A-Z0-9]*(?:\.\w+)?\b", node, terminals)
    return f"{refs[part['letters'] + part['number']]}{part['section']}{description}: {new}"


def _dressed(chance: random.Random, line: str) -> str:
    """One line as it is written of an old set: its tolerance, and what the restorer did."""
    head, colon, terminals = line.partition(": ")
    if line.startswith("R") and " 1/2 W" in head:
        head = head.replace(" 1/2 W", " 1/2 W" + chance.choice(_TOLERANCES))
        if "measured" not in head and chance.random() < 0.2:
            head += f", new, replaces {head.partition(' ')[2]}"
    elif " mfd 630 V film" in head:
        head = _capacitor(chance, head)
    elif "450 V electrolytic" in head and chance.random() < 0.5:
        head += f", new, replaces {head.partition(' ')[2]}"
    return f"{head}{colon}{terminals}"


def _capacitor(chance: random.Random, head: str) -> str:
    ref, mfd, *_ = head.split()
    if float(mfd) < 0.001:
        return f"{ref} {float(mfd) * 1e6:g} mmf 500 V mica"
    paper = f"{mfd} mfd {chance.choice((400, 600))} V paper"
    kind = chance.random()
    if kind < 0.3:
        return f"{ref} {paper}"
    return f"{head}, new, replaces {paper}" if kind < 0.8 else head
