"""MQTT 5 as bytes: properties as the standard's table has them, what is wrong refused, no hang."""

from __future__ import annotations

import contextlib
import random
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt import properties
from paho.mqtt.packettypes import PacketTypes

from sensors.packets import version3, version5
from sensors.packets.version3 import Frames, Malformed, Packet, packet, whole
from sensors.packets.version5 import PROPERTIES, Form
from sensors.packets.versions import Version5
from tests.support.many import cases
from tests.support.proxies import text

Properties: Any = properties.Properties
FORMS: dict[Form, str] = {
    "byte": "Byte",
    "two": "Two Byte Integer",
    "four": "Four Byte Integer",
    "length": "Variable Byte Integer",
    "text": "UTF-8 Encoded String",
    "bytes": "Binary Data",
    "pair": "UTF-8 String Pair",
}
WILL = {PacketTypes.WILLMESSAGE: version5.WILL}


def test_the_table_of_properties_is_that_of_another_codec() -> None:
    """Source: paho-mqtt's table, written by others from table 2-4 of the standard."""
    other = Properties(PacketTypes.CONNECT)
    found = {
        id: (other.types[form], frozenset(WILL.get(kind, kind) for kind in kinds))
        for id, (form, kinds) in other.properties.items()
    }
    assert {id: (FORMS[form], kinds) for id, (form, kinds) in PROPERTIES.items()} == found


def hello(raw: bytes = b"\0", flags: int = 2, after: bytes = b"", name: str = "probe") -> bytes:
    return text("MQTT") + bytes([5, flags, 0, 60]) + raw + text(name) + after


def test_what_a_client_says_of_itself_is_read() -> None:
    made = Properties(PacketTypes.CONNECT)
    made.SessionExpiryInterval = 3600
    made.ReceiveMaximum = 7
    made.MaximumPacketSize = 1000
    made.UserProperty = [("a", "b"), ("a", "c")]
    connect5 = version5.parse_connect(hello(made.pack()))
    assert (connect5.expiry_s, connect5.receives, connect5.most_bytes) == (3600, 7, 1000)
    assert (connect5.anew, connect5.connect.clean, connect5.connect.client) == (
        True,
        False,
        "probe",
    )
    plain = version5.parse_connect(hello())
    assert (plain.expiry_s, plain.receives, plain.connect.clean) == (0, 65_535, True)


def test_a_password_may_come_without_a_user() -> None:
    assert version5.parse_connect(hello(flags=0x42, after=text("p"))).connect.password == b"p"


@pytest.mark.parametrize(
    ("held", "reason"),
    [
        ("05 11 00 00 0e", 0x81),
        ("01", 0x81),
        ("ff ff ff ff 7f", 0x81),
        ("02 7e 00", 0x81),
        ("03 23 00 01", 0x81),
        ("0a 11 00 00 00 01 11 00 00 00 01", 0x82),
        ("03 21 00 00", 0x82),
        ("05 27 00 00 00 00", 0x82),
        ("02 19 02", 0x82),
        ("04 16 00 01 61", 0x82),
    ],
)
def test_properties_that_cannot_be_are_refused_with_the_standards_code(
    held: str, reason: int
) -> None:
    with pytest.raises(Malformed) as caught:
        version5.parse_connect(hello(bytes.fromhex(held)))
    assert caught.value.reason == reason


def spoken(greeting: bytes | None = None, limit: int = 4096) -> tuple[Version5, list[bytes]]:
    """A client of version 5, and what it receives."""
    chunks: list[bytes] = []
    return Version5(version5.parse_connect(greeting or hello()), limit, chunks.append), chunks


def heard(kind: int, body: str, flags: int | None = None) -> Packet:
    return spoken()[0].received(whole(packet(kind, bytes.fromhex(body), flags)))


T = "00 03 61 2f 62 "


@pytest.mark.parametrize(
    ("kind", "flags", "body", "plain"),
    [
        (version3.PUBLISH, 2, T + "00 07 00 31", T + "00 07 31"),
        (version3.PUBLISH, 0, T + "05 02 00 00 00 09 31", T + "31"),
        (version3.PUBACK, 0, "00 07", "00 07"),
        (version3.PUBREC, 0, "00 07 10", "00 07"),
        (version3.PUBREL, 2, "00 07 92 00", "00 07"),
        (version3.PUBCOMP, 0, "00 07 00 04 1f 00 01 61", "00 07"),
        (version3.SUBSCRIBE, 2, "00 07 00 " + T + "29", "00 07 " + T + "01"),
        (version3.UNSUBSCRIBE, 2, "00 07 00 " + T, "00 07 " + T),
        (version3.PINGREQ, 0, "", ""),
    ],
)
def test_what_is_heard_becomes_what_a_client_of_before_would_say(
    kind: int, flags: int, body: str, plain: str
) -> None:
    assert heard(kind, body, flags) == whole(packet(kind, bytes.fromhex(plain), flags))


