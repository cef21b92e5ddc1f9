"""Coupons of panels that are cut edge up: the slots that their programs cut, stick by stick, and what a maker
reads from them.

Programs are read by rs274.py (NISTIR 6556) and swept by shapely with the true width of the tool. Where a
stick stands comes from the lines of this file: beside the rail, on the side where it meets the fence obtusely,
the corner of its square end at the fence, staggered by face * cot t (common practice, no source). The notch
that a bar goes into is found on what is left, and its number handed to the program.
"""

import csv
import json
import math
import re
from collections import Counter
from xml.etree import ElementTree

import pytest
from shapely.affinity import translate
from shapely.geometry import LineString, Polygon, box

import odd
import rs274
import sweeps
from workshop import call, check, said, summary, write_job

# Coordinates are written to 0.001 mm, so that a wall is up to half of that off.
ROUNDED = 0.0015
STEP = 0.05


class Gang:
    """A coupon's folder, and what a tool of any width leaves of the sticks of its comb."""

    def __init__(self, folder, panel, kind):
        self.panel = panel
        done = call("coupon", panel, "--kind", kind, "--out", folder)
        assert done.returncode == 0, said(done)
        self.folder, self.job = folder, summary(folder)
        self.told = self.job["coupon"]
        self.fence, self.setup = self.job["setups"]
        assert [s["kind"] for s in self.job["setups"]] == ["datum", "edge-up"]
        assert self.fence["coupon"] is True and self.setup["coupon"] is True
        assert self.told["kind"] == kind
        (self.stick,) = self.job["sticks"]
        self.face, self.length = self.stick["face"], self.stick["length"]
        self.depth, self.angle = self.job["panel"]["depth"], self.setup["fence"]
        self.floor = self.depth - self.stick["notches"][0]["depth"]
        self.paths = sweeps.paths(rs274.read((folder / self.setup["file"]).read_text()))

    def removed(self, tool, lowest, highest):
        """What the passes between two heights sweep."""
        return sweeps.swept([p for p in self.paths if lowest <= p.height <= highest], tool / 2)

    def datum(self, place, error=0.0):
        """Where the datum end of the stick in a place of the gang lies on its centre line, from 0 at the rail, the
        fence off by `error`: the corner on the rail's side touches it, at 90 degrees either."""
        side = 1 if self.angle > 90 + 1e-6 else -1
        lean = 1 / math.tan(math.radians(self.angle + error))
        half = self.face / 2
        y = side * (place + 0.5) * self.face
        return max((y - half) * lean, (y + half) * lean), y

    def left(self, tool, place, error=0.0):
        """The stick in a place, in its own frame: x from the datum end, y from the centre line."""
        x, y = self.datum(place, error)
        stick = box(x, y - self.face / 2, x + self.length, y + self.face / 2)
        gone = self.removed(tool, self.floor - ROUNDED, self.floor + ROUNDED)
        return translate(stick.difference(gone), -x, -y)

    def notches(self, tool, place, error=0.0):
        """[(middle on the centre line, width across, angle of its walls)] of the stick in a place."""
        left = self.left(tool, place, error)
        rows = [gaps(left, y, self.length) for y in (-0.4 * self.face, 0, 0.4 * self.face)]
        assert len({len(row) for row in rows}) == 1
        found = []
        for low, mid, high in zip(*rows):
            angles = [math.degrees(math.atan2(0.8 * self.face, high[k] - low[k])) for k in (0, 1)]
            assert angles[0] == pytest.approx(angles[1], abs=0.1), "both walls"
            width = (mid[1] - mid[0]) * math.sin(math.radians(self.angle))
            found.append(((mid[0] + mid[1]) / 2, width, sum(angles) / 2))
        return found

    def rooms(self, tool, error=0.0, swap=False):
        """Width of the bar that fits across the three sticks, at each notch: cut with the fence off by
        `error`, then put back against it, the first and the last changed about if `swap`."""
        places = {1: 3, 2: 2, 3: 1} if swap else {1: 1, 2: 2, 3: 3}
        turn = math.radians(self.angle)
        walls = []
        for cut_at, tried_at in places.items():
            x, y = self.datum(tried_at, error)
            # Across the slots, from the zero.
            across = [
                ((x + at) * math.sin(turn) - y * math.cos(turn), width)
                for at, width, _ in self.notches(tool, cut_at, error)
            ]
            walls.append([(d - w / 2, d + w / 2) for d, w in across])
        return [min(b for _, b in slot) - max(a for a, _ in slot) for slot in zip(*walls)]

    def read(self, notch, *more):
        done = call("read-coupon", self.folder, "--notch", notch, *more, "--json")
        assert done.returncode == 0, said(done)
        return json.loads(done.stdout)


