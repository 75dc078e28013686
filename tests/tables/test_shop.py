"""The shop: overlaying folders, settings, and one broken input per message of the checks."""

from __future__ import annotations

import csv
import random
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.core.errors import InputError, Origin
from estimator.model import MarkupBand, Shop
from estimator.tables.folders import known_files, read_default, read_folder
from estimator.tables.load import load_shop
from estimator.tables.methods import by_methods
from estimator.tables.schema.shop import TABLES
from estimator.tables.settings import read_terms
from tests.shops import write_shop
from tests.tables.tinyshop import SHOP_TOML, Rows, csv_bytes, shop_issues, tiny_files, tiny_rows, tiny_shop

RATES = Path(__file__).parents[2] / "rates"

RECORDS = [name for name in Shop.__struct_fields__ if name not in ("folders", "issues")]


def test_tiny_shop_is_sound() -> None:
    assert shop_issues() == []


def test_typical_and_own_dimensions_of_parts() -> None:
    bone = tiny_shop().parts["p-nut-bone"]
    assert bone.dims == {"thk": Decimal(6), "spacing_w": Decimal(35), "slotted": "no", "base": "flat"}
    # a part of a class and grade is not a part that somebody measured
    assert bone.typical == {"thk", "spacing_w", "slotted", "base"}
    assert bone.levels == {"NM": "bone"}


def test_records_cannot_be_changed() -> None:
    shop = tiny_shop()
    with pytest.raises(TypeError):
        shop.tasks["new"] = shop.tasks["weigh"]  # type: ignore[index]


# ------------------------------------------------------------------------------------- overlaying


def without_origins(shop: Shop) -> dict[str, str]:
    """The content of a shop, blind to the folder a row came from."""
    text = {name: repr(getattr(shop, name)) for name in RECORDS}
    return {name: value.replace("mine1/", "rates/") for name, value in text.items()}


def test_overlaying_a_shop_on_itself_changes_nothing() -> None:
    assert without_origins(tiny_shop(None, tiny_files())) == without_origins(tiny_shop())


def test_overlay_replaces_in_place_and_adds_at_the_end() -> None:
    rows = tiny_rows()
    dearer, new = rows["consumables"][0] | {"price": "9"}, rows["consumables"][0] | {"id": "c-wax"}
    shop = tiny_shop(None, {"consumables.csv": csv_bytes("consumables", [new, dearer])})
    assert list(shop.consumables) == ["c-glue", "c-wax"]
    assert shop.consumables["c-glue"].price == 9
    assert str(shop.consumables["c-glue"].origin) == "mine1/consumables.csv, row 3"
    assert shop.folders == ("rates", "mine1")


def test_overlay_settings_replace_key_by_key() -> None:
    shop = tiny_shop(None, {"shop.toml": b'charge_per_hour = "82.50"\n[basis]\ncharge_per_hour = "memory"\n'})
    assert shop.terms.charge_per_hour == Decimal("82.50")
    assert shop.terms.skill == 4


def test_order_of_rows_does_not_matter_for_the_content() -> None:
    rows = tiny_rows()
    for table in rows.values():
        random.Random(1).shuffle(table)
    shuffled, plain = tiny_shop(rows), tiny_shop()
    for name in ("tasks", "consumables", "parts", "attributes", "intake", "upgrades"):
        one, two = getattr(shuffled, name), getattr(plain, name)
        assert {k: replace(v, origin=Origin()) for k, v in one.items()} == {
            k: replace(v, origin=Origin()) for k, v in two.items()
        }
    assert set(shuffled.task_order) == set(plain.task_order)


# ---------------------------------------------------------------------------------------- folders


