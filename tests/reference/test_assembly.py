"""The steps of assembly, from job.json alone: each can be done, in this order, by a maker who has no more than
the steps. Rank rule, notches and order are worked out again here; solids by manifold3d."""

import csv
import io
import itertools
import math
import random
import xml.etree.ElementTree as ET

import pytest
from shapely import unary_union
from shapely.geometry import LineString, Polygon, box

import bars
import odd
from workshop import (
    FLAT_PANELS, NEW_PANELS, call, check, fixture_path, millimetres, said, sizes, summary, write_job,
)  # fmt: skip

# job.json has six decimals.
ROUNDING = 1e-5
# Two solids share this much (mm3) by round-off of the mesh alone.
SPECK = 1e-6


@pytest.fixture(scope="module", params=[*FLAT_PANELS, *NEW_PANELS, "check"])
def job(request):
    """The summary of a panel, and its overhang."""
    path = fixture_path("panel", request.param)
    return {**check(path), "overhang": sizes(path)[0]["outline"].get("overhang", 0)}


def steps_of(job):
    """The steps that put members in."""
    members = {m["id"] for m in job["members"]}
    return [s for s in job["assembly"] if s["ids"] and s["ids"][0] in members]


def test_steps_are_numbered_and_told(job):
    steps = job["assembly"]
    assert [s["step"] for s in steps] == list(range(1, len(steps) + 1))
    for step in steps:
        assert step["title"] and step["text"] and all(text.strip() for text in step["text"])
    first = " ".join(steps[0]["text"])
    assert "Finish-plane" in first and "Label" in first
    assert "without glue" in " ".join(steps[1]["text"])


def test_every_piece_goes_in_once(job):
    ids = [i for step in job["assembly"] for i in step["ids"]]
    wanted = [x["id"] for key in ("members", "infill", "surround") for x in job[key]]
    assert sorted(ids) == sorted(wanted)


def test_groups_are_those_of_the_order(job):
    assert [sorted(s["ids"]) for s in steps_of(job)] == [sorted(group) for group in job["order"]]
    # No more steps than families, and some before and after: groups, not bars.
    families = {m["family"] for m in job["members"]}
    assert len(job["order"]) <= len(families)
    assert len(job["assembly"]) <= len(families) + 5 + len({row["pattern"] for row in job["infill"]})


def test_nothing_goes_in_under_what_is_in(job):
    """At each node the bar with more left behind it (its floor above the other's) must come later: worked out
    from the notches alone. A front notch takes the bar's front away, for a bar that lies before it."""
    place = {name: k for k, step in enumerate(steps_of(job)) for name in step["ids"]}
    met = 0
    for member in job["members"]:
        for joint in member["joints"]:
            if joint["with"] is None:
                continue
            met += 1
            before = place[member["id"]] < place[joint["with"]]
            assert before == (joint["edge"] == "front"), (member["id"], joint["with"])
    assert met


def distance(member, point):
    """From a point to the member's centre line, both ways beyond its ends."""
    (x0, y0), (x1, y1) = member["start"], member["end"]
    length = math.hypot(x1 - x0, y1 - y0)
    return abs((x1 - x0) * (point[1] - y0) - (y1 - y0) * (point[0] - x0)) / length


def test_groups_go_in_from_the_middle_outward(job):
    members = {m["id"]: m for m in job["members"]}
    middle = (job["panel"]["inner_width"] / 2, job["panel"]["inner_height"] / 2)
    for step in steps_of(job):
        far = [distance(members[name], middle) for name in step["ids"]]
        assert all(a <= b + ROUNDING for a, b in itertools.pairwise(far)), step["ids"]


def strip(member):
    """The plan of a bar that runs on and on (shapely)."""
    (x0, y0), (x1, y1) = member["start"], member["end"]
    length, half = math.hypot(x1 - x0, y1 - y0), member["face"] / 2
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    ends = [(x0 + ux * t, y0 + uy * t) for t in (-1e4, 1e4)]
    return LineString(ends).buffer(half, cap_style="flat")


