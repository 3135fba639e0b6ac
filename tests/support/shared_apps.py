"""What each app works out anew, though it is the same in all of ours, worked out once.

The tests make hundreds of apps; a person's curewatch makes one.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from types import CodeType
from typing import Any

from dash import _hooks
from flask import Flask
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from werkzeug.routing import Rule

from curewatch.settings import credentials

Builder = Callable[..., tuple[str, str]]


class Templates(BytecodeCache):
    """Compiled templates, kept for the apps to come."""

    def __init__(self) -> None:
        self._held: dict[tuple[str, str], CodeType] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Take what was compiled from the same text."""
        bucket.code = self._held.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was compiled."""
        assert bucket.code
        self._held[bucket.key, bucket.checksum] = bucket.code


def share() -> None:
    """All apps of this process share templates and the builders of their paths from now on."""
    credentials._scrypt = cache(credentials._scrypt)  # of one passcode, tried by many tests
    _hooks.HooksManager._registered = True  # else each app reads what every package installed says
    Flask.jinja_options = {**Flask.jinja_options, "bytecode_cache": Templates()}
    rules: Any = Rule  # whose builders are no part of what it offers
    compiled = rules._compile_builder
    held: dict[tuple[object, ...], Builder] = {}

    def builder(rule: Rule, append_unknown: bool = True) -> Builder:
        if rule.defaults:
            return compiled(rule, append_unknown)  # type: ignore[no-any-return]
        key = (rule.rule, append_unknown, *rule._trace)
        if key not in held:
            held[key] = compiled(rule, append_unknown)
        return held[key]

    rules._compile_builder = builder
