"""Growth: what a part costs in a set of two thousand parts, beside one in a set of a hundred.

Stressed: invented sets of 100 and of 2,000 parts (the largest domestic sets have some 400), each
read, wired and linted in all states in a process of its own that is held to one thread, with its
processor time by stage and the most memory it had. Left out: sets of usual size (test_solver.py).

Marks of the project: the time of a part grows at most 3 x from 100 to 2,000 parts; 2,000 parts in
at most 500 MiB. Where a bound below is wider than its mark, the mark is not reached yet and the
bound only keeps what is.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

Note = Callable[[str, object], None]

MARK, MEMORY_MARK_MIB = 3.0, 500
# Measured 310 to 490: the allocator keeps more on one machine than on another.
MEMORY_BOUND_MIB = 560
# By stage. Measured 2.6 of a lint, most of it what rules ask of every part in every state.
BOUNDS = {"read": 3.0, "wire": 3.0, "lint": 3.5}
SCRIPT = """
import json, resource, sys, time
from netcheck.circuit import Circuit
from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._runner import lint
from tests.circuit.generated import a_set

rules = tuple(builtin())
lint(read(a_set(5, 30)), rules)  # catalogue and laws are read once

def least(work):
    taken = []
    for _ in range(int(sys.argv[2])):
        before = time.process_time()
        found = work()
        taken.append(time.process_time() - before)
    return min(taken), found

text = a_set(29, int(sys.argv[1]))
read_s, chassis = least(lambda: read(text))

def wire():
    wiring = Circuit(chassis).wiring
    return wiring.roles, wiring.leads

wire_s, _ = least(wire)
lint_s, report = least(lambda: lint(chassis, rules))
most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps({"parts": len(chassis.parts), "read": read_s, "wire": wire_s, "lint": lint_s,
                  "mib": most, "solved": report.solved}))
"""


def measured(checkout: Path, parts: int, runs: int) -> dict[str, float]:
    """Seconds by stage and MiB of a set of so many parts."""
    own = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(checkout)}
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(parts), str(runs)],
        capture_output=True, cwd=checkout, check=True, text=True, env=own,
    )  # fmt: skip
    found: dict[str, float] = json.loads(done.stdout)
    return found


def test_a_part_costs_little_more_in_a_set_of_two_thousand(
    checkout: Path, record_property: Note
) -> None:
    small, large = measured(checkout, 100, 5), measured(checkout, 2000, 3)
    assert 95 <= small["parts"] <= 106
    assert large["parts"] >= 1990
    assert small["solved"]
    assert large["solved"]
    growth = {}
    for stage in BOUNDS:
        each = [found[stage] / found["parts"] for found in (small, large)]
        growth[stage] = each[1] / each[0]
        record_property(f"{stage}, a part of 2000 [ms]", f"{each[1] * 1e3:.2f}")
        record_property(f"{stage}, growth (mark {MARK:g})", f"{growth[stage]:.1f}")
    record_property(f"2000 parts [MiB] (mark {MEMORY_MARK_MIB})", f"{large['mib']:.0f}")
    assert {stage: times for stage, times in growth.items() if times > BOUNDS[stage]} == {}
    assert large["mib"] <= MEMORY_BOUND_MIB
