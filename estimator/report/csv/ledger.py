"""Every table of the ledger as a CSV file, readable without this program."""

from __future__ import annotations

import csv
import io

from estimator.ledger.store import Ledger


def csv_tables(ledger: Ledger) -> dict[str, str]:
    """File name and text of every table; a cell holds what the ledger holds, an empty one nothing."""
    found = {}
    for name, (columns, rows) in ledger.tables().items():
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)
        found[f"{name}.csv"] = text.getvalue()
    return found
