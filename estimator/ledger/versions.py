"""The tables of the ledger as they came about: one list of steps per version, and no step is ever changed.

Money stands in whole cents, lengths of time in whole seconds, moments as text in UTC beside the minutes
that the shop's clock was ahead of it, quantities in whole millionths. Any program that opens SQLite files
reads these tables.
"""

from __future__ import annotations

APPLICATION = 0x42454E43
"""Marks the file as a ledger of this program (the letters BENC)."""

FIRST = (
    "CREATE TABLE customer (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE CHECK (name <> ''),"
    " contact TEXT NOT NULL DEFAULT '', erased_at TEXT)",
    "CREATE TABLE job (id TEXT PRIMARY KEY CHECK (id <> ''), customer INTEGER REFERENCES customer (id),"
    " kind TEXT NOT NULL, what TEXT NOT NULL, instrument TEXT NOT NULL, make TEXT NOT NULL DEFAULT '',"
    " model TEXT NOT NULL DEFAULT '', serial TEXT NOT NULL DEFAULT '', file TEXT NOT NULL DEFAULT '',"
    " currency TEXT NOT NULL, state TEXT NOT NULL, promised TEXT, accepted_quote TEXT REFERENCES quote (number))",
    "CREATE INDEX job_state ON job (state)",
    "CREATE INDEX job_customer ON job (customer)",
    "CREATE TABLE step (id INTEGER PRIMARY KEY, job TEXT NOT NULL REFERENCES job (id), state TEXT NOT NULL,"
    " at TEXT NOT NULL, ahead_min INTEGER NOT NULL, remark TEXT NOT NULL DEFAULT '')",
    "CREATE INDEX step_job ON step (job)",
    "CREATE TABLE quote_counter (year INTEGER PRIMARY KEY, last INTEGER NOT NULL)",
    "CREATE TABLE quote (number TEXT PRIMARY KEY, job TEXT NOT NULL REFERENCES job (id), at TEXT NOT NULL,"
    " ahead_min INTEGER NOT NULL, price_cents INTEGER NOT NULL, tax_cents INTEGER NOT NULL,"
    " to_pay_cents INTEGER NOT NULL, materials_cents INTEGER NOT NULL, currency TEXT NOT NULL,"
    " lines_json TEXT NOT NULL)",
    "CREATE INDEX quote_job ON quote (job)",
    "CREATE TRIGGER quote_stays BEFORE UPDATE ON quote BEGIN"
    " SELECT RAISE(ABORT, 'a quote stays as it was given'); END",
    "CREATE TRIGGER quote_is_kept BEFORE DELETE ON quote BEGIN"
    " SELECT RAISE(ABORT, 'a quote that was given is kept'); END",
    "CREATE TABLE payment (id INTEGER PRIMARY KEY, job TEXT NOT NULL REFERENCES job (id),"
    " kind TEXT NOT NULL, cents INTEGER NOT NULL CHECK (cents <> 0), currency TEXT NOT NULL,"
    " at TEXT NOT NULL, ahead_min INTEGER NOT NULL, remark TEXT NOT NULL DEFAULT '')",
    "CREATE INDEX payment_job ON payment (job)",
)
"""Customers, jobs and their steps, quotes, payments."""

TIMES = (
    "CREATE TABLE quote_task (quote TEXT NOT NULL REFERENCES quote (number), task TEXT NOT NULL,"
    " seconds INTEGER NOT NULL CHECK (seconds >= 0), PRIMARY KEY (quote, task))",
    "CREATE TABLE running (id INTEGER PRIMARY KEY, job TEXT NOT NULL REFERENCES job (id),"
    " task TEXT NOT NULL, kind TEXT NOT NULL CHECK (kind IN ('hands', 'cure')),"
    " began_at TEXT NOT NULL, began_ahead_min INTEGER NOT NULL, since_at TEXT,"
    " since_ahead_min INTEGER, before_s INTEGER NOT NULL DEFAULT 0 CHECK (before_s >= 0),"
    " UNIQUE (job, task, kind))",
    "CREATE UNIQUE INDEX one_pair_of_hands ON running (kind) WHERE kind = 'hands' AND since_at IS NOT NULL",
    "CREATE TABLE spell (id INTEGER PRIMARY KEY, job TEXT NOT NULL REFERENCES job (id),"
    " task TEXT NOT NULL, place TEXT NOT NULL DEFAULT '', kind TEXT NOT NULL,"
    " seconds INTEGER NOT NULL CHECK (seconds >= 0), source TEXT NOT NULL, began_at TEXT,"
    " at TEXT NOT NULL, ahead_min INTEGER NOT NULL, remark TEXT NOT NULL DEFAULT '',"
    " corrects INTEGER UNIQUE REFERENCES spell (id))",
    "CREATE INDEX spell_job ON spell (job, task, kind, seconds)",
    "CREATE VIEW time_taken AS SELECT * FROM spell"
    " WHERE NOT EXISTS (SELECT 1 FROM spell AS newer WHERE newer.corrects = spell.id)",
)
"""What a quote reckons with per task; what runs now; the times taken, with what they correct."""

