"""The page behind its passcode: who gets in, who does not, and what they are told."""

from __future__ import annotations

import json
import os
import re
from collections import deque
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from time import thread_time

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from werkzeug.routing import Rule

from curewatch.commands.setup.serve import with_options
from curewatch.garage.unnamed_mix import waiting
from curewatch.logbook.housekeeping import each_day
from curewatch.settings.credentials import make_credentials
from dashboard.access.login import COOKIE, OPEN_ASSETS, way_back
from dashboard.access.rate_limit import (
    LONGEST_S,
    MOST_ADDRESSES,
    PER_ADDRESS,
    PER_MINUTE,
    LoginRateLimit,
)
from dashboard.access.sessions import FILE, MOST, UNUSED, WHOLE, Sessions
from dashboard.app import make_app
from tests.support.brokers import until
from tests.support.pages import SETTINGS, open_garage
from tests.support.protected_pages import (
    HTML,
    ORIGIN,
    ProtectedGarage,
    Time,
    protected_garage,
    sign_in,
)

LOGIN = ("login_page", "login_try")


@pytest.fixture
def home(tmp_path: Path) -> Iterator[ProtectedGarage]:
    yield from protected_garage(tmp_path)


def filled(rule: Rule) -> str:
    """A route's path with something in its places."""
    return re.sub(r"<[^<>]+>", "1", rule.rule)


def asked(browser: FlaskClient, rule: Rule, method: str, **headers: str) -> tuple[int, str]:
    """What a route answers: its code, and where it sends."""
    answer = browser.open(filled(rule), method=method, headers=ORIGIN | headers)
    return answer.status_code, answer.headers.get("Location", "")


def test_every_route_answers_401_or_leads_to_the_login(home: ProtectedGarage) -> None:
    rules = [each for each in home.app.url_map.iter_rules() if each.endpoint not in LOGIN]
    assert len(rules) >= 20
    for rule in rules:
        for method in rule.methods or ():
            browser = home.browser()
            assert asked(browser, rule, method)[0] == 401, (rule, method)
            code, where = asked(browser, rule, method, **HTML)
            led = code == 303 and where.split("?")[0] == "/login"
            assert led if method in ("GET", "HEAD") else code == 401, (rule, method, code)
    for path in (
        "/no/such/page",
        "/_dash-update-component",
        "/static/x",
        "//",
        "/login/",
        "/Login",
    ):
        assert home.browser().get(path).status_code in (401, 308), path


def test_a_route_opens_with_the_passcode(home: ProtectedGarage) -> None:
    browser = home.signed_in()
    for path in ("/", "/air", "/shelf", "/logbook", "/choices", "/manifest.webmanifest"):
        assert browser.get(path).status_code == 200, path
    assert browser.get("/state.json").json is not None


def test_only_the_login_its_style_and_its_icon_are_open(home: ProtectedGarage) -> None:
    browser = home.browser()
    page = browser.get("/login", headers=HTML)
    assert page.status_code == 200
    for name in OPEN_ASSETS:
        assert browser.get(f"/assets/x/{name}").status_code == 200
    assert browser.get("/assets/x/curewatch.js").status_code == 401
    assert browser.get("/favicon.ico").status_code == 401
    for asset in [text for text in page.text.split('"') if text.startswith("/assets/")]:
        assert browser.get(asset).status_code == 200
    assert "<script" not in page.text
    assert "Content-Security-Policy" in page.headers


