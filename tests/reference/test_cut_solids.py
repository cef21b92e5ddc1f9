"""Members of edge-up panels as solids (manifold3d), built from what the programs cut and from nothing else.

A stick is a bar of its face and depth, its datum end as `ends` has it. From it goes what the tool sweeps in each
clamping, from the moves of the program, read by rs274.py and carried to the stick by gangs.py: never the
notches of job.json. It is cross-cut at `cut`, each piece is turned as its class and its member are, laid into
the panel from `start` to `end`, and cut off along the outline that ground.py works out.

Members of flat panels likewise: each is what falls out of the sheet, as sweeps.py finds it, as thick as the
sheet.

manifold3d: boolean operations on closed triangle meshes in double precision. Depths are such that floors
have more decimals than programs write.
"""

import functools
import itertools
import math

import pytest
from manifold3d import CrossSection, Manifold
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

import bars
import gangs as bench
import ground as reference
import odd
import sticks as rules
import sweeps
from workshop import make, sizes, summary, write_job

# Two solids share this much (mm3) by round-off of the mesh alone.
SPECK = 1e-6
WIDER = 0.01
# Slots run on straight past the outermost sticks by more than this (mm).
MARGIN = 0.2
# Joints that the outline leaves less of than this in plan (mm2) are looked at by no count.
LEAST = 0.5


def three_way(folder):
    """The check panel, smaller."""
    return write_job(folder, "check", panel={"ground.columns": 3, "ground.rows": 2})


def odd_three_way(folder):
    """Three faces; depth 13.2, so that sixths of it have one decimal."""
    return odd.odd_edge_up(folder, **{"ground.depth": 13.2, "ground.columns": 3})


def eight_point(folder):
    """Four faces, four bars to a joint; depth 17.3, so that eighths of it have four decimals."""
    return odd.odd_eight_point(folder, **{"ground.depth": 17.3})


def eight_point_inch(folder):
    """The same from a program in inches, whose last decimal is 0.00254 mm."""
    return odd.odd_eight_point(folder, post_processor={"": "router-inch"})


PANELS = {
    "three-way": three_way, "odd-three-way": odd_three_way, "eight-point": eight_point,
    "eight-point-inch": eight_point_inch,
}  # fmt: skip


