"""One word for one thing, in the names of classes too."""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
PACKAGES = ("curewatch", "sensors", "dashboard")


def test_no_class_name_stands_for_two_things() -> None:
    places = defaultdict(list)
    for package in PACKAGES:
        for file in sorted((TOP / package).rglob("*.py")):
            for node in ast.walk(ast.parse(file.read_text())):
                if isinstance(node, ast.ClassDef):
                    places[node.name].append(f"{file.relative_to(TOP)}:{node.lineno}")
    assert len(places) > 200
    assert {name: where for name, where in places.items() if len(where) > 1} == {}
