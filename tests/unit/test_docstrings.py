"""Every public function says what it does; every example in a docstring gives the numbers it shows."""

import ast
import doctest
import importlib
import re
from pathlib import Path

import pytest

import rigkit

ROOT = Path(rigkit.__file__).parent
MODULES = [
    "rigkit." + ".".join(p.relative_to(ROOT).with_suffix("").parts)
    for p in sorted(ROOT.rglob("*.py"))
    if p.stem not in ("__init__", "__main__")
]
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
SHOWN = 1e-6  # examples are rounded to six places at most


class ByNumber(doctest.OutputChecker):
    """Compares the numbers in an example's output as numbers and the rest as text."""

    def check_output(self, want, got, optionflags):
        if NUMBER.sub("#", want) != NUMBER.sub("#", got):
            return False
        pairs = zip(NUMBER.findall(want), NUMBER.findall(got), strict=True)
        return all(abs(float(a) - float(b)) <= SHOWN * max(1.0, abs(float(a))) for a, b in pairs)


@pytest.mark.parametrize("name", MODULES)
def test_examples_give_what_they_show(name):
    module = importlib.import_module(name)
    runner = doctest.DocTestRunner(checker=ByNumber(), verbose=False)
    failures: list[str] = []
    for example in doctest.DocTestFinder().find(module, name):
        runner.run(example, out=failures.append)
    assert not failures, "".join(failures)


@pytest.mark.parametrize("name", MODULES)
def test_public_names_say_what_they_are(name):
    path = ROOT.joinpath(*name.split(".")[1:]).with_suffix(".py")
    tree = ast.parse(path.read_text())
    assert ast.get_docstring(tree), f"{name} has no docstring"
    places = [tree.body] + [n.body for n in tree.body if isinstance(n, ast.ClassDef)]
    bare = [
        node.name
        for body in places
        for node in body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and not node.name.startswith("_")
        and not ast.get_docstring(node)
    ]
    assert not bare, f"{name}: no docstring on {bare}"
