"""The map of the arrows, read from the imports: files -> book, offers and job -> problem -> program -> plan -> quote."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import sourcing
from sourcing import faults
from sourcing.faults import Fault

ROOT = Path(sourcing.__file__).resolve().parent
REPOSITORY = ROOT.parent
MODULES = {
    ".".join(path.relative_to(ROOT.parent).with_suffix("").parts).removesuffix(".__init__"): path
    for path in sorted(ROOT.rglob("*.py"))
}
# Which packages of the registry each folder may import, besides those that all may (pydantic, the standard library).
ONLY = {
    "pulp": ("sourcing.program",),
    "highspy": ("sourcing.program",),
    "numpy": ("sourcing.program",),
    "xlsxwriter": ("sourcing.quote",),
    "typer": ("sourcing.cli",),
    "rich": ("sourcing.cli",),
    "openpyxl": ("sourcing.prices", "sourcing.quote"),
    "python_calamine": ("sourcing.prices",),
    "psutil": ("sourcing.prices",),
    "platformdirs": ("sourcing.prices",),
    "pandas": ("sourcing.prices", "sourcing.pool"),
    "vininfo": ("sourcing.vin",),
    "filelock": ("sourcing.prices", "sourcing.quote", "sourcing.jobfile"),
    "http": ("sourcing.page",),
    "fastapi": ("sourcing.page",),
    "starlette": ("sourcing.page",),
    "jinja2": ("sourcing.page",),
    "markupsafe": ("sourcing.page",),
    "argon2": ("sourcing.page",),
    "uvicorn": ("sourcing.cli.serve",),
    "tomlkit": ("sourcing.jobtext", "sourcing.tablelist"),
}
# What a folder must not know of, directly.
BLIND = {
    "sourcing.book": (
        "prices",
        "problem",
        "plan",
        "program",
        "decision",
        "quote",
        "cli",
        "folder",
        "job",
        "shop",
        "terms",
    ),
    "sourcing.prices": ("problem", "plan", "program", "decision", "quote", "cli", "folder", "job"),
    "sourcing.jobtext": (
        "prices",
        "problem",
        "plan",
        "program",
        "decision",
        "quote",
        "cli",
        "folder",
        "page",
        "counter",
    ),
    "sourcing.jobfile": ("problem", "plan", "program", "decision", "quote", "cli", "folder", "page", "counter"),
    "sourcing.bookfile": ("problem", "plan", "program", "decision", "quote", "cli", "folder", "page", "counter"),
    "sourcing.newfolder": ("problem", "plan", "program", "decision", "quote", "cli", "folder", "page", "counter"),
    "sourcing.newsheet": ("quote", "cli", "page", "counter"),
    "sourcing.job": ("prices", "problem", "plan", "program", "decision", "quote", "cli", "folder"),
    "sourcing.problem": ("sealing", "plan", "program", "decision", "quote", "cli", "folder"),
    "sourcing.sealing": ("plan", "program", "decision", "quote", "cli", "folder"),
    "sourcing.plan": ("breaches", "program", "decision", "quote", "cli", "folder"),
    "sourcing.breaches": ("program", "decision", "quote", "cli", "folder"),
    "sourcing.unitcolumns": ("problem", "plan", "pool", "program", "decision", "quote", "cli", "folder"),
    "sourcing.pool": ("program", "decision", "quote", "cli", "folder"),
    "sourcing.program": ("decision", "quote", "cli", "folder"),
    "sourcing.decision": ("program", "quote", "cli", "folder"),
    "sourcing.quote": ("program", "cli", "folder"),
    "sourcing.folder": ("plan", "program", "decision", "quote", "cli"),
    "sourcing.unitlist": ("problem", "plan", "pool", "program", "decision", "quote", "cli", "folder"),
    "sourcing.intake": ("plan", "pool", "program", "decision", "quote", "cli"),
    "sourcing.bookshelf": ("problem", "plan", "program", "decision", "quote", "cli", "folder"),
    "sourcing.faults": (
        "book",
        "prices",
        "problem",
        "plan",
        "program",
        "decision",
        "quote",
        "cli",
        "folder",
        "reading",
    ),
}


def imported(path: Path, at_once: bool = False) -> Iterator[str]:
    """Every module that a file imports, less those that only a type checker sees; `at_once`: as it is loaded itself."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    hidden: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            hidden |= {inner for statement in node.body for inner in ast.walk(statement)}
        if isinstance(node, ast.FunctionDef) and at_once:
            hidden |= set(ast.walk(node))
    for node in ast.walk(tree):
        if node in hidden:
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} imports by dots"
            yield node.module or ""
            yield from (f"{node.module}.{alias.name}" for alias in node.names if node.module == "sourcing")


