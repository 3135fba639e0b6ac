"""`curewatch guide`, and the guide's pages about commands, made from the commands' own help."""

from __future__ import annotations

import inspect
from collections.abc import Iterator

import click

from curewatch.commands.command import command
from curewatch.commands.context import Context
from curewatch.commands.tree import SECTIONS, TREE, loaded
from curewatch.errors import ConfigError
from curewatch.wording.guide import TOPICS, Topic, as_text, written_topic, written_topics


def _command_lines(path: str) -> Iterator[str]:
    """One command as Markdown: how it is called, what it does, its options."""
    command = loaded(TREE[path])
    ctx = click.Context(command, info_name=f"curewatch {path}")
    yield f"## `{' '.join([ctx.command_path, *command.collect_usage_pieces(ctx)])}`"
    yield ""
    yield inspect.cleandoc(command.help or "").replace("\b\n", "")
    yield ""
    records = [parameter.get_help_record(ctx) for parameter in command.params]
    yield from (
        f"- `{option}`: {help_text}" for option, help_text in filter(None, records) if help_text
    )
    yield ""


def command_topic(name: str) -> Topic:
    """The page of a command, with every command in it where it is a group."""
    entry = TREE[name]
    paths = [name] if entry.target else [path for path in TREE if path.startswith(f"{name} ")]
    lines = [line for path in paths for line in _command_lines(path)]
    head = [f"# curewatch {name}", "", *([] if entry.target else [entry.summary, ""])]
    return Topic(name, entry.summary, "\n".join([*head, *lines]).rstrip() + "\n")


def command_topics() -> list[Topic]:
    """The pages of all commands, in the order of the help."""
    return [command_topic(name) for names in SECTIONS.values() for name in names]


def _contents() -> Iterator[str]:
    yield "Read a topic with: curewatch guide TOPIC"
    yield ""
    yield "Topics"
    yield from (f"  {topic.name:<14}{topic.title}" for topic in written_topics())
    for title, names in SECTIONS.items():
        yield ""
        yield f"Commands: {title[0].lower()}{title[1:]}"
        yield from (f"  {name:<14}{TREE[name].summary}" for name in names)


def _names() -> list[str]:
    return [*TOPICS, *(name for names in SECTIONS.values() for name in names)]


def _completed(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
    return [name for name in _names() if name.startswith(incomplete)]


def _text(topic: str) -> str:
    if topic in TOPICS:
        return as_text(written_topic(topic).text)
    if topic in _names():
        return as_text(command_topic(topic).text)
    import difflib

    near = difflib.get_close_matches(topic, _names(), n=2)
    meant = f"; did you mean {' or '.join(near)}?" if near else ""
    raise ConfigError(
        f"the guide has no topic {topic[:40]!r}{meant}", fix="list the topics with: curewatch guide"
    )


@command("guide")
@click.argument("topic", default="", shell_complete=_completed)
@click.pass_obj
def guide(context: Context, topic: str) -> None:
    """Read the guide: the topics, or one of them."""
    click.echo(_text(topic) if topic else "\n".join(_contents()))
