"""The bench of edge-up cutting in one coordinate system: what the datum program leaves of fence and reference
rail, and the sticks laid against it.

x, y are set once for all programs of a job, so that what one program mills and what another cuts meet without any
further setting (the project's design, section 3). Faces are found on what the sweep of the datum program leaves of
two battens that stand 1 mm proud; sticks are laid against these faces by the lines of this file, stick 0 at the
rail, each datum end at the fence; what a slot program sweeps is carried back to each stick. Neither `to_setup` nor
any shape that the program plans has a part in it. Moves are read by rs274.py and swept with shapely.
"""

import copy
import math
import re
from dataclasses import dataclass, field, replace

from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.ops import unary_union

import gangs as bench
import rs274
import sticks as rules
from sweeps import REPLAY, SPECK, paths, swept
from workshop import sources, summary

# How far battens stand proud before they are milled, and how far the fence's face goes on past the rail's (mm).
# Half a step of five decimals of an inch, or of four of a millimetre, mm.
HALF_STEP = 1.3e-4
PROUD = 1.0
PAST = 2.0
# How far from a wall of a slot a bar that holds the gang down stands at least (mm).
CLEAR = 5.0
# Places at which a face is looked at.
STATIONS = 120
FAR = 1000.0
# The program that planes the board, which belongs to no setup, and its air run.
BED = re.compile(r"gcode/(?!air-run-).*-bed\.nc")
BED_AIR = re.compile(r"gcode/air-run-.*-bed\.nc")


@dataclass
class Face:
    """A milled face: the straight line through it, and how far the wood is from the line, at the worst place."""

    point: tuple
    way: tuple  # of length 1, with the face's wood on its left or right as the batten stands
    off: float

    def at(self, along):
        return self.point[0] + along * self.way[0], self.point[1] + along * self.way[1]

    @property
    def degrees(self):
        return math.degrees(math.atan2(self.way[1], self.way[0]))


def face_of(wood, start, way, out, length):
    """The face of what is left of a batten, from `start` along `way`, seen against `out`: its outermost wood at
    each station. None where there is no wood."""
    found = []
    for k in range(STATIONS + 1):
        along = length * k / STATIONS
        x, y = start[0] + along * way[0], start[1] + along * way[1]
        ray = LineString([(x - FAR * out[0], y - FAR * out[1]), (x + FAR * out[0], y + FAR * out[1])])
        left = ray.intersection(wood)
        if left.is_empty:
            return None
        lines = [g for g in getattr(left, "geoms", [left])]
        ends = [p for g in lines for p in g.coords]
        found.append((along, max((px - x) * out[0] + (py - y) * out[1] for px, py in ends)))
    # The straight line of least squares.
    n = len(found)
    ma, md = sum(a for a, _ in found) / n, sum(d for _, d in found) / n
    lean = sum((a - ma) * (d - md) for a, d in found) / sum((a - ma) ** 2 for a, _ in found)
    zero = md - lean * ma
    off = max(abs(d - zero - lean * a) for a, d in found)
    size = math.hypot(1, lean)
    line = tuple((w + lean * o) / size for w, o in zip(way, out))
    return Face((start[0] + zero * out[0], start[1] + zero * out[1]), line, off)


