"""JupyterHub's test needs system accounts, root and two programs. Where a program or root is missing it skips and says so;
on Windows, and in CI, where a skip is a failure, it is left out."""

import os

collect_ignore = [] if os.name == "posix" else ["test_hub.py"]
if os.name == "posix" and os.environ.get("RIGKIT_CI"):
    from tests.school.hub import why_not

    collect_ignore = ["test_hub.py"] if why_not() else []
