"""Thousands of damaged inputs, the same on every run: each is taken whole or refused in words.

No case may raise anything but our own errors, hang, or leave a value out of its range behind.
"""

from __future__ import annotations

import contextlib
import json
import math
import random
import re
import socket
from datetime import UTC, datetime, timedelta
from itertools import product
from pathlib import Path
from urllib.parse import quote
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from werkzeug.test import TestResponse

from curewatch.climate.reading import LIMITS, Reading
from curewatch.cure.estimate import read_conditions
from curewatch.errors import CurewatchError, ReadingError
from curewatch.exchange.export_json import pieces
from curewatch.exchange.import_json import take_in, unpack
from curewatch.products.sheet import generic_sheets, parse_sheet
from curewatch.settings.credentials import FILE, Credentials, load_credentials
from curewatch.settings.settings import Mapping, Settings, parse_settings
from curewatch.store.search import StepQuery
from curewatch.vocabulary import MILESTONES
from dashboard.access.sessions import Sessions
from sensors.manual.csv_options import FileOptions
from sensors.manual.csv_table import decoded
from sensors.manual.logger_csv import read_logger
from sensors.mqtt.discovery import DiscoveredNumbers
from sensors.payloads.decode import attempt, resolve
from sensors.payloads.senml import records
from tests.sensors.test_senml import MOVING, ONE, RESOURCES, SERIES, TWO, TYPES
from tests.support.crawl import Form, Page, send, walk
from tests.support.fuzzer import NUMBERS, TOKENS, Fuzzer, timed
from tests.support.many import cases
from tests.support.pages import EVENING, open_garage, served, weather
from tests.support.protected_pages import Time, protected_garage, serving

