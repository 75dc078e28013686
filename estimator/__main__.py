"""``python -m estimator`` and the ``estimator`` command."""

from __future__ import annotations

import gc
import signal
import sys


def main() -> None:
    """Run the command line; every error becomes words and an exit status."""
    # a command makes very many small records that last as long as it does: looking through them for garbage
    # at the usual pace takes one part in ten of its time; at this one its memory grows by a few megabytes
    gc.set_threshold(250_000, 20, 100)
    try:
        from estimator.cli.main import run

        status = run(sys.argv[1:])
        _deaf()
    except KeyboardInterrupt:  # before there was a command that could say so
        _deaf()
        print("stopped; nothing was half-written", file=sys.stderr)
        status = 130
    # on its way out the interpreter looks through all that is left, though nothing of it is needed: that took as long
    # as the solving
    gc.freeze()
    sys.exit(status)


def _deaf() -> None:
    """Hear no Ctrl-C any more: all is written and said, and an interpreter that leaves is killed by it without a word."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


if __name__ == "__main__":
    main()
