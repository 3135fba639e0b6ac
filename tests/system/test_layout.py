"""The project keeps its own rules: imports, clocks, docstrings, words and its map."""

from __future__ import annotations

import ast
import functools
import re
import statistics
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from curewatch.bench.bench import Bench
from curewatch.climate.reading import TYPED, make_reading
from curewatch.commands.tree import SECTIONS, TREE, loaded
from curewatch.quality.intake import Intake
from curewatch.store.store import Store

TOP = Path(__file__).resolve().parents[2]
PACKAGES = ("curewatch", "sensors", "dashboard", "demo")
MODULES = sorted(file for package in PACKAGES for file in (TOP / package).rglob("*.py"))
LEVELS = {
    "curewatch": 0,
    "curewatch.climate": 1,
    "curewatch.products": 1,
    "curewatch.files": 1,
    "curewatch.guide": 1,
    "curewatch.cure": 2,
    "curewatch.events": 2,
    "curewatch.starts": 3,
    "curewatch.settings": 2,
    "curewatch.store": 3,
    "curewatch.quality": 4,
    "curewatch.garage": 5,
    "curewatch.bench": 6,
    "curewatch.protection": 7,
    "curewatch.logbook": 8,
    "curewatch.gate": 8,
    "curewatch.plan": 9,
    "curewatch.warmth": 9,
    "curewatch.handover": 9,
    "curewatch.exchange": 9,
    "curewatch.ways": 10,
    "curewatch.week": 11,
    "curewatch.order": 4,
    "curewatch.wording": 10,
    "sensors.payloads": 10,
    "sensors.packets": 10,
    "sensors.manual": 11,
    "sensors.mqtt": 11,
    "sensors.broker": 11,
    "sensors.proxy": 12,
    "dashboard.access": 13,
    "dashboard.figures": 13,
    "dashboard.figures.ribbons": 14,
    "dashboard.request": 14,
    "dashboard.context": 15,
    "dashboard.endpoints": 16,
    "dashboard.pages": 17,
    "dashboard.pages.air": 18,
    "dashboard.pages.bench": 18,
    "dashboard.pages.garage": 18,
    "dashboard.pages.log": 18,
    "dashboard.pages.plan": 18,
    "dashboard.pages.sensors": 18,
    "dashboard.pages.shelf": 18,
    "dashboard.pages.mix": 19,
    "dashboard.pages.step": 19,
    "dashboard": 20,
    "curewatch.commands": 21,
    "curewatch.commands.before": 22,
    "curewatch.commands.setup": 22,
    "curewatch.commands.curing": 23,
    "demo": 24,
    "tests": 25,
}
PURE_PACKAGES = (
    "curewatch.climate",
    "curewatch.products",
    "curewatch.cure",
    "curewatch.starts",
    "curewatch.order",
)
PURE_MODULES = (
    "curewatch/gate/check.py",
    "curewatch/plan/night.py",
    "curewatch/protection/ventilation.py",
    "curewatch/quality/salt_check.py",
    "curewatch/quality/single_sensor.py",
)
WIRED = (
    "curewatch.store",
    "curewatch.settings",
    "curewatch.files",
    "curewatch.bench",
    "sensors",
    "dashboard",
)
SQL = re.compile(
    r"\b(SELECT .* FROM|INSERT INTO|DELETE FROM|CREATE (TABLE|INDEX)|UPDATE \w+ SET)\b"
)
SQL_TOO = ("curewatch.files",)
OUTER_WORLD = {"os", "socket", "sqlite3", "subprocess", "threading", "time", "urllib", "paho"}
ENTRIES = {"curewatch/commands/context.py", "curewatch/commands/setup/serve.py", "demo/garage.py"}
SAID = re.compile(r"\b(un)?safe(r|ly|st)?\b", re.IGNORECASE)


def name(file: Path) -> str:
    """A file's path from the top, for messages."""
    return file.relative_to(TOP).as_posix()


@functools.cache
def tree(file: Path) -> ast.Module:
    """A file's syntax."""
    return ast.parse(file.read_text(encoding="utf-8"))


def imports(node: ast.AST) -> Iterator[str]:
    """The full names of the modules imported anywhere under a node."""
    for each in ast.walk(node):
        if isinstance(each, ast.Import):
            yield from (alias.name for alias in each.names)
        elif isinstance(each, ast.ImportFrom) and each.module:
            yield each.module
            yield from (f"{each.module}.{alias.name}" for alias in each.names)


