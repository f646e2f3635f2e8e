"""glTF in and out: what is written comes back, and hostile bytes are refused in words, never by a crash."""

import base64
import copy
import json
import os
import shutil
import struct
import subprocess
from pathlib import Path

import numpy as np
import pytest

from rigkit.files.gltf import GltfScene, read_gltf
from rigkit.files.gltf_parts import LARGEST
from rigkit.files.gltf_write import pack_glb, skinned_glb, vertex_normals, write_glb
from rigkit.frames import quaternion_from_rotation, rotation_about, rotation_from_quaternion
from rigkit.limbs import practice_arm
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.tolerance import STORED
from tests.shapes import prism

TETRAHEDRON = Mesh([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], [[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])


def turned(axis, degrees):
    return quaternion_from_rotation(rotation_about(np.array(axis, dtype=float), np.radians(degrees)))


ARM = Skeleton(
    ("wrist", "shoulder", "elbow"), (2, None, 1), np.array([[0.5, 0.9, 0.0], [0.2, 1.4, 0.0], [0.4, 1.1, -0.02]]),
    (turned([0, 1, 0], 30), turned([1, 0, 0], -50), turned([0.6, 0, 0.8], 170)),
)  # fmt: skip


def parts(glb: bytes) -> tuple[dict, bytes]:
    size = struct.unpack_from("<I", glb, 12)[0]
    return json.loads(glb[20 : 20 + size]), glb[28 + size :]


def changed(change, mesh=TETRAHEDRON, skeleton=ARM, weights="even") -> bytes:
    """A good file after `change(document)`; the binary chunk may be changed through what it returns."""
    if isinstance(weights, str):
        weights = np.full((len(mesh.vertices), len(skeleton)), 1 / 3)
    document, binary = parts(write_glb(mesh, skeleton, weights))
    return pack_glb(document, change(document) or binary)


def same_turn(a, b):
    return abs(abs(np.dot(a, b)) - 1) < STORED


# There and back ----------------------------------------------------------------------------------------


def test_a_mesh_comes_back_as_float32_in_the_same_order():
    mesh = practice_arm(7).mesh
    scene = read_gltf(write_glb(mesh), "arm.glb")
    np.testing.assert_array_equal(scene.mesh.vertices, mesh.vertices.astype(np.float32))
    np.testing.assert_array_equal(scene.mesh.triangles, mesh.triangles)
    assert scene.skeleton is None and scene.notices == ()


@pytest.mark.parametrize("weights", [None, np.full((4, 3), 1 / 3)], ids=["nodes", "skin"])
def test_joints_come_back_with_names_parents_places_and_turns(weights):
    scene = read_gltf(write_glb(TETRAHEDRON, ARM, weights), "arm.glb")
    assert scene.skeleton.names == ARM.names and scene.skeleton.parents == ARM.parents
    np.testing.assert_allclose(scene.skeleton.positions, ARM.positions, atol=STORED)
    assert all(same_turn(a, b) for a, b in zip(scene.skeleton.rotations, ARM.rotations, strict=True))
    np.testing.assert_array_equal(scene.mesh.vertices, TETRAHEDRON.vertices)
    assert scene.notices == ()


def test_weights_come_back_and_frames_that_nobody_set_stay_unset():
    weights = np.array([[1.0, 0, 0], [0.25, 0.75, 0], [0.2, 0.3, 0.5], [0, 0, 1]])
    some = Skeleton(ARM.names, ARM.parents, ARM.positions, (None, ARM.rotations[1], None))
    scene = read_gltf(write_glb(TETRAHEDRON, some, weights), "arm.glb")
    np.testing.assert_allclose(scene.weights, weights, atol=1e-7)
    assert [turn is None for turn in scene.skeleton.rotations] == [True, False, True] and scene.notices == ()


def test_a_layout_goes_out_with_its_skin_and_comes_back():
    arm = practice_arm(7)
    scene = read_gltf(skinned_glb(arm.mesh, arm.key), "arm.glb")
    assert (scene.skeleton.names, scene.skeleton.parents) == (arm.key.names, arm.key.parents)
    np.testing.assert_allclose(scene.skeleton.positions, arm.key.positions, rtol=0, atol=STORED)
    np.testing.assert_array_equal(scene.mesh.vertices, arm.mesh.vertices.astype(np.float32))
    few = Skeleton(arm.key.names[:3], arm.key.parents[:3], arm.key.positions[:3])
    scene = read_gltf(skinned_glb(arm.mesh, few), "arm.glb")
    hand = arm.mesh.vertices[:, 1] < arm.key.positions[arm.key.index("left_wrist"), 1] - 0.06
    assert hand.sum() > 100 and scene.weights[hand, few.index("left_wrist")].min() > 0.8, "the hand follows the wrist"


def test_the_same_input_gives_the_same_bytes():
    arm = practice_arm(7)
    assert write_glb(arm.mesh, arm.key) == write_glb(practice_arm(7).mesh, practice_arm(7).key)


def test_more_than_65534_vertices_come_back():
    many = np.tile(TETRAHEDRON.vertices, (20_000, 1)) + np.repeat(np.arange(20_000), 4)[:, None] * 0.01
    triangles = np.concatenate([TETRAHEDRON.triangles + 4 * n for n in range(20_000)])
    scene = read_gltf(write_glb(Mesh(many, triangles)), "many.glb")
    np.testing.assert_array_equal(scene.mesh.triangles, triangles)


def test_normals_have_length_one_and_point_outward():
    mesh = practice_arm(7).mesh
    normals = vertex_normals(mesh)
    np.testing.assert_allclose(np.linalg.norm(normals, axis=1), 1, atol=3e-5)
    faces = mesh.normals / np.linalg.norm(mesh.normals, axis=1, keepdims=True)
    assert np.sum(faces * normals[mesh.triangles].mean(axis=1), axis=1).min() > 0


# By symmetry a cube's corner looks along its diagonal, however its faces are cut into triangles; doubled vertices,
# as files have them along seams, share one normal.
def test_a_cubes_corners_look_along_its_diagonals():
    cube = prism(np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]]), -1, 1)
    torn = Mesh(cube.corners.reshape(-1, 3), np.arange(3 * len(cube.triangles)).reshape(-1, 3))
    for mesh in (cube, torn):
        corner = np.all(np.abs(mesh.vertices) == 1, axis=1)
        expected = mesh.vertices[corner] / np.sqrt(3)
        np.testing.assert_allclose(vertex_normals(mesh)[corner], expected, rtol=0, atol=1e-5)


