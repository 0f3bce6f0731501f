"""Rules of the house that no single module can keep alone: which way imports point, what pages may say, docstrings."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).parent.parent
PACKAGES = ("analyser", "importers", "reports", "spooldown")
MODULES = sorted(p for package in PACKAGES for p in (ROOT / package).rglob("*.py"))
TEXTS = sorted(p for p in (ROOT / "reports").rglob("*") if p.suffix in (".html", ".js", ".css", ".toml"))

# What a tool that reads logs can't know and must never say, of an aircraft, a pack, an engine or a link.
VERDICTS = re.compile(
    r"\b(safe|fit|cleared|ready|good|ok(ay)?) (to|for) (fly|flight|flying)\b"
    r"|\bair ?worthy\b|\bflight ?worthy\b|\bno risk\b"
    r"|\b(luft|flug)t(ü|ue)chtig|\bflug(sicher|bereit|klar|tauglich)|\bstart(klar|bereit)|\bkein risiko\b",
    re.IGNORECASE,
)
# An absolute path of somebody's machine; a slash inside a word, a unit or a closing tag is none.
MACHINE_PATH = re.compile(r"(?<![\w.<:/])/(work|home|tmp|root|Users|usr|opt|mnt|var|private)/|[A-Za-z]:\\\\?Users")


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"), filename=name_of(path))


@cache
def parsed_once(path: Path) -> ast.Module:
    return parsed(path)


def strings(tree: ast.AST) -> Iterator[ast.Constant]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node


def undocumented(tree: ast.Module) -> Iterator[str]:
    if not ast.get_docstring(tree):
        yield "the module"
    stack: list[tuple[str, ast.AST]] = [("", tree)]
    while stack:
        prefix, node = stack.pop()
        for child in ast.iter_child_nodes(node):
            if not isinstance(child, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
                continue
            if child.name.startswith("_"):
                continue
            overload = any(isinstance(d, ast.Name) and d.id == "overload" for d in child.decorator_list)
            if not ast.get_docstring(child) and not overload:
                yield f"{prefix}{child.name}"
            if isinstance(child, ast.ClassDef):
                stack.append((f"{child.name}.", child))


def test_imports_point_one_way() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as go; go()", "--no-cache"],
        check=False,
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout
    assert " kept" in done.stdout


def test_no_modules_import_each_other_in_a_circle() -> None:
    """Not even by imports inside a function, nor by those for types alone; a package's face only hands names on."""
    graph = grimp.build_graph(*PACKAGES, cache_dir=None)
    faces = {name_of(p.parent).replace("/", ".") for p in MODULES if p.name == "__init__.py"}
    order = TopologicalSorter({m: graph.find_modules_directly_imported_by(m) - faces for m in graph.modules - faces})
    order.prepare()  # raises CycleError, which names the circle


MOST_MODULES = 15


def test_no_folder_is_a_hall() -> None:
    """A newcomer takes a folder in at a glance."""
    folders: dict[str, int] = {}
    for path in MODULES:
        if path.name != "__init__.py":
            folder = name_of(path.parent)
            folders[folder] = folders.get(folder, 0) + 1
    assert {f: n for f, n in folders.items() if n > MOST_MODULES and f not in LARGER} == {}


LARGER: dict[str, int] = {"analyser/core": 16}
"""Folders allowed a few more, with the most they may hold."""


def test_no_folder_outgrows_what_it_is_allowed() -> None:
    for folder, most in LARGER.items():
        assert len([p for p in (ROOT / folder).glob("*.py") if p.name != "__init__.py"]) <= most, folder


def test_no_file_repeats_its_folders_name() -> None:
    found = [
        name_of(p) for p in MODULES
        if p.stem != "__init__" and p.parent.name not in PACKAGES and p.stem.startswith(p.parent.name.rstrip("s") + "_")
    ]  # fmt: skip
    assert found == []


@pytest.mark.parametrize("package", PACKAGES)
def test_everything_public_says_what_it_is(package: str) -> None:
    lacking = [
        f"{name_of(path)}: {what}" for path in MODULES if name_of(path).startswith(f"{package}/")
        for what in undocumented(parsed(path))
        # An empty __init__ marks a folder and has nothing to say.
        if path.stat().st_size
    ]  # fmt: skip
    assert lacking == []


def test_docstring_check_sees_what_is_lacking() -> None:
    tree = ast.parse('"""M."""\nclass A:\n    """A."""\n    def f(self): ...\n    def _g(self): ...\ndef h(): ...\n')
    assert sorted(undocumented(tree)) == ["A.f", "h"]


def test_analyser_is_pure() -> None:
    """No files, no clock, no printing: what an import contract can't see."""
    banned = {"open", "print", "input", "now", "today", "utcnow", "eval", "exec"}
    found = []
    for path in MODULES:
        if not name_of(path).startswith("analyser/"):
            continue
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.Call):
                called = node.func
                name = called.id if isinstance(called, ast.Name) else getattr(called, "attr", "")
                if name in banned:
                    found.append(f"{name_of(path)}:{node.lineno}: {name}()")
    assert found == []


