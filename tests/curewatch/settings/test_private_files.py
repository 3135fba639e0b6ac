"""What lies on the disk: for its owner alone, and without a secret in it."""

from __future__ import annotations

import http.client
import os
import shlex
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from curewatch.settings.edit import keep
from curewatch.settings.settings import Mapping, load_settings
from tests.support.brokers import SystemMosquitto, free_port, listens, until
from tests.support.crawl import start_paths
from tests.support.pages import open_garage
from tests.system.test_up import CUREWATCH

OUTSIDE = "hush-outside-broker"
WRONG = "hush-mistyped-passcode"


@contextmanager
def open_to_all(*words: str, texts: list[str]) -> Iterator[subprocess.Popen[str]]:
    """A command where the system would let everyone read new files; ended at the end.

    What it says is added to `texts`.
    """
    line = f"umask 0; exec {shlex.join([*CUREWATCH, *words])}"
    process = subprocess.Popen(
        ["sh", "-c", line], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    try:
        yield process
    finally:
        process.terminate()
        texts.append(process.communicate(timeout=60)[0])


def typed(*words: str) -> str:
    """What such a command says, once it has ended well."""
    texts: list[str] = []
    with open_to_all(*words, texts=texts) as process:
        process.wait(60)
    assert process.returncode == 0, texts
    return texts[0]


def ask(port: int, path: str, body: str | None = None, cookie: str = "") -> tuple[str, str]:
    """What the page answers, and the cookie it gives."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    headers = {"Cookie": cookie, "Origin": f"http://127.0.0.1:{port}"}
    if body is not None:
        headers["Content-Type"] = "application/x-www-form-urlencoded"
    connection.request("GET" if body is None else "POST", path, body, headers)
    answer = connection.getresponse()
    text = answer.read().decode("latin-1")
    connection.close()
    return text, (answer.getheader("Set-Cookie") or "").partition(";")[0]


def readable(folder: Path) -> list[str]:
    """What others may read or enter."""
    return [str(path) for path in [folder, *folder.rglob("*")] if path.stat().st_mode & 0o077]


def test_everything_that_is_made_is_its_owner_s_and_no_secret_gets_out(tmp_path: Path) -> None:
    broker = SystemMosquitto(tmp_path, "allow_anonymous false")
    try:
        _whole_story(tmp_path / "data", tmp_path / "usb", broker.port, tmp_path)
    finally:
        broker.stop()


def _whole_story(data: Path, usb: Path, broker: int, tmp_path: Path) -> None:
    usb.mkdir(mode=0o700)
    shown = typed("access", "show", "--data", str(data))
    passcode = shown.split("Passcode for the page:")[1].split()[0]
    password = shown.split("Password for sensors:")[1].split()[0]
    mask = os.umask(0)
    try:
        keep(data, Mapping("garage/state", "/t", "C", "panel", "surface_temperature"))
    finally:
        os.umask(mask)
    assert not readable(data)
    with (data / "curewatch.toml").open("a") as file:
        file.write(
            f'[mqtt]\nport = {broker}\nembedded = false\nuser = "u"\npassword = "{OUTSIDE}"\n'
        )
    for name in ("curewatch.toml", "door.json"):
        (data / name).chmod(0o644)
    assert OUTSIDE not in repr(load_settings(data))
    page, texts = free_port(), [shown.replace(passcode, "").replace(password, "")]
    with open_to_all("up", "--lan", "--data", str(data), "--port", str(page), texts=texts):
        until(lambda: listens(page), 60)
        texts.append(ask(page, "/login", f"passcode={WRONG}")[0])
        text, cookie = ask(page, "/login", f"passcode={passcode}&next=/air")
        assert cookie
        texts += [text] + [ask(page, path, cookie=cookie)[0] for path in _paths(tmp_path)]
        texts.append(ask(page, "/choices", "name=Ann", cookie)[0])
        until(lambda: list((data / "copies").glob("*.sqlite")))
        texts.append(typed("data", "backup", str(usb / "copy.sqlite"), "--data", str(data)))
        for words in (
            "bench --json",
            "log --json",
            "log --format csv",
            "sensor list --json",
            "access show",
            "sensor list",
        ):
            texts.append(typed(*words.split(), "--data", str(data)))
        assert not readable(data)
    texts.append(typed("product", "show", "epoxy-primer", "--data", str(data)))
    assert not readable(data)
    assert not readable(usb)
    secrets = [
        passcode,
        passcode.replace("-", ""),
        password,
        OUTSIDE,
        WRONG,
        cookie.partition("=")[2],
    ]
    kept = [file for folder in (data, usb) for file in folder.rglob("*") if file.is_file()]
    assert {"door.json", "sessions.json", "curewatch.log"} <= {file.name for file in kept}
    for secret in secrets:
        assert secret
        assert not [text for text in texts if secret in text]
        holding = {file.name for file in kept if secret.encode() in file.read_bytes()}
        settings = {"curewatch.toml", "copy-curewatch.toml"}
        assert holding <= (settings if secret == OUTSIDE else set()), secret
        assert not [file for file in kept if secret in file.name]


def _paths(folder: Path) -> list[str]:
    garage = open_garage(folder / "routes")
    paths = start_paths(garage.app)
    garage.store.close()
    return [path for path in paths if not path.endswith(".pdf")]
