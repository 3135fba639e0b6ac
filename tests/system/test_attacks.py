"""Text from outside stays text: on every page, in every export, in SQL, in paths."""

from __future__ import annotations

import csv
import io
import itertools
import json
import sqlite3
import unicodedata
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import Browser

from curewatch.climate.reading import check_place
from curewatch.errors import CurewatchError
from curewatch.files.backup import copy_to
from curewatch.garage.shelf import add_sheet
from curewatch.settings.settings import parse_settings
from curewatch.text import cell, plain
from sensors.manual.logger_csv import read_logger
from tests.conftest import Run
from tests.support import dash_pages
from tests.support.crawl import EVIL, live, look, route, send, walk
from tests.support.many import cases
from tests.support.pages import EVENING, Garage, open_garage, served, watched, weather

SHEET = """
name = {name}
kind = "adhesive"
chemistry = "epoxy-amine"
[[times]]
temperature = "21 C"
working_time = "50 min"
clamp_time = "4 h"
full_cure = "24 h"
[hazards]
solvent = {{ name = {solvent}, g_per_l = 100 }}
[source]
note = {note}
"""


@pytest.fixture(scope="module")
def attacked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garage]:
    """A garage into which every kind of evil text was told, by every way there is."""
    garage = open_garage(tmp_path_factory.mktemp("attacked"))
    garage.hear(weather(EVENING, hours=3))
    texts = itertools.cycle(EVIL)
    for number in range(3):
        name, solvent, note = (json.dumps(plain(next(texts))) for _ in range(3))
        text = SHEET.format(name=name, solvent=solvent, note=note)
        add_sheet(garage.store, f"evil-{number}", text, EVENING)
    for index, text in enumerate(EVIL):
        told = dict.fromkeys(("part", "job", "batch", "who"), text)
        step = garage.mix(f"evil-{index % 3}", 30, **told)
        garage.bench.note(step, f"{text} .", now=EVENING)
        if index % 4 == 0:
            garage.bench.abandon(step, f"{text} .", now=EVENING)
        garage.store.refuse(EVENING, f"mqtt garage/{text}", f"{text!r} {text} is not a number.")
    yield garage
    garage.store.close()


def test_no_page_takes_text_for_markup(attacked: Garage) -> None:
    browser = attacked.app.test_client()
    seen = [path for path, _ in walk(attacked.app, browser)]
    live(browser)
    assert {"/", "/logbook", "/air", "/air/sensors", "/shelf", "/choices"} <= set(seen)
    assert any(path.startswith("/step/") for path in seen)
    assert len(seen) > 60


def test_whatever_is_typed_into_whichever_field_stays_text(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, hours=3))
    garage.mix("epoxy-panel-adhesive", 30, part="lower corner patch", job="rear corner")
    browser = garage.app.test_client()
    texts, tried = itertools.cycle(EVIL), set[tuple[str, str]]()
    walked = list(walk(garage.app, browser))
    for path, _ in walked:
        tried |= _typed_into_dash(browser, path, texts, tried)
    for _, pages in walked:
        for form in [form for page in pages for form in page.forms]:
            taken_by = route(garage.app, form)
            kinds = {(taken_by, _letters(name)): name for name in form.typed}
            fresh = {kind: name for kind, name in kinds.items() if kind not in tried}
            tried |= set(fresh)
            for name in fresh.values():
                look(send(browser, form, {name: next(texts)}))
            if fresh:
                look(send(browser, form, {text: next(texts) for text in form.typed}))
    assert len(tried) > 60
    for _ in walk(garage.app, browser):
        pass
    live(browser)
    garage.store.close()


def _typed_into_dash(
    browser: FlaskClient, path: str, texts: Iterator[str], tried: set[tuple[str, str]]
) -> set[tuple[str, str]]:
    """Send each form of a Dash page with every text once in a field not tried yet; which these
    are."""
    address, _, query = path.partition("?")
    fresh = set[tuple[str, str]]()
    for name, (fields, value) in dash_pages.forms(browser, address, query).items():
        do, key = json.loads(name)
        new = {(do, field) for field in fields} - tried - fresh
        if new:
            typed = {field: next(texts) for field in sorted(fields)}
            dash_pages.sent(browser, do, typed, key=key, value=value)
        fresh |= new
    return fresh


