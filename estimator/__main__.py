"""``python -m estimator`` and the ``estimator`` command."""

from __future__ import annotations

import gc
import sys


def main() -> None:
    """Run the command line; every error becomes words and an exit status."""
    # a command makes very many small records that last as long as it does: looking through them for garbage
    # at the usual pace takes one part in ten of its time; at this one its memory grows by a few megabytes
    gc.set_threshold(250_000, 20, 100)
    try:
        from estimator.cli.main import run

        status = run(sys.argv[1:])
    except KeyboardInterrupt:  # before there was a command that could say so
        print("stopped; nothing was half-written", file=sys.stderr)
        status = 130
    # on its way out the interpreter looks through all that is left, though nothing of it is needed: that took as long
    # as the solving
    gc.freeze()
    sys.exit(status)


if __name__ == "__main__":
    main()
