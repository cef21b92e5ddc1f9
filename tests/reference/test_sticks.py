"""Sticks of edge-up jobs against sticks.py: which member comes from where, what lies between the pieces,
and whether fewer millimetres would do, by trying every count of joints.

Source of the rules and of the three examples: the project's design, section 3 (common practice, no source).
"""

import copy
import itertools
import math
import tomllib
from collections import Counter

import pytest
from shapely.geometry import box

import ground as reference
import odd
import sticks as rules
from workshop import check, millimetres, roomy, sizes, write_job

ROUNDING = rules.ROUNDING
# How many joints of a bar's endless line make up what repeats, by layout (plane geometry): all joints of a
# line are alike where every family meets in every node. In `open-three-way` a line meets the other two
# directions in turn; the diagonals of `eight-point` meet each other between two nodes; `free` here has
# either one even family across, or lists that do not repeat.
PERIODS = {
    ("open-three-way", "rising"): 2, ("open-three-way", "upright"): 2, ("open-three-way", "falling"): 2,
    ("eight-point", "rising"): 2, ("eight-point", "falling"): 2,
    ("uneven", "post"): None, ("uneven", "beam"): None,
    ("odd two faces", "upright"): 2,
}  # fmt: skip

LONG = {"machine": {"travel": [900, 400, 80]}, "stock": {"blank": [{"name": "long", "length": 900, "width": 60}]}}


def longer(folder):
    """The second example: limit 600."""
    return write_job(folder, "check", panel={"sticks.limit": 600}, **LONG)


def shorter_ends(folder):
    """The third example: lead = tail = 20, limit 450. What runs past the outline must not ask for more."""
    changes = {"sticks.lead": 20, "sticks.tail": 20, "sticks.limit": 450, "outline.overhang": 15}
    return write_job(folder, "check", panel=changes, machine={"router.hold_width": 3})


def many(folder):
    return write_job(folder, "check", panel={"quantity": 3, "sticks.spares": 2, "ground.columns": 4})


def pointed(folder):
    """Datum ends with a point."""
    return write_job(folder, "check", panel={"sticks.datum": "point", "ground.columns": 3})


def pointed_diamond(folder):
    return odd.odd_diamond(folder, **{"sticks.datum": "point"})


def open_ground(folder):
    ground = {
        "layout": "open-three-way", "depth": 13.1, "pitch": 41.3, "columns": 2, "rows": 4,
        "faces": {"rising": 4.37, "upright": 5.1, "falling": 3.9},
    }  # fmt: skip
    panel = roomy({"ground": ground, "outline.overhang": 11, "quantity": 2})
    panel["panel"]["sticks"].update({"limit": 700, "lead": 31, "tail": 27})
    return write_job(folder, "check", **panel)


def untrimmed(folder):
    """No overhang: skew ends, cut on the outline."""
    changes = {
        "ground.pitch": 71.3, "ground.depth": 13.1, "ground.face": 4.37, "ground.columns": 3,
        "outline": dict.fromkeys(("left", "right", "bottom", "top"), {"clear": 14.7}), "sticks.lead": 66,
    }  # fmt: skip
    return write_job(folder, "check", panel=changes, **LONG)


def uneven(folder):
    """Offsets that do not repeat: a stick for each member."""
    ground = {
        "layout": "free", "depth": 12, "width": 160, "height": 120,
        "family": [
            {"name": "post", "direction": 90, "offsets": [10, 31.3, 70, 131], "face": 4, "rank": 1},
            {"name": "beam", "direction": 0, "offsets": [17, 41, 103.7], "face": 4, "rank": 2},
        ],
    }  # fmt: skip
    panel = {"ground": ground, "outline": dict.fromkeys(("left", "right", "bottom", "top"), "centres")}
    panel.update({"outline.overhang": 25, "sticks": {"saw_kerf": 1.5, "spares": 1}})
    return write_job(folder, "check", panel=panel)


def sharp(folder):
    """Sides that run at 20 degrees to the uprights, so that hardly any of an overhang is trimmed away at one
    of their corners: less than the point of the datum end takes."""
    corners = [(30, 0), (70, 0), (140, 192.3), (70, 384.6), (30, 384.6), (-40, 192.3)]
    changes = {
        "outline": {"side": [{"x": x, "y": y, "clear": 11.3} for x, y in corners]},
        "outline.overhang": 5.6, "sticks.lead": 74, "sticks.tail": 40, "sticks.ends": {"upright": 20},
        "sticks.limit": 800, "ground.columns": None, "ground.rows": None,
    }  # fmt: skip
    return write_job(folder, "check", panel=changes, material={"least_web": 0}, **LONG)


