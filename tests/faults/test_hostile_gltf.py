"""Bad and odd glTF files: each is refused in a sentence or taken with a notice, quickly, small, and from itself alone.

The files are built in hostile_gltf.py, one table row each: what is said here, what the official validator says, and why
where the two differ. 20 MB of a hostile file must not take 500 MB, nor 2 s of processor time with Python's start: the
limits here are nets with room for a slow machine; `python -m tests.faults.hostile_gltf` prints what each file takes.
"""

import copy
import json
import math
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigkit.files.gltf import read_gltf
from rigkit.files.gltf_write import pack_glb
from rigkit.require import RigError
from tests.arms import PROJECT
from tests.faults.hostile_gltf import CASES, GOOD, READ, parts

HEAVY = {name: case for name, case in CASES.items() if case.heavy}
LIGHT = {name: case for name, case in CASES.items() if not case.heavy}
MOST_MEGABYTES, MOST_SECONDS = 500, 4


@pytest.mark.parametrize("name", LIGHT)
def test_each_is_refused_in_a_sentence_or_taken_with_a_notice(name):
    case = LIGHT[name]
    if case.taken:
        notices = read_gltf(case.build(), "teasel.glb").notices
        assert re.search(case.words, " ".join(notices)) and all(one.isprintable() for one in notices)
    else:
        with pytest.raises(RigError, match=case.words) as refused:
            read_gltf(case.build(), "teasel.glb")
        said = refused.value
        assert said.where.startswith("teasel.glb") and said.next_step, "where, and what to do"
        assert str(said).isprintable() and len(str(said)) < 400


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    base = tmp_path_factory.mktemp("hostile_gltf")
    for number, case in enumerate(CASES.values()):
        (base / f"{number:03}.{case.ending}").write_bytes(case.build())
    return base


def paths(folder, cases):
    numbers = {name: number for number, name in enumerate(CASES)}
    return {name: folder / f"{numbers[name]:03}.{case.ending}" for name, case in cases.items()}


def run(*files):
    """What reading some files in a Python of its own takes and says: for each file a list, see READ."""
    done = subprocess.run([sys.executable, "-c", READ, *map(str, files)], capture_output=True, text=True, cwd=PROJECT,
                          timeout=60)  # fmt: skip
    assert done.returncode == 0, done.stderr[-500:]
    return [json.loads(line) for line in done.stdout.splitlines()]


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="peak memory is read from /proc")
@pytest.mark.parametrize("name", HEAVY)
def test_what_was_built_to_cost_much_does_not(name, folder):
    case = HEAVY[name]
    [(taken, said, _, seconds, megabytes)] = run(paths(folder, HEAVY)[name])
    assert taken == case.taken and re.search(case.words, said)
    assert megabytes < MOST_MEGABYTES and seconds < MOST_SECONDS


def test_nothing_but_the_file_itself_is_opened(folder):
    files = paths(folder, LIGHT)
    for (name, path), (taken, _, opened, _, _) in zip(files.items(), run(*files.values()), strict=True):
        assert taken == LIGHT[name].taken
        assert opened == [str(path)], name


# The official validator --------------------------------------------------------------------------------

VALIDATE = """
const validator = require(process.argv[1] + '/gltf-validator'), fs = require('fs');
let broken;
for (const event of ['uncaughtException', 'unhandledRejection'])
  process.on(event, error => broken({error: String(error)}));
(async () => {
  for (const file of process.argv.slice(2)) {
    const gone = new Promise(done => { broken = done; });
    const found = validator.validateBytes(new Uint8Array(fs.readFileSync(file))).catch(error => ({error: String(error)}));
    const report = await Promise.race([gone, found]);
    const error = report.error && (report.error.includes('could not detect glTF') ? 'not glTF' : 'falls over');
    const codes = error ? [error] : report.issues.messages.filter(one => one.severity === 0).map(one => one.code);
    console.log(JSON.stringify(codes[0] || ''));
  }
})();
"""