def _letters(text: str) -> str:
    return "".join(filter(str.isalpha, text))


QUERIED = ("/", "/state.json", "/logbook", "/logbook.csv", "/handover.html", "/mix")
COOKIES = ("theme", "layout", "decimal", "span", "room", "fit", "curewatch_session")


def test_odd_addresses_and_queries_are_answered_plainly(attacked: Garage) -> None:
    """Each text in every path; in the queries and cookies of a few pages in turn."""
    browser = attacked.app.test_client()
    for number, text in enumerate(EVIL):
        query = dict.fromkeys(
            ("job", "find", "layout", "span", "have", "w", "h", "from", "a"), text
        )
        turns = [(number + turn) % len(QUERIED) for turn in range(min(cases(2), len(QUERIED)))]
        for path in [QUERIED[turn] for turn in turns]:
            look(browser.get(path, query_string=query))
        for before in (
            "/mix/",
            "/shelf/",
            "/step/",
            "/assets/x/",
            "/assets/",
            "/log/product/",
            "/",
        ):
            answer = browser.get(f"{before}{text}")
            look(answer)
            assert "root:" not in answer.text
        for name in COOKIES:
            browser.set_cookie(name, plain(text).strip())
        look(browser.get("/choices" if number % 4 else "/"))
        browser = attacked.app.test_client()
    for path in ("/assets/x/..%2fapp.py", "/assets/../app.py", "/shelf/..%2f..%2fetc%2fpasswd"):
        assert browser.get(path).status_code == 404


def test_no_cell_of_the_csv_is_a_formula_and_no_text_ends_its_row(attacked: Garage) -> None:
    answer = attacked.app.test_client().get("/logbook.csv")
    rows = list(csv.reader(io.StringIO(answer.text, newline="")))
    assert len(rows) > len(EVIL)
    assert {len(row) for row in rows} == {len(rows[0])}
    for text in [each for row in rows[1:] for each in row if "evil" in each]:
        assert text.lstrip()[0] not in "=+-@|%＝＋－＠", text
    assert any("=cmd|" in each for row in rows for each in row)


@given(st.text() | st.text("=+-@ \t\r\n|%＝'\"a"))
def test_any_text_makes_a_cell_that_is_no_formula(text: str) -> None:
    found = cell(text)
    assert not found.lstrip().startswith(("=", "+", "-", "@"))
    assert found in (text, f"'{text}")


@given(st.text(st.characters(codec=None), max_size=50) | st.sampled_from(EVIL))
def test_kept_text_steers_no_terminal_and_can_be_written(text: str) -> None:
    found = plain(text)
    assert not [each for each in found if unicodedata.category(each) in ("Cc", "Cs")
                and each not in "\t\n"]  # fmt: skip
    assert plain(found) == found
    found.encode()


def test_the_exports_hold_every_text_as_text(attacked: Garage) -> None:
    browser = attacked.app.test_client()
    calendar = browser.get("/bench.ics")
    assert calendar.status_code == 200
    lines = calendar.text.replace("\r\n ", "").split("\r\n")
    assert not [line for line in lines if line.startswith(("BEGIN:EVIL", "Set-Cookie"))]
    assert {line.partition(":")[2] for line in lines if line.startswith("BEGIN:")} <= {
        "VCALENDAR", "VEVENT", "VALARM", "VTIMEZONE", "STANDARD", "DAYLIGHT",
    }  # fmt: skip
    paper = browser.get("/handover.pdf", query_string={"job": plain(EVIL[0]).strip()})
    assert paper.data.startswith(b"%PDF") or paper.status_code == 404
    for text in EVIL:
        page = browser.get("/handover.html", query_string={"job": plain(text).strip()})
        assert page.status_code in (200, 400, 404)
        look(page)
        for name, value in page.headers:
            assert name != "Content-Disposition" or not set('/\\"<>').intersection(
                value.partition("filename=")[2].strip('"')
            ), value