def roots(names: set[str]) -> set[str]:
    """The first part of each dotted name."""
    return {name.split(".")[0] for name in names}


def functions(file: Path) -> list[ast.FunctionDef | ast.AsyncFunctionDef]:
    """Every function and method of a file."""
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    return [node for node in ast.walk(tree(file)) if isinstance(node, kinds)]


def package(module: str) -> str:
    """The package of the table that a module or one of its names belongs to, '' for none."""
    parts = module.split(".")
    outer = (".".join(parts[:size]) for size in range(len(parts), 0, -1))
    return next((package_name for package_name in outer if package_name in LEVELS), "")


def dotted(file: Path) -> str:
    """A module's name, as it is imported."""
    return ".".join(file.relative_to(TOP).with_suffix("").parts)


def faults(rule: Callable[[Path], object], files: Iterable[Path] = MODULES) -> dict[str, object]:
    """What a rule finds wrong, file by file; nothing for a file that keeps it."""
    return {name(file): found for file in files if (found := rule(file))}


PURE = sorted(
    [file for file in MODULES if package(dotted(file)) in PURE_PACKAGES]
    + [TOP / module for module in PURE_MODULES]
)


def upward(file: Path) -> object:
    """The packages that a module imports though they lie no lower than its own."""
    own = "curewatch.commands" if file.stem == "__main__" else package(dotted(file))
    others = {
        home for imported in imports(tree(file)) if (home := package(imported)) not in ("", own)
    }
    if file.stem == "__init__":
        return others
    if not own:
        return "lies in no package of the table"
    return [other for other in others if LEVELS[other] >= LEVELS[own]]


def test_imports_point_one_way() -> None:
    assert faults(upward) == {}


def test_packages_have_a_size_that_can_be_taken_in() -> None:
    homes = [name(file.parent) for file in MODULES if file.stem != "__init__"]
    sizes = {home: homes.count(home) for home in homes}
    assert not {home: count for home, count in sizes.items() if not 4 <= count <= 14}


def sql(file: Path) -> object:
    """The texts of a module that are SQL."""
    texts = [node.value for node in ast.walk(tree(file)) if isinstance(node, ast.Constant)]
    return [text for text in texts if isinstance(text, str) and SQL.search(text)]


def test_only_the_store_holds_sql() -> None:
    held = ("curewatch.store", *SQL_TOO)
    assert faults(sql, [file for file in MODULES if package(dotted(file)) not in held]) == {}


def test_the_command_loads_page_and_broker_only_when_they_are_asked_for() -> None:
    heavy = ("flask", "waitress", "paho", "iotcore")
    script = (
        "import sys, curewatch.commands.main, curewatch.commands.tree\n"
        "for each in curewatch.commands.tree.TREE.values():\n"
        "    each.target and curewatch.commands.tree.loaded(each)\n"
        f"print([each for each in {heavy} if each in sys.modules])"
    )
    completed = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=TOP
    )
    assert completed.stdout.strip() == "[]", completed.stderr
    users = {
        name(file)
        for file in MODULES
        if "curewatch.commands.setup.serve" in set(imports(tree(file)))
    }
    assert users <= {"curewatch/commands/setup/up.py"}