SENTENCE = re.compile(r"[A-Za-z]{2,} [A-Za-z]{2,} [A-Za-z]{2,}")
WORD_LISTS = {
    "analyser/core/channels.py", "importers/clock/forms.py", "importers/clock/pieces.py", "importers/clock/start.py",
    "importers/meaning/rules.py",
    "importers/meaning/units.py",
}  # fmt: skip
"""The vocabulary's plain words, which the catalogue repeats and a test compares; and words that headings may hold."""
OWN_TEXTS = {
    "spooldown/cli.py", "spooldown/exit_codes.py",  # help, whose other languages stand beside the commands
    "spooldown/register.py",  # the example file
}  # fmt: skip
STORED = {
    "step put aside", "antenna ideas of ", "nose to pilot", "tail to pilot", "left side to pilot",
    "right side to pilot",
}  # fmt: skip
"""Words that a logbook keeps: keys, and what people mostly write themselves."""
SQL = re.compile(r"\b(SELECT|INSERT|UPDATE|DELETE|CREATE|ALTER|PRAGMA|FROM|WHERE|ORDER BY|ROLLBACK|IS NULL)\b")
HELP = {"help", "show_default", "rich_help_panel", "epilog"}


def sentences(path: Path) -> list[str]:
    """Strings of a module that read as sentences; what Python itself raises, documents and looks up is none."""
    aside: set[int] = set()
    for node in ast.walk(parsed_once(path)):
        docstring = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        shown_in_a_shell = isinstance(node, ast.FunctionDef) and node.name in ("__repr__", "_unknown")
        raised = isinstance(node, ast.Raise) and not _raises_ours(node)
        helping = isinstance(node, ast.keyword) and node.arg in HELP
        if docstring or shown_in_a_shell or raised or helping:
            aside |= {id(inner) for inner in ast.walk(node)}
    return [
        f"{name_of(path)}:{node.lineno}: {node.value!r}"
        for node in strings(parsed_once(path))
        if id(node) not in aside
        and SENTENCE.search(node.value)
        and not SQL.search(node.value)
        and node.value not in STORED
    ]


def _raises_ours(node: ast.Raise) -> bool:
    """Whether what is raised is shown to people: a refusal or a problem."""
    called = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
    return isinstance(called, ast.Name) and called.id.endswith(("Refusal", "Problem", "OpenQuestion"))


@pytest.mark.parametrize("package", ["analyser", "importers", "spooldown"])
def test_what_people_read_is_in_the_catalogue(package: str) -> None:
    """Codes are in the sources, their words in the catalogue: so every sentence is there in every language."""
    found = [
        sentence
        for path in MODULES
        if name_of(path).startswith(f"{package}/") and name_of(path) not in WORD_LISTS | OWN_TEXTS
        for sentence in sentences(path)
    ]
    assert found == []


def test_a_sentence_is_seen() -> None:
    tree = ast.parse('raise UsageProblem("name a flight or two")')
    (raised,) = tree.body
    assert isinstance(raised, ast.Raise)
    assert _raises_ours(raised)
    assert SENTENCE.search("name a flight or two")


def test_reports_compute_nothing_from_csv() -> None:
    found = [
        f"{name_of(path)}:{node.lineno}"
        for path in MODULES
        if name_of(path).startswith("reports/")
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.Attribute) and node.attr in {"read_csv", "open_csv", "DictReader"}
    ]
    assert found == []


def test_nothing_ever_says_an_aircraft_is_fit_to_fly() -> None:
    found = [
        f"{name_of(path)}:{node.lineno}: {node.value!r}"
        for path in MODULES
        for node in strings(parsed(path))
        if VERDICTS.search(node.value)
    ]
    found += [
        f"{name_of(path)}: {hit.group(0)}" for path in TEXTS for hit in VERDICTS.finditer(path.read_text("utf-8"))
    ]
    assert found == []


@pytest.mark.parametrize(
    "text",
    [
        "Safe to fly.",
        "the pack is fit for flight",
        "All airworthy",
        "ready to fly",
        "cleared for flight",
        "lufttüchtig",
        "flugbereit",
        "Das Modell ist startklar.",
    ],
)
def test_verdict_is_recognised(text: str) -> None:
    assert VERDICTS.search(text)


def test_no_machine_path_in_any_text() -> None:
    found = [
        f"{name_of(path)}: {hit.group(0)}"
        for path in (*MODULES, *TEXTS)
        for hit in MACHINE_PATH.finditer(path.read_text("utf-8"))
    ]
    assert found == []


@pytest.mark.parametrize("text", ["see /home/someone/logs", "'/tmp/x'", "C:\\Users\\me"])
def test_machine_path_is_recognised(text: str) -> None:
    assert MACHINE_PATH.search(text)


@pytest.mark.parametrize("text", ["mL/min", "</var>", "https://example.org/home/", "a/tmp/b", "km/h"])
def test_what_is_no_machine_path_is_let_be(text: str) -> None:
    assert not MACHINE_PATH.search(text)
