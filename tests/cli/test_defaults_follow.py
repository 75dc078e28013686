"""What a command prints follows from whose instrument it is and where the shop stands."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from openpyxl import load_workbook

from estimator.cli.common import Paper, paper_of
from estimator.cli.main import run
from tests.drawn_jobs import the_shop


@pytest.mark.parametrize(("place", "paper"), [("US", "Letter"), ("CA", "Letter"), ("DE", "A4"), ("GB", "A4")])
def test_the_paper_is_that_of_the_country(place, paper):
    shop = replace(the_shop(), terms=replace(the_shop().terms, menu_place=place))
    assert paper_of(None, shop) == paper
    assert {paper_of(asked, shop) for asked in Paper} == {"A4", "Letter"}


@pytest.mark.slow
@pytest.mark.parametrize(("place", "size"), [("US", 1), ("DE", 9)])
def test_the_measuring_sheet_is_on_the_paper_of_the_country(tmp_path, place, size):
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "shop.toml").write_text(f'menu_place = "{place}"\n[basis]\nmenu_place = "demo"\n')
    form = tmp_path / "form.xlsx"
    at = ["--shop", str(tmp_path / "shop"), "--sheet", str(form), "--for", "set-up"]
    assert run(["new", str(tmp_path / "job.toml"), *at]) == 0
    book = load_workbook(form)
    assert {int(sheet.page_setup.paperSize) for sheet in book} == {size}


OWN = """
[job]
id = "mine"
kind = "{kind}"
[instrument]
kind = "guitar-solid"
fret_h = 0.8
[wish.require]
fret-height = 4
[budget]
money = 40
on = "{on}"
"""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "on", "told"), [("own", "cost", False), ("own", "price", True), ("commission", "cost", True)]
)
def test_a_job_of_the_shops_own_tells_no_price(tmp_path, capsys, kind, on, told):
    path = tmp_path / "mine.toml"
    path.write_text(OWN.format(kind=kind, on=on))
    assert run(["choose", str(path), "--full"]) == 1
    out = capsys.readouterr().out
    assert "with refret" in out
    assert (", price " in out) is told
