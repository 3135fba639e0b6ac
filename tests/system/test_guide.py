"""README and guide can be followed: every command runs as shown, and shows what is shown."""

from __future__ import annotations

import configparser
import re
import shlex
import shutil
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from freezegun import freeze_time

from curewatch.commands.main import cli
from curewatch.commands.setup.guide import command_topics
from curewatch.commands.tree import TREE, loaded
from curewatch.products.sheet import parse_sheet
from curewatch.settings.settings import parse_settings
from curewatch.wording.guide import TOPICS, as_text, written_topics

TOP = Path(__file__).resolve().parents[2]
README = (TOP / "README.md").read_text("utf-8")
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.DOTALL | re.MULTILINE)
OUTSIDE = ("sudo apt ", "pipx ", "mosquitto_pub ", "curewatch up")
EVENING = datetime(2026, 10, 14, 17, 42, tzinfo=UTC)
GO_CAUTION = (0, 10)


def blocks(text: str, kind: str) -> list[str]:
    """The fenced blocks of that kind."""
    return [body for found, body in BLOCK.findall(text) if found == kind]


def command_lines(block: str) -> list[str]:
    """The lines of a block of commands, continued ones joined, comments behind them left out."""
    return [re.sub(r"\s+#.*", "", line) for line in block.replace("\\\n", " ").splitlines()]


def guide_commands() -> list[str]:
    """Every `curewatch` command that README and guide show in a block."""
    shown = [README, *(topic.text for topic in written_topics())]
    texts = [block for text in shown for block in blocks(text, "sh")]
    lines = [line for block in texts for line in command_lines(block)]
    return list(dict.fromkeys(line for line in lines if re.match(r"curewatch\b", line)))


def follows(shown: str, text: str) -> bool:
    """Whether an output is as shown, `...` standing for any lines."""
    parts = [re.escape(part.strip("\n")) for part in re.split(r"^\.\.\.$", shown, flags=re.M)]
    return re.search(r"^" + r"\n(?:.*\n)*?".join(parts), text, re.M) is not None


class Reader:
    """Someone who does what README says, from the top, in one data folder."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.now = folder, EVENING
        (folder / "curewatch.toml").write_text('zone = "Europe/Berlin"\n')

    def enter(self, line: str) -> str:
        """Run one line of a block; what it printed."""
        if later := re.fullmatch(r"# (\d+) min later", line):
            self.now += timedelta(minutes=int(later[1]))
            return ""
        if line.startswith("./"):
            assert (TOP / line).stat().st_mode & 0o111, f"{line} cannot be started"
            return ""
        return "" if line.startswith(OUTSIDE) else self.run(shlex.split(line)[1:])

    def run(self, words: list[str]) -> str:
        """Run one command at the reader's time. Fails where it does not succeed."""
        with freeze_time(self.now):
            result = CliRunner(env={"CUREWATCH_DATA": str(self.folder)}).invoke(cli, words)
        assert result.exit_code in GO_CAUTION, (words, result.output, result.exception)
        return result.output

    def read(self, kind: str, body: str, text: str) -> str:
        """Take in one block; what its commands printed, for the block of output behind it."""
        if kind == "toml":
            (self.folder / "my-filler.toml").write_text(body)
        if kind == "text":
            assert follows(body, text), text
        return "".join(map(self.enter, command_lines(body))) if kind == "sh" else ""


def test_the_readme_can_be_followed_from_top_to_bottom_and_shows_what_is_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    reader, text = Reader(tmp_path), ""
    for kind, body in BLOCK.findall(README):
        text = reader.read(kind, body, text)
    assert (tmp_path / "rear-corner.html").exists()


def test_an_output_that_differs_from_the_one_shown_is_found() -> None:
    assert follows("a\n...\nd\n", "a\nb\nc\nd\n")
    assert not follows("a\n...\nd\n", "a\nb\nc\n")
    assert not follows("a\nc\n", "a\nb\nc\n")


def test_the_readme_can_be_read_in_one_sitting() -> None:
    assert len(README.splitlines()) <= 200


def test_the_guide_lists_every_file_of_its_own() -> None:
    files = {file.stem for file in (TOP / "curewatch/guide").glob("*.md")}
    assert files == set(TOPICS)
    assert not files & {topic.name for topic in command_topics()}


