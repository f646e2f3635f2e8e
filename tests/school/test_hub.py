"""A class on a real JupyterHub, with the real configuration, system accounts, passwords by PAM and kernels of their own."""

import csv
import json
import pwd
import re
import stat

import pytest

from tests.school.hub import ROOT, group_of, listening, running_school, why_not
from tests.school.person import Person

HAND_IN = """
from rigkit import lesson
bench = lesson.open_bench("left-arm", start="resting", lesson="02")
bench.move("elbow", out={out})
print(lesson.hand_in(bench, {name!r}))
"""
TRY = """
import os
from pathlib import Path
def attempt(name, act):
    try:
        act()
        print(name, "DONE")
    except OSError as error:
        print(name, type(error).__name__)
"""
REFUSED = "PermissionError"


@pytest.fixture(scope="module")
def school():
    """A running hub with its accounts, taken away afterwards whatever happens."""
    if reason := why_not():
        pytest.skip(reason)
    with running_school() as running:
        yield running


def mode(path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def owner(path) -> str:
    return pwd.getpwuid(path.stat().st_uid).pw_name


def asked(person: Person, **acts: str) -> dict[str, str]:
    """What becomes of each of some expressions, run in somebody's own kernel: DONE, or the error's name."""
    lines = [f"attempt({name!r}, lambda: {act})" for name, act in acts.items()]
    return dict(line.split() for line in person.run(TRY + "\n".join(lines)).splitlines())


def test_a_class_works_on_one_hub_and_no_student_sees_another(school, subtests):
    """One hub for all of it, since it takes half a minute to come and go."""
    wren, dunlin, teacher, stranger = (Person(school, account) for account in school.accounts)
    students = (wren, dunlin)

    with subtests.test("a wrong password, and an account in neither group, are refused"):
        assert not wren.log_in("not the password")
        assert not stranger.log_in()

    for person in (*students, teacher):
        assert person.log_in() and person.start(), person.account

    with subtests.test("everyone's kernel runs as the own account, in an own copy of the lessons"):
        for person in (*students, teacher):
            lessons = school.home(person.account) / "rigkit" / "lessons"
            who = "import getpass, os, rigkit; print(getpass.getuser(), os.getuid(), os.getcwd(), rigkit.__file__)"
            uid = pwd.getpwnam(person.account).pw_uid
            assert person.run(who).split() == [
                person.account, str(uid), str(lessons), str(school.project / "rigkit" / "__init__.py")
            ]  # fmt: skip
            given = {path.name: path.read_bytes() for path in (school.project / "lessons").glob("*.ipynb")}
            if person is not teacher:
                del given["for_instructors.ipynb"]
            assert {path.name: path.read_bytes() for path in lessons.glob("*.ipynb")} == given
            assert {owner(path) for path in lessons.iterdir() if not path.is_symlink()} == {person.account}

    with subtests.test("work lies in the student's home, a hand-in where the instructors look, with the right rights"):
        for person, out in ((wren, 1), (dunlin, 60)):
            told = person.run(HAND_IN.format(out=out, name="wren"))  # dunlin, too, says to be wren
            assert told.startswith("handed in: Attempt 1 lies in"), told
            work = school.home(person.account) / "rigkit" / "lessons" / "work"
            assert mode(work) == 0o700 and (work / "02-left-arm.json").is_file()
            assert {owner(path) for path in (work, *work.iterdir())} == {person.account}
            folder = school.hand_ins / person.account
            (handed,) = folder.iterdir()
            assert handed.name == "wren.left-arm.1.json" and json.loads(handed.read_text())["joints"]
            assert (owner(folder), group_of(folder), mode(folder)) == (person.account, school.instructors, 0o2750)
            assert (owner(handed), group_of(handed), mode(handed)) == (person.account, school.instructors, 0o644)
        assert (owner(school.hand_ins), mode(school.hand_ins)) == ("root", 0o751)

    with subtests.test("a student's kernel reaches nothing of another student, and cannot change the school's files"):
        for person, other in (students, students[::-1]):
            home, folder = school.home(other.account), school.hand_ins / other.account
            kernel = home / ".rigkit" / f"kernel-{other.kernel}.json"
            acts = {
                "list_home": f"os.listdir({str(home)!r})",
                "read_work": f"Path({str(home / 'rigkit' / 'lessons' / 'work' / '02-left-arm.json')!r}).read_bytes()",
                "read_lesson": f"Path({str(home / 'rigkit/lessons/contents.ipynb')!r}).read_bytes()",
                "read_kernel": f"Path({str(kernel)!r}).read_bytes()",
                "list_all_hand_ins": f"os.listdir({str(school.hand_ins)!r})",
                "list_hand_ins": f"os.listdir({str(folder)!r})",
                "read_hand_in": f"Path({str(folder / 'wren.left-arm.1.json')!r}).read_bytes()",
                "write_hand_in": f"Path({str(folder / 'wren.left-arm.2.json')!r}).write_text('x')",
                "make_folder": f"os.mkdir({str(school.hand_ins / 'plover')!r})",
                "move_folder": f"os.rename({str(folder)!r}, {str(school.hand_ins / 'plover')!r})",
                "change_module": f"Path({str(school.project / 'rigkit/rubric.py')!r}).write_text('x')",
                "change_exercise": f"os.remove({str(school.project / 'data/exercises/left-arm/mesh.glb')!r})",
                "read_answers": f"Path({str(school.project / 'lessons/for_instructors.ipynb')!r}).read_bytes()",
                "read_hub": f"os.listdir({str(school.folder / 'hub')!r})",
            }
            assert kernel.is_file()
            assert asked(person, **acts) == dict.fromkeys(acts, REFUSED)
            assert asked(person, own=f"os.listdir({str(school.hand_ins / person.account)!r})") == {"own": "DONE"}
            assert person.ask("GET", other.account, "contents").status_code in (302, 403, 404)
            assert person.ask("GET", person.account, "contents").status_code == 200
        assert not list(school.project.rglob("key.json"))

    with subtests.test("kernels talk over sockets in the own home: nothing on TCP can be overheard"):
        for person in students:
            connection = school.home(person.account) / ".rigkit" / f"kernel-{person.kernel}.json"
            said = json.loads(connection.read_text())
            assert said["transport"] == "ipc" and said["ip"].startswith(str(connection.parent))
            assert mode(connection.parent) & 0o777 == 0o700
            # the server itself, behind the hub's login, and a pipe into which subprocesses write, from which none reads
            assert listening(pwd.getpwnam(person.account).pw_uid) <= 2

    with subtests.test("an instructor reads all hand-ins, writes none, and marks them by the recipe's own commands"):
        link = str(school.hand_ins / wren.account / "wren.left-arm.9.json")
        theft = f"os.symlink({str(school.hand_ins / dunlin.account / 'wren.left-arm.1.json')!r}, {link!r})"
        assert asked(wren, theft=theft) == {"theft": "DONE"}  # a link can be laid, but must not be handed in
        acts = {one.account: f"os.listdir({str(school.hand_ins / one.account)!r})" for one in students}
        acts |= {f"read_{one.account}": f"Path({str(school.hand_ins / one.account / 'wren.left-arm.1.json')!r}).read_text()"
                 for one in students}  # fmt: skip
        assert set(asked(teacher, **acts).values()) == {"DONE"}
        wrong = f"Path({str(school.hand_ins / wren.account / 'wren.left-arm.1.json')!r}).write_text('x')"
        assert asked(teacher, write=wrong) == {"write": REFUSED}
        told = teacher.run(f"import subprocess\nprint(subprocess.run({mark_commands(school)!r}, shell=True, text=True, "
                           "stdout=-1, stderr=-2, umask=0o077).stdout)")  # fmt: skip
        marked = school.home(teacher.account) / "left-arm-marked"
        assert "2 hand-ins: 2 marked" in told, told
        with (marked / "gradebook.csv").open(newline="") as rows:
            marks = {row["id"]: float(row["mark"]) for row in csv.DictReader(rows)}
        assert set(marks) == {wren.account, dunlin.account} and marks[wren.account] > marks[dunlin.account]
        assert asked(wren, marks=f"os.listdir({str(marked)!r})") == {"marks": REFUSED}

    with subtests.test("logging in again keeps own work, and a lesson that changed comes beside an edited one"):
        lessons = school.home(wren.account) / "rigkit" / "lessons"
        first, second = "04_make_it_bend_the_right_way", "05_find_the_middle"
        wren.run(f"from pathlib import Path; Path('{first}.ipynb').write_text('my own')")
        wren.run(f"import os; os.chmod({str(school.hand_ins / wren.account)!r}, 0o777)")
        work = (lessons / "work" / "02-left-arm.json").read_bytes()
        wren.stop()
        for name in (first, second):
            with (school.project / "lessons" / f"{name}.ipynb").open("a") as lesson:
                lesson.write("\n")
        again = Person(school, wren.account)
        assert again.log_in() and again.start()
        assert (lessons / f"{first}.ipynb").read_text() == "my own"
        for there, given in ((f"{first}.updated-1", first), (second, second)):
            assert (lessons / f"{there}.ipynb").read_bytes() == (
                school.project / "lessons" / f"{given}.ipynb"
            ).read_bytes()
        assert (lessons / "work" / "02-left-arm.json").read_bytes() == work
        told = again.run("from rigkit import lesson\nprint(lesson.open_bench('left-arm', lesson='02').words.value)")
        assert "Your saved work was opened" in told
        assert mode(school.hand_ins / wren.account) == 0o2750  # closed again

    with subtests.test("a link in one's own home does not make root, or anyone, write elsewhere"):
        again.run(f"import os; os.rename({str(lessons.parent)!r}, {str(lessons.parent) + '-own'!r}); "
                  f"os.symlink({str(school.home(dunlin.account) / 'rigkit')!r}, {str(lessons.parent)!r})")  # fmt: skip
        before = {path: path.stat().st_mtime_ns for path in school.home(dunlin.account).joinpath("rigkit").rglob("*")}
        again.stop()
        assert not again.start()
        after = {path: path.stat().st_mtime_ns for path in school.home(dunlin.account).joinpath("rigkit").rglob("*")}
        assert before == after


def mark_commands(school) -> str:
    """The recipe's commands for marking, with the folders of this school."""
    recipe = (ROOT / "data" / "school" / "README.md").read_text(encoding="utf-8")
    commands = re.search(r"<!-- mark commands -->\n```sh\n(.*?)```", recipe, re.DOTALL).group(1)
    places = {"/srv/rigkit/hand-ins": school.hand_ins, "/opt/rigkit/.venv/bin/python": "python",
              "/opt/rigkit": school.project}  # fmt: skip
    for written, here in places.items():
        assert written in commands
        commands = commands.replace(written, str(here))
    return commands
