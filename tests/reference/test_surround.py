"""The surround against shapely's mitred buffer and manifold3d's solids."""

import csv
import io
import itertools
import math
import random
import re
import tomllib

import pytest
from manifold3d import CrossSection, Manifold, OpType
from shapely.geometry import LineString, Point, Polygon, polygon

import bars
from workshop import call, check, fixture_path, make, said, summary, write_job

# job.json has six decimals.
ROUNDING = 1e-5
# Two solids share this much (mm3) by round-off of the mesh alone.
SPECK = 1e-6

# Bars through the middle of every outline below.
GROUND = {
    "layout": "free", "depth": 13.1,
    "family": [
        {"name": "upright", "direction": 90, "offsets": [118.3, 160, 191.7], "face": 1.5, "rank": 1},
        {"name": "level", "direction": 0, "offsets": [81.9, 120, 158.1], "face": 1.5, "rank": 2},
    ],
}  # fmt: skip
# Convex outlines, counter-clockwise, mm.
OUTLINES = {
    "triangle": [(3, 5), (311.7, 41.3), (127.9, 287.1)],
    "kite": [(10, 0), (290.3, 31.7), (340.9, 250.3), (60.1, 201.9)],
    "five sides": [(0, 60.7), (170.3, 0), (333.1, 71.9), (281.7, 260.3), (40.9, 243.7)],
    "eight sides": [
        (90, 0), (210, 0), (300, 90), (300, 210), (210, 300), (90, 300), (0, 210), (0, 90),
    ],
}  # fmt: skip
BED = {"travel": [1200, 900]}
SHEET = {"trim": 5, "blank": [{"name": "large sheet", "length": 1100, "width": 800}]}


def outline(corners):
    side = [{"x": x, "y": y, "clear": 1.7} for x, y in corners]
    return {"overhang": 0, "side": side}


def framed(folder, corners, surround, **more):
    """A lattice in card within these corners, with a surround."""
    panel = {"ground": GROUND, "outline": outline(corners), "surround": surround, **more}
    return write_job(folder, "plain-window", panel=panel, machine=BED, stock=SHEET)


def inner_of(corners):
    """The trimmed outline: the corners' polygon moved 1.7 out, its lower left corner at the origin."""
    grown = Polygon(corners).buffer(1.7, join_style="mitre", mitre_limit=100)
    x, y, _, _ = grown.bounds
    return polygon.orient(Polygon([(a - x, b - y) for a, b in grown.exterior.coords]))


def sides_of(shape):
    corners = list(shape.exterior.coords)
    return [LineString(pair) for pair in zip(corners, corners[1:])]


def nearest(sides, side):
    """The side that runs along another."""
    middle = side.interpolate(0.5, normalized=True)
    def far(s):
        a, b = (Point(c) for c in side.coords)
        turn = abs(direction(s) - direction(side)) % math.pi
        return (min(turn, math.pi - turn) > 1e-6, s.distance(middle), a.distance(s) + b.distance(s))
    return min(sides, key=far)


def direction(side):
    (x0, y0), (x1, y1) = side.coords
    return math.atan2(y1 - y0, x1 - x0)


def corner_deg(before, after):
    """Interior angle between two sides that run counter-clockwise."""
    return 180 - math.degrees((direction(after) - direction(before)) % (2 * math.pi))


def test_a_corner_is_measured_inside():
    assert corner_deg(LineString([(0, 0), (1, 0)]), LineString([(1, 0), (1, 1)])) == pytest.approx(90)