def test_a_gltf_with_embedded_data_reads_like_its_glb():
    document, binary = parts(write_glb(TETRAHEDRON, ARM, np.full((4, 3), 1 / 3)))
    document["buffers"][0]["uri"] = "data:application/octet-stream;base64," + base64.b64encode(binary).decode()
    scene = read_gltf(json.dumps(document, indent=1).encode(), "arm.gltf")
    np.testing.assert_array_equal(scene.mesh.vertices, TETRAHEDRON.vertices)
    np.testing.assert_allclose(scene.skeleton.positions, ARM.positions, atol=STORED)


@pytest.mark.parametrize(
    "weights", [np.full((4, 2), 0.5), np.zeros((4, 3)), np.full((4, 3), -1.0), np.full((4, 3), np.nan)]
)
def test_weights_that_do_not_fit_are_refused(weights):
    with pytest.raises(RigError, match="weights"):
        write_glb(TETRAHEDRON, ARM, weights)


# What other programs write -----------------------------------------------------------------------------


def test_places_go_through_the_tree_of_nodes():
    nodes = [
        {
            "name": "top",
            "translation": [1, 2, 3],
            "rotation": [0, 0, 0.7071067811865476, 0.7071067811865476],
            "children": [1],
        },
        {"name": "below", "translation": [1, 0, 0], "scale": [2, 2, 2], "children": [2]},
        # Column by column: a translation of (0, 3, 0).
        {"name": "end", "matrix": [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 3, 0, 1]},
    ]
    scene = read_gltf(json.dumps({"asset": {"version": "2.0"}, "nodes": nodes}).encode(), "a.gltf")
    # A quarter turn about z carries x to y and y to -x; by hand.
    np.testing.assert_allclose(scene.skeleton.positions, [[1, 2, 3], [1, 3, 3], [-5, 3, 3]], atol=1e-12)
    assert scene.mesh is None
    assert all(same_turn(r, turned([0, 0, 1], 90)) for r in scene.skeleton.rotations)


def test_a_pose_is_undone_by_the_inverse_bind_matrices():
    def pose(document):
        elbow = next(node for node in document["nodes"] if node["name"] == "elbow")
        elbow["rotation"] = turned([0, 0, 1], 80).tolist()

    scene = read_gltf(changed(pose), "posed.glb")
    np.testing.assert_allclose(scene.skeleton.positions, ARM.positions, atol=STORED)
    assert any("pose" in notice for notice in scene.notices)


def test_mesh_and_joints_stay_together_under_a_scaled_node():
    """An exporter in centimetres: everything hangs below a node that scales by 0.01."""

    def shrink(document):
        roots = document["scenes"][0]["nodes"]
        document["nodes"].append({"name": "all", "scale": [0.01, 0.01, 0.01], "children": roots})
        document["scenes"][0]["nodes"] = [len(document["nodes"]) - 1]

    scene = read_gltf(changed(shrink), "small.glb")
    np.testing.assert_allclose(scene.skeleton.positions, ARM.positions * 0.01, atol=STORED)
    np.testing.assert_allclose(scene.mesh.vertices, TETRAHEDRON.vertices * 0.01, atol=STORED)


def test_a_mirroring_node_keeps_the_outside_outside():
    def mirror(document):
        document["nodes"][0]["scale"] = [-1, 1, 1]
        del document["nodes"][0]["skin"]

    mesh = read_gltf(changed(mirror), "mirror.glb").mesh
    assert mesh.volume == pytest.approx(TETRAHEDRON.volume)
    assert mesh.bounds[0, 0] == -1


