"""The secrets of the door: random, shown once, kept as hashes that only their owner reads."""

from __future__ import annotations

import json
import math
import os
import re
from pathlib import Path

import pytest
import segno
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.commands.setup.access import qr_lines
from curewatch.errors import StoreError
from curewatch.settings.credentials import (
    FILE,
    LETTERS,
    Credentials,
    LiveCredentials,
    load_credentials,
    make_credentials,
)
from curewatch.settings.endpoints import lan_address, page_address
from tests.conftest import Run


def test_the_secrets_are_random_readable_and_hard_to_guess(tmp_path: Path) -> None:
    first, second = make_credentials(tmp_path), make_credentials(tmp_path)
    assert first.passcode != second.passcode
    assert first.broker_password != second.broker_password
    assert re.fullmatch(r"([2-9a-z]{4}-){2}[2-9a-z]{4}", first.passcode)
    assert not set("01lio") & set(LETTERS)
    assert len(first.passcode.replace("-", "")) * math.log2(len(LETTERS)) >= 59
    assert len(first.broker_password) * math.log2(len(LETTERS)) >= 99


def test_only_hashes_are_kept_for_the_owner_alone(tmp_path: Path) -> None:
    mask = os.umask(0)
    try:
        shown = make_credentials(tmp_path / "data")
    finally:
        os.umask(mask)
    path = tmp_path / "data" / FILE
    kept = path.read_text()
    assert (path.stat().st_mode & 0o777, path.parent.stat().st_mode & 0o777) == (0o600, 0o700)
    for secret in (shown.passcode, shown.passcode.replace("-", ""), shown.broker_password):
        assert secret not in kept
        assert secret not in repr(shown)
    assert json.loads(kept)["passcode"]["cost"] == 16384
    assert json.loads(kept)["passcode"]["salt"] != json.loads(kept)["password"]["salt"]


def test_the_passcode_opens_however_it_is_typed_and_nothing_else_does(tmp_path: Path) -> None:
    shown = make_credentials(tmp_path)
    door = load_credentials(tmp_path)
    assert door
    for typed in (
        shown.passcode,
        shown.passcode.upper(),
        shown.passcode.replace("-", " "),
        f"  {shown.passcode.replace('-', '')}\n",
    ):
        assert door.passcode_is(typed)
    for typed in ("", "-", shown.passcode[:-1], shown.passcode + "x", shown.broker_password):
        assert not door.passcode_is(typed)
    assert door.user_is("garage", shown.broker_password)
    assert not door.user_is("Garage", shown.broker_password)
    assert not door.user_is("garage", shown.broker_password.upper())
    assert not door.user_is("", "")


@pytest.fixture(scope="module")
def door(tmp_path_factory: pytest.TempPathFactory) -> Credentials:
    folder = tmp_path_factory.mktemp("door")
    make_credentials(folder)
    credentials = load_credentials(folder)
    assert credentials
    return credentials


@settings(max_examples=30)
@given(text=st.text(max_size=300))
def test_no_text_is_an_error_or_opens_by_chance(door: Credentials, text: str) -> None:
    assert not door.passcode_is(text)
    assert not door.user_is(text, text)


def test_renewing_shuts_the_old_secrets_out_at_once(tmp_path: Path) -> None:
    live = LiveCredentials(tmp_path)
    assert live.now() is None
    old = make_credentials(tmp_path)
    before = live.now()
    assert before
    assert before.passcode_is(old.passcode)
    new = make_credentials(tmp_path)
    after = live.now()
    assert after
    assert after.mark != before.mark
    assert not after.passcode_is(old.passcode)
    assert after.passcode_is(new.passcode)
    (tmp_path / FILE).unlink()
    assert live.now() is None


@pytest.mark.parametrize("text", ["", "{}", "[]", "null", '{"mark": 1}', "\0", "[" * 5000])
def test_a_damaged_door_says_how_to_mend_it(tmp_path: Path, text: str) -> None:
    (tmp_path / FILE).write_text(text)
    with pytest.raises(StoreError) as caught:
        load_credentials(tmp_path)
    assert str(caught.value).endswith(
        "the file is damaged; make a new one with: curewatch access renew."
    )


def test_a_door_whose_cost_was_changed_is_not_tried(tmp_path: Path) -> None:
    make_credentials(tmp_path)
    path = tmp_path / FILE
    path.write_text(path.read_text().replace("16384", "1073741824"))
    with pytest.raises(StoreError):
        load_credentials(tmp_path)


def test_a_folder_that_cannot_be_written_is_one_sentence(run: Run, tmp_path: Path) -> None:
    (tmp_path / "data").write_text("a file")
    code, out, err = run("access", "show")
    assert (code, out, err.count("\n")) == (2, "", 1)


def test_the_command_shows_the_secrets_once_and_the_way_each_time(run: Run) -> None:
    code, first, _ = run("access", "show")
    assert code == 0
    passcode, password = _secrets_of(first)
    code, again, _ = run("access", "show")
    assert code == 0
    assert "a passcode already" in again
    assert "curewatch access renew" in again
    assert passcode not in again
    assert password not in again
    address = page_address(8050, encrypted=False)
    if address:
        for text in (first, again):
            assert address in text
            assert "\n".join(qr_lines(address)) in text
    code, renewed, _ = run("access", "renew")
    assert code == 0
    assert _secrets_of(renewed)[0] != passcode


def _secrets_of(text: str) -> tuple[str, str]:
    match = re.search(r"Passcode for the page: +(\S+)\n.*\nPassword for sensors: +(\S+)\n", text)
    assert match
    return match[1], match[2]


def test_the_picture_of_the_address_is_a_qr_code_of_it() -> None:
    text = "http://192.168.178.20:8050/"
    rows: list[list[int]] = []
    for line in qr_lines(text):
        rows.append([int(letter in "▀█") for letter in line])
        rows.append([int(letter in "▄█") for letter in line])
    wanted = [list(row) for row in segno.make(text, error="m").matrix_iter(border=3)]
    assert rows[: len(wanted)] == wanted
    assert not any(map(any, rows[len(wanted) :]))


def test_the_address_for_a_phone_is_no_loopback() -> None:
    text = lan_address()
    assert text is None or not text.startswith("127.")
    if text:
        assert page_address(8060, encrypted=True) == f"https://{text}:8060/"
