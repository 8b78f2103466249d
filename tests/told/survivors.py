"""The slips that no test sees, each listed with the reason why that is borne.

Belongs here: the pages of `survivors/`, made out of a run of mutation.py and read back. Does not
belong here: making or running mutants.

    python -m tests.told.survivors [FOLDER]

brings the pages up to date with FOLDER/results.json: what is seen now leaves its page, and what is
new stands under "no reason yet" until somebody kills it or says why it may live. Without a FOLDER
it takes out the lines whose code is not there any more, which is enough after a change. One page a
module; under each reason one slip a line: `function: what stands there «old»→«new» what follows`.

A reason that begins with `a gap:` calls nothing harmless: it says what no text of ours has, and a
corner case that has it is welcome. Most reasons were given to a kind of slip, not to one by one.
"""

from __future__ import annotations

import ast
import itertools
import json
import sys
import textwrap
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from .mutation import ROOT, SURVIVED, UNREACHED

PAGES = Path(__file__).with_name("survivors")
NO_REASON = "no reason yet"
# So many characters of what stands around a slip are listed with it.
AROUND = 36


def survivors(folder: Path) -> dict[str, list[str]]:
    """The slips that survived in the run of `folder`, by module."""
    results = json.loads((folder / "results.json").read_text("utf-8"))
    names = [name for name, said in results.items() if said in (SURVIVED, UNREACHED)]
    found: dict[str, list[str]] = {}
    for name in names:
        module, _, of = name.rpartition(".")
        path = folder / "mutants" / f"{module.replace('.', '/')}.py"
        function = of.rpartition("__mutmut_")[0]
        old, new = _mutated(path, f"{function}__mutmut_orig"), _mutated(path, of)
        found.setdefault(module, []).append(f"{_plain(function)}: {_slip(old, new)}")
    return {module: sorted(slips) for module, slips in sorted(found.items())}


def tried(folder: Path) -> set[str]:
    """The modules of which a mutant was run."""
    results = json.loads((folder / "results.json").read_text("utf-8"))
    return {name.rpartition(".")[0] for name in results}


@cache
def _module(path: Path) -> tuple[list[str], dict[str, tuple[int, int]]]:
    """The lines of a mutated module, and those of each function by mutmut's name of it."""
    spans = json.loads(path.with_suffix(".py.spans").read_text("utf-8"))["spans"]
    return path.read_text("utf-8").splitlines(), spans


@cache
def _mutated(path: Path, name: str) -> str:
    lines, spans = _module(path)
    first, end = spans[name]
    text = textwrap.dedent("\n".join(lines[first : end + 1]))
    (function,) = ast.parse(text).body
    assert isinstance(function, ast.FunctionDef)
    return _line(function)


def _line(function: ast.FunctionDef) -> str:
    """A function on one line, without its name and what decorates it."""
    # The header too: defaults of arguments are changed as well.
    function.name, function.decorator_list = "f", []
    return " ".join(ast.unparse(function).split())


def _plain(name: str) -> str:
    """The function's name as it is written: `x_name`, `xǁClassǁname`."""
    return ".".join(name.removeprefix("x_").removeprefix("x").strip("ǁ").split("ǁ"))


def _slip(old: str, new: str) -> str:
    """What differs between two bodies, with some of what stands around it."""
    start = _alike(old, new)
    most = min(len(old), len(new)) - start
    end = min(most, _alike(old[::-1], new[::-1]))
    # Not within a word, on neither side and in neither text.
    while start and any(_splits_word(text, start) for text in (old, new)):
        start -= 1
    while end and any(_splits_word(text, len(text) - end) for text in (old, new)):
        end -= 1
    left, right = old[:start][-AROUND:], old[len(old) - end :][:AROUND]
    return f"{left}«{old[start : len(old) - end]}»→«{new[start : len(new) - end]}»{right}"


def _alike(one: str, other: str) -> int:
    """How many letters two texts begin with alike."""
    pairs = zip(one, other, strict=False)
    return sum(1 for _ in itertools.takewhile(lambda pair: pair[0] == pair[1], pairs))