@pytest.mark.parametrize(
    ("kind", "body", "reason"),
    [
        (version3.PUBLISH, T + "03 23 00 01 31", 0x94),
        (version3.PUBLISH, "00 00 03 23 00 01 31", 0x94),
        (version3.PUBLISH, "00 00 00 31", 0x82),
        (version3.PUBLISH, T + "02 0b 01 31", 0x82),
        (version3.SUBSCRIBE, "00 07 02 0b 01 " + T + "00", 0xA1),
        (version3.SUBSCRIBE, "00 07 00 " + T + "03", 0x82),
        (version3.SUBSCRIBE, "00 07 00 " + T + "30", 0x82),
        (version3.SUBSCRIBE, "00 07 00 " + T + "40", 0x82),
        (version3.SUBSCRIBE, "00 07 00 00 0a 24 73 68 61 72 65 2f 61 2f 62 00", 0x9E),
        (version3.SUBSCRIBE, "00 07 00", 0x82),
        (version3.UNSUBSCRIBE, "00 07 00", 0x82),
        (version3.UNSUBSCRIBE, "00", 0x81),
        (version3.AUTH, "18", 0x82),
        (version3.CONNACK, "00 00 00", 0x82),
        (version3.DISCONNECT, "00 05 11 00 00 00 09", 0x82),
        (version3.PUBACK, "00", 0x81),
        (version3.PUBACK, "00 07 00 00 00", 0x81),
    ],
)
def test_what_we_do_not_take_ends_with_the_standards_code(
    kind: int, body: str, reason: int
) -> None:
    with pytest.raises(Malformed) as caught:
        heard(kind, body, 0 if kind == version3.PUBLISH else None)
    assert caught.value.reason == reason


@pytest.mark.parametrize(("body", "passed"), [("", True), ("00", True), ("04", False)])
def test_only_an_orderly_end_takes_the_will_back(body: str, passed: bool) -> None:
    packet = heard(version3.DISCONNECT, body)
    assert (packet.kind, bool(packet.raw)) == (version3.DISCONNECT, passed)


@pytest.mark.parametrize(
    ("plain", "as_sent"),
    [
        ("20 02 00 04", "20 03 00 86 00"),
        ("20 02 00 05", "20 03 00 87 00"),
        ("20 02 00 03", "20 03 00 88 00"),
        ("90 04 00 07 01 80", "90 05 00 07 00 01 87"),
        ("30 06 00 03 61 2f 62 31", "30 07 00 03 61 2f 62 00 31"),
        ("b0 02 00 07", "b0 04 00 07 00 00"),
        ("40 02 00 07", "40 02 00 07"),
        ("d0 00", "d0 00"),
    ],
)
def test_what_is_said_has_the_form_of_version_5(plain: str, as_sent: str) -> None:
    version, chunks = spoken()
    version.send(bytes.fromhex(plain))
    assert chunks == [bytes.fromhex(as_sent)]


def test_the_welcome_says_our_limits() -> None:
    version, chunks = spoken(text("MQTT") + bytes([5, 2, 0, 0]) + b"\0" + text(""), 131_072)
    version.name = "guest-1"
    version.send(version3.connack(0))
    properties = Properties(PacketTypes.CONNACK)
    properties.unpack(chunks[0][4:])
    assert properties.MaximumPacketSize == 131_072
    assert properties.AssignedClientIdentifier == "guest-1"
    assert properties.SessionExpiryInterval == 0
    assert properties.ServerKeepAlive == 65_535
    assert properties.SharedSubscriptionAvailable == 0
    assert properties.SubscriptionIdentifierAvailable == 0
    assert not hasattr(properties, "TopicAliasMaximum")


def message(id: int, qos: int = 1, payload: bytes = b"1") -> bytes:
    return packet(version3.PUBLISH, text("a/b") + id.to_bytes(2, "big") + payload, qos << 1)