def test_several_meshes_and_skins_are_told():
    def double(document):
        document["nodes"].append({"mesh": 0, "translation": [5, 0, 0]})
        document["scenes"][0]["nodes"].append(len(document["nodes"]) - 1)
        document["skins"].append(document["skins"][0])

    scene = read_gltf(changed(double), "two.glb")
    assert len(scene.mesh.vertices) == 4, "what does not hang on the joints is left out"
    assert any("2 meshes. Taken as one: flesh. Left out: flesh." in notice for notice in scene.notices)
    assert any(
        "2 skins: 0 skin_0 (3 joints), 1 skin_1 (3 joints). The joints of 0, 1 count." in n for n in scene.notices
    )
    both = read_gltf(changed(double), "two.glb", meshes=["flesh"]).mesh
    assert len(both.vertices) == 8 and both.is_closed


def test_lines_are_left_out_and_told():
    def lines(document):
        document["meshes"][0]["primitives"][0]["mode"] = 1

    scene = read_gltf(changed(lines), "lines.glb")
    assert scene.mesh is None and any("triangles" in notice for notice in scene.notices)


def test_signs_that_cannot_be_shown_leave_the_names():
    def name(document):
        document["nodes"][1]["name"] = "wri\u202est\x07"

    assert read_gltf(changed(name), "a.glb").skeleton.names[0] == "wrist"


# In another exporter's manner --------------------------------------------------------------------------
# A file as programs write it that work in centimetres, Z up: all hangs below a node that sizes and turns it, the
# joints were left in a pose, some have no name, a clavicle and a twist joint stand where no exercise asks for them,
# an end hangs below the skin's joints, and there are several meshes and skins. Built by hand from what is true.

JOINTS = {  # name: the joint above, its place in metres, its turn about an axis in degrees
    "root": (None, [0.0, 0.9, 0.0], ([1, 0, 0], 0)),
    "clavicle": ("root", [0.03, 1.45, 0.02], ([0, 0, 1], -90)),
    "shoulder": ("clavicle", [0.2, 1.42, 0.0], ([0, 0, 1], -125)),
    "twist": ("shoulder", [0.28, 1.3, -0.01], ([0, 0, 1], -125)),
    "elbow": ("shoulder", [0.36, 1.18, -0.02], ([0, 0.6, 0.8], -120)),
    "wrist": ("elbow", [0.5, 0.98, 0.0], ([0.6, 0, 0.8], -120)),
    "end": ("wrist", [0.55, 0.9, 0.01], ([0.6, 0, 0.8], -120)),
}
POSES = {  # turns, in the joints' own frames, that they were left in
    "none": {},
    "arm": {"shoulder": ([0, 0, 1], 25), "elbow": ([1, 0, 0], 80)},
    "all": {"root": ([0, 1, 0], 20), "shoulder": ([0, 0, 1], 25), "elbow": ([1, 0, 0], 80), "wrist": ([1, 0, 0], 5)},
}
SIZED = np.diag([0.01, 0.01, 0.01, 1.0])
SIZED[:3, :3] = rotation_about(np.array([1.0, 0, 0]), -np.pi / 2) * 0.01
MOVED = np.eye(4)
MOVED[:3, 3] = [0.0, 0.3, 0.1]
# Where the mesh's numbers stood when it was bound: as the topmost node has it, in the world, or as its own node has it.
BOUND_IN = {"sized": SIZED, "world": np.eye(4), "own": MOVED}
BODY = prism(np.array([[-0.2, -0.1], [0.5, -0.1], [0.5, 0.1], [-0.2, 0.1]]), 0.8, 1.5)
SHIRT, BUCKLE, FERRY = (Mesh(TETRAHEDRON.vertices * size + at, TETRAHEDRON.triangles)
                        for size, at in ((0.3, [0.2, 1.2, 0]), (0.02, [0.36, 1.2, 0]), (4.0, [0, 0, 0])))  # fmt: skip


def placed(rotation, place) -> np.ndarray:
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = rotation, place
    return matrix


def carried(matrix, points) -> np.ndarray:
    return points @ matrix[:3, :3].T + matrix[:3, 3]


TRUE = {
    name: placed(rotation_about(np.array(axis, dtype=float), np.radians(turn)), place)
    for name, (_, place, (axis, turn)) in JOINTS.items()
}


class Sheet:
    """A file in the making: its document and its data."""

    def __init__(self):
        self.document = {"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": []}], "nodes": [], "meshes": [],
                         "accessors": [], "bufferViews": [], "skins": [], "buffers": [{}]}  # fmt: skip
        self.data = bytearray()

    def store(self, array, shape, component, **more) -> int:
        self.document["bufferViews"].append({"buffer": 0, "byteOffset": len(self.data), "byteLength": array.nbytes})
        self.data += array.tobytes() + bytes(-array.nbytes % 4)
        number = len(self.document["accessors"])
        self.document["accessors"].append(
            {"bufferView": number, "componentType": component, "count": len(array), "type": shape} | more
        )
        return number

    def mesh(self, name, points, triangles, pulls=None) -> int:
        attributes = {"POSITION": self.store(points.astype("<f4"), "VEC3", 5126)}
        attributes |= {} if pulls is None else pulls(self)
        indices = self.store(triangles.ravel().astype("<u2"), "SCALAR", 5123)
        self.document["meshes"].append({"name": name, "primitives": [{"attributes": attributes, "indices": indices}]})
        return len(self.document["meshes"]) - 1

    def glb(self) -> bytes:
        self.document["buffers"] = [{"byteLength": len(self.data)}]
        return pack_glb(self.document, bytes(self.data))