def glue_wanted(job):
    """Which joints get glue when each bar goes in, and which of them more: those whose wood, shared by two bars or
    more, the outline cuts or runs along, and along every bar the first and the last whose wood lies within it
    (common practice, no source). The wood by shapely: a joint's is where the bars' plans overlap."""
    trims = [t["from"] for step in job["assembly"] for t in step["trim"]]
    ground = Polygon(trims) if trims else box(0, 0, job["panel"]["inner_width"], job["panel"]["inner_height"])
    members = {m["id"]: m for m in job["members"]}
    strips = {name: strip(m) for name, m in members.items()}
    meet = {}
    for member in job["members"]:
        for joint in member["joints"]:
            if joint["filled"]:
                meet.setdefault(tuple(joint["node"]), set()).update((member["id"], joint["with"]))
    wood = {
        node: unary_union([strips[a].intersection(strips[b]) for a, b in itertools.combinations(sorted(ids), 2)])
        for node, ids in meet.items()
    }
    more = {node for node, shared in wood.items() if shared.distance(ground.exterior) < ROUNDING}
    within = {node for node, shared in wood.items() if node not in more and ground.contains(shared)}
    on = len(more)
    for member in job["members"]:
        along = [n for n in meet if member["id"] in meet[n] and n in within]
        along.sort(key=lambda n: math.dist(n, member["start"]))
        more.update(along[:1] + along[-1:])
    wanted = {}
    for step in steps_of(job):
        for name in step["ids"]:
            for joint in members[name]["joints"]:
                if joint["filled"] and members[joint["with"]]["rank"] < members[name]["rank"]:
                    key = (step["step"], tuple(joint["node"]))
                    wanted.setdefault(key, set()).update((name, joint["with"]))
    return wanted, more, on


def test_every_joint_is_glued_and_those_at_the_outline_more(job):
    wanted, more, on = glue_wanted(job)
    told = {(s["step"], tuple(g["node"])): g for s in job["assembly"] for g in s["glue"]}
    assert {key: set(g["bars"]) for key, g in told.items()} == wanted and wanted
    assert {key for key, g in told.items() if g["more"]} == {key for key in wanted if key[1] in more}
    assert len(told) == sum(len(s["glue"]) for s in job["assembly"])
    rank = {m["id"]: m["rank"] for m in job["members"]}
    for glue in told.values():
        assert [rank[name] for name in glue["bars"]] == sorted(rank[name] for name in glue["bars"])
    # A three-way outline runs through joints; and some joints within need no more than a dab.
    assert on or job["panel"]["layout"] != "three-way"
    assert len(more) < len({node for _, node in wanted}) or len(wanted) < 30


def test_the_words_count_the_glue(job):
    for step in steps_of(job):
        text = " ".join(step["text"])
        large = sum(g["more"] for g in step["glue"])
        small = len(step["glue"]) - large
        assert (f"Glue in each of the {len(step['glue'])} joints" in text) == bool(step["glue"])
        if small and large:
            assert f"a dab in {small} (small dots), more in {large} (large dots)" in text
        if step["step"] > steps_of(job)[0]["step"]:
            assert "never push it in at one end" in text


def test_trimming_runs_round_the_outline(job):
    trims = [t for step in job["assembly"] for t in step["trim"]]
    assert bool(trims) == (job["overhang"] > 0)
    if not trims:
        return
    # A closed ring, counter-clockwise, as large as the trimmed ground.
    for a, b in zip(trims, trims[1:] + trims[:1]):
        assert math.dist(a["to"], b["from"]) < ROUNDING
    xs, ys = zip(*(t["from"] for t in trims))
    assert max(xs) - min(xs) == pytest.approx(job["panel"]["inner_width"], abs=ROUNDING)
    assert max(ys) - min(ys) == pytest.approx(job["panel"]["inner_height"], abs=ROUNDING)
    # Every bar ends on one of the lines.
    for member in job["members"]:
        for point in (member["start"], member["end"]):
            on = min(distance({"start": t["from"], "end": t["to"]}, point) for t in trims)
            assert on < ROUNDING, member["id"]
    # The ground is glued before, and the surround goes on after.
    last = max(s["step"] for s in steps_of(job))
    (step,) = [s["step"] for s in job["assembly"] if s["trim"]]
    assert step == last + 1
    sides = {s["id"] for s in job["surround"]}
    assert all(s["step"] > step for s in job["assembly"] if sides & set(s["ids"]))


def test_cells_are_filled_with_the_pieces_that_there_are():
    job = check(fixture_path("panel", "hemp-leaf-card"))
    count, seen = {}, set()
    middle = (job["panel"]["inner_width"] / 2, job["panel"]["inner_height"] / 2)
    last = max(s["step"] for s in steps_of(job))
    for step in (s for s in job["assembly"] if s["cells"]):
        assert step["step"] > last
        for cell in step["cells"]:
            assert cell["id"] not in seen
            seen.add(cell["id"])
            for name in cell["pieces"]:
                count[name] = count.get(name, 0) + 1
    assert count == {row["id"]: row["count"] for row in job["infill"]} and middle


