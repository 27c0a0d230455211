"""Imports run one way; every public thing says what it is."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "optimise"

ALLOWED: dict[str, set[str]] = {
    "parts": {"parts"},
    "scenario": {"parts", "scenario"},
    "physics": {"physics"},
    "columns": {"parts", "scenario", "physics", "columns"},
    "model": {"parts", "scenario", "physics", "columns", "model"},
    "studies": {"parts", "scenario", "physics", "columns", "model", "studies"},
    "report": {"", "parts", "scenario", "physics", "columns", "model", "studies", "report"},
}
FILES = sorted(PACKAGE.rglob("*.py"))


def imported(path: Path) -> set[str]:
    """Return the dotted names of ours that a file imports."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
            names.update(f"{node.module}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
    return {name for name in names if name.split(".")[0] == "optimise"}


def layer(dotted: str) -> str:
    parts = dotted.split(".")
    return parts[1] if len(parts) > 1 and (PACKAGE / parts[1]).is_dir() else ""


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_run_one_way(path: Path) -> None:
    own = path.relative_to(PACKAGE).parts
    if len(own) == 1:
        return  # the command and the package itself may import anything
    for name in imported(path):
        if name == "optimise" or name == "optimise.__version__":
            assert own[0] == "report", f"{path.name} imports {name}"
        else:
            assert layer(name) in ALLOWED[own[0]], f"{path.name} imports {name}"


def test_there_are_layers_to_check() -> None:
    assert {path.relative_to(PACKAGE).parts[0] for path in FILES if len(path.relative_to(PACKAGE).parts) > 1} == set(
        ALLOWED
    )


@pytest.mark.parametrize(
    "name",
    [
        "build.py",
        "choice.py",
        "dimming.py",
        "dots.py",
        "exact.py",
        "face.py",
        "field.py",
        "fitting.py",
        "layout.py",
        "limits.py",
        "losses.py",
        "mixture.py",
        "modulation.py",
        "operating.py",
        "spots.py",
        "stacks.py",
        "unchecked.py",
    ],
)
def test_the_exact_check_knows_no_columns(name: str) -> None:
    for found in imported(PACKAGE / "model" / name):
        assert layer(found) in {"parts", "scenario", "physics", "model"}
        assert found.split(".")[2:3] not in (
            ["screening"],
            ["formulation"],
            ["market"],
            ["problem"],
            ["solver"],
            ["search"],
        )


def test_physics_knows_no_units_library_and_no_files() -> None:
    for path in sorted((PACKAGE / "physics").glob("*.py")):
        text = path.read_text(encoding="utf-8")
        assert "import pint" not in text
        assert "pathlib" not in text
        assert "open(" not in text


def test_only_the_solver_module_imports_the_solver() -> None:
    users = [
        str(path.relative_to(PACKAGE))
        for path in FILES
        if any(
            line.startswith(("import pulp", "import highspy", "from pulp", "from highspy"))
            for line in path.read_text(encoding="utf-8").splitlines()
        )
    ]
    assert users == ["model/solver.py"]


def test_only_the_colour_module_imports_the_colour_library_and_only_where_it_is_used() -> None:
    users: list[str] = []
    for path in FILES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for within in (tree, *(node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))):
            for node in ast.walk(within) if within is not tree else tree.body:
                names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
                if isinstance(node, ast.ImportFrom) and node.level == 0:
                    names = [node.module or ""]
                if any(name.split(".")[0] == "colour" for name in names):
                    users.append(f"{path.relative_to(PACKAGE)}: {getattr(within, 'name', 'on import')}")
    assert users == ["parts/colour.py: library"]


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_modules_are_short(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 420