def exported(pose: str, bound_in: str) -> bytes:
    sheet, frame = Sheet(), BOUND_IN[bound_in]
    names = list(JOINTS)
    # As bound, in centimetres, Z up, below the topmost node: without a size of their own.
    local = {name: placed(np.linalg.inv(SIZED[:3, :3] * 100) @ true[:3, :3], carried(np.linalg.inv(SIZED), true[:3, 3]))
             for name, true in TRUE.items()}  # fmt: skip
    nodes = [{"name": "figure", "rotation": turned([1, 0, 0], -90).tolist(), "scale": [0.01] * 3, "children": [1]}]
    for name, (parent, _, _) in JOINTS.items():
        below = local[name] if parent is None else np.linalg.inv(local[parent]) @ local[name]
        if name in POSES[pose]:
            axis, turn = POSES[pose][name]
            below = below @ placed(rotation_about(np.array(axis, dtype=float), np.radians(turn)), [0, 0, 0])
        node = {
            "matrix": below.T.ravel().tolist(),
            "children": [1 + names.index(n) for n in JOINTS if JOINTS[n][0] == name],
        }
        nodes.append(
            {key: value for key, value in node.items() if value != []} | ({} if name == "twist" else {"name": name})
        )

    def skin(joints):
        undone = np.array([np.linalg.inv(SIZED @ local[name]) @ frame for name in joints])
        bind = sheet.store(undone.transpose(0, 2, 1).reshape(-1, 16).astype("<f4"), "MAT4", 5126)
        sheet.document["skins"].append({"joints": [1 + names.index(n) for n in joints], "inverseBindMatrices": bind})

    def by_bytes(sheet):  # each corner pulled by the shoulder (number 2) and the elbow (4), 51 to 204
        joints = np.tile(np.array([2, 4, 0, 0], "<u1"), (len(BODY.vertices), 1))
        shares = np.tile(np.array([51, 204, 0, 0], "<u1"), (len(BODY.vertices), 1))
        return {
            "JOINTS_0": sheet.store(joints, "VEC4", 5121),
            "WEIGHTS_0": sheet.store(shares, "VEC4", 5121, normalized=True),
        }

    def by_floats(sheet):  # by the wrist, which is the shirt's skin's number 0
        joints, shares = np.zeros((4, 4), "<u2"), np.tile(np.array([1, 0, 0, 0], "<f4"), (4, 1))
        return {"JOINTS_0": sheet.store(joints, "VEC4", 5123), "WEIGHTS_0": sheet.store(shares, "VEC4", 5126)}

    skin(["root", "clavicle", "shoulder", "twist", "elbow", "wrist"])
    skin(["wrist", "elbow"])
    undone = np.linalg.inv(frame)
    body = sheet.mesh("body", carried(undone, BODY.vertices), BODY.triangles, by_bytes)
    shirt = sheet.mesh("shirt", carried(undone, SHIRT.vertices), SHIRT.triangles, by_floats)
    buckle = sheet.mesh("buckle", carried(np.linalg.inv(SIZED @ local["elbow"]), BUCKLE.vertices), BUCKLE.triangles)
    ferry = sheet.mesh("ferry", FERRY.vertices, FERRY.triangles)
    own = {"translation": MOVED[:3, 3].tolist()} if bound_in == "own" else {}
    first = len(nodes)
    nodes += [{"mesh": body, "skin": 0, **own}, {"mesh": shirt, "skin": 1, **own}, {"mesh": buckle}, {"mesh": ferry}]
    nodes[1 + names.index("elbow")]["children"].append(first + 2)
    sheet.document["nodes"] = nodes
    sheet.document["scenes"][0]["nodes"] = [0, first, first + 1, first + 3]
    return sheet.glb()


