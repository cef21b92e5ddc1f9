"""The ground worked out anew from the panel file: lines, outline, joints by the joint rule.

Shares no code with the program. Plan shapes are shapely's; lengths mm, angles degrees.
"""

import itertools
import math
from dataclasses import dataclass, field

from shapely.geometry import LineString, Point, Polygon

import layouts

from workshop import measured, millimetres

# Plan regions smaller than this (mm2) are round-off of a shared edge: lines are drawn 20 m long, and places on them
# are good to some 1e-11. A corner of 2.7e-7 that a slot's clearance takes is none (random ground 2110).
SPECK = 1e-7
# Lines that pass a crossing nearer than this meet in one node.
NODE = 1e-3


@dataclass
class Line:
    """A line of a family; axis from start to end, offset along the normal to its left."""

    family: str
    direction: float
    face: float
    rank: int
    offset: float

    @property
    def axis(self):
        # Exact for upright and level, as the contract tells them apart by construction.
        if self.direction == 90:
            return (0.0, 1.0)
        a = math.radians(self.direction)
        return (math.cos(a), math.sin(a))

    @property
    def normal(self):
        x, y = self.axis
        return (-y, x)

    def point(self, along):
        (ax, ay), (nx, ny) = self.axis, self.normal
        return (ax * along + nx * self.offset, ay * along + ny * self.offset)

    def along(self, point):
        return point[0] * self.axis[0] + point[1] * self.axis[1]

    def distance(self, point):
        return abs(point[0] * self.normal[0] + point[1] * self.normal[1] - self.offset)

    def bar(self, low, high, face=None):
        """Plan shape of the bar between two places along the line."""
        half = (self.face if face is None else face) / 2
        nx, ny = self.normal[0] * half, self.normal[1] * half
        (x0, y0), (x1, y1) = self.point(low), self.point(high)
        return Polygon(
            [(x0 - nx, y0 - ny), (x1 - nx, y1 - ny), (x1 + nx, y1 + ny), (x0 + nx, y0 + ny)]
        )

    def crossing(self, other):
        (ax, ay), (bx, by) = self.axis, other.axis
        det = ax * by - ay * bx
        dx = other.point(0)[0] - self.point(0)[0]
        dy = other.point(0)[1] - self.point(0)[1]
        return self.point((dx * by - dy * bx) / det)


@dataclass
class Bar:
    """A member."""

    line: Line
    start: tuple
    end: tuple
    low: float  # from
    high: float  # to
    ends: list  # [(angle, shape)]
    body: Polygon = None
    wood: Polygon = None
    joints: list = field(default_factory=list)

    @property
    def length(self):
        return self.high - self.low


@dataclass
class Notch:
    at: float
    node: tuple
    other: Line
    bar: "Bar | None"  # of the line that crosses
    filled: bool  # whether it reaches into the notch
    edge: str
    angle: float
    width: float
    depth: float
    shape: str
    run: float


