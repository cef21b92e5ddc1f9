"""The lattice of job.json against ground.py, which works it out anew with shapely.

Formulas: the project's design, sections 2, 3 and 7 (the joint rule; runs of square-walled notches);
trigonometry beside each.
"""

import math

import pytest
from shapely.geometry import LineString, polygon
from shapely.ops import unary_union

import ground as reference
from workshop import check, millimetres, write_job

# job.json has six decimals.
ROUNDING = 1e-6


@pytest.fixture(scope="module")
def both(any_panel):
    """(ground worked out here, summary of the program, {id: (bar, member)})."""
    _, panel, material, job = any_panel
    ground = reference.Ground(panel, material)
    return ground, job, paired(ground, job)


def paired(ground, job, where=""):
    """{id: (bar, member)} of all members: exactly one bar lies at each."""
    assert len(ground.bars) == len(job["members"]), where
    pairs = {}
    for member in job["members"]:
        near = [bar for bar in ground.bars if is_bar_of(bar, member)]
        assert len(near) == 1, f"{where} {member['id']}: {len(near)} bars lie there"
        pairs[member["id"]] = (near[0], member)
    return pairs


def joints_agree(bar, member, where=""):
    for right, joint in joints_by_place(bar, member):
        for key in ("at", "angle", "width", "depth", "run"):
            assert close(joint[key], getattr(right, key)), (where, member["id"], key)
        assert joint["shape"] == right.shape, (where, member["id"])


def is_bar_of(bar, member):
    ends = zip((*bar.start, *bar.end), (*member["start"], *member["end"]))
    return member["family"] == bar.line.family and all(abs(a - b) < 1e-3 for a, b in ends)


def close(value, right):
    return pytest.approx(right, abs=2 * ROUNDING, rel=0) == value


def plan_of(bar):
    """Plan of a bar with square ends, from its row alone."""
    (x0, y0), (x1, y1) = bar["start"], bar["end"]
    length = math.dist(bar["start"], bar["end"])
    u = ((x1 - x0) / length, (y1 - y0) / length)
    ends = [(x0 + u[0] * at, y0 + u[1] * at) for at in (bar["from"], bar["to"])]
    return LineString(ends).buffer(bar["face"] / 2, cap_style="flat")


def test_sizes(any_panel, both):
    """With the surround: the outline grown by its face, corners kept sharp (shapely's mitred buffer). One that
    is lapped reaches as far as its bars."""
    ground, job, _ = both
    _, panel, _, _ = any_panel
    surround = millimetres(panel.get("surround", {}).get("width", 0))
    framed = ground.outline.buffer(surround, join_style="mitre", mitre_limit=100).bounds
    sides = [side["bar"] for side in job["surround"] if "bar" in side]
    if sides:
        framed = unary_union([plan_of(bar) for bar in sides]).bounds
    size = job["panel"]
    assert close(size["inner_width"], ground.width)
    assert close(size["inner_height"], ground.height)
    assert close(size["width"], framed[2] - framed[0])
    assert close(size["height"], framed[3] - framed[1])
    assert size["quantity"] == panel.get("quantity", 1)
    assert size["name"] == panel["name"]


def test_members_are_the_lines_within_the_outline(both):
    ground, job, pairs = both
    assert len(ground.bars) >= 5, "a ground to look at"
    assert len(job["members"]) == len(ground.bars) == len(pairs)
    for bar, member in pairs.values():
        for value, right in zip(member["start"] + member["end"], bar.start + bar.end):
            assert close(value, right), member["id"]
        assert close(member["from"], bar.low), member["id"]
        assert close(member["to"], bar.high), member["id"]
        assert close(member["length"], bar.length), member["id"]
        assert member["rank"] == bar.line.rank
        for end, (angle, shape) in zip(member["ends"], bar.ends, strict=True):
            assert close(end["angle"], angle) and end["shape"] == shape, member["id"]


def test_start_comes_before_end(both):
    """The lesser x; for uprights the lesser y."""
    _, _, pairs = both
    for bar, member in pairs.values():
        axis = 1 if bar.line.direction == 90 else 0
        assert member["start"][axis] < member["end"][axis], member["id"]


def joints_by_place(bar, member):
    """Pairs of (reference, program) notches: the same node and the same other direction."""
    assert len(member["joints"]) == len(bar.joints), (
        member["id"],
        [j["at"] for j in member["joints"]],
        [j.at for j in bar.joints],
    )
    left = list(member["joints"])
    for right in bar.joints:
        found = [
            j
            for j in left
            if math.dist(j["node"], right.node) < 1e-3
            and j["edge"] == right.edge
            and abs(j["angle"] - right.angle) < 1e-3
        ]
        assert len(found) == 1, (member["id"], right.at, len(found))
        left.remove(found[0])
        yield right, found[0]


