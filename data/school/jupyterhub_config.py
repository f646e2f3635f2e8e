"""JupyterHub for a class: every student in an own system account, with an own copy of the lessons, and hand-ins that
only that student writes and only the instructors read. README.md beside this file is the recipe."""

import grp
import os
import pwd
import subprocess
import sys
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
OWN_COPY = PROJECT / "data/school/own_copy.py"
HAND_INS = Path(os.environ.get("RIGKIT_SCHOOL_HANDINS", "/srv/rigkit/hand-ins"))
STUDENTS = os.environ.get("RIGKIT_SCHOOL_STUDENTS", "rigkit-students")  # these two groups may log in, nobody else
INSTRUCTORS = os.environ.get("RIGKIT_SCHOOL_INSTRUCTORS", "rigkit-instructors")
PATIENCE = 60  # seconds that copying the lessons may take

os.umask(0o022)  # servers inherit it: what is handed in can be read by the folder's group


def home(spawner) -> Path:
    """The home of the account that a server is for."""
    return Path(pwd.getpwnam(spawner.user.name).pw_dir)


def hand_ins(spawner) -> Path:
    """Where this account hands in."""
    return HAND_INS / spawner.user.name


def prepare(spawner) -> None:
    """Before a server starts: the folder for hand-ins with its rights, and the account's own copy of the lessons.

    Students can write nothing above their folder, so this may be done by root. What lies in a home is done as the
    account itself, since whoever owns a home could lead root astray there with links.
    """
    account, folder = pwd.getpwnam(spawner.user.name), hand_ins(spawner)
    folder.mkdir(exist_ok=True)
    os.chown(folder, account.pw_uid, grp.getgrnam(INSTRUCTORS).gr_gid)
    folder.chmod(0o2750)  # 2: what is put here belongs to the instructors' group
    groups = os.getgrouplist(account.pw_name, account.pw_gid)
    subprocess.run(  # noqa: S603 - our own program, run with the account's rights
        [sys.executable, "-I", OWN_COPY, PROJECT / "lessons", home(spawner) / "rigkit", folder],
        user=account.pw_uid, group=account.pw_gid, extra_groups=groups, umask=0o077,
        env={"LC_ALL": "C.UTF-8"}, cwd="/", check=True, timeout=PATIENCE,
    )  # fmt: skip


c = get_config()  # noqa: F821 - JupyterHub gives it
c.JupyterHub.bind_url = "http://127.0.0.1:8000"  # this machine alone; README.md says how to open it to the classroom
c.JupyterHub.authenticator_class = "pam"  # the password of the system account
c.PAMAuthenticator.allowed_groups = {STUDENTS, INSTRUCTORS}
c.JupyterHub.spawner_class = "localprocess"  # a process of that account
c.Spawner.pre_spawn_hook = prepare
c.Spawner.cmd = [str(Path(sys.executable).with_name("jupyterhub-singleuser"))]
c.Spawner.args = ["--KernelManager.transport=ipc"]  # kernels on TCP could be overheard by everyone on the machine
c.Spawner.notebook_dir = "~/rigkit/lessons"
c.Spawner.default_url = "/lab/tree/contents.ipynb"
c.Spawner.environment = {
    "RIGKIT_WORK": lambda spawner: str(home(spawner) / "rigkit/lessons/work"),
    "RIGKIT_HANDINS": lambda spawner: str(hand_ins(spawner)),
    "JUPYTER_RUNTIME_DIR": lambda spawner: str(home(spawner) / ".rigkit"),  # short: a kernel's socket has 107 bytes
}
c.Spawner.start_timeout = 120
