"""Reads what a program wrote to a pseudo-terminal, because two test modules look at one.

Belongs here: the bench side of a pseudo-terminal. Does not belong here: any test.
"""

from __future__ import annotations

import os


def read_to_the_end(terminal: int) -> bytes:
    """What was written to the other side of a pseudo-terminal, which ends in an error on Linux."""
    shown = b""
    try:
        while piece := os.read(terminal, 65536):
            shown += piece
    except OSError:
        pass
    finally:
        os.close(terminal)
    return shown
