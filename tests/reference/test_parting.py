"""How far the two slots of a node part when a gang lies imperfectly, against what check `parting` states.

Each cause is put into the laying of the sticks here: tapered sticks side by side, a rail that is not straight, a
fence that stands a little off, datum ends out of square or with their point off centre, a gap at a datum end. The
slots are those that the programs sweep, straight through; where they cross a stick's centre line is carried back to
the stick, and the two slots of a node are compared. Formulas: the project's design, section 3, edge-up.
"""

import itertools
import math
import re
from dataclasses import dataclass

import pytest
from shapely.geometry import LineString

import corner
import gangs as bench
from workshop import call, check, make, said, write_job

# Shares are told to 0.001; what is left of small angles' second order comes on top.
SHARE = 6e-4


@dataclass
class Lying:
    """How the sticks of one clamping lie: all zero lies truly. Lengths mm, angles degrees."""

    taper: float = 0.0  # of each stick, from its datum end to its far end
    bow: float = 0.0  # of the rail's face at a node, towards the gang, none at the datum end
    fence: float = 0.0  # turned about the zero, counter-clockwise
    square: float = 0.0  # datum ends out of square, counter-clockwise as seen with the front edge up
    apex: float = 0.0  # points of datum ends off the centre line, to its left with the front edge up
    gap: float = 0.0  # between datum end and fence, square to the fence
    turned: float = 0.0  # rail and gang, about the zero, counter-clockwise
    far_rail: bool = False  # the rail of the other hand: sticks are counted from the gang's far side


class Clamping:
    """A setup with what its program sweeps at its lowest."""

    def __init__(self, gang):
        self.gang = gang
        self.fence, self.edge = gang.fence, gang.edge
        self.side, self.face, self.seats = gang.side, gang.face, gang.seats
        self.long = gang.stick["length"]
        self.region = gang.levels()[-1][1]
        self.true = {}

    def datum_corners(self, lying):
        """What can touch the fence, as the stick lies: along it, and across from its centre line."""
        up = 1 if self.edge == "front" else -1
        half = self.face / 2
        if self.gang.stick["ends"][0]["shape"] == "point":
            # Facets keep their angle and meet off the centre line, nothing added along it.
            cot, apex = 1 / math.tan(math.radians(self.gang.stick["ends"][0]["angle"])), up * lying.apex
            return [(0.0, apex), ((half + apex) * cot, -half), ((half - apex) * cot, half)]
        # An end's line leans by its error: at y across it lies -y tan d further along.
        lean = math.tan(math.radians(lying.square)) * up
        return [(-y * lean, y) for y in (-half, half)]

    def slot_at(self, i, at, lying):
        """Where along stick i the slot near `at` crosses its centre line."""
        # Across the gang from the rail's face: to the stick's middle at its datum end, and at a place along it.
        def aside(x):
            taper = lying.taper * x / self.long
            return i * (self.face + taper) + (self.face + taper) / 2 + lying.bow * min(1.0, x / at)

        if lying.far_rail:
            start, way = self.side * self.seats * self.face, -self.side
        else:
            start, way = 0.0, self.side
        t = math.radians(self.fence + lying.fence)
        c, s = math.cos(math.radians(lying.turned)), math.sin(math.radians(lying.turned))
        turned = lambda x, y: (c * x - s * y, s * x + c * y)  # noqa: E731
        y0 = start + way * aside(0)
        # How far to push along the (turned) rail so that the first corner meets the fence: its place square to the
        # fence grows by sin(t - turned) for each mm.
        clear = []
        for a, b in self.datum_corners(lying):
            x, y = turned(a, y0 + b)
            clear.append(x * math.sin(t) - y * math.cos(t))
        grow = c * math.sin(t) - s * math.cos(t)
        x0 = (lying.gap - min(clear)) / grow
        reach = 3 * self.face / math.sin(math.radians(self.fence)) + 4
        points = [turned(x0 + x, start + way * aside(x)) for x in (at - reach, at, at + reach)]
        crossing = LineString(points).intersection(self.region)
        parts = [g for g in getattr(crossing, "geoms", [crossing]) if g.length > 0.5]
        # Back along the stick: its axis is turned, and by how little it leans to the rail does not count.
        middles = [sum(px * c + py * s for px, py in (g.coords[0], g.coords[-1])) / 2 - x0 for g in parts]
        return min(middles, key=lambda m: abs(m - at))

    def off(self, i, at, lying):
        """By how much more than where the sticks lie truly, so that the steps of programs drop out."""
        key = (i, at)
        if key not in self.true:
            self.true[key] = self.slot_at(i, at, Lying())
        return self.slot_at(i, at, lying) - self.true[key]


