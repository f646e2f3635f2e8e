"""A class's JupyterHub on throw-away accounts: set up as data/school/README.md says, asked over HTTP, taken away again."""

import grp
import os
import pwd
import secrets
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

import requests

ROOT = Path(__file__).parents[2]
PATIENCE = 120  # seconds for a server or a kernel on a busy machine
PROGRAMS = ("jupyterhub", "configurable-http-proxy")
NOBODY = 65534


def why_not() -> str:
    """Why a hub cannot be tried here; "" where it can."""
    if os.geteuid() != 0:
        return "the test of JupyterHub makes accounts, so it needs root"
    if missing := [one for one in PROGRAMS if not shutil.which(one)]:
        return f"not on the path: {', '.join(missing)} (see data/school/README.md)"
    if missing := [one for one in ("useradd", "userdel", "groupadd", "chpasswd") if not shutil.which(one)]:
        return f"not on the path: {', '.join(missing)}"
    asked = [Path(shutil.which("jupyterhub") or "").with_name("python"), "-c", "import jupyterlab, rigkit.lesson"]
    try:
        subprocess.run(asked, user=NOBODY, group=NOBODY, extra_groups=[], cwd="/", capture_output=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        return "other accounts cannot use the environment of jupyterhub, or JupyterLab and rigkit are not in it"
    return ""


def free_port() -> int:
    """A TCP port that is free on this machine."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


@dataclass
class School:
    """A school's machine: its folders, two groups, and a running hub. Names carry a mark of this run."""

    folder: Path
    url: str
    students: str
    instructors: str
    accounts: dict[str, str] = field(default_factory=dict)  # account -> password

    @property
    def project(self) -> Path:
        """The school's copy of the project."""
        return self.folder / "project"

    @property
    def hand_ins(self) -> Path:
        """Where all hand-ins lie."""
        return self.folder / "hand-ins"

    def home(self, account: str) -> Path:
        """An account's home."""
        return Path(pwd.getpwnam(account).pw_dir)


def _run(*words: str | Path, **more) -> None:
    subprocess.run([str(one) for one in words], check=True, capture_output=True, text=True, **more)


@contextmanager
def running_school() -> Iterator[School]:
    """A hub with the real configuration, for wren and dunlin (students), teacher, and stranger (in neither group)."""
    mark = f"rk{secrets.token_hex(3)}"
    folder = Path(tempfile.mkdtemp(prefix="rigkit-school-"))
    folder.chmod(0o755)
    school = School(folder, f"http://127.0.0.1:{free_port()}", f"{mark}-s", f"{mark}-i")
    hub = None
    try:
        for group in (school.students, school.instructors):
            _run("groupadd", group)
        for name, group in (("wren", "students"), ("dunlin", "students"), ("teacher", "instructors"), ("stranger", "")):
            account, password = f"{mark}-{name}", secrets.token_hex(8)
            more = ("-G", getattr(school, group)) if group else ()
            _run("useradd", "-m", "-K", "HOME_MODE=0700", "-d", folder / name, "-s", "/bin/bash", *more, account)
            _run("chpasswd", input=f"{account}:{password}\n")
            school.accounts[account] = password
        _lay_out(school)
        with (folder / "hub" / "log").open("wb") as log:
            hub = _start(school, log)
            _wait_for(lambda: _answers(school.url), hub, folder / "hub" / "log")
            yield school
    finally:
        _stop(hub)
        for account in school.accounts:
            _end_all_of(pwd.getpwnam(account).pw_uid)
            subprocess.run(["userdel", "-r", account], capture_output=True)
        for group in (school.students, school.instructors):
            subprocess.run(["groupdel", group], capture_output=True)
        shutil.rmtree(folder, ignore_errors=True)


def _lay_out(school: School) -> None:
    """The project without what students may not see, and the two folders of the school."""
    skipped = shutil.ignore_patterns("work", "hand-ins", "__pycache__", "*.egg-info", ".ipynb_checkpoints", "key.json")
    for name in ("lessons", "rigkit", "data"):
        shutil.copytree(ROOT / name, school.project / name, ignore=skipped)
    shutil.copy(ROOT / "requirements.txt", school.project)
    answers = school.project / "lessons" / "for_instructors.ipynb"
    shutil.chown(answers, group=school.instructors)
    answers.chmod(0o640)
    school.hand_ins.mkdir()
    shutil.chown(school.hand_ins, group=school.instructors)
    school.hand_ins.chmod(0o751)
    (school.folder / "hub").mkdir(mode=0o700)


def _start(school: School, log) -> subprocess.Popen:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("JUPYTER", "RIGKIT"))}
    own = {"RIGKIT_SCHOOL_HANDINS": str(school.hand_ins), "RIGKIT_SCHOOL_STUDENTS": school.students,
           "RIGKIT_SCHOOL_INSTRUCTORS": school.instructors, "PYTHONPATH": str(school.project)}  # fmt: skip
    words = [
        shutil.which("jupyterhub"), "-f", str(school.project / "data/school/jupyterhub_config.py"),
        f"--JupyterHub.bind_url={school.url}", f"--JupyterHub.hub_port={free_port()}",
        f"--ConfigurableHTTPProxy.api_url=http://127.0.0.1:{free_port()}",
    ]  # fmt: skip
    return subprocess.Popen(
        words, env=kept | own, cwd=school.folder / "hub", stdout=log, stderr=subprocess.STDOUT, start_new_session=True
    )


def _answers(url: str) -> bool:
    try:
        return requests.get(f"{url}/hub/health", timeout=5).ok
    except requests.RequestException:
        return False


def _wait_for(come, hub: subprocess.Popen, log: Path) -> None:
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until and hub.poll() is None:
        if come():
            return
        time.sleep(0.3)
    raise RuntimeError("JupyterHub did not start:\n" + log.read_text(errors="replace")[-3000:])


def _stop(hub: subprocess.Popen | None) -> None:
    """End the hub, which ends its proxy and its servers; what is left of its session is killed."""
    if hub is None:
        return
    hub.terminate()
    with suppress(subprocess.TimeoutExpired):
        hub.wait(40)
    with suppress(ProcessLookupError):
        os.killpg(hub.pid, signal.SIGKILL)
    hub.wait()


def _end_all_of(uid: int) -> None:
    """End what still runs as an account of this test, by its process numbers."""
    for one in Path("/proc").iterdir():
        try:
            if one.name.isdecimal() and one.stat().st_uid == uid:
                os.kill(int(one.name), signal.SIGKILL)
        except (FileNotFoundError, ProcessLookupError):
            pass


def group_of(path: Path) -> str:
    """The group that a file belongs to."""
    return grp.getgrgid(path.stat().st_gid).gr_name


def listening(uid: int) -> int:
    """How many TCP ports an account's processes listen on."""
    rows = [line.split() for name in ("tcp", "tcp6") for line in Path(f"/proc/net/{name}").read_text().splitlines()[1:]]
    return sum(row[3] == "0A" and int(row[7]) == uid for row in rows)
