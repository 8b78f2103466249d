"""`python -m netcheck`: the commands where the console script is not on the path."""

from __future__ import annotations

from netcheck.cli import main

if __name__ == "__main__":
    main()