JOBS = {
    "check": lambda folder: write_job(folder, "check"),
    "longer": longer,
    "shorter-ends": shorter_ends,
    "many": many,
    "pointed": pointed,
    "pointed-diamond": pointed_diamond,
    "open": open_ground,
    "untrimmed": untrimmed,
    "uneven": uneven,
    "sharp": sharp,
    **odd.EDGE_UP,
    **odd.MEASURED,
}


class Job:
    def __init__(self, path):
        self.path = path
        self.panel, self.material = sizes(path)
        self.job = check(path)
        self.classes = {c["id"]: c for c in self.job["classes"]}
        self.members = {}
        for m in self.job["members"]:
            self.members.setdefault(m["class"], []).append(m)
        self.layout = self.panel["ground"]["layout"]
        self.groups = {}
        for stick in self.job["sticks"]:
            self.groups.setdefault(stick["class"], []).append(stick)

    def sticks(self):
        for group in self.groups.values():
            yield from group

    def families(self, name):
        return {m["family"] for m in self.members[name]}

    def period(self, group):
        """Of the sticks of a class, by the layout and the families of its members."""
        families = {f for s in group for p in s["pieces"] for f in self.families(p["class"])}
        names = (self.panel["name"], self.layout if self.layout != "free" else "uneven")
        found = {PERIODS.get((n, f), 1) for f in families for n in names if (n, f) in PERIODS}
        assert len(found) <= 1
        return found.pop() if found else 1

    def ends(self, name):
        return rules.leads(self.panel, self.families(name))

    @property
    def kerf(self):
        return millimetres(self.panel["sticks"].get("saw_kerf", 0))


@pytest.fixture(scope="module", params=JOBS)
def work(request, tmp_path_factory):
    return Job(JOBS[request.param](tmp_path_factory.mktemp(request.param)))


def lying(work, piece):
    """A piece as it lies in its stick."""
    return reference.turned(rules.of_class(work.classes[piece["class"]]), piece["turn"])


def test_every_member_is_in_one_piece(work):
    quantity = work.job["panel"]["quantity"]
    cut = Counter()
    for stick in work.sticks():
        for piece in stick["pieces"]:
            cut[piece["class"]] += stick["count"]
    needed = Counter(m["class"] for m in work.job["members"])
    assert cut == {name: n * quantity for name, n in needed.items()}
    assert {c["id"]: c["count"] for c in work.job["classes"]} == cut


def test_counts_are_whole_and_spares_are_one_batch(work):
    for group in work.groups.values():
        assert all(s["count"] > 0 for s in group)
        assert sum(s["spares"] for s in group) == work.panel["sticks"].get("spares", 0)


def test_all_sticks_of_a_class_are_alike(work):
    for group in work.groups.values():
        for key in ("joints", "length", "lead", "tail", "ends", "notches", "face"):
            assert all(s[key] == group[0][key] for s in group), key


def test_pieces_have_the_notches_of_their_members(work):
    """A piece, cut from the stick and turned as it and its member are, is the member: length, ends, and
    every notch at its place, in its edge, of its angle, width and depth; nothing else is cut of its wood."""
    seen = set()
    for stick in work.sticks():
        notches = rules.rows(stick["notches"])
        for piece in stick["pieces"]:
            low, high = piece["cut"]
            for member in work.members[piece["class"]]:
                mine = rules.of_member(member)
                # Each turn undoes itself, so that the stick's way back is the way there.
                here = reference.turned(reference.turned(mine, member["turn"]), piece["turn"])
                assert high - low == pytest.approx(member["length"], abs=ROUNDING)
                from_cut = [rules.moved(n, -low) for n in notches]
                assert rules.lies_in(here, from_cut, member["face"]), (stick["id"], member["id"])
                assert len(rules.joints_of(here)) == piece["joints"]
                assert member["face"] == stick["face"]
                assert member["family"] in stick["families"]
                seen.add(member["id"])
    assert seen == {m["id"] for m in work.job["members"]}


def test_a_notch_that_is_off_is_seen(work):
    """The check above can fail: by a shift, a width, a depth, an edge, and a turn the other way."""
    spoilt = 0
    for stick in work.sticks():
        piece = stick["pieces"][0]
        mine = lying(work, piece)
        here = [rules.moved(n, -piece["cut"][0]) for n in rules.rows(stick["notches"])]
        assert rules.lies_in(mine, here, stick["face"])
        which = min(range(len(here)), key=lambda i: abs(here[i][0] - mine[0] / 2))
        at, edge, angle, width, depth = here[which]
        other = "back" if edge == "front" else "front"
        for wrong in [
            (at + 0.001, edge, angle, width, depth), (at, other, angle, width, depth),
            (at, edge, angle, width + 0.001, depth), (at, edge, angle, width, depth - 0.001),
            *([(at, edge, 180 - angle, width, depth)] if abs(angle - 90) > 1 else []),
        ]:  # fmt: skip
            changed = [*here[:which], wrong, *here[which + 1 :]]
            assert not rules.lies_in(mine, changed, stick["face"]), wrong
            spoilt += 1
        extra = (mine[0] / 2 + 7.3, "front", 60.0, 4.0, 3.0)
        assert not rules.lies_in(mine, [*here, extra], stick["face"])
    assert spoilt


