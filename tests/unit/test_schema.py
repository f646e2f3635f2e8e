"""Published schemas: valid themselves, whole as documentation, fit all that is bundled, and one mind with the readers."""

import copy
import json
import math
import re
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from rigkit.__main__ import main
from rigkit.files.exercise import read_exercise
from rigkit.files.layout import FACING, LONGEST_NAME, METRES, MOST_JOINTS, UP, read_layout
from rigkit.files.rubrics import CRITERIA, read_finding_kinds, read_rubric
from rigkit.limbs import KINDS, practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.naming import CASE_WORDS, read_rule
from rigkit.require import RigError
from rigkit.schema import fits, likely, place, schema_of
from tests.arms import FOLDER, PROJECT

DATA = PROJECT / "data"
RAW = {path.name.split(".")[0]: json.loads(path.read_text("utf-8")) for path in (DATA / "schemas").iterdir()}
CHECKED = {kind: Draft202012Validator(schema) for kind, schema in RAW.items()}
MANY = max(100, settings().max_examples)  # documents of each kind, some of them still good
READ = ("layout", "exercise", "rubric", "naming", "findings")
# What rigkit/schema.py reads. A keyword beyond these would be believed by others and passed over by rigkit.
KEYWORDS = {
    "$schema", "$id", "$defs", "$ref", "title", "description", "type", "const", "enum", "properties", "required",
    "additionalProperties", "minProperties", "items", "minItems", "maxItems", "maxLength", "pattern", "minimum",
    "maximum", "if", "then", "else",
}  # fmt: skip


def nodes(node, named=False):
    """Every schema within a schema."""
    if not named:
        yield node
    for key, inner in node.items():
        if isinstance(inner, dict) and key not in ("const", "enum"):
            yield from nodes(inner, not named and key in ("properties", "$defs"))


# --- the schemas themselves ---


@pytest.mark.parametrize("kind", sorted(RAW))
def test_a_schema_is_one_and_documents_every_key(kind):
    schema = RAW[kind]
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["$id"] == f"urn:rigkit:schema:{kind}:1"
    assert schema["title"] and schema["description"]
    assert schema["properties"]["format"]["const"] == f"rigkit-{kind}"
    assert schema["properties"]["version"]["const"] == 1
    assert {"format", "version"} <= set(schema["required"])
    for node in nodes(schema):
        assert set(node) <= KEYWORDS, "rigkit/schema.py does not read that keyword"
        assert node.get("$ref", "#/$defs/").startswith("#/$defs/"), "nothing is fetched"
        if "properties" in node and "type" in node:
            open_ = kind in ("layout", "results")
            more = node.get("additionalProperties", True)
            assert more is open_ or isinstance(more, dict), "unknown keys are refused but in what is handed in"
        if "type" in node or "$ref" in node:
            for key, inner in node.get("properties", {}).items():
                assert inner.get("description", "").endswith("."), key
                assert len(inner["description"]) < 200, "it is printed in errors"
        if "if" in node:
            asked = set().union(*(part.get("properties", {}) for part in (node["if"],)))
            assert asked <= set(node["required"]), "a key that is absent would make `if` hold"


def test_schemas_and_constants_say_the_same():
    of_layout = RAW["layout"]["properties"]
    assert of_layout["units"]["enum"] == list(METRES)
    assert (of_layout["up"]["enum"], of_layout["facing"]["enum"]) == (list(UP), list(FACING))
    assert (
        of_layout["joints"]["maxItems"]
        == MOST_JOINTS
        == of_layout["joints"]["items"]["properties"]["parent"]["maximum"] + 1
    )
    assert f"{LONGEST_NAME} characters" in of_layout["joints"]["items"]["properties"]["name"]["description"]
    assert list(RAW["rubric"]["properties"]["weights"]["properties"]) == list(CRITERIA)
    finding = RAW["findings"]["properties"]["findings"]["additionalProperties"]["properties"]
    assert finding["criterion"]["enum"] == list(CRITERIA)
    assert RAW["naming"]["properties"]["case"]["enum"] == list(CASE_WORDS)
    assert set(RAW["rubric"]["properties"]["caps"]["properties"]) <= set(read_finding_kinds())
    assert set(read_rubric("standard").weights) == set(CRITERIA)


# --- all that is bundled or made fits, also for others who have the schemas alone ---


def both_accept(document, kind):
    assert [error.message for error in CHECKED[kind].iter_errors(document)] == []
    assert fits(document, kind, "it") is document


