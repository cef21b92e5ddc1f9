"""Which members are the same piece, searched for over job.json: members of a class are all within `same_piece`
of each other, no two classes could be one, and a class is the mean of its members.

Turning, comparing and linking are ground.py's, which shares no code with the program.
"""

import itertools
import math
import random

import pytest

import bars
import ground as reference
import odd
from workshop import call, check, make, roomy, said, write_job

ROUNDING = 4e-6
SAME = reference.SAME_FIGURE
SOFT = {"least_section": 0.5, "least_web": 0}


def corners(width, height, off, rules):
    """An outline of four sides: left, right, bottom and top off by so much."""
    left, right, bottom, top = off
    places = [(left, bottom), (width + right, bottom), (width + right, height + top), (left, height + top)]
    return [{"x": x, "y": y, **rule} for (x, y), rule in zip(places, rules)]


def three_way(folder, off=(0, 0, 0, 0), **more):
    """The check panel by its corners."""
    upright, level = {"rule": "inner-edge"}, {"rule": "centres"}
    sides = corners(6 * 65 * math.sin(math.radians(60)), 195, off, [level, upright, level, upright])
    panel = {
        "ground.columns": None, "ground.rows": None, "surround": None,
        "outline": {"side": sides, "overhang": 25}, **more,
    }  # fmt: skip
    return write_job(folder, "check", panel=panel)


def card(folder, off=(0, 0, 0, 0), **more):
    """A three-way lattice in card by its corners, in a lapped surround; its ends trimmed by hand."""
    upright, level = {"rule": "inner-edge"}, {"rule": "centres"}
    sides = corners(6 * 26 * math.sin(math.radians(60)), 78, off, [level, upright, level, upright])
    panel = {
        "ground.columns": None, "ground.rows": None, "outline": {"side": sides, "overhang": 0},
        "surround": {"width": 1.5, "cut": "laps"}, **more,
    }  # fmt: skip
    return write_job(folder, "three-way-card", panel=panel)


def diamond(folder, off=(0, 0, 0, 0), **more):
    """Half cells of 71.3 at 57 degrees, clear of the outermost joints."""
    a = math.radians(57)
    sides = corners(5 * 71.3 * math.cos(a), 3 * 71.3 * math.sin(a), off, [{"clear": 9.7}] * 4)
    ground = {
        "layout": "diamond", "depth": 13.1, "pitch": 71.3, "angle": 57,
        "faces": {"rising": 4.37, "falling": 4.37}, "ranks": {"rising": 2, "falling": 1},
    }  # fmt: skip
    return odd.odd_diamond(folder, ground=ground, outline={"side": sides, "overhang": 19.3}, **more)


def by_hand(folder, flat=True, seed=1, order=(0, 1), jitter=0.004, **more):
    """Uprights and level bars listed by hand, each off by up to 0.004; both families alike but for that."""
    chance = random.Random(seed)
    lists = [[60.0 * i + chance.uniform(-jitter, jitter) for i in range(5)] for _ in range(2)]
    families = [
        {"name": name, "direction": direction, "offsets": offsets, "face": 4.37, "rank": rank}
        for name, direction, offsets, rank in [("upright", 90, lists[0], 1), ("beam", 0, lists[1], 2)]
    ]
    panel = {
        "ground": {
            "layout": "free", "depth": 13.1, "width": 240, "height": 240,
            "family": [families[i] for i in order],
        },
        "outline": {**dict.fromkeys(("left", "right", "bottom", "top"), {"clear": 17}), "overhang": 0},
        "cut.clearance": 0.07, **more,
    }  # fmt: skip
    if flat:
        panel |= {"cut.method": "flat"}
        return write_job(folder, "plain-window", panel=panel, machine=odd.BED, material=odd.CARD, stock=odd.SHEET)
    panel |= {"outline.overhang": 30, "surround": None, "sticks": {"lead": 55, "tail": 55, "saw_kerf": 1.5}}
    return write_job(folder, "check", **roomy(panel, material=SOFT))