@pytest.mark.parametrize("name", OUTLINES)
@pytest.mark.parametrize("width", [8.0, 11.3])
def test_long_and_short_points_are_those_of_the_offset_polygon(name, width, tmp_path):
    """shapely: inside the outline's side, outside the side of its mitred buffer; a mitre halves its corner,
    and a saw's scale shows what is left to a square cut."""
    job = check(framed(tmp_path, OUTLINES[name], {"width": width}))
    inner = inner_of(OUTLINES[name])
    outer = polygon.orient(inner.buffer(width, join_style="mitre", mitre_limit=100))
    right = []
    sides = sides_of(inner)
    for before, side, after in zip(sides[-1:] + sides, sides, sides[1:] + sides[:1]):
        mitres = [corner_deg(before, side) / 2, corner_deg(side, after) / 2]
        right.append([side.length, nearest(sides_of(outer), side).length, *mitres])
    found = [[s["short"], s["long"], *s["mitres"]] for s in job["surround"]]
    # Counter-clockwise too, from any side.
    start = min(range(len(right)), key=lambda i: math.dist(right[i], found[0]))
    for values, expected in zip(found, right[start:] + right[:start], strict=True):
        assert values == pytest.approx(expected, abs=ROUNDING * 10)
    for side in job["surround"]:
        assert side["saw"] == pytest.approx([90 - m for m in side["mitres"]], abs=ROUNDING)
    x0, y0, x1, y1 = outer.bounds
    assert job["panel"]["width"] == pytest.approx(x1 - x0, abs=ROUNDING)
    assert job["panel"]["height"] == pytest.approx(y1 - y0, abs=ROUNDING)


def test_sides_of_one_length_and_mitres_are_one_class(tmp_path):
    job = check(framed(tmp_path, OUTLINES["eight sides"], {"width": 8}))
    by_class = {}
    for side in job["surround"]:
        by_class.setdefault(side["class"], []).append(side["short"])
    # The ground's own figures: four long sides, four short ones, each 1.7 further out.
    sizes = sorted((len(v), max(v) - min(v) < 1e-5) for v in by_class.values())
    assert sizes == [(4, True), (4, True)]


def pin_lines(job, inner):
    """Each pin's axis in plan and its height, by corner, from the rows alone."""
    sides = {s["side"]: s for s in job["surround"]}
    outlines = {}
    for side in sides_of(inner):
        length = side.length
        for row in sides.values():
            if abs(row["short"] - length) < 1e-4:
                outlines.setdefault(row["side"], side)
    for name, row in sides.items():
        (x0, y0), (x1, y1) = outlines[name].coords
        u = ((x1 - x0) / row["short"], (y1 - y0) / row["short"])
        out = (u[1], -u[0])
        # The long point at the start: back along the side by the mitre's run, and out by the face.
        run = row["face"] / math.tan(math.radians(row["mitres"][0]))
        start = (x0 - u[0] * run + out[0] * row["face"], y0 - u[1] * run + out[1] * row["face"])
        for pin in row["pins"]:
            at = pin["at"] if pin["end"] == "start" else row["long"] - pin["at"]
            p = (start[0] + u[0] * at, start[1] + u[1] * at)
            q = (p[0] - out[0] * pin["length"], p[1] - out[1] * pin["length"])
            yield name, pin, LineString([p, q])


@pytest.mark.parametrize("name", ["triangle", "kite", "five sides"])
def test_pins_lie_in_two_sides_and_pass_each_other(name, tmp_path):
    """Each pin starts on the outer edge, crosses its mitre in the middle and ends within the neighbour; the
    solids of all pins stay apart."""
    width, depth = 12.7, 13.1
    job = check(framed(tmp_path, OUTLINES[name], {"width": width}))
    inner = inner_of(OUTLINES[name])
    outer = polygon.orient(inner.buffer(width, join_style="mitre", mitre_limit=100))
    mitres = [
        LineString([c, min(outer.exterior.coords, key=lambda o: math.dist(o, c))])
        for c in inner.exterior.coords[:-1]
    ]
    ring = outer.difference(inner)
    solids = []
    for _, pin, axis in pin_lines(job, inner):
        assert outer.exterior.distance(Point(axis.coords[0])) < 1e-4
        assert ring.buffer(1e-4).covers(axis), "never comes out again"
        (mitre,) = [m for m in mitres if m.distance(axis) < 1e-6]
        crossing = mitre.intersection(axis)
        assert crossing.distance(mitre.interpolate(0.5, normalized=True)) < 1e-4
        assert crossing.distance(Point(axis.coords[0])) == pytest.approx(pin["length"] / 2, abs=1e-4)
        assert pin["height"] >= 2 * pin["diameter"] and depth - pin["height"] >= 2 * pin["diameter"]
        (x0, y0), (x1, y1) = axis.coords
        solid = Manifold.cylinder(pin["length"], pin["diameter"] / 2).rotate([0, 90, 0])
        turn = math.degrees(math.atan2(y1 - y0, x1 - x0))
        solids.append(solid.rotate([0, 0, turn]).translate([x0, y0, pin["height"]]))
    # Where the middle of a flat mitre lies less than two diameters from the long point there are none.
    sides = sides_of(inner)
    corners = [corner_deg(a, b) for a, b in zip(sides[-1:] + sides, sides)]
    room = [width / 2 / math.tan(math.radians(c / 2)) >= 2 * 1.6 for c in corners]
    assert len(solids) == 2 * sum(room) > 0
    assert any("no pins" in w for w in job["warnings"]) == (not all(room))
    for a, b in itertools.combinations(solids, 2):
        assert bars.common(a, b) < SPECK