def test_bundled_tables_fit():
    found = {"exercise": sorted(DATA.glob("exercises/*/exercise.toml")), "rubric": sorted(DATA.glob("rubrics/*.toml")),
             "naming": sorted(DATA.glob("naming/*.toml")), "findings": [DATA / "findings.toml"]}  # fmt: skip
    for kind, paths in found.items():
        assert paths, kind
        for path in paths:
            both_accept(tomllib.loads(path.read_text("utf-8")), kind)


def test_bundled_layouts_fit():
    paths = [*DATA.glob("exercises/*/*.json"), *DATA.glob("demo-class/*.json")]
    good = 0
    for path in paths:
        try:
            read_layout(path.read_bytes(), path.name)
        except RigError:
            assert path.parent.name == "demo-class"
            continue
        both_accept(json.loads(path.read_bytes()), "layout")
        good += 1
    assert good >= len(paths) - 1 > 10


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_what_is_made_for_every_practice_limb_fits(kind, tmp_path):
    folder = make_exercise(tmp_path / kind, practice_limb(kind, 7))
    both_accept(tomllib.loads((folder / "exercise.toml").read_text("utf-8")), "exercise")
    for path in folder.glob("*.json"):
        both_accept(json.loads(path.read_bytes()), "layout")


def test_the_results_of_the_demo_class_fit(tmp_path):
    roster = tmp_path / "roster.csv"
    roster.write_text("id\nwren\nnobody\n")
    command = [
        "mark",
        str(DATA / "demo-class"),
        "--exercise",
        str(FOLDER),
        "--out",
        str(tmp_path),
        "--roster",
        str(roster),
    ]
    assert main(command) == 0
    results = json.loads((tmp_path / "results.json").read_text("utf-8"))
    assert [error.message for error in CHECKED["results"].iter_errors(results)] == []
    told = {key for one in results["handins"] for key in one}
    assert told == set(RAW["results"]["properties"]["handins"]["items"]["properties"]), "every key is documented"


# --- rigkit/schema.py against the package jsonschema, and the readers against the schemas ---

GOOD = {
    "layout": json.loads((FOLDER / "key.json").read_text("utf-8")) | {
        "id": "wren", "exercise": "left-arm", "attempt": 2, "units": "m", "up": "+y", "facing": "+z"},
    "exercise": tomllib.loads((FOLDER / "exercise.toml").read_text("utf-8")) | {"open": []},
    "rubric": tomllib.loads((DATA / "rubrics" / "standard.toml").read_text("utf-8")),
    "naming": tomllib.loads((DATA / "naming" / "plain.toml").read_text("utf-8")),
    "findings": tomllib.loads((DATA / "findings.toml").read_text("utf-8")),
}  # fmt: skip
GOOD["naming"]["parts"] = dict(list(GOOD["naming"]["parts"].items())[:3])
GOOD["findings"]["findings"] = dict(list(GOOD["findings"]["findings"].items())[:2])
GOOD["layout"]["joints"][1] |= {"rotation": [0.0, 0.0, 0.6, 0.8]}
GOOD["exercise"]["joints"][1] |= {"names": ["bend"]}


def places(document, path=()):
    """The path of every value in a document."""
    yield path
    for step in document if isinstance(document, dict) else range(len(document)) if isinstance(document, list) else ():
        yield from places(document[step], (*path, step))


PLACES = {kind: [path for path in places(document) if path] for kind, document in GOOD.items()}
WORDS = sorted(
    {str(path[-1]) for paths in PLACES.values() for path in paths}
    | {"left", "cm", "+y", "-y", "camel", "region", "", "_"}
)
SCALARS = st.one_of(
    st.none(), st.booleans(), st.integers(-3, 600), st.sampled_from([10**9, 10**9 + 1, 10**200, -1, 2, 1.0, 2.0, 1e200]),
    st.floats(-2e6, 2e6), st.text(max_size=70), st.sampled_from(WORDS), st.sampled_from(["a" * 65, "b" * 1001, "\ud800", "a/b", "0" * 64]),
)  # fmt: skip
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(WORDS), inner, max_size=3),
    max_leaves=6,
)


