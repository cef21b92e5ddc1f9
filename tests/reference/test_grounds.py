"""Every layout under several outlines: members, cells, joints, pitches and sides.

Lines, outlines and joints come from ground.py and layouts.py, cells from shapely's polygonize. Beside
them stand figures that follow from the shapes alone: Euler's formula for plane graphs, and counts of the
regular tilings (triangles; squares; triangles and hexagons; squares cut by both diagonals).
"""

import math

import pytest
import shapely
from shapely.geometry import LineString, Point
from shapely.ops import polygonize

import ground as reference
import test_lattice as lattice
from layouts import NAMES, parallel
from workshop import check, roomy, sizes, write_job

EDGE, MIDDLE = "inner-edge", "centres"


def rectangle(*rules, **more):
    """Rules of bottom, right, top, left."""
    rules = rules * (4 if len(rules) == 1 else 1)
    return dict(zip(("bottom", "right", "top", "left"), rules, strict=True), **more)


def polygon(corners, *rules, in_steps=True):
    """Corners with the rules of the sides that start there: one for all, or one each."""
    rules = rules * (len(corners) if len(rules) == 1 else 1)
    sides = []
    for (x, y), rule in zip(corners, rules, strict=True):
        said = {"clear": rule["clear"]} if isinstance(rule, dict) else {"rule": rule}
        sides.append({"x": x, "y": y, **said})
    return {"side": sides, "in_steps": in_steps}


def table(layout, columns=None, rows=None, **more):
    sized = {"columns": columns, "rows": rows} if columns else {}
    return {"layout": layout, "face": 3.1, "depth": 14.0, **sized, **more}


def free(*families):
    return {
        "layout": "free", "depth": 14.0,
        "family": [dict(f, name=name) for name, f in zip("pqrstu", families)],
    }  # fmt: skip


SQUARE = {"pitch_across": 43.7, "pitch_up": 37.3}
CORNER = {"corner_joint": True}
# Posts of two widths in one direction, beams, and a brace that leans by 57 degrees.
POSTS = (
    {"direction": 90, "offsets": [30.3, 110.7, 150.1], "face": 3.1},
    {"direction": -90, "first": -70.2, "pitch": 161.0, "face": 4.3},
    {"direction": 180, "first": -20.4, "pitch": 41.3, "face": 3.1},
    {"direction": -123, "offsets": [-19.3, 103.4], "face": 2.7},
)
# Sides of the trapezium lie along no bar.
TRAPEZIUM = [(0, 0), (190.5, 0), (161.3, 121.7), (23.9, 121.7)]
# A regular hexagon with level sides in a three-way ground: columns are pitch * sin 60.
LEVEL_HEXAGON = [(2, 0), (6, 0), (8, 3), (6, 6), (2, 6), (0, 3)]
# One whose sides lie along the bars, two pitches long.
BAR_HEXAGON = [(0, 1), (2, 0), (4, 1), (4, 3), (2, 4), (0, 3)]
OCTAGON = [(1, 0), (3, 0), (4, 1), (4, 3), (3, 4), (1, 4), (0, 3), (0, 1)]
STAR_HEXAGON = [(0, 5), (2.5, 2.5), (5, 5), (5, 8), (2.5, 10.5), (0, 8)]