MODEL = ("numpy", "PIL", "paho", "flask", "curewatch.cure.forecast")
SELDOM = ("asyncio", "email", "http", "socket", "statistics", "ctypes", "sqlite_utils", "tomlkit")
LIGHT = (*SELDOM, *MODEL)
NO_DATA = ("sqlite3", "zoneinfo", "tomllib", *LIGHT)
SHOWS_NO_TIME = {
    "--help": (75, ("difflib", *NO_DATA)),
    "--version": (70, ("difflib", *NO_DATA)),
    "step --help": (75, NO_DATA),
    "nonsense": (75, NO_DATA),
    "mix --help": (80, LIGHT),
    "check --help": (90, LIGHT),
    "can add --help": (115, LIGHT),
    "part list --help": (95, LIGHT),
    "log --help": (120, LIGHT),
    "guide labels": (95, NO_DATA),
    "reading add --air 14.5C": (180, LIGHT),
    "reading list": (175, LIGHT),
    "step note 1 sanded": (150, LIGHT),
    "step emptied 1": (150, LIGHT),
    "undo": (175, LIGHT),
    "product list": (170, LIGHT),
    "data path": (100, LIGHT),
}


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with one step and a typed reading in it."""
    folder = tmp_path_factory.mktemp("garage")
    with closing(Store(folder / "curewatch.sqlite")) as store:
        now = datetime.now(UTC)
        Bench(store).start("epoxy-panel-adhesive", now=now)
        typed = make_reading("panel", "air_temperature", 14.0, now, TYPED)
        Intake(store).take([typed])
    return folder


@pytest.mark.parametrize("words", SHOWS_NO_TIME)
def test_what_shows_no_time_of_a_product_loads_no_numpy(words: str, garage: Path) -> None:
    most, kept_out = SHOWS_NO_TIME[words]
    script = (
        "import sys; bare = len(sys.modules); from curewatch.commands.main import main\n"
        f"sys.argv = ['curewatch', '--data', {str(garage)!r}, *{words.split()}]; main()\n"
        f"found = [each for each in {kept_out} if each in sys.modules]\n"
        "print(len(sys.modules) - bare, *found)"
    )
    completed = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=TOP
    )
    count, *loaded = completed.stdout.splitlines()[-1].split()
    assert not loaded, completed.stderr
    assert int(count) <= most


def test_a_sheet_is_read_as_a_file_without_what_reads_packages() -> None:
    script = (
        "import sys; from curewatch.products.sheet import generic_sheets\n"
        "print(len(generic_sheets()) > 9, 'importlib.resources' in sys.modules)"
    )
    completed = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=TOP
    )
    assert completed.stdout.split() == ["True", "False"], completed.stderr


NOT_OF_THE_BENCH = (
    "numpy.ma",
    "logging",
    "difflib",
    "csv",
    "curewatch.gate",
    "curewatch.starts",
    "curewatch.ways",
    "curewatch.handover",
    "curewatch.exchange",
    "curewatch.week.taken",
    "curewatch.plan.morning",
    "curewatch.plan.next_action",
    "curewatch.protection.airing",
    "curewatch.quality.typed",
    "curewatch.cure.estimate",
)


def test_the_bench_loads_neither_planner_nor_gate_nor_masked_arrays_of_numpy(garage: Path) -> None:
    script = (
        "import sys; from curewatch.commands.main import main\n"
        f"sys.argv = ['curewatch', '--data', {str(garage)!r}, 'bench']; main()\n"
        f"print('numpy' in sys.modules, *({set(NOT_OF_THE_BENCH)} & sys.modules.keys()))"
    )
    bench = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=TOP)
    assert bench.stdout.splitlines()[-1] == "True", bench.stdout + bench.stderr


def test_what_curewatch_loads_is_made_quickly() -> None:
    # a class made by dataclass(frozen=True) takes four times as long as one of ours
    slow = "@dataclass(frozen=True)\n"
    loaded = ("curewatch/", "sensors/", "dashboard/")
    ours = [file for file in MODULES if name(file).startswith(loaded)]
    assert any(name(file).startswith("dashboard/") for file in ours)
    assert faults(lambda file: slow in file.read_text("utf-8"), ours) == {}


def imported_at_once(file: Path) -> set[str]:
    """What a file imports when it is loaded: neither what it needs for types only, nor inside
    functions."""
    loads = (ast.Import, ast.ImportFrom)
    return {name for node in tree(file).body if isinstance(node, loads) for name in imports(node)}


def test_what_only_few_tests_compare_with_is_loaded_by_them_alone() -> None:
    # each process of the run collects all tests: CoolProp alone takes it four seconds
    heavy = {"CoolProp", "ht", "matplotlib", "scipy"}
    early = [
        f"{file.relative_to(TOP)} loads {name}"
        for file in sorted((TOP / "tests").rglob("test_*.py"))
        for node in ast.parse(file.read_text(encoding="utf-8")).body
        for name in _imported(node) & heavy
    ]
    assert early == []


def _imported(node: ast.stmt) -> set[str]:
    """The packages outside that a statement imports."""
    if isinstance(node, ast.Import):
        return {name.name.partition(".")[0] for name in node.names}
    return {(node.module or "").partition(".")[0]} if isinstance(node, ast.ImportFrom) else set()


def test_the_longest_chain_of_imports_has_at_most_24_modules() -> None:
    files = {dotted(file): file for file in MODULES if file.stem != "__init__"}
    below = {module: imported_at_once(file) & files.keys() for module, file in files.items()}

    @functools.cache
    def floors(module: str) -> tuple[str, ...]:
        return (module, *max((floors(other) for other in below[module]), key=len, default=()))

    longest = max(map(floors, files), key=len)
    assert len(longest) <= 24, " -> ".join(longest)


def outward(file: Path) -> object:
    """What a module imports of the system and of the packages that know it."""
    modules = set(imports(tree(file)))
    return roots(modules) & OUTER_WORLD | {module for module in modules if module.startswith(WIRED)}


def test_the_model_touches_nothing_of_the_outer_world() -> None:
    assert faults(outward, PURE) == {}


def clocks(file: Path) -> object:
    """The calls of a module that ask what time it is."""
    calls = [node for node in ast.walk(tree(file)) if isinstance(node, ast.Call)]
    called = {ast.unparse(node.func) for node in calls}
    return called & {"datetime.now", "datetime.utcnow", "time.time", "date.today"}


def test_only_entry_points_name_a_clock() -> None:
    assert faults(clocks, [file for file in MODULES if name(file) not in ENTRIES]) == {}


def undocumented(file: Path) -> object:
    """What of a module has no docstring: itself, its public classes and functions."""
    module = tree(file)
    kinds = (ast.FunctionDef, ast.ClassDef)
    public = [
        node for node in module.body if isinstance(node, kinds) and not node.name.startswith("_")
    ]
    silent = [node.name for node in public if not ast.get_docstring(node)]
    return silent if ast.get_docstring(module) else ["the module", *silent]


def test_every_module_and_public_thing_says_what_it_is_for() -> None:
    assert faults(undocumented) == {}


def numbers(node: ast.FunctionDef | ast.AsyncFunctionDef) -> list[str]:
    """The parameters that are bare numbers, and `return` where the result is one."""
    bare = re.compile(r"\b(float|FloatArray|Number)\b")
    taken = [*node.args.args, *node.args.kwonlyargs]
    missing = [
        arg.arg for arg in taken if arg.annotation and bare.search(ast.unparse(arg.annotation))
    ]
    if node.returns is not None and bare.match(ast.unparse(node.returns)):
        missing.append("return")
    return missing


def without_unit(file: Path) -> object:
    """The public functions of a module that take or give bare numbers and name no unit."""
    return [
        node.name
        for node in tree(file).body
        if isinstance(node, ast.FunctionDef)
        and not node.name.startswith("_")
        and numbers(node)
        and not re.search(r"\[[^\]]+\]|dimensionless", ast.get_docstring(node) or "")
    ]


def test_public_numbers_have_their_units_in_brackets() -> None:
    assert faults(without_unit, [*PURE, TOP / "curewatch/units.py"]) == {}


def without_sections(file: Path) -> object:
    """The public functions of a module whose docstrings lack a parameter or the result."""
    lacking = []
    for node in tree(file).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            text = ast.get_docstring(node) or ""
            taken = [*node.args.args, *node.args.kwonlyargs]
            described = all(re.search(rf"^{part.arg} : .+\n    \S", text, re.M) for part in taken)
            if not described or not re.search(r"^Returns\n-------\n.+\n    \S", text, re.M):
                lacking.append(node.name)
    return lacking


def test_the_model_describes_every_parameter_and_result() -> None:
    model = [file for file in MODULES if package(dotted(file)) == "curewatch.cure"]
    assert len(model) > 10
    assert faults(without_sections, model) == {}


def body_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """How many lines of code a function has under its docstring."""
    first = node.body[1:] if ast.get_docstring(node) else node.body
    return (node.end_lineno or 0) - first[0].lineno + 1 if first else 0


def test_functions_stay_small() -> None:
    lengths = {
        f"{name(file)}:{node.name}": body_lines(node)
        for file in MODULES
        for node in functions(file)
    }
    assert statistics.median(lengths.values()) <= 8
    assert not {function: lines for function, lines in lengths.items() if lines > 60}


def code_lines(file: Path) -> int:
    """How many lines a module has beyond the first of each docstring of its functions."""
    docstrings = [node.body[0] for node in functions(file) if ast.get_docstring(node)]
    further = sum((text.end_lineno or text.lineno) - text.lineno for text in docstrings)
    return len(file.read_text(encoding="utf-8").splitlines()) - further


def test_modules_can_be_read_in_one_sitting() -> None:
    lines = {name(file): code_lines(file) for file in MODULES}
    assert {module for module, count in lines.items() if count > 300} == set()


def texts() -> list[Path]:
    """Every file of ours that holds words."""
    kinds = ("py", "toml", "html", "js", "css", "md", "sh")
    inside = [
        file for name in PACKAGES for kind in kinds for file in (TOP / name).rglob(f"*.{kind}")
    ]
    kept = [file for file in inside if ".data" not in file.parts]
    return sorted([*kept, *TOP.glob("*.md"), TOP / "pyproject.toml", TOP / "demo/run"])


def called_safe(file: Path) -> object:
    """The lines of a file that call something safe."""
    text = re.sub(r"safe-area-inset|\|\s*safe\b|[\"'`]safe[\"'`]", "", file.read_text("utf-8"))
    return [line for line in text.splitlines() if SAID.search(line)]


def test_nothing_is_called_safe() -> None:
    assert faults(called_safe, texts()) == {}


def test_the_packages_are_named_one_by_one() -> None:
    setup = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]
    whole = [each for each in setup["packages"] if "." not in each]
    assert sorted(whole) == ["curewatch", "dashboard", "sensors"]
    for package in whole:
        assert (TOP / package / "py.typed").exists()
        folders = {file.parent.relative_to(TOP) for file in (TOP / package).rglob("*.*")}
        packages = {
            ".".join(folder.parts) for folder in folders if "__pycache__" not in folder.parts
        }
        assert packages <= set(setup["packages"])


def test_the_map_for_contributors_names_every_module() -> None:
    rows = (TOP / "DEVELOPERS.md").read_text("utf-8").splitlines()

    def unnamed(file: Path) -> object:
        folder = file.parent.relative_to(TOP).as_posix()
        ours = [row for row in rows if row.startswith(f"| `{folder}/")]
        return not any(f"/{file.name}`" in row or f"`{file.name}`" in row for row in ours)

    assert faults(unnamed, [module for module in MODULES if module.stem != "__init__"]) == {}


def test_the_tree_holds_each_command_in_one_place_of_the_help() -> None:
    shown = [name for names in SECTIONS.values() for name in names]
    assert sorted(shown) == sorted(path for path in TREE if " " not in path)
    assert len(shown) <= 29


@pytest.mark.parametrize("path", TREE)
def test_a_command_s_line_of_help_fits_and_is_what_its_own_help_begins_with(path: str) -> None:
    entry = TREE[path]
    assert len(entry.summary) + max(map(len, path.split())) + 4 <= 80
    if entry.target:
        assert (loaded(entry).help or "").splitlines()[0] == entry.summary
        assert loaded(entry).name == path.split()[-1]


def documents() -> list[Path]:
    """Every Markdown file of ours."""
    inside = [file for folder in (*PACKAGES, "tests") for file in (TOP / folder).rglob("*.md")]
    return sorted([*TOP.glob("*.md"), *(file for file in inside if ".data" not in file.parts)])


def broken_links(file: Path) -> object:
    """The files that a document points to and that are not there."""
    links = re.findall(r"\]\(([^)#:]+)\)", file.read_text("utf-8"))
    return [link for link in links if not (file.parent / link).exists()]


def test_the_files_the_readme_and_other_documents_point_to_exist() -> None:
    assert faults(broken_links, documents()) == {}


@pytest.mark.parametrize("script", ["demo/run", "tests/run", "tests/bench/run", ".ci/run"])
def test_the_scripts_of_the_readme_can_be_started(script: str) -> None:
    assert (TOP / script).stat().st_mode & 0o111


@pytest.mark.parametrize("extra", ["demo", "tests"])
def test_every_package_that_is_needed_is_pinned_by_its_hash(extra: str) -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["project"]
    needed = [*project["dependencies"], "setuptools>=75"]
    needed += project["optional-dependencies"].get(extra, [])
    text = (TOP / extra / "packages.lock").read_text("utf-8")
    pinned: dict[str, list[str]] = {}
    for block in re.split(r"\n(?=[a-z])", text):
        if match := re.match(r"([a-z0-9._-]+)==(\S+)", block):
            assert block.count("--hash=sha256:") > 0, match[1]
            pinned.setdefault(match[1], []).append(match[2])
    for requirement in map(Requirement, needed):
        name = requirement.name.lower().replace("_", "-")
        assert pinned.get(name), f"{name} is not in {extra}/packages.lock"
        assert all(requirement.specifier.contains(version) for version in pinned[name]), name


def test_the_map_for_contributors_can_be_read_in_one_sitting() -> None:
    assert len((TOP / "DEVELOPERS.md").read_text("utf-8").splitlines()) <= 350
