"""Orientation marks: where the grooves lie is taken from the G-code, swept with shapely; where every piece and
member bears its mark is told by job.json, members.csv, sticks.csv and the steps of assembly. A maker who follows them
must not be able to put a bar in turned.

Sticks, pieces and members are compared as outlines of notches seen from the front; a bar that is turned is turned
point by point. Nothing here uses the program's turns.
"""

import csv
import io
import re
import xml.etree.ElementTree as ET

import pytest
from shapely import affinity
from shapely.geometry import Polygon
from shapely.ops import unary_union

import gangs as bench
import odd
import sticks as rules
from sweeps import REPLAY
from workshop import fixture_path, make, said, summary, call, write_job

JOBS = ["check", *odd.EDGE_UP]
# Members of a class are the same piece to within 0.01 mm in every place; twice that, and round-off.
SAME = 0.0201
SWAP = {"front": "back", "back": "front"}
EDGES = {"in front": {"front"}, "at the back": {"back"}, "in both edges": {"front", "back"}}
# How a bar can be turned and still lie along its line: x and y mirrored or not, edges swapped or not. Each is half
# a turn in space: the hand is kept.
WAYS = {"none": (1, 1, False), "over": (1, -1, True), "end": (-1, -1, False), "both": (-1, 1, True)}


@pytest.fixture(scope="module", params=JOBS)
def folder(request, panel_file, made):
    return made(panel_file(request.param))


def shapes(notches, shift):
    """[(edge, depth, outline as seen from the front)]; x from the bar's first end."""

    def outlines(face):
        return [(n[1], n[4], affinity.translate(rules.footprint(n, face), -shift, 0)) for n in rules.rows(notches)]

    return outlines


def grooves(gangs):
    """[(edge, outline as seen from the front)] of what the clampings of one class of sticks cut into stick 1
    beside its notches, from their programs."""
    found = []
    for gang in gangs:
        top = gang.removed(1, gang.levels())[-1][2]
        notches = unary_union([bench.slot(n[0], n[3], n[2], gang.face) for n in bench.own_notches(gang)])
        for mark in bench.polygons(top.difference(notches.buffer(REPLAY))):
            seen = mark if gang.edge == "front" else affinity.scale(mark, 1, -1, origin=(0, 0))
            found.append((gang.edge, seen))
    return found


class Job:
    def __init__(self, folder):
        self.folder, self.job = folder, summary(folder)
        self.grooves = {}
        gangs = bench.gangs(folder)
        for name in {s["class"] for s in self.job["sticks"]}:
            self.grooves[name] = grooves([g for g in gangs if g.stick["class"] == name])
        self.classes = {c["id"]: c for c in self.job["classes"]}

    def heap(self, name):
        """Every kind of piece of a class as it comes from its stick: (length, notches, mark), the mark as (at the
        first end, edges)."""
        for stick in self.job["sticks"]:
            face = stick["face"]
            for piece in stick["pieces"]:
                if piece["class"] != name:
                    continue
                start, stop = piece["cut"]
                wood = Polygon([(0, -face / 2), (stop - start, -face / 2), (stop - start, face / 2), (0, face / 2)])
                all_notches = shapes(stick["notches"], start)(face)
                notches = [n for n in all_notches if n[2].intersection(wood).area > 1e-4]
                yield stop - start, notches, self.mark(stick, piece, wood), stick["id"]

    def mark(self, stick, piece, wood):
        """The cross where one is told, else the groove that is on the piece."""
        told = piece["mark"]
        edges = {"front", "back"} if told["edge"] == "both" else {told["edge"]}
        if told["made"] != "cut":
            return told["end"] == "from", edges
        start, stop = piece["cut"]
        on = [(e, affinity.translate(g, -start, 0)) for e, g in self.grooves[stick["class"]]]
        on = [(e, g) for e, g in on if wood.buffer(REPLAY).covers(g)]
        assert {e for e, _ in on} == edges, (stick["id"], piece)
        firsts = {g.centroid.x < (stop - start) / 2 for _, g in on}
        assert firsts == {told["end"] == "from"}
        return firsts.pop(), edges


def turned(bar, way):
    length, notches, (first, edges), name = bar
    sx, sy, swap = WAYS[way]
    new = []
    for edge, depth, outline in notches:
        outline = affinity.scale(outline, sx, sy, origin=(0, 0))
        if sx < 0:
            outline = affinity.translate(outline, length, 0)
        new.append((SWAP[edge] if swap else edge, depth, outline))
    edges = {SWAP[e] for e in edges} if swap else edges
    return length, new, (first if sx > 0 else not first, edges), name


