"""The joints of job.json as exact solids in manifold3d: nothing shares space, everything goes in."""

import math

import pytest
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.ops import unary_union

import bars
from odd import eight_point
from workshop import check, fixture_path, make, measured, millimetres, roomy, sizes, summary, write_job

# Two solids share this much (mm3) by round-off of the mesh alone.
SPECK = 1e-6


@pytest.fixture(scope="module")
def panels(tmp_path_factory):
    """{name: (job, depth, {family: face})}; small ones, as solids are slow."""
    folder = tmp_path_factory.mktemp("solids")
    tight = {"cut.clearance": 0.0}
    odd = {
        "ground.pitch": 71.3,
        "ground.face": None,
        "ground.faces": {"rising": 4.37, "upright": 5.1, "falling": 3.9},
        "ground.depth": 13.1,
        "ground.columns": 3,
        "ground.rows": 2,
        "cut.clearance": 0.0,
    }
    router = {"ground.columns": 2, "ground.rows": 2, "cut.clearance": 0.0}
    card = {"ground.columns": 3, "ground.rows": 2, "cut.clearance": 0.0}
    thick = {"least_section": 0.5, "least_web": 0}
    open_ = {
        **tight,
        "sticks": None,
        "ground": {
            "layout": "open-three-way", "depth": 13.1, "pitch": 41.3, "columns": 2, "rows": 4,
            "faces": {"rising": 4.37, "upright": 5.1, "falling": 3.9},
        },
    }  # fmt: skip
    eight = {**tight, "sticks": None, **eight_point()}
    five = {
        **tight,
        "sticks": None,
        "ground": {
            "layout": "free", "depth": 16.9, "width": 190, "height": 150,
            "family": five_families((97.3, 71.7), [90, 0, 35, -50, 65], [3.7, 4.37, 5.1, 3.9, 4.1]),
        },
        "outline": dict.fromkeys(("left", "right", "bottom", "top"), "centres"),
        "outline.overhang": 27.3,
    }  # fmt: skip
    written = {
        "check": fixture_path("panel", "check"),
        "check-tight": write_job(folder / "a", "check", **roomy(tight)),
        "skew-odd": write_job(folder / "b", "check", **roomy(odd)),
        "square": write_job(folder / "c", "router-square", panel=router),
        "card": write_job(folder / "d", "three-way-card", panel=card),
        "open": write_job(folder / "e", "check", **roomy(open_, material=thick)),
        "eight": write_job(folder / "f", "check", **roomy(eight, material=thick)),
        "five": write_job(folder / "g", "check", **roomy(five, material=thick)),
    }
    found = {}
    for name, path in written.items():
        panel, material = sizes(path)
        job = check(path)
        faces = panel["ground"].get("faces")
        if panel["ground"]["layout"] == "free":
            faces = {family["name"]: family["face"] for family in panel["ground"]["family"]}
        elif panel["cut"]["method"] == "flat":
            face = measured(material)[1]
            faces = {m["family"]: face for m in job["members"]}
        elif not faces:
            faces = {m["family"]: panel["ground"]["face"] for m in job["members"]}
        found[name] = (job, millimetres(panel["ground"]["depth"]), faces)
    return found


def five_families(point, directions, faces):
    """Families whose first bars all pass through one point; two have another bar further off."""
    families = []
    for i, (direction, face) in enumerate(zip(directions, faces)):
        a = math.radians(direction)
        offset = point[1] * math.cos(a) - point[0] * math.sin(a)
        if direction == 90:
            offset = point[0]
        offsets = [offset - 61.3, offset] if i < 2 else [offset]
        families.append({
            "name": "abcde"[i], "direction": direction, "offsets": offsets, "face": face, "rank": 5 - i,
        })  # fmt: skip
    return families


ALL = ["check", "check-tight", "skew-odd", "square", "card", "open", "eight", "five"]
EXACT = ["check-tight", "skew-odd", "square", "open", "eight", "five"]


def solids_of(entry, **more):
    job, depth, faces = entry
    return {m["id"]: bars.bar_solid(m, depth, faces[m["family"]], **more) for m in job["members"]}


@pytest.mark.parametrize("name", ALL)
def test_no_two_members_share_space(panels, name):
    job = panels[name][0]
    solids = solids_of(panels[name])
    pairs = [(a, b) for a in solids for b in solids if a < b and bars.near(solids[a], solids[b])]
    met = bars.meeting(job["members"])
    assert met and {tuple(sorted(p)) for p in met} <= set(pairs)
    for a, b in pairs:
        assert bars.common(solids[a], solids[b]) < SPECK, (a, b)


