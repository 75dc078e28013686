"""Minutes and moments as they are typed."""

from __future__ import annotations

import random

import pytest

from estimator.core.errors import InputError
from estimator.ledger.clock import kept_moment, minutes_text, read_moment, read_seconds


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [
        ("12 min", 720),
        ("12min", 720),
        ("0:15", 900),
        ("1:05", 3900),
        ("1 h 5", 3900),
        ("1h05", 3900),
        ("1 h 5 min", 3900),
        ("70", 4200),
        (" 70  ", 4200),
        ("1.5 h", 5400),
        ("1,5 h", 5400),
        ("0,75 h", 2700),
        ("1/2 h", 1800),
        ("90 s", 90),
        ("1 hour 5", 3900),
        ("0", 0),
        ("2 hrs", 7200),
        ("7.5", 450),
        ("24 h", 86400),
    ],
)
def test_minutes_are_read_in_any_usual_form(typed: str, seconds: int) -> None:
    assert read_seconds(typed) == seconds


@pytest.mark.parametrize(
    "typed", ["", "soon", "1:60", "1 h 75", "-5", "25 h", "1,234 h", "12 kg", "1:2:3", "5 min 1", "9" * 400]
)
def test_what_is_no_time_is_refused_in_words(typed: str) -> None:
    with pytest.raises(InputError, match="accepted: "):
        read_seconds(typed)


def test_what_is_printed_is_read_back() -> None:
    draw = random.Random(5)
    for seconds in [0, 60, 3600, 86400, *(draw.randrange(86400) for _ in range(2000))]:
        assert read_seconds(minutes_text(seconds)) == seconds


def test_moments_keep_their_offset() -> None:
    moment = read_moment("2026-10-05T09:15+02:00")
    assert (moment.text, moment.ahead_min) == ("2026-10-05T07:15:00Z", 120)
    assert kept_moment(moment.text, moment.ahead_min) == moment
    assert f"{moment.local:%H:%M}" == "09:15"
    assert f"{read_moment('2026-10-05 09:15').local:%Y-%m-%d %H:%M}" == "2026-10-05 09:15"
    for wrong in ("", "tomorrow", "2026-13-01", "0001-01-01 00:00", "9999-12-31 23:59"):
        with pytest.raises(InputError, match="accepted: "):
            read_moment(wrong)