def test_a_client_gets_no_more_at_once_than_it_takes() -> None:
    version, chunks = spoken(hello(bytes.fromhex("03 21 00 02")))
    for id in range(1, 6):
        version.send(message(id))
    assert len(chunks) == 2
    version.received(whole(version3.answer(version3.PUBACK, 1)))
    assert len(chunks) == 3
    for id in (2, 3, 4):
        version.received(whole(version3.answer(version3.PUBACK, id)))
    assert [raw[7:9] for raw in chunks] == [bytes([0, id]) for id in range(1, 6)]


def test_a_message_larger_than_it_takes_is_answered_for_it() -> None:
    version, _ = spoken(hello(bytes.fromhex("05 27 00 00 00 20")))
    fits, large = whole(message(1, payload=b"1" * 22)), b"1" * 23
    assert version.declined(fits) is None
    assert version.declined(whole(message(2, 1, large))) == bytes.fromhex("40 02 00 02")
    assert version.declined(whole(message(3, 2, large))) == bytes.fromhex("50 02 00 03")
    rel = whole(version3.answer(version3.PUBREL, 3))
    assert version.declined(rel) == bytes.fromhex("70 02 00 03")
    assert version.declined(rel) is None


def test_no_local_is_refused_filter_by_filter() -> None:
    version, chunks = spoken()
    version.received(
        whole(packet(version3.SUBSCRIBE, b"\0\7\0" + text("a") + b"\1" + text("b") + b"\4"))
    )
    assert [version.bars_filter(7, place) for place in (0, 1)] == [False, True]
    version.send(version3.answer(version3.SUBACK, 7, b"\x01\x80"))
    assert chunks == [bytes.fromhex("90 05 00 07 00 01 83")]


@given(st.lists(st.sampled_from(sorted(PROPERTIES)), unique=True), st.data())
def test_properties_are_read_as_another_codec_wrote_them(
    ids: list[int], data: st.DataObject
) -> None:
    made, count = Properties(PacketTypes.PUBLISH), 0
    for id in ids:
        form, kinds = PROPERTIES[id]
        if version3.PUBLISH not in kinds or form in ("length", "pair"):
            continue
        value: object = data.draw(
            st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=9)
            if form == "text"
            else st.binary(max_size=9)
            if form == "bytes"
            else st.integers(1, 1 if form == "byte" else 65_535)
        )
        setattr(made, made.getNameFromIdent(id).replace(" ", ""), value)
        count += 1
    raw = made.pack()
    properties, end = version5.read_properties(raw, 0, version3.PUBLISH)
    assert (len(properties), end) == (count, len(raw))
    for id, value in properties.items():
        assert getattr(made, made.getNameFromIdent(id).replace(" ", "")) == value


def stream(raw: bytes) -> Iterator[Packet]:
    frames = Frames(4096)
    frames.add(raw)
    yield from iter(frames.next, None)


def read(raw: bytes) -> None:
    """Everything that is done with what a stranger of version 5 sends."""
    version, _ = spoken()
    for sent in stream(raw):
        with contextlib.suppress(Malformed):
            version5.parse_connect(sent.body)
        with contextlib.suppress(Malformed):
            plain = version.received(sent)
            if plain.kind == version3.PUBLISH:
                version3.parse_publish(plain)
            if plain.kind == version3.SUBSCRIBE:
                version3.parse_subscribe(plain)


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    with contextlib.suppress(Malformed):
        read(raw)


def test_thousands_of_spoilt_packets_are_read_or_refused() -> None:
    chance = random.Random(5)
    user = bytes.fromhex("0a 26 00 01 61 00 01 62 01 00 03")[:9]
    good = [
        packet(version3.CONNECT, hello(bytes.fromhex("08 11 00 00 00 09 21 00 07"))),
        packet(version3.PUBLISH, text("a/b") + b"\0\1" + user + b"14.2", 2),
        packet(version3.SUBSCRIBE, b"\0\7\0" + text("a/#") + b"\1" + text("b") + b"\0"),
        packet(version3.UNSUBSCRIBE, b"\0\7\0" + text("a/#")),
        packet(version3.DISCONNECT, bytes.fromhex("04 05 11 00 00 00 09")),
        packet(version3.PUBREC, bytes.fromhex("00 07 80 04 1f 00 01 61")),
    ]
    for turn in range(cases(20_000)):
        spoilt = bytearray(good[turn % len(good)])
        for _ in range(chance.randint(1, 3)):
            spoilt[chance.randrange(len(spoilt))] = chance.randrange(256)
        with contextlib.suppress(Malformed):
            read(bytes(spoilt))