# A side along bars within 0.01 of one lies on it: the left and right of a three-way ground do.
OFF = {"top": (0, 0, 0, 0.004), "bottom": (0, 0, 0.004, 0), "two": (0.004, 0, 0, 0.003)}
PANELS = {
    **{f"three-way-{name}": (three_way, {"off": off}) for name, off in OFF.items()},
    **{f"diamond-{name}": (diamond, {"off": off}) for name, off in OFF.items()},
    **{f"card-{name}": (card, {"off": off}) for name, off in OFF.items()},
    **{f"by-hand-{seed}": (by_hand, {"seed": seed}) for seed in (1, 2, 3)},
    "by-hand-edge-up": (by_hand, {"flat": False}),
    "three-way-coarse": (three_way, {"off": (0, 0, 0, 0.013), "cut.same_piece": 0.03}),
}  # fmt: skip


@pytest.fixture(scope="module", params=PANELS)
def found(request, tmp_path_factory):
    """What tells pieces apart, the job, and the members of each class as pieces that lie as it does."""
    writer, more = PANELS[request.param]
    job = check(writer(tmp_path_factory.mktemp(request.param), **more))
    return more.get("cut.same_piece", SAME), job, classes_of(job)


def classes_of(job):
    """{class: [(member, its piece as it lies in the class's frame)]}, the sides of a lapped surround too."""
    found = {}
    for member in job["members"] + [s["bar"] for s in job["surround"] if "bar" in s]:
        piece = reference.turned(piece_of(member), member["turn"])
        found.setdefault(member["class"], []).append((member, piece))
    return found


def piece_of(member):
    first = member["from"]
    notches = [(j["at"] - first, j["edge"], j["angle"], j["width"], j["depth"]) for j in member["joints"]]
    return member["length"], [(e["angle"], e["shape"]) for e in member["ends"]], notches


def test_all_of_a_class_are_within_reach_of_each_other(found):
    """Complete linkage: not only of the next one."""
    within, _, classes = found
    for name, members in classes.items():
        for (a, one), (b, other) in itertools.combinations(members, 2):
            assert reference.apart(one, other) <= within + ROUNDING, (name, a["id"], b["id"])


def test_no_two_classes_could_be_one(found):
    """Every pair of classes in every turn: some two members are further apart."""
    within, _, classes = found
    for (name, ours), (other, theirs) in itertools.combinations(classes.items(), 2):
        if abs(ours[0][0]["face"] - theirs[0][0]["face"]) > 1e-6:
            continue
        for turn in reference.TURNS:
            far = max(reference.apart(a, reference.turned(b, turn)) for _, a in ours for _, b in theirs)
            assert far > within - ROUNDING, (name, other, turn, far)


def test_some_class_has_members_that_differ(found):
    """The panels do what they are for: else the tests here would look at nothing."""
    _, _, classes = found
    far = [reference.apart(a[1], b[1]) for of in classes.values() for a, b in itertools.combinations(of, 2)]
    assert max(far) > 0.002


def test_a_class_is_the_mean_of_its_members(found):
    _, job, classes = found
    assert {c["id"] for c in job["classes"]} == set(classes)
    for one in job["classes"]:
        own = piece_of({**one, "from": 0.0})
        pieces = [piece for _, piece in classes[one["id"]]]
        assert one["count"] == len(pieces) * job["panel"]["quantity"]

        def mean(pick):
            return sum(pick(p) for p in pieces) / len(pieces)

        assert own[0] == pytest.approx(mean(lambda p: p[0]), abs=ROUNDING)
        for end in (0, 1):
            assert own[1][end][0] == pytest.approx(mean(lambda p: p[1][end][0]), abs=ROUNDING)
        for n in own[2]:
            def of(piece):
                return min((m for m in piece[2] if m[1] == n[1]), key=lambda m: abs(m[0] - n[0]) + abs(m[4] - n[4]))

            for i in (0, 2, 3, 4):
                assert n[i] == pytest.approx(mean(lambda p: of(p)[i]), abs=ROUNDING), (one["id"], n)