STOCK = (
    "CREATE TABLE stock_move (id INTEGER PRIMARY KEY, item TEXT NOT NULL CHECK (item <> ''),"
    " kind TEXT NOT NULL CHECK (kind IN ('bought', 'used', 'counted', 'spoiled')),"
    " millionths INTEGER NOT NULL, counted_millionths INTEGER, cents INTEGER NOT NULL DEFAULT 0,"
    " currency TEXT NOT NULL DEFAULT '', job TEXT REFERENCES job (id), at TEXT NOT NULL,"
    " ahead_min INTEGER NOT NULL, remark TEXT NOT NULL DEFAULT '')",
    "CREATE INDEX stock_item ON stock_move (item)",
    "CREATE TABLE quote_need (quote TEXT NOT NULL REFERENCES quote (number), item TEXT NOT NULL,"
    " millionths INTEGER NOT NULL CHECK (millionths > 0), PRIMARY KEY (quote, item))",
)
"""What came into the stock and left it; what a quote needs of it."""

USED = (
    "CREATE TABLE quote_use (quote TEXT NOT NULL REFERENCES quote (number), task TEXT NOT NULL,"
    " item TEXT NOT NULL, millionths INTEGER NOT NULL CHECK (millionths > 0), PRIMARY KEY (quote, task, item))",
    "CREATE TABLE use_told (job TEXT NOT NULL REFERENCES job (id), task TEXT NOT NULL,"
    " how TEXT NOT NULL CHECK (how IN ('planned', 'changed', 'none')), at TEXT NOT NULL,"
    " ahead_min INTEGER NOT NULL, PRIMARY KEY (job, task))",
    "ALTER TABLE stock_move ADD COLUMN task TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE stock_move ADD COLUMN best_before TEXT",
    "CREATE INDEX stock_job ON stock_move (job, item)",
)
"""What a quote reckons each task to use, and what was said of it when the task ended; the day a thing keeps till."""

PAPERS = (
    "CREATE TABLE photo (id INTEGER PRIMARY KEY, job TEXT NOT NULL REFERENCES job (id),"
    " path TEXT NOT NULL CHECK (path <> ''), at TEXT NOT NULL, ahead_min INTEGER NOT NULL,"
    " remark TEXT NOT NULL DEFAULT '', UNIQUE (job, path))",
    "CREATE TABLE agreed (id INTEGER PRIMARY KEY, job TEXT NOT NULL REFERENCES job (id),"
    " words TEXT NOT NULL CHECK (words <> ''), quote TEXT REFERENCES quote (number), at TEXT NOT NULL,"
    " ahead_min INTEGER NOT NULL)",
    "CREATE INDEX agreed_job ON agreed (job)",
    "CREATE INDEX job_serial ON job (serial)",
    "CREATE TABLE invoice (number TEXT PRIMARY KEY, job TEXT NOT NULL REFERENCES job (id),"
    " quote TEXT NOT NULL UNIQUE REFERENCES quote (number), at TEXT NOT NULL, ahead_min INTEGER NOT NULL)",
    "CREATE INDEX invoice_job ON invoice (job)",
    "CREATE TRIGGER invoice_stays BEFORE UPDATE ON invoice BEGIN"
    " SELECT RAISE(ABORT, 'an invoice stays as it was given'); END",
    "CREATE TRIGGER invoice_is_kept BEFORE DELETE ON invoice BEGIN"
    " SELECT RAISE(ABORT, 'an invoice that was given is kept'); END",
)
"""Where photos of a job lie; what was agreed on the way in words, with the quote that says what it costs; invoices."""

PARCELS = (
    "CREATE TABLE parcel_news (id INTEGER PRIMARY KEY, seller TEXT NOT NULL CHECK (seller <> ''),"
    " item TEXT NOT NULL DEFAULT '', job TEXT REFERENCES job (id), upgrade TEXT NOT NULL DEFAULT '',"
    " expected TEXT, at TEXT NOT NULL, ahead_min INTEGER NOT NULL, remark TEXT NOT NULL DEFAULT '',"
    " CHECK (item = '' OR upgrade = ''), CHECK ((job IS NULL) = (upgrade = '')))",
)
"""What was heard of a parcel: the day it is expected now, none once it came; all of a seller's, or one thing of it."""

LEARNING = (
    "CREATE TABLE learning (id INTEGER PRIMARY KEY, at TEXT NOT NULL, ahead_min INTEGER NOT NULL,"
    " taken_back_at TEXT)",
    "CREATE TABLE learning_file (learning INTEGER NOT NULL REFERENCES learning (id), file TEXT NOT NULL,"
    " before TEXT, after TEXT NOT NULL, PRIMARY KEY (learning, file))",
    "CREATE TABLE learned (id INTEGER PRIMARY KEY, learning INTEGER NOT NULL REFERENCES learning (id),"
    " task TEXT NOT NULL, millionths INTEGER NOT NULL CHECK (millionths > 0), jobs INTEGER NOT NULL,"
    " at TEXT NOT NULL, taken_back_at TEXT)",
    "CREATE INDEX learned_task ON learned (task, at)",
)
"""What was taken over of the shop's own times, by what each task was multiplied, and how its files were before."""