def folder_issues(folder: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        load_shop(folder)
    return [str(issue) for issue in caught.value.issues]


def test_default_shop_loads_and_is_complete() -> None:
    shop = load_shop()
    assert shop.folders == ("rates",)
    assert shop.terms.wage_per_hour == Decimal("53.60")  # 57,200 / (46 x 40 x 0.58), half up
    assert shop.terms.overhead_per_hour == Decimal("18.93")  # 20,200 / the same
    assert {"tasks.csv", "shop.toml"} <= set(read_default().files) == set(known_files())
    assert [issue for issue in shop.issues if issue.severity == "error"] == []


def test_user_folder_over_the_default(tmp_path: Path) -> None:
    (tmp_path / "README").write_text("mine")
    (tmp_path / ".hidden").write_text("")
    (tmp_path / "notes.txt").write_text("")
    (tmp_path / "shop.toml").write_text('skill = 2\n[basis]\nskill = "memory"\n', encoding="utf-8")
    shop = load_shop(tmp_path)
    assert shop.terms.skill == 2
    assert shop.folders == ("rates", str(tmp_path))
    assert shop.tasks == load_shop().tasks


def test_missing_folder_names_a_near_one(tmp_path: Path) -> None:
    (tmp_path / "myshop").mkdir()
    (issue,) = folder_issues(tmp_path / "myshpo")
    assert "there is no such shop folder" in issue
    assert "did you mean “myshop”?" in issue


def test_file_given_instead_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "tasks.csv").write_text("")
    (issue,) = folder_issues(tmp_path / "tasks.csv")
    assert "a file where a shop folder belongs" in issue
    assert f"give the folder it lies in: {tmp_path}" in issue


def test_folder_without_tables(tmp_path: Path) -> None:
    (issue,) = folder_issues(tmp_path)
    assert "the folder holds no known table" in issue
    assert "tasks.csv" in issue


def test_a_folder_with_a_ledger_is_a_shop_as_the_default_one(tmp_path: Path) -> None:
    (tmp_path / "ledger.sqlite").write_bytes(b"")
    assert read_folder(tmp_path).files == {}


def test_a_new_shop_begins_as_the_message_says(tmp_path: Path) -> None:
    (issue,) = folder_issues(tmp_path)
    assert "a new shop begins with an empty shop.toml" in issue
    (tmp_path / "shop.toml").write_text("")
    assert read_folder(tmp_path).files == {"shop.toml": b""}


def test_unknown_files_in_a_folder(tmp_path: Path) -> None:
    for name in ("task.csv", "tools.xlsx", "zzz"):
        (tmp_path / name).write_text("")
    (tmp_path / "woods.csv").mkdir()
    issues = folder_issues(tmp_path)
    assert "did you mean “tasks.csv”?" in issues[0]
    assert "CSV UTF-8" in issues[1]
    assert "take it out of the folder" in issues[2]
    assert "woods.csv: the file cannot be read" in issues[3]


def test_complaints_of_several_files_come_together() -> None:
    bad = {"tools.csv": b"nonsense", "woods.csv": b"", "shop.toml": b"skill = 9\n[basis]\nskill='demo'\n"}
    files = {issue.where.file for issue in shop_issues(None, bad)}
    assert files == {"mine1/tools.csv", "mine1/woods.csv", "mine1/shop.toml"}


# --------------------------------------------------------------------------------------- settings


def terms_issue(old: str, new: str) -> str:
    assert old in SHOP_TOML.decode()
    with pytest.raises(InputError) as caught:
        read_terms([("shop.toml", SHOP_TOML.decode().replace(old, new, 1).encode())])
    return str(caught.value)


def test_rates_are_built_up_from_yearly_lines() -> None:
    terms = read_terms([("shop.toml", SHOP_TOML)])
    assert (terms.wage_per_hour, terms.overhead_per_hour) == (Decimal("50.00"), Decimal("20.00"))
    assert terms.markup == (MarkupBand(Decimal(10), Decimal("2.0")), MarkupBand(None, Decimal("1.5")))


def test_rates_half_a_cent_goes_up() -> None:
    lines = SHOP_TOML.replace(b"draw = 50000", b"draw = 50005")  # 50005 / 1000 = 50.005
    assert read_terms([("shop.toml", lines)]).wage_per_hour == Decimal("50.01")