def test_joints_follow_the_joint_rule(both):
    _, _, pairs = both
    count = 0
    for bar, member in pairs.values():
        for right, joint in joints_by_place(bar, member):
            where = (member["id"], right.at)
            assert close(joint["at"], right.at), where
            for value, expected in zip(joint["node"], right.node):
                assert close(value, expected), where
            assert close(joint["angle"], right.angle), where
            assert close(joint["width"], right.width), where
            assert close(joint["depth"], right.depth), where
            assert close(joint["run"], right.run), where
            assert joint["shape"] == right.shape, where
            count += 1
    assert count >= 2 * len(pairs), "joints to look at"


def test_mates_are_the_members_of_the_lines_that_cross(both):
    """Null for lines that are no member alone; those that fill the notch have one for it."""
    _, _, pairs = both
    for bar, member in pairs.values():
        for right, joint in joints_by_place(bar, member):
            where = (member["id"], joint["at"])
            assert joint["filled"] == right.filled, where
            if right.bar is None:
                assert joint["with"] is None, where
                continue
            assert joint["with"] in pairs, where
            mate, other = pairs[joint["with"]]
            assert mate is right.bar, where
            if not right.filled:
                continue
            back = [j for j in other["joints"] if j["with"] == member["id"]]
            assert len(back) == 1 and back[0]["edge"] != joint["edge"], joint


def test_a_line_has_one_name(both):
    """Joints that name one line lie on it, and no two lines share a name."""
    _, _, pairs = both
    lines = {}
    for bar, member in pairs.values():
        for right, joint in joints_by_place(bar, member):
            known = lines.setdefault(joint["line"], right.other)
            assert known is right.other, joint
    assert len({id(line) for line in lines.values()}) == len(lines)


def test_members_fill_every_node(both):
    """What the members of a node lose sums to all but depth / k each (joint rule, both edges)."""
    ground, _, pairs = both
    for bar, member in pairs.values():
        nodes = {}
        for joint in member["joints"]:
            nodes.setdefault(tuple(joint["node"]), []).append(joint)
        for node, joints in nodes.items():
            k = len(joints) + 1
            deepest = {"front": 0.0, "back": 0.0}
            for joint in joints:
                deepest[joint["edge"]] = max(deepest[joint["edge"]], joint["depth"])
            kept = ground.depth - sum(deepest.values())
            assert close(kept, ground.depth / k), (member["id"], node, kept)


def test_classes_are_the_same_pieces_under_rotation(both):
    ground, job, pairs = both
    ids = list(pairs)
    bars = [pairs[i][0] for i in ids]
    groups = reference.same_pieces([reference.piece_of(b) for b in bars], [b.line.face for b in bars])
    expected = {frozenset(ids[i] for i in group) for group in groups}
    found = {}
    for member in job["members"]:
        found.setdefault(member["class"], set()).add(member["id"])
    assert {frozenset(group) for group in found.values()} == expected
    # After them the sides of a lapped surround, which are cut like them.
    for side in (s for s in job["surround"] if "bar" in s):
        found.setdefault(side["class"], set()).add(side["id"])
    assert {c["id"] for c in job["classes"]} == set(found)
    for one in job["classes"]:
        assert one["count"] == len(found[one["id"]]) * job["panel"]["quantity"], one["id"]


def summary_piece(length, ends, joints, first):
    notches = [(j["at"] - first, j["edge"], j["angle"], j["width"], j["depth"]) for j in joints]
    return length, [(e["angle"], e["shape"]) for e in ends], notches


def test_turns_carry_the_class_to_its_members(both):
    _, job, _ = both
    classes = {c["id"]: c for c in job["classes"]}
    for member in job["members"]:
        one = classes[member["class"]]
        piece = summary_piece(one["length"], one["ends"], one["joints"], 0.0)
        mine = summary_piece(member["length"], member["ends"], member["joints"], member["from"])
        piece = reference.turned(piece, member["turn"])
        assert reference.alike(piece, mine, 4 * ROUNDING), member["id"]


def test_a_mirrored_piece_is_another_piece():
    """The reference's own rule of sameness: skew notches have a hand, seen at odd values."""
    ends = [(90.0, "square")] * 2
    piece = (100.0, ends, [(30.0, "front", 57.0, 4.37, 6.5), (70.0, "back", 57.0, 4.37, 6.5)])
    mirrored = (100.0, ends, [(at, e, 180 - t, w, d) for at, e, t, w, d in piece[2]])
    assert reference.same_pieces([piece, mirrored], [4.0, 4.0]) == [[0], [1]]
    turns = [reference.turned(piece, turn) for turn in reference.TURNS]
    assert reference.same_pieces([piece, *turns], [4.0] * 5) == [[0, 1, 2, 3, 4]]
    assert reference.same_pieces([piece, *turns], [4.0, 4.0, 6.0, 4.0, 6.0]) == [[0, 1, 3], [2, 4]]


def test_order_runs_from_back_to_front(both):
    ground, job, pairs = both
    order = job["order"]
    level = {name: i for i, group in enumerate(order) for name in group}
    assert sorted(name for group in order for name in group) == sorted(pairs), "each once"
    names = {id(bar): name for name, (bar, _) in pairs.items()}
    meetings = list(reference.crossings(ground))
    assert meetings
    for back, front in meetings:
        assert level[names[id(back)]] < level[names[id(front)]]