class Ground:
    """The ground of a panel."""

    def __init__(self, panel, material):
        self.flat = panel["cut"]["method"] == "flat"
        self.depth = millimetres(panel["ground"]["depth"])
        self.clearance = millimetres(panel["cut"].get("clearance", 0))
        self.overhang = millimetres(panel["outline"].get("overhang", 0))
        thickness = measured(material)[1] if self.flat else None
        families, step = layouts.layout(panel["ground"], thickness)
        sides = layouts.sides(panel, step)
        shape = layouts.outline(sides, families)
        x0, y0, x1, y1 = shape.bounds
        self.width, self.height = x1 - x0, y1 - y0
        self.outline = Polygon([(x - x0, y - y0) for x, y in shape.exterior.coords[:-1]])
        self.sides = [side.moved(-x0, -y0) for side in sides]
        self.lines = self.lines_near(families, (-x0, -y0))
        self.bars = [bar for line in self.lines for bar in self.bar_of(line)]
        for bar in self.bars:
            bar.joints = sorted(self.joints_of(bar), key=lambda j: j.at)

    def lines_near(self, families, shift):
        """All lines that could reach wood, seen from the trimmed ground's lower left corner."""
        reach = self.overhang + 60
        found = []
        for family in families:
            probe = Line(family.name, family.direction, family.face, family.rank, 0.0)
            by = probe.normal[0] * shift[0] + probe.normal[1] * shift[1]
            around = self.outline.buffer(reach).exterior.coords
            offsets = [x * probe.normal[0] + y * probe.normal[1] - by for x, y in around]
            for offset in family.offsets(min(offsets), max(offsets)):
                found.append(
                    Line(family.name, family.direction, family.face, family.rank, offset + by)
                )
        return found

    def bar_of(self, line):
        far = 2 * (self.width + self.height)
        kept = LineString([line.point(-far), line.point(far)]).intersection(self.outline)
        # Along a side the line lies on the outline, not within it.
        if kept.length < 1e-6 or self.outline.exterior.buffer(1e-7).contains(kept):
            return
        start, end = sorted(kept.coords, key=line.along)
        length = line.along(end) - line.along(start)
        zero = line.along(start)
        within = line.bar(-far, far).intersection(self.outline)
        along = [line.along(p) - zero for p in within.exterior.coords]
        square = [(90.0, "square")] * 2
        if self.overhang:
            low, high, ends = -self.overhang, length + self.overhang, square
        elif self.flat:
            low, high, ends = min(along), max(along), square
        else:
            low, high = 0.0, length
            ends = [self.end_of(line, start), self.end_of(line, end)]
        bar = Bar(line, start, end, low, high, ends)
        bar.body = line.bar(zero + low, zero + high)
        bar.wood = bar.body if self.overhang else within
        if not (self.flat or self.overhang):
            bar.body = within
        yield bar

    def end_of(self, line, point):
        """Angle and shape of an end that is cut along the outline: pointed where the side does not
        reach across the whole bar. In a corner two sides meet: the lesser angle counts."""
        corners = list(self.outline.exterior.coords)
        sides = [LineString(pair) for pair in zip(corners, corners[1:])]
        met = [side for side in sides if side.distance(Point(point)) < 1e-7]

        def angle(side):
            (x0, y0), (x1, y1) = side.coords
            return (math.degrees(math.atan2(y1 - y0, x1 - x0)) - line.direction) % 180

        side = min(met, key=angle)
        across = side.intersection(line.bar(-1e4, 1e4)).length
        if across < line.face / math.sin(math.radians(angle(side))) - 1e-7:
            return (angle(side), "point")
        return (angle(side), "square" if abs(angle(side) - 90) < 1e-9 else "skew")

    def joints_of(self, bar):
        for other in self.lines:
            if other.direction == bar.line.direction:
                continue
            node = bar.line.crossing(other)
            # Edge up a slot takes all that it reaches; cut flat, what clearance alone reaches stays.
            wide = other.face if self.flat else other.face + self.clearance
            cut = bar.line.bar(-1e4, 1e4).intersection(other.bar(-1e4, 1e4, wide))
            mate = next((b for b in self.bars if b.line is other), None)
            filled = mate is not None and mate.body.intersection(bar.body).area > SPECK
            if not filled and bar.wood.intersection(cut).area <= SPECK:
                continue
            yield self.notch(bar, other, mate, filled, node)

    def notch(self, bar, other, mate, filled, node):
        """The joint rule: members 1 (back) to k (front) of a node part at depth (i + j - 1) / 2k."""
        ranks = sorted(line.rank for line in self.lines if line.distance(node) < NODE)
        k = len(ranks)
        mine, theirs = ranks.index(bar.line.rank) + 1, ranks.index(other.rank) + 1
        height = self.depth * (mine + theirs - 1) / (2 * k)
        front = mine < theirs
        seen = (other.direction - bar.line.direction) % 180
        t = math.radians(seen)
        width = other.face + self.clearance
        if self.flat:
            run = (width + bar.line.face * abs(math.cos(t))) / math.sin(t)
        else:
            run = width / math.sin(t)
        return Notch(
            at=bar.line.along(node) - bar.line.along(bar.start),
            node=node,
            other=other,
            bar=mate,
            filled=filled,
            edge="front" if front else "back",
            angle=seen if front else 180 - seen,
            width=width,
            depth=self.depth - height if front else height,
            shape="square" if self.flat else "skew",
            run=run,
        )


TURNS = ["none", "over", "end", "both"]