def within(module: str, folders: tuple[str, ...]) -> bool:
    return any(module == folder or module.startswith(folder + ".") for folder in folders)


@pytest.mark.parametrize("package", ONLY)
def test_a_package_is_imported_only_where_it_belongs(package: str) -> None:
    users = [name for name, path in MODULES.items() if package in {found.split(".")[0] for found in imported(path)}]
    assert [name for name in users if not within(name, ONLY[package])] == []


@pytest.mark.parametrize("folder", BLIND)
def test_nothing_looks_back(folder: str) -> None:
    names = (*BLIND[folder], *(("breaches",) if "plan" in BLIND[folder] else ()))  # what checks a plan knows the plan
    forbidden = tuple(f"sourcing.{name}" for name in names)
    looks = {
        f"{name} -> {found}"
        for name, path in MODULES.items()
        if within(name, (folder,))
        for found in imported(path)
        if within(found, forbidden)
    }
    assert looks == set()


def test_only_the_command_that_serves_it_knows_the_page() -> None:
    users = {name for name, path in MODULES.items() for found in imported(path) if within(found, ("sourcing.page",))}
    assert {name for name in users if not within(name, ("sourcing.page",))} == {"sourcing.cli.serve"}


def test_the_page_knows_no_command() -> None:
    users = {name for name, path in MODULES.items() for found in imported(path) if within(found, ("sourcing.cli",))}
    assert [name for name in users if within(name, ("sourcing.page", "sourcing.counter"))] == []


def test_no_import_goes_round() -> None:
    arrows = {
        name: {found for found in imported(path, at_once=True) if found in MODULES and found not in (name, "sourcing")}
        for name, path in MODULES.items()
    }
    left = dict(arrows)
    while True:
        ends = [name for name, to in left.items() if not to & left.keys()]
        if not ends:
            break
        for name in ends:
            del left[name]
    assert left == {}


def test_only_the_quote_writes_workbooks() -> None:
    """openpyxl may be read with elsewhere; its Workbook and its save belong to the quote."""
    writers = []
    for name, path in MODULES.items():
        if within(name, ("sourcing.quote",)):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) in ("openpyxl.Workbook", "Workbook"):
                writers.append(name)
    assert writers == []


def test_every_module_states_its_job_in_one_line() -> None:
    for name, path in MODULES.items():
        doc = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
        assert doc, f"{name} has no docstring"
        assert doc.splitlines()[0].endswith((".", "`")), f"{name}: {doc.splitlines()[0]}"


def test_no_module_is_too_long_to_read() -> None:
    long = {name: len(path.read_text(encoding="utf-8").splitlines()) for name, path in MODULES.items()}
    assert {name: lines for name, lines in long.items() if lines > 900} == {}


FAULTS = [
    thing
    for thing in vars(faults).values()
    if isinstance(thing, type) and issubclass(thing, Fault) and thing is not Fault
]