@pytest.mark.parametrize("name", EXACT)
def test_tight_joints_leave_nothing_empty(panels, name):
    """With no clearance and true walls a notch is filled to its walls: grown by g, two members share
    2 g over the area where they touch, which bars between them do not cover."""
    job, depth, faces = panels[name]
    grown = 0.01
    solids = solids_of(panels[name], grown=-grown)
    members = {m["id"]: m for m in job["members"]}
    whole = {
        i: plan(bars.bar_solid({**m, "joints": []}, depth, faces[m["family"]]), depth / 2)
        for i, m in members.items()
    }
    touching = 0
    for back, front in bars.meeting(job["members"]):
        between = [
            whole[i] for i, m in members.items()
            if members[back]["rank"] < m["rank"] < members[front]["rank"]
        ]  # fmt: skip
        touch = whole[back].intersection(whole[front]).difference(unary_union(between)).area
        if touch > 0.01:
            assert bars.common(solids[back], solids[front]) > grown * touch, (back, front)
            touching += 1
    assert touching >= len(members) / 2


@pytest.mark.parametrize("name", EXACT)
def test_every_node_is_filled(panels, name):
    """Where nothing is empty, the members of a node fill the plan region of any two from back to
    front: its volume is area * depth, area face * face' / sin t (parallelogram)."""
    job, depth, faces = panels[name]
    solids = solids_of(panels[name], grown=0.0)
    members = {m["id"]: m for m in job["members"]}
    seen = set()
    for back, front in bars.meeting(job["members"]):
        joint = next(j for j in members[back]["joints"] if j["with"] == front)
        node = tuple(joint["node"])
        here = {
            m["id"] for m in job["members"] for j in m["joints"]
            if math.dist(j["node"], node) < 1e-4 and j["filled"]
        }  # fmt: skip
        lines = {j["line"] for m in job["members"] for j in m["joints"]
                 if math.dist(j["node"], node) < 1e-4}  # fmt: skip
        if len(here) != len(lines) or (node, back, front) in seen:
            # A line that is no member leaves its notch empty.
            continue
        seen.add((node, back, front))
        plain = [
            bars.bar_solid({**members[i], "joints": []}, depth, faces[members[i]["family"]])
            for i in (back, front)
        ]
        region = plain[0] ^ plain[1]
        t = math.radians(joint["angle"])
        area = faces[members[back]["family"]] * faces[members[front]["family"]] / math.sin(t)
        x, y = node
        inner = 0 < x < job["panel"]["inner_width"] and 0 < y < job["panel"]["inner_height"]
        if not inner and region.volume() < 0.999 * area * depth:
            # Overhangs that end in the joint.
            continue
        assert region.volume() == pytest.approx(area * depth, rel=1e-5)
        kept = sum((region ^ solids[i]).volume() for i in here)
        assert kept == pytest.approx(area * depth, rel=1e-5), (node, back, front)
    assert seen


@pytest.mark.parametrize("name", ALL)
def test_members_are_lowered_in_by_the_order(panels, name):
    job, depth, _ = panels[name]
    worst, where = bars.assemble(job["order"], solids_of(panels[name]), depth)
    assert worst < SPECK, where


@pytest.mark.parametrize(("name", "counts"), [("open", {2}), ("eight", {2, 4}), ("five", {2, 5})])
def test_as_many_bars_in_a_joint(panels, name, counts):
    """What the solids above are looked at for."""
    found = set()
    for member in panels[name][0]["members"]:
        for joint in member["joints"]:
            here = [j for j in member["joints"] if math.dist(j["node"], joint["node"]) < 1e-4]
            if all(j["filled"] for j in here):
                found.add(len(here) + 1)
    assert found == counts


@pytest.mark.parametrize("name", ["check", "square", "card", "open", "eight", "five"])
def test_a_member_out_of_order_collides(panels, name):
    """Before what should lie behind it, a member stands in the way: the check above can fail."""
    job, depth, _ = panels[name]
    front = job["order"][-1][0]
    order = [[front], *[[i for i in group if i != front] for group in job["order"]]]
    worst, where = bars.assemble(order, solids_of(panels[name]), depth)
    assert worst > 1, where


def test_a_third_in_place_of_a_half_collides(panels):
    """In each node the outer two then share 16 / sin 60 * 12 / 12 = 18.475 mm3: the acute corners of
    their crossing outside of the middle member (face 4, depth 12, 60 degrees)."""
    job, depth, faces = panels["check-tight"]
    members = {m["id"]: m for m in job["members"]}

    def third(joint):
        return depth / 3 if abs(joint["depth"] - depth / 2) < 1e-4 else joint["depth"]

    sound = solids_of(panels["check-tight"])
    wrong = solids_of(panels["check-tight"], deeper=third)
    nodes = 0
    for back, front in bars.meeting(job["members"]):
        if (members[back]["rank"], members[front]["rank"]) != (1, 3):
            continue
        joint = next(j for j in members[back]["joints"] if j["with"] == front)
        assert joint["depth"] == pytest.approx(depth / 2)
        assert bars.common(sound[back], sound[front]) < SPECK
        shared = bars.common(wrong[back], wrong[front])
        middle = [
            m for m in job["members"] if m["rank"] == 2
            and any(math.dist(j["node"], joint["node"]) < 1e-4 for j in m["joints"])
        ]  # fmt: skip
        if middle:
            assert shared == pytest.approx(18.475, abs=2e-3), joint
            nodes += 1
    assert nodes >= 10