def turned(piece, turn):
    """A piece (length, ends, notches as (at from its first end, edge, angle, width, depth)) turned.

    Over: about the long axis, so that front and back swap. End: end for end. A notch's angle is
    counted from its own edge and stays; an end's is seen from the front, so over mirrors it.
    """
    length, ends, notches = piece
    over, end = turn in ("over", "both"), turn in ("end", "both")
    swap = {"front": "back", "back": "front"}
    notches = [
        (length - at if end else at, swap[edge] if over else edge, *rest)
        for at, edge, *rest in notches
    ]
    ends = [(180 - angle if over else angle, shape) for angle, shape in ends]
    return length, ends[::-1] if end else ends, notches


def alike(one, other, within):
    """Whether two pieces are equal as they lie, in any order of their notches."""
    (length, ends, notches), (length2, ends2, notches2) = one, other
    if abs(length - length2) > within or len(notches) != len(notches2):
        return False
    for (angle, shape), (angle2, shape2) in zip(ends, ends2):
        if shape != shape2 or abs(angle - angle2) > within:
            return False
    left = list(notches2)
    for at, edge, *rest in notches:
        for found in left:
            near = all(abs(a - b) <= within for a, b in zip([at, *rest], [found[0], *found[2:]]))
            if found[1] == edge and near:
                left.remove(found)
                break
        else:
            return False
    return True


def piece_of(bar):
    notches = [(j.at - bar.low, j.edge, j.angle, j.width, j.depth) for j in bar.joints]
    return bar.length, bar.ends, notches


def apart(one, other):
    """The greatest difference of two pieces as they lie: lengths, angles of ends, and places (from either
    end), angles, widths and depths of notches; infinite where they are not built alike."""
    (length, ends, notches), (length2, ends2, notches2) = one, other
    if len(notches) != len(notches2) or [e[1] for e in ends] != [e[1] for e in ends2]:
        return math.inf
    greatest = max(abs(length - length2), *(abs(a[0] - b[0]) for a, b in zip(ends, ends2)))
    left = list(notches2)
    for at, edge, *rest in notches:
        def off(n):
            places = (abs(at - n[0]), abs((length - at) - (length2 - n[0])))
            return max(*places, *(abs(a - b) for a, b in zip(rest, n[2:])))
        nearest = min((n for n in left if n[1] == edge), key=off, default=None)
        if nearest is None:
            return math.inf
        greatest = max(greatest, off(nearest))
        left.remove(nearest)
    return greatest


# What no hand can sort, where the panel file says nothing else.
SAME_FIGURE = 0.01


def same_pieces(pieces, faces, within=SAME_FIGURE):
    """Groups of indices, by complete linkage: the two nearest groups become one, some turn of one beside the
    other, as long as no two pieces in it are further apart. Bars of different faces never."""
    groups = [[(i, piece)] for i, piece in enumerate(pieces)]

    def nearest(a, b):
        if abs(faces[a[0][0]] - faces[b[0][0]]) > 1e-6:
            return math.inf, None
        found = []
        for turn in TURNS:
            lying = [(i, turned(piece, turn)) for i, piece in b]
            found.append((max(apart(x, y) for _, x in a for _, y in lying), turn, lying))
        far, _, lying = min(found, key=lambda f: f[0])
        return far, lying

    distance = {}
    alive = dict(enumerate(groups))
    for a, b in itertools.combinations(alive, 2):
        distance[a, b] = nearest(alive[a], alive[b])
    while distance:
        (a, b), (far, lying) = min(distance.items(), key=lambda d: (d[1][0], d[0]))
        if far > within + 1e-9:
            break
        alive[a] = alive[a] + lying
        del alive[b]
        distance = {pair: d for pair, d in distance.items() if not {a, b} & set(pair)}
        for other in alive:
            if other != a:
                pair = (min(a, other), max(a, other))
                distance[pair] = nearest(alive[pair[0]], alive[pair[1]])
    return [sorted(i for i, _ in group) for group in alive.values()]


def crossings(ground):
    """(back bar, front bar) of every pair that meets."""
    for one, other in itertools.permutations(ground.bars, 2):
        for joint in one.joints:
            if joint.filled and joint.bar is other and one.line.rank < other.line.rank:
                yield one, other
