"""`python -m curewatch` is the command."""

from __future__ import annotations

import sys

from curewatch.commands.main import main

if __name__ == "__main__":
    sys.exit(main())
