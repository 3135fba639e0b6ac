"""How long commands take to start, beside `python -c pass` in the same rounds.

Processor time, bytecode compiled, on a small logbook; the least of the rounds, since another
program can only lengthen one. At most 0.15 s for help, completion, a typed reading and a note,
0.3 s for the bench, are meant for a machine where `python -c pass` takes 0.03 s.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

ROUNDS = 7
MIX = ("mix", "epoxy-panel-adhesive", "--acknowledge")
READING = ("reading", "add", "--surface", "14 C", "--yes", "--also")
COMMANDS: Mapping[str, Sequence[str]] = {
    "--help": ("--help",),
    "--version": ("--version",),
    "reading add": READING,
    "step note": ("step", "note", "1", "thin"),
    "bench": ("bench",),
    "check": ("check", "epoxy-primer"),
}
COMPLETED = {"complete a command": "ste", "complete a product": "mix epoxy-pa"}


def _spent_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def timed_s(words: Sequence[str], env: Mapping[str, str]) -> float:
    """The processor time of one process. [s]"""
    before = _spent_s()
    subprocess.run([sys.executable, *words], env=env, capture_output=True)
    return _spent_s() - before


def _runs(env: dict[str, str]) -> dict[str, tuple[Sequence[str], dict[str, str]]]:
    main = ("-m", "curewatch")
    runs: dict[str, tuple[Sequence[str], dict[str, str]]] = {"python -c pass": (("-c", ""), env)}
    runs |= {name: ((*main, *words), env) for name, words in COMMANDS.items()}
    call = "import sys; sys.argv = ['curewatch']; from curewatch.commands.main import main; main()"
    for name, typed in COMPLETED.items():
        words = f"curewatch {typed}"
        shell = {"_CUREWATCH_COMPLETE": "bash_complete", "COMP_WORDS": words}
        runs[name] = ("-c", call), env | shell | {"COMP_CWORD": str(len(words.split()) - 1)}
    return runs


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        env = {**os.environ, "CUREWATCH_DATA": folder, "PYTHONPYCACHEPREFIX": f"{folder}/code"}
        env.pop("PYTHONDONTWRITEBYTECODE", None)
        for words in (READING, MIX):
            timed_s(("-m", "curewatch", *words), env)
        assert (Path(folder) / "curewatch.sqlite").exists()
        runs = _runs(env)
        rounds = [{name: timed_s(*run) for name, run in runs.items()} for _ in range(ROUNDS + 1)]
    least = {name: min(values[name] for values in rounds[1:]) for name in runs}
    bare = least["python -c pass"]
    print(f"{'processor time':22}{'s':>8}{'x bare':>8}")
    for name, seconds in least.items():
        print(f"{name:22}{seconds:8.3f}{seconds / bare:8.1f}")


if __name__ == "__main__":
    main()