def _splits_word(text: str, at: int) -> bool:
    """Whether a place lies within a word of a text."""
    return 0 < at < len(text) and _is_word(text[at - 1]) and _is_word(text[at])


def _is_word(letter: str) -> bool:
    return letter.isalnum() or letter in "_."


def page_of(module: str) -> Path:
    """Where the slips of a module are listed."""
    return PAGES / f"{module.removeprefix('netcheck.')}.txt"


def module_of(page: Path) -> str:
    """The module that a page is of."""
    return f"netcheck.{page.stem}"


def around(slip: str) -> tuple[str, str]:
    """The function of a slip, and what stands in it at the slip."""
    function, _, rest = slip.partition(": ")
    left, _, rest = rest.partition("«")
    old, _, rest = rest.partition("»→«")
    return function, left + old + rest.rpartition("»")[2]


def listed(page: Path) -> Iterator[tuple[str, str]]:
    """The reason and the slip of each line of a page."""
    if not page.exists():
        return
    reason = ""
    for line in page.read_text("utf-8").splitlines():
        if line.startswith("=== "):
            reason = line.removeprefix("=== ")
        elif line:
            yield reason, line


def written(module: str, slips: list[str]) -> dict[str, list[str]]:
    """Slips by reason: those that are listed keep theirs."""
    reasons: dict[str, list[str]] = {}
    for reason, slip in listed(page_of(module)):
        reasons.setdefault(slip, []).append(reason)
    found: dict[str, list[str]] = {}
    for slip in slips:
        given = reasons.get(slip, [])
        reason = given.pop(0) if len(given) > 1 else (given or [NO_REASON])[0]
        found.setdefault(reason, []).append(slip)
    return found


def write(module: str, by_reason: dict[str, list[str]]) -> None:
    """Write the page of a module, or take it away when nothing is on it."""
    page = page_of(module)
    if not by_reason:
        page.unlink(missing_ok=True)
        return
    blocks = [f"=== {reason}\n" + "\n".join(by_reason[reason]) for reason in sorted(by_reason)]
    page.write_text("\n".join(blocks) + "\n", "utf-8")


def main(folder: Path) -> None:
    """Write the pages of the modules that were run, and tell what has no reason."""
    PAGES.mkdir(exist_ok=True)
    lived = survivors(folder)
    open_: Counter[str] = Counter()
    for module in sorted(tried(folder)):
        by_reason = written(module, lived.get(module, []))
        write(module, by_reason)
        open_[module] = len(by_reason.get(NO_REASON, ()))
    for module, count in open_.most_common():
        if count:
            sys.stdout.write(f"{count:5} without a reason: {module.removeprefix('netcheck.')}\n")


def tidy() -> None:
    """Take out the lines whose code is not there any more."""
    for page in PAGES.glob("*.txt"):
        kept: dict[str, list[str]] = {}
        for reason, slip in listed(page):
            if is_there(module_of(page), slip):
                kept.setdefault(reason, []).append(slip)
            else:
                sys.stdout.write(f"taken out: {page.stem} {slip}\n")
        write(module_of(page), kept)


def is_there(module: str, slip: str) -> bool:
    """Whether what a slip changes stands in its function."""
    function, before = around(slip)
    return before in source_of(module, function)


@cache
def source_of(module: str, function: str) -> str:
    """The text of a function as it stands, on one line as the pages have it; "" if it is gone."""
    path = ROOT / f"{module.replace('.', '/')}.py"
    body: list[ast.stmt] = ast.parse(path.read_text("utf-8")).body if path.exists() else []
    found = None
    for name in function.split("."):
        found = next((each for each in body if getattr(each, "name", None) == name), None)
        body = getattr(found, "body", [])
    return _line(found) if isinstance(found, ast.FunctionDef) else ""


if __name__ == "__main__":
    if sys.argv[1:]:
        main(Path(sys.argv[1]).resolve())
    else:
        tidy()