@pytest.mark.parametrize("kind", FAULTS, ids=lambda kind: kind.code)
def test_a_fault_says_what_it_is_what_was_expected_and_what_to_do(kind: type[Fault]) -> None:
    assert kind.__doc__ and kind.__doc__.strip().endswith(".")
    assert kind.code and kind.code == kind.code.lower() and " " not in kind.code
    assert kind.expects and not kind.expects.endswith(".")
    assert kind.advises and kind.advises.endswith(".")
    told = str(kind(file="f.toml", sheet="S", row=3, place="p", found='"x"'))
    assert told == f'f.toml, sheet S, row 3, p: expected {kind.expects}; found "x". {kind.advises}'


def test_fault_codes_are_unique() -> None:
    codes = [kind.code for kind in FAULTS]
    assert sorted(set(codes)) == sorted(codes)


def loaded(*arguments: str, cwd: Path) -> tuple[int, set[str]]:
    """Run the command in a process of its own; its exit code and the top-level modules that it loaded."""
    script = (
        "import sys, json\n"
        "sys.argv = ['sourcing', *json.loads(sys.argv[1])]\n"
        "code = 0\n"
        "try:\n    from sourcing.cli import main; main()\n"
        "except SystemExit as stop:\n    code = int(stop.code or 0)\n"
        "print('\\nLOADED ' + json.dumps([code, sorted({name.split('.')[0] for name in sys.modules})]))\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(REPOSITORY), "SOURCING_CACHE": str(cwd / "cache"), "PYTHONUTF8": "1"}
    run = subprocess.run(
        [sys.executable, "-c", script, json.dumps(arguments)],
        cwd=cwd, env=environment, capture_output=True, text=True, encoding="utf-8", timeout=600, check=True,
    )  # fmt: skip
    code, names = json.loads(run.stdout.rsplit("LOADED ", 1)[1])
    return code, set(names)


# What only the page needs.
PAGE = {"fastapi", "starlette", "jinja2", "uvicorn", "argon2", "tomlkit"}


def test_help_loads_neither_pandas_nor_pulp(tmp_path: Path) -> None:
    for arguments in (("--help",), ("quote", "--help"), ("buy", "--help"), ("serve", "--help"), ("new", "--help")):
        code, names = loaded(*arguments, cwd=tmp_path)
        assert code == 0
        assert names & {"pandas", "pulp", "numpy", "highspy", "openpyxl", "xlsxwriter", *PAGE} == set(), arguments


def test_the_version_is_told_without_loading_anything(tmp_path: Path) -> None:
    code, names = loaded("--version", cwd=tmp_path)
    assert code == 0
    assert names & {"pandas", "pulp", "pydantic"} == set()


def test_a_quote_with_its_workbook_loads_no_pandas(tmp_path: Path) -> None:
    job = sorted((REPOSITORY / "scenarios").glob("*.toml"))[0]
    catalogs = str(REPOSITORY / "catalogs")
    for command in ("quote", "buy"):
        code, names = loaded(command, str(job), "--catalogs", catalogs, "--out", str(tmp_path / "out"), cwd=tmp_path)
        assert code in (0, 3, 5)
        assert {"pulp", "highspy"} <= names
        assert names & {"pandas", *PAGE} == set()


def test_what_needs_only_a_book_loads_neither_pandas_nor_pulp(tmp_path: Path) -> None:
    shelf = tmp_path / "catalogs" / "larch5"
    shelf.mkdir(parents=True)
    book = (REPOSITORY / "catalogs" / "larch5" / "interchange.toml").read_text(encoding="utf-8")
    (shelf / "interchange.toml").write_text(book, encoding="utf-8")
    job = str(REPOSITORY / "scenarios" / "mixed-before.toml")
    for words in (("identify", job), ("check", job, "block=block-a"), ("review", "larch5"), ("chart", "larch5")):
        code, names = loaded(*words, "--catalogs", str(shelf.parent), cwd=tmp_path)
        assert code in (0, 3), words
        assert names & {"pandas", "pulp", "highspy", "openpyxl"} == set(), words