def test_rates_given_outright_win_until_a_later_build_up() -> None:
    outright = ("a", b'wage_per_hour = 41\n[basis]\neverything = "demo"\n')
    build_up = ("b", b'[rate_build_up]\ndraw = 60000\n[basis]\neverything = "demo"\n')
    assert read_terms([("shop.toml", SHOP_TOML), outright]).wage_per_hour == 41
    assert read_terms([("shop.toml", SHOP_TOML), outright]).overhead_per_hour == 20
    assert read_terms([("shop.toml", SHOP_TOML), outright, build_up]).wage_per_hour == 60


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("skill = 4", "skill = 6", "a number that is too large; found “6”; accepted: from 1 to 5"),
        ("skill = 4", "skil = 4", "unknown section or key; found “skil”"),
        ("skill = 4", "skil = 4", "did you mean “skill”?"),
        ("skill = 4", "skill = 2.5", "not a whole number"),
        ("skill = 4", "", "skill: a setting is missing"),
        ("fee_least = 4", "fee_least = -4", "negative money"),
        ("fee_least = 4", "fee_least = nan", "not a number"),
        ("fee_least = 4", "fee_least = true", "true or false where a number belongs"),
        ("fee_least = 4", "fee_least = 40", "fee_least is above fee_most"),
        ('currency = "USD"', 'currency = "JPY"', "JPY has no hundredths"),
        ('currency = "USD"', 'currency = " kwd "', "KWD is divided into thousandths"),
        ("batch_share = 0.5", "batch_share = 1.5", "1.5"),
        ('tax_per = "invoice"', 'tax_per = "bill"', "accepted: invoice, line"),
        ("up_to = 10", "", "mark-up bands out of order"),
        ('everything = "demo"', 'everything = "guess"', "unknown basis"),
        ('everything = "demo"', 'everything = "published"', "published without a source"),
        ('everything = "demo"', 'skill = "demo"', "no basis is given for this key"),
        ("weeks = 50", "", "neither given nor to be worked out"),
        ("weeks = 50", "weekz = 50", "did you mean “weeks”?"),
        ("[rate_build_up]", "[rate_build_up", "a section name is not closed"),
    ],
)
def test_bad_settings(old: str, new: str, says: str) -> None:
    assert says in terms_issue(old, new)


def test_every_setting_of_the_default_shop_has_its_own_basis() -> None:
    values = tomllib.loads(read_default().files["shop.toml"].decode())
    assert set(values["basis"]) == set(values) - {"basis", "source"}


# ----------------------------------------------------------------------------------------- checks