def gaps(region, y, length):
    """[(from, to)] of what is missing along a stick at y off its centre line."""
    row = LineString([(0, y), (length, y)])
    missing = row.difference(region.buffer(1e-9))
    return sorted(part.bounds[::2] for part in getattr(missing, "geoms", [missing]))


TOOL = {
    "name": "straight cutter", "diameter": 2.93, "flutes": 2, "flute_length": 16, "stick_out": 28, "number": 1,
}  # fmt: skip


def written(folder, name):
    if name == "odd":
        return odd.odd_edge_up(folder)
    if name == "square":
        return write_job(folder, "router-square", panel={"cut.method": "edge-up"})
    if name == "other-hand":
        # With the fence on one hand alone most joints decide by the order of families.
        ranks = {"rising": 3, "upright": 2, "falling": 1}
        return write_job(folder, "check", panel={"ground.ranks": ranks}, machine={"router.tool": TOOL})
    return write_job(folder, "check", machine={"router.tool": TOOL})


NAMES = ["check", "odd", "square", "other-hand"]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Makes each coupon once."""
    coupons = {}

    def get(name, kind):
        if (name, kind) not in coupons:
            folder = tmp_path_factory.mktemp(kind)
            coupons[name, kind] = Gang(folder / "out", written(folder / "in", name), kind)
        return coupons[name, kind]

    return get


@pytest.fixture(scope="module", params=NAMES)
def kerf(request, made):
    return made(request.param, "kerf")


@pytest.fixture(scope="module", params=NAMES)
def fit(request, made):
    return made(request.param, "fit")


BOTH = [(name, kind) for name in NAMES for kind in ("kerf", "fit")]


@pytest.fixture(scope="module", params=BOTH, ids="-".join)
def gang(request, made):
    return made(*request.param)


def skew(angle):
    return abs(angle - 90) > 1e-6


def test_sticks_stand_where_the_fence_puts_them(gang):
    placements = gang.setup["placements"]
    assert [p["id"] for p in placements] == ["comb-1"] * 3
    for place, placement in enumerate(placements, 1):
        x, y = gang.datum(place)
        meant = [[1, 0, 0, x], [0, 1, 0, y], [0, 0, 1, 0]]
        for row, right in zip(placement["to_setup"], meant):
            assert row == pytest.approx(right, abs=1e-5)


def test_every_stick_has_the_notches_that_are_told(gang):
    drawn = gang.told["notches"]
    assert [b - a for a, b in zip(drawn, drawn[1:])] == pytest.approx([STEP] * (len(drawn) - 1))
    for place in (1, 2, 3):
        found = gang.notches(gang.told["cut"], place)
        assert [w for _, w, _ in found] == pytest.approx(drawn, abs=2 * ROUNDED)
        middles = [n["at"] for n in gang.stick["notches"]]
        assert [at for at, _, _ in found] == pytest.approx(middles, abs=2 * ROUNDED)
        for _, _, angle in found:
            assert angle == pytest.approx(gang.angle, abs=0.1)


def test_a_kerf_coupon_lies_square_about_the_bar(kerf):
    low, high = kerf.told["bar"]
    drawn = kerf.told["notches"]
    assert kerf.angle == 90 == kerf.told["angle"]
    assert drawn[len(drawn) // 2] == pytest.approx((low + high) / 2)


def test_a_fit_coupon_is_cut_like_most_joints(fit):
    """The panel's own joints, counted: angle, depth and width of the middle notch are those of the most
    frequent skew ones, or of square ones where there are no others."""
    joints = Counter()
    for member in check(fit.panel)["members"]:
        for joint in member["joints"]:
            kind = (joint["angle"], joint["depth"], joint["width"])
            joints[tuple(round(v, 4) for v in kind)] += 1
    lean = {kind: count for kind, count in joints.items() if skew(kind[0])} or joints
    drawn = fit.told["notches"]
    own = (fit.angle, fit.depth - fit.floor, drawn[len(drawn) // 2])
    assert lean[tuple(round(v, 4) for v in own)] == max(lean.values())
    assert fit.told["angle"] == fit.angle == pytest.approx(own[0])


def test_marks_tell_where_counting_starts(gang):
    """One shallow cut before the first notch, as wide as the tool; more wood past every fifth."""
    tool = gang.told["cut"]
    x, y = gang.datum(2)
    row = LineString([(x, y), (x + gang.length, y)])
    notches = gang.notches(tool, 2)
    mark = row.intersection(gang.removed(tool, gang.depth - 0.5 - ROUNDED, gang.depth))
    assert mark.length * math.sin(math.radians(gang.angle)) == pytest.approx(tool, abs=ROUNDED)
    assert mark.bounds[2] - x < notches[0][0] - 4
    ats = [at for at, _, _ in notches]
    lands = [b - a for a, b in zip(ats, ats[1:])]
    wide = [land for n, land in enumerate(lands, 1) if n % 5 == 0]
    plain = [land for n, land in enumerate(lands, 1) if n % 5]
    assert wide and min(wide) > 1.5 * max(plain)


def test_fence_rails_and_holds_stay_clear(gang):
    """No cut within a millimetre of the fence or under a hold; in the rails every cut ends."""
    gone = gang.removed(gang.told["cut"], 0, gang.depth)
    for kept in gang.setup["keep_out"]:
        assert gone.distance(Polygon(kept["corners"])) > 0.5, kept["what"]
    low, high = sorted(gang.setup["rails"], key=lambda rail: rail["min"][1])
    near, far = low["max"][1], high["min"][1]
    # Five sticks between, the reference rail's face in y = 0: in front for an obtuse fence, else behind.
    assert (near, far) == pytest.approx((0, 5 * gang.face) if gang.angle > 90 + 1e-6 else (-5 * gang.face, 0))
    assert low["min"][1] + 0.9 < gone.bounds[1] < near < far < gone.bounds[3] < high["max"][1] - 0.9


def slot_for(rooms, bar):
    """The narrowest notch that a bar goes into."""
    return next((n for n, room in enumerate(rooms, 1) if room >= bar - ROUNDED), None)


@pytest.mark.parametrize("off", [-0.21, -0.07, 0.0, 0.05, 0.13])
def test_the_reading_tells_the_true_cutter(kerf, off):
    (bar, _), true = kerf.told["bar"], kerf.told["cut"] + off
    # A fence that is off changes nothing at a square slot that stays clamped.
    for error in (0.0, 0.2):
        notch = slot_for(kerf.rooms(true, error), bar)
        reading = kerf.read(notch)
        assert reading["key"] == "router.tool.diameter"
        assert true - STEP - 3 * ROUNDED <= reading["measured"] <= true + 3 * ROUNDED


@pytest.mark.parametrize("error", [0.0, 0.05, -0.2])
def test_the_fit_takes_in_what_the_fence_is_off(fit, error):
    """Clamped as they were cut, slots are straight whatever the fence; changed about, the first and the last
    of three sticks lie face * error / sin t off to either side, two places each, and the bar finds as much
    less room: 4 * face * error / sin t, by the sine rule for small angles."""
    tool, (bar, _) = fit.told["cut"], fit.told["bar"]
    drawn = fit.told["notches"]
    assert fit.rooms(tool, error) == pytest.approx(drawn, abs=3 * ROUNDED)
    rooms = fit.rooms(tool, error, swap=True)
    lost = 4 * fit.face * math.radians(abs(error)) / math.sin(math.radians(fit.angle))
    assert [d - r for d, r in zip(drawn, rooms)] == pytest.approx([lost] * len(drawn), abs=0.006)
    notch = slot_for(rooms, bar)
    reading = fit.read(notch, "--binds", notch - 1)
    assert reading["key"] == "cut.clearance"
    assert lost - 0.006 <= reading["measured"] <= lost + STEP + 0.006


def test_picture_and_list_tell_the_notches(gang):
    drawn = gang.told["notches"]
    svg = ElementTree.parse(gang.folder / "coupon.svg").getroot()
    name = "{http://www.w3.org/2000/svg}"
    (group,) = [g for g in svg.iter(name + "g") if g.get("class") == "notches"]
    texts = [(float(t.get("x")), t.text) for t in group.iter(name + "text")]
    assert [float(t) for _, t in texts if "." in t] == pytest.approx(drawn, abs=5e-4)
    ats = [n["at"] for n in gang.stick["notches"]]
    numbers = {int(t): x for x, t in texts if "." not in t}
    assert sorted(numbers) == list(range(1, len(drawn) + 1))
    for number, x in numbers.items():
        assert x - numbers[1] == pytest.approx(ats[number - 1] - ats[0], abs=0.02)
    with open(gang.folder / "coupon.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [float(row["drawn_mm"]) for row in rows] == drawn
    picture = (gang.folder / "pictures" / "clamping-01.svg").read_text()
    told = " ".join(re.sub(r"<[^>]*>", " ", picture).split())
    assert "3 to keep and 2 dummies of the same milling, these outermost" in told
    done = call("prove", gang.folder)
    assert done.returncode == 0, said(done)
