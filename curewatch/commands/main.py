"""The `curewatch` command: its tree, each command loaded when it is called."""

from __future__ import annotations

import importlib
import sys
from typing import Any, NamedTuple

import click
from click.shell_completion import CompletionItem

from curewatch.commands.context import common_options
from curewatch.errors import CurewatchError


class Entry(NamedTuple):
    """A command of the tree: where it is written (empty for a group), and its one line of help."""

    target: str
    summary: str


SECTIONS: dict[str, tuple[str, ...]] = {
    "Before a mix": ("check", "product", "can", "part", "tonight", "estimate"),
    "At the mix": ("mix", "undo"),
    "While it cures": ("bench", "reading", "dab", "test", "step", "done"),
    "Afterwards": ("morning", "log", "report"),
    "Set-up": ("up", "sensor", "room", "mask", "access", "clock", "data", "guide"),
}
TREE: dict[str, Entry] = {
    "check": Entry("curewatch.commands.check:check", "Stop, caution or go before a mix, and why."),
    "product": Entry("", "The products you own: their labels, and what was learned."),
    "product list": Entry(
        "curewatch.commands.product:list_", "List every product, yours and generic."
    ),
    "product show": Entry(
        "curewatch.commands.product:show", "Show a product's label as it is kept."
    ),
    "product new": Entry("curewatch.commands.product:new", "Copy a label by answering questions."),
    "product edit": Entry("curewatch.commands.product:edit", "Change a product's label."),
    "product add": Entry("curewatch.commands.product:add", "Check a product's file and keep it."),
    "product check": Entry(
        "curewatch.commands.product:check", "Check a product's file, keep nothing."
    ),
    "product remove": Entry(
        "curewatch.commands.product:remove", "Take a product of your own off the shelf."
    ),
    "can": Entry("", "Cans on the shelf: batches, last days, how cold they stood."),
    "can list": Entry("curewatch.commands.can:list_", "List the cans, and which to bring indoors."),
    "can add": Entry("curewatch.commands.can:add", "Put a can on the shelf."),
    "can edit": Entry("curewatch.commands.can:edit", "Add to a can or correct it."),
    "can open": Entry("curewatch.commands.can:open_", "Record that a can was opened."),
    "can empty": Entry("curewatch.commands.can:empty", "Record that a can is used up."),
    "part": Entry("", "Parts: what is next on each, bare metal, structural or not."),
    "part list": Entry("curewatch.commands.part:list_", "Show where you left off on each part."),
    "part bare": Entry("curewatch.commands.part:bare", "Start the bare-metal clock of a part."),
    "part covered": Entry(
        "curewatch.commands.part:covered", "Stop the bare-metal clock of a part."
    ),
    "part done": Entry("curewatch.commands.part:done", "Record that a part is finished."),
    "part structural": Entry(
        "curewatch.commands.part:structural", "Mark a part as structural or not."
    ),
    "tonight": Entry(
        "curewatch.commands.evening:tonight", "Until when you work, and what is bare."
    ),
    "estimate": Entry(
        "curewatch.commands.estimate:estimate", "A product's times without the garage."
    ),
    "mix": Entry("curewatch.commands.mix:mix", "Start the clock: resin and hardener have met."),
    "undo": Entry("curewatch.commands.undo:undo", "Undo what was recorded last, or act N."),
    "bench": Entry("curewatch.commands.bench:bench", "Show what is curing, and when to test what."),
    "reading": Entry("", "Readings that you type, or import from a data logger."),
    "reading add": Entry("curewatch.commands.typed:add", "Enter a thermometer's reading."),
    "reading list": Entry("curewatch.commands.typed:list_", "List the readings that were typed."),
    "reading remove": Entry("curewatch.commands.typed:remove", "Take a typed reading back."),
    "reading import": Entry("curewatch.commands.listen:import_", "Read a data logger's CSV file."),
    "dab": Entry("curewatch.commands.mix:dab", "Enter what the test dab does."),
    "test": Entry("curewatch.commands.mix:test", "Enter what the test on the work found."),
    "step": Entry("", "One step: its details, photographs, heat and history."),
    "step show": Entry(
        "curewatch.commands.logbook:show", "Show a step with its conditions and history."
    ),
    "step compare": Entry(
        "curewatch.commands.logbook:compare", "Show two steps of a product side by side."
    ),
    "step edit": Entry("curewatch.commands.mix:edit", "Add to a step or correct it."),
    "step note": Entry("curewatch.commands.step:note", "Add a note to a step."),
    "step photo": Entry("curewatch.commands.step:photo", "Put a photograph into a step's log."),
    "step mark": Entry("curewatch.commands.step:mark", "Record a coat, or clamps on or off."),
    "step heat": Entry("curewatch.commands.step:heat", "Record heat on a step's metal."),
    "step fan": Entry("curewatch.commands.step:fan", "Record that the fan runs."),
    "step emptied": Entry("curewatch.commands.step:emptied", "Record: cup empty, tools cleaned."),
    "step acknowledge": Entry(
        "curewatch.commands.step:acknowledge", "Answer a protection reminder."
    ),
    "step why": Entry("curewatch.commands.step:why_", "Enter why a step was mixed against a stop."),
    "done": Entry("curewatch.commands.mix:done", "Take a step off the bench: finished or failed."),
    "morning": Entry("curewatch.commands.evening:morning_", "How far each step got in the night."),
    "log": Entry("curewatch.commands.logbook:log", "Show jobs, their steps and the conditions."),
    "report": Entry(
        "curewatch.commands.logbook:report", "Write a job's hand-over sheet, HTML or PDF."
    ),
    "up": Entry("curewatch.commands.up:up", "Start the page and the broker, until Ctrl-C."),
    "sensor": Entry("", "Sensors: what is received, how old, checks against a reference."),
    "sensor list": Entry(
        "curewatch.commands.sensor:list_", "Show each sensor and what was refused."
    ),
    "sensor listen": Entry(
        "curewatch.commands.listen:listen", "Hear every topic, and keep a sensor."
    ),
    "sensor check": Entry("curewatch.commands.sensor:check", "Hold a sensor against a reference."),
    "sensor salt": Entry(
        "curewatch.commands.sensor:salt", "Check a hygrometer with wet table salt."
    ),
    "sensor rename": Entry("curewatch.commands.sensor:rename", "A sensor has a new topic."),
    "sensor set-aside": Entry(
        "curewatch.commands.sensor:set_aside", "Set aside readings dated in the future."
    ),
    "room": Entry("", "The room and its fan, and how long airing takes."),
    "room set": Entry("curewatch.commands.room:set_", "Enter the room's volume and its fan."),
    "room show": Entry("curewatch.commands.room:show", "Show how long the room takes to air."),
    "mask": Entry("", "Mask cartridges and dust filters: hours worn, when to discard."),
    "mask list": Entry("curewatch.commands.mask:list_", "Show the cartridges and filters in use."),
    "mask open": Entry("curewatch.commands.mask:open_", "Open a new set of cartridges or filters."),
    "mask wear": Entry("curewatch.commands.mask:wear", "Add hours worn that no step records."),
    "mask discard": Entry("curewatch.commands.mask:discard", "Throw a set away."),
    "access": Entry("", "Passcode and passwords for phones and sensors on your network."),
    "access show": Entry(
        "curewatch.commands.access:show", "Show a phone the way; make the passcode."
    ),
    "access renew": Entry(
        "curewatch.commands.access:renew", "Make new secrets; sign all devices out."
    ),
    "clock": Entry("", "This computer's clock, where it went back."),
    "clock confirm": Entry("curewatch.commands.clock:confirm", "Confirm that the clock is right."),
    "data": Entry("", "Your data: where they are, copies, export and import."),
    "data path": Entry("curewatch.commands.data:path", "Show where your data are."),
    "data backup": Entry(
        "curewatch.commands.data:back_up", "Copy logbook, photographs and settings."
    ),
    "data restore": Entry(
        "curewatch.commands.data:restore", "Put a copy back in the logbook's place."
    ),
    "data export": Entry("curewatch.commands.data:export", "Print everything as JSON."),
    "data import": Entry("curewatch.commands.data:import_", "Take in another curewatch's export."),
    "data schema": Entry("curewatch.commands.data:schema", "Print the JSON Schema of the export."),
    "guide": Entry("curewatch.commands.guide:guide", "Read the guide: the topics, or one of them."),
}
HELP = {"help_option_names": ["-h", "--help"], "max_content_width": 96}


