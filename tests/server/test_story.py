"""A job from taking in to agreement through the page's own forms, in this process; what it leaves in files and ledger."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal
from html import unescape
from pathlib import Path

import pytest

from estimator.input.job.load import load_job
from estimator.ledger.jobs import history
from estimator.ledger.store import Ledger
from estimator.model import Shop
from estimator.server.guard import Guard
from estimator.tables.load import load_shop
from tests.server.desks import Got, app_of, desk_in, get, post
from tests.server.test_pages import HOSTILE, JOB, app, figure, shop

__all__ = ["app", "shop"]


def hidden(got: Got, name: str) -> str:
    match = re.search(rf'name="{name}" value="([^"]*)"', got.text)
    assert match is not None
    return unescape(match[1])


def test_a_new_job_is_a_file_that_the_commands_read(app: Guard, shop: Shop, tmp_path: Path) -> None:
    assert get(app, "/new").status == 200
    fields = {
        "name": "red-bass",
        "what": "hum, and a dead jack",
        "kind": "commission",
        "customer": "B. Player",
        "instrument": "bass-solid",
    }
    got = post(app, "/new", fields)
    assert (got.status, got.headers["location"]) == (303, "/job/red-bass?told=new")
    job = load_job(tmp_path / "red-bass.toml", shop)
    assert (job.id, job.kind, job.what, job.customer, job.is_bass) == (
        "red-bass",
        "commission",
        "hum, and a dead jack",
        "B. Player",
        True,
    )
    assert post(app, "/new", fields).status == 422  # there is such a file already


def test_of_an_instrument_to_be_sold_what_a_sale_turns_on_is_asked(
    app: Guard, shop: Shop, tmp_path: Path
) -> None:
    page = get(app, "/new").text
    for words in (
        "If it is to be sold",
        "blank: class B is assumed",
        "blank: nothing is counted for buying it",
    ):
        assert words in page
    fields = {
        "name": "flip",
        "kind": "resale",
        "instrument": "guitar-solid",
        "m.tier": "C",
        "m.base_clean": "$410",
    }
    bad = post(app, "/new", {**fields, "m.ask": "1.250"})
    assert bad.status == 422
    assert "What was paid for it, else what is asked: a sum that could be read in two ways" in bad.text
    assert 'value="$410"' in bad.text
    assert '<option value="C" selected>' in bad.text
    assert not (tmp_path / "flip.toml").exists()
    assert post(app, "/new", {**fields, "m.ask": "60"}).status == 303
    job = load_job(tmp_path / "flip.toml", shop)
    told = {name: job.instrument[name] for name in ("tier", "base_clean", "ask")}
    assert {name: (str(one.value), one.assumed) for name, one in told.items()} == {
        "tier": ("C", False),
        "base_clean": ("410", False),
        "ask": ("60", False),
    }
    assert post(app, "/new", {**fields, "name": "open", "m.base_clean": " "}).status == 303
    job = load_job(tmp_path / "open.toml", shop)
    assert (job.kind, job.instrument["ask"].assumed, job.instrument["base_clean"].assumed) == (
        "resale",
        True,
        True,
    )
    page = get(app, "/job/open/intake").text
    for name in ("ask", "base_clean", "tier"):
        assert f'name="m.{name}"' in page
    assert "assumed 390 USD" in page  # the middle of its class, which the answers take
    # what was paid and what is hoped for is not for a customer who looks on, and stays as it is when he measures
    assert post(app, "/looking", {"on": "1", "back": "/"}).status == 303
    looked = get(app, "/job/flip/intake")
    assert 'name="m.ask"' not in looked.text
    assert 'name="m.base_clean"' not in looked.text
    sent = {"version": hidden(looked, "version"), "m.chip_n": "2"}
    assert post(app, "/job/flip/intake", sent).status == 303
    assert load_job(tmp_path / "flip.toml", shop).instrument["ask"].value == 60


@pytest.mark.parametrize(
    ("typed", "name"),
    [("Red Guitar", "red-guitar"), ("A", "a"), ("x y", "x-y"), (" Set-up 2 ", "set-up-2"), ("b_1", "b-1")],
)
def test_a_name_in_words_is_joined_as_ids_are(
    app: Guard, shop: Shop, tmp_path: Path, typed: str, name: str
) -> None:
    """A phone begins a field with a capital, and parts words by blanks."""
    got = post(app, "/new", {"name": typed, "kind": "own", "instrument": "guitar-solid"})
    assert (got.status, got.headers["location"]) == (303, f"/job/{name}?told=new")
    assert load_job(tmp_path / f"{name}.toml", shop).id == name


@pytest.mark.parametrize("name", ["", "../x", "a/b", "x/ y", "-", ".hidden", "x" * 61, "shop\x00", HOSTILE])
def test_no_name_leads_out_of_the_folder(app: Guard, tmp_path: Path, name: str) -> None:
    before = sorted(tmp_path.rglob("*"))
    got = post(app, "/new", {"name": name, "kind": "own", "instrument": "guitar-solid", "what": HOSTILE})
    assert got.status == 422
    assert "<script>alert" not in got.text
    assert sorted(tmp_path.rglob("*")) == before


def test_hostile_words_typed_into_a_new_job_stay_words(app: Guard, shop: Shop, tmp_path: Path) -> None:
    fields = {
        "name": "odd",
        "what": HOSTILE,
        "kind": "commission",
        "customer": f"{HOSTILE}\n[job]\nid=2",
        "instrument": "guitar-solid",
    }
    assert post(app, "/new", fields).status == 303
    assert load_job(tmp_path / "odd.toml", shop).what == HOSTILE
    for path in ("/", "/job/odd", "/job/odd/intake", "/job/odd/ledger"):
        assert "<script>alert" not in get(app, path).text, path


def test_measurements_are_kept_as_typed(app: Guard, shop: Shop, tmp_path: Path) -> None:
    page = get(app, "/job/small/intake")
    assert page.status == 200
    assert "assumed" in page.text
    fields = {
        "version": hidden(page, "version"),
        "m.fret_h": "0,041",
        "m.nut_wid": "1 5/8 in",
        "m.relief": "-.004",
        "m.peg_thk": "9/16",
        "m.scale": "648 mm",
        "m.pot_state": "scratchy",
    }
    assert post(app, "/job/small/intake", fields).status == 303
    text = (tmp_path / "small.toml").read_text(encoding="utf-8")
    assert 'nut_wid = "1 5/8 in"' in text
    # what was asked for in inches stands there in inches: a bare figure of a job file is mm
    assert 'fret_h = "0.041 in"' in text
    job = load_job(tmp_path / "small.toml", shop)
    assert not job.instrument["nut_wid"].assumed
    read = {name: job.instrument[name].value for name in ("fret_h", "relief", "peg_thk", "scale")}
    assert read == {
        "fret_h": Decimal("1.0414"),
        "relief": Decimal("-0.1016"),
        "peg_thk": Decimal("14.2875"),
        "scale": Decimal(648),
    }
    again = get(app, "/job/small/intake")
    assert 'value="1 5/8 in"' in again.text
    wrong = post(app, "/job/small/intake", {"version": hidden(again, "version"), "m.fret_h": "9 miles"})
    assert wrong.status == 422
    assert "fret_h" in wrong.text
    assert (tmp_path / "small.toml").read_text(encoding="utf-8") == text
    old = post(app, "/job/small/intake", {**fields, "m.fret_h": "0.043"})
    assert old.status == 409
    assert '+ fret_h = "0.043 in"' in unescape(old.text)
    blank = post(app, "/job/small/intake", {"version": hidden(again, "version"), "m.fret_h": ""})
    assert blank.status == 303
    assert load_job(tmp_path / "small.toml", shop).instrument["fret_h"].assumed


def measured_fields(text: str) -> dict[str, str]:
    """Every field of the intake with its part of the page."""
    parts = re.split(r'<div class="field measure ', text)[1:]
    return {re.search(r'name="m\.(\w+)"', part)[1]: part for part in parts}  # type: ignore[index]


def test_intake_goes_by_the_stages_and_letters_of_the_measuring_sheet(
    app: Guard, shop: Shop, tmp_path: Path
) -> None:
    from estimator.estimate.new_job import by_stage, fields_that_matter

    text = get(app, "/job/small/intake").text
    fields = fields_that_matter(shop, load_job(tmp_path / "small.toml", shop), ())
    stages = by_stage(shop, fields)
    assert re.findall(r"<summary><strong>([^<]+)<", text) == [name for name, _ in stages]
    shown = measured_fields(text)
    assert sorted(shown) == sorted(spec.id for spec in fields)
    for spec in fields:
        place, part = shop.drawn.calipers.get(spec.id), shown[spec.id]
        assert ('class="where"' in part) == (spec.section != "identity")
        assert re.findall(r'class="letter">(.)<', part) == ([place.letter] if place else [])


def test_units_stay_as_typed_and_what_is_assumed_says_so(app: Guard) -> None:
    page = get(app, "/job/small/intake")
    before = measured_fields(page.text)["nut_wid"]
    assert before.startswith("assumed")
    assert re.search(r"assumed [\d.]+ in; ", before)
    assert re.search(r", in or with a unit", before)
    typed = {"version": hidden(page, "version"), "m.nut_wid": "1 5/8 in"}
    assert post(app, "/job/small/intake", typed).status == 303
    after = measured_fields(get(app, "/job/small/intake").text)["nut_wid"]
    assert after.startswith("measured")
    assert 'value="1 5/8 in"' in after
    assert "assumed" not in after.split("<svg")[0]


def test_who_measures_what_is_worth_most_is_shown_the_next(app: Guard) -> None:
    page = get(app, "/job/small/intake?first=1")
    marked = [name for name, part in measured_fields(page.text).items() if re.match(r"\w+ first\b", part)]
    assert sorted(marked) == sorted(re.findall(r'<a href="#m-(\w+)">', page.text))
    fields = {"version": hidden(page, "version"), "first": hidden(page, "first"), "m.nut_wid": "1.65"}
    got = post(app, "/job/small/intake", fields)
    assert (got.status, got.headers["location"]) == (303, "/job/small/intake?told=saved&first=1")
    assert not re.search(r'name="first"', get(app, "/job/small/intake?told=saved").text)


def test_taking_a_job_freezes_its_quote_and_planned_times(app: Guard, tmp_path: Path) -> None:
    page = get(app, "/job/small?wish.cosmetics=4&wait=1")
    fields = {
        "version": hidden(page, "version"),
        "entries": hidden(page, "entries"),
        "seen": hidden(page, "seen"),
        "promised": (date.today() + timedelta(days=365 * 50)).isoformat(),
    }
    # a day that no shop promises is a slip: the year is asked about, and nothing is taken
    assert post(app, "/job/small/agree", fields).status == 422
    fields["promised"] = soon = (date.today() + timedelta(days=60)).isoformat()
    got = post(app, "/job/small/agree", fields)
    assert (got.status, got.headers["location"]) == (303, "/job/small/ledger?told=taken")
    with Ledger(tmp_path / "ledger.sqlite") as books:
        told = history(books, "small")
    assert (told.state, told.promised) == ("accepted", soon)
    assert f"{told.quotes[0].to_pay / 100:,.2f} USD" == figure(page, "price")
    assert "cosmetics = 4" in (tmp_path / "small.toml").read_text(encoding="utf-8")
    shown = get(app, "/job/small/ledger")
    assert "Planned and taken" in shown.text
    assert "(accepted)" in shown.text
    assert "promised for" in get(app, "/").text
    # the same form sent once more, from the same old page: nothing is given twice
    assert post(app, "/job/small/agree", fields).status in (409, 422)
    with Ledger(tmp_path / "ledger.sqlite") as books:
        assert len(history(books, "small").quotes) == 1


def test_a_later_change_is_a_newer_quote_and_the_difference_is_told(app: Guard, tmp_path: Path) -> None:
    for query in ("", "wish.cosmetics=4"):
        page = get(app, f"/job/small?{query}&wait=1")
        fields = {name: hidden(page, name) for name in ("version", "entries", "seen")}
        assert post(app, "/job/small/agree", fields).status == 303
    with Ledger(tmp_path / "ledger.sqlite") as books:
        told = history(books, "small")
    assert [quote.number for quote in told.quotes] == sorted(quote.number for quote in told.quotes)
    assert told.accepted_quote == told.quotes[-1].number
    assert len(told.quotes) == 2
    assert "Against the one before" in get(app, "/job/small/ledger").text


def test_money_and_steps_are_recorded_and_refused_in_words(app: Guard, tmp_path: Path) -> None:
    page = get(app, "/job/small?wait=1")
    post(app, "/job/small/agree", {name: hidden(page, name) for name in ("version", "entries", "seen")})
    assert post(app, "/job/small/pay", {"sum": "20,50", "kind": "deposit"}).status == 303
    assert "20.50 USD" in get(app, "/job/small/ledger").text
    sums = [2050]
    for typed in ("1,200", "$1,200.00", "1200 USD"):  # never 1.20
        assert post(app, "/job/small/pay", {"sum": typed, "kind": "deposit"}).status == 303
        sums.append(120_000)
    with Ledger(tmp_path / "ledger.sqlite") as books:
        assert [row.amount for row in history(books, "small").payments] == sums
    for wrong in (
        {"sum": "x", "kind": "deposit"},
        {"sum": "1.250", "kind": "deposit"},
        {"sum": "€5", "kind": "deposit"},
        {"sum": "0", "kind": "deposit"},
        {"sum": "5", "kind": "bribe"},
    ):
        got = post(app, "/job/small/pay", wrong)
        assert got.status == 422
        assert "Traceback" not in got.text
    assert post(app, "/job/small/move", {"state": "collected"}).status == 422
    assert post(app, "/job/small/move", {"state": "at-work"}).status == 303
    assert "Now: at work" in get(app, "/job/small/ledger").text


def test_the_clock_is_the_ledgers_and_is_seen_wherever_one_looks(app: Guard, tmp_path: Path) -> None:
    page = get(app, "/job/small?wait=1")
    post(app, "/job/small/agree", {name: hidden(page, name) for name in ("version", "entries", "seen")})
    assert post(app, "/job/small/time", {"task": "inspection-quick", "do": "begin"}).status == 303
    for path in ("/", "/job/small/ledger"):
        assert "On the clock: Inspection quick" in get(app, path).text
    assert (
        post(app, "/job/small/time", {"task": "inspection-quick", "took": "a while", "do": "end"}).status
        == 422
    )
    assert (
        post(app, "/job/small/time", {"task": "inspection-quick", "took": "0:12", "do": "end"}).status == 303
    )
    with Ledger(tmp_path / "ledger.sqlite") as books:
        assert [row["seconds"] for row in books.rows("SELECT seconds FROM time_taken")] == [720]
    assert "On the clock" not in get(app, "/").text
    assert "12 min" in get(app, "/job/small/ledger").text


def test_from_agreement_to_receipt(app: Guard) -> None:
    page = get(app, "/job/small?wait=1")
    assert get(app, "/job/small/receipt").status == 422
    post(app, "/job/small/agree", {name: hidden(page, name) for name in ("version", "entries", "seen")})
    due = figure(page, "price").removesuffix(" USD")
    assert post(app, "/job/small/pay", {"sum": due, "kind": "payment"}).status == 303
    for state in ("at-work", "ready", "told", "collected"):
        assert post(app, "/job/small/move", {"state": state}).status == 303, state
    assert "Now: paid" in get(app, "/job/small/ledger").text
    got = get(app, "/job/small/receipt")
    assert got.headers["content-type"].startswith("text/plain")
    assert due in got.text


def test_drawings_are_shown_or_said_to_be_none(app: Guard) -> None:
    assert "Nothing is bored or cut" in get(app, "/job/small/drawings").text


def test_nothing_is_agreed_on_where_no_set_meets_the_wish(app: Guard, tmp_path: Path) -> None:
    page = get(app, "/job/small?money=10&wait=1")
    fields = {name: hidden(page, name) for name in ("version", "entries", "seen")}
    assert post(app, "/job/small/agree", fields).status == 422
    assert not (tmp_path / "ledger.sqlite").exists()


def test_two_hundred_jobs_are_listed(shop: Shop, tmp_path: Path) -> None:
    for number in range(200):
        text = JOB.format(what=f"job {number}", customer="").replace('"small"', f'"job-{number}"')
        (tmp_path / f"job-{number}.toml").write_text(text, encoding="utf-8")
    got = get(app_of(desk_in(tmp_path, shop)), "/")
    assert len(set(re.findall(r'href="/job/([^"]+)"', got.text))) == 200


@pytest.mark.slow
@pytest.mark.parametrize("between", [",", "\t"])
def test_donors_are_ranked_as_the_command_ranks_them(
    app: Guard, shop: Shop, tmp_path: Path, between: str
) -> None:
    from estimator.core.text import money
    from estimator.price.donor.rank import offer_list

    rows = [
        ("id", "ask", "tier", "what"),
        ("one", "60", "B", HOSTILE.replace("'", "")),
        ("two", "35", "C", "plain"),
        ("three", "cheap", "B", "wrong"),
    ]
    (tmp_path / "plain.csv").write_text("\n".join(",".join(row) for row in rows), encoding="utf-8")
    found = offer_list(tmp_path / "plain.csv", shop)
    got = post(app, "/donors", {"list": "\n".join(between.join(row) for row in rows)})
    assert got.status == 200
    assert "<script>alert" not in got.text
    # what is worth nothing at any price has no most to pay
    assert [money(o.stop, "USD") if o.stop > 0 else "none" for o in found.offers] == re.findall(
        r'data-head="most to pay">([^<]+)<', got.text
    )
    assert "List, row 4" in got.text
    assert str(tmp_path.parent.parent) not in got.text


@pytest.mark.parametrize("text", ["", "  ", "no,such,columns\n1,2,3", "id,ask,tier\n", HOSTILE])
def test_a_list_that_cannot_be_read_stays_in_the_form(app: Guard, text: str) -> None:
    assert get(app, "/donors").status == 200
    got = post(app, "/donors", {"list": text})
    assert got.status in (200, 422)
    assert "Traceback" not in got.text
    assert "<script>alert" not in got.text
    assert "/tmp" not in got.text


@pytest.mark.slow
def test_the_week_is_the_plan_of_the_command(app: Guard, shop: Shop, tmp_path: Path) -> None:
    from estimator.batch.build import study_batch
    from estimator.input.batch.load import load_batch
    from estimator.plan.plan import Plan, plan_batch
    from estimator.report.words.plan import promise_lines
    from estimator.schedule.records import Search

    assert "None. A batch file" in get(app, "/week").text
    text = f'[batch]\nid = "two"\nwhat = "{HOSTILE}"\nstart = 2026-10-05\n[[person]]\nid = "bench"\n'
    text += "".join(f'[[job]]\nid = "{name}"\nfile = "small.toml"\ndue = 2026-10-20\n' for name in ("a", "b"))
    (tmp_path / "two.toml").write_text(text, encoding="utf-8")
    assert "&lt;script&gt;" in get(app, "/week").text
    assert "/job/two" not in get(app, "/").text
    got = get(app, "/week/two")
    assert got.status == 200
    assert "<script>alert" not in got.text
    assert " style=" not in got.text
    plan = plan_batch(study_batch(shop, load_batch(tmp_path / "two.toml", shop)), None, Search(engine="auto"))
    assert isinstance(plan, Plan)
    for line in promise_lines(plan)[1:]:
        assert line.strip() in unescape(got.text)
    assert get(app, "/week/..%2ftwo").status in (404, 422)
    assert get(app, "/week/small").status == 422


@pytest.mark.slow
def test_prices_and_reports_are_shown(app: Guard) -> None:
    got = get(app, "/money")
    assert got.status == 200
    assert "Menu, beside what lists post" in got.text
    assert got.text.count("<tr>") > 20
    assert 'href="/price-list"' in got.text
    listed = get(app, "/price-list")
    assert listed.status == 200
    assert "sha256-" in listed.headers["content-security-policy"]
    assert listed.text.count('<th scope="row">') == len(load_shop(None).menu.jobs)
    assert "hands-on" not in listed.text.lower()


def test_what_the_words_of_a_job_mean_stands_before_other_wishes(tmp_path: Path) -> None:
    """With the shop's own tables: a wish for what was said is at hand, and the list of all others below it."""
    default = load_shop(None)
    app = app_of(desk_in(tmp_path, default))
    fields = {"name": "walk-in", "kind": "commission", "instrument": "guitar-6-set"}
    assert "Guitar, six strings, set neck" in get(app, "/new").text
    assert post(app, "/new", {**fields, "what": "buzz on two frets, scratchy pot"}).status == 303
    page = get(app, "/job/walk-in").text
    at = [
        page.index(sign)
        for sign in (
            "“buzz on two frets, scratchy pot” may mean",
            'id="w-fret-levelness"',
            'id="w-controls"',
            "Wish for something else",
            'id="w-hum"',
        )
    ]
    assert at == sorted(at)
    assert post(app, "/new", {**fields, "name": "mute", "what": "zzz"}).status == 303
    assert "may mean" not in get(app, "/job/mute").text
