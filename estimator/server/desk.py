"""What the page works with: the shop, its folder of jobs, the answers, the ledger; and who solves ahead."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from estimator.ledger.store import NAME, Ledger
from estimator.server.folder import JobFile, JobFolder

if TYPE_CHECKING:
    from estimator.batch.records import JointAnswer
    from estimator.model import Job, Shop
    from estimator.plan.plan import Plan
    from estimator.price.client.menu import MenuRow
    from estimator.server.answers import Answers
    from estimator.server.entries import Entries
    from estimator.server.pairing import Pairing
    from estimator.tables.toml.text import TomlFile

REST_S = 0.6
"""Seconds without a question after which the next limits are solved ahead."""


class Asked(Struct, frozen=True):
    """A job with the entries of a page put in: the file it is from, its values, the job as the file says.

    ``hides``: whether a customer looks on, whatever the address of the page says.
    """

    file: JobFile
    entries: Entries
    toml: TomlFile
    in_file: Job
    job: Job
    values: TomlFile
    hides: bool = False

    @property
    def seen(self) -> Entries:
        """The entries as they bear on what is shown: while a customer looks nothing of the shop's own money is."""
        return replace(self.entries, looking=True) if self.hides else self.entries


@dataclass(slots=True)
class Desk:
    """One shop at one folder. ``word``: what every form of this start carries.

    ``tables``: the folder of the shop's own tables; ``numbers``: how often these were changed since the start.
    ``looking``: a customer looks on, so no page shows what is the shop's own money.

    ``menu``, ``weeks`` and ``read`` hold what was worked out or read before: the menu, plans by the versions of
    their files, and job files by theirs. What answers is loaded when it is first asked: the page is up before.
    """

    shop: Shop
    folder: JobFolder
    books: Path | None = None
    tables: Path | None = None
    word: str = ""
    numbers: int = 0
    looking: bool = field(init=False)
    menu: tuple[MenuRow, ...] | None = None
    weeks: dict[str, Plan | JointAnswer] = field(default_factory=dict)
    read: dict[str, tuple[str, TomlFile, Job]] = field(default_factory=dict)
    pairing: Pairing | None = None
    ahead: Ahead = field(init=False)
    _answers: Answers | None = field(init=False, default=None)
    _one: threading.Lock = field(init=False, default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self.looking = self.folder.customer_looks
        self.ahead = Ahead(self)

    @property
    def answers(self) -> Answers:
        """The answers of this shop, the same for all who ask."""
        from estimator.server.answers import Answers

        with self._one:
            if self._answers is None:
                self._answers = Answers(self.shop)
            return self._answers

    def read_tables(self) -> None:
        """The shop read anew after its own tables were changed; what was worked out before is forgotten."""
        from estimator.tables.load import load_shop

        shop = load_shop(self.tables)
        with self._one:
            self.shop, self._answers, self.menu = shop, None, None
            self.weeks.clear()
            self.read.clear()
            self.numbers += 1

    def ask(self, name: str, entries: Entries) -> Asked:
        """A job by the name of its file, with the entries; InputError for what cannot be read."""
        from estimator.input.job.load import job_from
        from estimator.server.entries import Entries, job_with
        from estimator.tables.toml.text import parse_toml

        file = self.folder.read(name)
        known = self.read.get(name)
        if known is None or known[0] != file.version:
            toml = parse_toml(file.data, file.path.name)
            known = self.read[name] = (file.version, toml, job_from(toml, self.shop))
        _, toml, in_file = known
        if entries == Entries():
            return Asked(file, entries, toml, in_file, in_file, toml, self.looking)
        job, values = job_with(toml, self.shop, entries)
        return Asked(file, entries, toml, in_file, job, values, self.looking)

    def change(self, asked: Asked, changes: Mapping[tuple[str, ...], object], version: str) -> None:
        """Write changed values into a job's file, as far as it can be read with them.

        ChangedError where the file is not that of ``version`` any more.
        """
        from estimator.input.job.edit import edited
        from estimator.input.job.load import job_from
        from estimator.tables.toml.text import parse_toml

        file = asked.file
        text = edited(file.text, changes, file.path.name) if changes else file.text
        job_from(parse_toml(text.encode(), file.path.name), self.shop)
        if changes or file.version != version:
            self.folder.save(file.name, text, version)

    @property
    def ledger_path(self) -> Path:
        """Where the ledger is, or would be."""
        return self.books if self.books is not None else self.folder.root / NAME

    @contextmanager
    def ledger(self, new: bool = False) -> Iterator[Ledger | None]:
        """The ledger, open; None where there is none. ``new``: it is begun then."""
        if not new and not self.ledger_path.exists():
            yield None
            return
        with Ledger(self.ledger_path, new=new) as books:
            yield books


class Ahead:
    """Solves the next limits of what was asked last, while nobody asks anything."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._latest: Asked | None = None
        self._at = 0.0
        self._wake = threading.Event()
        self._stopped = threading.Event()
        self._thread: threading.Thread | None = None

    def begin(self) -> None:
        """Start; it ends with the program, or by ``stop``."""
        self._thread = threading.Thread(target=self._run, name="ahead", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End after what is being solved."""
        self._stopped.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join(timeout=30)

    def asked(self, latest: Asked) -> None:
        """What was asked last: it is looked ahead from there."""
        self._latest, self._at = latest, time.monotonic()
        self._wake.set()

    def busy(self) -> None:
        """Somebody asks something: wait."""
        self._at = time.monotonic()

    def _run(self) -> None:
        while not self._stopped.is_set():
            self._wake.wait()
            if self._stopped.is_set():
                return
            rest = self._at + REST_S - time.monotonic()
            if rest > 0:
                time.sleep(rest)
                continue
            latest = self._latest
            more = False
            if latest is not None:
                with suppress(
                    Exception
                ):  # whoever asks for it is told; looking ahead goes on with what is asked next
                    more = self.desk.answers.look_ahead(latest.values, latest.job, latest.entries.aim)
            if not more and latest is self._latest:
                self._wake.clear()