def test_the_check_panel(panel_file):
    """Figures of the trade (common practice, no source; practice writes 349.7 for 349.75)."""
    job = check(panel_file("check"))
    size = job["panel"]
    assert close(size["inner_width"], 6 * 65 * math.sin(math.radians(60)) - 4)
    assert round(size["inner_width"], 2) == 333.75 and close(size["inner_height"], 195)
    assert round(size["width"], 2) == 349.75 and close(size["height"], 211)
    assert len(job["members"]) == 17
    joints = {}
    for member in job["members"]:
        places = {joint["at"] for joint in member["joints"]}
        joints.setdefault(member["family"], []).append(len(places))
    assert sorted(joints["rising"], reverse=True) == [6, 6, 4, 4, 2, 2]
    assert sorted(joints["falling"], reverse=True) == [6, 6, 4, 4, 2, 2]
    uprights = [m for m in job["members"] if m["family"] == "upright"]
    uprights.sort(key=lambda m: m["start"][0])
    assert [len({j["at"] for j in m["joints"]}) for m in uprights] == [4, 3, 4, 3, 4]
    for member in uprights:
        assert member["rank"] == 2
        for joint in member["joints"]:
            assert close(joint["depth"], 4.0), "4 deep from both edges"
        assert {j["edge"] for j in member["joints"]} == {"front", "back"}


def test_a_square_walled_notch_at_sixty_degrees(panel_file):
    """(face + face |cos 60|) / sin 60 = 12 / sqrt 3 at face 4: 6.9282 (trigonometry)."""
    panel, material = {
        "ground": {"layout": "three-way", "face": 4, "depth": 12, "pitch": 65, "columns": 2, "rows": 1},
        "outline": {"left": "inner-edge", "right": "inner-edge", "bottom": "centres", "top": "centres"},
        "cut": {"method": "flat"},
    }, {"thickness": 4}
    bars = reference.Ground(panel, material).bars
    runs = {round(joint.run, 4) for bar in bars for joint in bar.joints}
    assert runs == {6.9282}, "the reference has the formula right"


@pytest.mark.parametrize("clearance", [0.0, 0.05])
def test_a_notch_may_end_with_its_piece(tmp_path, clearance):
    """Cut square to its long point, face/2 * cot 60 past the centre line's end, a slanting bar ends
    half a run, (face + face cos 60) / (2 sin 60), from the joint next to it: flush with the notch's
    wall where there is no clearance (trigonometry)."""
    panel = {"outline.overhang": 0, "cut.clearance": clearance}
    job = check(write_job(tmp_path, "three-way-card", panel=panel))
    flush = [
        1
        for m in job["members"]
        for j in m["joints"]
        if abs(j["at"] - j["run"] / 2 - m["from"] + clearance / 2 / math.sin(math.pi / 3)) < 1e-5
    ]
    assert len(flush) >= 10


def test_surround_is_mitred_round_the_ground(any_panel, both):
    """A piece along every side: as long as the side inside, as the grown outline's (shapely's mitred
    buffer) outside; a mitre halves its corner: 45 degrees in a rectangle."""
    _, panel, _, _ = any_panel
    ground, job, _ = both
    if "surround" not in panel:
        assert job["surround"] == []
        return
    face = millimetres(panel["surround"]["width"])
    inner = polygon.orient(ground.outline)
    outer = polygon.orient(inner.buffer(face, join_style="mitre", mitre_limit=100))
    found = sorted((bar["short"], bar["long"], *bar["mitres"]) for bar in job["surround"])
    right = []
    corners = inner.exterior.coords[:-1]
    for i, start in enumerate(corners):
        end = corners[(i + 1) % len(corners)]
        middle = LineString([start, end]).centroid
        beside = min(sides_of(outer), key=lambda side: (side.centroid.distance(middle)))
        mitres = [corner_of(corners, i) / 2, corner_of(corners, i + 1) / 2]
        right.append((math.dist(start, end), beside.length, *mitres))
    assert len(found) == len(right)
    for values, expected in zip(found, sorted(right)):
        assert all(close(v, e) for v, e in zip(values, expected, strict=True)), (found, right)
    assert all(close(bar["face"], face) for bar in job["surround"])
    if "side" not in panel["outline"]:
        assert {bar["side"] for bar in job["surround"]} == {"left", "right", "top", "bottom"}


def sides_of(shape):
    corners = shape.exterior.coords
    return [LineString(pair) for pair in zip(corners, corners[1:])]


def corner_of(corners, i):
    """Angle within a corner, degrees."""
    n = len(corners)
    (x, y), (x0, y0), (x1, y1) = corners[i % n], corners[(i - 1) % n], corners[(i + 1) % n]
    turn = math.atan2(y0 - y, x0 - x) - math.atan2(y1 - y, x1 - x)
    return math.degrees(turn) % 360