def is_member(bar, member):
    """Whether a bar as it lies has the member's notches, and no other."""
    length, notches, _, _ = bar
    wanted = shapes(member["joints"], member["from"])(member["face"])
    if abs(length - member["length"]) > SAME or len(notches) != len(wanted):
        return False

    def same(a, b):
        near = a[2].hausdorff_distance(b[2]) <= 2 * SAME + 1e-6
        return a[0] == b[0] and abs(a[1] - b[1]) <= SAME and near

    return all(any(same(a, b) for b in notches) for a in wanted)


def words(job):
    """What the steps say of each member: {id: (end, edges)}."""
    found = {}
    members = {m["id"] for m in job["members"]}
    for step in job["assembly"]:
        left = [i for i in step["ids"] if i in members]
        for text in step["text"]:
            said_so = re.fullmatch(r"Mark at the (\w+) end, ([\w ]+): (.*)\.", text)
            if not said_so:
                continue
            end, edges, ids = said_so.groups()
            now = list(left) if ids in ("all", "all others") else ids.split(", ")
            assert set(now) <= set(left), "each bar once"
            left = [i for i in left if i not in now]
            found.update({i: (end, EDGES[edges]) for i in now})
        assert not left, f"not told: {left}"
    return found


def starts_there(member, word):
    """Whether a word names the end at which a member starts."""
    (x0, y0), (x1, y1) = member["start"], member["end"]
    way = {"left": x1 - x0, "right": x0 - x1, "lower": y1 - y0, "upper": y0 - y1}[word]
    assert abs(way) > 1e-3
    return way > 0


def turned_bars(job, told=None):
    """Bars that can be put in turned by a maker who follows the words, and those that cannot be put in at all."""
    wrong = []
    told = told or words(job.job)
    for member in job.job["members"]:
        end, edges = told[member["id"]]
        wanted = (starts_there(member, end), edges)
        heap = list(job.heap(member["class"]))
        assert heap, member["class"]
        for bar in heap:
            ways = [turned(bar, way) for way in WAYS]
            placed = [b for b in ways if b[2] == wanted]
            if not placed or not all(is_member(b, member) for b in placed):
                wrong.append((member["id"], bar[3]))
    return wrong


def test_following_the_words_puts_every_bar_in_right(folder):
    assert turned_bars(Job(folder)) == []


def test_words_of_another_bar_are_seen(folder):
    """The test above can fail: with the word for the other end, and with the word for the other edge, nothing but
    bars that are the same turned that way goes in right."""
    job = Job(folder)
    told = words(job.job)
    other = {"left": "right", "right": "left", "lower": "upper", "upper": "lower"}
    ends = {i: (other[end], edges) for i, (end, edges) in told.items()}
    swapped = {i: (end, {SWAP[e] for e in edges}) for i, (end, edges) in told.items()}
    alike = {"end": set(), "over": set()}
    for member in job.job["members"]:
        for bar in job.heap(member["class"]):
            right = [b for way in WAYS if is_member(b := turned(bar, way), member)]
            assert right
            for way in alike:
                if is_member(turned(right[0], way), member):
                    alike[way].add(member["id"])
    ids = {m["id"] for m in job.job["members"]}
    assert {i for i, _ in turned_bars(job, ends)} == ids - alike["end"]
    both = {i for i, (_, edges) in told.items() if len(edges) == 2}
    assert both <= alike["over"], "a mark in both edges does not tell front from back"
    assert {i for i, _ in turned_bars(job, swapped)} == ids - alike["over"] - both
    assert (ids - alike["end"]) or (ids - alike["over"])


def test_grooves_lie_where_they_are_told(folder):
    job = Job(folder)
    for stick in job.job["sticks"]:
        cut, told = job.grooves[stick["class"]], stick["mark"]
        assert {e for e, _ in cut} == ({"front", "back"} if told["edge"] == "both" else {told["edge"]})
        for _, groove in cut:
            assert groove.centroid.x == pytest.approx(told["at"], abs=2 * REPLAY)
            # Across the slot: its area over the length of its walls.
            across = groove.area / stick["face"]
            run = rules.footprint((0, "front", told["angle"], told["width"], 0), stick["face"])
            assert across == pytest.approx(run.area / stick["face"], abs=4 * REPLAY)


