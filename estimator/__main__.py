"""``python -m estimator`` and the ``estimator`` command."""

from __future__ import annotations

import gc
import signal
import sys


def main() -> None:
    """Run the command line; every error becomes words and an exit status."""
    # a command makes very many small records that last as long as it does: looking through them for garbage
    # at the usual pace takes one part in ten of its time. At this one most commands never do, and none that was
    # measured needs more memory (a plan of twelve jobs, 870 MB either way); the worst that can come of it is half a
    # million things that only point at themselves (measured: 46 MB of lists, 107 of mappings) before they are looked for
    gc.set_threshold(500_000, 20, 100)
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
