"""Job files: defaults, units, requirements, and one broken input per message."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.core.errors import InputError
from estimator.input.job.load import job_from, load_job
from estimator.model import JobTerms
from estimator.tables.folders import default_folder
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop
from tests.tables.tinyshop import job_issues, tiny_job, tiny_shop

HEAD = '[job]\nid = "trial"\n'


def requirement(wish: str, attribute: str, kind: str = "guitar-solid") -> tuple[object, ...]:
    job = tiny_job(f'{HEAD}[instrument]\nkind = "{kind}"\n{wish}')
    (found,) = [r for r in job.requirements if r.attribute == attribute]
    return found.least, found.most, found.level, found.because


# -------------------------------------------------------------------------------- what is accepted


def test_shortest_job_has_stated_defaults() -> None:
    job = tiny_job(HEAD)
    assert (job.id, job.kind, job.profile, job.open, job.requirements) == ("trial", "own", "", (), ())
    assert (job.budget.money, job.budget.on, job.budget.minutes, job.budget.surety) == (
        None,
        "cash",
        None,
        None,
    )
    assert all(reading.assumed for reading in job.instrument.values())
    assert list(job.instrument) == list(tiny_shop().intake)
    assert job.found_levels == {}
    assert job.issues == ()


def test_bass_has_defaults_of_its_own() -> None:
    job = tiny_job(HEAD + '[instrument]\nkind = "bass-solid"\n')
    assert job.is_bass
    assert job.instrument["string_n"].value == 4
    assert job.instrument["tuner_n"].value == 4


def test_a_default_follows_what_was_measured() -> None:
    job = tiny_job(HEAD + "[instrument]\nstring_n = 7\nface_cm2 = 900\nnut_wid = 50\n")
    assert job.instrument["tuner_n"].value == 7
    assert job.instrument["skin_cm2"].value == 2 * 900 + 10 * 50
    assert job.instrument["skin_cm2"].assumed
    assert not job.instrument["nut_wid"].assumed
    assert (job.instrument["nut_wid"].origin.row, job.instrument["nut_wid"].origin.column) == (
        6,
        "[instrument] nut_wid",
    )


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ("nut_wid = 42", Decimal(42)),
        ("nut_wid = 42.10", Decimal("42.10")),
        ('nut_wid = "42"', Decimal(42)),
        ('nut_wid = "1 5/8 in"', Decimal("41.275")),  # 1.625 x 25.4
        ("nut_wid = '1 5/8\"'", Decimal("41.275")),
        ('crack_cm = "3 in"', Decimal("7.62")),  # in the field's own unit, cm
        ('crack_cm = "15 mm"', Decimal("1.5")),
        ('face_cm2 = "160 in2"', Decimal("1032.256")),  # 160 x 6.4516
        ('weight_g = "8 lb 3 oz"', Decimal("3713.787529375")),  # 8.1875 x 453.59237
        ("nut_stuck = true", True),
        ('nut_stuck = "yes"', True),
        ('missing_list = ["knob", "spring"]', ("knob", "spring")),
        ('missing_list = "none"', ()),
        ('odd_work = "filler in the cavity"', "filler in the cavity"),
    ],
)
def test_values_with_units(line: str, value: object) -> None:
    reading = tiny_job(f"{HEAD}[instrument]\n{line}\n").instrument[line.split(" =")[0]]
    assert reading.value == value
    assert not reading.assumed


def test_unknown_written_out_is_assumed() -> None:
    job = tiny_job(HEAD + '[instrument]\nnut_wid = "unknown"\nbody_wood = "unknown"\n')
    assert (job.instrument["nut_wid"].value, job.instrument["nut_wid"].assumed) == (Decimal(42), True)
    assert (job.instrument["body_wood"].value, job.instrument["body_wood"].assumed) == ("unknown", True)


def test_floats_are_exact_as_written() -> None:
    assert str(tiny_job(HEAD + "[budget]\nmoney = 0.1\n").budget.money) == "0.1"


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("6.5", 390), ('"6 h 30 min"', 390), ('"90 min"', 90), ('"2"', 120), ('"1.5 h"', 90)],
)
def test_hours(text: str, minutes: int) -> None:
    assert tiny_job(f"{HEAD}[budget]\nhours = {text}\n").budget.minutes == minutes


def test_budget_is_held_against_the_price_for_a_customer() -> None:
    job = tiny_job('[job]\nid = "x"\nkind = "commission"\n[budget]\nmoney = "100.50"\nsurety = 90\n')
    assert (job.budget.on, job.budget.money, job.budget.surety) == ("price", Decimal("100.50"), 90)


def test_levels_and_limits_become_requirements() -> None:
    assert requirement("[wish]\nrequire = { tuning = 3 }", "tuning") == (None, None, 3, "asked for")
    assert requirement("[wish]\nrequire = { weight = 3 }", "weight") == (None, 3600, 3, "asked for")
    assert requirement("[wish]\nrequire = { weight = 3 }", "weight", "bass-solid") == (
        None,
        4100,
        3,
        "asked for",
    )
    assert requirement("[wish]\nrequire = { bridge-mass = 2 }", "bridge-mass") == (250, None, 2, "asked for")
    limits = '[wish.limits]\nweight = { most = "3.6 kg" }\nbridge-mass = { least = 300, most = "0.4 kg" }'
    assert requirement(limits, "weight") == (None, 3600, None, "asked for")
    assert requirement(limits, "bridge-mass") == (300, 400, None, "asked for")


def test_profile_minima_are_required_unless_replaced_or_dropped() -> None:
    assert requirement('[wish]\nprofile = "student"', "weight") == (None, 4000, 2, "profile student")
    raised = (
        '[wish]\nprofile = "student"\nrequire = { nut-function = 4 }\nlimits = { weight = { most = 5000 } }'
    )
    assert requirement(raised, "nut-function")[2:] == (4, "asked for")
    assert requirement(raised, "weight") == (None, 5000, None, "asked for")
    dropped = tiny_job(HEAD + '[wish]\nprofile = "student"\nrequire = { weight = "any", nut-function = 0 }\n')
    assert dropped.requirements == ()


def test_weights_lie_over_those_of_the_profile() -> None:
    job = tiny_job(HEAD + '[wish]\nprofile = "student"\nweights = { weight = 7.5, tuning = 1 }\n')
    assert job.weights == {"nut-function": 60, "weight": Decimal("7.5"), "tuning": 1}


def test_part_is_filled_up_from_the_shop_and_says_what_is_typical() -> None:
    part = tiny_job(
        HEAD + '[[part]]\nid = "mine"\nclass = "p-nut"\nvariant = "bone"\nthk = "1/8 in"\n'
    ).parts["mine"]
    assert (part.grade, part.price, part.weight_g, part.what) == ("standard", 10, 5, "bone nut")
    assert part.levels == {"NM": "bone"}
    assert part.dims == {"thk": Decimal("3.175"), "spacing_w": 35, "slotted": "no", "base": "flat"}
    assert part.typical == {"spacing_w", "slotted", "base", "weight_g"}
    assert part.origin.row == 3


def test_part_with_everything_stated() -> None:
    text = (
        HEAD
        + '[[part]]\nid = "mine"\nclass = "p-nut"\ngrade = "premium"\nprice = "21.90"\nwhat = "brass nut"\n'
        'owner = "customer"\nweight_g = "1/2 oz"\nslotted = true\nbase = "curved"\nlevels = { NM = "plastic" }\n'
    )
    part = tiny_job(text).parts["mine"]
    assert (part.variant, part.grade, part.price, part.owner) == (
        "mine",
        "premium",
        Decimal("21.90"),
        "customer",
    )
    assert part.weight_g == Decimal("14.1747615625")
    assert (part.dims["slotted"], part.dims["base"], part.levels) == ("yes", "curved", {"NM": "plastic"})
    assert part.typical == {"thk", "spacing_w"}


def test_a_part_that_the_customer_brings_needs_no_price() -> None:
    text = HEAD + '[[part]]\nid = "mine"\nclass = "p-nut"\ngrade = "premium"\nowner = "customer"\n'
    part = tiny_job(text).parts["mine"]
    assert (part.price, part.variant, part.what) == (0, "mine", "nut")


def test_upgrades_by_id_or_variant_stock_and_terms() -> None:
    job = tiny_job(
        HEAD
        + '[upgrades]\nopen = ["new-nut", "weigh-it"]\nrequired = ["new-nut"]\nrefused = "new-nut-plastic"\n'
        "[stock]\nc-glue = 20\np-nut-bone = 1\n[terms]\nskill = 2\ncharge_per_hour = 60.50\nrush = true\nbatch = 5\n"
    )
    assert (job.open, job.required, job.refused) == (
        ("new-nut", "weigh-it"),
        ("new-nut",),
        ("new-nut-plastic",),
    )
    assert job.stock == {"c-glue": 20, "p-nut-bone": 1}
    assert job.terms == JobTerms(skill=2, charge_per_hour=Decimal("60.50"), rush=True, batch=5)


def test_ways_and_missing_tools_of_a_job() -> None:
    job = tiny_job(HEAD + '[methods]\nfit-nut = "mill"\nwithout_tools = ["t-file"]\n')
    assert dict(job.methods) == {"fit-nut": "mill"}
    assert job.without_tools == ("t-file",)
    assert (dict(tiny_job(HEAD).methods), tiny_job(HEAD).without_tools) == ({}, ())


@pytest.mark.parametrize(
    ("line", "problem", "says"),
    [
        ('fit-nut = "mil"', "no such way", "did you mean “mill”?"),
        ("fit-nut = 3", "no such way", "file, mill"),
        ('remove-nut = "mill"', "this task has only one way", "fit-nut"),
        ('fit-nutt = "mill"', "unknown task", "did you mean “fit-nut”?"),
        ('without_tools = ["t-fiel"]', "unknown tool", "did you mean “t-file”?"),
    ],
)
def test_ways_that_a_job_cannot_have(line: str, problem: str, says: str) -> None:
    (issue,) = job_issues(f"{HEAD}[methods]\n{line}\n")
    assert problem in issue.problem
    assert says in str(issue)
    assert issue.where.row == 4


def test_levels_found_at_the_bench() -> None:
    job = tiny_job(
        HEAD + '[instrument.levels]\ntuning = 1.5\nbridge-mass = "0.3 kg"\nnut-function = "unknown"\n'
    )
    assert {name: reading.value for name, reading in job.found_levels.items()} == {
        "tuning": Decimal("1.5"),
        "bridge-mass": 300,
    }


def test_outside_the_accepted_range_is_only_asked_about() -> None:
    (issue,) = job_issues(HEAD + '[instrument]\nnut_wid = "3 in"\n')
    assert issue.severity == "warning"
    assert str(issue) == (
        "job.toml, row 4, [instrument] nut_wid: a value outside the usual range; found “3 in”, that is 76.2 mm; "
        "accepted: from 34 to 60 mm; next: sure? measure again: look"
    )


def test_bom_and_crlf(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_bytes(b"\xef\xbb\xbf" + HEAD.replace("\n", "\r\n").encode())
    assert load_job(file, tiny_shop()).file == str(file)


# --------------------------------------------------------------------------------- what is refused

PART = '[[part]]\nid = "mine"\nclass = "p-nut"\nvariant = "bone"\n'
#: what follows the [job] section, line and place of the complaint, what it says
BROKEN = [
    ("[budgets]\n", 3, "budgets", "unknown section or key", "did you mean “budget”?"),
    ('kind = "comission"', 3, "[job] kind", "a word that is not accepted here", "did you mean “commission”?"),
    ('custmer = "A"', 3, "[job] custmer", "unknown key", "did you mean “customer”?"),
    ("customer = 5", 3, "[job] customer", "a number where a text belongs", "double quotes"),
    ('customer = " "', 3, "[job] customer", "an empty text", "leave the line out"),
    ('received = "soon"', 3, "[job] received", "not a date", "2026-03-01"),
    (
        "received = 2026-03-02\nwanted_by = 2026-03-01",
        4,
        "[job] wanted_by",
        "wanted back before it came in",
        "a later day",
    ),
    ("[instrument]\nnut_widht = 42", 4, "[instrument] nut_widht", "unknown key", "did you mean “nut_wid”?"),
    (
        '[instrument]\nnut_wid = "42 kg"',
        4,
        "[instrument] nut_wid",
        "a unit that does not fit",
        "mm, cm, m, in, ft",
    ),
    ('[instrument]\nnut_wid = "wide"', 4, "[instrument] nut_wid", "text where a number belongs", "3 or 0.5"),
    ('[instrument]\nnut_wid = "42,5 mm"', 4, "[instrument] nut_wid", "a comma in a number", "decimal point"),
    ('[instrument]\nnut_wid = "42,5"', 4, "[instrument] nut_wid", "a comma in a number", "decimal point"),
    ("[instrument]\nnut_wid = nan", 4, "[instrument] nut_wid", "not a number", "finite"),
    ("[instrument]\nnut_wid = -inf", 4, "[instrument] nut_wid", "not a number", "finite"),
    (
        "[instrument]\nnut_wid = 1e300",
        4,
        "[instrument] nut_wid",
        "a huge number",
        "below one thousand million",
    ),
    (
        "[instrument]\nnut_wid = true",
        4,
        "[instrument] nut_wid",
        "true or false where a number belongs",
        "found true",
    ),
    (
        "[instrument]\nnut_wid = [42]",
        4,
        "[instrument] nut_wid",
        "a list where a number belongs",
        "a number such as",
    ),
    ("[instrument]\nnut_wid = 10", 4, "[instrument] nut_wid", "an impossible value", "from 20 to 100 mm"),
    ("[instrument]\nstring_n = 6.5", 4, "[instrument] string_n", "not a count", "whole number"),
    ("[instrument]\nkind = 3", 4, "[instrument] kind", "a number where a word belongs", "guitar-solid"),
    (
        '[instrument]\nkind = "guitar"',
        4,
        "[instrument] kind",
        "a word that is not accepted here",
        "did you mean",
    ),
    ('[instrument]\nnut_stuck = "often"', 4, "[instrument] nut_stuck", "neither yes nor no", "yes, no"),
    (
        "[instrument]\nnut_stuck = 1",
        4,
        "[instrument] nut_stuck",
        "a number where yes or no belongs",
        "true, false",
    ),
    (
        "[instrument]\nmissing_list = 1",
        4,
        "[instrument] missing_list",
        "a number where a list of words belongs",
        "one",
    ),
    (
        "[instrument.levels]\ntunning = 2",
        4,
        "[instrument.levels] tunning",
        "unknown key",
        "did you mean “tuning”?",
    ),
    ("[instrument.levels]\ntuning = 5", 4, "[instrument.levels] tuning", "a level outside 0 to 4", "0 to 4"),
    (
        "[instrument.levels]\nweight = 2",
        4,
        "[instrument.levels] weight",
        "an amount where a level belongs",
        "weight_g",
    ),
    ('[wish]\nprofile = "studnt"', 4, "[wish] profile", "unknown profile", "did you mean “student”?"),
    ("[wish]\nrequire = 3", 4, "[wish] require", "a number where a group belongs", "{ name = value }"),
    (
        "[wish.require]\ntunings = 3",
        4,
        "[wish.require] tunings",
        "unknown attribute",
        "did you mean “tuning”?",
    ),
    ("[wish.require]\nA-06 = 3", 4, "[wish.require] A-06", "unknown attribute", "write “nut-function”"),
    ("[wish.require]\ntuning = 5", 4, "[wish.require] tuning", "a level outside 0 to 4", 'or "any"'),
    ("[wish.require]\ntuning = -1", 4, "[wish.require] tuning", "a level outside 0 to 4", "0 to 4"),
    (
        '[wish.require]\ntuning = "high"',
        4,
        "[wish.require] tuning",
        "text where a number belongs",
        "plain number",
    ),
    (
        "[wish.require]\nweight = 2.5",
        4,
        "[wish.require] weight",
        "half a level of an amount",
        "[wish.limits]",
    ),
    (
        "[wish.require]\nresonance = 3",
        4,
        "[wish.require] resonance",
        "cannot be asked for",
        "can be measured",
    ),
    (
        "[wish.limits]\ntuning = { least = 2 }",
        4,
        "[wish.limits] tuning",
        "a limit on an attribute that has",
        "require",
    ),
    (
        "[wish.limits]\nweight = 3000",
        4,
        "[wish.limits] weight",
        "says neither least nor most",
        "{ most = ... }",
    ),
    ("[wish.limits]\nweight = { max = 1 }", 4, "[wish.limits.weight] max", "unknown key", "least, most"),
    (
        '[wish.limits]\nweight = { most = "3 mm" }',
        4,
        "[wish.limits] weight",
        "a unit that does not fit",
        "g, kg, oz, lb",
    ),
    ("[wish.limits]\nweight = { most = -3 }", 4, "[wish.limits] weight", "a negative number", "at least 0"),
    (
        "[wish.limits]\nweight = { least = 9, most = 8 }",
        4,
        "[wish.limits] weight",
        "a least amount above",
        "swap",
    ),
    ("[wish.weights]\ntuning = -1", 4, "[wish.weights] tuning", "a negative number", "from 0 to 1000"),
    ("[budget]\nmoney = 0", 4, "[budget] money", "a budget of no money", "more than 0"),
    ("[budget]\nmoney = -5", 4, "[budget] money", "negative money", "more than 0"),
    ("[budget]\nmoney = 0.004", 4, "[budget] money", "a budget of no money", "found 0.004"),
    ("[budget]\nhours = -1", 4, "[budget] hours", "a negative number", "more than 0"),
    ('[budget]\nmoney = "€5"', 4, "[budget] money", "another currency than the shop's", "into USD"),
    ("[budget]\nmoney = true", 4, "[budget] money", "true or false where a number belongs", "number"),
    ("[budget]\nhours = 0", 4, "[budget] hours", "a budget of no time", "no limit"),
    ('[budget]\nhours = "6 kg"', 4, "[budget] hours", "not a time", "6 h 30 min"),
    ("[budget]\nsurety = 30", 4, "[budget] surety", "a number that is too small", "from 50 to 99.9"),
    ('[budget]\non = "prize"', 4, "[budget] on", "a word that is not accepted here", "did you mean “price”?"),
    ("[part]\nid = 'x'", 3, "[part]", "a single [part] section", "[[part]]"),
    (
        PART + "thick = 3",
        7,
        "[[part]] thick",
        "a [[part]] of p-nut has no such key or dimension",
        "weight_g, thk, spacing_w",
    ),
    (
        PART + "spacingw = 3",
        7,
        "[[part]] spacingw",
        "a [[part]] of p-nut has no such key or dimension",
        "did you mean “spacing_w”?",
    ),
    (PART + 'thk = "3 g"', 7, "[[part]] thk", "a unit that does not fit", "mm"),
    (PART + "thk = 30", 7, "[[part]] thk", "a number that is too large", "from 2 to 8"),
    (PART + 'base = "falt"', 7, "[[part]] base", "a word that is not accepted here", "did you mean “flat”?"),
    (PART + 'weight_g = "5 mm"', 7, "[[part]] weight_g", "a unit that does not fit", "g, kg, oz, lb"),
    (PART + "price = -1", 7, "[[part]] price", "negative money", "at least 0"),
    (PART + 'owner = "me"', 7, "[[part]] owner", "a word that is not accepted here", "shop, customer"),
    (PART + 'levels = { NX = "bone" }', 7, "[[part]] levels", "unknown factor code", "NM"),
    (PART + 'levels = { NM = "bnoe" }', 7, "[[part]] levels", "NM has no such level", "did you mean “bone”?"),
    (PART + PART, 7, "[[part]]", "two parts have the same id", "rename one"),
    (
        PART + PART.replace("mine", "yours"),
        7,
        "[[part]]",
        "mine and yours would be called alike",
        "variant = ",
    ),
    (
        '[[part]]\nid = "x"\nclass = "nut"\n',
        5,
        "[[part]] class",
        "unknown class of part",
        "did you mean “p-nut”?",
    ),
    ('[[part]]\nid = "x"\n', 3, "[[part]] class", "a required key is missing", "add a line: class"),
    (
        '[[part]]\nid = "x"\nclass = "p-nut"\ngrade = "premium"\n',
        3,
        "[[part]] price",
        "no price is given",
        "p-nut",
    ),
    ('[upgrades]\nopen = ["new-nt"]', 4, "[upgrades] open", "unknown upgrade", "did you mean “new-nut”?"),
    (
        '[upgrades]\nopen = ["weigh-it", "weigh-it"]',
        4,
        "[upgrades] open",
        "the same word twice",
        "each word once",
    ),
    ("[upgrades]\nopen = []", 4, "[upgrades] open", "no upgrade is open", "leave the line out"),
    (
        "[upgrades]\nopen = 5",
        4,
        "[upgrades] open",
        "a number where a list of words belongs",
        "a list such as",
    ),
    (
        '[upgrades]\nrequired = ["new-nut"]\nrefused = ["new-nut"]',
        4,
        "[upgrades] required",
        "required and refused",
        "one or",
    ),
    (
        '[upgrades]\nrequired = ["new-nut-bone"]\nrefused = ["new-nut"]',
        4,
        "[upgrades] required",
        "required and",
        "“new-nut” refused",
    ),
    ("[stock]\nc-gleu = 1", 4, "[stock] c-gleu", "nothing has this name", "did you mean “c-glue”?"),
    ("[stock]\nc-glue = -1", 4, "[stock] c-glue", "a negative number", "at least 0"),
    ("[terms]\nskill = 6", 4, "[terms] skill", "a number that is too large", "from 1 to 5"),
    ("[terms]\nskil = 3", 4, "[terms] skil", "unknown key", "did you mean “skill”?"),
    ("[terms]\nbatch = 0", 4, "[terms] batch", "a number that is too small", "from 1"),
]


@pytest.mark.parametrize(("text", "row", "column", "problem", "says"), BROKEN)
def test_broken_jobs(text: str, row: int, column: str, problem: str, says: str) -> None:
    issues = job_issues(HEAD + text + "\n")
    assert len(issues) == 1, [str(issue) for issue in issues]
    assert (issues[0].where.file, issues[0].where.row, issues[0].where.column) == ("job.toml", row, column)
    assert problem in issues[0].problem
    assert says in str(issues[0])
    assert issues[0].severity == "error"


@pytest.mark.parametrize(
    ("text", "row", "problem", "says"),
    [
        ("[job\nid = 'x'", 1, "a section name is not closed", "[section]"),
        ("[job]\nid 'x'", 2, "an = is missing after the name", "name = value"),
        ("[job]\nid = trial", 2, "a text without quotes", 'name = "value"'),
        ('[job]\nid = "x', 2, "a quote is opened and never closed", "double quote"),
        ('[job]\nid = "x"\nid = "y"', 3, "the same key stands twice", "delete one"),
        ('[job]\nid = "x"\n[job]\n', 3, "the same section stands twice", "join the two"),
        ('[job]\nid = "x"\n[budget]\nmoney = 12,50', 4, "a comma in a number", "12.50"),
        (
            '[job]\nid = "x"\n[budget]\nmoney = 1,200',
            4,
            "may part its thousands",
            "1200 where thousands are meant",
        ),
        (
            '[job]\nid = "x"\n[budget]\nmoney = 1,200,000',
            4,
            "may part its thousands",
            "1200000 where thousands are meant; next",
        ),
        ('[job]\nid = "x"\n[budget]\nmoney = $400', 4, "without quotes", 'write it as "$400"'),
        ('[job]\nid = "x"\nreceived = 2026-13-40', 3, "a day that no calendar has", "2026-03-01"),
        ('[job]\nid = "x"\nreceived = 30.11.2026 # in', 3, "or written another way", "2026-03-01"),
        ('[job]\nid = "x"\nreceived = 2026-02-30', 3, "a day that no calendar has", "2026-03-01"),
        ("[instrument]\nscale = 28 in # long", 2, "without quotes", 'write it as "28 in"'),
        ("[instrument]\nfret_h = 3/64", 2, "without quotes", 'write it as "3/64"'),
        ('[instrument]\nscale = 25.5"', 2, "without quotes", 'write it as "25.5 in"'),
        ('[job]\nid = "x" "y"', 2, "something is left over after the value", "one name = value a line"),
        ('[job]\nid = "a\\b c"\nwhat = "c:\\new\\q"', 3, "a backslash in a text", "double it"),
        ("[upgrades]\nopen = ['a'", 2, "a list is opened with [ and never closed", "close it"),
        ("x = " + "[" * 5000, None, "nested too deep", "short job file"),
        ("x = " + "9" * 5000, None, "the file cannot be read", "digits"),
    ],
)
def test_broken_toml(text: str, row: int | None, problem: str, says: str) -> None:
    (issue,) = job_issues(text)
    assert problem in issue.problem
    assert says in str(issue)
    assert row is None or issue.where.row == row


def test_all_complaints_come_together_in_order() -> None:
    issues = job_issues(
        '[job]\nid = "X"\n[budget]\nmoney = 0\n[terms]\nskill = 9\n[instrument]\nnut_wid = "x"\n'
    )
    assert [issue.where.row for issue in issues] == [2, 4, 6, 8]


def load_issue(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        load_job(path, tiny_shop())
    return str(caught.value)


def test_missing_file_names_a_near_one(tmp_path: Path) -> None:
    (tmp_path / "school.toml").write_text(HEAD)
    assert "there is no such job file" in load_issue(tmp_path / "scool.toml")
    assert "did you mean “school.toml”?" in load_issue(tmp_path / "scool.toml")
    assert "did you mean “school.toml”?" in load_issue(tmp_path / "school")


def test_folder_given_instead_of_a_file(tmp_path: Path) -> None:
    (tmp_path / "school.toml").write_text(HEAD)
    assert "a folder where a job file belongs" in load_issue(tmp_path)
    assert "school.toml" in load_issue(tmp_path)


def test_job_file_that_is_not_utf8(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_bytes(HEAD.encode() + b'customer = "Andr\xe9"\n')
    assert "row 3: the file is not UTF-8 text; found byte 0xE9" in load_issue(file)


EXAMPLES = sorted(
    entry.name for entry in default_folder("example_jobs").iterdir() if entry.name.endswith(".toml")
)


@pytest.mark.parametrize("name", EXAMPLES)
def test_example_jobs_load_without_complaint(name: str) -> None:
    path = Path(str(default_folder("example_jobs"))) / name
    job = load_job(path, default_shop())
    assert job.id == path.stem == tomllib.loads(path.read_text(encoding="utf-8"))["job"]["id"]
    assert job.issues == ()
    assert job.requirements


def test_there_are_examples_of_every_kind_of_job() -> None:
    folder = Path(str(default_folder("example_jobs")))
    kinds = {load_job(folder / name, default_shop()).kind for name in EXAMPLES}
    assert kinds == {"commission", "resale", "own"}


def test_a_stock_that_counts_nowhere_is_told() -> None:
    """Shelf goods are bought for the shop: no till is short of a stock in silence. Strings in stock are counted."""
    shop = default_shop()
    head = '[job]\nid = "s"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n[stock]\n'
    for name, item in shop.consumables.items():
        job = job_from(parse_toml(f"{head}{name} = 1\n".encode(), "s.toml"), shop)
        told = [issue for issue in job.issues if name in issue.problem]
        assert bool(told) == (item.billed_as != "part" and item.on_shelf), name
        assert all(issue.severity == "warning" and issue.next_step for issue in told)
