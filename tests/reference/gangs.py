"""What the programs of edge-up cutting remove from each stick of a gang.

The way from a setup to its sticks is worked out here from the fence's direction, the edge that is up, the
face and the place in the gang (the project's design, section 3: the gang lies along +y for t > 90, side s = +1,
and along -y for t <= 90, s = -1; stick i, from 0 at the rail, has its centre line at y = s (i + 1/2) face and
its datum end at x = y cot t + offset; each stick is turned over by itself, its datum end back at the fence),
never from `to_setup` or from the program's own shapes. Moves are read by rs274.py and swept with shapely.
"""

import math
from dataclasses import dataclass

from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.ops import unary_union

import rs274
import sticks as rules
from sweeps import REPLAY, SPECK, paths, swept
from workshop import summary

# The orientation mark's depth (mm).
MARK = 0.5
# Programs step by 0.001 in x, y and z.
STEP = 5.1e-4
# Floors of two bars that meet are rounded so that neither has wood in common with the other (test_cut_solids.py
# looks at that): to the nearest step, or to the next one down.
FLOOR = 1.01e-3


def side_of(fence):
    """On which side of the reference rail a gang lies: the rail meets the fence obtusely."""
    return 1 if fence > 90 + 1e-6 else -1


def face_offset(face, fence):
    """How far a square end whose corner touches the fence lies from it, along the centre line."""
    return face / 2 * abs(1 / math.tan(math.radians(fence)))


@dataclass
class Gang:
    """An edge-up setup of job.json with its program; `sign` is that of the stagger, -1 for a wrong one."""

    setup: dict
    stick: dict
    depth: float
    program: rs274.Program
    sign: int = 1

    @property
    def fence(self):
        return self.setup["fence"]

    @property
    def edge(self):
        return self.setup["edge_up"]

    @property
    def face(self):
        return self.stick["face"]

    @property
    def radius(self):
        return self.setup["tool_diameter"] / 2

    @property
    def side(self):
        return side_of(self.fence)

    @property
    def seats(self):
        """Sticks that lie side by side, all on one side of the rail's face."""
        low, high = (self.setup["stock"][end][1] for end in ("min", "max"))
        assert (low if self.side > 0 else high) == 0, "the gang does not begin at the rail"
        count = (high - low) / self.face
        assert abs(count - round(count)) < 1e-4
        return round(count)

    @property
    def offset(self):
        """How far a datum end lies from the fence along its centre line: none with a point, which lies on
        the fence; a square end touches with one corner."""
        if self.stick["ends"][0]["shape"] == "point":
            return 0.0
        return face_offset(self.face, self.fence)

    def datum(self, i):
        """The datum end of stick i on its centre line; stick 0 lies at the rail."""
        y = self.side * (i + 0.5) * self.face
        return self.sign * y / math.tan(math.radians(self.fence)) + self.offset, y

    def carried(self, i, point):
        """A point of stick i's own frame in the setup: turned over about its long axis, back edge up."""
        x, y, z = point
        x0, y0 = self.datum(i)
        if self.edge == "back":
            y, z = -y, self.depth - z
        return x0 + x, y0 + y, z

    def own(self):
        """A stick as seen from the edge that is up, in its own frame, its datum end square."""
        half = self.face / 2
        return box(0, -half, self.stick["length"], half)

    def strip(self, i):
        """Stick i as seen from above."""
        return affinity.translate(self.own(), *self.datum(i))

    def levels(self):
        """[(height, region that the tool sweeps at or below it)], ascending."""
        stretches = paths(self.program)
        heights = sorted({round(p.height, 6) for p in stretches})
        found, below = [], Polygon()
        for z in heights:
            here = swept([p for p in stretches if abs(p.height - z) < 1e-6], self.radius)
            below = below.union(here)
            found.append((z, below))
        return found

    def removed(self, i, levels):
        """[(bottom, top, region)] of what is cut from stick i, in its own frame as seen from the edge that
        is up: x from the datum end, y from the centre line to the left, heights above the bed."""
        x, y = self.datum(i)
        tops = [z for z, _ in levels[1:]] + [self.depth]
        found = []
        for (bottom, region), top in zip(levels, tops):
            here = region.intersection(self.strip(i))
            found.append((bottom, top, affinity.translate(here, -x, -y)))
        return found