@st.composite
def spoilt(draw, kind):
    """A good document of a kind with up to three things in it changed."""
    document = copy.deepcopy(GOOD[kind])
    for _ in range(draw(st.sampled_from([1, 1, 1, 2, 3]))):
        *way, last = draw(st.sampled_from(PLACES[kind]))
        holder = document
        try:
            for step in way:
                holder = holder[step]
            if isinstance(last, str) is not isinstance(holder, dict):
                continue  # an earlier change put something else there
            act = draw(st.sampled_from(["drop", "value", "nudge", "nudge", "extra", "rename", "again"]))
            if act == "drop":
                del holder[last]
            elif act == "value":
                holder[last] = draw(VALUES)
            elif act == "nudge" and type(holder[last]) in (int, float):
                holder[last] = holder[last] * draw(st.sampled_from([-1, 0, 0.5, 1, 1.1, 10, 1e6]))
            elif act == "nudge" and isinstance(holder[last], str):
                holder[last] = draw(st.sampled_from([holder[last].upper(), holder[last] + "x", holder[last] + " "]))
            elif act == "again" and isinstance(holder, list):
                holder.append(copy.deepcopy(holder[last]))
            elif isinstance(holder, dict):
                holder[draw(st.sampled_from(WORDS) | st.text(max_size=8))] = (
                    draw(VALUES) if act == "extra" else holder.pop(last)
                )
        except (LookupError, TypeError):
            continue  # or took that place away
    return document


SPOILERS = (
    None,
    True,
    -1,
    0,
    1.0,
    1.5,
    700,
    1e7,
    10**10,
    "",
    "region",
    "x y",
    "y" * 2000,
    [],
    [0, 0, 0],
    [0] * 4,
    {},
    {"x": 1},
)


@pytest.mark.parametrize("kind", READ)
def test_every_place_dropped_and_spoilt_in_every_way(kind):
    for *way, last in PLACES[kind]:
        document = copy.deepcopy(GOOD[kind])
        holder = document
        for step in way:
            holder = holder[step]
        for value in SPOILERS:
            holder[last] = value
            assert accepts(document, kind) == CHECKED[kind].is_valid(document), (*way, last, value)
        del holder[last]
        assert accepts(document, kind) == CHECKED[kind].is_valid(document), (*way, last)


def accepts(document, kind) -> bool:
    try:
        fits(document, kind, "it")
    except RigError:
        return False
    return True


@pytest.mark.parametrize("kind", READ)
@settings(max_examples=MANY)
@given(data=st.data())
def test_rigkit_and_jsonschema_judge_alike(kind, data):
    document = data.draw(spoilt(kind))
    try:
        fits(document, kind, "it.toml")
        refused = None
    except RigError as error:
        refused = error
    assert (refused is None) == CHECKED[kind].is_valid(document), refused
    if refused:
        words = str(refused)
        assert words.startswith("it.toml") and refused.expected and refused.got and "\n" not in words
        assert len(words) < 700


# What a schema cannot say, or only in a way that nobody could read; by the words of the reader's refusal.
ONLY_THE_READER = {
    "layout": {
        "a parent from 0 to": "a schema cannot count the list that a number points into",
        "parents that lead up to a topmost joint": "a schema knows no paths",
        "coordinates within 100,000 m": "the limit in the file's numbers depends on the file's unit",
        "a quaternion of length one": "a schema cannot reckon",
        "facing square to up": "six pairs of axes, each with its defaults",
    },
    "exercise": {
        "a complete exercise": "a draft is a good document, but nobody is marked by it",
        "each role once": "a schema compares whole items only",
        "one of ": "a parent, a neighbour or a landmark that is named but not there",
        "a direction": "a schema cannot reckon a vector's length",
        "two points, one on each side": "nor whether a stretch crosses its plane",
        "straight < least < most": "a schema compares no two numbers",
        "the mesh whose checksum": "it stands in another file",
        "a readable file": "a naming rule or rubric that is not there",
        "a TOML file": "the name of one that no file can have (NUL)",
    },
    "rubric": {
        "at least one weight above 0": "an anyOf of seven branches, whose refusal nobody could read",
        "centring.failing above": "a schema compares no two numbers",
        "fold.failing above": "a schema compares no two numbers",
        "bend.sideways_failing above": "a schema compares no two numbers",
        "frames.bone_failing above": "a schema compares no two numbers",
        "frames.twist_failing above": "a schema compares no two numbers",
        "frames.hinge_failing above": "a schema compares no two numbers",
        "frames.scale_failing above": "a schema compares no two numbers",
        "structure.twist_failing above": "a schema compares no two numbers",
        "structure.twist_off_failing above": "a schema compares no two numbers",
        "mirror.failing_mm above": "a schema compares no two numbers",
        "a table [": "a table is needed only where its criterion has a weight",
        "one of structure.": "an exception names a number of this very rubric",
    },
    "naming": {"two different side marks": "a schema compares no two texts"},
}  # fmt: skip