#: table, row, column, cell, file and column of the complaint, what it says
BROKEN = [
    ("task_tools", 0, "tool", "t-fiel", "task_tools", "nothing has this name", "did you mean “t-file”?"),
    ("task_methods", 0, "usual", "no", "task_methods", "one must be the usual one", "mark one of file, mill"),
    ("task_methods", 1, "usual", "yes", "task_methods", "one must be the usual one", "2 of 2"),
    ("task_methods", 0, "setup_min", "4", "task_methods", "the usual way is that of tasks.csv", "setup_min"),
    ("task_methods", 0, "not_when", "bass", "task_methods", "the usual way can always be used", "bass"),
    (
        "task_methods",
        1,
        "run_min_low",
        "",
        "task_methods",
        "some readings of a time are blank",
        "run_min_likely",
    ),
    ("task_methods", 1, "run_min_low", "2.5", "task_methods", "numbers that do not rise", "run_min_low 2.5"),
    (
        "task_methods",
        1,
        "wait_fast_min",
        "5",
        "task_methods",
        "some readings of a time are blank",
        "wait_safe_min",
    ),
    (
        "task_methods",
        1,
        "not_when",
        "nut-stick",
        "task_methods",
        "unknown condition",
        "did you mean “nut-stuck”?",
    ),
    ("task_methods", 1, "factors", "NMM", "task_methods", "unknown factor code", "did you mean “NM”?"),
    ("task_methods", 1, "hazards", "H-XX", "task_methods", "nothing has this name", "hazards.csv"),
    (
        "task_methods",
        1,
        "task",
        "fit-nuts",
        "task_methods",
        "nothing has this name",
        "did you mean “fit-nut”?",
    ),
    (
        "method_consumables",
        0,
        "method",
        "mil",
        "method_consumables",
        "no way of this name",
        "did you mean “mill”?",
    ),
    ("method_tools", 0, "method", "mil", "method_tools", "no way of this name to do fit-nut", "file, mill"),
    ("method_tools", 0, "tool", "t-fiel", "method_tools", "nothing has this name", "did you mean “t-file”?"),
    ("tasks", 1, "billed", "no", "task_methods", "work that is not billed has one way", "delete the row"),
    ("tasks", 1, "hazards", "H-XX", "tasks", "nothing has this name", "hazards.csv"),
    (
        "upgrade_work",
        0,
        "task",
        "nut-swop",
        "upgrade_work",
        "nothing has this name",
        "did you mean “nut-swap”?",
    ),
    (
        "bundle_work",
        0,
        "bundle",
        "weigh",
        "bundle_work",
        "a bundle is called like a task",
        "rename the bundle",
    ),
    (
        "needless_work",
        1,
        "with_task",
        "",
        "needless_work",
        "names either an upgrade or a task",
        "found neither",
    ),
    (
        "needless_work",
        0,
        "with_task",
        "weigh",
        "needless_work",
        "names either an upgrade or a task",
        "blank one",
    ),
    (
        "upgrades",
        1,
        "excludes",
        "new-nut-bnoe",
        "upgrades",
        "nothing has this name",
        "did you mean “new-nut-bone”?",
    ),
    ("upgrades", 1, "needs_all", "weigh-it", "upgrades", "an upgrade names itself", "other upgrades"),
    ("upgrades", 1, "needs_any", "zzz", "upgrades", "nothing has this name", "-variant"),
    (
        "upgrade_effects",
        0,
        "grade",
        "brass",
        "upgrade_effects",
        "no part of this upgrade has such",
        "plastic, bone",
    ),
    (
        "upgrade_effects",
        0,
        "together_with",
        "zzz",
        "upgrade_effects",
        "nothing has this name",
        "upgrades.csv",
    ),
    ("task_effects", 0, "together_with", "zzz", "task_effects", "nothing has this name", "tasks.csv"),
    (
        "upgrade_work",
        1,
        "upgrade",
        "new-nut",
        "upgrades",
        "an upgrade with neither work nor a part",
        "add its work",
    ),
    ("parts", 2, "part_class", "p-nut", "", "", ""),
    (
        "upgrade_work",
        1,
        "quantity",
        "0.5 * strings",
        "upgrade_work",
        "no intake field has this name",
        "string_n",
    ),
    (
        "upgrade_work",
        1,
        "quantity",
        "2 * kind",
        "upgrade_work",
        "an intake field that is no number",
        "number field",
    ),
    (
        "upgrade_work",
        1,
        "quantity",
        "part.thk",
        "upgrade_work",
        "there is no part to look this up on",
        "part_class",
    ),
    ("upgrades", 0, "removes_g", "part.thick", "upgrades", "p-nut has no such number dimension", "part.thk"),
    (
        "upgrades",
        0,
        "removes_g",
        "part.base",
        "upgrades",
        "p-nut has no such number dimension",
        "part.weight_g",
    ),
    ("tasks", 0, "factors", "CD NMM", "tasks", "unknown factor code", "did you mean “NM”?"),
    ("tasks", 2, "factors", "BW.rout", "tasks", "unknown factor code", "did you mean “BW.route”?"),
    ("bundle_work", 1, "levels", "NM=bnoe", "bundle_work", "NM has no such level", "did you mean “bone”?"),
    ("bundle_work", 1, "levels", "FW=nickel", "bundle_work", "FW has no such level", "nickel-silver"),
    ("parts", 1, "levels", "XX=bone", "parts", "unknown factor code", "NM"),
    ("upgrade_work", 0, "when", "tremollo", "upgrade_work", "unknown condition", "did you mean “tremolo”?"),
    ("part_classes", 0, "rules", "R0x", "part_classes", "unknown fit rule", "R0"),
    (
        "task_order",
        0,
        "after",
        "remove-nut",
        "task_order",
        "goes round in a circle",
        "remove-nut -> remove-nut",
    ),
    ("bundle_work", 1, "task", "nut-swap", "bundle_work", "a bundle holds itself", "nut-swap -> nut-swap"),
    (
        "attribute_limits",
        0,
        "other",
        "tuning",
        "attribute_limits",
        "go round in a circle",
        "tuning -> tuning",
    ),
    ("tasks", 0, "run_min_low", "6", "tasks", "numbers that do not rise", "run_min_low 6, run_min_likely 5"),
    ("tasks", 0, "wait_fast_min", "6", "tasks", "numbers that do not rise", "wait_usual_min"),
    (
        "parts",
        0,
        "price_high",
        "2.5",
        "parts",
        "numbers that do not rise",
        "price_low <= price <= price_high",
    ),
    ("upgrade_effects", 0, "value", "5", "upgrade_effects", "a level outside 0 to 4", "0 to 4"),
    (
        "upgrade_effects",
        0,
        "kind",
        "change",
        "upgrade_effects",
        "change of an attribute that has levels",
        "to, add",
    ),
    (
        "upgrade_effects",
        0,
        "attribute",
        "weight",
        "upgrade_effects",
        "an effect that an amount cannot",
        "accepted: change",
    ),
    ("parts", 1, "variant", "plastic", "parts", "two parts of a class are called alike", "also in row 2"),
    ("attributes", 1, "limit_2", "3000", "attributes", "limits out of order", "falling from level 1"),
    ("attributes", 1, "limit_2", "", "attributes", "some limits are missing", "3 of 4"),
    (
        "attribute_limits",
        0,
        "needs",
        "1",
        "attribute_limits",
        "neither or both of plus and needs",
        "one of the two",
    ),
    ("profiles", 0, "weight", "50", "profiles", "the weights of student do not sum to 100", "found 90"),
    ("intake", 1, "hard_low", "5", "intake", "limits out of order", "hard_low <= accepted_low"),
    ("intake", 0, "choices", "", "intake", "a choice without words", "parted by blanks"),
    (
        "intake",
        0,
        "default_guitar",
        "guitar",
        "intake",
        "a default that cannot be used",
        "did you mean “guitar-solid”?",
    ),
    ("intake", 1, "default_guitar", "3", "intake", "a default outside the accepted range", "from 4 to 12"),
    ("intake", 3, "default_guitar", "10", "intake", "an impossible value", "from 20 to 100 mm"),
    (
        "intake",
        2,
        "default_guitar",
        "tuner_n",
        "intake",
        "defaults go round in a circle: tuner_n -> tuner_n",
        "itself",
    ),
    ("intake", 2, "default_guitar", "2 * stringz", "intake", "text where a number belongs", "plain number"),
    (
        "intake",
        2,
        "default_guitar",
        "2 * kind",
        "intake",
        "kind holds no number",
        "intake fields that are numbers",
    ),
    ("intake", 9, "default_guitar", "often", "intake", "neither yes nor no", "yes, no"),
    ("part_dimensions", 3, "choices", "", "part_dimensions", "a choice without words", "list them"),
    (
        "part_dimensions",
        0,
        "typical",
        "thick",
        "part_dimensions",
        "text where a number belongs",
        "units mm, cm",
    ),
    ("part_dimensions", 0, "typical", "9", "part_dimensions", "a number that is too large", "from 2 to 8"),
    (
        "part_dimensions",
        0,
        "typical_bass",
        "9",
        "part_dimensions",
        "a number that is too large",
        "from 2 to 8",
    ),
    ("part_dimensions", 1, "to_order", "often", "part_dimensions", "neither yes nor no", "yes, no"),
    (
        "customer_words",
        0,
        "about",
        "fit-nutt",
        "customer_words",
        "nothing is told by this name",
        "“fit-nut”?",
    ),
    (
        "customer_words",
        1,
        "about",
        "last-levels",
        "customer_words",
        "nothing is told by this name",
        "“last-level”?",
    ),
    ("customer_words", 0, "rule", "R380", "customer_words", "unknown fit rule", "R38"),
    ("customer_words", 0, "words", "{m} nuts", "customer_words", "a place that nothing is put into", "{n}"),
    (
        "customer_words",
        1,
        "words",
        "{n} more",
        "customer_words",
        "a place that nothing is put into",
        "about a task",
    ),
    ("customer_words", 1, "concern", "price", "customer_words", "no work has no price", "bench alone"),
    ("customer_words", 0, "concern", "colour", "customer_words", "not accepted here", "lasting"),
    ("parts", 1, "dims", "thk 6", "parts", "not a pair", "spread=54.5"),
    ("parts", 1, "dims", "thik=6", "parts", "unknown dimension", "did you mean “thk”?"),
    ("parts", 1, "dims", "thk=60", "parts", "thk: a number that is too large", "from 2 to 8"),
    (
        "parts",
        1,
        "dims",
        "base=flatt",
        "parts",
        "base: a word that is not accepted here",
        "did you mean “flat”?",
    ),
]