def gap_of(member, solid, others, depth, face):
    """Greatest distance along a bar from a notch wall to what fills the notch, over lines along the
    bar at heights between all floors. Notches whose joints are empty do not count."""
    (x0, y0), (x1, y1) = member["start"], member["end"]
    ux, uy = (x1 - x0) / math.dist((x0, y0), (x1, y1)), (y1 - y0) / math.dist((x0, y0), (x1, y1))
    floors = {0.0, depth}
    for joint in member["joints"]:
        floors.add(depth - joint["depth"] if joint["edge"] == "front" else joint["depth"])
    floors = sorted(floors)
    greatest = 0.0
    for z in [(a + b) / 2 for a, b in zip(floors, floors[1:])]:
        own, fill = plan(solid, z), unary_union([plan(o, z) for o in others])
        for i in range(21):
            # Just inside the faces, where the slice is not on an edge.
            y = (i / 20 - 0.5) * (face - 2e-4)
            at = [(x0 + ux * s - uy * y, y0 + uy * s + ux * y) for s in
                  (member["from"], member["to"])]  # fmt: skip
            line = LineString(at)
            open_ = line.difference(own)
            for gap in getattr(open_, "geoms", [open_]):
                filled = gap.intersection(fill)
                if filled.length < 1e-3:
                    continue
                left = gap.difference(fill)
                pieces = left.geoms if isinstance(left, MultiLineString) else [left]
                walls = [p.length for p in pieces if p.length]
                greatest = max([greatest, *walls])
    return greatest


def plan(solid, z):
    return unary_union([Polygon(ring) for ring in solid.slice(z).to_polygons()])


def test_gap_of_square_walls(tmp_path):
    """face * |cot t| = 1.5 * cot 60 for a two-way node, plus half the clearance over sin t
    (trigonometry); the solids' own gap agrees."""
    changes = {"ground.columns": 3, "ground.rows": 2}
    for clearance in (0.0, 0.08):
        changes["cut.clearance"] = clearance
        path = write_job(tmp_path / f"c{clearance}", "three-way-card", panel=changes)
        job = summary(make(path, tmp_path / f"out{clearance}"))
        panel, material = sizes(path)
        face, depth = measured(material)[1], millimetres(panel["ground"]["depth"])
        t = math.radians(60)
        formula = face / math.tan(t) + clearance / 2 / math.sin(t)
        # The beam's edge, judged to 0.005 a wall.
        assert job["dry_fit"]["largest_gap_mm"] == pytest.approx(formula, abs=0.01)
        solids = {m["id"]: bars.bar_solid(m, depth, face, grown=0.0) for m in job["members"]}
        found = 0.0
        for member in job["members"][:6]:
            others = {j["with"] for j in member["joints"] if j["filled"]}
            found = max(
                found,
                gap_of(member, solids[member["id"]], [solids[i] for i in others], depth, face),
            )
        assert found == pytest.approx(formula, abs=2e-3)


@pytest.mark.parametrize("name", ALL)
def test_dry_fit_agrees_with_the_solids(panels, name):
    job, depth, _ = panels[name]
    solids = solids_of(panels[name])
    total = sum(bars.common(solids[a], solids[b]) for a, b in bars.meeting(job["members"]))
    assert job["dry_fit"]["interference_mm3"] == pytest.approx(total, abs=1e-5)
    assert job["dry_fit"]["press_mm"] == 0


@pytest.mark.parametrize("name", ["check", "check-tight", "skew-odd", "open", "eight", "five"])
def test_gap_of_true_walls(panels, name):
    """Walls along the bar that fills the notch leave half the clearance, along the bar over sin t."""
    job, _, _ = panels[name]
    clearance = 0.05 if name == "check" else 0.0
    steepest = max(
        1 / math.sin(math.radians(j["angle"])) for m in job["members"] for j in m["joints"]
    )
    formula = clearance / 2 * steepest
    # As cut: the program's coordinates step by 0.001, which moves a wall by up to 0.0007 across.
    assert job["dry_fit"]["largest_gap_mm"] == pytest.approx(formula, abs=1e-3 * steepest)