def toml(value, top=True) -> str:
    """A document as TOML, its inner tables inline."""
    if isinstance(value, dict):
        rows = [f"{toml(key)} = {toml(one, False)}" for key, one in value.items()]
        return "\n".join(rows) if top else "{" + ", ".join(rows) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(toml(one, False) for one in value) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


@pytest.fixture(scope="module")
def readers(tmp_path_factory):
    base = tmp_path_factory.mktemp("read")
    folder = base / "left-arm"
    folder.mkdir()
    (folder / "mesh.glb").write_bytes((FOLDER / "mesh.glb").read_bytes())

    def by(name, read, where):
        def reader(document):
            (base / name).write_text(toml(document), encoding="utf-8")
            return read(where)

        return reader

    return {
        "layout": lambda document: read_layout(json.dumps(document).encode(), "it.json"),
        "exercise": by("left-arm/exercise.toml", read_exercise, folder),
        "rubric": by("it-rubric.toml", read_rubric, base / "it-rubric.toml"),
        "naming": by("it-naming.toml", read_rule, base / "it-naming.toml"),
    }


def outcome(reader, document, kind):
    """None where the reader takes a document, else its refusal; the schema must agree, or the difference be listed."""
    valid = CHECKED[kind].is_valid(document)
    try:
        reader(document)
    except RigError as error:
        listed = [words for words in ONLY_THE_READER[kind] if error.expected.startswith(words)]
        assert not valid or listed, f"the schema takes what the reader refuses: {error}"
        return error
    assert valid, "the reader takes what the schema refuses"
    return None


@pytest.mark.parametrize("kind", sorted(ONLY_THE_READER))
@settings(max_examples=MANY)
@given(data=st.data())
def test_readers_and_schemas_judge_alike(readers, kind, data):
    document = data.draw(spoilt(kind))
    if kind != "layout":  # TOML has no null, and no lone surrogates
        text = toml(document)
        if "null" in text or not text.isascii() and re.search("[\ud800-\udfff]", text):
            return
        assert tomllib.loads(toml(document)) == document
    outcome(readers[kind], document, kind)


def changed(kind, *ways):
    document = copy.deepcopy(GOOD[kind])
    for *way, last, value in ways:
        holder = document
        for step in way:
            holder = holder[step]
        holder[last] = value
    return document


def test_each_listed_difference_is_one(readers):
    """Each entry of ONLY_THE_READER with a document that the schema takes and the reader refuses for that reason."""
    cases = {
        "layout": [
            changed("layout", ("joints", 0, "parent", 7)), changed("layout", ("joints", 0, "parent", 2)),
            changed("layout", ("joints", 0, "position", [2e5, 0, 0])), changed("layout", ("joints", 1, "rotation", [0, 0, 0, 0])),
            changed("layout", ("facing", "+y")),
        ],
        "exercise": [
            changed("exercise", ("open", ["which way?"])), changed("exercise", ("joints", 2, "role", "shoulder")),
            changed("exercise", ("joints", 1, "parent", "wrist")), changed("exercise", ("joints", 1, "plane", [0, 0, 0])),
            changed("exercise", ("joints", 1, "stretch", [[0, 0, 0], [0, 0, 0]])),
            changed("exercise", ("joints", 1, "fold", "least", 0.9)), changed("exercise", ("mesh_sha256", "0" * 64)),
            changed("exercise", ("rubric", "nowhere")), changed("exercise", ("rubric", "no\0where")),
        ],
        "rubric": [
            changed("rubric", ("weights", {})), changed("rubric", ("centring", "failing", 0.1)),
            changed("rubric", ("fold", "failing", 0.05)), changed("rubric", ("bend", "sideways_failing", 0)),
            changed("rubric", ("frames", "bone_failing", 1)), changed("rubric", ("frames", "twist_failing", 1)),
            changed("rubric", ("frames", "hinge_failing", 1)), changed("rubric", ("frames", "scale_failing", 0.05)),
            changed("rubric", ("structure", "twist_failing", 0.05)), changed("rubric", ("structure", "twist_off_failing", 0.1)),
            changed("rubric", ("mirror", "failing_mm", 1)),
            {key: value for key, value in changed("rubric").items() if key != "mirror"},
            changed("rubric", ("joints", {"elbow": {"centring.alowed": 0.3}})),
        ],
        "naming": [changed("naming", ("sides", "right", "LEFT"))],
    }  # fmt: skip
    for kind, documents in cases.items():
        for words, document in zip(ONLY_THE_READER[kind], documents, strict=True):
            assert CHECKED[kind].is_valid(document)
            assert outcome(readers[kind], document, kind).expected.startswith(words)


