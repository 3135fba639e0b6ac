"""The commands of what is asked at the bench beside the tests."""

from __future__ import annotations

from collections.abc import Callable

import click

from curewatch.opened import Opened


@click.argument("step", type=int)
@click.option("--in-use", is_flag=True, help="Not yet: ask again in a quarter of an hour.")
def emptied(desktop: Opened, step: int, in_use: bool) -> None:
    """Tell that cup and gun are used up and the tools clean: the bench stops asking."""
    now = desktop.clock()
    if in_use:
        desktop.bench.in_use(step, now=now)
        click.echo(f"Step {step}: still in use, asked again in a quarter of an hour.")
        return
    desktop.bench.emptied(step, now=now)
    click.echo(f"Step {step}: used up, tools clean.")


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {("emptied",): emptied}
