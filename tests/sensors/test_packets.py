"""MQTT as bytes: what is whole comes out as it went in, what is not is refused, nothing hangs."""

from __future__ import annotations

import contextlib
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.packets import version3
from sensors.packets.version3 import (
    Connect,
    Frames,
    Malformed,
    OtherVersion,
    Packet,
    Publish,
    Will,
    make_connect,
    make_subscribe,
    packet,
    parse_connect,
    parse_publish,
    parse_subscribe,
)
from tests.support.many import cases
from tests.support.proxies import hello, text

WORDS = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=20)
NAMES = WORDS.filter(lambda word: word and "+" not in word and "#" not in word)


def cut(stream: bytes, limit: int = 2**20) -> list[Packet]:
    frames = Frames(limit)
    frames.add(stream)
    return list(iter(frames.next, None))


@pytest.mark.parametrize(
    ("length", "coded"),
    [
        (0, "00"),
        (127, "7f"),
        (128, "80 01"),
        (16_383, "ff 7f"),
        (16_384, "80 80 01"),
        (2_097_151, "ff ff 7f"),
        (2_097_152, "80 80 80 01"),
    ],
)
def test_lengths_are_coded_as_in_table_2_4_of_the_standard(length: int, coded: str) -> None:
    raw = packet(version3.PUBLISH, bytes(length), 0)
    assert raw[1 : len(raw) - length] == bytes.fromhex(coded)
    (whole,) = cut(raw, 2**22)
    assert len(whole.body) == length


@given(
    st.lists(st.binary(max_size=300), max_size=8),
    st.lists(st.integers(1, 50), min_size=1, max_size=50),
)
def test_packets_come_out_whole_however_the_stream_is_torn(
    bodies: list[bytes], sizes: list[int]
) -> None:
    stream = b"".join(packet(version3.PUBLISH, body, 2) for body in bodies)
    frames, out, turn = Frames(2**20), list[Packet](), 0
    while stream:
        size = sizes[turn % len(sizes)]
        frames.add(stream[:size])
        stream, turn = stream[size:], turn + 1
        out += iter(frames.next, None)
    assert [whole.body for whole in out] == bodies
    assert not frames.partial


def test_a_packet_past_the_limit_is_refused_before_it_has_come() -> None:
    frames = Frames(100)
    frames.add(b"\x30\x80\x08")
    with pytest.raises(Malformed, match="a packet of 1,024 bytes"):
        frames.next()


@given(
    st.builds(
        Connect,
        client=WORDS,
        clean=st.booleans(),
        keepalive_s=st.integers(0, 65535),
        will=st.none()
        | st.builds(
            Will,
            topic=NAMES,
            payload=st.binary(max_size=50),
            qos=st.integers(0, 2),
            retain=st.booleans(),
        ),
    )
)
def test_a_hello_is_read_as_it_was_written(connect: Connect) -> None:
    (whole,) = cut(make_connect(connect))
    assert parse_connect(whole.body) == connect


def test_user_and_password_are_read_and_the_password_is_never_shown() -> None:
    (whole,) = cut(hello("probe", "garage", "open sesame", ("a/b", "gone"), 7))
    connect = parse_connect(whole.body)
    assert (connect.user, connect.password) == ("garage", b"open sesame")
    assert connect.will == Will("a/b", b"gone", 1, True)
    assert "sesame" not in repr(connect)
    assert b"sesame" not in make_connect(connect)


def test_another_version_is_told_apart_from_garbage() -> None:
    (whole,) = cut(hello(level=5))
    with pytest.raises(OtherVersion) as caught:
        parse_connect(whole.body)
    assert caught.value.level == 5


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        (b"", "ends too soon"),
        (text("MQTT"), "ends too soon"),
        (text("HTTP") + b"\4\2\0\0" + text("a"), "another name"),
        (text("MQTT") + b"\4\3\0\0" + text("a"), "flags"),
        (text("MQTT") + b"\4\x0a\0\0" + text("a"), "flags"),
        (text("MQTT") + b"\4\x1e\0\0" + text("a") + text("t") + text(""), "flags"),
        (text("MQTT") + b"\4\x42\0\0" + text("a") + text("p"), "without a user"),
        (text("MQTT") + b"\4\2\0\0" + text("a") + b"more", "too late"),
        (text("MQTT") + b"\4\2\0\0" + text("a\0b"), r"U\+0000"),
        (text("MQTT") + b"\4\2\0\0\0\1\xff", "not UTF-8"),
        (text("MQTT") + b"\4\6\0\0" + text("a") + text("a/#") + text(""), "none can publish"),
    ],
)
def test_a_hello_that_is_wrong_is_refused(body: bytes, sentence: str) -> None:
    with pytest.raises(Malformed, match=sentence):
        parse_connect(body)


@given(NAMES, st.binary(max_size=100), st.integers(0, 2), st.integers(1, 65535))
def test_a_message_is_read_as_it_was_written(topic: str, payload: bytes, qos: int, id: int) -> None:
    number = id.to_bytes(2, "big") if qos else b""
    (whole,) = cut(packet(version3.PUBLISH, text(topic) + number + payload, qos << 1 | 9))
    assert parse_publish(whole) == Publish(topic, payload, qos, id if qos else 0, True, True)


@given(st.lists(st.tuples(WORDS, st.integers(0, 2)), min_size=1, max_size=9))
def test_a_subscription_is_read_as_it_was_written(filters: list[tuple[str, int]]) -> None:
    (whole,) = cut(make_subscribe(7, filters))
    assert parse_subscribe(whole) == (7, filters)


def read(stream: bytes) -> None:
    """Everything that is done with what a stranger sends."""
    for whole in cut(stream, 4096):
        for parse in (parse_publish, parse_subscribe):
            with contextlib.suppress(Malformed):
                parse(whole)
        with contextlib.suppress(Malformed, OtherVersion):
            parse_connect(whole.body)
        with contextlib.suppress(Malformed):
            assert 0 <= whole.id < 65536


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(stream: bytes) -> None:
    with contextlib.suppress(Malformed):
        read(stream)


def test_thousands_of_spoilt_packets_are_read_or_refused() -> None:
    chance = random.Random(4)
    good = [
        hello("probe", will=("a/b", "gone")),
        packet(version3.PUBLISH, text("curewatch/panel/x") + b"\0\1" + b"14.2", 2),
        make_subscribe(3, [("curewatch/#", 1), ("a", 0)]),
    ]
    for turn in range(cases(40_000)):
        spoilt = bytearray(good[turn % 3])
        for _ in range(chance.randint(1, 4)):
            spoilt[chance.randrange(len(spoilt))] = chance.randrange(256)
        with contextlib.suppress(Malformed):
            read(bytes(spoilt))