@pytest.mark.parametrize("pins, told", [({}, True), ({"pins": False}, False)])
def test_a_surround_too_narrow_for_pins_says_so(pins, told, tmp_path):
    job = check(framed(tmp_path, OUTLINES["eight sides"], {"width": 6, **pins}))
    assert all(side["pins"] == [] for side in job["surround"])
    assert any("no pins" in w for w in job["warnings"]) == told


def test_a_table_tells_the_sides(tmp_path):
    surround = {"width": 12.7, "pin": {"diameter": 2.1, "hole": 1.9}}
    folder = make(framed(tmp_path / "in", OUTLINES["kite"], surround, quantity=3), tmp_path / "out")
    job = summary(folder)
    rows = list(csv.DictReader(io.StringIO((folder / "surround.csv").read_text())))
    for row, side in zip(rows, job["surround"], strict=True):
        assert (row["side"], row["class"]) == (side["id"], side["class"])
        assert [float(row[k]) for k in ("long_mm", "short_mm")] == [side["long"], side["short"]]
        assert [float(row[f"{e}_saw_deg"]) for e in ("start", "end")] == side["saw"]
        for pin in side["pins"]:
            told = [float(row[f"{pin['end']}_pin_mm"]), float(row[f"{pin['end']}_pin_height_mm"])]
            assert told == [pin["at"], pin["height"]]
            assert (float(row["pin_mm"]), float(row["hole_mm"])) == (2.1, 1.9)
        assert int(row["class_count"]) == 3 * sum(s["class"] == side["class"] for s in job["surround"])
    assert (folder / "pictures" / "surround.svg").is_file()


@pytest.mark.parametrize("seed", range(4))
def test_stock_holds_all_sides(seed, tmp_path):
    """From the lengths alone: every side once a panel, in order, a saw cut apart, trim at both ends; and no
    fewer lengths than the wood takes."""
    rnd = random.Random(seed)
    trim, kerf = round(rnd.uniform(0, 20), 1), round(rnd.uniform(0.5, 3), 2)
    length, quantity = rnd.choice([450, 700, 1830]), rnd.choice([1, 3, 7])
    surround = {"width": 9.1, "trim": trim, "saw_kerf": kerf, "stock_length": length}
    job = check(framed(tmp_path, OUTLINES["five sides"], surround, quantity=quantity))
    stock, sides = job["surround_stock"], {s["id"]: s for s in job["surround"]}
    steepest = min(m for s in sides.values() for m in s["mitres"])
    cut = kerf / math.sin(math.radians(steepest))
    assert stock["kerf"] == pytest.approx(cut, abs=ROUNDING)
    count = {}
    for bought in stock["lengths"]:
        end = trim
        for side in bought["sides"]:
            assert side["from"] >= end + cut - 2e-3
            assert side["to"] - side["from"] == pytest.approx(sides[side["id"]]["long"], abs=2e-3)
            end = side["to"]
            count[side["id"]] = count.get(side["id"], 0) + 1
        assert end + cut <= length - trim + 2e-3
    assert count == {name: quantity for name in sides}
    wood = quantity * sum(s["long"] for s in sides.values())
    assert stock["total"] == pytest.approx(wood + (quantity * len(sides) + 1) * cut + 2 * trim, abs=1e-3)
    assert stock["used"] == len(stock["lengths"]) >= stock["lower_bound"] >= wood / length


# Lapped in card.


