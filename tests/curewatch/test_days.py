"""Dates as people type them, in the order of their country."""

from __future__ import annotations

from datetime import date

import pytest

from curewatch.days import Order, parse_day, parse_expiry, usual_order
from curewatch.errors import QuantityError

CHRISTMAS = date(2025, 12, 24)


@pytest.mark.parametrize("order", [None, "dmy", "mdy"])
@pytest.mark.parametrize(
    "text",
    [
        "2025-12-24", "2025/12/24", "24.12.2025", "24. 12. 2025", "24.12.25", "24/12/2025",
        "12/24/2025", "24-12-2025", "24 Dec 2025", "24 December 2025", "Dec 24, 2025",
        "24th dec. 2025", "24-Dec-2025", " 24  Dec  2025 ",
    ],
)  # fmt: skip
def test_a_date_that_can_be_one_alone_is_read_in_every_country(
    text: str, order: Order | None
) -> None:
    assert parse_day(text, order) == CHRISTMAS


def test_a_date_that_can_be_two_is_read_as_in_the_reader_s_country() -> None:
    assert parse_day("03/04/2026", "dmy") == parse_day("3-4-2026", "dmy") == date(2026, 4, 3)
    assert parse_day("03/04/2026", "mdy") == parse_day("3/4/26", "mdy") == date(2026, 3, 4)
    assert parse_day("03.04.2026", "mdy") == date(2026, 4, 3)
    assert parse_day("04/04/2026") == date(2026, 4, 4)
    with pytest.raises(QuantityError, match="day or the month first"):
        parse_day("03/04/2026")


@pytest.mark.parametrize(
    "text",
    [
        "", "24", "24 Dec", "31.2.2026", "13/13/2026", "24 Foo 2025", "24.12/2025", "24-12-25",
        "2026-13-01", "0001-01-01", "24.12.9999", "tomorrow", "24 Dec 2025 22:00",
    ],
)  # fmt: skip
def test_what_is_no_date_is_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="2025-12-24"):
        parse_day(text, "dmy")


@pytest.mark.parametrize(
    "text", ["2027-02", "02/2027", "2.2027", "Feb 2027", "February 2027", "28 Feb 2027"]
)
def test_a_month_printed_on_a_can_means_its_last_day(text: str) -> None:
    assert parse_expiry(text) == date(2027, 2, 28)


def test_a_month_that_is_none_is_refused() -> None:
    for text in ("13/2027", "2027-00", "Foo 2027", "02/27"):
        with pytest.raises(QuantityError):
            parse_expiry(text)


# which languages and countries write the month first: common practice, no source
@pytest.mark.parametrize(
    ("locale", "order"),
    [("en_US.UTF-8", "mdy"), ("en-US", "mdy"), ("es_PR", "mdy"), ("en_GB.UTF-8", "dmy"),
     ("de_DE.UTF-8@euro", "dmy"), ("de", "dmy"), ("en", None), ("C", None), ("C.UTF-8", None),
     ("POSIX", None), ("", None)],
)  # fmt: skip
def test_a_locale_tells_the_order(locale: str, order: Order | None) -> None:
    assert usual_order(locale) == order
