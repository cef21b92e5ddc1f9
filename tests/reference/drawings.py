"""DXF files as ezdxf reads them, with what job.json, the dialect's file and dxf/notes.txt say about them."""

import math
import re
from pathlib import Path

import ezdxf
from ezdxf import path as ezpath
from shapely.affinity import translate

from views import cut_pieces, pieces_of
from workshop import flat_runs, millimetres, sources, summary

# Corners are written at 1e-6 mm, so an area may be off by that times the outline.
ROUNDING = 1e-6


class Contour:
    """An LWPOLYLINE of R2000, or a POLYLINE of R12 with its vertices."""

    def __init__(self, entity):
        self.dxf = entity.dxf
        self.path = ezpath.make_path(entity)
        if entity.dxftype() == "POLYLINE":
            assert entity.is_2d_polyline and entity.dxf.elevation == (0, 0, 0)
            assert all(v.dxf.layer == entity.dxf.layer for v in entity.vertices)
            assert all(v.dxf.location.z == 0 for v in entity.vertices)
            self.closed = entity.is_closed
            self.points = [(*v.dxf.location.vec2, v.dxf.bulge) for v in entity.vertices]
        else:
            self.closed = entity.closed
            self.points = list(entity.get_points("xyb"))

    def length(self):
        """Lines, and arcs of the sweep 4 atan b on a chord 2 r sin(sweep / 2)."""
        total = 0.0
        ends = self.points[1:] + self.points[: 1 if self.closed else 0]
        for (x0, y0, bulge), (x1, y1, _) in zip(self.points, ends):
            chord, sweep = math.hypot(x1 - x0, y1 - y0), 4 * math.atan(abs(bulge))
            total += chord * sweep / (2 * math.sin(sweep / 2)) if bulge else chord
        return total


def told_of(folder):
    """What dxf/notes.txt says below the name of each file: {name: {word: value}}."""
    text = (folder / "dxf" / "notes.txt").read_text(encoding="utf-8")
    blocks = re.findall(r"^  dxf/(\S+)\n((?:    .+\n)+)", text, re.M)
    return {name: dict(re.findall(r"^    (\S+(?: \S+)?) {2,}(.+)$", block, re.M)) for name, block in blocks}


class Drawing:
    """One DXF file of a job, of a sheet or of one piece, and what job.json, the dialect's file and notes.txt say
    about it."""

    def __init__(self, folder, file):
        self.job = summary(folder)
        files = sources(folder)
        self.depth = millimetres(files["panel"]["ground"]["depth"])
        self.style = {kind: layer["name"] for kind, layer in files["post_processor"]["dxf"].items()}
        self.file = file
        self.doc = ezdxf.readfile(file)
        self.space = self.doc.modelspace()
        self.texts = list(self.space.query("TEXT"))
        self.old = file.name.endswith("-mm-r12.dxf")
        self.beside = "-never-cut" in file.name
        self.contours = [Contour(e) for e in self.space.query("LWPOLYLINE POLYLINE")]
        self.notes = [t for t in self.texts if t.dxf.layer == self.style["note"]]
        self.said = " ".join(t.dxf.text for t in self.notes)
        self.members = cut_pieces(self.job)
        self.told = told_of(folder)[file.name]
        self.alone = None
        piece = re.search(r"piece-(\w+)-(?:drawn|kerf|tool)-", file.name)
        if piece:
            self.alone = piece.group(1)
            what = re.fullmatch(r"piece (\w+), (.+) mm", self.told["what"])
            assert what.group(1) == self.alone
            self.measures = [float(n) for n in what.group(2).split(" x ")]
            self.count = None if self.beside else int(self.told["to cut"].removesuffix(" in all"))
            runs = flat_runs(self.job)
            self.setup, self.strip = next(r for r in runs if any(self.own(p) for p in r[1]["pieces"]))
        else:
            flat = [s for s in self.job["setups"] if s["kind"].startswith("flat")]
            self.setup = only(s for s in flat if file.name.startswith(f"{Path(s['file']).stem}-"))
            self.strip = next(strip for setup, strip in flat_runs(self.job) if setup is self.setup)
            if self.said:
                pattern = r"(?:Infill(?: \d+)?, s|S)heets? (\d+)( to (\d+), cut (\d+) times, a new sheet each)?: "
                told = re.match(pattern, self.said)
                first = int(told.group(1))
                assert Path(self.setup["file"]).stem.endswith(f"-{first:02}")
                last, loads = (int(n) for n in told.group(3, 4)) if told.group(2) else (first, 1)
                assert (last - first + 1, loads) == (self.setup["loads"],) * 2
        self.size = f"Size: {self.told['size']}"
        self.drawn = self.size.startswith("Size: drawn")
        assert self.drawn == ("-drawn-size" in file.name)
        self.never_cut = {self.style[kind] for kind in ("label", "note", "stock")}
        low, high = self.setup["stock"]["min"], self.setup["stock"]["max"]
        self.face = high[2] - low[2]

    def own(self, placed):
        return self.members[placed["id"]]["class"] == self.alone

    def cut(self):
        return [c for c in self.contours if c.dxf.layer not in self.never_cut]

    def outlines(self):
        return [c for c in self.cut() if c.closed]

    def pieces(self):
        """(id, finished outline as it stands in the file) of every piece that is shown."""
        pieces = pieces_of(self.job, self.strip, self.depth, self.face)
        for piece, placed in zip(pieces, self.strip["pieces"]):
            assert piece.id == placed["id"]
            if self.alone is None:
                yield piece.id, piece.shape
            elif self.own(placed):
                yield piece.id, translate(piece.shape, -placed["x"], -placed["y"])
                return


def only(found):
    found = [f for f in found if f]
    assert len(found) == 1, found
    return found[0]


def flattened(contour, distance=1e-5):
    # The last point of an arc misses the corner by the last bits of a float; near the origin those are
    # many, and a ring would cross itself there.
    return [(round(p.x, 9), round(p.y, 9)) for p in contour.path.flattening(distance)]


def reach_of(path):
    """Corners of a contour's bounding box; arcs by ezdxf's own."""
    box_of = ezpath.bbox([path])
    return (*box_of.extmin.vec2, *box_of.extmax.vec2)