def test_the_guide_shows_every_command_once_in_an_example() -> None:
    shown = [tuple(shlex.split(line)[1:]) for line in guide_commands()]
    paths = [tuple(path.split()) for path, entry in TREE.items() if entry.target]
    missing = [path for path in paths if not any(line[: len(path)] == path for line in shown)]
    assert missing == []


@pytest.mark.parametrize("line", guide_commands())
def test_a_command_that_is_shown_is_one_that_curewatch_takes(line: str) -> None:
    words: list[str] = shlex.split(line)[1:]
    command: click.Command = cli
    context: click.Context | None = None
    while isinstance(command, click.Group) and words:
        context = click.Context(command, parent=context)
        _, found, words = command.resolve_command(context, words)
        assert found is not None
        command = found
    command.make_context("curewatch", list(words), parent=context)


def test_an_example_of_the_guide_prints_what_it_shows(tmp_path: Path) -> None:
    pair = re.compile(r"```sh\ncurewatch ([^\n]+)\n```\n+```text\n(.*?)```", re.DOTALL)
    found = [match for topic in written_topics() for match in pair.findall(topic.text)]
    assert found
    for words, shown in found:
        result = CliRunner(env={"CUREWATCH_DATA": str(tmp_path)}).invoke(cli, shlex.split(words))
        assert result.output.strip() == shown.strip()


def test_products_and_settings_of_the_guide_can_be_used_as_they_stand(tmp_path: Path) -> None:
    for file in ("page.pem", "page-key.pem", "broker-ca.pem"):
        (tmp_path / file).touch()
    texts = [block for topic in written_topics() for block in blocks(topic.text, "toml")]
    labels = [text for text in texts if "[[times]]" in text]
    assert labels
    assert all(parse_sheet(label, "my-sheet").source_note for label in labels)
    settings = [parse_settings(text, tmp_path) for text in texts if text not in labels]
    assert any(setting.mappings for setting in settings)
    assert any(setting.buttons for setting in settings)


def test_a_command_s_page_in_the_guide_holds_all_that_its_help_says() -> None:
    pages = {topic.name: " ".join(topic.text.split()) for topic in command_topics()}
    for path, entry in TREE.items():
        command = loaded(entry) if entry.target else None
        for param in command.params if command else ():
            record = param.get_help_record(click.Context(command)) if command else None
            assert record is None or " ".join(record[1].split()) in pages[path.split()[0]]
        assert entry.summary in pages[path.split()[0]]


def test_the_guide_in_a_terminal_lists_and_shows_its_topics(tmp_path: Path) -> None:
    runner = CliRunner(env={"CUREWATCH_DATA": str(tmp_path)})
    listed = runner.invoke(cli, ["guide"]).output
    assert all(f"  {topic.name} " in listed for topic in (*written_topics(), *command_topics()))
    assert "\n    [[times]]" in runner.invoke(cli, ["guide", "labels"]).output
    assert "curewatch can add" in runner.invoke(cli, ["guide", "can"]).output
    wrong = runner.invoke(cli, ["guide", "lables"])
    assert "did you mean labels?" in str(wrong.exception)
    assert list(tmp_path.iterdir()) == []


def test_code_is_indented_in_a_terminal_and_its_fences_left_out() -> None:
    assert as_text("a\n\n```sh\nb\n\nc\n```\nd") == "a\n\n    b\n\n    c\nd"


def unit() -> str:
    """The systemd unit that the guide shows."""
    text = next(topic.text for topic in written_topics() if topic.name == "install")
    return blocks(text, "ini")[0]


def test_the_unit_that_starts_curewatch_at_boot_starts_the_command_where_it_is_installed() -> None:
    read = configparser.ConfigParser(interpolation=None)
    read.read_string(unit())
    assert read["Service"]["ExecStart"] == "%h/.local/bin/curewatch up"
    loaded(TREE["up"]).make_context("up", [])


def test_systemd_takes_the_unit(tmp_path: Path) -> None:
    analyze = shutil.which("systemd-analyze")
    if analyze is None:
        return
    file = tmp_path / "curewatch.service"
    file.write_text(unit().replace("%h/.local/bin/curewatch", "/bin/true"))
    completed = subprocess.run(
        [analyze, "--user", "verify", file],
        env={"XDG_RUNTIME_DIR": str(tmp_path)},
        capture_output=True,
        text=True,
    )
    assert "curewatch.service" not in completed.stderr, completed.stderr
