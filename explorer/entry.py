"""Where the command starts: signals are heeded before anything else is loaded."""

from __future__ import annotations

import sys

from explorer.stopping import heeded


def main() -> int:
    """Run what was typed; the exit status."""
    with heeded():
        from explorer import cli

        return cli.main()


if __name__ == "__main__":
    sys.exit(main())
