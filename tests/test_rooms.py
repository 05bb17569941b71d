"""The floor plan as a test: who may import whom, and which module may open which door."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "tubfem"
MODULES = sorted(path.relative_to(ROOT).as_posix() for path in ROOT.rglob("*.py"))
MODEL = {"case", "materials", "laminate", "geometry", "shell", "tub"}
SHARED = {"errors", "arrays"}  # no numerics and no names of cars: every room may use them
MAY_IMPORT = {  # room: the rooms it may import, besides itself and the shared ones
    "errors": set(),
    "arrays": set(),
    "case": set(),
    "materials": set(),
    "shell": set(),
    "laminate": {"materials"},
    "geometry": {"case"},
    "tub": MODEL,
    "findings": MODEL,
    "run": MODEL | {"findings"},
    "study": MODEL | {"findings", "run"},
    "report": MODEL | {"findings", "run", "study"},
}
SEES_ALL = {"cli", "__init__", "__main__"}
DOORS = {  # door to the outside: the only modules, or rooms, that may open it
    "gmsh": ("geometry/mesher.py",),
    "meshio": ("report/vtu.py",),
    "matplotlib": (
        "report/figures.py",
        "report/compare_figures.py",
        "report/next_ply_figure.py",
        "report/schedule_figure.py",
        "report/refinement.py",
        "report/spread_figure.py",
        "report/study_files.py",
        "report/bars.py",
        "report/joint_figures.py",
        "report/redraw.py",
        "report/tube_figures.py",
    ),
    "rich": (
        "report/tables.py",
        "report/terminal.py",
        "report/compare_table.py",
        "report/next_ply_table.py",
        "report/schedule_table.py",
        "report/refine_table.py",
        "report/spread_table.py",
        "report/stability_table.py",
        "report/verdict_table.py",
        "report/joints_table.py",
        "report/tubes_table.py",
        "report/heat_table.py",
        "report/openings_table.py",
        "report/road_table.py",
        "cli/",
    ),
    "typer": ("cli/",),
    "concurrent": ("study/executors.py",),
    "dask": ("study/executors.py",),
    "distributed": ("study/executors.py",),
    "multiprocessing": ("study/executors.py",),
    "subprocess": ("report/artist.py",),
    "jinja2": ("report/html.py",),
    "markupsafe": ("report/html.py",),
    "pydantic": ("case/",),
    "pint": ("case/units.py",),
    "threadpoolctl": ("study/threads.py",),
}


def imports(module):
    for node in ast.walk(ast.parse((ROOT / module).read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield "." * node.level + (node.module or "")


@pytest.mark.parametrize("module", MODULES)
def test_module_keeps_to_its_room(module):
    room = module.split("/")[0].removesuffix(".py")
    for name in imports(module):
        assert not name.startswith("."), f"{module}: write absolute imports"
        package, _, rest = name.partition(".")
        if package == "tubfem" and room not in SEES_ALL:
            other = rest.split(".")[0]
            assert other in MAY_IMPORT[room] | {room} | SHARED, f"{module} imports {name}"
        assert module.startswith(DOORS.get(package, "")), f"{module} opens the door {package}"


@pytest.mark.parametrize("module", MODULES)
def test_module_is_one_idea_long(module):
    assert len((ROOT / module).read_text().splitlines()) <= 400
