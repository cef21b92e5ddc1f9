"""What the programs of edge-up cutting remove from each stick of a gang.

The way from a setup to its sticks is worked out here from the fence's direction, the edge that is up, the
face and the place in the gang (the project's design, section 3: stick i has its datum end at x = (i + 1/2)
face cot t + offset, y = (i + 1/2) face; each stick is turned over by itself, its datum end back at the
fence), never from `to_setup` or from the program's own shapes. Moves are read by rs274.py and swept with
shapely.
"""

import math
from dataclasses import dataclass

from shapely import affinity
from shapely.geometry import Polygon, box

import rs274
import sticks as rules
from sweeps import paths, swept
from workshop import summary

# The orientation mark's depth (mm).
MARK = 0.5


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
    def seats(self):
        """Sticks that lie side by side."""
        count = self.setup["stock"]["max"][1] / self.face
        assert abs(count - round(count)) < 1e-4
        return round(count)

    @property
    def offset(self):
        """How far a datum end lies from the fence along its centre line: none with a point, which lies on
        the fence; a square end touches with one corner."""
        if self.stick["ends"][0]["shape"] == "point":
            return 0.0
        return self.face / 2 * abs(1 / math.tan(math.radians(self.fence)))

    def datum(self, i):
        """The datum end of stick i on its centre line."""
        y = (i + 0.5) * self.face
        return self.sign * y / math.tan(math.radians(self.fence)) + self.offset, y

    def carried(self, i, point):
        """A point of stick i's own frame in the setup: turned over about its long axis, back edge up."""
        x, y, z = point
        x0, y0 = self.datum(i)
        if self.edge == "back":
            y, z = -y, self.depth - z
        return x0 + x, y0 + y, z

    def strip(self, i):
        """Stick i as seen from above, its datum end square."""
        x, y = self.datum(i)
        half = self.face / 2
        return box(x, y - half, x + self.stick["length"], y + half)

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