def lap_job(folder, corners, ear=6.0, clearance=0.06, **more):
    surround = {"width": 1.5, "cut": "laps", "ear": ear}
    return check(framed(folder, corners, surround, **{"cut.clearance": clearance}, **more))


def side_solid(side, depth, grown=0.0):
    return bars.bar_solid(side["bar"], depth, side["bar"]["face"], grown=grown)


@pytest.mark.parametrize("name", OUTLINES)
def test_lapped_sides_seat_and_share_no_space(name, tmp_path):
    """manifold3d: inner faces on the outline, no solid shares space with another or with the ground, every
    side goes in straight from the front in its turn, and each lap is full in height."""
    job = lap_job(tmp_path, OUTLINES[name])
    depth, face = 13.1, job["surround"][0]["face"]
    inner = inner_of(OUTLINES[name])
    sides = {s["id"]: s for s in job["surround"]}
    solids = {name: side_solid(s, depth) for name, s in sides.items()}
    # Together they are the ring of the mitred frame, the openings beside square walls and the ears apart.
    ring = polygon.orient(inner.buffer(face, join_style="mitre", mitre_limit=100)).difference(inner)
    inside = CrossSection([list(inner.exterior.coords)[:-1]]).extrude(depth)
    whole = Manifold.batch_boolean(list(solids.values()), OpType.Add)
    rounding = 2e-6 * inner.length * depth
    assert bars.common(whole, inside) < rounding, "nothing reaches over the outline"
    frame = CrossSection(
        [list(ring.exterior.coords)[:-1], list(ring.interiors[0].coords)[:-1]]
    ).extrude(depth)
    missing = (frame - whole).volume()
    # An opening's legs are face |cot t|, on both sides of either bar, half as deep; and the clearance.
    angles = [math.radians(j["angle"]) for s in sides.values() for j in s["bar"]["joints"]]
    openings = sum((face**2 * abs(1 / math.tan(t)) + face * 0.06 / math.sin(t)) * depth / 2 for t in angles)
    assert missing <= openings + rounding
    for a, b in itertools.combinations(solids, 2):
        assert bars.common(solids[a], solids[b]) < SPECK, (a, b)
    order = sorted(sides, key=lambda name: sides[name]["bar"]["rank"])
    worst, where = bars.assemble([[name] for name in order], solids, depth)
    assert worst < SPECK, where
    for side in sides.values():
        assert [j["depth"] for j in side["bar"]["joints"]] == pytest.approx([depth / 2] * 2)
        for joint in side["bar"]["joints"]:
            other = sides[joint["with"]]["bar"]["rank"]
            assert joint["edge"] == ("front" if side["bar"]["rank"] < other else "back")
    # Bars end at the outline, trimmed as their labels say.
    for member in job["members"]:
        plan = LineString([member["start"], member["end"]]).buffer(0.75, cap_style="flat")
        body = polygon.orient(plan.intersection(inner))
        bar = CrossSection([list(body.exterior.coords)[:-1]]).extrude(depth)
        assert bars.common(bar, whole) < rounding, member["id"]


def test_a_lap_that_is_cut_narrower_does_not_go_in(tmp_path):
    """The same test sees a fault: notches for a face less than the card's."""
    job = lap_job(tmp_path, OUTLINES["kite"], clearance=0.0)
    depth = 13.1
    order = sorted(job["surround"], key=lambda s: s["bar"]["rank"])
    solids = {s["id"]: side_solid(s, depth, grown=-0.05) for s in order}
    worst, _ = bars.assemble([[s["id"]] for s in order], solids, depth)
    assert worst > 1e-3


def test_a_table_of_lapped_sides_tells_no_mitres(tmp_path):
    """They end square: their length as cut is all there is, and that is the bar's."""
    surround = {"width": 1.5, "cut": "laps", "ear": 4.7}
    folder = make(framed(tmp_path / "in", OUTLINES["kite"], surround, quantity=2), tmp_path / "out")
    job = summary(folder)
    rows = list(csv.DictReader(io.StringIO((folder / "surround.csv").read_text())))
    for row, side in zip(rows, job["surround"], strict=True):
        assert (row["side"], row["class"]) == (side["id"], side["class"])
        assert (float(row["face_mm"]), float(row["depth_mm"])) == (1.5, 13.1)
        # Classes are cut at the mean of their members.
        assert float(row["bar_mm"]) == pytest.approx(side["bar"]["to"] - side["bar"]["from"], abs=0.005)
        assert "half-lapped" in row["remark"]
        assert not any(row[key] for key in row if re.search("long|short|mitre|saw|pin|hole", key))
        assert int(row["class_count"]) == 2 * sum(s["class"] == side["class"] for s in job["surround"])