def loaded(entry: Entry) -> click.Command:
    """The command of an entry, imported."""
    module, _, name = entry.target.partition(":")
    found = getattr(importlib.import_module(module), name)
    assert isinstance(found, click.Command)
    return found


class Tree(click.Group):
    """A group of the tree; what its commands need is imported when they are called."""

    def __init__(self, path: str, **options: Any) -> None:
        super().__init__(path.rpartition(" ")[2] or "curewatch", **options)
        self._path = path
        self.params += common_options(top=not path)

    def _entry(self, name: str) -> Entry | None:
        return TREE.get(f"{self._path} {name}".strip())

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands in the order of the tree."""
        if not self._path:
            return [name for names in SECTIONS.values() for name in names]
        return [each.split()[1] for each in TREE if each.startswith(f"{self._path} ")]

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
        found = [
            CompletionItem(name, help=entry.summary)
            for name in self.list_commands(ctx)
            if name.startswith(incomplete) and (entry := self._entry(name))
        ]
        return found + click.Command.shell_complete(self, ctx, incomplete)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands, at the top by the moment at which they are needed."""
        sections = {"Commands": tuple(self.list_commands(ctx))} if self._path else SECTIONS
        for title, names in sections.items():
            rows = [(name, entry.summary) for name in names if (entry := self._entry(name))]
            with formatter.section(title):
                formatter.write_dl(rows)


@click.pass_context
def _bench(ctx: click.Context) -> None:
    """Times adhesives, fillers and primers by the real temperature of your garage.

    An estimate: the product's label, its safety data sheet and your own test come first.
    Without a command, curewatch shows the bench. --data, --json and -V may also stand behind the
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
    return _fail(f"{error.format_message().rstrip('.')}; see: {where} --help.")


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
        return _fail(f"something unforeseen went wrong ({type(error).__name__}: {error}).")