@dataclass
class Corner:
    """What stands after a datum program: battens less what it sweeps, by the setup and its fence's direction."""

    setup: dict
    program: rs274.Program
    fence_batten: list  # corners as job.json tells them, the face milled
    along: float  # how far sticks reach along the rail
    width: float  # of the widest gang
    side: int = 0  # on which the gang lies; of the design, if it is not said

    def __post_init__(self):
        self.fence = self.setup["fence"]
        self.side = self.side or bench.side_of(self.fence)
        self.radius = self.setup["tool_diameter"] / 2
        stretches = paths(self.program)
        self.cut = swept([p for p in stretches if p.height <= bench.STEP], self.radius)
        self.all_cut = swept(stretches, self.radius)
        self.floor = min(p.height for p in stretches)

    @property
    def rail_batten(self):
        """The rail as it is put up; its face looks to the gang."""
        [rail] = self.setup["rails"]
        (x0, y0, _), (x1, y1, _) = rail["min"], rail["max"]
        return box(x0, y0 - (self.side < 0) * PROUD, x1, y1 + (self.side > 0) * PROUD)

    @property
    def into(self):
        """From the fence's face to the sticks: to the right of its direction."""
        t = math.radians(self.fence)
        return math.sin(t), -math.cos(t)

    @property
    def proud_fence(self):
        """The fence's batten as it is put up: all that a move by PROUD towards the sticks passes over."""
        whole = Polygon(self.fence_batten)
        moved = affinity.translate(whole, *(PROUD * c for c in self.into))
        return unary_union([whole, moved]).convex_hull

    def rail_wood(self):
        return self.rail_batten.difference(self.cut)

    def fence_wood(self):
        return self.proud_fence.difference(self.cut)

    def rail_face(self):
        [rail] = self.setup["rails"]
        x0 = rail["min"][0]
        return face_of(self.rail_wood(), (x0, 0.0), (1.0, 0.0), (0.0, float(self.side)), self.along - x0)

    def fence_face(self):
        """From PAST behind the rail's face to the gang's far side."""
        t = math.radians(self.fence)
        low, high = sorted((-self.side * PAST, self.side * self.width))
        start = (low / math.tan(t), low)
        length = (high - low) / math.sin(t)
        return face_of(self.fence_wood(), start, (math.cos(t), math.sin(t)), self.into, length)

    def faults(self):
        """What is wrong with the two faces: each where it belongs within 0.005, over all that a stick touches,
        and from top to bed."""
        found = []
        rail, fence = self.rail_face(), self.fence_face()
        t = math.radians(self.fence)
        for name, face, (a, b) in (("rail", rail, (0.0, 1.0)), ("fence", fence, (math.sin(t), -math.cos(t)))):
            if face is None:
                found.append(f"no {name} is left")
                continue
            if face.off > 2e-3:
                found.append(f"the {name}'s face is {face.off:.4f} off straight")
            length = self.along if name == "rail" else self.width / math.sin(t)
            off = max(abs(a * x + b * y) for x, y in (face.at(0), face.at(length)))
            if off > REPLAY:
                found.append(f"the {name}'s face is {off:.4f} off its place")
        [rail_told] = self.setup["rails"]
        if rail_told["max"][0] < self.along:
            found.append("the rail ends before the sticks do")
        if self.floor > -0.1:
            found.append("no groove for chips below the faces")
        more = self.all_cut.difference(self.cut.buffer(REPLAY))
        kept = unary_union([self.rail_wood(), self.fence_wood()])
        if more.intersection(kept).area > SPECK:
            found.append("a pass above the bed cuts into a face")
        return found


@dataclass
class Laid(bench.Gang):
    """A gang laid against the faces that were found, not against where they should be."""

    corner: Corner = None
    rail: Face = None
    fence_line: Face = None
    side_laid: int = 0
    # For sticks that are laid wrongly: with this edge up; turned over as one block.
    edge_laid: str = ""
    block: bool = False

    @property
    def side(self):
        return self.side_laid or bench.side_of(self.fence)

    @property
    def edge(self):
        return self.edge_laid or self.setup["edge_up"]

    @property
    def turn(self):
        """Of the sticks' axes from x, radians."""
        return math.atan2(self.rail.way[1], self.rail.way[0])

    def touching(self):
        """Corners of the datum end that can touch the fence, in the stick's own frame."""
        half = self.face / 2
        end = self.stick["ends"][0]
        if end["shape"] == "square":
            return [(0.0, -half), (0.0, half)]
        back = rules.datum_point(self.stick)
        return [(0.0, 0.0), (back, -half), (back, half)]

    def datum(self, i):
        """Where the datum end of the stick in a seat lies, on its centre line: pushed along the rail until the
        first of its corners meets the fence. In a block that is turned over, each has the lead of the stick that
        lay there before."""
        if self.block:
            one = replace(self, block=False)
            (x, _), (_, y) = one.datum(self.seats - 1 - i), one.datum(i)
            return x, y
        (px, py), (ux, uy) = self.rail.point, self.rail.way
        aside = self.side * (i + 0.5) * self.face
        x, y = px - uy * aside, py + ux * aside
        (fx, fy), (vx, vy) = self.fence_line.point, self.fence_line.way
        # Into the room before the fence: to the right of its direction.
        nx, ny = vy, -vx
        clear = [
            (x + a * ux - b * uy - fx) * nx + (y + a * uy + b * ux - fy) * ny for a, b in self.touching()
        ]
        push = -min(clear) / (ux * nx + uy * ny)
        return x + push * ux, y + push * uy

    def removed(self, i, levels):
        x, y = self.datum(i)
        degrees = -math.degrees(self.turn)
        found = []
        tops = [z for z, _ in levels[1:]] + [self.depth]
        own = self.own()
        for (bottom, region), top in zip(levels, tops):
            back = affinity.rotate(affinity.translate(region, -x, -y), degrees, origin=(0, 0))
            found.append((bottom, top, back.intersection(own)))
        return found

    def wrong(self):
        """What is wrong with any stick of the gang, its levels swept once."""
        levels = self.levels()
        found = []
        for i in range(self.seats):
            found += [(i, fault) for fault in bench.faults(self, levels, i)]
        return found


