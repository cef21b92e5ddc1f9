"""Families and outlines of every layout, laid out from the meaning of the panel file's keys.

Families are lines through joints that the layout must have: no formula of the program is used. Lengths
mm, angles degrees.
"""

import math
from dataclasses import dataclass

from shapely.geometry import LineString, Polygon, box
from shapely.ops import split

from workshop import millimetres

NAMES = {
    "square": ["upright", "level"],
    "diamond": ["rising", "falling"],
    "three-way": ["rising", "upright", "falling"],
    "open-three-way": ["rising", "upright", "falling"],
    "eight-point": ["upright", "level", "rising", "falling"],
}


@dataclass
class Family:
    """Parallel lines; offsets count to the left of the direction, -90 < direction <= 90."""

    name: str
    direction: float
    face: float
    rank: int
    step: float | None = None
    first: float = 0.0
    listed: list | None = None

    def offsets(self, low, high):
        if self.listed is not None:
            return [offset for offset in self.listed if low <= offset <= high]
        numbers = range(
            math.ceil((low - self.first) / self.step), math.floor((high - self.first) / self.step) + 1
        )
        return [self.first + i * self.step for i in numbers]


@dataclass
class Side:
    """A side of an outline, from corner to corner of the outermost joint centres, before its rule."""

    start: tuple
    end: tuple
    rule: object  # "centres", "inner-edge" or the clear distance

    @property
    def direction(self):
        return math.degrees(math.atan2(self.end[1] - self.start[1], self.end[0] - self.start[0]))

    @property
    def outward(self):
        length = math.dist(self.start, self.end)
        return (
            (self.end[1] - self.start[1]) / length,
            (self.start[0] - self.end[0]) / length,
        )

    def beyond(self, point):
        """How far outside the side through the centres a point lies."""
        x, y = self.outward
        return (point[0] - self.start[0]) * x + (point[1] - self.start[1]) * y

    def out_by(self, families):
        """How far its rule moves it outwards."""
        if self.rule == "centres":
            return 0.0
        if self.rule == "inner-edge":
            along = [f.face for f in families if parallel(f.direction, self.direction)]
            return -max(along or [f.face for f in families]) / 2
        return self.rule

    def moved(self, x, y):
        start, end = ((p[0] + x, p[1] + y) for p in (self.start, self.end))
        return Side(start, end, self.rule)


def parallel(a, b):
    off = (a - b) % 180
    return min(off, 180 - off) < 1e-6


def through(direction, *points):
    """Offsets of the lines in a direction through points."""
    a = math.radians(direction)
    return [y * math.cos(a) - x * math.sin(a) for x, y in points]


