"""The chassis language: text to chassis and back.

`read` and `read_file` never raise on a user's mistake: what they could not read is among the
findings of the chassis they return.
"""

from __future__ import annotations

from netcheck.language.files import read, read_file

__all__ = ["read", "read_file"]
