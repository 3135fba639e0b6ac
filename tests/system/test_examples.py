"""The examples in docstrings answer what stands under them."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[2]
PACKAGES = ("curewatch", "sensors", "dashboard")
WITH_EXAMPLES = sorted(
    ".".join(file.relative_to(TOP).with_suffix("").parts)
    for package in PACKAGES
    for file in (TOP / package).rglob("*.py")
    if ">>>" in file.read_text("utf-8")
)


@pytest.mark.parametrize("module", WITH_EXAMPLES)
def test_examples_answer_what_stands_under_them(
    module: str, capsys: pytest.CaptureFixture[str]
) -> None:
    failed, tried = doctest.testmod(importlib.import_module(module))
    assert tried
    assert not failed, capsys.readouterr().out