def test_the_official_validators_verdict_stands_beside_ours(folder):
    """The heavy files take it over two minutes together, so they are asked only where GLTF_VALIDATOR_ALL is set."""
    where, node = os.environ.get("GLTF_VALIDATOR"), shutil.which("node")
    if not node or not where or not Path(where, "gltf-validator").is_dir():
        pytest.skip("needs node, and GLTF_VALIDATOR naming a node_modules folder with gltf-validator in it")
    asked = {
        n: c
        for n, c in CASES.items()
        if c.official != "no verdict" and (not c.heavy or os.environ.get("GLTF_VALIDATOR_ALL"))
    }
    files = map(str, paths(folder, asked).values())
    done = subprocess.run(
        [node, "-e", VALIDATE, str(Path(where).resolve()), *files], capture_output=True, text=True, check=True
    )
    verdicts = dict(zip(asked, map(json.loads, done.stdout.splitlines()), strict=True))
    assert verdicts == {name: case.official for name, case in asked.items()}


def test_where_the_verdicts_differ_there_is_a_reason():
    assert {name for name, case in CASES.items() if case.differs} == {name for name, case in CASES.items() if case.why}


# The rest ----------------------------------------------------------------------------------------------


def scene_or_sentence(data: bytes) -> None:
    """A file gives a scene of finite numbers that fit together, or a refusal that says where and what to do."""
    try:
        scene = read_gltf(data, "a.glb")
    except RigError as refused:
        assert refused.where.startswith("a.glb") and refused.next_step and str(refused).isprintable()
        return
    if scene.skeleton is not None:
        assert np.all(np.isfinite(scene.skeleton.positions))
        assert all(abs(math.hypot(*turn) - 1) < 1e-6 for turn in scene.skeleton.rotations if turn is not None)
    if scene.mesh is not None:
        assert np.all(np.isfinite(scene.mesh.vertices))
    if scene.weights is not None:
        assert scene.weights.shape == (len(scene.mesh.vertices), len(scene.skeleton))
        np.testing.assert_allclose(scene.weights.sum(axis=1), 1, atol=1e-6)


def places(value, path=()):
    """The paths of all values within a document."""
    found = [path]
    for key, one in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        found += places(one, (*path, key))
    return found


DOCUMENT, BINARY = parts(GOOD)
PATHS = places(DOCUMENT)[1:]
JUNK = st.one_of(
    st.none(), st.booleans(), st.integers(-2, 12), st.integers(-(2**70), 2**70), st.floats(allow_nan=False, allow_infinity=False),
    st.text(max_size=5), st.lists(st.integers(-1, 5), max_size=4), st.lists(st.floats(-2, 2), min_size=3, max_size=16),
    st.dictionaries(st.sampled_from(["POSITION", "JOINTS_0", "count", "a"]), st.integers(-1, 6), max_size=3),
    st.sampled_from([DOCUMENT["nodes"], DOCUMENT["skins"], DOCUMENT["accessors"], [[[]]], 1e38, -1e5, 1e-30]),
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(PATHS), JUNK), min_size=1, max_size=3))
def test_any_value_of_a_good_file_may_be_another(changes):
    document = copy.deepcopy(DOCUMENT)
    for path, value in changes:
        place = document
        try:
            for key in path[:-1]:
                place = place[key]
            place[path[-1]] = copy.deepcopy(value)
        except (KeyError, IndexError, TypeError):
            continue  # an earlier change took the place away
    scene_or_sentence(pack_glb(document, BINARY))


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(st.integers(0, len(GOOD) - 1), st.binary(min_size=1, max_size=4)), min_size=1, max_size=4))
def test_any_bytes_of_a_good_file_may_be_others(changes):
    data = bytearray(GOOD)
    for start, new in changes:
        data[start : start + len(new)] = new
    scene_or_sentence(bytes(data))


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(width=32), min_size=1, max_size=len(BINARY) // 4), st.integers(0, len(BINARY) // 4 - 1))
def test_any_numbers_may_stand_in_the_data(numbers, start):
    raw = np.array(numbers, dtype="<f4").tobytes()[: len(BINARY) - 4 * start]
    scene_or_sentence(pack_glb(DOCUMENT, BINARY[: 4 * start] + raw + BINARY[4 * start + len(raw) :]))