def test_lost_joints_are_notched_too(work):
    """A stick's notches repeat from its first joint to its last, whatever lies between its pieces."""
    for group in work.groups.values():
        pattern = rules.Pattern(group[0], work.period(group))
        assert pattern.repeats(), group[0]["class"]


def test_wood_between_pieces(work):
    """Least lead and tail of every piece, the saw between two, and not one joint lost too many:
    (m + 1) * pitch >= tail + saw kerf + lead."""
    for stick in work.sticks():
        pattern = rules.Pattern(stick, work.period(work.groups[stick["class"]]))
        end, room = None, 0.0
        for piece in stick["pieces"]:
            mine = lying(work, piece)
            lead, tail = work.ends(piece["class"])
            before, after = rules.needs(mine, lead, tail, stick["face"])
            first, last = piece["first_joint"] - 1, piece["first_joint"] + piece["joints"] - 2
            place = pattern.place(first)
            assert piece["cut"][0] == pytest.approx(place - rules.joints_of(mine)[0], abs=ROUNDING)
            if end is None:
                assert stick["lead"] >= before - ROUNDING
                assert place == pytest.approx(stick["lead"] + place - pattern.place(0), abs=ROUNDING)
                assert place >= before - ROUNDING
            else:
                need = room + work.kerf + before
                assert place - pattern.place(end) >= need - ROUNDING
                step = pattern.period
                if first - step > end:
                    assert pattern.place(first - step) - pattern.place(end) < need - ROUNDING
            end, room = last, after
        assert last < stick["joints"]
        assert stick["length"] - pattern.place(last) >= room - ROUNDING
        at_end = stick["length"] - pattern.place(stick["joints"] - 1)
        assert at_end == pytest.approx(stick["tail"], abs=ROUNDING)


def test_no_stick_is_longer_than_its_limit(work):
    limit = work.panel["sticks"].get("limit", math.inf)
    assert all(s["length"] <= limit + ROUNDING for s in work.sticks())


def test_datum_ends_are_square_or_pointed_at_the_least_skew_angle(work):
    """Square, if the panel file does not ask for points."""
    pointed = work.panel["sticks"].get("datum", "square") == "point"
    for stick in work.sticks():
        angles = [min(n["angle"], 180 - n["angle"]) for n in stick["notches"]]
        skew = pointed and min(angles) < 90 - 1e-6
        assert stick["ends"][0]["angle"] == pytest.approx(min(angles) if skew else 90, abs=1e-6)
        assert (stick["ends"][0]["shape"] == "point") == skew


def test_the_datum_end_takes_nothing_of_a_member(work):
    """What a member keeps after trimming lies clear of the point, by the saw's kerf where it is cut off."""
    ground = reference.Ground(work.panel, work.material)
    for stick in work.sticks():
        wood = rules.datum_end(stick).buffer(1e-5)
        for piece in stick["pieces"]:
            for member in work.members[piece["class"]]:
                kept = rules.kept_in_stick(member, piece, ground)
                assert wood.covers(kept), (stick["id"], member["id"])


def kinds_of(work, group, pattern):
    """The members of a stick class as kinds, with every way in which each can lie."""
    kinds = []
    counts = Counter()
    for stick in group:
        for piece in stick["pieces"]:
            counts[piece["class"]] += stick["count"]
    for name, count in counts.items():
        piece = rules.of_class(work.classes[name])
        ways = rules.ways(piece, pattern, *work.ends(name), group[0]["face"])
        assert ways, name
        kinds.append(rules.Kind(name, len(rules.joints_of(piece)), count, tuple(ways)))
    return kinds


def test_no_count_of_joints_needs_less(work):
    """Every count of joints, every way to fill a stick, every turn of a piece."""
    limit = min(
        work.panel["sticks"].get("limit", math.inf),
        max(n["length"] for n in work.job["nest"]["strips"]),
    )
    for group in work.groups.values():
        stick = group[0]
        pattern = rules.Pattern(stick, work.period(group))
        if not pattern.period:
            [piece] = stick["pieces"]
            assert piece["joints"] == stick["joints"], "a stick a member"
            continue
        kinds = kinds_of(work, group, pattern)
        least = sum(rules.lead_and_tail(kinds))
        point = rules.datum_point(stick) + work.kerf
        # The point of the datum end may ask for more, where little is trimmed away.
        both = stick["lead"] + stick["tail"]
        assert least - ROUNDING <= both <= least + point + ROUNDING
        if work.panel["outline"].get("overhang", 0) >= 5 * point:
            assert both <= least + ROUNDING
        search = rules.Search(kinds, pattern, work.kerf, stick["lead"], stick["tail"])
        total, sticks, joints = search.best(limit)
        count = sum(s["count"] for s in group)
        assert stick["length"] * count == pytest.approx(total, abs=1e-4), (stick["class"], joints)
        assert count == sticks
        assert stick["optimal"]


