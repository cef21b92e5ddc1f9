"""What a beam or a tool removes, swept along the moves that rs274.py reads, and what is left.

Regions are shapely's. Round shapes are polygons with 64 corners a quarter turn: less than 1e-4 mm off
for radii up to 2 mm.
"""

import math
from dataclasses import dataclass

from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import unary_union

import rs274
from views import inside_corners, pieces_of
from workshop import flat_runs, measured, millimetres, sources, summary

ROUND = 64
# Nothing of a piece may be removed, nothing left standing in a notch, beyond this (mm).
REPLAY = 0.005
# Regions thinner than about this times their length are round-off (mm2).
SPECK = 1e-6


@dataclass
class Path:
    """A stretch cut without a break: corners in the plane, and the height of the tip."""

    points: list
    height: float


def arc_points(move):
    """An arc as chords that stay within 1e-5 mm of it."""
    (cx, cy), (x, y, _) = move.centre, move.start
    radius, first = math.hypot(x - cx, y - cy), math.atan2(y - cy, x - cx)
    step = 2 * math.acos(1 - min(1e-5 / radius, 1)) if radius > 1e-5 else math.pi
    count = max(2, math.ceil(abs(move.sweep) / step))
    turns = [first + move.sweep * i / count for i in range(1, count)]
    return [(cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in turns]


def paths(program):
    """The stretches that a program cuts, in order; a laser's have the height None."""
    found, last = [], None
    for move in program.moves:
        if move.kind == "rapid" or move.head == "off":
            last = None
            continue
        level = move.start[2] is None or move.start[2] == move.end[2]
        height = move.end[2] if level else min(move.start[2], move.end[2])
        points = [move.start[:2]]
        if move.kind == "arc":
            points += arc_points(move)
        points.append(move.end[:2])
        if last is not None and last.height == height:
            last.points += points[1:]
        else:
            last = Path(points, height)
            found.append(last)
    return found


def swept(stretches, radius):
    """The region that a round of this radius passes over."""
    shapes = []
    for path in stretches:
        alike = all(p == path.points[0] for p in path.points)
        shapes.append(Point(path.points[0]) if alike else LineString(path.points))
    return unary_union([s.buffer(radius, quad_segs=ROUND) for s in shapes])


class Sheet:
    """A strip or sheet of a flat job with its program."""

    def __init__(self, folder, setup, strip):
        self.job = summary(folder)
        files = sources(folder, strip["material"])
        self.depth = millimetres(files["panel"]["ground"]["depth"])
        self.material = files["material"]
        self.face = measured(self.material)[1]
        assert setup["material"] == strip["material"] == self.material["name"]
        assert setup["stock"]["max"][2] == self.face
        self.strip = strip
        self.sheet = box(0, 0, strip["length"], strip["width"])
        self.pieces = list(pieces_of(self.job, strip, self.depth, self.face))
        self.setup = setup
        self.text = (folder / setup["file"]).read_text()
        self.program = rs274.read(self.text)
        self.paths = paths(self.program)


def sheets(folder):
    """Every sheet of a flat job, in the order of its strips; some share a setup."""
    job = summary(folder)
    runs = flat_runs(job)
    assert runs and len(runs) == len(job["nest"]["strips"])
    return [Sheet(folder, *run) for run in runs]


def fillets(shape, radius):
    """What a round of this radius leaves in the inside corners: beside the round that is tangent to
    wall and floor, and wherever else it does not reach (closing, less the shape)."""
    big = dict(quad_segs=ROUND, join_style="round")
    left = [shape.buffer(radius, **big).buffer(-radius, **big).difference(shape)]
    for (x, y), (dx, dy) in inside_corners(shape):
        # Side views have level and upright edges only; for re-entrant ends of outlines closing tells all.
        if abs(abs(dx) - abs(dy)) > 1e-6:
            continue
        cx, cy = x + math.copysign(radius, dx), y + math.copysign(radius, dy)
        square = box(min(x, cx), min(y, cy), max(x, cx), max(y, cy))
        left.append(square.difference(Point(cx, cy).buffer(radius, quad_segs=ROUND)))
    return unary_union(left)


def reliefs(shape, radius, kind):
    """Rounds through each inside corner: what relief of this kind may remove. Centred on the corner's
    bisector, or as far from the corner along the wall (relief along the floor, into the wall) or along
    the floor (relief along the wall, into the floor). In an end, whose walls make 60 degrees or more, the way
    there along the bisector counts too."""
    if kind == "end":
        ways = [
            LineString([(x + dx * k * radius, y + dy * k * radius) for k in (1, 2)])
            for (x, y), (dx, dy) in inside_corners(shape)
        ]
        return unary_union([way.buffer(radius, quad_segs=ROUND) for way in ways])

    def centre(x, y, dx, dy):
        right, up = math.copysign(radius, dx), math.copysign(radius, dy)
        return {
            "corner": (x + dx * radius, y + dy * radius),
            "floor": (x, y + up),
            "wall": (x + right, y),
        }[kind]

    return unary_union(
        [
            Point(*centre(*corner, *into)).buffer(radius, quad_segs=ROUND)
            for corner, into in inside_corners(shape)
        ]
    )


@dataclass
class Verdict:
    """What the cut did to one piece."""

    removed: float  # area lost to the piece beyond the tolerance, mm2
    standing: float  # area left in the cut beyond the tolerance, fillets and holds apart, mm2
    holds: list  # bridges or tabs: regions left standing in the cut, along the back edge or across an end
    loose: Polygon  # what falls out when the holds are parted

    def sound(self):
        return self.removed <= SPECK and self.standing <= SPECK


def judge(piece, left, radius, relief=None, ends=False):
    """Compares what is left of a sheet with one piece's finished outline.

    The cut runs round the piece, 2 * radius wide, and holds stand in it along the back edge; across the ends
    too where they are waste (`ends`).
    """
    shape = piece.shape
    low, width = piece.y, 2 * radius
    lost = shape.buffer(-REPLAY, join_style="mitre").difference(left)
    if relief:
        lost = lost.difference(reliefs(shape, radius, relief).buffer(REPLAY))
    ring = shape.buffer(width - REPLAY, quad_segs=ROUND).difference(
        shape.buffer(REPLAY, quad_segs=ROUND)
    )
    in_ring = ring.intersection(left).difference(fillets(shape, radius).buffer(REPLAY))
    x0, _, x1, high = shape.bounds
    below = box(x0, low - width, x1, low)
    beside = [box(x0 - width, low, x0, high), box(x1, low, x1 + width, high)] if ends else []
    holds, standing = [], 0.0
    for part in parts_of(in_ring):
        if part.area <= SPECK:
            continue
        # A hold spans the cut from the back edge to the waste.
        spans = part.bounds[1] <= low - width + 2.5 * REPLAY and part.bounds[3] >= low - 2 * REPLAY
        if spans and below.buffer(REPLAY).covers(part):
            holds.append(part)
        elif any(spans_end(part, side) for side in beside):
            holds.append(part)
        else:
            standing += part.area
    parted = left
    for hold in holds:
        hx0, hy0, hx1, hy1 = hold.bounds
        if hy0 < low - 2 * REPLAY:
            parted = parted.difference(box(hx0 - width, low - 2 * width, hx1 + width, low))
        else:
            out = (x0 - 2 * width, x0) if hx1 < x1 - width else (x1, x1 + 2 * width)
            parted = parted.difference(box(out[0], hy0 - width, out[1], hy1 + width))
    inside = shape.representative_point()
    loose = [p for p in parts_of(parted) if p.buffer(REPLAY).contains(inside)]
    return Verdict(lost.area, standing, holds, loose[0] if loose else Polygon())


def spans_end(part, side):
    """Whether a region spans the cut beside an end, from the piece to the waste."""
    (a, _, b, _), (x0, _, x1, _) = part.bounds, side.bounds
    across = a <= x0 + 2.5 * REPLAY and b >= x1 - 2.5 * REPLAY
    return across and side.buffer(REPLAY).covers(part)


def parts_of(region):
    return [p for p in getattr(region, "geoms", [region]) if not p.is_empty and p.area > 0]


def fits(loose, piece, radius, relief=None):
    """Whether what falls out is the piece: within 0.005, fillets in inside corners apart."""
    most = piece.shape.union(fillets(piece.shape, radius)).buffer(REPLAY, join_style="mitre")
    least = piece.shape.buffer(-REPLAY, join_style="mitre")
    if relief:
        least = least.difference(reliefs(piece.shape, radius, relief).buffer(REPLAY))
    return loose.difference(most).area <= SPECK and least.difference(loose).area <= SPECK


def turned_inwards(stretches, pieces):
    """The paths with every corner mirrored to the other side of the nearest outline: a sign error."""
    outlines = [p.shape.exterior for p in pieces]
    wrong = []
    for path in stretches:
        points = []
        for x, y in path.points:
            here = Point(x, y)
            outline = min(outlines, key=here.distance)
            near = outline.interpolate(outline.project(here))
            points.append((2 * near.x - x, 2 * near.y - y))
        wrong.append(Path(points, path.height))
    return wrong
