"""The layout as a rule: imports point downwards, only the desk knows Qt, codecs stand alone, starting is quick."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LAYERS = (
    ("cli", "__main__"),
    ("desk",),
    ("lesson",),
    ("project",),
    ("plan",),
    ("notes",),
    ("track",),
    ("clock",),
    ("gauges",),
    ("media",),
    ("media_file", "output_file", "channels", "local_plane", "shown_units"),
    ("progress", "errors"),
)
"""From the top down: a module may import from its own layer and from those below it."""
HEAVY = ("av", "cv2", "pandas", "scipy", "matplotlib", "PyQt6", "pint", "pyproj", "PIL", "numpy")


def sources(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*.py") if "__pycache__" not in path.parts)


def imported(path: Path) -> Iterator[str]:
    """Full names of all modules that a file imports, wherever in it."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: write imports in full"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def layer_of(module: str) -> int | None:
    parts = module.split(".")
    if parts[0] != "syncview" or len(parts) < 2:
        return None
    return next((i for i, names in enumerate(LAYERS) if parts[1] in names), None)


@pytest.mark.parametrize("path", sources(ROOT / "syncview"), ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_point_downwards(path: Path) -> None:
    own = layer_of(".".join(path.relative_to(ROOT).with_suffix("").parts))
    for name in imported(path):
        other = layer_of(name)
        if own is not None and other is not None:
            assert other >= own, f"{path.relative_to(ROOT)} imports {name}, which lies above it"


def test_every_module_has_a_layer() -> None:
    known = {name for names in LAYERS for name in names}
    here = {p.stem for p in (ROOT / "syncview").iterdir() if (p.is_dir() or p.suffix == ".py") and p.name[0] != "_"}
    assert here - {"py"} <= known


def test_only_the_desk_imports_qt() -> None:
    for path in (*sources(ROOT / "syncview"), *sources(ROOT / "codecs")):
        if "desk" not in path.parts:
            assert not [name for name in imported(path) if name.split(".")[0].startswith(("PyQt", "pyqt"))], path


def test_codecs_stand_alone() -> None:
    for path in sources(ROOT / "codecs"):
        assert not [name for name in imported(path) if name.split(".")[0] == "syncview"], path


def test_help_loads_nothing_heavy() -> None:
    program = (
        "import sys\nfrom syncview.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        f"print([m for m in {HEAVY!r} if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