NOW = datetime(2025, 10, 20, 18, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
PAYLOADS = (
    "14.2", "-3,5", "57.6 F", "287 K", "62 %", '{"bmp": {"temperature": 14.2, "hum": [62, 0.5]}}',
    '{"t": "14.2", "when": "2025-10-20T17:59:30Z", "unix": 1760983200}', '[1, [2, {"a/b": 3}]]',
    ONE, TWO, SERIES, MOVING, TYPES, RESOURCES,
)  # fmt: skip
MAPPINGS = (
    Mapping("a/+", "/bmp/temperature", "F", "panel", "surface_temperature"),
    Mapping("a/+", "/t", "K", "panel", "air_temperature", time="/when"),
    Mapping("b/#", "/hum/0", "fraction", "air", "relative_humidity", time="/unix"),
    Mapping("c", "", "C", "air", "air_temperature"),
    Mapping("s", "", "C", "air", "air_temperature", record="urn:dev:ow:10e2073a01080063"),
    Mapping("s", "", "%", "air", "relative_humidity", record="urn:dev:ow:10e2073a01080063"),
)
TOPICS = (
    "curewatch/panel/surface_temperature", "curewatch/air/relative_humidity", "curewatch/x/y",
    "curewatch/air/air_temperature", "a/1", "b/2/3", "c", "s", "curewatch//", "$SYS", "",
)  # fmt: skip
LOGGERS = (
    "time,Temperature (°C),Humidity (%)\n2025-10-20T18:00:00Z,14.2,68\n"
    "2025-10-20T18:10:00Z,14.0,69\n",
    "\ufeffLogger\n\nNo;Date time;Panel temp °F;Batt\n"
    "1;20.10.2025 18:00;57,56;3,1\n2;21.10.2025 18:10;50;3\n",
    "Date,Time,Temp (K)\n10/20/2025,06:00:00 PM,287\n10/20/2025,06:10:00 PM,286.5\n",
    'a\t"b ""c"" temp"\n2025/10/26 01:30\t14\n2025/10/26 01:30\t15\n',
)
SETTINGS = """zone = "Europe/Vienna"
temperature_unit = "F"
hours = 12
port = 8050
copies = true
lan = false
names = ["garage.home"]
[page]
[mqtt]
host = "10.0.0.5"
port = 1883
user = "garage"
password = "hush-hush-hush"
[places.panel]
old_after = "30 min"
lag = "3 min"
sensor_error = "0.3 C"
[[mappings]]
topic = "workshop/+/state"
pointer = "/bmp/temperature"
unit = "F"
place = "panel"
quantity = "surface_temperature"
[clock]
speed = 60
wall = 2026-01-01T12:00:00Z
shown = 2025-10-20T18:00:00Z
"""


def in_range(reading: Reading) -> None:
    """Fails for a reading that should not have passed."""
    low, high = LIMITS[reading.quantity]
    assert math.isfinite(reading.value)
    assert low <= reading.value <= high
    assert reading.at.tzinfo is not None
    assert reading.at.year >= 1970
    reading.place.encode("ascii")


def test_any_message_of_a_sensor() -> None:
    chance, taken = random.Random(1), 0
    for payload in Fuzzer(PAYLOADS, 1).bytes(cases(3_000)):
        topic = chance.choice(TOPICS)

        def case(topic: str = topic, payload: bytes = payload) -> None:
            nonlocal taken
            readings, refused = attempt(topic, payload, NOW, MAPPINGS)
            for reading in readings:
                in_range(reading)
                assert reading.at <= NOW + HOUR
            assert all(isinstance(error, ReadingError) for error in refused)
            assert readings or refused
            taken += len(readings)

        timed(case, payload)
    assert taken > 60


def test_any_pack_and_any_numbers_heard() -> None:
    heard, chance = DiscoveredNumbers(), random.Random(2)
    for payload in Fuzzer(PAYLOADS, 2).bytes(cases(2_000)):
        heard.add(chance.choice(TOPICS), payload)
        with contextlib.suppress(ReadingError, ValueError, RecursionError):
            for record in records(json.loads(payload)):
                assert record.value is None or isinstance(record.value, float | str | bool)
    for leaf in heard.leaves:
        assert all(map(math.isfinite, leaf.last))
        assert leaf.guess is None or leaf.guess[0] in LIMITS


def test_any_pointer_into_any_document() -> None:
    pointers = Fuzzer(("/bmp/temperature", "/bmp/hum/0", "/a~1b/~0", "", "/", "/0/1/a~1b"), 3)
    documents = [json.loads(text) for text in PAYLOADS[5:]]
    for number, pointer in enumerate(pointers.texts(cases(1_500))):
        with contextlib.suppress(ReadingError):
            resolve(documents[number % len(documents)], pointer)


VIENNA = FileOptions(ZoneInfo("Europe/Vienna"))


def test_any_file_of_a_logger() -> None:
    taken = 0
    for raw in Fuzzer(LOGGERS, 4).bytes(cases(1_500)):

        def case(raw: bytes = raw) -> None:
            nonlocal taken
            try:
                log_file = read_logger(decoded(raw), "log.csv", "air", VIENNA, now=NOW)
            except CurewatchError as error:
                assert error.fix  # noqa: PT017
                return
            for reading in log_file.readings:
                in_range(reading)
            taken += len(log_file.readings)

        timed(case, raw)
    assert taken > 250


def test_any_file_of_conditions() -> None:
    corpus = (
        "time,temperature_c\n2025-10-20T18:00:00Z,14\n2025-10-20T18:10:00Z,13.5\n",
        "time,temperature_c,humidity_pct\n2025-10-20T18:00:00Z,14,60\n2025-10-21T18:10:00Z,13,70\n",
    )
    for text in Fuzzer(corpus, 5).texts(cases(1_250)):

        def case(text: str = text) -> None:
            with contextlib.suppress(CurewatchError):
                assert all(map(math.isfinite, read_conditions(text, "x.csv").surface_c))

        timed(case, text)


def test_any_sheet() -> None:
    folder = Path(__file__).parents[2] / "curewatch/products/sheets"
    corpus = [file.read_text("utf-8") for file in sorted(folder.glob("*.toml"))]
    assert len(corpus) == len(generic_sheets())
    taken = 0
    for text in Fuzzer(corpus, 6).texts(cases(1_000)):

        def case(text: str = text) -> None:
            nonlocal taken
            try:
                sheet = parse_sheet(text, "fuzz")
            except CurewatchError as error:
                assert error.fix  # noqa: PT017
                return
            taken += 1
            times = [row.minutes.get(milestone) for row in sheet.times for milestone in MILESTONES]
            assert all(time_ is None or 0 < time_ < math.inf for time_ in times)

        timed(case, text)
    assert taken > 30


def test_any_settings(tmp_path: Path) -> None:
    taken = 0
    for text in Fuzzer((SETTINGS,), 7).texts(cases(1_250)):

        def case(text: str = text) -> None:
            nonlocal taken
            try:
                found = parse_settings(text, tmp_path)
            except CurewatchError as error:
                assert error.fix  # noqa: PT017
                return
            taken += 1
            assert isinstance(found, Settings)
            assert 1 <= found.port <= 65535
            secret = found.mqtt.password
            assert len(secret) < 12 or secret not in repr(found)

        timed(case, text)
    assert taken > 30


def test_any_credentials_and_any_sessions(tmp_path: Path) -> None:
    for _ in protected_garage(tmp_path):
        kept = (tmp_path / FILE).read_text()
    session = '{"0f": {"mark": "a", "begun_s": 1790000000.0, "used_s": 1790000000.0}}'
    for text in Fuzzer((kept,), 8).texts(cases(75)):
        (tmp_path / FILE).write_bytes(text.encode("utf-8", "replace"))
        with contextlib.suppress(CurewatchError):
            assert isinstance(load_credentials(tmp_path), Credentials)
    for text in Fuzzer((session,), 9).texts(cases(75)):
        (tmp_path / "sessions.json").write_bytes(text.encode("utf-8", "replace"))
        assert not Sessions(tmp_path, Time().wall).holds("x", "a")


def test_any_form(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, hours=2))
    garage.mix("epoxy-panel-adhesive", 30, part="lower corner patch", job="rear corner")
    browser, chance = garage.app.test_client(), random.Random(10)
    forms: dict[str, Form] = {}
    for _, pages in walk(garage.app, browser):
        for form in [form for page in pages for form in page.forms if form.typed]:
            forms.setdefault(re.sub(r"\d+", "0", form.action) + ",".join(form.fields), form)
    corpus = Fuzzer(("14.2", "60 g", "2 %", "rear corner", "120 um", "1", "2026-10-14T17:00"), 10)
    texts = list(corpus.texts(3_000)) + list(NUMBERS + TOKENS)
    # the forms of the pages that Dash draws are typed into by test_attacks
    assert len(forms) >= 3
    for _ in range(cases(100)):
        form = forms[chance.choice(sorted(forms))]
        names = chance.sample(form.typed, chance.randint(1, min(3, len(form.typed))))
        typed = {name: re.sub("[\ud800-\udfff]", "", chance.choice(texts)) for name in names}

        def case(form: Form = form, typed: dict[str, str] = typed) -> None:
            answer = send(browser, form, typed)
            assert answer.status_code < 500, (form.action, typed, answer.text[-300:])
            if answer.mimetype == "text/html" and answer.status_code < 300:
                assert not Page(answer.text).bad

        timed(case, (form.action, typed))
    stored = garage.store.readings(EVENING - timedelta(days=400), EVENING + timedelta(days=400))
    assert len(stored) >= len(weather(EVENING, hours=2))
    for reading in stored:
        in_range(reading)
    assert browser.get("/").status_code == 200
    garage.store.close()


