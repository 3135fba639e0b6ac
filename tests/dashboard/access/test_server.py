"""The page's server on real sockets: limits, TLS, and `curewatch up --lan` as a process."""

from __future__ import annotations

import contextlib
import http.client
import re
import socket
import ssl
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import request

from curewatch.errors import ConfigError
from curewatch.settings.endpoints import lan_address
from curewatch.settings.settings import PageSettings
from dashboard.access.guard import BODY_BYTES, UPLOAD_BYTES
from dashboard.access.server import PageServer
from tests.support import protected_pages
from tests.support.brokers import free_port, tool, until
from tests.support.protected_pages import ProtectedGarage, protected_garage, serving
from tests.system.test_up import CUREWATCH, typed, wait_for_page


@pytest.fixture
def home(tmp_path: Path) -> Iterator[ProtectedGarage]:
    yield from protected_garage(tmp_path / "data")


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> PageSettings:
    return protected_pages.certificate(tmp_path_factory.mktemp("tls"))


def trusting(page: PageSettings) -> ssl.SSLContext:
    """A client that trusts this certificate and no other."""
    return ssl.create_default_context(cafile=str(page.certificate))


def speak(port: int, sent: bytes, seconds: float = 5) -> bytes:
    """What a port answers to bytes, until it closes or falls silent."""
    with socket.create_connection(("127.0.0.1", port), timeout=seconds) as connection:
        connection.sendall(sent)
        got = b""
        with contextlib.suppress(TimeoutError, ConnectionError):
            while chunk := connection.recv(65536):
                got += chunk
    return got


def cookie_of(connection: http.client.HTTPConnection, home: ProtectedGarage) -> str:
    """Sign in over a connection; the cookie to send from then on."""
    scheme = "https" if isinstance(connection, http.client.HTTPSConnection) else "http"
    headers = {
        "Origin": f"{scheme}://{connection.host}:{connection.port}",
        "Content-Type": "application/x-www-form-urlencoded",
    }
    connection.request("POST", "/login", f"passcode={home.shown.passcode}", headers)
    answer = connection.getresponse()
    answer.read()
    assert answer.status == 303
    return (answer.getheader("Set-Cookie") or "").partition(";")[0]