@pytest.mark.parametrize("bound_in", BOUND_IN)
@pytest.mark.parametrize("pose", POSES)
def test_a_skeleton_in_another_exporters_manner_is_read_right(pose, bound_in):
    scene = read_gltf(exported(pose, bound_in), "orlo.glb")
    skeleton = scene.skeleton
    assert skeleton.names == ("root", "clavicle", "shoulder", "node_4", "elbow", "wrist", "end")
    assert skeleton.parents == (None, 0, 1, 2, 2, 4, 5)
    np.testing.assert_allclose(skeleton.positions, [true[:3, 3] for true in TRUE.values()], atol=STORED)
    for turn, true in zip(skeleton.rotations, TRUE.values(), strict=True):
        np.testing.assert_allclose(rotation_from_quaternion(turn), true[:3, :3], atol=2e-6)
    taken = (BODY, SHIRT, BUCKLE)
    np.testing.assert_allclose(scene.mesh.vertices, np.concatenate([one.vertices for one in taken]), atol=STORED)
    starts = np.cumsum([0, len(BODY.vertices), len(SHIRT.vertices)])
    np.testing.assert_array_equal(scene.mesh.triangles,
                                  np.concatenate([one.triangles + n for one, n in zip(taken, starts, strict=True)]))  # fmt: skip
    expected = np.zeros((starts[2] + 4, 7))
    expected[: starts[1], [2, 4]], expected[starts[1] : starts[2], 5], expected[starts[2] :, 4] = [0.2, 0.8], 1, 1
    np.testing.assert_allclose(scene.weights, expected, atol=1e-7)
    told = " ".join(scene.notices)
    assert ("left in a pose" in told) == (pose != "none")
    for words in ("2 skins: 0 skin_0 (6 joints), 1 skin_1 (2 joints). The joints of 0, 1 count.",
                  "4 meshes. Taken as one: body, shirt, buckle. Left out: ferry.",
                  "taken as joints too: end.", "without a name are called node_ and their number: 1."):  # fmt: skip
        assert words in told


def test_the_caller_chooses_skin_and_meshes():
    data = exported("arm", "sized")
    scene = read_gltf(data, "orlo.glb", skin="skin_1", meshes=["ferry", 1])
    assert scene.skeleton.names == ("wrist", "elbow", "end") and scene.skeleton.parents == (1, None, 0)
    np.testing.assert_allclose(scene.skeleton.positions, [TRUE[n][:3, 3] for n in scene.skeleton.names], atol=STORED)
    np.testing.assert_allclose(scene.mesh.vertices, np.concatenate([SHIRT.vertices, FERRY.vertices]), atol=STORED)
    assert scene.meshes == ("body", "shirt", "buckle", "ferry") and scene.skins == ("skin_0", "skin_1")
    for wrong in ({"skin": 2}, {"skin": "hat"}, {"meshes": [True]}, {"meshes": ["hat"]}, {"meshes": [-1]}):
        with pytest.raises(RigError, match="orlo.glb, the (skin|mesh): expected one of 0 "):
            read_gltf(data, "orlo.glb", **wrong)


def test_a_bare_tree_below_a_sized_and_turned_node_is_read_right():
    def strip(document):
        document["nodes"] = [
            {k: v for k, v in node.items() if k not in ("mesh", "skin")} for node in document["nodes"][:8]
        ]
        document["nodes"][5]["children"].pop()  # the buckle
        document["scenes"][0]["nodes"] = [0]

    document, binary = parts(exported("none", "sized"))
    strip(document)
    for key in ("skins", "meshes"):
        del document[key]
    scene = read_gltf(pack_glb(document, binary), "tree.glb")
    assert scene.skeleton.names == ("root", "clavicle", "shoulder", "node_4", "elbow", "wrist", "end")
    assert scene.skeleton.parents == (None, 0, 1, 2, 2, 4, 5) and scene.mesh is None
    np.testing.assert_allclose(scene.skeleton.positions, [true[:3, 3] for true in TRUE.values()], atol=1e-12)
    assert any("no joints: figure" in notice for notice in scene.notices)


def test_meshes_that_hang_on_the_joints_of_a_bare_tree_follow_them():
    nodes = [{"name": "arm", "translation": [0, 1, 0], "children": [1, 2]}, {"name": "hand", "translation": [1, 0, 0]},
             {"mesh": 0, "name": "sleeve"}]  # fmt: skip
    document, binary = parts(write_glb(TETRAHEDRON))
    scene = read_gltf(pack_glb(document | {"nodes": nodes, "scenes": [{"nodes": [0]}]}, binary), "jointed.glb")
    assert scene.skeleton.names == ("arm", "hand")
    np.testing.assert_array_equal(scene.mesh.vertices, TETRAHEDRON.vertices + [0, 1, 0])
    np.testing.assert_array_equal(scene.weights, [[1, 0]] * 4)


def test_sheared_frames_have_a_place_and_no_turn():
    nodes = [{"scale": [1, 3, 1], "translation": [1, 0, 0], "children": [1]},
             {"rotation": turned([0, 0, 1], 45).tolist(), "children": [2]}, {"translation": [1, 0, 0]}]  # fmt: skip
    scene = read_gltf(json.dumps({"asset": {"version": "2.0"}, "nodes": nodes}).encode(), "a.gltf")
    # By hand: (cos 45, 3 sin 45) from the first, whose y is three times as long.
    np.testing.assert_allclose(scene.skeleton.positions[2], [1 + np.sqrt(0.5), 3 * np.sqrt(0.5), 0], atol=1e-12)
    assert [turn is None for turn in scene.skeleton.rotations] == [False, True, True]
    assert any("has no turn: 2" in notice for notice in scene.notices)
    assert [np.round(np.linalg.det(one), 9) for one in scene.bases] == [3.0, 3.0, 3.0]
    np.testing.assert_allclose(scene.bases[1] @ [1, 0, 0], np.sqrt(0.5) * np.array([1, 3, 0]), atol=1e-12)


