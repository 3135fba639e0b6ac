"""Who is not let in leaves a trace: why, from where, how often, and what to set; never more."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import get_args

import pytest

from curewatch.quality.tally import MOST, Tally
from curewatch.store.store import Store
from curewatch.store.strangers import MOST_ROWS
from curewatch.store.turned_away import Stranger, TurnedAway, Why
from curewatch.wording import sensor_words
from sensors.proxy.limits import ConnectionLimits
from tests.conftest import Run
from tests.support.brokers import until
from tests.support.pages import open_garage
from tests.support.proxies import (
    LAN,
    PASSWORD,
    USER,
    RunningGatekeeper,
    heard,
    hello,
    raw,
    run_gatekeeper,
    welcomed,
)

NOW = datetime(2026, 11, 1, 18, tzinfo=UTC)
TLS = b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03"


@pytest.fixture
def gatekeeper(tmp_path: Path) -> Iterator[RunningGatekeeper]:
    with run_gatekeeper(tmp_path, limits=ConnectionLimits(per_address=2)) as gatekeeper:
        yield gatekeeper


def away(gatekeeper: RunningGatekeeper) -> list[Stranger]:
    """Who was turned away, as soon as it is written down."""
    until(gatekeeper.store.turned_away, 5.0)
    return [refused.who for refused in gatekeeper.store.turned_away()]


@pytest.mark.parametrize(
    ("sent", "who"),
    [
        (hello(user=None), Stranger("no_password", LAN, "raw")),
        (hello(password="open sesam"), Stranger("wrong_password", LAN, "raw", USER)),
        (hello(user="Garage"), Stranger("wrong_password", LAN, "raw", "Garage")),
        (hello(level=6), Stranger("version", LAN, number=6)),
        (TLS, Stranger("encrypted", LAN)),
        (hello(will=("other/thing", "x")), Stranger("will_topic", LAN, "raw", USER)),
        (hello("", clean=False), Stranger("no_name", LAN, "", USER)),
    ],
)
def test_a_sensor_not_let_in_is_counted_with_its_reason(
    gatekeeper: RunningGatekeeper, sent: bytes, who: Stranger
) -> None:
    welcomed(gatekeeper.port, sent)
    assert away(gatekeeper) == [who]
    assert PASSWORD not in repr(gatekeeper.store.turned_away())


def test_wrong_passwords_without_end_are_counted_as_such(gatekeeper: RunningGatekeeper) -> None:
    for n in range(8):
        welcomed(gatekeeper.port, hello(password=f"guess {n}"))
    until(lambda: sum(refused.count for refused in gatekeeper.store.turned_away()) == 8)
    counts = {refused.who.why: refused.count for refused in gatekeeper.store.turned_away()}
    assert counts == {"wrong_password": 5, "must_wait": 3}


def test_an_address_with_too_many_connections_is_counted(gatekeeper: RunningGatekeeper) -> None:
    with raw(gatekeeper.port), raw(gatekeeper.port), raw(gatekeeper.port) as third:
        assert heard(third) == b""
        assert away(gatekeeper) == [Stranger("crowded", LAN, number=2)]


def test_what_was_counted_last_is_written_down_at_the_end(tmp_path: Path) -> None:
    with run_gatekeeper(tmp_path) as gatekeeper:
        welcomed(gatekeeper.port, hello(user=None))
        path = gatekeeper.store.path
    with closing(Store(path)) as again:
        assert [refused.who.why for refused in again.turned_away()] == ["no_password"]


def test_a_flood_of_strangers_is_few_rows_in_memory_and_in_the_file(tmp_path: Path) -> None:
    with closing(Store(tmp_path / "curewatch.db")) as store:
        tally = Tally(store)
        for n in range(10_000):
            tally.turn_away(NOW, Stranger("no_password", f"192.0.2.{n}", f"name {n}"))
        rows = tally._strangers.take()
        assert len(rows) == MOST + 1
        assert rows[-1][0] == Stranger("no_password", "")
        assert sum(count for _, count, _ in rows) == 10_000
        tally._strangers.put_back(rows)
        assert tally._strangers.take() == rows
        assert tally._strangers.take() == []
        for turn in range(5):
            at = NOW + timedelta(seconds=turn)
            store.add_turned_away(
                [TurnedAway(Stranger("full", f"192.0.2.{turn}.{n}"), 2, at) for n in range(60)]
            )
        clients = store.turned_away()
        assert len(clients) == MOST_ROWS
        assert clients[0].last == NOW + timedelta(seconds=4)


def test_equal_ones_are_one_row_that_counts(tmp_path: Path) -> None:
    who = Stranger("wrong_password", LAN, "probe\x07" + "x" * 500, USER)
    with closing(Store(tmp_path / "curewatch.db")) as store:
        store.add_turned_away([TurnedAway(who, 3, NOW)])
        store.add_turned_away([TurnedAway(who, 2, NOW + timedelta(seconds=1))])
        (refused,) = store.turned_away()
    assert (refused.count, refused.last) == (5, NOW + timedelta(seconds=1))
    assert len(refused.who.client) <= 60
    assert "\x07" not in refused.who.client


@pytest.mark.parametrize("why", get_args(Why))
def test_each_reason_has_a_sentence_with_what_to_do(why: Why) -> None:
    text = sensor_words.not_let_in(Stranger(why, LAN, number=20))
    assert text.count(".") >= 2
    assert "{" not in text


def test_the_page_shows_who_was_not_let_in_and_what_to_set(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    browser = garage.app.test_client()
    assert "No rejected messages." in browser.get("/air/sensors").text
    who = Stranger("wrong_password", "192.0.2.7", "<b>probe", USER)
    garage.store.add_turned_away([TurnedAway(who, 3, garage.clock())])
    text = browser.get("/air/sensors").text
    assert "No rejected messages." not in text
    assert "&lt;b&gt;probe" in text
    assert "the passcode of the pages is another one" in text
    garage.store.close()


def test_the_command_shows_it_too(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "data" / "curewatch.sqlite"
    with closing(Store(path)) as store:
        store.add_turned_away([TurnedAway(Stranger("no_password", LAN, "probe"), 3, NOW)])
    text = run("sensor", "list")[1]
    assert f'3 x "probe" at {LAN}, last ' in text
    assert "It sent no user or no password." in text
    (row,) = json.loads(run("sensor", "list", "--json")[1])["turned_away"]
    assert (row["why"], row["client"], row["count"]) == ("no_password", "probe", 3)