class Work:
    """The clampings of a job, by class of sticks, and the pairs of slots that share a node."""

    def __init__(self, path, folder):
        self.path = path
        self.bench = corner.read(make(path, folder))
        self.job = self.bench.job
        self.clampings = {}
        for gang in bench.gangs(folder):
            self.clampings.setdefault(gang.stick["class"], []).append(Clamping(gang))

    def pairs(self, name):
        """[(at, one clamping, another)] of every node of a class."""
        mine = self.clampings[name]
        nodes = {}
        for n in mine[0].gang.stick["notches"]:
            [one] = [c for c in mine if c.edge == n["edge"] and abs(c.fence - n["angle"]) < 1e-5]
            nodes.setdefault(n["joint"], []).append((n["at"], one))
        for slots in nodes.values():
            for (at, a), (other, b) in itertools.combinations(slots, 2):
                if abs(at - other) < 1e-3:
                    yield at, a, b

    def parting(self, name, ways, pair=None):
        """Greatest parting over nodes and outermost sticks of a class. `ways`: how the sticks lie in one clamping and
        in the other, tried either way round; `pair` looks at slots at these angles alone."""
        best = 0.0
        for at, a, b in self.pairs(name):
            if pair and sorted((round(a.fence, 2), round(b.fence, 2))) != sorted(pair):
                continue
            for i in (0, a.seats - 1):
                for one, other in [*ways, *((b, a) for a, b in ways)]:
                    best = max(best, abs(a.off(i, at, one) - b.off(i, at, other)))
        return best

    def seats(self, name):
        return self.clampings[name][0].seats


WHERE = re.compile(
    r"sticks (\S+), slots at (\S+) and (\S+) degrees (\S+) from the datum end: "
    r"taper and rail (\S+), fences (\S+), datum ends (\S+), seating (\S+)"
)
SHARES = ("taper and rail", "fences", "datum ends", "seating")


def stated(path):
    """{class: (value, limit, the two angles, {cause: share})} of check `parting`."""
    found = {}
    for c in check(path)["checks"]:
        if c["id"] == "parting":
            name, a, b, _, *shares = WHERE.fullmatch(c["where"]).groups()
            shares = dict(zip(SHARES, map(float, shares)))
            assert sum(shares.values()) == pytest.approx(c["value"], abs=2.1e-3)
            found[name] = (c["value"], c["limit"], (float(a), float(b)), shares)
    return found


def only(**causes):
    """Changes of machine and material that leave these causes alone."""
    machine = {
        "router.fence_error_deg": 0.0, "router.square_error_deg": 0.0, "router.apex_error": 0.0,
        "router.rail_bow": 0.0, "router.seating": 0.0,
    }  # fmt: skip
    material = {"taper": 0.0}
    for key, value in causes.items():
        (material if key == "taper" else machine)[key if key == "taper" else f"router.{key}"] = value
    return machine, material


# Room on the bench, so that size decides nothing.
ROOM = {"travel": [1250, 800, 120], "router.clamp_width": 300, "router.tool.flute_length": 25,
        "router.tool.stick_out": 45}  # fmt: skip


def check_panel(folder, **causes):
    """60 against 120, and 60 against 60 in both edges."""
    machine, material = only(**causes)
    return write_job(folder, "check", panel=PANEL, machine={**machine, **ROOM}, material=material)


PANEL = {"ground.columns": 3, "ground.rows": 2, "sticks.gang": 10}


def pointed(folder, **causes):
    machine, material = only(**causes)
    panel = {**PANEL, "sticks.datum": "point"}
    return write_job(folder, "check", panel=panel, machine={**machine, **ROOM}, material=material)


