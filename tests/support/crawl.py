"""Walks through all pages and forms as an attacker would, and reads what comes back."""

from __future__ import annotations

import itertools
import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import parse_qsl, urlsplit

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.exceptions import HTTPException
from werkzeug.test import TestResponse

from tests.support.many import cases

ORIGIN = {"Origin": "http://localhost"}
OF_A_KIND = 3
EVIL = (
    "<evil>", '"><evil x="', "'><evil x='", "</script><evil>", "--><evil>", "]]><evil>",
    "</title></textarea></option><evil>", '" onevil="1', "' onevil='1", "` onevil=1",
    "<svg onload=evil()>", "&lt;evil&gt;&#60;evil&#62;", "javascript:evil()",
    "{{ 7 * 'evil' }}", "{% include 'evil' %}", "%s %(evil)s {0.__class__}",
    "'; DROP TABLE event; -- evil", "\" OR 1=1 -- evil", "evil*\" NEAR(\"", "../../../etc/evil",
    "..\\..\\evil", "/etc/evil\x00.png", "=cmd|'/C evil'!A0", "+evil()", "-evil()", "@evil()",
    "\t=evil()", " =evil()", "＝evil()", "|evil", "\u202egnp.evil", "\x1b[2Jevil\x07",
    "evil\r\nSet-Cookie: evil=1", "evil\nBEGIN:EVIL", "evil\u2028\u2029\x85", "\x00",
)  # fmt: skip
_LINKS = ("href", "src", "action", "formaction", "xlink:href", "data", "poster")
_OUR_SCRIPTS = ("/assets/", "/dash/_dash-component-suites/")
_TYPED = {"text", "search", "date", "time", "number", ""}


@dataclass
class FormField:
    """A field of a form: its kind and what stands in it or is suggested."""

    kind: str
    value: str


@dataclass
class Form:
    """A form as a page shows it."""

    action: str
    method: str
    fields: dict[str, FormField] = field(default_factory=dict)

    @property
    def typed(self) -> list[str]:
        """The fields into which one can type, and those that a page fills itself."""
        return [
            name
            for name, form_field in self.fields.items()
            if form_field.kind in (*_TYPED, "hidden")
        ]


class Page(HTMLParser):
    """A page's links and forms, and what should not be in it."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.forms: list[Form] = []
        self.bad: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        texts = {name: value or "" for name, value in attrs}
        self.bad += [f"{tag} {name}={value}" for name, value in texts.items() if _odd(name, value)]
        if tag == "evil" or (tag == "script" and not texts.get("src", "").startswith(_OUR_SCRIPTS)):
            self.bad.append(tag)
        if tag == "a":
            self.links.append(texts.get("href", ""))
        if tag == "form":
            self.forms.append(Form(texts.get("action", ""), texts.get("method", "get").lower()))
        if tag in ("input", "select", "textarea", "button") and texts.get("name") and self.forms:
            kind = texts.get("type", "" if tag in ("input", "textarea") else tag)
            filled = texts.get("value") or texts.get("placeholder", "")
            self.forms[-1].fields.setdefault(texts["name"], FormField(kind, filled))


def _odd(name: str, value: str) -> bool:
    """Whether an attribute runs something, styles, or leads away from the page."""
    runs = name.startswith("on") or name in ("style", "srcdoc")
    plain = re.sub(r"[\x00-\x20]", "", value.lower())
    away = name in _LINKS and not re.match(r"/(?!/)|#|data:image/|\?|$", plain)
    return runs or away


def look(answer: TestResponse) -> list[Page]:
    """The pages in an answer; fails where one has something that runs or leads away."""
    assert answer.status_code < 500, answer.text[:400]
    for name, value in answer.headers:
        assert not re.search(r"[\r\n\0]", name + value)
        assert name != "Set-Cookie" or not value.startswith("evil")
    if 300 <= answer.status_code < 400:
        assert urlsplit(answer.headers["Location"]).netloc in ("", "localhost")
        return []
    texts = []
    if answer.mimetype == "text/html":
        texts = [answer.text]
    elif answer.mimetype == "application/json" and "parts" in (answer.json or {}):
        texts = [part["html"] for part in answer.json["parts"].values()]  # type: ignore[index]
    pages = [Page(text) for text in texts]
    assert not [each for page in pages for each in page.bad]
    assert not re.search("evil{7}|(evil){7}", "".join(texts))
    return pages


def start_paths(app: Flask) -> list[str]:
    """Every page that needs nothing in its path."""
    rules = app.url_map.iter_rules()
    return sorted(
        {rule.rule for rule in rules if "GET" in (rule.methods or ()) and not rule.arguments}
    )


def _kinds(app: Flask, path: str) -> set[tuple[str, ...]]:
    """What answers at an address, with each pair of fields in its query: pages that have no pair
    of their own are made alike. Pairs, for a page of seven fields can be asked in 128 ways."""
    parts = urlsplit(path)
    try:
        endpoint, _ = app.url_map.bind("localhost").match(parts.path, "GET")
    except HTTPException:
        endpoint = parts.path
    fields = sorted(dict(parse_qsl(parts.query, keep_blank_values=True)))
    alone = {(endpoint, *fields[:1])}
    return {(endpoint, *pair) for pair in itertools.combinations(fields, 2)} or alone


def _most(kind: tuple[str, ...]) -> int:
    """How many pages of a kind are looked at: of the pairs, which are many, fewer."""
    return OF_A_KIND if len(kind) < 3 else cases(1)


def walk(app: Flask, browser: FlaskClient) -> Iterator[tuple[str, list[Page]]]:
    """Every page that can be reached, a few of each kind, with what is in it."""
    waiting, seen, kinds = start_paths(app), set[str](), Counter[tuple[str, ...]]()
    while waiting:
        path = waiting.pop(0)
        if path in seen or urlsplit(path).path.endswith((".pdf", ".js")):
            continue
        seen.add(path)
        here = _kinds(app, path)
        if all(kinds[kind] >= _most(kind) for kind in here):
            continue
        kinds.update(here)
        pages = look(browser.get(path))
        yield path, pages
        for link in [link for page in pages for link in page.links]:
            parts = urlsplit(link)
            if parts.path.startswith("/"):
                waiting.append(parts.path + (f"?{parts.query}" if parts.query else ""))


def live(browser: FlaskClient) -> None:
    """What every page's script asks for."""
    answer = browser.get("/state.json")
    look(answer)
    json.loads(answer.text)


def route(app: Flask, form: Form) -> str:
    """What takes a form, whichever step or product it is about."""
    taken_by, _ = app.url_map.bind("localhost").match(urlsplit(form.action).path, form.method)
    return str(taken_by)


def send(browser: FlaskClient, form: Form, typed: dict[str, str]) -> TestResponse:
    """Send a form with these fields typed over."""
    texts = {
        name: form_field.value
        for name, form_field in form.fields.items()
        if form_field.kind != "file"
    } | typed
    if form.method == "get":
        return browser.get(form.action, query_string=texts)
    return browser.post(form.action, data=texts, headers=ORIGIN)
