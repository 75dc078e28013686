"""``python -m tests.fuzz --minutes 20 --seed 1``: damaged files before every reader, as many as the time allows.

Tells every case after which something did not hold, each kind once with the command that shows it and where its
file was kept (``--keep FOLDER``).
"""

from __future__ import annotations

import argparse
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from itertools import cycle
from pathlib import Path
from time import monotonic

from tests.fuzz.cases import Case, default_shop_read_once, tried
from tests.fuzz.page import SENT, sent_to_page
from tests.fuzz.readers import BY_NAME, READERS, Reader, Seeds


def main() -> int:
    """Try cases until the time is up; 1 if anything did not hold."""
    asked = _asked()
    readers = [BY_NAME[name] for name in asked.only] or list(READERS)
    with tempfile.TemporaryDirectory() as place, default_shop_read_once():
        found, counted, statuses = _all(readers, Seeds(Path(place)), asked)
    print(
        f"{sum(counted.values())} cases of {len(counted)} readers; exit statuses {dict(sorted(statuses.items()))}"
    )
    for words, case in found.items():
        print(f"\n{words}\n  {case.reader}, seed {case.seed}: {case.done}\n  estimator {' '.join(case.line)}")
        print(f"  {case.said[:500]}")
        if asked.keep:
            kept = Path(asked.keep) / f"{case.reader}-{case.seed}"
            kept.parent.mkdir(parents=True, exist_ok=True)
            kept.write_bytes(case.data)
    return 1 if found else 0


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz")
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=[], choices=sorted(BY_NAME), metavar="READER")
    parser.add_argument(
        "--keep", metavar="FOLDER", help="keep the damaged files after which something did not hold"
    )
    return parser.parse_args()


def _in_turn(readers: list[Reader], alone: bool) -> Iterator[Reader | str]:
    """Without end: a file of the shop's tables, which are many, others, what is sent to the page, now and then a slow one."""
    tables = [reader for reader in readers if reader.name.startswith("table-")]
    slow = [reader for reader in readers if reader.slow]
    others = [reader for reader in readers if reader not in tables and reader not in slow]
    page = [] if alone else list(SENT)
    turns = [cycle(each) for each in (tables, others, page, tables, others, slow, page) if each]
    while True:
        yield from (next(turn) for turn in turns)


def _all(
    readers: list[Reader], seeds: Seeds, asked: argparse.Namespace
) -> tuple[dict[str, Case], Counter[str], Counter[int]]:
    until, found = monotonic() + 60 * asked.minutes, {}
    statuses: Counter[int] = Counter()
    numbers: Counter[str] = Counter()
    for reader in _in_turn(readers, bool(asked.only)):
        if monotonic() > until:
            break
        name = reader if isinstance(reader, str) else reader.name
        seed = f"{asked.seed}.{numbers[name]}"
        case = sent_to_page(name, seeds, seed) if isinstance(reader, str) else tried(reader, seeds, seed)
        numbers[name] += 1
        statuses[case.status] += 1
        for wrong in case.wrong:
            sign = f"{wrong.partition(':')[0]} | {name.partition('-')[0]} | {re.sub(r'“[^”]*”|[0-9]+', '', case.said)[-110:]}"
            if sign not in found:
                found[sign] = case
                print(f"{case.reader} {case.seed}: {wrong}", file=sys.stderr, flush=True)
    return found, numbers, statuses


if __name__ == "__main__":
    sys.exit(main())
