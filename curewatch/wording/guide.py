"""The topics of the guide: Markdown files, read for terminal and page alike."""

from __future__ import annotations

from importlib import resources
from typing import NamedTuple

TOPICS = (
    "cautions",
    "install",
    "commands",
    "examples",
    "screen",
    "before-a-mix",
    "protection",
    "labels",
    "garage",
    "logbook",
    "sensors",
    "flags",
    "settings",
    "lamps",
    "network",
    "model",
    "scripts",
)


class Topic(NamedTuple):
    """A page of the guide: its name in commands and addresses, its title, its Markdown."""

    name: str
    title: str
    text: str


def written_topic(name: str) -> Topic:
    """The topic of that file; its first line is its title."""
    text = (resources.files("curewatch.guide") / f"{name}.md").read_text(encoding="utf-8")
    return Topic(name, text.partition("\n")[0].removeprefix("# "), text)


def written_topics() -> list[Topic]:
    """Every topic that is a file, in the order in which they are listed."""
    return [written_topic(name) for name in TOPICS]


def as_text(markdown: str) -> str:
    """Markdown as it is read on a terminal: code is indented, the fences around it left out."""
    lines, inside = [], False
    for line in markdown.splitlines():
        if line.startswith("```"):
            inside = not inside
        else:
            lines.append(f"    {line}" if inside and line else line)
    return "\n".join(lines)