def test_a_frame_that_is_hardly_sheared_is_read_as_a_turn():
    matrix = np.eye(4)
    matrix[0, 1] = 0.00099  # more than what a rotation may be off once its axes are of length one
    matrix[2, 1] = 0.0009
    nodes = [{"matrix": matrix.T.ravel().tolist()}]
    scene = read_gltf(json.dumps({"asset": {"version": "2.0"}, "nodes": nodes}).encode(), "a.gltf")
    assert same_turn(scene.skeleton.rotations[0], [0, 0, 0, 1])


def test_parts_that_share_their_vertices_share_them_here():
    def split(document):
        primitive = document["meshes"][0]["primitives"][0]
        first = document["accessors"][primitive["indices"]]
        document["accessors"] += [first | {"count": 6}, first | {"count": 6, "byteOffset": 12}]
        document["meshes"][0]["primitives"] = [
            primitive | {"indices": len(document["accessors"]) - 2 + n, "material": n} for n in (0, 1)
        ]
        document["materials"] = [{}, {}]

    scene = read_gltf(changed(split), "two.glb")
    np.testing.assert_array_equal(scene.mesh.vertices, TETRAHEDRON.vertices)
    np.testing.assert_array_equal(scene.mesh.triangles, TETRAHEDRON.triangles)
    assert scene.weights.shape == (4, 3)


def test_what_is_not_in_the_scene_is_left_out():
    nodes = [{"name": "arm", "children": [1]}, {"name": "hand"}, {"name": "old"}, {"mesh": 0}]
    document, binary = parts(write_glb(TETRAHEDRON))
    document |= {"nodes": nodes, "scenes": [{"nodes": [2]}, {"nodes": [0]}], "scene": 1}
    scene = read_gltf(pack_glb(document, binary), "two.glb")
    assert scene.skeleton.names == ("arm", "hand") and scene.mesh is None
    assert any("not in the scene were left out: 2" in notice for notice in scene.notices)
    scene = read_gltf(changed(lambda document: document["scenes"][0].update(nodes=[2])), "joints.glb")
    assert len(scene.skeleton) == 3 and scene.mesh is None


# Hostile bytes -----------------------------------------------------------------------------------------

GOOD = changed(lambda document: None)


def setter(*path_and_value):
    *path, value = path_and_value

    def change(document):
        place = document
        for key in path[:-1]:
            place = place[key]
        place[path[-1]] = value

    return change


def corrupt_floats(value):
    def change(document):
        binary = bytearray(parts(GOOD)[1])
        struct.pack_into("<f", binary, 4, value)
        return bytes(binary)

    return change


def drop_root(document):
    """Two nodes that are each other's child."""
    document["nodes"][1]["children"] = [2]
    document["nodes"][2]["children"] = [1]
    document["nodes"][3]["children"] = []


BROKEN = {
    "NaN": (corrupt_floats(np.nan), "accessor 0: .*NaN or infinity in row 0"),
    "infinity": (corrupt_floats(np.inf), "accessor 0: .*NaN or infinity in row 0"),
    "too far": (corrupt_floats(1e30), "units"),
    "a file elsewhere": (setter("buffers", 0, "uri", "/etc/passwd"), "not opened"),
    "a host elsewhere": (setter("buffers", 0, "uri", "http://example.org/a.bin"), "not opened"),
    "not base64": (setter("buffers", 0, "uri", "data:a/b;base64,%%%"), "base64"),
    "short data": (setter("buffers", 0, "uri", "data:a/b;base64,AAAA"), "cut off"),
    "huge count": (setter("accessors", 0, "count", 2**40), "count"),
    "count beyond the data": (setter("accessors", 0, "count", 100_000), "rows within"),
    "count true": (setter("accessors", 0, "count", True), "count"),
    "negative offset": (setter("accessors", 0, "byteOffset", -4), "byteOffset"),
    "unaligned offset": (setter("accessors", 2, "byteOffset", 1), "aligned|rows within"),
    "view beyond the buffer": (setter("bufferViews", 0, "byteLength", 10**6), "bytes up to"),
    "no such view": (setter("accessors", 0, "bufferView", 99), "bufferView"),
    "no such buffer": (setter("bufferViews", 0, "buffer", 3), "buffer"),
    "buffer too large": (setter("buffers", 0, "byteLength", 10**9), "byteLength"),
    "places of whole numbers": (setter("accessors", 0, "componentType", 5123), "component type"),
    "unknown component": (setter("accessors", 0, "componentType", [5126]), "component type"),
    "sparse": (setter("accessors", 0, "sparse", {}), "sparse"),
    "no such mesh": (setter("nodes", 0, "mesh", 4), "mesh"),
    "a negative mesh": (setter("nodes", 0, "mesh", -1), "mesh"),
    "no such child": (setter("nodes", 1, "children", [77]), "children"),
    "a child in words": (setter("nodes", 1, "children", ["2"]), "children"),
    "its own child": (setter("nodes", 0, "children", [0]), "circle"),
    "two parents": (setter("nodes", 0, "children", [3]), "one parent"),
    "a circle": (drop_root, "circle"),
    "no such joint": (setter("skins", 0, "joints", [1, 2, 99]), "joints"),
    "a joint twice": (setter("skins", 0, "joints", [1, 2, 2]), "joints"),
    "no joints": (setter("skins", 0, "joints", []), "joints"),
    "bind matrices missing": (setter("skins", 0, "inverseBindMatrices", 44), "inverseBindMatrices"),
    "a quaternion of nothing": (setter("nodes", 1, "rotation", [0, 0, 0, 0]), "length one"),
    "three of four": (setter("nodes", 1, "rotation", [0, 0, 1]), "4 numbers"),
    "a place in words": (setter("nodes", 1, "translation", ["a", 0, 0]), "number"),
    "a place at 1e308": (setter("nodes", 1, "translation", [1e308, 0, 0]), "number"),
    "matrix and scale": (setter("nodes", 1, "matrix", [0] * 16), "both"),
    "a name that is none": (setter("nodes", 1, "name", 7), "name"),
    "compressed": (setter("extensionsRequired", ["EXT_packed"]), "compression"),
    "version 1": (setter("asset", {"version": "1.0"}), "version"),
    "no asset": (setter("asset", None), "asset"),
    "nodes in words": (setter("nodes", "many"), "nodes"),
    "too many nodes": (setter("nodes", [{}] * 10_001), "nodes"),
    "attributes in words": (setter("meshes", 0, "primitives", 0, "attributes", "POSITION"), "POSITION"),
    "no places": (setter("meshes", 0, "primitives", 0, "attributes", {}), "POSITION"),
    "strips": (setter("meshes", 0, "primitives", 0, "mode", 9), "mode"),
}


