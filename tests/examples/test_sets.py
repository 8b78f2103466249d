"""What several sets promise alike: clean when restored, nothing of the line where there is none.

Belongs here: one promise, the sets that make it. Does not belong here: what one set as found must
show (its own module), what every example promises (test_examples.py).
"""

from __future__ import annotations

import pytest

from netcheck.findings import Harm

from .shown import chassis_of, shown

CLEAN = ("hollin-lock-in", "marram-portable", "pennick-phonograph", "plovermere-three-way",
         "thorley-car")  # fmt: skip
WITHOUT_A_LINE = ("marram-portable", "thorley-car")
OF_THE_LINE = {
    "unfused-hot-lead", "plug-not-polarized", "switch-in-neutral", "line-capacitor-class",
    "antenna-isolation", "live-chassis", "line-not-stated", "aged-cord",
}  # fmt: skip


@pytest.mark.parametrize("name", CLEAN)
def test_the_restored_set_is_clean_without_an_acceptance(name: str) -> None:
    stem = f"{name}-restored"

    assert shown(stem, Harm.DAMAGE) == set()
    assert chassis_of(stem).acceptances == ()


@pytest.mark.parametrize("condition", ["as-found", "restored"])
@pytest.mark.parametrize("name", WITHOUT_A_LINE)
def test_no_rule_of_the_line_speaks_of_a_set_without_one(name: str, condition: str) -> None:
    assert {rule for rule, _, _ in shown(f"{name}-{condition}")} & OF_THE_LINE == set()
