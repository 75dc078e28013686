"""What is sent to the page, damaged: files that are taken in, photos, lists, fields and taps.

Never a fault of the program; and what is refused changes no file of the folder but the ledger's own.
"""

from __future__ import annotations

import logging
import random
import tempfile
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import urlencode

from estimator.server.bench.taps import DOES
from estimator.server.guard import Guard
from estimator.tables import load
from tests.fuzz.cases import Case, tree
from tests.fuzz.damage import CELLS, damaged
from tests.fuzz.readers import JOB, Seeds
from tests.server.desks import HOST, Got, app_of, asked, desk_in

#: by name: the address, the field, the file that is sent in it damaged, its kind
FILES = {
    "import": ("/import", "file", JOB, "toml"),
    "photo": ("/job/plain/photo", "photo", "photo.png", "bytes"),
}
LISTS = {"donors": ("/donors", "list", "listings.csv", "csv")}
#: by name: the address and the fields
FIELDS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "intake": (
        "/job/plain/intake",
        ("m.action_b", "m.nut_wid", "m.fret_h", "m.pot_state", "m.tier", "version"),
    ),
    "new": ("/new", ("what", "name", "kind", "customer", "instrument")),
    "own-menu": ("/own-menu", ("own.set-up-hardtail", "own.jack", "do", "numbers")),
    "save": ("/job/plain/save", ("entries", "version")),
    "agree": ("/job/plain/agree", ("entries", "version", "numbers", "promised", "seen")),
    "pay": ("/job/plain/pay", ("kind", "sum", "remark")),
    "move": ("/job/plain/move", ("state", "remark")),
    "time": ("/job/plain/time", ("do", "task", "minutes", "took")),
    "tap": (
        "/bench/tap",
        (
            "key",
            "age",
            "after",
            "job",
            "task",
            "took",
            "again",
            "what",
            "minutes",
            "spell",
            "seller",
            "when",
            "file",
        ),
    ),
}
#: what is accepted in a field, so that one that is damaged is reached behind others that are not
GOOD: Mapping[str, tuple[str, ...]] = {
    "m.action_b": ("2.1",),
    "m.nut_wid": ("42", "1 5/8 in"),
    "m.tier": ("B",),
    "what": ("a guitar", "planned", "none", "c-strings-guitar=1"),
    "name": ("some-name",),
    "kind": ("own", "payment", "deposit"),
    "instrument": ("guitar-solid",),
    "own.set-up-hardtail": ("65", "50 min"),
    "do": ("begin", "end", "over"),
    "numbers": ("0",),
    "entries": ("money=300", "do.set-up=must", "wish.action=3"),
    "promised": ("2026-12-01",),
    "sum": ("20", "12.50"),
    "state": ("waiting", "ready"),
    "task": ("set-action",),
    "minutes": ("12", "0:15"),
    "took": ("12", ""),
    "again": ("", "3"),
    "job": ("plain",),
    "spell": ("1",),
    "file": ("plain",),
    "when": ("before", "after"),
    "age": ("0", "60000"),
    "after": ("",),
    "key": ("a-key",),
}
SENT = (*FILES, *LISTS, *FIELDS)
EDGE = "----edge-of-the-parts"


def sent_to_page(name: str, seeds: Seeds, seed: str) -> Case:
    """One case of the page; the seed says which."""
    chance = random.Random(f"page {name} {seed}")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for file in (JOB, "photo.png", "ledger.sqlite"):
            (folder / file).write_bytes(seeds[file])
        desk = desk_in(folder, load.load_shop())
        app = app_of(desk)
        before = tree(folder)
        data, done, got = _send(name, app, seeds, chance, desk.folder.read("plain").version)
        after = tree(folder)
    told = got.text if got.headers.get("content-type", "").startswith("text/") else ""
    wrong = [f"status {got.status}"] if got.status >= 500 or got.status < 200 else []
    wrong += ["fault in the program"] if "fault in the program" in told.lower() else []
    changed = {n for n in before.keys() | after.keys() if before.get(n) != after.get(n)}
    if got.status >= 400:
        wrong += [f"changed: {n}" for n in sorted(changed) if not n.startswith("ledger.sqlite")]
        wrong += [] if "<h1" in told or "{" in told else ["refused without a word"]
    return Case(f"page-{name}", seed, done, [name], got.status, tuple(wrong), told, data)


def _send(name: str, app: Guard, seeds: Seeds, chance: random.Random, version: str) -> tuple[bytes, str, Got]:
    if name in FILES:
        address, field, file, kind = FILES[name]
        data, done = damaged(seeds[file], kind, chance)
        return data, done, _as_file(app, address, field, data)
    if name in LISTS:
        address, field, file, kind = LISTS[name]
        data, done = damaged(seeds[file], kind, chance)
        return data, done, _as_form(app, address, {field: data.decode("utf-8", "replace")})
    address, names = FIELDS[name]
    fields = {one: _typed(one, chance) for one in names if chance.random() < 0.95}
    if "version" in fields and chance.random() < 0.8:
        fields["version"] = version
    if name == "tap":
        fields["do"] = chance.choice((*DOES, "x"))
    body = {key: value[:2000] for key, value in fields.items()}
    return urlencode(body).encode(), ", ".join(body), _as_form(app, address, body)


def _typed(name: str, chance: random.Random) -> str:
    good = GOOD.get(name, ())
    return chance.choice(good) if good and chance.random() < 0.75 else chance.choice(CELLS)


def _as_form(app: Guard, address: str, fields: Mapping[str, str]) -> Got:
    return _posted(app, address, urlencode(fields).encode(), "application/x-www-form-urlencoded")


def _as_file(app: Guard, address: str, field: str, data: bytes) -> Got:
    head = f'--{EDGE}\r\nContent-Disposition: form-data; name="{field}"; filename="sent.toml"\r\n\r\n'
    body = head.encode() + data + f"\r\n--{EDGE}--\r\n".encode()
    return _posted(app, address, body, f"multipart/form-data; boundary={EDGE}")


def _posted(app: Guard, address: str, body: bytes, kind: str) -> Got:
    headers = [
        ("Host", HOST),
        ("Origin", f"http://{HOST}"),
        ("Sec-Fetch-Site", "same-origin"),
        ("Content-Type", kind),
        ("Content-Length", str(len(body))),
    ]
    logging.getLogger("estimator.page").disabled = True  # what it would print is looked at here
    return asked(app, f"{address}?word={app.word}", "POST", headers, body)
