"""The page asked in this process, through its guard: what it shows is what the commands print, and nothing breaks."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest

from estimator.choose.study import make_choice, study_job
from estimator.input.job.load import load_job
from estimator.model import Shop
from estimator.report.text.brief import time_words
from estimator.report.text.terminal import hours, money
from estimator.report.words.customer import level_for_customer, name_of_attribute
from estimator.server.guard import MOST_BYTES, Guard
from estimator.tables.load import load_shop
from tests.server.desks import HOST, Got, app_of, asked, desk_in, get, post
from tests.shops import default_shop, joined, priced_item, write_shop

JOB = """[job]
id = "small"
kind = "commission"
what = "{what}"
customer = "{customer}"
[instrument]
kind = "guitar-solid"
[wish.require]
cosmetics = 3  # as asked
[budget]
money = 300
[upgrades]
open = ["red", "blue", "green"]
"""
HOSTILE = "<script>alert(1)</script>'&#34;{{7*7}}"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """The shop with three things that lift one attribute, and little else to choose from."""
    tables = joined(
        [priced_item(name, price, {}) for name, price in (("red", 20), ("blue", 35), ("green", 60))]
    )
    tables["upgrade_effects"] = [
        {"upgrade": name, "attribute": "cosmetics", "kind": "to", "value": level}
        for name, level in (("red", 2), ("blue", 3), ("green", 4))
    ]
    return load_shop(write_shop(tmp_path_factory.mktemp("shop"), tables))


@pytest.fixture
def app(shop: Shop, tmp_path: Path) -> Guard:
    (tmp_path / "small.toml").write_text(
        JOB.format(what="a small job", customer="A. Customer"), encoding="utf-8"
    )
    return app_of(desk_in(tmp_path, shop))


def figure(got: Got, name: str) -> str:
    match = re.search(rf'data-figure="{name}">([^<]*)<', got.text)
    return unescape(match[1]) if match else ""


def test_the_figures_are_those_of_the_choice(app: Guard, shop: Shop, tmp_path: Path) -> None:
    got = get(app, "/job/small?wait=1")
    choice = make_choice(study_job(shop, load_job(tmp_path / "small.toml", shop), ways_open=True))
    totals = choice.estimate.totals
    assert got.status == 200
    assert choice.estimate.chosen == ("blue-only",)
    assert figure(got, "price") == money(totals.to_pay, shop.terms.currency)
    assert figure(got, "hands-on") == hours(totals.expected)
    # the terminal calls the same figure so, and so does the limit on hours
    assert time_words(choice.estimate).startswith(f"Time: {hours(totals.expected)} hands-on")
    assert "Take thing blue" not in got.text or "blue" in got.text
    again = get(app, "/job/small/answer?wish.cosmetics=4&wait=1")
    assert "green" in again.text
    assert figure(again, "price") != figure(got, "price")


def test_before_it_is_known_the_page_says_so_and_then_shows_it(app: Guard) -> None:
    first = get(app, "/job/small")
    assert "Working" in first.text
    assert 'http-equiv="refresh"' in first.text  # without script the page comes again with the answer
    assert not figure(first, "price")
    assert figure(get(app, "/job/small/answer?wait=1"), "price")
    assert figure(get(app, "/job/small"), "price")


def test_a_limit_too_small_names_the_clash_and_ways_that_hold(app: Guard) -> None:
    got = get(app, "/job/small/answer?money=10&wait=1")
    assert "No set of work meets this" in got.text
    assert "This cannot be kept, whatever else gives way" in got.text
    ways = [unescape(way) for way in re.findall(r'data-take href="([^"]+)"', got.text)]
    assert ways
    for way in ways:
        assert figure(get(app, f"{way}&wait=1"), "price"), way


@pytest.mark.parametrize(
    "query",
    [
        "money=abc",
        "money=-1",
        "money=nan",
        "hours=1e9",
        "back=tomorrow",
        "do.nothing=must",
        "money=%3Cscript%3Ealert(1)%3C/script%3E",
        "do.%3Cscript%3E=must",
    ],
)
def test_what_cannot_be_read_is_said_and_never_a_trace(app: Guard, query: str) -> None:
    for path in (f"/job/small/answer?{query}", f"/job/small?{query}"):
        got = get(app, path)
        assert got.status == 422
        assert "Traceback" not in got.text
        assert "<script>alert" not in got.text
        assert "<script>=" not in got.text
        assert re.search(
            "cannot be read|no sum of money that can be read|a number that is too small|no day|unknown upgrade",
            got.text,
        )


def own_figures(text: str) -> set[str]:
    told = "".join(re.findall(r'<details class="block own".*?</details>', text, re.S))
    earned = re.findall(r'data-figure="earned">([^<]*)<', text)
    return {*re.findall(r'class="num">([^<]*USD)<', told), *earned}


def test_while_the_customer_looks_none_of_the_shops_own_money_is_on_the_page(app: Guard) -> None:
    mine = get(app, "/job/small?wait=1").text
    theirs = get(app, "/job/small?looking=1&wait=1&show=frontier").text
    shown = own_figures(mine)
    assert len(shown) >= 4
    public = set(
        re.findall(r"[\d.,]+ USD", re.sub(r'<details class="block own".*?</details>', "", mine, flags=re.S))
    )
    for secret in shown - public:
        assert secret not in theirs
    assert not own_figures(theirs)
    for words in ("Cost to the shop", "an hour", "score", "yours"):
        assert words not in re.sub(r"<fieldset.*?</fieldset>", "", theirs, flags=re.S), words


def test_hostile_words_in_every_text_stay_words(shop: Shop, tmp_path: Path) -> None:
    text = JOB.format(what=HOSTILE, customer=HOSTILE)
    (tmp_path / "small.toml").write_text(text, encoding="utf-8")
    app = app_of(desk_in(tmp_path, shop))
    for path in (
        "/",
        "/job/small?wait=1",
        "/job/small/quote",
        "/job/small/paper",
        "/job/small/answer?wait=1&show=frontier",
    ):
        got = get(app, path)
        assert got.status == 200, path
        assert "<script>alert" not in got.text, path
        assert "49" not in re.findall(r"\{\{7\*7\}\}|alert\(1\)[^<]{0,30}", got.text)[:1], path
    assert "&lt;script&gt;alert(1)" in get(app, "/").text


def test_no_page_holds_what_the_policy_would_refuse(app: Guard) -> None:
    for path in (
        "/",
        "/job/small?wait=1&show=frontier",
        "/job/small/answer?money=10&wait=1",
        "/job/nothing",
        "/nowhere",
    ):
        text = get(app, path).text
        assert " style=" not in text, path
        assert "<style" not in text, path
        assert not re.search(r"\son[a-z]+=", text), path
        assert re.findall(r"<script[^>]*>", text) in ([], ['<script src="/static/page.js" defer>']), path
        assert not re.search(r'(?:href|src|action)="(?!/|#)', text), path  # nothing leads elsewhere


def test_the_customers_page_has_a_policy_for_exactly_its_own_style(app: Guard) -> None:
    got = get(app, "/job/small/paper")
    assert "sha256-" in got.headers["content-security-policy"]
    assert "unsafe" not in got.headers["content-security-policy"]
    assert " style=" not in got.text
    assert "attachment" in get(app, "/job/small/paper?save=1").headers["content-disposition"]


@pytest.mark.parametrize(
    "path",
    [
        "/job/..%2f..%2fetc%2fpasswd",
        "/job/../small",
        "/job/%2e%2e%2fsecret",
        "/static/../guard.py",
        "/static/..%2fguard.py",
        "/job/small/photo/..%2fsmall.toml",
        "/job/small.toml",
        "/job/secret",
        "/job/",
        "/static/",
        "/job/small/photo/small.toml",
    ],
)
def test_nothing_outside_the_folder_is_reached(app: Guard, tmp_path: Path, path: str) -> None:
    outside = tmp_path.parent / f"{tmp_path.name}-outside.toml"
    outside.write_text('[job]\nid = "secret"\nwhat = "SECRET"\n', encoding="utf-8")
    (tmp_path / "secret.toml").symlink_to(outside)
    got = get(app, path)
    assert got.status in (404, 422)
    assert "SECRET" not in got.text
    assert "SECRET" not in get(app, "/").text


def test_entries_are_written_into_the_file_and_the_rest_stays(app: Guard, tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    before = path.read_text(encoding="utf-8")
    version = versions(get(app, "/job/small").text)[0]
    got = post(app, "/job/small/save", {"version": version, "entries": "money=250,50&wish.cosmetics=4"})
    assert got.status == 303
    assert got.headers["location"] == "/job/small?told=saved"
    assert path.read_text(encoding="utf-8") == before.replace("money = 300", "money = 250.5").replace(
        "cosmetics = 3", "cosmetics = 4"
    )
    assert "Written into the job file" in get(app, "/job/small?told=saved").text


def versions(text: str) -> list[str]:
    return re.findall(r'name="version" value="(\w+)"', text)


def test_two_tabs_do_not_write_over_each_other(app: Guard, tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    version = versions(get(app, "/job/small").text)[0]
    assert post(app, "/job/small/save", {"version": version, "entries": "money=250"}).status == 303
    second = post(app, "/job/small/save", {"version": version, "entries": "money=199"})
    assert second.status == 409
    assert "- money = 250" in second.text
    assert "+ money = 199" in second.text
    assert "money = 250" in path.read_text(encoding="utf-8")
    newer = versions(second.text)[0]
    assert newer != version
    assert post(app, "/job/small/save", {"version": newer, "entries": "money=199"}).status == 303
    assert "money = 199" in path.read_text(encoding="utf-8")


def test_a_page_from_before_a_restart_writes_nothing(app: Guard, shop: Shop, tmp_path: Path) -> None:
    before = (tmp_path / "small.toml").read_bytes()
    again = app_of(desk_in(tmp_path, shop))
    version = versions(get(app, "/job/small").text)[0]
    got = post(again, "/job/small/save", {"version": version, "entries": "money=1"}, word=app.word)
    assert got.status == 403
    assert "out of date" in got.text
    assert (tmp_path / "small.toml").read_bytes() == before


def photo(app: Guard, data: bytes, name: str = "x.jpg") -> Got:
    edge = b"--edge\r\n"
    body = (
        edge
        + b'Content-Disposition: form-data; name="photo"; filename="'
        + name.encode()
        + b'"\r\nContent-Type: image/jpeg\r\n\r\n'
        + data
        + b"\r\n--edge--\r\n"
    )
    headers = [
        ("Host", HOST),
        ("Origin", f"http://{HOST}"),
        ("Content-Length", str(len(body))),
        ("Content-Type", "multipart/form-data; boundary=edge"),
    ]
    return asked(app, f"/job/small/photo?word={app.word}", "POST", headers, body)


def test_photos_are_kept_under_names_of_our_own(app: Guard, tmp_path: Path) -> None:
    jpeg = b"\xff\xd8\xff\xe0" + b"x" * (2 * MOST_BYTES)
    for name in ("../../evil.jpg", "small.toml"):
        assert photo(app, jpeg, name).status == 303
    kept = sorted(path.name for path in (tmp_path / "photos").iterdir())
    assert kept == ["small-1.jpg", "small-2.jpg"]
    got = get(app, "/job/small/photo/small-1.jpg")
    assert (got.status, got.headers["content-type"], got.body) == (200, "image/jpeg", jpeg)
    for data in (b"<script>alert(1)</script>", b"GIF89a", b"", b"RIFF1234AVI "):
        assert photo(app, data).status == 422
    assert len(list((tmp_path / "photos").iterdir())) == 2


def test_no_photo_leads_out_of_the_folder(app: Guard, tmp_path: Path) -> None:
    outside = tmp_path.parent / f"{tmp_path.name}-outside"
    outside.mkdir()
    (outside / "small-1.jpg").write_bytes(b"SECRET")
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "small-1.jpg").symlink_to(outside / "small-1.jpg")
    assert get(app, "/job/small/photo/small-1.jpg").status == 404
    (tmp_path / "photos" / "small-1.jpg").unlink()
    (tmp_path / "photos").rmdir()
    (tmp_path / "photos").symlink_to(outside)
    assert get(app, "/job/small/photo/small-1.jpg").status == 404
    assert photo(app, b"\xff\xd8\xff\xe0").status == 422
    assert [path.name for path in outside.iterdir()] == ["small-1.jpg"]


def test_a_file_that_cannot_be_read_is_told_with_its_line(app: Guard, tmp_path: Path) -> None:
    (tmp_path / "broken.toml").write_text('[job]\nid = "broken"\nkind = nothing\n', encoding="utf-8")
    assert "cannot be read" in get(app, "/").text
    got = get(app, "/job/broken")
    assert got.status == 422
    assert "row 3" in got.text


def test_a_fault_of_our_own_is_told_in_words(app: Guard, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*of: object, **more: object) -> str:
        raise RuntimeError("inside knowledge")

    monkeypatch.setattr("estimator.server.pages.decide_html", broken)
    got = get(app, "/job/small")
    assert got.status == 500
    assert "RuntimeError" in got.text
    assert "inside knowledge" not in got.text


def test_the_answer_as_one_file_needs_nothing_else(app: Guard, shop: Shop, tmp_path: Path) -> None:
    from estimator.server.entries import Entries
    from estimator.server.pages import alone_html

    desk = desk_in(tmp_path, shop)
    text = alone_html(desk, desk.ask("small", Entries(looking=True)))
    assert not re.search(r"<script|<form|<button|<link|href=|src=", text)
    assert figure(Got(200, {}, text.encode()), "price").endswith(" USD")
    assert "<style>:root" in text


@pytest.mark.slow
def test_a_fault_that_the_set_leaves_is_told_beside_it(tmp_path: Path) -> None:
    """Whoever decides knows what is seen and not in the price; what the set mends is not among it."""
    app = app_of(desk_in(tmp_path, default_shop(), "tight-commission"))
    for query in ("", "&looking=1"):
        told = get(app, f"/job/tight-commission?wait=1{query}").text
        assert "Seen, and left as it is: the tuners have play" in told
        assert "left as it is: the pots scratch" not in told


def test_what_clashes_is_told_in_the_words_in_which_it_is_asked_for(app: Guard, shop: Shop) -> None:
    """No number of a level stands on the page: a customer may be looking."""
    for looking in ("", "&looking=1"):
        page = unescape(get(app, f"/job/small?money=40&wait=1{looking}").text)
        assert "No set of work meets this" in page
        found = page.partition("These cannot hold together")[2].partition("</section>")[0]
        wanted = level_for_customer(shop, "cosmetics", 3)
        assert f"<li>{name_of_attribute(shop, 'cosmetics')}: {wanted}</li>" in found
        assert not re.search(r"level \d", found)