def crossing(folder, **causes):
    """Bars at 0, 45 and 135 degrees that meet in every node: 45 against 135 along the level ones, and either
    against 90 along the others."""
    machine, material = only(**causes)
    pitch = 71.3
    lines = pitch / math.sqrt(2)
    ground = {
        "layout": "free", "depth": 13.1, "width": 3 * pitch, "height": 2 * pitch,
        "family": [
            {"name": "level", "direction": 0, "first": 0, "pitch": pitch, "face": 4.37, "rank": 1},
            {"name": "rising", "direction": 45, "first": 0, "pitch": lines, "face": 4.37, "rank": 2},
            {"name": "falling", "direction": 135, "first": 0, "pitch": lines, "face": 4.37, "rank": 3},
        ],
    }  # fmt: skip
    return free(folder, "crossing", ground, machine, material)


def free(folder, name, ground, machine, material):
    panel = {
        "name": name, "ground": ground, "outline.overhang": 22.3,
        "outline": dict.fromkeys(("left", "right", "bottom", "top"), {"clear": 9.3}), "surround": None,
        "sticks": {"lead": 60, "tail": 50, "saw_kerf": 1.5, "limit": 640, "spares": 2, "gang": 5},
    }  # fmt: skip
    panel["outline"]["overhang"] = panel.pop("outline.overhang")
    material = {"thickness": 4.37, "least_section": 0.5, "least_web": 0, **material}
    stock = {"blank": [{"name": "long", "length": 900, "width": 100}]}
    return write_job(folder, "check", panel=panel, machine={**machine, **ROOM}, material=material, stock=stock)


def leaning(folder, **causes):
    """Bars at 0, 60 and 90 degrees that meet in every node: 90 against 60, and no other hand."""
    machine, material = only(**causes)
    pitch = 47.3
    rise = pitch * math.sqrt(3)
    ground = {
        "layout": "free", "depth": 13.1, "width": 5 * pitch, "height": 3 * rise,
        "family": [
            {"name": "level", "direction": 0, "first": 0, "pitch": rise, "face": 4.37, "rank": 1},
            {"name": "upright", "direction": 90, "first": 0, "pitch": pitch, "face": 4.37, "rank": 2},
            {"name": "leaning", "direction": 60, "first": 0, "pitch": pitch * sine(60), "face": 4.37, "rank": 3},
        ],
    }  # fmt: skip
    return free(folder, "leaning", ground, machine, material)


JOBS = {"check": check_panel, "pointed": pointed, "crossing": crossing, "leaning": leaning}
# The angles whose partings these jobs state.
ANGLES = {
    "check": {(60, 120), (60, 60)}, "pointed": {(60, 120), (60, 60)}, "crossing": {(45, 135), (45, 90), (90, 135)},
    "leaning": {(60, 90), (90, 150), (60, 150)},
}  # fmt: skip


