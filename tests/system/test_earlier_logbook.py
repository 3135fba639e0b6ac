"""A logbook that an earlier version wrote opens, and answers as it did then."""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from tests.support.earlier_logbook import ANSWERS, answers, unpacked


def leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every plain value with the way to it."""
    if isinstance(value, dict | list):
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in pairs:
            yield from leaves(inner, f"{path}/{key}")
    else:
        yield path, value


def instant(value: Any) -> float | None:
    """An instant in seconds, where the text is one. [s]"""
    try:
        return datetime.fromisoformat(value).timestamp() if "T" in str(value) else None
    except (TypeError, ValueError):
        return None


def alike(now: Any, then: Any) -> bool:
    """The same; figures to a millionth, or to one in the last of the four decimals that they are
    rounded to, and instants to a second, for other processors."""
    if isinstance(then, float) and isinstance(now, int | float):
        return now == pytest.approx(then, rel=1e-6, abs=1.01e-4)
    at, before = instant(now), instant(then)
    return now == then if at is None or before is None else abs(at - before) <= 1


def test_a_logbook_of_an_earlier_version_opens_and_answers_as_it_did(tmp_path: Path) -> None:
    then = dict(leaves(json.loads(gzip.decompress(ANSWERS.read_bytes()))))
    now = dict(leaves(answers(unpacked(tmp_path))))
    assert len(then) > 1000
    assert {path: (now.get(path, "gone"), value) for path, value in then.items()
            if not alike(now.get(path, "gone"), value)} == {}  # fmt: skip