@pytest.mark.parametrize("layout", ["new-three-way", "new-eight-point", "new-open-three-way", "new-free"])
def test_the_steps_can_be_done_in_wood(layout, tmp_path):
    """manifold3d: every bar as a solid, lowered straight in from the front in the order of the steps, bar by
    bar, meets nothing that is in."""
    small = {"ground.columns": 3, "ground.rows": 2} if layout != "new-free" else {}
    path = write_job(tmp_path, layout, panel={"cut.clearance": 0.0, **small})
    job = check(path)
    depth = millimetres(sizes(path)[0]["ground"]["depth"])
    solids = {m["id"]: bars.bar_solid(m, depth, m["face"]) for m in job["members"]}
    order = [[name] for step in steps_of(job) for name in step["ids"]]
    worst, where = bars.assemble(order, solids, depth, step=depth / 7)
    assert worst < SPECK, where
    # Backwards nothing goes: the test can tell.
    worst, _ = bars.assemble(order[::-1], solids, depth, step=depth / 7)
    assert worst > 1.0


@pytest.mark.parametrize("seed", range(3))
def test_hand_trimmed_ends_tell_their_angle(seed, tmp_path):
    """Cut flat without overhang, a skew end is trimmed by hand: at the angle between its bar and the side of
    the outline that it ends on, worked out from the panel file."""
    rnd = random.Random(seed)
    clear = {"left": 13.7, "right": 21.9, "bottom": 17.3, "top": 11.1}
    moved = {f"outline.{side}": {"clear": round(d + rnd.uniform(-1, 1), 2)} for side, d in clear.items()}
    path = odd.odd_trimmed(tmp_path / "in", **moved)
    done = call("make", path, "--out", tmp_path / "out")
    assert done.returncode == 0, said(done)
    job = summary(tmp_path / "out")
    width, height = job["panel"]["inner_width"], job["panel"]["inner_height"]
    rows = csv.DictReader(io.StringIO((tmp_path / "out" / "members.csv").read_text()))
    said_in_words = " ".join(job["assembly"][0]["text"])
    told = 0
    for row, member in zip(rows, job["members"], strict=True):
        (x0, y0), (x1, y1) = member["start"], member["end"]
        bar = math.degrees(math.atan2(y1 - y0, x1 - x0))
        half = member["face"] / 2
        for end, (x, y) in (("start", (x0, y0)), ("end", (x1, y1))):
            side = 90 if min(x, width - x) < ROUNDING else 0
            right = (side - bar) % 180
            text = row[f"{end}_trim_deg"]
            if abs(right - 90) < 1e-6:
                assert text == "" or "+" in text
                continue
            told += 1
            angles = [float(a) for a in text.split("+")]
            assert any(a == pytest.approx(right, abs=ROUNDING) for a in angles), (member["id"], text)
            # Two angles where the corner lies within the face.
            reach = half / math.sin(math.radians(right))
            corner = min(x, width - x) if side == 0 else min(y, height - y)
            assert (len(angles) == 2) == (corner < reach - 1e-6), (member["id"], text, corner, reach)
        if row["start_trim_deg"] or row["end_trim_deg"]:
            assert "by hand" in row["remark"] and member["id"] in said_in_words
    assert told


def numbers_of(element):
    return [float(v) for pair in element.get("points").split() for v in pair.split(",")]


@pytest.mark.parametrize("panel", ["plain-window", "hemp-leaf-card", "hexagon-card"])
def test_pictures_show_what_is_in_and_what_goes_in(panel, made):
    folder = made(fixture_path("panel", panel))
    job = summary(folder)
    space = "{http://www.w3.org/2000/svg}"
    before = 0
    for step in job["assembly"]:
        if step["picture"] is None:
            assert not step["ids"]
            continue
        svg = ET.parse(folder / step["picture"]).getroot()
        groups = {g.get("class"): g for g in svg.iter(f"{space}g") if g.get("class")}
        count = {name: len(g) for name, g in groups.items()}
        pieces = sum(len(c["pieces"]) for c in step["cells"]) or len(step["ids"])
        assert count["step-going-in"] == pieces
        assert count["step-before"] == before
        assert count["step-glue"] == sum(not g["more"] for g in step["glue"])
        assert count["step-glue-more"] == sum(g["more"] for g in step["glue"])
        # No dot lies on another: as many are seen as are told.
        dots = [(c.get("cx"), c.get("cy")) for name in ("step-glue", "step-glue-more") for c in groups[name]]
        assert len(set(dots)) == len(step["glue"])
        assert count["step-trims"] == len(step["trim"])
        for polygon in groups["step-going-in"]:
            assert all(math.isfinite(v) for v in numbers_of(polygon))
        before += pieces
        texts = {t.text for t in svg.iter(f"{space}text")}
        members = {m["id"] for m in job["members"]}
        assert (members & set(step["ids"])) <= texts, "every bar has its name"
    texts = [t.text for t in ET.parse(folder / "pictures" / "members.svg").getroot().iter(f"{space}text")]
    for m in job["members"]:
        turn = "" if m["turn"] == "none" else f" {m['turn']}"
        assert f"{m['id']} {m['class']}{turn}" in texts