@pytest.mark.parametrize("change, words", BROKEN.values(), ids=BROKEN)
def test_a_broken_file_is_refused_with_its_place_and_what_to_do(change, words):
    with pytest.raises(RigError, match=words) as refused:
        read_gltf(changed(change), "teasel.glb")
    assert str(refused.value).startswith("teasel.glb")


def test_triangles_of_vertices_that_do_not_exist_are_refused():
    document, binary = parts(GOOD)
    view = document["bufferViews"][document["accessors"][2]["bufferView"]]
    binary = bytearray(binary)
    struct.pack_into("<H", binary, view["byteOffset"], 4)
    with pytest.raises(RigError, match="vertices from 0 to 3"):
        read_gltf(pack_glb(document, bytes(binary)), "a.glb")


def test_bind_matrices_that_are_no_numbers_or_cannot_be_undone_are_refused():
    document, good = parts(GOOD)
    view = document["bufferViews"][document["accessors"][document["skins"][0]["inverseBindMatrices"]]["bufferView"]]
    for values, words in (((np.nan,), "NaN or infinity in row 0"), ((0.0,) * 12, "undone")):
        binary = bytearray(good)
        struct.pack_into(f"<{len(values)}f", binary, view["byteOffset"], *values)
        with pytest.raises(RigError, match=words):
            read_gltf(pack_glb(document, bytes(binary)), "a.glb")


def test_too_many_joints_are_refused():
    nodes = [{"children": [n + 1]} for n in range(600)] + [{}]
    with pytest.raises(RigError, match="512 joints"):
        read_gltf(json.dumps({"asset": {"version": "2.0"}, "nodes": nodes}).encode(), "a.gltf")


def test_scales_that_multiply_without_end_are_refused():
    nodes = [{"scale": [1e5] * 3, "children": [n + 1]} for n in range(100)] + [{"translation": [1, 0, 0]}]
    with pytest.raises(RigError, match="scales"):
        read_gltf(json.dumps({"asset": {"version": "2.0"}, "nodes": nodes}).encode(), "a.gltf")


def header(**swap):
    fields = {"magic": b"glTF", "version": 2, "length": len(GOOD), "chunk": None} | swap
    data = fields["magic"] + struct.pack("<II", fields["version"], fields["length"]) + GOOD[12:]
    return data if fields["chunk"] is None else data[:12] + struct.pack("<I", fields["chunk"]) + data[16:]


@pytest.mark.parametrize(
    "data, words",
    [
        (b"", "empty"),
        (b"glTF", "cut off"),
        (b"PK\x03\x04 some archive", "another kind"),
        (header(magic=b"glTX"), "another kind"),
        (header(version=1), "version"),
        (header(length=len(GOOD) + 4), "header says"),
        (header(length=12), "header says"),
        (header(chunk=2**32 - 4), "chunk"),
        (header(chunk=3), "chunk"),
        (GOOD + b"\0" * 8, "header says"),
        (b"{", "cut off or changed"),
        (b"[]", "another kind"),
        (b'{"asset": NaN}', "NaN"),
        (b'{"asset": {"version": "2.0"}, "nodes": ' + b"9" * 5000 + b"}", "thousands of digits|nodes"),
        (b'{"a":' * 200_000, "deep|cut off"),
        (b'{"asset": {"version": "2.0"}, "nodes": ' + b"[" * 900 + b"]" * 900 + b"}", "deep"),
        (b'{"asset": "\xff"}', "UTF-8"),
        (b"{" + b" " * LARGEST + b"}", "20 MB"),
    ],
    ids=lambda value: None if isinstance(value, str) else value[:12].hex(),
)
def test_bytes_that_are_no_gltf_are_refused_in_words(data, words):
    with pytest.raises(RigError, match=words):
        read_gltf(data, "yarrow.glb")