@pytest.mark.parametrize(("table", "row", "column", "cell", "file", "problem", "says"), BROKEN)
def test_broken_tables(
    table: str, row: int, column: str, cell: str, file: str, problem: str, says: str
) -> None:
    rows: Rows = tiny_rows()
    rows[table][row][column] = cell
    issues = shop_issues(rows)
    if not problem:
        assert issues == []
        return
    hits = [
        str(i) for i in issues if problem in i.problem and i.where.file == f"rates/{file}.csv" and i.where.row
    ]
    assert hits, [str(issue) for issue in issues]
    assert says in hits[0]


@pytest.mark.parametrize(
    ("rests", "problems"),
    [
        ({"field": "body_thk"}, 0),
        ({"other": "comfort"}, 0),
        ({}, 1),
        ({"task": "fit-nut"}, 0),
        ({"field": "body_thk", "other": "comfort"}, 1),
        ({"field": "body_thk", "task": "fit-nut"}, 1),
    ],
)
def test_a_promise_rests_on_a_field_another_attribute_or_a_task(rests: dict[str, str], problems: int) -> None:
    rows = tiny_rows()
    other = rows["attributes"][0]["id"]
    named = {"other": other, "field": rows["intake"][1]["id"], "task": "fit-nut"}
    rests = {key: named[key] for key in rests}
    rows["promise_rests"] = [{"name": "one", "attribute": other, "because": "it does", **rests}]
    issues = [i for i in shop_issues(rows) if i.severity != "warning"]
    assert len(issues) == problems
    assert all("none or several of a field" in issue.problem for issue in issues)


