"""A garage whose table of fields has one row more, and where that is met.

`python -m tests.support.one_more_field FOLDER` adds the row before anything else is loaded, takes a
step through commands and pages, and prints what each of them said as JSON.
"""

from __future__ import annotations

import io
import json
import os
import sys
from contextlib import redirect_stdout
from dataclasses import replace
from pathlib import Path

from curewatch.events import fields

SHADE = fields.Field(
    "shade", "shade", fields.LINE, "Its shade, like 'pearl grey'.", "Shade of it",
    searchable=True, gap="shade",
)  # fmt: skip
GAP_UM = replace(
    SHADE, name="gap_um", words="gap filled", kind=fields.FILM, option="gap", searchable=False
)


def add() -> None:
    """Put the rows at the end of the table."""
    fields.FIELDS = (*fields.FIELDS, SHADE, GAP_UM)
    fields.RECORD = (*fields.RECORD, SHADE, GAP_UM)
    fields.BY_NAME |= {SHADE.name: SHADE, GAP_UM.name: GAP_UM}


def typed(data: Path, *words: str) -> str:
    """What a command prints for this data folder."""
    from curewatch.commands import main

    os.environ["CUREWATCH_DATA"], sys.argv = str(data), ["curewatch", *words]
    with redirect_stdout(io.StringIO()) as buffer:
        code = main.main()
    assert code == 0, (words, buffer.getvalue())
    return buffer.getvalue()


def by_commands(folder: Path) -> dict[str, str]:
    """What the commands say of a step that was given the fields."""
    here, there = folder / "here", folder / "there"
    words = ("--job", "corner", "--shade", "pearl grey", "--gap", "2 mm")
    typed(here, "mix", "epoxy-panel-adhesive", "--why", "a trial piece only")
    texts = {"help": typed(here, "step", "edit", "--help"), "schema": typed(here, "data", "schema")}
    typed(here, "step", "edit", "1", *words)
    typed(here, "step", "edit", "1", "--shade", "pearl white")
    texts["log"] = typed(here, "log", "--json")
    (folder / "log.json").write_text(texts["log"], encoding="utf-8")
    typed(there, "data", "import", str(folder / "log.json"))
    texts["imported"] = typed(there, "log", "--find", "pearl", "--json")
    texts["nothing"] = typed(there, "log", "--find", "shadowless")
    texts["csv"] = typed(here, "log", "--format", "csv")
    texts["history"] = typed(here, "step", "show", "1", "--history")
    typed(here, "report", "corner", "--html", str(folder / "sheet.html"))
    texts["sheet"] = (folder / "sheet.html").read_text(encoding="utf-8")
    return texts


def by_pages(folder: Path) -> dict[str, str]:
    """What the step's page says before and after its form is sent with the fields."""
    from tests.support.dash_pages import sent
    from tests.support.pages import open_garage

    garage = open_garage(folder)
    number = garage.mix("epoxy-panel-adhesive", 5.0)
    browser = garage.app.test_client()
    form = browser.get(f"/step/{number}").get_data(as_text=True)
    for name, text in (("shade", "pearl grey"), ("gap_um", "2000")):
        sent(browser, "step field", {"value": text}, key=f"{number}/{name}")
    filled = browser.get(f"/step/{number}").get_data(as_text=True)
    recorded = json.dumps(dict(garage.bench.step(number).recorded))
    garage.store.close()
    return {"form": form, "filled": filled, "recorded": recorded}


if __name__ == "__main__":
    add()
    top = Path(sys.argv[1])
    (top / "page").mkdir()
    print(json.dumps(by_commands(top) | by_pages(top / "page")))
