"""Reading the description of a part: its clauses, its windings, and the part it replaces.

Belongs here: the order of what stands between the reference and the colon. Does not belong here:
the items of a clause (clauses.py, values.py), terminals.
"""

from __future__ import annotations

from collections.abc import Set

from lark import Token, Tree

from netcheck.language.clauses import Clause
from netcheck.language.drafts import DescriptionDraft, Draft, Item, is_token
from netcheck.language.vocabulary import WINDING_SYNONYMS

__all__ = ["check_whole", "describe"]

# Roles that may have several figures whatever the part is.
_MANY = frozenset({"tolerance", "frequency", "impedance", "to-impedance"})


def describe(draft: Draft, tree: Tree[Token], notation_m: float | None) -> None:
    """Fill the draft's description from a `description` or `tube_description` tree.

    Mistakes are noted in the draft, which is then broken.
    """
    draft.description.text = draft.words_of(tree)
    draft.description.span = draft.place(tree)
    beside_type: list[Item] = []
    for child in tree.children:
        if is_token(child, "TUBE_TYPE"):
            draft.tube_name = str(child)
            draft.spans["type"] = draft.place(child)
        elif isinstance(child, Tree) and child.data == "tube_replaces":
            draft.replaces = _replaced_type(draft, child)
        elif isinstance(child, Tree) and child.data == "replaces":
            draft.replaces = _replaced(draft, child, notation_m)
        elif isinstance(child, Tree) and child.data == "clause":
            _read_clause(draft, child, notation_m, draft.labels)
        else:
            beside_type.append(child)
    Clause(draft, beside_type, notation_m, draft.description).read()


def check_whole(draft: Draft) -> None:
    """Check what only the whole part shows: values along a path against its sections."""
    by_name = {path.name: len(path.terminals) - 1 for path in draft.paths if not path.position}
    _check_counts(draft, draft.description, by_name.get("", 1))
    for name, winding in draft.description.windings.items():
        _check_counts(draft, winding, by_name.get(name, 1))


def _check_counts(draft: Draft, description: DescriptionDraft, sections: int) -> None:
    """Refuse more figures than a path has sections: 20-20 mfd is two capacitors, not one."""
    for role, value in description.values.items():
        count = len(value.amounts)
        if count < 2 or role in _MANY or (value.spread and "electrolytic" not in description.words):
            continue
        # Volts may be told at every end and tap (340-0-340), all else section by section.
        ends = role in ("voltage", "voltage-ac")
        allowed = (sections, sections + 1) if ends else (sections,)
        if sections > 1 and count in allowed:
            continue
        draft.wrong(
            f"{value.text} gives {count} values along a path of {sections} section"
            f"{'s' * (sections > 1)}"
            if sections > 1 or draft.kind in ("resistor", "coil", "transformer", "thermistor")
            else f"{value.text} is {count} values, and {draft.ref} is one part",
            value.span,
            "write one value for each section, in the order of the path"
            if sections > 1
            else "write one value; each section of a body has a line of its own (C1A, C1B)",
        )


def _read_clause(
    draft: Draft, tree: Tree[Token], notation_m: float | None, names: Set[str]
) -> None:
    items = list(tree.children)
    winding = _winding_name(draft, items, names)
    if winding is None:
        Clause(draft, items, notation_m, draft.description).read()
        return
    target = draft.description.windings.setdefault(winding, DescriptionDraft())
    target.span = draft.place(tree)
    target.text = draft.words_of(tree)
    Clause(draft, items[1:], notation_m, target, winding=winding).read()


def _winding_name(draft: Draft, items: list[Item], names: Set[str]) -> str | None:
    """The winding a clause is about: its one word before a value or `reversed`.

    `antenna 1.2 ohm` speaks of the winding called antenna; `loop antenna` and `field` say what
    the part is, though windings may have those names too.
    """
    first, *rest = items
    if draft.kind not in ("coil", "transformer") or not is_token(first, "WORD") or not rest:
        return None
    word = str(first).casefold()
    word = WINDING_SYNONYMS.get(word, word)
    second = rest[0]
    told = not is_token(second, "WORD") or str(second).casefold() in ("reversed", "hot")
    return word if word in names and told else None


def _replaced(draft: Draft, tree: Tree[Token], notation_m: float | None) -> DescriptionDraft:
    old = DescriptionDraft(text=draft.words_of(tree), span=draft.place(tree))
    _, *rest = tree.children
    draft.spans["replaces"] = old.span or draft.span
    clauses: list[list[Item]] = [[]]
    for child in rest:
        if isinstance(child, Tree) and child.data == "clause":
            clauses.append(list(child.children))
        else:
            clauses[0].append(child)
    for items in clauses:
        Clause(draft, items, notation_m, old, old=True).read()
    return old


def _replaced_type(draft: Draft, tree: Tree[Token]) -> DescriptionDraft:
    span = draft.place(tree)
    draft.spans["replaces"] = span
    return DescriptionDraft(designation=str(tree.children[1]), text=draft.words_of(tree), span=span)