class Cut:
    """A job, with what its programs remove from every stick."""

    def __init__(self, path, folder, sign=1):
        panel, material = sizes(path)
        self.job = summary(folder)
        self.depth = self.job["panel"]["depth"]
        self.clearance = panel["cut"]["clearance"]
        self.outline = reference.Ground(panel, material).outline
        self.members = self.job["members"]
        self.gangs = [(g, g.levels()) for g in bench.gangs(folder, sign)]
        self.prisms = {}
        for stick in self.job["sticks"]:
            self.prisms[stick["id"]] = list(self.prisms_of(stick))

    def prisms_of(self, stick):
        """What is cut from a stick: prisms in its own frame, seen from the front, as the tool goes on past
        both sides of it."""
        for gang, levels in self.gangs:
            if gang.stick["class"] != stick["class"]:
                continue
            place = next(p for p in gang.setup["placements"] if p["id"] == stick["id"])
            seat = round(gang.side * place["to_setup"][1][3] / gang.face - 0.5)
            x, y = gang.datum(seat)
            wide = gang.strip(seat).buffer(MARGIN, join_style="mitre")
            tops = [z for z, _ in levels[1:]] + [self.depth + 1]
            for (bottom, region), top in zip(levels, tops):
                parts = bench.polygons(region.intersection(wide))
                assert not any(p.interiors for p in parts)
                rings = [list(orient(p).exterior.coords)[:-1] for p in parts]
                flat = CrossSection(rings).translate([-x, -y])
                # A little higher than its band, so that no skin is left between two bands.
                prism = flat.extrude(min(top + 1e-7, self.depth + 1) - bottom).translate([0, 0, bottom])
                if gang.edge == "back":
                    prism = prism.rotate([180, 0, 0]).translate([0, 0, self.depth])
                yield prism

    def stick(self, stick, face):
        """A cut stick of this face."""
        half = face / 2
        point = 0.0
        if stick["ends"][0]["shape"] == "point":
            point = half / math.tan(math.radians(stick["ends"][0]["angle"]))
        long = stick["length"]
        corners = [(0, 0), (point, -half), (long, -half), (long, half), (point, half)]
        solid = CrossSection([corners]).extrude(self.depth)
        for prism in self.prisms[stick["id"]]:
            solid = solid - prism
        return solid

    @functools.cached_property
    def exact(self):
        return self.finished()

    def finished(self, wider=0.0):
        """Every member of a panel, its bars so much wider than their faces, trimmed to the outline."""
        cut = {s["id"]: self.stick(s, s["face"] + wider) for s in self.job["sticks"]}
        outline = self.panel().translate([0, 0, -1])
        found = {}
        for member in self.members:
            stick, piece = next(
                (s, p) for s in self.job["sticks"] for p in s["pieces"] if p["class"] == member["class"]
            )
            found[member["id"]] = self.placed(cut[stick["id"]], piece, member) ^ outline
            assert found[member["id"]].volume() > 0
        return found

    def panel(self):
        """All within the outline, higher than the panel by 2."""
        ring = list(orient(self.outline).exterior.coords)[:-1]
        return CrossSection([ring]).extrude(self.depth + 2)

    def placed(self, stick, piece, member):
        """A piece cut from its stick, turned, and laid into the panel."""
        low, high = piece["cut"]
        wide = 4 * member["face"]
        window = Manifold.cube([high - low, wide, self.depth + 2]).translate([low, -wide / 2, -1])
        solid = (stick ^ window).translate([-low, 0, 0])
        over, end = rules.both_turns(member["turn"], piece["turn"])
        if over:
            solid = solid.rotate([180, 0, 0]).translate([0, 0, self.depth])
        if end:
            solid = solid.rotate([0, 0, 180]).translate([high - low, 0, 0])
        (x0, y0), (x1, y1) = member["start"], member["end"]
        turn = math.degrees(math.atan2(y1 - y0, x1 - x0))
        return solid.translate([member["from"], 0, 0]).rotate([0, 0, turn]).translate([x0, y0, 0])

    def joints(self, wider):
        """Pairs of members whose plan shapes cross within the outline."""
        def band(member):
            (x0, y0), (x1, y1) = member["start"], member["end"]
            long = math.dist((x0, y0), (x1, y1))
            ux, uy, half = (x1 - x0) / long, (y1 - y0) / long, (member["face"] + wider) / 2
            ends = [(x0 + ux * s, y0 + uy * s) for s in (member["from"], member["to"])]
            (ax, ay), (bx, by) = ends
            return Polygon([(ax + uy * half, ay - ux * half), (bx + uy * half, by - ux * half),
                            (bx - uy * half, by + ux * half), (ax - uy * half, ay + ux * half)])  # fmt: skip

        bands = {m["id"]: band(m).intersection(self.outline) for m in self.members}
        pairs = itertools.combinations(sorted(bands), 2)
        return [(a, b) for a, b in pairs if bands[a].intersection(bands[b]).area > LEAST]