def test_lists_say_the_same(folder):
    job = summary(folder)
    told = words(job)
    rows = list(csv.DictReader(io.StringIO((folder / "members.csv").read_text())))
    for member, row in zip(job["members"], rows, strict=True):
        mark = member["mark"]
        edges = {"front", "back"} if mark["edge"] == "both" else {mark["edge"]}
        assert told[member["id"]] == (mark["side"], edges)
        assert (row["mark_end"], row["mark_edge"]) == (mark["side"], mark["edge"])
        assert starts_there(member, mark["side"]) == (mark["end"] == "start")
    rows = csv.DictReader(io.StringIO((folder / "sticks.csv").read_text()))
    pieces = [p["mark"] for s in job["sticks"] for p in s["pieces"]]
    for row, mark in zip(rows, pieces, strict=True):
        assert (row["mark_end"], row["mark_edge"], row["mark"]) == (mark["end"], mark["edge"], mark["made"])
    # A class has one place, told near the end that it names.
    for one in job["classes"]:
        mark = one["mark"]
        assert 0 < mark["at"] < one["length"]
        assert (mark["at"] < one["length"] / 2) == (mark["end"] == "first")


def test_pictures_show_the_mark_at_its_end(folder):
    """A sign at the right end of every bar, of the colour of its edge: black in front, white at the back."""
    job = summary(folder)
    space = "{http://www.w3.org/2000/svg}"
    pictures = [("pictures/members.svg", [m["id"] for m in job["members"]])]
    ids = {m["id"] for m in job["members"]}
    pictures += [(s["picture"], s["ids"]) for s in job["assembly"] if s["ids"] and s["ids"][0] in ids]
    members = {m["id"]: m for m in job["members"]}
    for path, shown in pictures:
        svg = ET.parse(folder / path).getroot()
        (group,) = [g for g in svg.iter(f"{space}g") if g.get("class") == "step-marks"]
        signs = [p for p in group if (p.get("class") or "").startswith("mark-")]
        assert len(signs) == len(shown)
        left = []
        for sign in signs:
            x, y = zip(*(map(float, pair.split(",")) for pair in sign.get("points").split()))
            left.append((sum(x) / 4, sum(y) / 4, sign.get("class").removeprefix("mark-")))
        for name in shown:
            member = members[name]
            mark = member["mark"]
            (x0, y0), (x1, y1) = member["start"], member["end"]
            length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
            far = member["from"] if mark["end"] == "start" else member["to"]
            at = (x0 + (x1 - x0) * far / length, y0 + (y1 - y0) * far / length)
            near = [s for s in left if abs(s[0] - at[0]) + abs(s[1] - at[1]) < 12 and s[2] == mark["edge"]]
            assert near, name
            left.remove(min(near, key=lambda s: (s[0] - at[0]) ** 2 + (s[1] - at[1]) ** 2))
        assert not left
        legend = {t.text for t in svg.iter(f"{space}text")}
        edges = {members[name]["mark"]["edge"] for name in shown}
        says = {"front": "mark in front", "back": "mark at the back", "both": "mark in both edges"}
        assert {says[e] for e in edges} <= legend


def test_flat_bars_have_no_mark(made):
    folder = made(fixture_path("panel", "plain-window"))
    job = summary(folder)
    assert all(m["mark"] is None for m in job["members"] + job["classes"])
    assert "Mark at" not in str(job["assembly"])
    rows = list(csv.DictReader(io.StringIO((folder / "members.csv").read_text())))
    assert all(row["mark_end"] == row["mark_edge"] == "" for row in rows)


def test_the_lead_that_is_named_helps(tmp_path):
    """Slanting bars turn either edge to the front, and nothing is cut off before them: refused with the lead that
    makes room; a hundredth less does not."""
    sides = dict.fromkeys(("left", "right", "bottom", "top"), {"clear": 14.7})
    panel = {"outline": sides, "ground.columns": 3, "ground.rows": 2, "sticks.ends": None, "sticks.limit": None}
    done = call("check", write_job(tmp_path / "a", "check", panel=panel))
    assert done.returncode == 1 and "mark-room" in done.stderr, said(done)
    leads = [float(v) for v in re.findall(r"lead = ([\d.]+) or more", done.stderr)]
    assert leads, said(done)
    lead = max(leads)
    for less, status in ((0.0, False), (0.01, True)):
        path = write_job(tmp_path / str(less), "check", panel={**panel, "sticks.lead": lead - less})
        done = call("check", path)
        assert ("mark-room" in done.stderr) == status, said(done)