# name: (ground, outline, {cells, members, nodes within the outline}); the numbers from the shape alone.
CASES = {
    # c * r cells.
    "square": (
        table("square", 4, 3, **SQUARE), rectangle(EDGE), dict(cells=12, members=5, nodes=6)),
    # Outermost bars lie within: (c + 1)(r + 1) joints, (c + 2)(r + 2) cells.
    "square-clear": (
        table("square", 3, 2, **SQUARE), rectangle({"clear": 17.3}),
        dict(cells=20, members=7, nodes=12)),
    "square-trapezium": (
        table("square", **SQUARE),
        polygon([(-0.4, 0), (5.4, 0), (4.4, 4), (0.7, 4)], EDGE, MIDDLE, EDGE, {"clear": 2.2}), {}),
    "diamond": (
        table("diamond", 6, 4, pitch=45.3, angle=37), rectangle(MIDDLE), {}),
    "diamond-clear": (
        table("diamond", 4, 6, pitch=45.3, angle=53, **CORNER),
        rectangle({"clear": 21.7}, MIDDLE, {"clear": 33.3}, MIDDLE), {}),
    # A rhombus of n * n cells, sides along the bars.
    "diamond-rhombus": (
        table("diamond", pitch=45.3, angle=37, **CORNER),
        polygon([(4, 0), (8, 4), (4, 8), (0, 4)], EDGE), dict(cells=16, members=6, nodes=9)),
    "three-way": (
        table("three-way", 4, 3, pitch=51.1), rectangle(MIDDLE, EDGE, MIDDLE, EDGE), {}),
    "three-way-clear": (
        table("three-way", 4, 3, pitch=51.1, **CORNER),
        rectangle({"clear": 14.1}, {"clear": 19.2}, MIDDLE, EDGE), {}),
    # Side n: 6 n^2 triangles, 3 n^2 - 3 n + 1 joints within, 2 n - 1 bars in each direction.
    "three-way-hexagon": (
        table("three-way", pitch=51.1, **CORNER), polygon(BAR_HEXAGON, EDGE),
        dict(cells=24, members=9, nodes=7)),
    "three-way-level-hexagon": (
        table("three-way", pitch=51.1, **CORNER), polygon(LEVEL_HEXAGON, MIDDLE), {}),
    # Side n: n^2 triangles, (n - 1)(n - 2) / 2 joints within, n - 1 bars in each direction.
    "three-way-triangle": (
        table("three-way", pitch=51.1, **CORNER), polygon([(0, 0), (5, 2.5), (0, 5)], EDGE),
        dict(cells=25, members=12, nodes=6)),
    "three-way-level-triangle": (
        table("three-way", pitch=51.1, **CORNER),
        polygon([(0, 0), (8, 0), (4, 6)], MIDDLE, {"clear": 17.1}, MIDDLE), {}),
    "open-three-way": (
        table("open-three-way", 4, 6, pitch=33.3), rectangle(MIDDLE, EDGE, MIDDLE, EDGE), {}),
    "open-three-way-hexagon": (
        table("open-three-way", pitch=33.3, **CORNER), polygon(STAR_HEXAGON, EDGE), {}),
    # Every square has both diagonals: 4 c r triangles, (c - 1)(r - 1) joints of four, c r of two.
    "eight-point": (
        table("eight-point", 3, 4, pitch=61.7), rectangle(EDGE),
        dict(cells=48, nodes=18, members=5 + 2 * 6)),
    # 12 whole squares and 4 halves.
    "eight-point-octagon": (
        table("eight-point", pitch=61.7), polygon(OCTAGON, EDGE), dict(cells=56, nodes=21)),
    "free-trapezium": (
        free(*POSTS), polygon(TRAPEZIUM, MIDDLE, in_steps=False), {}),
    "free-rectangle": (
        dict(free(*POSTS), width=181.0, height=131.0),
        rectangle(MIDDLE, {"clear": 3.3}, MIDDLE, EDGE), {}),
}  # fmt: skip
SOFT = {"least_web": 0, "least_section": 0.5}


class Case:
    """A case as the program lays it out and as it is worked out here."""

    def __init__(self, name, folder):
        self.ground, self.outline, self.counts = CASES[name]
        changes = {
            "ground": self.ground, "outline": self.outline, "surround": None, "sticks": None,
            "cut": {"method": "edge-up", "clearance": 0.0},
        }  # fmt: skip
        path = write_job(folder, "check", **roomy(changes, material=SOFT))
        self.job = check(path)
        self.right = reference.Ground(*sizes(path))
        self.pairs = lattice.paired(self.right, self.job)
        self.shape = self.right.outline
        # Nodes of the program within the outline, by member: {node: directions of the lines in it}.
        self.nodes, self.on_member = {}, {}
        for member in self.job["members"]:
            mine = self.on_member[member["id"]] = []
            for joint in member["joints"]:
                node = next(
                    (n for n in self.nodes if math.dist(n, joint["node"]) < 1e-4),
                    tuple(joint["node"]),
                )
                self.nodes.setdefault(node, set()).update({member["id"], joint["line"]})
                if node not in mine:
                    mine.append(node)

    def within(self, node):
        return self.shape.contains(Point(node)) and self.rim(node) > 1e-4

    def rim(self, point):
        return self.shape.exterior.distance(Point(point))