def test_members_of_one_pattern_share_sticks(work):
    """No stick class of a face could have been cut from another one's sticks."""
    groups = list(work.groups.values())
    for group in groups:
        for other in groups:
            pattern = rules.Pattern(other[0], work.period(other))
            if other is group or other[0]["face"] != group[0]["face"] or not pattern.period:
                continue
            for stick in group:
                for piece in stick["pieces"]:
                    own = rules.of_class(work.classes[piece["class"]])
                    ways = rules.ways(own, pattern, *work.ends(piece["class"]), stick["face"])
                    assert not ways or len(rules.joints_of(own)) == 1, (piece, other[0]["class"])


@pytest.mark.parametrize(
    ("write", "expected"),
    [
        (JOBS["check"], {"slanting": (8, 7, 455.0), "upright": (5, 4, 310.0)}),
        (longer, {"slanting": (6, 9, 585.0), "upright": (5, 4, 310.0)}),
        (shorter_ends, {"slanting": (8, 6, 365.0)}),
    ],
)
def test_the_examples_of_the_design(tmp_path, write, expected):
    """Limit 500 gives 8 sticks of 7 joints and 5 of 4; limit 600 gives 6 of 9 and 5 of 4; lead = tail = 20,
    limit 450: 8 of 6 for the slanting. One spare of each: 9 and 6. Lengths: lead + tail + 65 * (n - 1)."""
    work = Job(write(tmp_path))
    found = {}
    for group in work.groups.values():
        kind = "upright" if group[0]["families"] == ["upright"] else "slanting"
        count = sum(s["count"] for s in group)
        assert kind not in found
        found[kind] = (count, group[0]["joints"], group[0]["length"])
        assert sum(s["count"] + s["spares"] for s in group) == count + 1
        if (kind, group[0]["joints"]) in (("slanting", 7), ("slanting", 9)):
            between = [p["first_joint"] for s in group for p in s["pieces"] if p["first_joint"] > 1]
            assert between and min(between) > 5, "a joint is lost after a piece of four"
    assert {kind: found[kind] for kind in expected} == expected


def test_a_worse_count_of_joints_is_seen(tmp_path):
    """The search finds that a stick of one joint more, or less, would need more."""
    work = Job(JOBS["check"](tmp_path))
    group = next(iter(work.groups.values()))
    pattern = rules.Pattern(group[0], 1)
    search = rules.Search(kinds_of(work, group, pattern), pattern, work.kerf, 40, 25)
    totals = {n: search.fewest(n, 0) * search.length(n, 0) for n in range(6, 20)}
    # 6 joints: 4 long, 4 of four, 2 pairs of two; 7: 8; 9: 6, past the limit.
    assert totals[6] == 10 * 390 and totals[7] == 8 * 455 and totals[8] == 8 * 520
    assert totals[9] == 6 * 585 and search.best(500)[1:] == (8, 7)
    shifted = copy.deepcopy(group[0])
    shifted["notches"][4]["depth"] += 0.01
    assert not rules.Pattern(shifted, 1).repeats()


def test_strips_keep_their_trim_on_every_edge(tmp_path):
    """Sticks lie in rows, a saw kerf apart, and stay clear of all four edges by `trim`."""
    path = write_job(tmp_path, "check")
    job, stock = check(path), tomllib.loads((tmp_path / "stock.toml").read_text())
    trim, depth = stock["trim"], job["panel"]["depth"]
    sizes_of = {s["id"]: s for s in job["sticks"]}
    assert trim > 0
    for strip in job["nest"]["strips"]:
        room = box(trim, trim, strip["length"] - trim, strip["width"] - trim).buffer(1e-6)
        shapes = [
            box(p["x"], p["y"], p["x"] + sizes_of[p["id"]]["length"], p["y"] + depth) for p in strip["pieces"]
        ]
        assert all(room.covers(shape) for shape in shapes)
        pairs = itertools.combinations(shapes, 2)
        assert all(a.distance(b) >= 1.5 - 1e-6 for a, b in pairs)
    # 60 wide holds (60 - 16 + 1.5) / 13.5 = 3 rows of one stick: 13 sticks and 2 spares fill five.
    assert (job["nest"]["used"], job["nest"]["lower_bound"]) == (5, 5)
