"""What a person types at the command: texts of one line, the verdict's exit code, completion."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import click
import pytest

from curewatch.commands.tree import TREE, loaded
from curewatch.products.sheet import generic_sheets
from tests.conftest import Run

ADHESIVE = "epoxy-panel-adhesive"


@pytest.mark.parametrize("path", [path for path, entry in TREE.items() if entry.target])
def test_a_text_is_one_line_unless_its_type_says_otherwise(path: str) -> None:
    kinds = {param.name: param.type for param in loaded(TREE[path]).params}
    assert [name for name, kind in kinds.items() if kind is click.STRING] == []


@pytest.mark.parametrize(
    "words",
    [
        ("can", "add", ADHESIVE, "--batch"),
        ("can", "add", ADHESIVE, "--stored"),
        ("mask", "open"),
        ("check", ADHESIVE, "--part"),
        ("part", "bare", "rib", "--grit"),
        ("step", "note", "1", "thin", "--by"),
    ],
)
def test_what_is_no_single_line_is_refused(run: Run, words: tuple[str, ...]) -> None:
    code, out, err = run(*words, "left\nrib")
    assert (code, out) == (2, "")
    assert f"curewatch {words[0]}" in err


def test_a_product_s_name_is_one_line(run: Run, tmp_path: Path) -> None:
    text = generic_sheets()[ADHESIVE].text
    name = next(line for line in text.splitlines() if line.startswith("name"))
    (tmp_path / "mine.toml").write_text(text.replace(name, r'name = "Mine\u001b[2J"'))
    code, out, err = run("product", "add", str(tmp_path / "mine.toml"))
    assert (code, out) == (2, "")
    assert "name" in err


@pytest.mark.parametrize(
    ("surface", "verdict", "code"),
    [("21 C", "go", 0), ("11 C", "caution", 10), ("5 C", "stop", 20)],
)
def test_the_exit_code_is_the_verdict(run: Run, surface: str, verdict: str, code: int) -> None:
    run("reading", "add", "--surface", surface, "--air", surface, "--humidity", "45 %")
    ended, out, _ = run("check", ADHESIVE, "--json")
    assert (json.loads(out)["verdict"], ended) == (verdict, code)


def test_bash_completes_a_product_in_the_middle_of_a_line(tmp_path: Path) -> None:
    """With the line that the guide gives for ~/.bashrc, as bash itself calls it."""
    script = """
        eval "$(_CUREWATCH_COMPLETE=bash_source curewatch)"
        COMP_WORDS=(curewatch mix epoxy-pa) COMP_CWORD=2
        $(complete -p curewatch | sed 's/.*-F \\([^ ]*\\).*/\\1/') curewatch
        echo "${COMPREPLY[*]}"
    """
    path = f"{Path(sys.executable).parent}:{os.environ['PATH']}"
    env = {**os.environ, "PATH": path, "CUREWATCH_DATA": str(tmp_path)}
    done = subprocess.run(["bash", "-c", script], capture_output=True, text=True, env=env)
    assert (done.stdout.strip(), done.stderr) == (ADHESIVE, "")