def test_without_a_passcode_nothing_is_asked(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    browser = garage.app.test_client()
    assert browser.get("/").status_code == 200
    assert browser.get("/login").status_code == 404
    assert "Sign out" not in browser.get("/choices").text
    garage.store.close()


def test_the_session_cookie_cannot_be_read_by_scripts_or_sent_by_other_sites(
    home: ProtectedGarage,
) -> None:
    answer = sign_in(home.browser(), home.shown.passcode)
    (text,) = answer.headers.getlist("Set-Cookie")
    parts = {each.strip().partition("=")[0]: each.strip() for each in text.split(";")}
    assert {"HttpOnly", "SameSite", "Path", "Max-Age"} <= set(parts)
    assert parts["SameSite"] == "SameSite=Strict"
    assert "Secure" not in parts
    assert len(parts[COOKIE]) >= len(COOKIE) + 43


def test_over_tls_the_cookie_is_secure_and_other_pages_of_this_host_are_left_alone(
    home: ProtectedGarage,
) -> None:
    browser = home.browser()
    answer = browser.post(
        "/login",
        data={"passcode": home.shown.passcode},
        headers={"Origin": "https://localhost"},
        base_url="https://localhost",
    )
    assert answer.status_code == 303
    assert "Secure" in answer.headers["Set-Cookie"]
    assert "Strict-Transport-Security" not in answer.headers


def test_a_wrong_passcode_is_said_and_opens_nothing(home: ProtectedGarage) -> None:
    browser = home.browser()
    for wrong in ("", "x", home.shown.broker_password, home.shown.passcode[:-1]):
        answer = sign_in(browser, wrong)
        assert answer.status_code == 401
        assert "That is not the passcode." in answer.text
        assert not answer.headers.getlist("Set-Cookie")
        assert wrong == "" or f'value="{wrong}"' not in answer.text
    assert browser.get("/state.json").status_code == 401


@pytest.mark.parametrize(
    "odd",
    [
        {"QUERY_STRING": "a=\xff\xfe"}, {"PATH_INFO": "/\xff\xfe"}, {"HTTP_COOKIE": "\xff\xfe"},
        {"HTTP_COOKIE": "theme=\xff; a"}, {"HTTP_ACCEPT": "\xff"}, {"HTTP_REFERER": "\xff"},
        {"HTTP_HOST": "\xff"}, {"HTTP_X_LIVE": "\xff"}, {"CONTENT_LENGTH": "\xff"},
    ],
)  # fmt: skip
def test_bytes_that_are_no_text_are_answered_plainly(
    home: ProtectedGarage, odd: dict[str, str]
) -> None:
    for browser in (home.browser(), home.signed_in()):
        for path in ("/", "/login", "/nowhere", "/state.json"):
            answer = browser.get(path, environ_overrides=odd)
            assert answer.status_code < 500, (path, odd)
            assert "Content-Security-Policy" in answer.headers


def test_a_cookie_made_to_be_slow_is_read_at_once(home: ProtectedGarage) -> None:
    began = thread_time()
    assert not home.access.knows_cookie('a="' + '\\"' * 16_000 + '"')
    assert thread_time() - began < 0.2


@pytest.mark.parametrize("token", ["", "x", "A" * 43, "\x00", "é", "a" * 3000, "..", "' OR 1=1 --"])
def test_a_made_up_session_opens_nothing(home: ProtectedGarage, token: str) -> None:
    home.signed_in()
    browser = home.browser()
    browser.set_cookie(COOKIE, token)
    assert browser.get("/state.json").status_code == 401


def test_ten_tries_a_minute_then_a_wait_that_grows(home: ProtectedGarage) -> None:
    browser, waits = home.browser(), []
    for _ in range(4):
        for _ in range(PER_ADDRESS):
            assert sign_in(browser, "wrong").status_code == 401
        answer = sign_in(browser, home.shown.passcode)
        assert answer.status_code == 429
        waits.append(int(answer.headers["Retry-After"]))
        assert "Too many tries. Wait " in answer.text
        home.time.wait(waits[-1] - 1)
        assert sign_in(browser, home.shown.passcode).status_code == 429
        home.time.wait(1)
    assert waits == [60, 120, 240, 480]
    assert sign_in(browser, home.shown.passcode).status_code == 303


def test_one_that_tries_too_often_keeps_no_other_out(home: ProtectedGarage) -> None:
    for _ in range(PER_ADDRESS + 5):
        sign_in(home.browser("10.0.0.66"), "wrong")
    assert sign_in(home.browser("10.0.0.9"), home.shown.passcode).status_code == 303


def test_many_addresses_together_are_slowed_down_but_not_this_machine(
    home: ProtectedGarage,
) -> None:
    codes = [sign_in(home.browser(f"10.0.1.{n}"), "wrong").status_code for n in range(60)]
    assert codes == [401] * PER_MINUTE + [429] * (60 - PER_MINUTE)
    assert sign_in(home.browser("127.0.0.1"), home.shown.passcode).status_code == 303


def test_an_address_in_a_header_is_not_believed(home: ProtectedGarage) -> None:
    for n in range(PER_ADDRESS + 1):
        answer = home.browser().post(
            "/login",
            data={"passcode": "wrong"},
            headers={**ORIGIN, "X-Forwarded-For": f"10.9.9.{n}", "Forwarded": f"for=10.9.8.{n}"},
        )
    assert answer.status_code == 429


@given(st.lists(st.tuples(st.floats(0, 90), st.sampled_from("ab")), max_size=200))
def test_no_minute_has_more_than_ten_tries_of_one_address(steps: list[tuple[float, str]]) -> None:
    time = Time()
    tries, made = LoginRateLimit(time.steady), {"a": deque[float](), "b": deque[float]()}
    for seconds, address in steps:
        time.wait(seconds)
        wait_s = tries.wait_s(address)
        assert 0 <= wait_s <= LONGEST_S
        if wait_s == 0:
            made[address].append(time.passed_s)
            recent = [value for value in made[address] if time.passed_s - value < 60]
            assert len(recent) <= PER_ADDRESS


def test_the_memory_of_tries_is_bounded_and_a_network_counts_once() -> None:
    time = Time()
    tries = LoginRateLimit(time.steady)
    for number in range(MOST_ADDRESSES * 3):
        time.wait(2)
        tries.wait_s(f"2001:db8:{number >> 16:x}:{number & 0xFFFF:x}::1")
    assert len(tries._records) == MOST_ADDRESSES
    time.wait(60)
    waits = [tries.wait_s(f"2001:db8:1:1::{number:x}") for number in range(PER_ADDRESS + 1)]
    assert waits[-1] > 0
    assert not any(waits[:-1])


def test_the_way_on_after_signing_in_is_the_page_that_was_asked_for(home: ProtectedGarage) -> None:
    browser = home.browser()
    answer = browser.get("/logbook?job=rear+corner", headers=HTML)
    assert answer.headers["Location"] == "/login?next=%2Flogbook%3Fjob%3Drear%2Bcorner"
    page = browser.get(answer.headers["Location"]).text
    assert 'name="next" value="/logbook?job=rear+corner"' in page
    answer = sign_in(browser, home.shown.passcode, next="/logbook?job=rear+corner")
    assert answer.headers["Location"] == "/logbook?job=rear+corner"
    assert browser.get("/login?next=/air", headers=HTML).headers["Location"] == "/air"


@pytest.mark.parametrize(
    "elsewhere",
    [
        "http://evil.example/", "//evil.example", "/\\evil.example", "\\\\evil.example", "/\t/evil",
        "javascript:alert(1)", "/\r\nSet-Cookie: a=b", "", "/ //x", "/login/out", "/login",
    ],
)  # fmt: skip
def test_the_way_on_never_leads_off_this_page(home: ProtectedGarage, elsewhere: str) -> None:
    answer = sign_in(home.browser(), home.shown.passcode, next=elsewhere)
    assert answer.headers["Location"] == "/"


@given(st.text("/\\.:@?#%evil\t\r\n \x00", max_size=30) | st.text(max_size=60))
def test_any_way_on_is_a_path_of_this_page(text: str) -> None:
    found = way_back(text)
    assert found.startswith("/")
    assert not found.startswith(("//", "/\\"))
    assert not any(letter <= " " for letter in found)


def test_the_page_says_where_a_sensor_of_the_home_network_finds_the_broker(
    home: ProtectedGarage,
) -> None:
    browser = home.signed_in()
    cookie = browser.get_cookie(COOKIE)
    assert cookie
    browser.set_cookie(COOKIE, cookie.value, domain="192.168.1.7")
    page = browser.get("/air/sensors", base_url="http://192.168.1.7:8050").text
    assert "<code>192.168.1.7:1883</code> with the user and password that" in page


def test_what_was_sent_when_signed_out_is_said_not_to_be_recorded(home: ProtectedGarage) -> None:
    answer = home.browser().post("/mixed", headers=ORIGIN | HTML)
    assert answer.status_code == 401
    assert "what you sent was not recorded" in answer.text
    assert waiting(home.garage.store, home.garage.clock()) == []
    live = home.browser().post("/mixed", headers={**ORIGIN, **HTML, "X-Live": "1"})
    assert live.status_code == 401
    assert live.json == {"said": "You are signed out. Open the page again."}


def test_signing_out_ends_this_device_s_session_only(home: ProtectedGarage) -> None:
    first, second = home.signed_in(), home.signed_in()
    assert "Sign out" in first.get("/choices").text
    token = first.get_cookie(COOKIE)
    assert token
    answer = first.post("/login/out", headers=ORIGIN)
    assert answer.headers["Location"] == "/login"
    assert first.get_cookie(COOKIE) is None
    first.set_cookie(COOKIE, token.value)
    assert first.get("/state.json").status_code == 401
    assert second.get("/state.json").status_code == 200


def test_a_session_outlives_a_restart_and_is_kept_as_a_hash(home: ProtectedGarage) -> None:
    browser = home.signed_in()
    cookie = browser.get_cookie(COOKIE)
    assert cookie
    kept = home.folder / FILE
    assert kept.stat().st_mode & 0o777 == 0o600
    assert cookie.value not in kept.read_text()
    home.access.sessions = Sessions(home.folder, home.time.wall)
    assert browser.get("/state.json").status_code == 200


def test_a_disk_that_takes_nothing_keeps_nobody_out_of_the_countdowns(
    home: ProtectedGarage, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    browser = home.signed_in()
    assert browser.get("/state.json").status_code == 200
    assert browser.post("/login/out", headers=ORIGIN).status_code == 303
    assert browser.get("/state.json").status_code == 401
    assert not (home.folder / FILE).exists()


@pytest.mark.parametrize("text", ["", "[]", '{"a": 1}', '{"a": {"mark": 1}}', "\0", "[" * 9999])
def test_a_damaged_list_of_sessions_lets_nobody_in_and_the_owner_again(
    home: ProtectedGarage, text: str
) -> None:
    browser = home.signed_in()
    (home.folder / FILE).write_text(text)
    home.access.sessions = Sessions(home.folder, home.time.wall)
    assert browser.get("/state.json").status_code == 401
    assert home.signed_in().get("/state.json").status_code == 200


def test_a_session_ends_when_unused_and_after_half_a_year_at_the_latest(
    home: ProtectedGarage,
) -> None:
    browser = home.signed_in()
    cookie = browser.get_cookie(COOKIE)
    assert cookie
    lasted = timedelta()
    while lasted < WHOLE - timedelta(days=20):
        home.time.wait(timedelta(days=20).total_seconds())
        lasted += timedelta(days=20)
        browser.set_cookie(COOKIE, cookie.value)
        assert browser.get("/state.json").status_code == 200
    home.time.wait(timedelta(days=20, hours=1).total_seconds())
    browser.set_cookie(COOKIE, cookie.value)
    assert browser.get("/state.json").status_code == 401
    other = home.signed_in()
    home.time.wait((UNUSED + timedelta(hours=1)).total_seconds())
    assert other.get("/state.json").status_code == 401


def test_new_credentials_sign_every_device_out(home: ProtectedGarage) -> None:
    first, second = home.signed_in(), home.signed_in()
    fresh = make_credentials(home.folder)
    for browser in (first, second):
        assert browser.get("/state.json").status_code == 401
        assert sign_in(browser, home.shown.passcode).status_code == 401
        assert sign_in(browser, fresh.passcode).status_code == 303
    assert len(json.loads((home.folder / FILE).read_text())) == 2


def test_credentials_that_are_missing_or_damaged_let_nobody_in(home: ProtectedGarage) -> None:
    browser = home.signed_in()
    assert home.access.user_is(home.shown.broker_user, home.shown.broker_password)
    (home.folder / "door.json").write_text("{")
    assert browser.get("/state.json").status_code == 401
    assert sign_in(browser, home.shown.passcode).status_code == 503
    (home.folder / "door.json").unlink()
    assert browser.get("/state.json").status_code == 401
    assert not home.access.user_is(home.shown.broker_user, home.shown.broker_password)
    assert "curewatch access renew" in sign_in(browser, home.shown.passcode).text


def test_the_number_of_sessions_is_bounded(tmp_path: Path) -> None:
    time = Time()
    sessions, tokens = Sessions(tmp_path, time.wall), []
    for _ in range(MOST + 5):
        time.wait(1)
        tokens.append(sessions.begin("mark"))
    assert not sessions.holds(tokens[0], "mark")
    assert sessions.holds(tokens[-1], "mark")
    assert len(json.loads((tmp_path / FILE).read_text())) == MOST


@pytest.mark.parametrize(
    "headers",
    [
        {}, {"Origin": "null"}, {"Origin": "http://evil.example"}, {"Origin": "ftp://localhost"},
        {"Origin": "http://localhost:81"}, {"Origin": "http://["}, {"Referer": "http://x/localhost"},
        {**ORIGIN, "Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"},
    ],
)  # fmt: skip
def test_a_form_of_another_page_is_not_taken_signed_in_or_not(
    home: ProtectedGarage, headers: dict[str, str]
) -> None:
    browser = home.signed_in()
    for path in ("/login", "/login/out", "/air", "/choices"):
        answer = browser.post(path, data={"passcode": home.shown.passcode}, headers=headers)
        assert answer.status_code == 403, path
        assert not answer.headers.getlist("Set-Cookie")
    assert browser.get("/state.json").status_code == 200


def test_a_page_without_encryption_sends_nothing_to_one_with_it(home: ProtectedGarage) -> None:
    form = {"passcode": home.shown.passcode}
    plain = {"Origin": "http://localhost"}
    answer = home.browser().post("/login", data=form, headers=plain, base_url="https://localhost")
    assert answer.status_code == 403
    behind = home.browser().post("/login", data=form, headers={"Origin": "https://localhost"})
    assert behind.status_code == 303


def test_another_page_cannot_fetch_but_a_link_can_open(home: ProtectedGarage) -> None:
    browser = home.signed_in()
    for site in ("cross-site", "same-site"):
        fetched = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "no-cors"}
        assert browser.get("/state.json", headers=fetched).status_code == 403
        opened = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "navigate"}
        assert browser.get("/", headers=opened).status_code == 200


