"""Seeded mutation of a corpus: the same cases on every run."""

from __future__ import annotations

import random
import re
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

SLOWEST_S = 2.0
NUMBERS = (
    "0", "-0", "1", "-1", "0.5", "1e400", "-1e400", "1e-400", "NaN", "Infinity", "-Infinity", "nan",
    "99999999999999999999", "-9223372036854775809", "1" * 400, "0x1F", "1_000", "１２", "1,5",
    "1.2.3", "+7", ".5", "5.", "140", "-300", "2e9", "1e12", "253402300800", "true", "null", '""',
)  # fmt: skip
TOKENS = (
    "", "\0", "\n", "\r\n", '"', "'", "\\", "\\u0000", "\\ud800", "{", "}", "[", "]", "[[", ",",
    ":", ";", "/", "~", "~1", "~2", "%", "%00", "=", "#", "+", "é", "\u202e", "\u2028", "\ufeff",
    "𝕏", "../", "<b>", "' OR 1=1", "{}" * 50, "[" * 300, "a" * 5000, "2025-10-26T01:30:00",
    "2025-02-30T00:00:00Z", "9999-12-31T23:59:59Z", "0001-01-01T00:00:00+14:00", "31/12/99 25:61",
    "C", "K", "F", "%RH", "Cel", "°F", "min", "h", "kg", "Z", "+99:99", "__proto__", "-1", "1e9",
)  # fmt: skip
_PIECES = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?|\w+|\s+|.", re.DOTALL)


@dataclass
class Fuzzer:
    """Mutates texts of a corpus, reproducibly by its seed."""

    corpus: Sequence[str]
    seed: int = 20261125

    def texts(self, count: int) -> Iterator[str]:
        """So many mutated texts, the corpus itself first."""
        chance = random.Random(self.seed)
        yield from self.corpus
        for _ in range(count - len(self.corpus)):
            text = chance.choice(self.corpus)
            for _ in range(chance.choice((1, 1, 1, 2, 3, 6))):
                text = chance.choice(_CHANGES)(text, chance, self.corpus)[:20_000]
            yield text

    def bytes(self, count: int) -> Iterator[bytes]:
        """So many mutated byte strings, some no UTF-8."""
        chance = random.Random(self.seed + 1)
        for text in self.texts(count):
            raw = bytearray(text.encode("utf-8", "surrogatepass"))
            if raw and chance.random() < 0.3:
                for _ in range(chance.randint(1, 4)):
                    raw[chance.randrange(len(raw))] = chance.randrange(256)
            yield bytes(raw)


def _pieces(text: str) -> list[str]:
    return _PIECES.findall(text) or [""]


def _number(text: str, chance: random.Random, corpus: Sequence[str]) -> str:
    pieces = _pieces(text)
    spots = [at for at, each in enumerate(pieces) if each.lstrip("-")[:1].isdigit()]
    if spots:
        pieces[chance.choice(spots)] = chance.choice(NUMBERS)
    return "".join(pieces)


def _token(text: str, chance: random.Random, corpus: Sequence[str]) -> str:
    pieces = _pieces(text)
    pieces[chance.randrange(len(pieces))] = chance.choice(TOKENS)
    return "".join(pieces)


def _insert(text: str, chance: random.Random, corpus: Sequence[str]) -> str:
    at = chance.randint(0, len(text))
    return text[:at] + chance.choice(TOKENS + NUMBERS) + text[at:]


def _remove(text: str, chance: random.Random, corpus: Sequence[str]) -> str:
    start, stop = sorted(chance.randint(0, len(text)) for _ in range(2))
    return text[:start] + text[min(stop, start + 40) :]


def _repeat(text: str, chance: random.Random, corpus: Sequence[str]) -> str:
    start, stop = sorted(chance.randint(0, len(text)) for _ in range(2))
    return text[:stop] + text[start:stop] * chance.choice((1, 2, 50)) + text[stop:]


def _swap(text: str, chance: random.Random, corpus: Sequence[str]) -> str:
    pieces = _pieces(text)
    first, second = chance.randrange(len(pieces)), chance.randrange(len(pieces))
    pieces[first], pieces[second] = pieces[second], pieces[first]
    return "".join(pieces)


def _splice(text: str, chance: random.Random, corpus: Sequence[str]) -> str:
    other = chance.choice(corpus)
    return text[: chance.randint(0, len(text))] + other[chance.randint(0, len(other)) :]


_CHANGES: tuple[Callable[[str, random.Random, Sequence[str]], str], ...] = (
    _number, _number, _token, _token, _insert, _remove, _repeat, _swap, _splice,
)  # fmt: skip


def timed(case: Callable[[], None], what: object) -> None:
    """Run one case; fails where it takes more than SLOWEST_S of the processor."""
    began = time.thread_time()
    case()
    taken = time.thread_time() - began
    assert taken < SLOWEST_S, f"{taken:.1f} s for {str(what)[:200]!r}"