@dataclass
class Bench:
    """A job folder: its corners by fence, and its gangs laid against them."""

    job: dict
    machine: dict
    panel: dict
    texts: dict = field(default_factory=dict)  # programs by file

    @property
    def depth(self):
        return self.job["panel"]["depth"]

    def program(self, setup):
        return rs274.read(self.texts[setup["file"]])

    def edge_ups(self, fence=None):
        return [
            s for s in self.job["setups"]
            if s["kind"] == "edge-up" and (fence is None or abs(s["fence"] - fence) < 1e-6)
        ]  # fmt: skip

    def datums(self):
        return [s for s in self.job["setups"] if s["kind"] == "datum"]

    def stick(self, setup):
        return next(s for s in self.job["sticks"] if s["id"] == setup["placements"][0]["id"])

    def corner(self, datum):
        """The corner that a datum program leaves, for all the gangs that its fence serves."""
        served = self.edge_ups(datum["fence"])
        assert served, "a fence that nothing is cut against"
        [batten] = {
            tuple(map(tuple, k["corners"])) for s in served for k in s["keep_out"] if k["what"] == "fence"
        }
        along = max(self.stick(s)["length"] for s in served)
        width = max(abs(s["stock"]["max"][1] - s["stock"]["min"][1]) for s in served)
        return Corner(datum, self.program(datum), list(batten), along, width)

    def gangs(self):
        """Every gang, laid against the corner of its fence."""
        found = []
        corners = {}
        for datum in self.datums():
            one = self.corner(datum)
            corners[datum["fence"]] = (one, one.rail_face(), one.fence_face())
        for setup in self.edge_ups():
            one, rail, fence = corners[setup["fence"]]
            found.append(
                Laid(setup, self.stick(setup), self.depth, self.program(setup), 1, one, rail, fence)
            )
        return found

    def faults(self):
        """Everything that is wrong: faces, sticks, holds."""
        found = []
        corners = [self.corner(d) for d in self.datums()]
        for one in corners:
            found += [(one.setup["file"], f) for f in one.faults()]
        if any(one.rail_face() is None or one.fence_face() is None for one in corners):
            return found
        for gang in self.gangs():
            found += [(gang.setup["file"], gang.edge, f) for f in gang.wrong()]
            found += [(gang.setup["file"], gang.edge, f) for f in holds_in_the_way(gang)]
        found += self.misordered()
        for setup in self.job["setups"]:
            found += [(setup["file"], f) for f in self.air_faults(setup)]
        if self.bed():
            found += [(self.bed(), f) for f in self.bed_faults()]
        return found

    def bed(self, kind=BED):
        """The program that planes the board, or its air run; None without one."""
        return next(filter(kind.fullmatch, self.texts), None)

    def bed_faults(self):
        """What is wrong with the program that planes the board: one level all under sticks, rails and fences, and
        an air run over the board."""
        found = []
        stretches = paths(rs274.read(self.texts[self.bed()]))
        radius = self.job["setups"][0]["tool_diameter"] / 2
        depth = self.panel["sticks"]["bed"]
        if any(abs(p.height + depth) > bench.STEP for p in stretches):
            found.append("it does not plane as deep as is asked for")
        lying = []
        for setup in self.job["setups"]:
            for solid in [setup["stock"], *setup["rails"]]:
                (x0, y0, _), (x1, y1, _) = solid["min"], solid["max"]
                lying.append(box(x0, y0, x1, y1))
            lying += [Polygon(k["corners"]) for k in setup["keep_out"] if k["what"] == "fence"]
        if unary_union(lying).difference(swept(stretches, radius).buffer(REPLAY)).area > SPECK:
            found.append("some of the board under sticks or battens stays as it was")
        if self.bed(BED_AIR):
            safe = self.machine["router"]["safe_height"]
            bed, air = (rs274.read(self.texts[self.bed(kind)]) for kind in (BED, BED_AIR))
            found += air_run_faults(bed, air, safe)
        return found

    def misordered(self):
        """Sticks lie in one order from the rail in every setup of their class, so that the gang is reversed
        between hands, and a load's sticks stay together."""
        found, orders = [], {}
        for setup in self.edge_ups():
            stick = self.stick(setup)
            gang = bench.Gang(setup, stick, self.depth, None)
            order = {}
            for p in setup["placements"]:
                y = p["to_setup"][1][3]
                place = gang.side * y / gang.face - 0.5
                if place < -1e-4 or abs(place - round(place)) > 1e-4:
                    found.append((setup["file"], f"{p['id']} lies on the wrong side of the rail, or between seats"))
                    continue
                order[p["load"], round(place)] = p["id"]
            known = orders.setdefault(stick["class"], order)
            if known != order:
                found.append((setup["file"], "the sticks have changed their order from the rail"))
        return found

    def air_faults(self, setup):
        """What is wrong with the air run of a setup, where it has one."""
        name = setup.get("air_run")
        if name is None:
            return []
        top = self.machine["router"]["safe_height"] + self.top(setup)
        return air_run_faults(self.program(setup), rs274.read(self.texts[name]), top)

    def top(self, setup):
        """Of the work, from which the machine's safe height counts."""
        served = self.edge_ups(setup["fence"])
        return max(self.depth, *(s["stock"]["max"][2] for s in served))

    def room(self):
        """(x0, x1, y0, y1) of where the cutter's centre goes, over all programs."""
        names = {s["file"] for s in self.job["setups"]} | ({self.bed()} - {None})
        points = [p for name in sorted(names) for p in places(rs274.read(self.texts[name]))]
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return min(xs), max(xs), min(ys), max(ys)

    def zero_can_stand(self, travel=None, window=None):
        """Whether there is a place for zero, in its window on the machine, from which every path lies in the
        travel; both counted from the travel's lower left corner."""
        travel = travel or self.machine["travel"]
        own = self.machine.get("zero", {})
        window = window or [own.get("x", [0, travel[0]]), own.get("y", [0, travel[1]])]
        x0, x1, y0, y1 = self.room()
        for low, high, most, (first, last) in ((x0, x1, travel[0], window[0]), (y0, y1, travel[1], window[1])):
            if max(first, -low) > min(last, most - high) + 1e-9:
                return False
        return True


