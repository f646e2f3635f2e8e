"""Imports point one way: numbers, then pictures, then widgets; numbers, then measurements, then marks."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import rigkit

ROOT = Path(rigkit.__file__).parent
# Each room may import rooms above it in this list, never one below. A new module needs its place here.
ORDER = [
    ["tolerance"], ["require"], ["vectors"], ["frames"], ["surface_index"], ["mesh"], ["section"], ["sight"], ["centre"],
    ["skeleton"], ["changes"], ["edits"], ["two_bone"], ["kinematics"], ["solvers"], ["flip"], ["twist"], ["axes"], ["skin"], ["mirror_axes"], ["middle"], ["loops"], ["heat"], ["bulk"], ["agreement"], ["likeness"],
    ["tables"], ["many"], ["schema"], ["anatomy"], ["namewords"], ["naming"], ["mirror"], ["limbs"], ["files"], ["exercise_text"], ["make_exercise"], ["own_limbs"], ["meant"], ["understood"],
    ["matching"], ["measures"], ["mends"], ["rubric_place"], ["rubric_structure"], ["rubric_frames"], ["rubric"], ["mended_frames"], ["mended"], ["standing"], ["marking"], ["spots"], ["kept"], ["gathered"], ["word"], ["retuned"], ["carry"], ["looking"], ["outline"], ["picture"], ["plates"], ["overlays"], ["backdrops"], ["slices"],
    ["bench_parts"], ["figures"], ["aliases"], ["feedback"], ["glance"], ["class_plates"], ["report"], ["gradebook"], ["classroom"], ["second_marker"], ["telling"], ["copies"], ["after_marking"], ["work"], ["draft"], ["openings"], ["bench_folds"], ["bench_words"], ["bench_hints"], ["bench_helps"], ["bench_gauges"], ["bench_state"], ["bench_volume"], ["bench_plates"], ["stills"], ["charts"],
    ["bench_work"], ["bench_sheet"], ["bench_controls"], ["bench_pulls"], ["bench_face"], ["bench"], ["told"], ["mistakes"], ["progress"], ["set_up"], ["guess"], ["lesson"], ["taught"], ["own"], ["asked"], ["__main__"],
]  # fmt: skip
MATHS = [room for rooms in ORDER[: ORDER.index(["tables"])] for room in rooms if (ROOT / f"{room}.py").exists()]


def room_of(module: str) -> str:
    return module.split(".")[1] if "." in module else ""


def imports_of(path: Path) -> set[str]:
    """Rooms of rigkit that a file imports, also inside functions."""
    rooms = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            rooms |= {room_of(alias.name) for alias in node.names if alias.name.startswith("rigkit.")}
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path} imports relatively"
            if node.module == "rigkit":
                rooms |= {alias.name for alias in node.names}
            elif node.module.startswith("rigkit."):
                rooms.add(room_of(node.module))
    return rooms


MODULES = sorted(ROOT.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_point_upwards(path):
    place = {room: number for number, rooms in enumerate(ORDER) for room in rooms}
    relative = path.relative_to(ROOT)
    room = relative.parts[0].removesuffix(".py")
    if room == "__init__":
        assert imports_of(path) == set(), "rigkit/__init__.py imports nothing of its own"
        return
    assert room in place, f"{relative} has no place in ORDER: decide where it belongs"
    for other in imports_of(path) - {room}:
        assert place[other] < place[room], f"{relative} imports {other}, which lies below it"


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_module_outgrows_one_idea(path):
    assert len(path.read_text().splitlines()) <= 250


def loaded_by(statement: str) -> set[str]:
    code = f"import sys; {statement}; print(*sorted({{m.split('.')[0] for m in sys.modules}}))"
    return set(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split())


def test_the_package_alone_loads_nothing_heavy():
    assert not loaded_by("import rigkit") & {"numpy", "scipy", "matplotlib", "ipywidgets", "jinja2"}


def test_the_maths_knows_no_picture_and_no_widget():
    loaded = loaded_by("import " + ", ".join(f"rigkit.{room}" for room in MATHS))
    assert "numpy" in loaded
    assert not loaded & {"scipy", "matplotlib", "ipywidgets", "jinja2", "IPython"}


def test_the_marks_know_no_notebook():
    assert not loaded_by("import rigkit.marking, rigkit.classroom, rigkit.__main__") & {"ipywidgets", "IPython"}


def test_pyplot_is_never_used():
    for path in MODULES:
        assert "pyplot" not in path.read_text(), path