ODD_NUMBERS = ("²", "٣", "9" * 5000, "9" * 19, "-1", "1e3", "0x1", "")


def _status(answer: TestResponse) -> int:
    """How a request was answered, once all of the answer is there."""
    with contextlib.closing(answer):
        assert answer.data is not None
        return answer.status_code


def test_any_number_in_any_path_and_field(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.mix("epoxy-panel-adhesive", 30, part="lower corner patch", job="rear corner")
    browser, ours = garage.app.test_client(), {"Origin": "http://localhost"}
    pages = [page for _, held in walk(garage.app, browser) for page in held]
    fields = {name for page in pages for form in page.forms for name in form.fields}
    texts = sorted({*fields, "event", "number", "before", "a", "b", "hold", "w", "h", "at"})
    rules = garage.app.url_map.iter_rules()
    for (at, rule), turn in product(enumerate(rules), range(min(cases(3), len(ODD_NUMBERS)))):
        odd = ODD_NUMBERS[(at + turn) % len(ODD_NUMBERS)]
        path = re.sub(r"<[^<>]+>", quote(odd) or "0", rule.rule)
        sent = dict.fromkeys(texts, odd)
        if "GET" in (rule.methods or ()):
            codes = [_status(browser.get(path, query_string=each)) for each in ({}, sent)]
        else:
            paths = (path, re.sub(r"<[^<>]+>", "1", rule.rule))
            codes = [_status(browser.post(text, data=sent, headers=ours)) for text in paths]
        assert max(codes) < 500, (rule.rule, odd[:20])
    garage.store.close()


REQUESTS = (
    "GET /login HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n",
    "GET /state.json?have=next:x&w=300 HTTP/1.0\r\nHost: 127.0.0.1\r\n"
    "Cookie: a=b; theme=dark\r\n\r\n",
    "POST /login HTTP/1.1\r\nHost: localhost\r\nOrigin: http://localhost\r\nContent-Length: 12\r\n"
    "Content-Type: application/x-www-form-urlencoded\r\nConnection: close\r\n\r\nnext=/air&a=b",
    "POST /air HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n"
    "Connection: close\r\n\r\n5\r\nabcde\r\n0\r\n\r\n",
    "POST /login HTTP/1.1\r\nHost: [::1]\r\nOrigin: http://[::1]\r\nContent-Length: 60\r\n"
    "Content-Type: multipart/form-data; boundary=x\r\nConnection: close\r\n\r\n"
    '--x\r\nContent-Disposition: form-data; name="passc"\r\n\r\na\r\n--x--',
)


def test_any_bytes_to_the_page_s_port(tmp_path: Path) -> None:
    for home in protected_garage(tmp_path):
        home.access.rate_limit._seconds = iter(range(0, 10**9, 3600)).__next__
        with serving(home) as server:
            for raw in Fuzzer(REQUESTS, 11).bytes(cases(125)):
                got = _answer(server.port, raw)
                assert b"Traceback" not in got
                assert b"application/json" not in got or b" 401 " in got
                codes = re.findall(rb"(?m)^HTTP/1\.[01] (\d\d\d) ", got)
                assert not [code for code in codes if code[:1] == b"5" and code != b"501"], raw
            assert _answer(server.port, REQUESTS[0].encode()).startswith(b"HTTP/1.1 200")


OPEN = tuple(
    f"GET {path} HTTP/1.0\r\nHost: localhost\r\nCookie: theme=dark; room=300x200; span=60\r\n\r\n"
    for path in (
        "/?layout=desk&span=360&w=900&h=400&hold=1,2,1", "/state.json?have=next:x,chart:y&w=9&h=9",
        "/logbook?find=corner&from=2026-01-01&to=2026-12-31&state=hardening&job=rear+corner",
        "/mix/epoxy-primer?part=lid", "/parts?part=lower+corner+patch", "/log/compare?steps=1.2",
        "/step/1", "/step/1/history", "/shelf/epoxy-primer/edit", "/assets/x/curewatch.css",
        "/handover.html?job=rear%20corner", "/bench.ics", "/morning?day=2026-10-14",
    )
)  # fmt: skip


def test_any_bytes_to_open_pages(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, hours=1))
    garage.mix("epoxy-panel-adhesive", 30, part="lower corner patch", job="rear corner")
    with served(garage.app) as address:
        port = int(address.rpartition(":")[2])
        for raw in Fuzzer(OPEN, 13).bytes(cases(300)):
            got = _answer(port, raw)
            codes = re.findall(rb"(?m)^HTTP/1\.[01] (\d\d\d) ", got)
            assert not [code for code in codes if code[:1] == b"5" and code != b"501"], raw
        assert _answer(port, OPEN[0].encode()).startswith(b"HTTP/1.0 200")
    garage.store.close()


