"""Single-value changes of a rich log's JSON taken in, and every page and command asked after each.

The changes come in random order, as many as fit in some minutes. Prints how many were taken in,
how many were refused with a sentence, and for how many of those taken in a page answers 5xx or a
command ends with a traceback.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
from collections import Counter
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from time import monotonic

from curewatch.commands import main as cli
from tests.support import crafted_exports

COUNTED = ("changes", "refused", "crashed", "accepted", "broken")


def _commands(folder: Path) -> dict[str, str]:
    """The commands that end with anything but an answer or a sentence."""
    os.environ["CUREWATCH_DATA"] = str(folder)
    wrong = {}
    for words in crafted_exports.COMMANDS:
        sys.argv = ["curewatch", *words.split()]
        out = StringIO()
        with redirect_stdout(out), redirect_stderr(out):
            try:
                cli.main()
            except BaseException as error:
                wrong[words] = repr(error)
    return wrong


def _case(
    folder: Path, data: dict[str, object], path: tuple[str | int, ...], name: str
) -> Counter[str]:
    where = "/".join(map(str, path))
    try:
        bench = crafted_exports.accepted(
            folder, crafted_exports.changed(data, path, crafted_exports.VALUES[name])
        )
    except Exception as error:
        print(f"{where} = {name}: the import itself fails, {error!r:.100}", flush=True)
        return Counter(changes=1, crashed=1)
    if bench is None:
        return Counter(changes=1, refused=1)
    wrong = crafted_exports.failing(bench)
    bench.store.close()
    wrong |= _commands(folder)
    if wrong:
        print(f"{where} = {name}: {len(wrong)} fail, first {next(iter(wrong.items()))}", flush=True)
    return Counter(changes=1, accepted=1, broken=bool(wrong))


def main() -> None:
    """Try changes until the minutes are over, or all."""
    argument_parser = argparse.ArgumentParser(description=__doc__)
    argument_parser.add_argument(
        "minutes", nargs="?", type=float, default=15.0, help="end after so many"
    )
    argument_parser.add_argument(
        "--seed", type=int, default=1, help="of the order in which they are tried"
    )
    arguments = argument_parser.parse_args()
    until = monotonic() + 60 * arguments.minutes
    with tempfile.TemporaryDirectory() as top:
        bench = crafted_exports.rich(Path(top) / "rich")
        data = crafted_exports.exported(bench)
        bench.store.close()
        cases = [
            (path, name) for path in crafted_exports.paths(data) for name in crafted_exports.VALUES
        ]
        random.Random(arguments.seed).shuffle(cases)
        found: Counter[str] = Counter()
        for path, name in cases:
            if monotonic() > until:
                break
            with tempfile.TemporaryDirectory() as folder:
                found += _case(Path(folder), data, path, name)
    print(", ".join(f"{found[text]} {text}" for text in COUNTED))


if __name__ == "__main__":
    main()
