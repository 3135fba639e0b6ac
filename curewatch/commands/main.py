"""The `curewatch` command: each command of the tree is loaded when it is called."""

from __future__ import annotations

import os
import sys
from typing import Any

import click
from click.shell_completion import CompletionItem

from curewatch.commands.command import common_options
from curewatch.commands.tree import SECTIONS, TREE, CommandEntry, loaded
from curewatch.errors import CurewatchError

# Else numpy starts a thread for every core when it is loaded, for matrices that gain nothing by it.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

HELP = {"help_option_names": ["-h", "--help"], "max_content_width": 96}


class Tree(click.Group):
    """A group of the tree; what its commands need is imported when they are called."""

    def __init__(self, path: str, **options: Any) -> None:
        super().__init__(path.rpartition(" ")[2] or "curewatch", **options)
        self._path = path
        self.params += common_options(top=not path)

    def _entry(self, name: str) -> CommandEntry | None:
        return TREE.get(f"{self._path} {name}".strip())

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands in the order of the tree."""
        if not self._path:
            return [name for names in SECTIONS.values() for name in names]
        return [path.split()[1] for path in TREE if path.startswith(f"{self._path} ")]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, loaded."""
        entry = self._entry(cmd_name)
        if entry is None:
            return None
        return loaded(entry) if entry.target else Tree(cmd_name, help=entry.summary)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that was typed. Raises UsageError with the nearest names."""
        name = args[0]
        if name.startswith("-") or self._entry(name) is not None or ctx.resilient_parsing:
            return super().resolve_command(ctx, args)
        import difflib

        near = difflib.get_close_matches(name, self.list_commands(ctx), n=2)
        meant = f"; did you mean {' or '.join(near)}?" if near else ""
        raise click.UsageError(f"no command {name[:40]!r}{meant}", ctx)

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """The names of commands that begin so, none of them loaded, and the options."""
        options = [
            CompletionItem(name, help=entry.summary)
            for name in self.list_commands(ctx)
            if name.startswith(incomplete) and (entry := self._entry(name))
        ]
        return options + click.Command.shell_complete(self, ctx, incomplete)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands, at the top by the moment at which they are needed."""
        sections = {"Commands": tuple(self.list_commands(ctx))} if self._path else SECTIONS
        for title, names in sections.items():
            rows = [(name, entry.summary) for name in names if (entry := self._entry(name))]
            with formatter.section(title):
                formatter.write_dl(rows)


@click.pass_context
def _bench(ctx: click.Context) -> None:
    """Predicts the cure times of adhesives, fillers and primers in your garage.

    An estimate: the product's label, its safety data sheet and your own test come first.
    Without a command, curewatch shows the bench. --data, --json and -V may also come after the
    command.
    """
    if ctx.invoked_subcommand is None:
        ctx.invoke(loaded(TREE["bench"]))


cli = Tree(
    "",
    callback=_bench,
    help=_bench.__doc__,
    invoke_without_command=True,
    context_settings=HELP,
)


def _fail(sentence: str) -> int:
    click.echo(f"curewatch: {' '.join(sentence.split())}", err=True)
    return 2


def _usage(error: click.ClickException) -> int:
    ctx = getattr(error, "ctx", None)
    where = ctx.command_path if ctx is not None else "curewatch"
    text = error.format_message().rstrip(".")
    return _fail(f"{text}{' See' if text.endswith('?') else '; see'}: {where} --help.")


def main() -> int:
    """Run the command; every error is one sentence on stderr and exit 2."""
    try:
        result = cli.main(standalone_mode=False, prog_name="curewatch")
        return result if isinstance(result, int) else 0
    except click.exceptions.Exit as end:
        return end.exit_code
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message())
        return 2
    except click.ClickException as error:
        return _usage(error)
    except CurewatchError as error:
        return _fail(str(error))
    except (click.Abort, KeyboardInterrupt):
        return 130
    except BrokenPipeError:
        sys.stderr.close()
        return 1
    except Exception as error:
        return _fail(f"something unexpected went wrong ({type(error).__name__}: {error}).")