def test_no_text_is_taken_for_sql(attacked: Garage, tmp_path: Path) -> None:
    browser = attacked.app.test_client()
    for text in ("' OR 1=1 --", '" OR ""="', "x' UNION SELECT 1,2,3 --", "%", "_", "*", "a OR b"):
        found = browser.get("/logbook", query_string={"job": text}).text
        assert 'href="/step/' not in found, text
    with closing(sqlite3.connect(attacked.store.path)) as database:
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert database.execute("SELECT count(*) FROM step").fetchone() == (len(EVIL),)
        assert database.execute("SELECT count(*) FROM event WHERE kind = 'noted'").fetchone() == (
            len(EVIL),
        )


def test_the_commands_print_no_text_that_steers_the_terminal(
    attacked: Garage, run: Run, tmp_path: Path
) -> None:
    copy_to(attacked.store.path, tmp_path / "data/curewatch.sqlite")
    for words in (
        ["bench"], ["log"], ["log", "--json"], ["log", "--format", "csv"],
        ["sensor", "list"], ["sensor", "list", "--json"],
        ["product", "list"], ["product", "show", "evil-0"],
    ):  # fmt: skip
        code, out, err = run(*words)
        assert (code, err) == (0, ""), words
        odd = {text for text in out if unicodedata.category(text) in ("Cc", "Cs")} - set("\n\r\t")
        assert not odd, words
        assert not set("\u202a\u202b\u202d\u202e\u2066\u2067\u2068") & set(out), words


@pytest.mark.parametrize("text", EVIL)
def test_no_text_becomes_a_path(run: Run, tmp_path: Path, text: str) -> None:
    with pytest.raises(CurewatchError):
        check_place(text)
    before = sorted(tmp_path.rglob("*"))
    sheet = tmp_path / "evil.toml"
    sheet.write_text(SHEET.format(name=json.dumps(plain(text)), solvent='"x"', note='"x"'))
    run("product", "add", str(sheet))
    made = {file for file in tmp_path.rglob("*")} - set(before) - {sheet, tmp_path / "data"}
    assert {path.parent for path in made} <= {tmp_path / "data"}
    with pytest.raises(CurewatchError):
        parse_settings(f"[places.{json.dumps(plain(text))}]\nlag = '3 min'", tmp_path)


def test_a_logger_s_file_with_an_odd_name_and_odd_titles_is_only_text(attacked: Garage) -> None:
    for text in EVIL:
        title = text.replace("\n", " ").replace("\r", " ").replace('"', '""')
        table = f'time,"temp {title}"\n2026-10-14T10:00:00Z,14.2\n'
        try:
            log_file = read_logger(table, f"{text}.csv", "shelf", now=EVENING)
        except CurewatchError as error:
            assert error.fix  # noqa: PT017
            continue
        attacked.hear(log_file.readings)
    look(attacked.app.test_client().get("/air/sensors"))


def test_in_a_real_browser_nothing_of_it_runs(attacked: Garage, browser: Browser) -> None:
    open_step = attacked.mix("evil-1", 5, part="<img src=x onerror=evil()>", job="<script>evil()")
    attacked.bench.note(open_step, "<svg onload=evil()>", now=EVENING + timedelta(seconds=1))
    with served(attacked.app) as address:
        device, page = watched(browser)
        ran: list[str] = []
        page.expose_function("evil", lambda *_: ran.append("ran"))
        for path in (
            "/",
            "/logbook",
            "/air",
            "/shelf",
            f"/step/{open_step}",
            "/mix",
            "/shelf/evil-0",
        ):
            page.goto(address + path)
            page.wait_for_load_state("networkidle") if path != "/" else page.wait_for_timeout(2500)
        assert ran == []
        assert [text for text in device.asked if not text.startswith((address, "data:"))] == []
        assert device.said == []