def _answer(port: int, raw: bytes) -> bytes:
    """What comes back; the sending side is shut, so nothing waits for more."""
    got = b""
    address = ("127.0.0.1", port)
    with socket.create_connection(address, 20) as connection, contextlib.suppress(ConnectionError):
        connection.sendall(raw)
        _no_more(connection)
        while chunk := connection.recv(65536):
            got += chunk
    return got


def _no_more(connection: socket.socket) -> None:
    """Say that nothing follows; the other side may have ended already."""
    with contextlib.suppress(OSError):
        connection.shutdown(socket.SHUT_WR)


@settings(max_examples=cases(30))
@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
        lambda inner: (
            st.lists(inner, max_size=4)
            | st.dictionaries(st.sampled_from(["n", "bn", "u", "v", "t", "bt", "bu", "x"]), inner)
        ),
        max_leaves=20,
    )
)
@pytest.mark.parametrize("topic", ["s", "a/1", "curewatch/air/air_temperature"])
def test_any_document_at_all(topic: str, document: object) -> None:
    readings, refused = attempt(topic, json.dumps(document).encode(), NOW, MAPPINGS)
    for reading in readings:
        in_range(reading)
    assert readings or refused


def test_any_logbook_of_another(tmp_path: Path) -> None:
    mine, other = open_garage(tmp_path / "mine"), open_garage(tmp_path / "other")
    mine.hear(weather(EVENING, hours=1))
    step = mine.mix("epoxy-panel-adhesive", 30, part="lower corner patch", job="rear corner")
    mine.bench.witness(step, "tacky", now=EVENING)
    mine.bench.test(step, "later", now=EVENING, milestone="clamp_time")
    mine.bench.note(step, "thin at the edge", now=EVENING)
    whole, taken = "".join(pieces(mine.bench, StepQuery(), EVENING)), 0
    for text in Fuzzer((whole,), 12).texts(cases(200)):
        with contextlib.suppress(CurewatchError):
            take_in(other.store, unpack(text, "x.json"))
            taken += 1
    assert taken > 12
    browser = other.app.test_client()
    for path in ("/", "/logbook", "/air", "/logbook.csv", "/bench.ics"):
        assert browser.get(path).status_code == 200, path
    for step_row in other.store.steps():
        assert browser.get(f"/step/{step_row.id}").status_code == 200
    mine.store.close()
    other.store.close()