OWN_NUMBERS = (
    "ALTER TABLE spell ADD COLUMN redone INTEGER NOT NULL DEFAULT 0 CHECK (redone IN (0, 1))",
    "CREATE TABLE quote_chance (quote TEXT NOT NULL REFERENCES quote (number), task TEXT NOT NULL,"
    " hundredths INTEGER NOT NULL CHECK (hundredths >= 0), PRIMARY KEY (quote, task))",
    "CREATE TABLE listing (job TEXT PRIMARY KEY REFERENCES job (id), way TEXT NOT NULL CHECK (way <> ''),"
    " tier TEXT NOT NULL CHECK (tier <> ''), expected_cents INTEGER CHECK (expected_cents > 0),"
    " at TEXT NOT NULL, ahead_min INTEGER NOT NULL)",
    "CREATE TABLE learned_value (id INTEGER PRIMARY KEY, learning INTEGER NOT NULL REFERENCES learning (id),"
    " file TEXT NOT NULL, row TEXT NOT NULL, column_ TEXT NOT NULL, prior TEXT NOT NULL, value TEXT NOT NULL,"
    " number INTEGER NOT NULL, at TEXT NOT NULL, taken_back_at TEXT)",
    "CREATE INDEX learned_value_cell ON learned_value (file, row, column_)",
)
"""Times that did again what had gone wrong; chances of that in a quote, in hundredths at the table's odds; how an
own instrument is offered for sale; single values of tables taken over, with what they were before any was."""

CHARGES = (
    "CREATE TABLE charge (id INTEGER PRIMARY KEY, job TEXT NOT NULL REFERENCES job (id), kind TEXT NOT NULL,"
    " cents INTEGER NOT NULL CHECK (cents > 0), days INTEGER NOT NULL, at TEXT NOT NULL, ahead_min INTEGER NOT NULL)",
    "CREATE INDEX charge_job ON charge (job)",
    "CREATE TABLE invoice_again (number TEXT PRIMARY KEY, job TEXT NOT NULL REFERENCES job (id),"
    " quote TEXT NOT NULL REFERENCES quote (number), at TEXT NOT NULL, ahead_min INTEGER NOT NULL)",
    "INSERT INTO invoice_again SELECT number, job, quote, at, ahead_min FROM invoice",
    "DROP TABLE invoice",
    "ALTER TABLE invoice_again RENAME TO invoice",
    "CREATE INDEX invoice_job ON invoice (job)",
    "CREATE TRIGGER invoice_stays BEFORE UPDATE ON invoice BEGIN"
    " SELECT RAISE(ABORT, 'an invoice stays as it was given'); END",
    "CREATE TRIGGER invoice_is_kept BEFORE DELETE ON invoice BEGIN"
    " SELECT RAISE(ABORT, 'an invoice that was given is kept'); END",
)
"""What a job is charged beside its quote (storage, once it is collected); an invoice anew for a quote taken up again."""

QUOTED_WORK = (
    "CREATE TABLE quote_factor (quote TEXT NOT NULL REFERENCES quote (number), task TEXT NOT NULL,"
    " file TEXT NOT NULL, row TEXT NOT NULL, column_ TEXT NOT NULL, seconds INTEGER NOT NULL CHECK (seconds > 0),"
    " millionths INTEGER NOT NULL CHECK (millionths > 0), PRIMARY KEY (quote, task, file, row, column_))",
    "CREATE TABLE quote_way (quote TEXT NOT NULL REFERENCES quote (number), task TEXT NOT NULL,"
    " method TEXT NOT NULL CHECK (method <> ''), PRIMARY KEY (quote, task))",
)
"""The way a quote reckons a task with, where it is not the usual one, and by how much each cell of a table
multiplies how many seconds of it."""

TAPS = (
    "CREATE TABLE tap (key TEXT PRIMARY KEY CHECK (key <> ''), content TEXT NOT NULL, told_json TEXT NOT NULL,"
    " device TEXT NOT NULL, at TEXT NOT NULL, ahead_min INTEGER NOT NULL, came_at TEXT NOT NULL)",
)
"""What was sent from the bench, each once: the word of its tap, what it asked, what was answered, when it was tapped
and when it came."""

VERSIONS: tuple[tuple[str, ...], ...] = (
    FIRST,
    TIMES,
    STOCK,
    USED,
    PAPERS,
    PARCELS,
    LEARNING,
    OWN_NUMBERS,
    CHARGES,
    QUOTED_WORK,
    TAPS,
)
"""Version n is reached from n - 1 by the steps at place n - 1."""