def places(program):
    """Every known place in x and y of a program, and of the round of its arcs none: these jobs have no arcs."""
    assert not any(m.kind == "arc" for m in program.moves)
    return [m.end[:2] for m in program.moves if None not in m.end[:2]]


def air_run_faults(program, air, safe):
    """An air run: head off throughout; first the rise to the safe height, never below it; once round the box of
    the path in x and y; the end above x = y = 0 (the project's design and contract)."""
    found = []
    if any(m.head != "off" for m in air.moves):
        found.append("the head is on")
    if not air.moves or air.moves[0].end[:2] != (None, None) or air.moves[0].end[2] is None:
        return [*found, "it does not rise first"]
    if any(m.end[2] is None or m.end[2] < safe - HALF_STEP for m in air.moves):
        found.append("it goes below the safe height")
    xs, ys = zip(*places(program))
    corners = {(x, y) for x in (min(xs), max(xs)) for y in (min(ys), max(ys))}
    visited = places(air)
    for x, y in corners:
        if not any(math.dist((x, y), p) <= 1.5e-3 for p in visited):
            found.append(f"it does not reach {x}, {y}")
    for x, y in visited[:-1]:
        if not any(math.dist((x, y), c) <= 1.5e-3 for c in corners):
            found.append(f"it goes to {x}, {y}, no corner of the box")
    round_ = visited[:-1]
    sides = [(a[0] == b[0]) != (a[1] == b[1]) for a, b in zip(round_, round_[1:])]
    if len(round_) != 5 or round_[0] != round_[-1] or not all(sides):
        found.append("it does not go once round the box")
    if not visited or math.hypot(*visited[-1]) > 1e-9:
        found.append("it does not end above the zero")
    return found