def test_a_file_cut_off_anywhere_is_refused():
    for length in range(0, len(GOOD), 7):
        with pytest.raises(RigError):
            read_gltf(GOOD[:length], "a.glb")


def test_any_changed_byte_gives_a_scene_or_a_sentence():
    rng = np.random.default_rng(3)
    for place in rng.integers(0, len(GOOD), 600):
        data = bytearray(GOOD)
        data[place] = int(rng.integers(0, 256))
        try:
            assert isinstance(read_gltf(bytes(data), "a.glb"), GltfScene)
        except RigError as refused:
            assert str(refused).startswith("a.glb")


JUNK = [None, True, -1, 0, 10**30, 1.5, "x", [], {}, [[]], [None], {"a": []}]


def test_any_changed_value_gives_a_scene_or_a_sentence():
    document, binary = parts(GOOD)

    def places(value, path=()):
        yield path
        inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        for key, one in inner:
            yield from places(one, (*path, key))

    for number, path in enumerate(list(places(document))[1:]):
        for junk in JUNK[number % 2 :: 2]:
            broken = copy.deepcopy(document)
            setter(*path, junk)(broken)
            try:
                read_gltf(pack_glb(broken, binary), "a.glb")
            except RigError as refused:
                assert str(refused).startswith("a.glb")


# The official validator --------------------------------------------------------------------------------

VALIDATE = """
const validator = require(process.argv[1] + '/gltf-validator'), fs = require('fs');
validator.validateBytes(new Uint8Array(fs.readFileSync(process.argv[2])))
  .then(report => console.log(JSON.stringify(report.issues)));
"""


TWO_TOPS = Skeleton(("a", "b", "c"), (None, None, 1), ARM.positions)


def test_the_joints_of_a_skin_have_one_node_above_them_all():
    """glTF 2.0, 3.7.3.2; the validator does not look."""
    document, _ = parts(write_glb(TETRAHEDRON, TWO_TOPS, np.ones((4, 3))))
    assert [node.get("children") for node in document["nodes"]] == [None, None, [3], None, [1, 2]]
    scene = read_gltf(write_glb(TETRAHEDRON, TWO_TOPS, np.ones((4, 3))), "two.glb")
    assert scene.skeleton.parents == (None, None, 1) and len(scene.skeleton) == 3


FLAT = Mesh([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [5, 5, 5]], [[0, 1, 2], [0, 2, 3]])


@pytest.mark.parametrize(
    "kind", ["mesh", "nodes", "skin", "heat", "turned skin", "two tops", "few joints", "flat", "stored"]
)
def test_the_official_validator_finds_nothing(kind, tmp_path):
    """Khronos gltf-validator from npm; GLTF_VALIDATOR names the node_modules folder that holds it."""
    folder, node = os.environ.get("GLTF_VALIDATOR"), shutil.which("node")
    if not node or not folder or not Path(folder, "gltf-validator").is_dir():
        pytest.skip("needs node, and GLTF_VALIDATOR naming a node_modules folder with gltf-validator in it")
    arm = practice_arm(7)
    joints = len(arm.key)
    weights = np.abs(np.sin(np.arange(len(arm.mesh.vertices) * joints))).reshape(-1, joints)
    stored = Path(__file__).parents[2] / "data" / "exercises" / "left-arm" / "mesh.glb"
    data = {
        "mesh": lambda: write_glb(arm.mesh),
        "nodes": lambda: write_glb(arm.mesh, arm.key),
        "skin": lambda: write_glb(arm.mesh, arm.key, weights),
        "heat": lambda: skinned_glb(arm.mesh, arm.key),
        "two tops": lambda: write_glb(TETRAHEDRON, TWO_TOPS, np.eye(4, 3) + 1e-12),
        "few joints": lambda: write_glb(TETRAHEDRON, ARM.at(ARM.positions * 1000), np.ones((4, 3))),
        "flat": lambda: skinned_glb(FLAT, ARM),
        "turned skin": lambda: write_glb(TETRAHEDRON, ARM, np.full((4, 3), 1 / 3)),
        "stored": stored.read_bytes,
    }[kind]()
    (tmp_path / "a.glb").write_bytes(data)
    run = subprocess.run([node, "-e", VALIDATE, str(Path(folder).resolve()), str(tmp_path / "a.glb")],
                         capture_output=True, text=True, check=True)  # fmt: skip
    issues = json.loads(run.stdout)
    assert (issues["numErrors"], issues["numWarnings"]) == (0, 0), issues["messages"][:5]


def test_a_turn_read_back_is_a_rotation():
    for rotation in read_gltf(GOOD, "a.glb").skeleton.rotations:
        turn = rotation_from_quaternion(rotation)
        np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-12)