@pytest.fixture(scope="module", params=PANELS)
def cut(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp(request.param)
    path = PANELS[request.param](folder / "in")
    return Cut(path, make(path, folder / "out"))


def test_a_wrong_stagger_does_not_go_together(tmp_path):
    """The test below can fail: sticks that are read off the gang with the stagger the other way round."""
    path = three_way(tmp_path / "in")
    wrong = Cut(path, make(path, tmp_path / "out"), sign=-1)
    assert max(shared(wrong.exact).values()) > 10


def shared(solids, pairs=None):
    """Volume of every pair of solids that are near each other, mm3."""
    names = sorted(solids)
    pairs = pairs or [(a, b) for i, a in enumerate(names) for b in names[i + 1 :]]
    near = [p for p in pairs if bars.near(solids[p[0]], solids[p[1]])]
    return {p: bars.common(solids[p[0]], solids[p[1]]) for p in near}


def test_members_as_cut_share_no_space(cut):
    found = shared(cut.exact)
    assert len(found) >= len(cut.joints(0.0)) > 10
    assert max(found.values()) < SPECK


def test_members_as_cut_are_members(cut):
    """What is built is a panel's: each solid has the volume of the bar of job.json, cut off along the outline;
    the orientation mark is trimmed away."""
    for member in cut.members:
        solid = cut.exact[member["id"]]
        drawn = bars.bar_solid(member, cut.depth, member["face"], grown=0.0) ^ cut.panel()
        walls = len(member["joints"]) * 2 * member["face"] * cut.depth
        # Each wall within 0.001 of where it is drawn, as programs step.
        assert (solid - drawn).volume() + (drawn - solid).volume() < 1e-3 * walls * 2, member["id"]


def test_bars_that_just_fill_their_notches_go_in(cut):
    """Sticks of face + clearance - 0.01, with the slots as they are cut: nothing collides."""
    found = shared(cut.finished(cut.clearance - WIDER))
    assert found and max(found.values()) < SPECK


def test_bars_wider_than_their_notches_collide_in_every_joint(cut):
    """Sticks of face + clearance + 0.01, with the slots as they are cut: each joint within the outline
    collides, by about 0.005 at each wall that no other notch takes away."""
    wider = cut.clearance + WIDER
    joints = cut.joints(wider)
    found = shared(cut.finished(wider), joints)
    free = [pair for pair in joints if found.get(pair, 0) < 1e-4]
    assert not free and len(joints) > 10


@pytest.mark.parametrize("dialect", ["laser-mm", "laser-inch"])
def test_members_cut_flat_share_no_space(dialect, tmp_path):
    """An eight-point panel in card; depth 17.3, walls further apart than the beam's rounds reach."""
    panel = {
        "ground": {"layout": "eight-point", "depth": 17.3, "pitch": 61.7, "columns": 2, "rows": 2, "face": 1.5},
        "outline": {**dict.fromkeys(("left", "right", "bottom", "top"), {"clear": 11.3}), "overhang": 8},
        "cut.clearance": 0.16,
    }  # fmt: skip
    material = {"least_section": 0.5, "least_web": 0, "laser.kerf": 0.15}
    path = write_job(
        tmp_path / "in", "three-way-card", panel=panel, material=material, machine=odd.BED, stock=odd.SHEET,
        post_processor={"": dialect},
    )  # fmt: skip
    folder = make(path, tmp_path / "out")
    found = shared(fallen_out(folder, 0.15 / 2))
    assert len(found) > 60 and max(found.values()) < SPECK


def fallen_out(folder, radius):
    """Every member as it falls out of its sheet, laid into the panel."""
    job = summary(folder)
    members = {m["id"]: m for m in job["members"]}
    found = {}
    for sheet in sweeps.sheets(folder):
        left = sheet.sheet.difference(sweeps.swept(sheet.paths, radius))
        for piece in sheet.pieces:
            member = members[piece.id]
            loose = orient(sweeps.judge(piece, left, radius).loose)
            ring = [(x - piece.x, z - piece.y) for x, z in list(loose.exterior.coords)[:-1]]
            solid = CrossSection([ring]).extrude(sheet.face).rotate([90, 0, 0])
            solid = solid.translate([0, sheet.face / 2, 0])
            if member["turn"] in ("over", "both"):
                solid = solid.rotate([180, 0, 0]).translate([0, 0, sheet.depth])
            if member["turn"] in ("end", "both"):
                solid = solid.rotate([0, 0, 180]).translate([member["length"], 0, 0])
            (x0, y0), (x1, y1) = member["start"], member["end"]
            turn = math.degrees(math.atan2(y1 - y0, x1 - x0))
            solid = solid.translate([member["from"], 0, 0]).rotate([0, 0, turn])
            found[piece.id] = solid.translate([x0, y0, 0])
    assert set(found) == set(members)
    return found
