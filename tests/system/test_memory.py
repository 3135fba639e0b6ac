"""The memory of a running `curewatch up`: bounded while it works, given back afterwards."""

from __future__ import annotations

import http.client
import io
import sys
import threading
import time
import uuid
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import urlencode

import psutil
import pytest
from PIL import Image

from curewatch.logbook.picture_child import MOST_MEMORY
from tests.support.campaign import Whole
from tests.system.test_up import typed

pytestmark = pytest.mark.alone
MEGABYTE = 1e6
AFTERWARDS_MB, SIGN_INS_MB, GIVEN_BACK_S = 120, 20, 60
# A page at rest (92 MB), and one picture scaled apart, which is held to its own bound.
PEAK_MB = AFTERWARDS_MB + MOST_MEMORY / MEGABYTE
linux = pytest.mark.skipif(sys.platform != "linux", reason="needs other loopback addresses")


def encoded(mode: str, size: tuple[int, int], kind: str, **how: object) -> bytes:
    out = io.BytesIO()
    Image.new(mode, size, 90 if mode == "L" else "grey").save(out, kind, **how)
    return out.getvalue()


def ask(
    port: int,
    path: str,
    body: bytes | None = None,
    kind: str = "application/x-www-form-urlencoded",
    address: str = "127.0.0.1",
) -> tuple[int, http.client.HTTPMessage, str]:
    """One request from an address of this machine, with its own Origin."""
    with closing(
        http.client.HTTPConnection("127.0.0.1", port, 300, source_address=(address, 0))
    ) as httpconnection:
        headers = {"Origin": f"http://127.0.0.1:{port}", "Content-Type": kind}
        httpconnection.request("GET" if body is None else "POST", path, body, headers)
        answer = httpconnection.getresponse()
        return answer.status, answer.headers, answer.read().decode(errors="replace")


def send(port: int, data: bytes, step: int = 1) -> tuple[int, http.client.HTTPMessage, str]:
    """Send a photograph as the form of a step does."""
    head = (
        f'--x\r\nContent-Disposition: form-data; name="once"\r\n\r\n{uuid.uuid4().hex}\r\n'
        '--x\r\nContent-Disposition: form-data; name="file"; filename="a"\r\n\r\n'
    )
    body = head.encode() + data + b"\r\n--x--\r\n"
    return ask(port, f"/step/{step}/photograph", body, "multipart/form-data; boundary=x")


def patiently(port: int, data: bytes) -> int:
    """Send a photograph, and again each time the page is busy with others; its answer."""
    while (answer := send(port, data))[0] == 503:
        time.sleep(int(answer[1]["Retry-After"]))
    return answer[0]


class WatchedProcess:
    """The memory of a process and of those it starts from now on. [bytes]"""

    def __init__(self, pid: int) -> None:
        self._process = psutil.Process(pid)
        self._before = {process.pid for process in self._process.children(recursive=True)}
        self.peak = 0

    def now(self) -> int:
        found = 0
        for process in (self._process, *self._process.children(recursive=True)):
            if process.pid not in self._before:
                try:
                    found += process.memory_info().rss
                except psutil.Error:
                    continue
        self.peak = max(self.peak, found)
        return found

    @contextmanager
    def throughout(self) -> Iterator[None]:
        over = threading.Event()

        def look() -> None:
            while not over.wait(0.01):
                self.now()

        watcher = threading.Thread(target=look)
        watcher.start()
        try:
            yield
        finally:
            over.set()
            watcher.join()

    def falls_under(self, megabytes: float, within_s: float) -> float:
        """The memory once it is under that, or at the end of the time. [MB]"""
        until = time.monotonic() + within_s
        while self.now() > megabytes * MEGABYTE and time.monotonic() < until:
            time.sleep(0.5)
        return self.now() / MEGABYTE


@pytest.fixture
def running(tmp_path: Path) -> Iterator[Whole]:
    assert typed(tmp_path, "mix", "epoxy-primer", "--job", "floor").returncode == 0
    whole = Whole(tmp_path)
    try:
        assert ask(whole.page, "/")[0] == 200
        yield whole
    finally:
        whole.stop()


def test_photographs_take_bounded_memory_and_give_it_back(running: Whole) -> None:
    """Each about as large as its kind is taken, or larger; three browsers send at once."""
    refused = encoded("RGBA", (7000, 7000), "PNG")
    taken: Sequence[bytes] = [
        encoded("RGB", (4400, 4400), "PNG"),
        encoded("RGBA", (3400, 3400), "PNG"),
        encoded("RGB", (3800, 2160), "WEBP", quality=5, method=0),
        encoded("RGB", (4000, 3000), "JPEG", progressive=True, subsampling=0),
        encoded("RGB", (12_000, 10_000), "JPEG"),
    ]
    sent = [refused, *taken]
    memory = WatchedProcess(running.process.pid)
    with memory.throughout(), ThreadPoolExecutor(3) as browsers:
        codes = list(browsers.map(lambda data: patiently(running.page, data), sent))
    assert memory.peak < PEAK_MB * MEGABYTE
    assert memory.falls_under(AFTERWARDS_MB, GIVEN_BACK_S) < AFTERWARDS_MB
    assert codes == [400] + [303] * len(taken)


def answers_s(port: int, going: Callable[[], bool], most: int) -> list[float]:
    """How long the bench's state takes, asked again and again while that goes on. [s]"""
    values: list[float] = []
    while going() and len(values) < most:
        start = time.monotonic()
        assert ask(port, "/state.json")[0] == 200
        values.append(time.monotonic() - start)
        time.sleep(0.05)
    return sorted(values)


def test_the_page_answers_while_sixteen_photographs_and_papers_are_sent_for(
    running: Whole,
) -> None:
    """99 of 100 answers come in a small part of the time that they take, on any machine."""
    large = encoded("RGB", (12_000, 10_000), "JPEG")
    began = time.monotonic()
    with ThreadPoolExecutor(20) as browsers:
        photographs = [browsers.submit(send, running.page, large) for _ in range(16)]
        papers = [browsers.submit(ask, running.page, "/handover.pdf?job=floor") for _ in range(4)]
        sent = [*photographs, *papers]
        waits = answers_s(running.page, lambda: not all(each.done() for each in sent), 1000)
        took_s = time.monotonic() - began
    assert waits[int(len(waits) * 0.99)] < took_s / 5
    done = [each.result() for each in sent]
    assert {code for code, _, _ in done} <= {200, 303, 503}
    assert sum(photograph.result()[0] == 303 for photograph in photographs) >= 1
    busy = [row for row in done if row[0] == 503]
    assert len(busy) >= 1
    assert all(int(headers["Retry-After"]) > 0 for _, headers, _ in busy)
    assert all("in a moment" in text for _, _, text in busy)


@linux
def test_wrong_passcodes_leave_no_memory_behind(tmp_path: Path) -> None:
    assert typed(tmp_path, "access", "show").returncode == 0
    (tmp_path / "curewatch.toml").write_text("lan = true\n")
    whole = Whole(tmp_path)
    try:
        form = urlencode({"passcode": "wrong"}).encode()
        assert ask(whole.page, "/login", form)[0] == 401
        memory = WatchedProcess(whole.process.pid)
        before = memory.now()
        with ThreadPoolExecutor(8) as strangers:
            codes = set(
                strangers.map(
                    lambda last: ask(whole.page, "/login", form, address=f"127.0.1.{last}")[0],
                    range(1, 17),
                )
            )
        assert codes <= {401, 429}
        assert memory.now() - before < SIGN_INS_MB * MEGABYTE
    finally:
        whole.stop()