def test_ears_run_past_the_laps(tmp_path):
    for ear in (4.0, 9.5):
        job = lap_job(tmp_path / str(ear), OUTLINES["kite"], ear=ear)
        for side in job["surround"]:
            bar = side["bar"]
            first, last = bar["joints"]
            assert first["at"] - first["run"] / 2 - bar["from"] == pytest.approx(ear, abs=ROUNDING)
            assert bar["to"] - last["at"] - last["run"] / 2 == pytest.approx(ear, abs=ROUNDING)
            for joint in bar["joints"]:
                t, face = math.radians(joint["angle"]), bar["face"]
                run = (face + 0.06 + face * abs(math.cos(t))) / math.sin(t)
                assert joint["run"] == pytest.approx(run, abs=ROUNDING)


def test_the_six_sides_of_the_model_are_one_piece(made):
    job = summary(made(fixture_path("panel", "hexagon-card")))
    assert {s["class"] for s in job["surround"]} == {"s1"}
    cut = [p["id"] for strip in job["nest"]["strips"] for p in strip["pieces"]]
    assert sorted(i for i in cut if i.startswith("surround")) == sorted(s["id"] for s in job["surround"])


EIGHT = OUTLINES["eight sides"]
WRONG = {
    "wider than the opening": (EIGHT, {"width": 400}, ["wider than the ground", "at most 300.38"]),
    "a mitre longer than its side": (
        [(0, 0), (300, 0), (300, 296), (296, 300), (0, 300)], {"width": 40},
        ["less than its mitre", "at most"],
    ),
    "laps of another width": (
        EIGHT, {"width": 8, "cut": "laps"}, ["as wide as the stock is thick", "width = 1.5", "by-hand"],
    ),
    "laps of another depth": (
        EIGHT, {"width": 1.5, "depth": 9, "cut": "laps"}, ["13.1 mm deep", "leave `depth` out"],
    ),
    "ears that meet": (
        [(60, 0), (240, 0), (300, 20), (300, 300), (0, 300), (0, 20)],
        {"width": 1.5, "cut": "laps", "ear": 70}, ["ears of the", "shorter `ear`"],
    ),
    "pins for laps": (
        EIGHT, {"width": 1.5, "cut": "laps", "pins": False}, ["`pins` means nothing here", "leave it out"],
    ),
    "ears for mitres": (EIGHT, {"width": 8, "ear": 3}, ["`ear` means nothing here", "leave it out"]),
    "a loose pin": (EIGHT, {"width": 8, "pin": {"diameter": 1.6, "hole": 1.7}}, ["loose", "at most 1.6"]),
    "short stock": (EIGHT, {"width": 8, "stock_length": 100}, ["a length of 100", "at least"]),
    "another way": (EIGHT, {"width": 8, "cut": "lap"}, ["\"laps\"", "by-hand"]),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_what_cannot_be_made_is_told(name, tmp_path):
    corners, surround, says = WRONG[name]
    path = framed(tmp_path / "in", corners, surround)
    done = call("make", path, "--out", tmp_path / "out")
    assert done.returncode == 2, said(done)
    for words in says:
        assert words in done.stderr, said(done)
    assert "^" in done.stderr and not (tmp_path / "out").exists()


def test_lapped_sides_cannot_be_cut_edge_up(tmp_path):
    panel = {"surround": {"width": 4, "cut": "laps"}}
    done = call("check", write_job(tmp_path, "check", panel=panel))
    assert done.returncode == 2 and "edge up" in done.stderr, said(done)


def test_the_fixture_is_what_its_comment_says():
    panel = tomllib.loads(fixture_path("panel", "hexagon-card").read_text())
    assert panel["surround"]["cut"] == "laps" and len(panel["outline"]["side"]) == 6
