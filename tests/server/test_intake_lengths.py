"""The intake asks for lengths in the unit of the shop, and a job file means the same in any shop."""

from __future__ import annotations

import random
import re
from decimal import Decimal
from html import unescape
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.estimate.new_job import default_job, fields_that_matter, job_text
from estimator.input.job.load import job_from, load_job
from estimator.model import Shop
from estimator.server.app import guarded
from estimator.server.guard import Guard
from estimator.tables.toml.text import parse_toml
from tests.drawn_jobs import the_shop
from tests.server.desks import PORT, desk_in, get, post

TO_MM = {"mm": Decimal(1), "in": Decimal("25.4")}
JOB = "tight-commission"


def shop_in(lengths: str) -> Shop:
    return replace(the_shop(), terms=replace(the_shop().terms, lengths=lengths))


def app_on(folder: Path, shop: Shop) -> Guard:
    return guarded(desk_in(folder, shop, JOB), PORT)


def typed_in(page: str) -> dict[str, str]:
    """What stands in each field of the form that one types into."""
    return {name: unescape(value) for name, value in re.findall(r'name="(m\.\w+)" value="([^"]*)"', page)}


@pytest.mark.parametrize("lengths", ["mm", "in"])
def test_the_form_shows_and_takes_lengths_in_the_unit_of_the_shop(lengths: str, tmp_path: Path) -> None:
    """Drawn: lengths within what is accepted, typed as a bare figure; whatever was not touched stays as it was."""
    chance, shop = random.Random(17), shop_in(lengths)
    app, file = app_on(tmp_path, shop), tmp_path / f"{JOB}.toml"
    page, before = get(app, f"/job/{JOB}/intake").text, file.read_text(encoding="utf-8")
    other = {"mm": "in", "in": "mm"}[lengths]
    shown = typed_in(page)
    fields = [spec for spec in shop.intake.values() if spec.kind == "length" and f"m.{spec.id}" in shown]
    for part in re.split(r'<div class="field measure ', page)[1:]:
        name = re.search(r'name="m\.(\w+)"', part)
        if name and name[1] in {spec.id for spec in fields}:
            assert f", {lengths} or with a unit" in part
            assert not re.search(rf"assumed [\d.]+ {other}\b", part)
    # nothing typed: the file stays as it is, to the letter
    again = post(app, f"/job/{JOB}/intake", {"version": hidden_of(page), **shown})
    assert again.status == 303
    assert file.read_text(encoding="utf-8") == before
    typed: dict[str, Decimal] = {}
    for spec in chance.sample(fields, 25):
        assert spec.accepted_low is not None
        assert spec.accepted_high is not None
        share = Decimal(chance.randint(40, 60)) / 100
        middle = spec.accepted_low + (spec.accepted_high - spec.accepted_low) * share
        typed[spec.id] = (middle / TO_MM[lengths]).quantize(Decimal("0.001"))
    sent = {**shown, **{f"m.{name}": f"{value}" for name, value in typed.items()}}
    got = post(app, f"/job/{JOB}/intake", {"version": hidden_of(page), **sent})
    assert got.status == 303, got.text
    # any shop reads the file alike
    for reader in ("mm", "in"):
        job = load_job(file, shop_in(reader))
        assert {name: job.instrument[name].value for name in typed} == {
            name: value * TO_MM[lengths] for name, value in typed.items()
        }
    after = typed_in(get(app, f"/job/{JOB}/intake").text)
    for name, value in typed.items():
        assert after[f"m.{name}"].removesuffix(" in") == (
            f"{value.normalize():f}" if lengths == "mm" else f"{value}"
        )


def hidden_of(page: str) -> str:
    return re.search(r'name="version" value="([^"]*)"', page)[1]  # type: ignore[index]


def test_a_bare_figure_of_the_file_is_mm_and_is_shown_in_inches(tmp_path: Path) -> None:
    app = app_on(tmp_path, shop_in("in"))
    file = tmp_path / f"{JOB}.toml"
    file.write_text(
        file.read_text(encoding="utf-8").replace("[instrument]\n", "[instrument]\npeg_thk = 14.3\n")
    )
    page = get(app, f"/job/{JOB}/intake").text
    assert typed_in(page)["m.peg_thk"] == "0.563 in"


@pytest.mark.parametrize("kind", ["guitar-solid", "bass-solid", "guitar-7-bolt"])
def test_a_new_job_file_names_lengths_as_the_shop_reads_them(kind: str) -> None:
    """Every line is taken out of its remark: what it says is what was assumed, to a thousandth of an inch."""
    for lengths, bare in (("mm", True), ("in", False)):
        shop = shop_in(lengths)
        job = default_job(shop, kind)
        fields = [spec for spec in fields_that_matter(shop, job, ()) if spec.kind == "length"]
        text = job_text(shop, job, fields_that_matter(shop, job, ()), "fresh")
        untouched = job_from(parse_toml(text.encode(), "fresh.toml"), shop).instrument
        assert {n: r.value for n, r in untouched.items()} == {n: r.value for n, r in job.instrument.items()}
        for spec in fields:
            line = next(one for one in text.splitlines() if one.startswith(f"# {spec.id} = "))
            value, remark = re.fullmatch(r"# \w+ = (\S+|\"[^\"]+\") +# (.*)", line).groups()  # type: ignore[union-attr]
            assert value.endswith(' in"') is not bare
            assert not re.search(r"\d mm\b", remark) or bare
            taken = text.replace(line, line.removeprefix("# "))
            read = job_from(parse_toml(taken.encode(), "fresh.toml"), shop).instrument[spec.id]
            assumed = job.instrument[spec.id].value
            assert not read.assumed
            assert isinstance(read.value, Decimal)
            assert isinstance(assumed, Decimal)
            assert abs(read.value - assumed) <= (0 if bare else Decimal("0.0127" if assumed < 100 else "0.4"))


def test_what_was_measured_keeps_its_figure_in_a_new_file() -> None:
    shop = shop_in("in")
    seen = {"nut_wid": '"1 3/4 in"', "peg_thk": "14.3"}
    job = default_job(shop, "guitar-solid", seen=seen)
    text = job_text(shop, job, fields_that_matter(shop, job, ()), "fresh")
    assert 'nut_wid = "1.75 in"' in text
    assert 'peg_thk = "14.3 mm"' in text