def test_circle_of_tasks_is_named_in_full() -> None:
    rows = tiny_rows()
    rows["task_order"] += [
        {"before": "fit-nut", "after": "weigh"},
        {"before": "weigh", "after": "remove-nut"},
    ]
    (issue,) = shop_issues(rows)
    assert issue.found == "remove-nut -> fit-nut -> weigh -> remove-nut"
    assert issue.where.row == 4


def test_a_row_with_unless_may_close_no_circle_that_stands_without_those_tasks() -> None:
    rows = tiny_rows()
    rows["task_order"] += [
        {"before": "fit-nut", "after": "weigh", "direct": "yes"},
    ]
    rows["order_unless"] = [{"before": "weigh", "after": "remove-nut", "unless": "fit-nut"}]
    assert shop_issues(rows) == []  # through fit-nut only, which binds nothing where it is not on the job
    rows["task_order"].append({"before": "remove-nut", "after": "weigh", "direct": "yes"})
    (issue,) = shop_issues(rows)
    assert issue.found == "weigh -> remove-nut -> weigh"
    assert "though none of these is on the job" in issue.problem
    assert (issue.where.row, issue.where.column) == (2, "unless")


def test_class_without_a_part() -> None:
    rows = tiny_rows()
    rows["part_classes"].append({"id": "p-none", "what": "nothing"})
    rows["upgrades"][0]["part_class"] = "p-none"
    assert "no part of this class is in parts.csv" in [issue.problem for issue in shop_issues(rows)]


def test_need_and_exclusion_contradict() -> None:
    rows = tiny_rows()
    rows["upgrades"][1] |= {"needs_all": "new-nut", "excludes": "new-nut"}
    (issue,) = shop_issues(rows)
    assert issue.problem == "an upgrade both needs and excludes another"


def test_what_shuts_another_out_asks_for_no_condition_of_its_part() -> None:
    rows = tiny_rows()
    rows["upgrades"][1] |= {"needs_any": "new-nut/four-leads", "excludes": "new-nut-plastic/four-leads"}
    (issue,) = shop_issues(rows)
    assert (issue.where.column, issue.problem) == ("excludes", "nothing has this name")
    assert issue.found == "“new-nut-plastic/four-leads”"