@pytest.fixture(scope="module", params=JOBS)
def work(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp(request.param)
    one = Work(JOBS[request.param](folder / "in"), folder / "out")
    one.name, one.folder = request.param, folder
    one.states = lambda **causes: stated(JOBS[request.param](folder / "-".join(causes), **causes))
    return one


def lean(angle):
    return abs(1 / math.tan(math.radians(angle)))


def sine(angle):
    return math.sin(math.radians(angle))


def same(**causes):
    return [(Lying(**causes), Lying(**causes))]


def test_true_sticks_part_nothing_and_every_pair_is_looked_at(work):
    """Slots of a node meet within the steps of programs when all lies truly."""
    seen = set()
    for name, clampings in work.clampings.items():
        for at, a, b in work.pairs(name):
            for i in range(a.seats):
                assert abs(a.slot_at(i, at, Lying()) - b.slot_at(i, at, Lying())) < 0.004
        for value, _, pair, _ in [work.states(seating=0.0)[name]]:
            assert value == 0
            seen.add(tuple(sorted(pair)))
    assert seen <= ANGLES[work.name]
    told = {tuple(sorted((round(a.fence), round(b.fence)))) for n in work.clampings for _, a, b in work.pairs(n)}
    assert told >= ANGLES[work.name]


def test_taper(work):
    """n * taper * | |cot t1| - |cot t2| |, and never more than that: sticks that taper towards their far ends by as
    much lie straight at their datum ends, so the last of them, at its last node, drifts by a little less."""
    taper = 0.008
    for name, (_, _, pair, shares) in work.states(taper=taper).items():
        n, differ = work.seats(name), abs(lean(pair[0]) - lean(pair[1]))
        assert shares["taper and rail"] == pytest.approx(n * taper * differ, abs=SHARE)
        found = work.parting(name, same(taper=taper), pair)
        assert found <= shares["taper and rail"] + SHARE
        clamping = work.clampings[name][0]
        last = max(at for at, _, _ in work.pairs(name))
        drift = (n - 0.5) * taper * last / clamping.long
        assert found == pytest.approx(drift * differ, abs=3e-4)
        # The whole drift, as at the last stick's far side and end.
        worst = work.parting(name, same(bow=n * taper), pair)
        assert worst == pytest.approx(shares["taper and rail"], abs=SHARE)


def test_bow_of_the_rail(work):
    for name, (_, _, pair, shares) in work.states(rail_bow=0.04).items():
        found = work.parting(name, same(bow=0.04), pair)
        assert shares["taper and rail"] == pytest.approx(0.04 * abs(lean(pair[0]) - lean(pair[1])), abs=SHARE)
        assert found == pytest.approx(shares["taper and rail"], abs=SHARE)


def test_hands_of_equal_lean_part_nothing_by_drift(work):
    """60 against 120 and 45 against 135, whatever tapers or bows."""
    if work.name == "leaning":
        return
    for name in work.clampings:
        angles = {(a.fence, b.fence) for _, a, b in work.pairs(name)}
        for pair in angles:
            if abs(lean(pair[0]) - lean(pair[1])) < 1e-9:
                assert work.parting(name, same(taper=0.01, bow=0.05), pair) < 1e-3


def test_fence(work):
    """n * face * error / sin^2 t in each hand: the last stick's corner lies n - 1 faces from the rail; of a point at
    the fence's own angle the fence meets one end of the facet in one hand, n - 1/2 faces from the rail, and the
    other in the other; at 90 degrees either corner leads."""
    error = 0.015
    for name, (_, _, pair, shares) in work.states(fence_error_deg=error).items():
        clamping = work.clampings[name][0]
        n, face = clamping.seats, clamping.face
        whole = n * face * math.radians(error) * sum(1 / sine(t) ** 2 for t in pair)
        assert shares["fences"] == pytest.approx(whole, abs=SHARE)
        e, f = Lying(fence=error), Lying(fence=-error)
        found = work.parting(name, [(e, e), (e, f), (f, f)], pair)
        assert found <= shares["fences"] + SHARE
        assert found >= whole * (n - 1) / n - SHARE
        if 90 not in pair:
            half = 0.75 if clamping.gang.stick["ends"][0]["shape"] == "point" else 1.0
            assert found == pytest.approx(whole * (n - half) / n, abs=SHARE)


def test_square_ends(work):
    """face * tan d between two hands; no share for ends that are pointed."""
    error = 0.35
    for name, (_, _, pair, shares) in work.states(square_error_deg=error).items():
        clamping = work.clampings[name][0]
        if clamping.gang.stick["ends"][0]["shape"] == "point":
            assert shares["datum ends"] == 0
            continue
        assert shares["datum ends"] == pytest.approx(clamping.face * math.tan(math.radians(error)), abs=SHARE)
        found = work.parting(name, [*same(square=error), *same(square=-error)], pair)
        assert found == pytest.approx(shares["datum ends"], abs=SHARE)


def test_points(work):
    """2 e |cot t| between two hands; no share for ends that are square."""
    error = 0.03
    for name, (_, _, pair, shares) in work.states(apex_error=error).items():
        if work.clampings[name][0].gang.stick["ends"][0]["shape"] == "square":
            assert shares["datum ends"] == 0
            continue
        assert pair[0] in (pair[1], 180 - pair[1])
        assert shares["datum ends"] == pytest.approx(2 * error * lean(pair[0]), abs=SHARE)
        found = work.parting(name, [*same(apex=error), *same(apex=-error)], pair)
        assert found == pytest.approx(shares["datum ends"], abs=SHARE)


def test_seating(work):
    """A gap at a datum end in one clamping alone, where the fence is the more slanting."""
    gap = 0.04
    for name, (_, _, pair, shares) in work.states(seating=gap).items():
        assert shares["seating"] == pytest.approx(gap / min(map(sine, pair)), abs=SHARE)
        found = work.parting(name, [(Lying(gap=gap), Lying())], pair)
        assert found == pytest.approx(shares["seating"], abs=SHARE)


def test_all_causes_together_part_no_more_than_is_stated(work):
    """Every sign of each, at once; and the limit is (c + crush) / sin t of the steeper slot."""
    causes = {"taper": 0.002, "rail_bow": 0.004, "fence_error_deg": 0.005, "square_error_deg": 0.1,
              "apex_error": 0.005, "seating": 0.015}  # fmt: skip
    clearance = work.bench.panel["cut"]["clearance"]
    for name, (value, limit, pair, _) in work.states(**causes).items():
        assert limit == pytest.approx((clearance + 0.05) / max(map(sine, pair)), abs=1e-5)
        ways = []
        for square, apex, e, f, gap in itertools.product((0.1, -0.1), (0.005, -0.005), (0.005, -0.005),
                                                         (0.005, -0.005), (0.0, 0.015)):  # fmt: skip
            common = {"taper": 0.002, "bow": 0.004, "square": square, "apex": apex}
            ways.append((Lying(fence=e, gap=0.015 - gap, **common), Lying(fence=f, gap=gap, **common)))
        found = work.parting(name, ways, pair)
        assert 0.7 * value < found <= value + 5e-4


def test_more_than_the_limit_is_refused(tmp_path):
    """By the check's name, with the place, its shares and what to do."""
    path = check_panel(tmp_path / "in", seating=0.15)
    done = call("check", path)
    assert done.returncode == 1, said(done)
    for word in ("parting", "stick-1", "seating 0.173", "0.115", "fence_error_deg"):
        assert word in done.stderr, said(done)


# The figures of the design, section 3, on the check panel itself: sticks of 455, ten of them, face 4.


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    folder = tmp_path_factory.mktemp("whole")
    return Work(write_job(folder / "in", "check"), folder / "out")


def turned_apart(x, t, d):
    """x (sin t / sin(t - d) - sin t / sin(t + d)), degrees."""
    return abs(x * sine(t) * (1 / sine(t - d) - 1 / sine(t + d)))


def test_a_gang_off_the_axis_parts_its_far_nodes(whole):
    """0.18 at x = 453, t = 60, d = 0.02."""
    assert turned_apart(453, 60, 0.02) == pytest.approx(0.18, abs=0.005)
    [name] = [n for n, c in whole.clampings.items() if c[0].long == 455]
    assert whole.seats(name) == 10
    found = whole.parting(name, same(turned=0.02))
    # The last node lies 430 from the datum end, and its slot meets the rail's face a corner's lead further on.
    x = 430 + 2 / math.tan(math.radians(60))
    assert found == pytest.approx(turned_apart(x, 60, 0.02), abs=2e-3)


def test_one_rail_for_both_hands_adds_taper_up(whole):
    """0.1 for 0.01 of taper on each of ten sticks: d (|cot t1| + |cot t2|), d the drift of the last stick at its last
    node. With the rail on either hand's own side it is nothing: this is what a gang that is not reversed does."""
    name = next(n for n, c in whole.clampings.items() if c[0].long == 455)
    bad = [(Lying(taper=0.01), Lying(taper=0.01, far_rail=True))]
    found = whole.parting(name, bad)
    assert found == pytest.approx(0.1, abs=0.005)
    assert found == pytest.approx(9.5 * 0.01 * 430 / 455 * 2 * lean(60), abs=1e-3)
    assert whole.parting(name, same(taper=0.01)) < 1e-3


def test_an_end_out_of_square(whole):
    """0.43 degrees at face 4 for 0.03."""
    assert 4 * math.tan(math.radians(0.43)) == pytest.approx(0.03, abs=1e-4)
    for name in whole.clampings:
        assert whole.parting(name, same(square=0.43)) == pytest.approx(0.03, abs=5e-4)


def test_faces_that_differ_from_stick_to_stick_part_nothing(whole):
    """Each stick touches the fence itself: a whole gang pushed aside, as by wider sticks before it, slides along the
    fence and its slots stay where they were."""
    for clampings in whole.clampings.values():
        for one in clampings:
            wide = Lying()
            for i in range(one.seats - 1):
                # The next stick lies a face further on, in slots cut for all.
                assert one.off(i + 1, 57.5, wide) == pytest.approx(one.off(i, 57.5, wide), abs=1e-6)