@pytest.fixture(scope="module")
def laid(tmp_path_factory):
    """laid(name): a case, laid out once."""
    cases = {}

    def once(name):
        if name not in cases:
            cases[name] = Case(name, tmp_path_factory.mktemp(name))
        return cases[name]

    return once


@pytest.fixture(scope="module", params=CASES)
def case(request, laid):
    return laid(request.param)


@pytest.fixture(scope="module", params=[name for name in CASES if not name.startswith("free")])
def tiling(request, laid):
    """Cases of a layout whose bars have a pitch."""
    return laid(request.param)


@pytest.mark.parametrize(
    "comparison",
    [
        lattice.test_members_are_the_lines_within_the_outline,
        lattice.test_start_comes_before_end,
        lattice.test_joints_follow_the_joint_rule,
        lattice.test_mates_are_the_members_of_the_lines_that_cross,
        lattice.test_a_line_has_one_name,
        lattice.test_classes_are_the_same_pieces_under_rotation,
        lattice.test_turns_carry_the_class_to_its_members,
        lattice.test_order_runs_from_back_to_front,
    ],
)
def test_agrees_with_the_reference(case, comparison):
    comparison((case.right, case.job, case.pairs))


def test_size(case):
    assert lattice.close(case.job["panel"]["inner_width"], case.right.width)
    assert lattice.close(case.job["panel"]["inner_height"], case.right.height)


def test_members_end_on_the_outline(case):
    for member in case.job["members"]:
        for point in (member["start"], member["end"]):
            assert case.rim(point) < 2e-6, member["id"]
        middle = Point([(a + b) / 2 for a, b in zip(member["start"], member["end"])])
        assert case.shape.contains(middle), member["id"]


def cells_of(case):
    """What members' centre lines and outline enclose; specks of six decimals left out."""
    lines = [LineString([m["start"], m["end"]]) for m in case.job["members"]]
    # Snapped, so that three lines through one joint do not leave a speck between them.
    net = shapely.unary_union([*lines, case.shape.exterior], grid_size=1e-3)
    return [cell for cell in polygonize(net) if cell.area > 0.05]


def test_cells_obey_euler(case):
    """F = E - V + 1 without the outer face. Each bar is cut into one edge more than it has joints within
    the outline; round the outline there are as many edges as points."""
    edges = sum(1 + sum(map(case.within, nodes)) for nodes in case.on_member.values())
    within = sum(map(case.within, case.nodes))
    assert within, "joints to look at"
    cells = cells_of(case)
    assert len(cells) == edges - within + 1
    assert sum(cell.area for cell in cells) == pytest.approx(case.shape.area, rel=1e-4)
    found = dict(cells=len(cells), members=len(case.job["members"]), nodes=within)
    assert found == {**found, **case.counts}


SIDES = {"square": {4}, "diamond": {4}, "three-way": {3}, "open-three-way": {3, 6}, "eight-point": {3}}


def test_whole_cells_are_the_tiles(tiling):
    """Cells that do not touch the outline are the layout's tiles, with bars' pitch for sides."""
    case, layout = tiling, tiling.ground["layout"]
    whole = [cell for cell in cells_of(case) if cell.distance(case.shape.exterior) > 1e-2]
    pitch = case.ground.get("pitch")
    for cell in whole:
        corners = cell.simplify(1e-2).exterior.coords
        assert len(corners) - 1 in SIDES[layout]
        for one, other in zip(corners, corners[1:]):
            length = math.dist(one, other)
            if layout == "square":
                assert min(abs(length - p) for p in SQUARE.values()) < 5e-3
            elif layout == "eight-point":
                assert min(abs(length - pitch), abs(length - pitch / math.sqrt(2))) < 5e-3
            else:
                assert abs(length - pitch) < 5e-3
    hexagons = [cell for cell in whole if cell.area > 2 * pitch**2] if pitch else []
    assert (layout == "open-three-way") == bool(hexagons)


