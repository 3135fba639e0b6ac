"""The commands at the mix and while it cures: start a step, correct it, test it, take it off."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import (
    Function,
    Typed,
    ago_option,
    by_option,
    product_argument,
    products,
    step_argument,
)
from curewatch.errors import StillOpenError, UnlikelyError
from curewatch.events.fields import FIELDS, MOMENT, PLACE, TURNED, Field
from curewatch.vocabulary import ANSWERS, MILESTONES, STATES

if TYPE_CHECKING:
    from curewatch.bench.reminders import Caution
    from curewatch.bench.views import StepView
    from curewatch.events.details import Details

Option = Callable[[Callable[..., Any]], Callable[..., Any]]


def _option(field: Field) -> Option:
    kind: click.ParamType[Any] = Typed(field.kind.name, field.kind.parse)
    if field.choices:
        kind = click.Choice(list(field.choices))
    return click.option(f"--{field.option_name}", field.name, type=kind, help=field.help)


def _value(context: Context, field: Field, typed: Any) -> Any:
    """The value an option stands for: an instant is given as how long ago, a place by its name."""
    if typed is None:
        return None
    if field.kind is MOMENT:
        return context.before(typed)
    return context.place(typed) if field.kind is PLACE else typed


def _taking(fields: Sequence[Field], function: Function) -> Function:
    from curewatch.events.details import Details

    @functools.wraps(function)
    def with_details(context: Context, *args: Any, **options: Any) -> Any:
        recorded = {field.name: _value(context, field, options.pop(field.name)) for field in fields}
        return function(context, *args, details=Details(**recorded), **options)

    wrapped: Any = with_details
    for field in reversed(fields):
        wrapped = _option(field)(wrapped)
    return wrapped  # type: ignore[no-any-return]


def mix_details(function: Function) -> Function:
    """The details that a mix may be given at once; the function takes them as `details`."""
    return _taking([field for field in FIELDS if field.at_mix], function)


def all_details(function: Function) -> Function:
    """Every detail that a step's record may be given; the function takes them as `details`."""
    return _taking(sorted(FIELDS, key=lambda field: not field.at_mix), function)


def _beginning(values: Iterable[str]) -> Callable[..., list[str]]:
    """What completes a value that is one of a few."""
    return lambda ctx, param, incomplete: [
        value for value in values if value.startswith(incomplete)
    ]


def _show(context: Context, number: int) -> StepView:
    """Print a step as it stands now, as text or JSON."""
    from curewatch.exchange import bench_json

    now = context.clock()
    view = context.bench.step_view(number, now)
    if context.as_json:
        print_json(bench_json.step(view))
    else:
        click.echo(context.say.step(view, now))
    return view


def _still_to_say(view: StepView, reminders: Sequence[Caution], acknowledged: bool) -> None:
    """What a mix leaves open: its reason despite a stop, and the reminders of protection."""
    if view.unexplained:
        click.echo(f"  Mixed despite a stop: {'; '.join(view.unexplained)}")
        click.echo(f'  Enter why: curewatch step why {view.id} "..."')
    for reminder in reminders:
        click.echo(f"  {'[yes]' if acknowledged else '[ ? ]'} {reminder.words}")


@command("mix")
@product_argument
@by_option
@click.pass_obj
@mix_details
@ago_option
@click.option("--acknowledge", is_flag=True, help="Say yes to the protection reminders.")
@click.option("--why", default="", help="Why it is mixed despite a stop or caution.")
@json_option
def mix(
    context: Context,
    product: str,
    details: Details,
    ago: str | None,
    acknowledge: bool,
    why: str,
) -> None:
    """Start the clock when resin meets hardener.

    The clock starts now, or --ago. The product alone is enough; add the rest later with: curewatch
    step edit. Despite a stop you need --why; with --ago it is in the cup already, and curewatch
    asks why afterwards.
    """
    from curewatch.bench.reminders import cautions
    from curewatch.garage.shelf import find_sheet
    from curewatch.gate import starting

    now = context.clock()
    reminders = cautions(find_sheet(context.store, product), details.applied or "")
    number = starting.start(
        context.bench,
        product,
        details,
        now=now,
        say=context.manner,
        zone=context.zone,
        at=context.before(ago),
        acknowledged=[reminder.key for reminder in reminders] if acknowledge else [],
        why=why,
        why_later=ago is not None,
    )
    view = _show(context, number)
    if not context.as_json:
        _still_to_say(view, reminders, acknowledge)


