"""The photograph of a product's label: shown, taken, replaced, removed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import dcc, html

from curewatch.garage.shelf import find_sheet
from curewatch.logbook import photographs
from curewatch.products.sheet import Sheet
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.pages.touches import Form, TouchOutcome, button

REMOVE, FIELD = "remove label photograph", "photograph"


def _ways(address: str, **more: str) -> list[Any]:
    """A button for the camera, and one for a file that is there already."""
    attributes: dict[str, Any] = {"data-photograph": address, **more}
    camera: dict[str, Any] = {"data-capture": "environment"}
    return [
        html.Button("Take one", type="button", id="label-take", **attributes, **camera),
        html.Button("Choose one", type="button", id="label-choose", **attributes),
    ]


def section(context: PageContext, sheet: Sheet) -> html.Section:
    """The photograph on a product's page, and how it is taken, replaced and removed."""
    name, address = photographs.label_of(context.store, sheet.id), f"/shelf/{sheet.id}/label"
    shown: list[Any] = []
    ways = _ways(address)
    if name:
        picture = html.Img(
            src=f"{address}/{name}/small", alt=f"Label of {words.short_name(sheet.name)}"
        )
        shown = [html.P(html.A(picture, href=f"{address}/{name}"), className="label-photograph")]
        ways.append(button("Remove", REMOVE, sheet.id, **{"aria-label": "Remove the photograph"}))
    hint = f"A new one replaces it. {words.STRIPPED}" if name else words.STRIPPED
    title = html.H2("Photograph of the label")
    components = [title, *shown, html.P(ways, className="buttons"), html.P(hint, className="hint")]
    return html.Section(components, id="label")


def to_come(form: Form) -> html.Section:
    """The same for a product that is not saved yet: the photograph waits in the form."""
    waiting = dcc.Input(id=form.id(FIELD), type="hidden", value="")
    attributes: dict[str, Any] = {"role": "status"}
    paragraph = html.P(id="label-taken", className="hint", **attributes)
    ways = html.P(_ways("/label-photograph", **{"data-names": form.target(FIELD)}),
                  className="buttons")  # fmt: skip
    hint = html.P(f"Kept with the product, to look at later. {words.STRIPPED}", className="hint")
    title = html.H2("Photograph of the label")
    return html.Section([title, ways, paragraph, form.wrong(FIELD), waiting, hint])


def _remove(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome | None:
    sheet = find_sheet(context.store, key)
    photographs.remove_label(context.store, sheet.id, now=context.clock())
    return None


ACTS = {REMOVE: _remove}