def layout(ground, thickness):
    """Families of a [ground] table, and the layout's own step across and up."""
    kind = ground["layout"]
    if kind == "free":
        return [free(i, table, thickness) for i, table in enumerate(ground["family"])], (1.0, 1.0)
    names = NAMES[kind]
    faces = ground.get("faces") or {name: ground["face"] for name in names}
    ranks = ground.get("ranks") or {name: i + 1 for i, name in enumerate(names)}

    def family(name, direction, one, next_):
        """Through one joint, and a neighbour through another."""
        first, second = through(direction, one, next_)
        face = thickness or millimetres(faces[name])
        return Family(name, direction, face, ranks[name], abs(second - first), first)

    zero = (0.0, 0.0)
    if kind == "square":
        across, up = millimetres(ground["pitch_across"]), millimetres(ground["pitch_up"])
        return [
            family("upright", 90.0, zero, (across, 0.0)),
            family("level", 0.0, zero, (0.0, up)),
        ], (across, up)
    pitch = millimetres(ground["pitch"])
    if kind == "eight-point":
        # Both slanting bars pass through every corner of the squares.
        right = (pitch, 0.0)
        return [
            family("upright", 90.0, zero, right),
            family("level", 0.0, zero, (0.0, pitch)),
            family("rising", 45.0, zero, right),
            family("falling", -45.0, zero, right),
        ], (pitch, pitch)
    corner = ground.get("corner_joint", False)
    if kind == "diamond":
        angle = float(ground["angle"])
        across, up = (
            pitch * math.cos(math.radians(angle)),
            pitch * math.sin(math.radians(angle)),
        )
        one = (0.0, 0.0 if corner else up)
        above = (0.0, one[1] + 2 * up)
        return [
            family("rising", angle, one, above),
            family("falling", -angle, one, above),
        ], (across, up)
    one = (0.0, 0.0 if corner else pitch / 2)
    if kind == "three-way":
        # The next upright is one side of a triangle away: its height, pitch * sqrt(3) / 2.
        across = pitch * math.sqrt(3) / 2
        above = (0.0, one[1] + pitch)
        return [
            family("rising", 30.0, one, above),
            family("upright", 90.0, zero, (across, 0.0)),
            family("falling", -30.0, one, above),
        ], (across, pitch)
    # Joints of an upright are a pitch apart; rising and falling bars take them in turn.
    across = pitch * math.sqrt(3)
    above = (0.0, one[1] + pitch)
    return [
        family("rising", 30.0, one, (0.0, one[1] + 2 * pitch)),
        family("upright", 90.0, zero, (across, 0.0)),
        family("falling", -30.0, above, (0.0, above[1] + 2 * pitch)),
    ], (across, pitch)


def free(place, table, thickness):
    """A family written out. Offsets: along x for upright bars, else to the left of the direction."""
    written = float(table["direction"])
    direction = (written + 90) % 180 - 90
    direction = 90.0 if direction == -90 else direction
    # A point of the line at an offset, and then its offset in the family's own direction.
    a = math.radians(written)
    left = (1.0, 0.0) if direction == 90 else (-math.sin(a), math.cos(a))
    (sign,) = through(direction, left)
    more = {}
    if "offsets" in table:
        more["listed"] = sorted(sign * millimetres(o) for o in table["offsets"])
    else:
        more["first"] = sign * millimetres(table.get("first", 0))
        more["step"] = millimetres(table["pitch"])
    face = thickness or millimetres(table["face"])
    return Family(table["name"], direction, face, table.get("rank", place + 1), **more)


def sides(panel, step):
    """The sides of a panel's outline, through the outermost joint centres, counter-clockwise."""
    ground, table = panel["ground"], panel["outline"]
    if "side" in table:
        unit = step if table.get("in_steps") else (1.0, 1.0)
        corners = [
            tuple(millimetres(s[k]) * u for k, u in zip("xy", unit)) for s in table["side"]
        ]
        rules = [s.get("rule", s.get("clear")) for s in table["side"]]
    else:
        if ground["layout"] == "free":
            width, height = millimetres(ground["width"]), millimetres(ground["height"])
        else:
            width, height = ground["columns"] * step[0], ground["rows"] * step[1]
        corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
        rules = [table[name] for name in ("bottom", "right", "top", "left")]
        rules = [rule["clear"] if isinstance(rule, dict) else rule for rule in rules]
    rules = [r if r in ("centres", "inner-edge") else millimetres(r) for r in rules]
    return [
        Side(corner, corners[(i + 1) % len(corners)], rules[i])
        for i, corner in enumerate(corners)
    ]


def outline(all_sides, families):
    """The trimmed outline: what lies within every side as its rule has moved it."""
    shape = box(-1e5, -1e5, 1e5, 1e5)
    for side in all_sides:
        (nx, ny), by = side.outward, side.out_by(families)
        x, y = side.start[0] + nx * by, side.start[1] + ny * by
        cut = LineString([(x + ny * 1e6, y - nx * 1e6), (x - ny * 1e6, y + nx * 1e6)])
        inside = [
            piece for piece in split(shape, cut).geoms
            if side.beyond(piece.representative_point().coords[0]) < by
        ]  # fmt: skip
        assert len(inside) == 1, "a side leaves one piece"
        shape = inside[0]
    return Polygon(shape.exterior)
