"""Print the benchmark as a table, with machine and versions: `python -m tests.bench [NAME ...]`."""

import os
import platform
import sys
from importlib import import_module
from importlib.metadata import version

NAMES = ("two_bone", "sections", "skin", "latency")
VERSIONS = ("numpy", "scipy", "trimesh", "ikpy", "modern-robotics", "jupyterlab", "ipywidgets", "matplotlib")


def main(asked: list[str]) -> None:
    """Run the asked parts, or all, and print one Markdown table."""
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}; "
          + ", ".join(f"{name} {version(name)}" for name in VERSIONS))  # fmt: skip
    print("\n| what | rigkit | beside it | ratio | answer |\n|---|---|---|---|---|")
    for name in asked or NAMES:
        for row in import_module(f"tests.bench.{name}").rows():
            print("| " + " | ".join(row) + " |", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