@pytest.mark.parametrize(
    ("host", "code"),
    [
        ("localhost", 200), ("127.0.0.1:8050", 200), ("[::1]:8050", 200), ("192.168.1.7", 200),
        ("garage.home:8050", 200), ("GARAGE.HOME", 200), ("garage.home.", 200),
        ("evil.example", 400), ("garage.home.evil.example", 400), ("127.0.0.1.evil.example", 400),
        ("localhost.evil.example", 400), ("2130706433", 400), ("0x7f.1", 400), ("[", 400),
        ("", 400), ("a@localhost", 400), ("evil.example@127.0.0.1", 400),
    ],
)  # fmt: skip
def test_only_this_machine_s_names_and_addresses_are_answered(
    tmp_path: Path, host: str, code: int
) -> None:
    garage = open_garage(tmp_path, settings=replace(SETTINGS, names=("garage.home",)))
    answer = garage.app.test_client().get("/state.json", headers={"Host": host})
    garage.store.close()
    assert answer.status_code == code


def test_a_login_form_too_long_is_refused(home: ProtectedGarage) -> None:
    answer = sign_in(home.browser(), "x" * 5000)
    assert answer.status_code == 413


def test_the_option_opens_what_the_settings_do_not(tmp_path: Path) -> None:
    options = {"port": None, "mqtt_port": None, "no_broker": False, "no_copies": False}
    assert with_options(SETTINGS, **options, lan=True).lan  # type: ignore[arg-type]
    assert not with_options(SETTINGS, **options, lan=False).lan  # type: ignore[arg-type]


def test_a_daily_copy_that_failed_is_said_on_the_bench(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    (tmp_path / "copies").write_text("a file where the folder of copies should be")
    with each_day(garage.store, garage.clock) as copies:
        until(copies)
        app = make_app(garage.bench, garage.store, garage.clock, SETTINGS, copies=copies)
        assert "No copy of the logbook was made today" in app.test_client().get("/").text
        assert "no copy could be made (File exists)" in app.test_client().get("/air/sensors").text
    (tmp_path / "copies").unlink()
    with each_day(garage.store, garage.clock) as copies:
        until(lambda: list((tmp_path / "copies").glob("*")))
        assert copies() == ""
    garage.store.close()
