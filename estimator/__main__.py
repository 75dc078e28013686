"""``python -m estimator`` and the ``estimator`` command."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line; every error becomes words and an exit status."""
    from estimator.cli.main import run

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