def test_only_a_device_that_is_signed_in_may_send_much(home: ProtectedGarage) -> None:
    taken: list[int] = []

    @home.app.post("/large")
    def large() -> str:
        request.max_content_length = UPLOAD_BYTES
        taken.append(len(request.get_data()))
        return "kept"

    with serving(home) as server:
        connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)
        origin = {"Origin": f"http://127.0.0.1:{server.port}"}
        cookie = cookie_of(connection, home)

        def send(path: str, size: int, headers: dict[str, str]) -> int:
            connection.close()
            try:
                connection.request("POST", path, b"x" * size, origin | headers)
                return connection.getresponse().status
            except (BrokenPipeError, ConnectionResetError):
                return 413

        assert send("/large", BODY_BYTES * 4, {"Cookie": cookie}) == 200
        assert send("/large", BODY_BYTES * 4, {}) == 413
        assert send("/large", BODY_BYTES - 1, {}) == 401
        assert send("/large", UPLOAD_BYTES + 1, {"Cookie": cookie}) == 413
        form = {"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}
        assert send("/choices", BODY_BYTES * 4, form) == 413
        connection.close()
    assert taken == [BODY_BYTES * 4]


def test_a_body_in_chunks_without_end_is_cut_off(home: ProtectedGarage) -> None:
    with serving(home) as server:
        head = f"POST /login HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n"
        chunk = b"10000\r\n" + b"x" * 0x10000 + b"\r\n"
        got = speak(server.port, head.encode() + b"Transfer-Encoding: chunked\r\n\r\n" + chunk * 5)
    assert b" 413 " in got.splitlines()[0]


@pytest.mark.parametrize(
    "sent",
    [
        b"\0" * 50, b"GET\r\n\r\n", b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + b"A: " + b"x" * 70_000 + b"\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: -1\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 9" + b"9" * 400 + b"\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\nab",
        b"GET http://evil.example/ HTTP/1.1\r\nHost: evil.example\r\n\r\n",
        b"GET /%00%0d%0a HTTP/1.1\r\nHost: \xff\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03",
    ],
)  # fmt: skip
def test_what_is_no_request_is_refused_and_the_next_one_answered(
    home: ProtectedGarage, sent: bytes
) -> None:
    with serving(home) as server:
        got = speak(server.port, sent, seconds=1)
        assert got == b"" or re.match(rb"HTTP/1\.[01] (4\d\d|501|303) ", got), got[:80]
        assert b"Traceback" not in got
        good = b"GET /login HTTP/1.0\r\nHost: localhost\r\n\r\n"
        assert speak(server.port, good).startswith(b"HTTP/1.0 200")


def test_with_a_certificate_the_page_is_encrypted_and_the_cookie_secure(
    home: ProtectedGarage, certificate: PageSettings
) -> None:
    with serving(home, certificate) as server:
        connection = http.client.HTTPSConnection(
            "127.0.0.1", server.port, timeout=30, context=trusting(certificate)
        )
        connection.request("GET", "/login")
        answer = connection.getresponse()
        assert answer.status == 200
        answer.read()
        cookie = cookie_of(connection, home)
        connection.request("GET", "/state.json", headers={"Cookie": cookie})
        assert connection.getresponse().status == 200
        connection.close()
        plain = speak(server.port, b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert b"curewatch" not in plain


def whole_at(home: ProtectedGarage, path: str) -> bytes:
    """Put a large page at a path; gives what it holds."""
    whole = bytes(range(256)) * 20_000
    home.app.add_url_rule(path, view_func=lambda: whole, endpoint="whole")
    return whole


def test_a_large_page_comes_whole_over_tls(
    home: ProtectedGarage, certificate: PageSettings
) -> None:
    whole = whole_at(home, "/whole")
    with serving(home, certificate) as server:
        connection = http.client.HTTPSConnection(
            "127.0.0.1", server.port, timeout=30, context=trusting(certificate)
        )
        headers = {"Cookie": cookie_of(connection, home), "Connection": "close"}
        connection.request("GET", "/whole", headers=headers)
        assert connection.getresponse().read() == whole
        connection.close()


def test_a_slow_device_gets_the_last_bytes_too(
    home: ProtectedGarage, certificate: PageSettings
) -> None:
    """The server has closed its end long before the device has read what it was sent."""
    whole = whole_at(home, "/whole")
    with serving(home, certificate) as server:
        connection = http.client.HTTPSConnection(
            "127.0.0.1", server.port, timeout=30, context=trusting(certificate)
        )
        cookie = cookie_of(connection, home)
        connection.close()
        plain = socket.socket()
        plain.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        plain.settimeout(30)
        plain.connect(("127.0.0.1", server.port))
        with trusting(certificate).wrap_socket(plain, server_hostname="127.0.0.1") as slow:
            ask = f"GET /whole HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nCookie: {cookie}\r\n"
            slow.sendall(f"{ask}Connection: close\r\n\r\n".encode())
            answer = bytearray()
            while chunk := slow.recv(65536):
                answer += chunk
                time.sleep(0.001)
        assert answer.partition(b"\r\n\r\n")[2] == whole


def test_older_tls_is_refused(home: ProtectedGarage, certificate: PageSettings) -> None:
    old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    old.check_hostname, old.verify_mode = False, ssl.CERT_NONE
    old.set_ciphers("ALL:@SECLEVEL=0")
    with pytest.warns(DeprecationWarning, match="TLSv1"):
        old.minimum_version, old.maximum_version = ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1
    with (
        serving(home, certificate) as server,
        socket.create_connection(("127.0.0.1", server.port), timeout=30) as plain,
        pytest.raises(OSError, match=r"alert|EOF|reset"),
    ):
        old.wrap_socket(plain).close()


def test_a_connection_that_never_shakes_hands_keeps_no_other_waiting(
    home: ProtectedGarage, certificate: PageSettings
) -> None:
    with serving(home, certificate) as server:
        silent = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(30)]
        connection = http.client.HTTPSConnection(
            "127.0.0.1", server.port, timeout=30, context=trusting(certificate)
        )
        connection.request("GET", "/login")
        assert connection.getresponse().status == 200
        connection.close()
        for each in silent:
            each.setblocking(False)
            with pytest.raises(BlockingIOError):  # the server still waits for it
                each.recv(1)
            each.close()


def test_behind_tls_tries_are_counted_by_the_far_address(
    home: ProtectedGarage, certificate: PageSettings
) -> None:
    seen: list[str | None] = []

    @home.app.before_request
    def note() -> None:
        seen.append(request.remote_addr)

    with serving(home, certificate) as server:
        for source in ("127.0.0.1", "127.0.0.7"):
            plain = socket.create_connection(
                ("127.0.0.1", server.port), timeout=30, source_address=(source, 0)
            )
            with trusting(certificate).wrap_socket(plain, server_hostname="127.0.0.1") as sslsocket:
                sslsocket.sendall(b"GET /login HTTP/1.0\r\nHost: localhost\r\n\r\n")
                assert sslsocket.recv(12) == b"HTTP/1.0 200"
        inner = server._server.socket
        assert inner
        past = speak(inner.getsockname()[1], b"GET /login HTTP/1.0\r\nHost: localhost\r\n\r\n")
        assert past == b""
    assert seen == ["127.0.0.1", "127.0.0.7"]


@pytest.mark.parametrize("swap", ["key", "text", "password"])
def test_a_certificate_that_cannot_be_used_is_one_sentence(
    home: ProtectedGarage, certificate: PageSettings, tmp_path: Path, swap: str
) -> None:
    key = tmp_path / "key.pem"
    if swap == "text":
        key.write_text("no key")
    else:
        lock = ["-aes256", "-pass", "pass:x"] if swap == "password" else []
        command = [tool("openssl"), "genpkey", "-algorithm", "RSA", *lock, "-out", str(key)]
        subprocess.run(command, check=True, capture_output=True)
    with pytest.raises(ConfigError) as caught:
        PageServer(home.app, "127.0.0.1", 0, PageSettings(certificate.certificate, key))
    assert "the certificate cannot be used with its key" in str(caught.value)
    assert "without a password" in str(caught.value)


@contextlib.contextmanager
def process(*words: str) -> Iterator[subprocess.Popen[str]]:
    """`curewatch up` with these words, ended at the end."""
    found = subprocess.Popen(
        [*CUREWATCH, "up", *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        yield found
    finally:
        found.terminate()
        found.communicate(timeout=60)


def ports() -> tuple[list[str], int]:
    """Words for free ports, and the page's."""
    page = free_port()
    return ["--port", str(page), "--mqtt-port", str(free_port())], page


def get(host: str, port: int, path: str, **headers: str) -> http.client.HTTPResponse:
    """What a page answers."""
    connection = http.client.HTTPConnection(host, port, timeout=30)
    connection.request("GET", path, headers=headers)
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer


@pytest.mark.parametrize("how", ["--lan", "lan = true"])
def test_the_home_network_is_not_let_in_without_a_passcode(tmp_path: Path, how: str) -> None:
    words, _ = ports()
    if how != "--lan":
        (tmp_path / "curewatch.toml").write_text(how)
    with process("--data", str(tmp_path), *words, *[how][: how == "--lan"]) as up:
        out, err = up.communicate(timeout=60)
    assert (up.returncode, err.count("\n"), out) == (2, 1, "")
    assert "make them with: curewatch access show." in err


def test_without_the_option_only_this_machine_is_let_in(tmp_path: Path) -> None:
    typed(tmp_path, "access", "show")
    words, page = ports()
    outside = lan_address()
    with process("--data", str(tmp_path), *words) as up:
        wait_for_page(page, up)
        assert get("127.0.0.1", page, "/state.json").status == 200
        if outside:
            with pytest.raises(ConnectionRefusedError):
                socket.create_connection((outside, page), timeout=5)


def test_with_the_option_every_address_needs_the_passcode_until_it_is_renewed(
    tmp_path: Path,
) -> None:
    text = typed(tmp_path, "access", "show").stdout
    passcode = text.split("Passcode for the page:")[1].split()[0]
    words, page = ports()
    hosts = [each for each in ("127.0.0.1", lan_address()) if each]
    with process("--data", str(tmp_path), "--lan", *words):
        until(lambda: _listens(page), 60)
        for host in hosts:
            assert get(host, page, "/state.json").status == 401
        connection = http.client.HTTPConnection(hosts[-1], page, timeout=30)
        form = {
            "Origin": f"http://{hosts[-1]}:{page}",
            "Content-Type": "application/x-www-form-urlencoded",
        }
        connection.request("POST", "/login", f"passcode={passcode}", form)
        answer = connection.getresponse()
        cookie = (answer.getheader("Set-Cookie") or "").partition(";")[0]
        connection.close()
        assert get(hosts[-1], page, "/state.json", Cookie=cookie).status == 200
        typed(tmp_path, "access", "renew")
        assert get(hosts[-1], page, "/state.json", Cookie=cookie).status == 401


def _listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0