def test_bars_in_a_joint(case):
    """Two; in a three-way ground three; in an eight-point one four at its corners and two between. Each
    is notched for all the others, at one of the heights depth * i / 2k."""
    layout, found = case.ground["layout"], set()
    for node in filter(case.within, case.nodes):
        joints = {}
        for member in case.job["members"]:
            here = [j for j in member["joints"] if math.dist(j["node"], node) < 1e-4]
            if here:
                joints[member["id"]] = (member, here)
        k = len(joints)
        found.add(k)
        for name, (member, here) in joints.items():
            assert {j["with"] for j in here} == set(joints) - {name} and len(here) == k - 1, node
            heights = [j["depth"] * 2 * k / 14.0 for j in here]
            assert all(abs(h - round(h)) < 1e-5 for h in heights), (node, name, heights)
        if layout == "eight-point":
            families = {member["family"] for member, _ in joints.values()}
            assert k == 4 or families == {"rising", "falling"}, node
    assert found == {"three-way": {3}, "eight-point": {2, 4}}.get(layout, {2})


def test_joints_lie_a_pitch_apart(tiling):
    case, layout = tiling, tiling.ground["layout"]
    apart = 0
    for member in case.job["members"]:
        places = sorted({round(joint["at"], 4) for joint in member["joints"]})
        # Each place once: what differs in the last decimals is one joint.
        places = [p for i, p in enumerate(places) if not i or p - places[i - 1] > 1e-3]
        pitch = case.ground.get("pitch")
        if layout == "square":
            pitch = SQUARE["pitch_up" if member["family"] == "upright" else "pitch_across"]
        elif layout == "eight-point" and member["family"] in ("rising", "falling"):
            pitch /= math.sqrt(2)
        for one, other in zip(places, places[1:]):
            assert other - one == pytest.approx(pitch, abs=3e-4), member["id"]
            apart += 1
    assert apart >= 5


def test_families_and_ranks(case):
    names = NAMES.get(case.ground["layout"]) or [f["name"] for f in case.ground["family"]]
    ranks = {m["family"]: m["rank"] for m in case.job["members"]}
    assert ranks == {name: i + 1 for i, name in enumerate(names)}


def test_sides_lie_where_their_rules_say(case):
    """Members end on every side, as far from the joints that it runs past as its rule says: no distance,
    half a face inside, or clear."""
    layout = case.ground["layout"]
    faces = {bar.line.direction: bar.line.face for bar in case.right.bars}
    nodes = [joint["node"] for member in case.job["members"] for joint in member["joints"]]
    points = [p for member in case.job["members"] for p in (member["start"], member["end"])]
    for side in case.right.sides:
        along = [face for d, face in faces.items() if parallel(d, side.direction)]
        rules = {MIDDLE: 0.0, EDGE: -max(along or faces.values()) / 2}
        right = rules.get(side.rule, side.rule)
        ends = [side.beyond(p) for p in points]
        assert max(ends) == pytest.approx(right, abs=2e-6), side
        if layout == "free" or not side_of_layout(case, side):
            continue
        # The layout has joints on the side itself: a line of bars along it, or a row of joints.
        on_side = [n for n in nodes if abs(side.beyond(n)) < 1e-5]
        lines = [line for line in case.right.lines if parallel(line.direction, side.direction)]
        assert on_side or any(abs(side.beyond(line.point(0))) < 1e-6 for line in lines), side


def side_of_layout(case, side):
    """A trapezium's slanting sides go where they like."""
    return case.ground["layout"] != "square" or side.direction % 90 == 0
