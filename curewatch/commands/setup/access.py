"""The commands that let the home network in, and show a phone the way."""

from __future__ import annotations

import click

from curewatch.commands.command import command
from curewatch.commands.context import Context
from curewatch.settings.credentials import NewSecrets, load_credentials, make_credentials
from curewatch.settings.endpoints import page_address
from curewatch.settings.settings import Settings

_ON_WHITE, _PLAIN = "\033[0;30;107m", "\033[0m"
_HALVES = {(0, 0): " ", (1, 0): "▀", (0, 1): "▄", (1, 1): "█"}


def qr_lines(text: str) -> list[str]:
    """A QR code as lines of half blocks, dark on light."""
    import segno

    rows = [list(row) for row in segno.make(text, error="m").matrix_iter(border=3)]
    pairs = zip(rows[::2], [*rows[1::2], [0] * len(rows[0])][: len(rows[::2])], strict=True)
    return ["".join(_HALVES[cell] for cell in zip(*pair, strict=True)) for pair in pairs]


def _secrets(shown: NewSecrets) -> str:
    return (
        f"Passcode for the page:    {shown.passcode}\n"
        f"User for sensors:         {shown.broker_user}\n"
        f"Password for sensors:     {shown.broker_password}\n"
        "Write them down: they are shown only this once, and stored only as hashes."
    )


def _way(settings: Settings) -> None:
    address = page_address(settings.port, encrypted=settings.page.certificate is not None)
    if address is None:
        click.echo("This computer is not on a network now, so there is no address for a phone.")
        return
    click.echo(f"\nAddress for a phone:      {address}")
    for line in qr_lines(address):
        click.echo(f"{_ON_WHITE}{line}{_PLAIN}")
    for name in settings.names:
        click.echo(
            f"By name:                  {address.partition(':')[0]}://{name}:{settings.port}/"
        )
    if not settings.lan:
        click.echo(
            "Open it to the network with: curewatch up --lan (or lan = true in curewatch.toml)."
        )


@command("show")
@click.pass_obj
def show(context: Context) -> None:
    """Show the address for a phone; make the passcode.

    The first time it makes the passcode of the pages and the password for sensors; it shows them
    only then. The address for a phone is shown as a QR code too.
    """
    if load_credentials(context.folder) is None:
        click.echo(_secrets(make_credentials(context.folder)))
    else:
        click.echo(
            "You have a passcode already; it was shown when it was made.\n"
            "For a new passcode and password: curewatch access renew. It signs every device out, "
            "and sensors need the new password."
        )
    _way(context.settings)


@command("renew")
@click.pass_obj
def renew(context: Context) -> None:
    """Make new secrets; sign all devices out.

    Sensors on the network need the new password.
    """
    click.echo(_secrets(make_credentials(context.folder)))
    _way(context.settings)
