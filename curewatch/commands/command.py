"""How a command is made: the options that all of them take, and the act that its records are."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from curewatch.commands.context import Context
from curewatch.commands.options import LINE
from curewatch.events.events import acting


def _set_folder(ctx: click.Context, param: click.Parameter, value: Path | None) -> None:
    context = ctx.ensure_object(Context)
    if value is not None:
        context.chosen = value


def _set_json(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    context = ctx.ensure_object(Context)
    context.as_json = context.as_json or value


def _data_option(*, top: bool) -> click.Option:
    return click.Option(
        ["--data"],
        type=click.Path(file_okay=False, path_type=Path),
        envvar="CUREWATCH_DATA" if top else None,
        help="The folder of your data; your account's usual one if left out.",
        callback=_set_folder,
        expose_value=False,
        hidden=not top,
    )


def _version_option(*, top: bool) -> click.Option:
    def show(ctx: click.Context, param: click.Parameter, value: bool) -> None:
        if not value or ctx.resilient_parsing:
            return
        from curewatch import __version__

        click.echo(f"curewatch {__version__}")
        ctx.exit()

    return click.Option(
        ["-V", "--version"],
        is_flag=True,
        expose_value=False,
        is_eager=True,
        callback=show,
        help="Show the version and exit.",
        hidden=not top,
    )


_JSON: dict[str, Any] = {
    "is_flag": True,
    "expose_value": False,
    "callback": _set_json,
    "help": "Print JSON for scripts.",
}
json_option = click.option("--json", **_JSON)


def common_options(*, top: bool) -> list[click.Parameter]:
    """The options that every command takes; the help shows them where they are at the `top`."""
    options: list[click.Parameter] = [_data_option(top=top), _version_option(top=top)]
    return [click.Option(["--json"], **_JSON), *options] if top else options


@contextmanager
def _offering_undo(context: Context) -> Iterator[None]:
    """What a command records is one act; how it is undone is said behind it, but not in JSON."""
    with acting() as act:
        yield
    if act.number is not None and not context.as_json:
        click.echo("Undo with: curewatch undo")


class Command(click.Command):
    """A command that takes `--data` and `-V`, and says how what it records is undone.

    A text that it takes is one line, unless its type says otherwise.
    """

    offers_undo = True

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for param in self.params:
            param.type = LINE if param.type is click.STRING else param.type
        self.params += common_options(top=False)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command as one act."""
        context = ctx.ensure_object(Context)
        if context.as_json and all(parameter.name != "json" for parameter in self.params):
            raise click.UsageError("this command prints no JSON", ctx)
        if not self.offers_undo:
            return super().invoke(ctx)
        with _offering_undo(context):
            return super().invoke(ctx)


class Alone(Command):
    """A command whose records are no act of its own, like `undo`, `up`, or a plan that is shown."""

    offers_undo = False


def command(name: str, kind: type[Command] = Command) -> Callable[[Callable[..., Any]], Command]:
    """Make a function a command of that name."""
    return click.command(name, cls=kind)