def test_members_keep_their_own_values(found):
    """Centre lines end where the outline cuts them, to six decimals; joints lie on the nodes."""
    _, job, _ = found
    for member in job["members"]:
        (x0, y0), (x1, y1) = member["start"], member["end"]
        long = math.dist((x0, y0), (x1, y1))
        for joint in member["joints"]:
            at = joint["at"] / long
            assert (x0 + at * (x1 - x0), y0 + at * (y1 - y0)) == pytest.approx(joint["node"], abs=ROUNDING)


@pytest.mark.parametrize("name", ["top", "bottom"])
@pytest.mark.parametrize("writer", [three_way, diamond, card])
def test_an_outline_off_by_a_hair_makes_no_more_classes(writer, name, tmp_path):
    exact = check(writer(tmp_path / "exact"))
    off = check(writer(tmp_path / "off", off=OFF[name]))
    assert len(off["classes"]) == len(exact["classes"])
    parted = check(writer(tmp_path / "parted", off=OFF[name], **{"cut.same_piece": 0}))
    assert len(parted["classes"]) > len(exact["classes"])


def test_the_order_of_families_does_not_matter(tmp_path):
    def groups(job):
        known = {m["id"]: (m["family"], *(round(v, 5) for v in m["start"])) for m in job["members"]}
        found = {}
        for member in job["members"]:
            found.setdefault(member["class"], set()).add(known[member["id"]])
        return {frozenset(g) for g in found.values()}

    for seed in range(3):
        one, other = (
            check(by_hand(tmp_path / f"{seed}-{order}", seed=seed, order=order)) for order in ((0, 1), (1, 0))
        )
        assert groups(one) == groups(other)


def test_a_mean_that_would_not_go_together_is_split(tmp_path):
    """Without clearance a notch that is off by anything at all shares space with its bar (manifold3d): lists
    that differ make pieces that differ. With clearance the same lists do not."""
    loose = check(by_hand(tmp_path / "loose", seed=1))
    tight = check(by_hand(tmp_path / "tight", seed=1, **{"cut.clearance": 0}))
    assert len(loose["classes"]) < len(tight["classes"])
    assert tight["dry_fit"]["interference_mm3"] == 0
    classes = {c["id"]: c for c in tight["classes"]}
    solids = {}
    for member in tight["members"]:
        # The class's notches, where they lie best along the member.
        length, ends, notches = reference.turned(piece_of({**classes[member["class"]], "from": 0.0}), member["turn"])
        own = sorted(j["at"] for j in member["joints"])
        offs = [a - n for a, n in zip(own, sorted(n[0] for n in notches))]
        shift = (min(offs) + max(offs)) / 2
        cut = {**member, "from": shift, "to": shift + length}
        cut["joints"] = [
            {**j, "at": shift + n[0], "depth": n[4]}
            for j, n in zip(sorted(member["joints"], key=lambda j: j["at"]), sorted(notches))
        ]
        solids[member["id"]] = bars.bar_solid(cut, 13.1, member["face"])
    pairs = bars.meeting(tight["members"])
    assert len(pairs) == 25
    assert max(bars.common(solids[a], solids[b]) for a, b in pairs) < 1e-6


def test_what_is_cut_is_the_class(tmp_path):
    """Whole jobs of panels whose classes are means are replayed, proven and put together as cut."""
    for name, (writer, more) in PANELS.items():
        if name in ("three-way-two", "card-top", "by-hand-1"):
            folder = make(writer(tmp_path / name, **more), tmp_path / f"{name}-out")
            done = call("prove", folder)
            assert done.returncode == 0, said(done)


@pytest.mark.parametrize(("value", "says"), [(-0.001, "0 to 0.1"), (0.2, "0 to 0.1"), ('"x"', "same_piece")])
def test_a_wrong_tolerance_is_told(value, says, tmp_path):
    done = call("check", three_way(tmp_path, **{"cut.same_piece": value}))
    assert done.returncode == 2 and says in done.stderr, said(done)