def gangs(folder, sign=1):
    """Every edge-up setup of a job."""
    job = summary(folder)
    by_id = {s["id"]: s for s in job["sticks"]}
    found = []
    for setup in job["setups"]:
        if setup["kind"] == "edge-up":
            stick = by_id[setup["placements"][0]["id"]]
            program = rs274.read((folder / setup["file"]).read_text())
            found.append(Gang(setup, stick, job["panel"]["depth"], program, sign))
    return found


def own_notches(gang):
    """The notches of a stick that a setup cuts: of the edge that is up, along the fence."""
    return [
        n for n in rules.rows(gang.stick["notches"])
        if n[1] == gang.edge and abs(n[2] - gang.fence) < 1e-5
    ]  # fmt: skip


def slot(at, width, angle, face):
    """A slot across a stick as seen from above: walls at the angle from the axis, counter-clockwise."""
    return rules.footprint((at, "front", angle, width, 0), face)


def polygons(region):
    return [p for p in getattr(region, "geoms", [region]) if p.geom_type == "Polygon" and p.area > 1e-6]


def marks(gang, removed):
    """What is cut besides the notches: regions as seen from the edge that is up."""
    notches = unary_union([slot(n[0], n[3], n[2], gang.face) for n in own_notches(gang)])
    return [p for _, _, region in removed for p in polygons(region.difference(notches.buffer(REPLAY)))]


def faults(gang, levels, i):
    """What is wrong with stick i of a gang: its notches of this edge and direction at every height, at their
    place and width within 0.005, with both walls at their angle; and nothing else but the mark."""
    face, found = gang.face, []
    whole = gang.own()
    removed = gang.removed(i, levels)
    if any(bottom < -STEP for bottom, _, _ in removed):
        found.append("below the bed")
    mark = [p for p in marks(gang, removed[-1:])]
    if len(mark) > 1:
        found.append(f"{len(mark)} marks")
    marked = Polygon()
    if mark:
        at = mark[0].centroid.x
        marked = slot(at, 2 * gang.radius, gang.fence, face)
        if abs(removed[-1][0] - (gang.depth - MARK)) > STEP:
            found.append("a mark that is too deep or too shallow")
    bottoms = [bottom for bottom, _, _ in removed]
    for notch in own_notches(gang):
        floor = gang.depth - notch[4]
        if not any(floor - FLOOR <= b <= floor + STEP for b in bottoms):
            found.append(f"no floor for {notch}")
    for bottom, top, region in removed:
        here = [n for n in own_notches(gang) if gang.depth - n[4] < bottom + FLOOR + STEP]
        expected = [slot(n[0], n[3], n[2], face) for n in here]
        if bottom > gang.depth - MARK - 2 * STEP and mark:
            expected.append(marked)
        for shape in expected:
            if not whole.buffer(1e-9).covers(shape):
                found.append("a slot that leaves the stick's end")
        intended = unary_union(expected).intersection(whole)
        if region.difference(intended.buffer(REPLAY)).area > SPECK:
            found.append(f"too much is cut above {bottom}")
        standing = intended.difference(region.buffer(REPLAY))
        if standing.area > SPECK:
            found.append(f"too little is cut above {bottom}")
        for n in here:
            found += off_walls(region, n, face)
    return found


def off_walls(region, notch, face):
    """How a cut differs from a notch: its middle on the centre line, along the stick; its width across; and each
    wall's way along the stick from face to face, as its angle has it."""
    at, _, angle, width, _ = notch
    t = math.radians(angle)
    walls = []
    heights = [-0.499 * face, 0.0, 0.499 * face]
    reach = width / math.sin(t)
    for y in heights:
        middle = at + y / math.tan(t)
        across = LineString([(middle - reach, y), (middle + reach, y)])
        cut = across.intersection(region)
        if cut.geom_type != "LineString" or cut.is_empty:
            return [f"no one cut at {at}, {y} off the centre line"]
        xs = [p[0] for p in cut.coords]
        walls.append((min(xs), max(xs)))
    found = []
    low, mid, high = walls
    if abs((mid[0] + mid[1]) / 2 - at) > REPLAY:
        found.append(f"a cut at {(mid[0] + mid[1]) / 2} for {at}")
    for lo, hi in walls:
        if abs((hi - lo) * math.sin(t) - width) > REPLAY:
            found.append(f"a cut {(hi - lo) * math.sin(t)} wide for {width}")
    for side in (0, 1):
        lean = (high[side] - low[side]) / (heights[2] - heights[0])
        if abs(lean - 1 / math.tan(t)) * face * math.sin(t) > REPLAY:
            found.append(f"a wall at {math.degrees(math.atan2(1, lean))} for {angle}")
    return found