def test_numbers_that_json_has_and_a_float_has_not():
    """1e999 and 10**400 are numbers to JSON; NaN is none, but a number to TOML and to the package jsonschema."""
    for value in (math.inf, -math.inf, math.nan, 10**400):
        document = changed("layout", ("joints", 0, "position", [value, 0, 0]))
        assert CHECKED["layout"].is_valid(document)
        with pytest.raises(RigError, match=r"joint 0 \(left_shoulder\), position, item 1: expected a finite number"):
            fits(document, "layout", "it")


def test_a_pattern_ends_at_the_end():
    """ECMA-262's $, which JSON Schema means, is the end; Python's, and so the package jsonschema's, also passes a last line break."""
    document = changed("naming", ("sides", "left", "left\n"))
    assert CHECKED["naming"].is_valid(document)
    with pytest.raises(RigError, match=r"sides.left: expected letters a to z"):
        fits(document, "naming", "it")


# --- the words ---


@pytest.mark.parametrize(
    ("document", "kind", "said"),
    [
        ([], "rubric", 'own: expected a rubric, which says format "rigkit-rubric", got a list. Probably another kind of file.'),
        (GOOD["naming"], "rubric", "own: expected a rubric, which says format \"rigkit-rubric\", got format 'rigkit-naming'."),
        (changed("rubric", ("version", 2)), "rubric", "own: expected version 1, got version 2. Probably written by a newer rigkit."),
        (changed("rubric", ("version", True)), "rubric", "own: expected version 1, got version true. Take"),
        (changed("rubric", ("weigths", {})), "rubric", "own: expected the key weights, got the key 'weigths'. Mend or remove it."),
        (changed("rubric", ("names", "part", "0.5")), "rubric",
         "own, names.part: expected a number from 0 to 1, got '0.5'. Probably the number stands in quotes. It says another part, or none"),
        (changed("exercise", ("joints", 1, "fold", "between", ["shoulder"])), "exercise",
         "own, joint 1 (elbow), fold.between: expected two roles, got ['shoulder']. The roles of its two neighbours"),
        (changed("exercise", ("joints", 1, "stretch", 1, 2, "0")), "exercise",
         "own, joint 1 (elbow), stretch, item 2, item 3: expected a number from -100000 to 100000, got '0'. Probably the number"),
        (changed("exercise", ("side", "Left")), "exercise", "own, side: expected one of left, right, middle, got 'Left'. Probably left was meant."),
        (changed("exercise", ("title", "x" * 300)), "exercise", "own, title: expected at most 200 characters, got 300 characters. What people read."),
        (changed("layout", ("joints", 2, "parent", "left_elbow")), "layout",
         "own, joint 2 (left_wrist), parent: expected the parent's number in the list, or null, got 'left_elbow'. "
         "Probably the parent's name was written. The parent's number in the list, counted from 0; null"),
    ],
)  # fmt: skip
def test_words(document, kind, said):
    with pytest.raises(RigError) as error:
        fits(document, kind, "own")
    assert str(error.value).startswith(said)


def test_a_missing_key_that_is_there_under_another_name():
    document = changed("rubric")
    document["Centring"] = document.pop("centring")
    with pytest.raises(
        RigError, match="own: expected the key centring, got the key 'Centring'. Offset from the middle"
    ):
        fits(document, "rubric", "own")


def test_places_are_printable_whatever_the_keys_are():
    document = {"joints": [{"name": "a\nb\u202e" + "c" * 100, "p": 0}], "k\n" + "x" * 100: [1]}
    for path in places(document):
        assert place(document, path).isprintable() and len(place(document, path)) < 120


def test_slips():
    known = schema_of("layout")["properties"]["joints"]["items"]["properties"]
    assert [likely(word, known) for word in ("positon", "Name", "rotations", "colour", "", "p" * 10**6)] == [
        "position",
        "name",
        "rotation",
        "",
        "",
        "",
    ]