def test_needs_in_a_circle_and_amounts_without_limits_only_warn() -> None:
    rows = tiny_rows()
    rows["upgrades"][0]["needs_all"], rows["upgrades"][1]["needs_all"] = "weigh-it", "new-nut"
    rows["upgrades"][1]["excludes"] = ""
    rows["attributes"][2] |= dict.fromkeys(("limit_1", "limit_2", "limit_3", "limit_4"), "")
    issues = tiny_shop(rows).issues
    assert [issue.problem for issue in issues] == [
        "upgrades need each other in a circle",
        "an amount without limits",
    ]
    assert {issue.severity for issue in issues} == {"warning"}


@pytest.mark.parametrize("table", ["upgrade_effects", "task_effects", "profiles"])
def test_resonance_is_never_promised(table: str) -> None:
    rows = tiny_rows()
    rows["attributes"].append({"id": "resonance", "what": "the player's words", "kind": "level"})
    rows[table][0]["attribute"] = "resonance"
    assert "never scored or promised" in str(shop_issues(rows)[0])


# ---------------------------------------------------------------------------------- low above high


LOW_HIGH = [
    (spec.name, column.name)
    for spec in TABLES
    for column in spec.columns
    if "low" in column.name.split("_")
    and column.name.replace("low", "high") in {c.name for c in spec.columns}
]


@pytest.mark.slow
@pytest.mark.parametrize(("table", "low"), LOW_HIGH)
def test_low_above_high_is_refused_in_every_table(tmp_path: Path, table: str, low: str) -> None:
    """The first row with both ends apart, swapped: an error at that file, row and column."""
    high = low.replace("low", "high")
    with (RATES / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row[low] and row[high]]
    row = next((row for row in rows if row[low] != row[high]), rows[0])
    low_end, high_end = row[high], row[low]
    if low_end == high_end:
        low_end = str(Decimal(low_end) + 1)
    folder = write_shop(tmp_path / "swapped", {table: [row | {low: low_end, high: high_end}]})
    with pytest.raises(InputError) as caught:
        load_shop(folder)
    issues = caught.value.issues
    assert any(i.where.file.endswith(f"{table}.csv") and i.where.row == 2 for i in issues), list(
        map(str, issues)
    )


def test_the_low_high_columns_are_found() -> None:
    assert ("box_classes", "freight_low") in LOW_HIGH
    assert ("known_jobs", "low_min") in LOW_HIGH
    assert len(LOW_HIGH) > 12


def test_a_way_says_only_what_differs() -> None:
    shop = tiny_shop()
    assert (shop.tasks["fit-nut"].method, shop.tasks["fit-nut"].way) == ("file", "by file")
    assert shop.tasks["remove-nut"].method == ""
    milled = by_methods(shop, {"fit-nut": "mill"})
    row = milled.tasks["fit-nut"]
    assert (row.setup_min, row.run_min_likely, row.factors, row.beginner_factor) == (
        9,
        2,
        ("NM",),
        Decimal("1.5"),
    )
    assert row.by_usual == shop.tasks["fit-nut"]
    assert milled.task_consumables["fit-nut"] == (("c-glue", Decimal("0.25"), "any"),)
    assert milled.task_tools["fit-nut"] == ()
    assert by_methods(shop, {"fit-nut": "file"}) is shop


def test_levels_that_differ_on_a_bass_say_so_at_every_level() -> None:
    """Who reads one level alone, on a sheet or at a question, reads the figure of a bass as well."""
    shop = load_shop()
    shifted = [row for row in shop.attributes.values() if row.bass_shift and any(row.words)]
    assert {row.id for row in shifted} == {"action", "weight"}
    for row in shifted:
        for level, limit in enumerate(row.limits, 1):
            figures = row.words[level].replace(",", "")
            assert str(limit) in figures, (row.id, level)
            assert f"bass {limit + row.bass_shift}" in figures, (row.id, level)
        assert f"bass {row.limits[0] + row.bass_shift}" in row.words[0].replace(",", "")