def holds_in_the_way(gang, lows=None):
    """What is wrong with fence and holds of a setup: bars across both rails along the slots; the cutter never low
    within CLEAR of one; one before the first slot, one past the last, no three slots between two, and each
    between two slots in their middle. `lows` keeps what has been swept, by height, for the same program."""
    found = []
    lows = {} if lows is None else lows
    t = math.radians(gang.fence)
    holds = [Polygon(k["corners"]) for k in gang.setup["keep_out"] if k["what"] == "hold"]
    for kept in gang.setup["keep_out"]:
        shape, top = Polygon(kept["corners"]), kept["top"]
        if top not in lows:
            lows[top] = low_sweep(gang.program, gang.radius, top)
        low = lows[top]
        least = CLEAR if kept["what"] == "hold" else 0.5
        if shape.distance(low) < least - 2e-3:
            found.append(f"a {kept['what']} {shape.distance(low):.3f} from where the cutter goes")
    asides = sorted((aside(h, t) for h in holds), key=lambda a: a[0])
    ys = [y for r in gang.setup["rails"] for y in (r["min"][1], r["max"][1])]
    for hold in holds:
        _, y0, _, y1 = hold.bounds
        if y0 > min(ys) + 1e-4 or y1 < max(ys) - 1e-4:
            found.append("a hold that does not reach over both rails")
    slots = sorted(along_x(gang, n[0]) * math.sin(t) for n in bench.own_notches(gang))
    middles = [(a + b) / 2 for a, b in asides]
    if not middles or middles[0] > slots[0] or middles[-1] < slots[-1]:
        found.append("no hold in the lead, or none in the tail")
    counts = [sum(m < s for s in slots) for m in middles]
    for before, after in zip(counts, counts[1:]):
        if abs(after - before) > 2:
            found.append("more than two slots between two holds")
    for middle, count in zip(middles, counts):
        k = len(slots) - count
        if 0 < k < len(slots) and abs(middle - (slots[k - 1] + slots[k]) / 2) > 0.01:
            found.append("a hold that is not in the middle of its room")
    return found


def along_x(gang, at):
    """Where the slot of a notch crosses the rail's face: through (x, 0), along the fence."""
    x, y = bench.Gang.datum(gang, 0)
    return x + at - y / math.tan(math.radians(gang.fence))


def aside(hold, t):
    """(least, greatest) of a bar across the slots, from the zero; its long edges run along them."""
    values = sorted(x * math.sin(t) - y * math.cos(t) for x, y in list(hold.exterior.coords)[:-1])
    assert len(values) == 4 and values[1] - values[0] < 1e-3 and values[3] - values[2] < 1e-3, "a bar along the slots"
    return values[0], values[3]


def low_sweep(program, radius, top):
    """What the cutter passes over with its tip lower than this, quick moves included."""
    lines = []
    for m in program.moves:
        if None in m.start or None in m.end or min(m.start[2], m.end[2]) >= top:
            continue
        lines.append(LineString([m.start[:2], m.end[:2]]) if m.start[:2] != m.end[:2] else None)
    lines = [line for line in lines if line is not None]
    return unary_union([line.buffer(radius, quad_segs=64) for line in lines])


def read(folder):
    """The bench of a job folder."""
    job = summary(folder)
    files = sources(folder)
    names = {s["file"] for s in job["setups"]} | {s["air_run"] for s in job["setups"] if s.get("air_run")}
    # The program that planes the board belongs to no setup.
    names |= {f["path"] for f in job["files"] if BED.fullmatch(f["path"]) or BED_AIR.fullmatch(f["path"])}
    texts = {name: (folder / name).read_text() for name in names}
    return Bench(job, files["machine"], files["panel"], texts)


def spoilt(one, **more):
    """A copy of a bench that can be changed."""
    return replace(one, job=copy.deepcopy(one.job), texts=dict(one.texts), **more)