@command("edit")
@step_argument
@by_option
@click.pass_obj
@all_details
@ago_option
@click.option(
    "--product",
    shell_complete=products,
    help="The product really used, if another one was entered.",
)
@click.option("--why", default="", help="Why it is corrected.")
@json_option
def edit(
    context: Context,
    step: int,
    details: Details,
    ago: str | None,
    product: str | None,
    why: str,
) -> None:
    """Add to a step or correct it.

    The history shows when you entered it, and the earlier value. --ago changes when it was mixed.
    With --product all times follow the label of that product.
    """
    context.bench.amend(
        step,
        details,
        now=context.clock(),
        mixed_at=context.before(ago) if ago else None,
        sheet_id=product,
        why=why,
    )
    _show(context, step)


@command("dab")
@step_argument
@click.argument("state", metavar="STATE", shell_complete=_beginning(STATES))
@by_option
@click.pass_obj
@ago_option
@click.option(
    "--sample",
    default="smear",
    show_default=True,
    help="What you checked: a thin smear, a cup, or the work itself.",
)
@_option(TURNED)
@json_option
def dab(
    context: Context,
    step: int,
    state: str,
    ago: str | None,
    sample: str,
    turned_min: float | None,
) -> None:
    """Enter how the test dab is.

    STATE is one of workable, stringy, tacky, fingernail (takes a mark), hard, sands (to powder).
    A turn seen as it happened says more than that it has: --turned 'just now'.
    """
    now, seen_at = context.clock(), context.before(ago)
    context.bench.witness(
        step, state, now=now, seen_at=seen_at, sample=sample, turned_min=turned_min
    )
    _show(context, step)


@command("test")
@step_argument
@click.argument("answer", shell_complete=_beginning(ANSWERS))
@by_option
@click.pass_obj
@click.option(
    "--milestone",
    type=click.Choice(MILESTONES),
    help="The milestone you tested; the one asked now if left out.",
)
@click.option("--yes", is_flag=True, help="Enter it although it is unlikely.")
@json_option
def test(context: Context, step: int, answer: str, milestone: str | None, yes: bool) -> None:
    """Enter what your test on the work found.

    ANSWER is still-works or gone-off for working time and pot life, not-yet or reached for the
    others; or later, to be asked again in ten minutes.
    """
    now = context.clock()
    try:
        name = context.bench.test(step, answer, now=now, milestone=milestone, sure=yes)
    except UnlikelyError as error:
        raise UnlikelyError(error.what, fix=f"{error.fix}; if it is right, add --yes") from None
    if not context.as_json:
        view = context.bench.step_view(step, now).by_name.get(name)
        click.echo(f"Step {step}, {context.say.answered(name, answer, view, now)}")
    _show(context, step)


@command("done")
@step_argument
@by_option
@click.pass_obj
@click.option("--failed", "why", metavar="WHY", help="It failed, for this reason.")
@click.option("--yes", is_flag=True, help="Finish it although something must still be waited for.")
def done(context: Context, step: int, why: str | None, yes: bool) -> None:
    """Take a step off the bench: finished or failed."""
    from curewatch.bench import finishing

    now = context.clock()
    if why is not None:
        context.bench.abandon(step, why, now=now)
        click.echo(f"Step {step} failed; it is off the bench and in the log.")
        return
    try:
        finishing.finish(context.bench, step, now=now, say=context.manner, sure=yes)
    except StillOpenError as error:
        raise StillOpenError(error.what, fix=f"{error.fix}; or finish it anyway: --yes") from None
    click.echo(f"Step {step} is finished; it is off the bench and in the log.")
