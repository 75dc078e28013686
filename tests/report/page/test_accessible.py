"""The customer's page in a real browser: valid to an independent parser, readable with a screen reader, any width."""

from __future__ import annotations

import json
import os
import re
import subprocess
from html import unescape
from importlib.resources import files
from pathlib import Path

import html5lib
import pytest

from estimator.model import Shop
from estimator.price.client.menu import menu_of
from estimator.report.page.html import page_html
from estimator.report.page.pdf import browser_there
from estimator.report.page.price_list import price_list, price_list_html
from estimator.report.page.record import customer_page
from tests.report.page.test_customer_page import CUTS, MANY, named
from tests.report.page.test_price_list import DAY, crowded
from tests.shops import default_shop

WIDTHS = (390, 800, 1280)
#: the check runs in the page and leaves what it found, whether anything runs over the side and how many figures are broken
#: over two lines, in an attribute
RUN = """<script>{axe}</script><script>axe.run(document).then(found => {{
  const wrong = found.violations.map(v => v.id + ": " + v.nodes.map(n => n.html).join(" "));
  const passed = found.passes.length;
  const over = document.documentElement.scrollWidth - window.innerWidth;
  const figures = Array.from(document.querySelectorAll(".money b, .money span"));
  const broken = figures.filter(one => one.getClientRects().length > 1).length;
  document.body.setAttribute("data-found", JSON.stringify({{wrong, passed, over, broken, figures: figures.length}}));
}})</script></body>"""


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def pages(shop: Shop) -> dict[str, str]:
    sets = {"one": ["set-up"], "cuts": CUTS, "many": MANY}
    made = {name: page_html(customer_page(named(shop, ids)), "A4") for name, ids in sets.items()}
    lists = {"prices": price_list(menu_of(shop), shop, DAY), "crowded": crowded(shop)}
    return made | {name: price_list_html(page, "A4") for name, page in lists.items()}


@pytest.mark.slow
def test_the_page_is_valid_to_a_strict_parser(shop: Shop) -> None:
    for html in pages(shop).values():
        html5lib.HTMLParser(strict=True).parse(html)
        with pytest.raises(html5lib.html5parser.ParseError):
            html5lib.HTMLParser(strict=True).parse(html.replace("</h1>", "</h2>"))


def found_by(html: str, width: int, folder: Path) -> dict[str, object]:
    """What the checker of accessibility finds at a width of so many pixels."""
    axe = files("axe_core_python").joinpath("axe.min.js").read_text(encoding="utf-8")
    path = folder / "page.html"
    path.write_text(html.replace("</body>", RUN.format(axe=axe)), encoding="utf-8")
    browser = browser_there()
    assert browser is not None
    alone = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    shown = subprocess.run(
        [
            browser,
            "--headless",
            "--disable-gpu",
            *alone,
            f"--user-data-dir={folder / 'profile'}",
            f"--window-size={width},900",
            "--virtual-time-budget=20000",
            "--dump-dom",
            path.as_uri(),
        ],
        capture_output=True,
        timeout=120,
        check=True,
        text=True,
    ).stdout
    match = re.search(r'data-found="([^"]*)"', shown)
    assert match is not None, "the checker did not come to an end"
    found: dict[str, object] = json.loads(unescape(match[1]))
    return found


@pytest.mark.slow
@pytest.mark.skipif(browser_there() is None, reason="no browser")
@pytest.mark.parametrize("width", WIDTHS)
def test_no_barrier_is_found_and_nothing_runs_over_the_side(shop: Shop, width: int, tmp_path: Path) -> None:
    for name, html in pages(shop).items():
        found = found_by(html, width, tmp_path)
        assert found["wrong"] == [], name
        assert int(str(found["passed"])) > 10
        assert int(str(found["over"])) <= 0, name
        assert found["broken"] == 0, name
        assert int(str(found["figures"])) > 0, name


@pytest.mark.slow
@pytest.mark.skipif(browser_there() is None, reason="no browser")
def test_the_checker_finds_a_barrier_that_is_put_in(shop: Shop, tmp_path: Path) -> None:
    html = (
        pages(shop)["one"].replace('<html lang="en">', "<html>").replace("</h1>", "</h1><img src='data:,'>")
    )
    wrong = " ".join(str(words) for words in found_by(html, 800, tmp_path)["wrong"])  # type: ignore[attr-defined]
    assert "html-has-lang" in wrong
    assert "image-alt" in wrong
