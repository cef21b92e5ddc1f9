"""The jobs that are attacked: every kind of program and drawing, in every dialect, at odd values."""

from __future__ import annotations

import pathlib
from dataclasses import dataclass
from decimal import Decimal

import odd
import test_infill
import test_joined
from judge import Bench
from workshop import ROOT, call, fixture_path, make, said, sources, summary, write_job

BOTH = {"cut.dxf_version": "both", "cut.dxf_files": "both"}
SMALL = {"ground.columns": 2, "ground.rows": 2}


def post(name):
    """A whole other dialect for write_job."""
    return {"post_processor": {"": name}}


def joined(folder, panel, dialect, **more):
    """Pieces too short to hold, cut joined end to end."""
    machine = {"router.hold_length": 200.0, "router.saw_kerf": 1.0, "router.tool.diameter": 3.0}
    panel = {**test_joined.PANELS[panel], **more}
    return write_job(folder, "router-square", panel=panel, machine=machine, **post(dialect))


def redialected(path, dialect):
    """The same panel file with another of the post-processor fixtures beside it."""
    (path.parent / "post_processor.toml").write_text(fixture_path("post_processor", dialect).read_text())
    return path


def coupon(folder, base, kind, **more):
    """A coupon's folder in place of a panel's."""
    path = write_job(folder / "in", base, **more)
    done = call("coupon", path, "--kind", kind, "--out", folder / "out")
    assert done.returncode == 0, said(done)
    return folder / "out"


def made(writer):
    return lambda folder: make(writer(folder / "in"), folder / "out")


# What the last pass of a datum takes off both faces (mm): 0.15 is left to it.
FINISH = 0.16
BED = {"sticks.bed": 0.3}
# name: folder -> folder of a job
JOBS = {
    "laser": made(lambda f: write_job(f, "plain-window", panel={**BOTH, "ground.columns": 3, "ground.rows": 3})),
    "laser-inch": made(lambda f: redialected(odd.odd_square(f, **BOTH), "laser-inch")),
    "laser-lines": made(lambda f: redialected(odd.odd_three_way(f, **SMALL), "laser-lines-mm")),
    "laser-follow": made(lambda f: write_job(f, "three-way-card", panel=BOTH, **post("laser-follow-mm"))),
    "laser-infill": made(test_infill.outlines),
    "router": made(lambda f: write_job(
        f, "router-square", panel={**BOTH, **SMALL, "cut.relief": "corner"}, machine={"router.tool.diameter": 2.4})),
    "router-odd-inch": made(lambda f: redialected(odd.odd_router(f, **SMALL, **BOTH), "router-inch")),
    "router-joined": made(lambda f: joined(f, "run out", "router-numbered-mm", **BOTH)),
    "router-joined-lines": made(lambda f: joined(f, "clear", "router-lines-inch")),
    "router-infill": made(test_infill.routed_outlines),
    "router-pause": made(lambda f: write_job(f, "router-square", panel=SMALL, **post("router-pause-mm"))),
    "gang": made(lambda f: write_job(f, "check")),
    "gang-bed-inch": made(lambda f: redialected(odd.odd_two_faces(f, **BED), "router-inch")),
    "gang-lines": made(lambda f: redialected(odd.odd_diamond(f), "router-lines-inch")),
    "gang-numbered": made(lambda f: redialected(odd.odd_untrimmed(f), "router-numbered-mm")),
    "gang-change": made(lambda f: write_job(f, "check", panel=BED, **post("router-toolchange-mm"))),
    "coupon-laser": lambda f: coupon(f, "plain-window", "kerf"),
    "coupon-router": lambda f: coupon(f, "router-square", "fit", **post("router-toolchange-mm")),
    "coupon-gang": lambda f: coupon(f, "check", "fit"),
}  # fmt: skip


@dataclass
class CutFile:
    """A file of a job that a machine reads, with what bounds it; `kind` for the table."""

    job: str
    folder: pathlib.Path
    name: str
    kind: str
    bench: Bench | None  # None of a DXF file

    @property
    def text(self):
        """A character for each byte."""
        return (self.folder / self.name).read_bytes().decode("latin-1")


def cut_files(job, folder):
    """Every program, air run and drawing of a job."""
    found = []
    for setup in summary(folder)["setups"]:
        found += [
            CutFile(job, folder, setup["file"], setup["kind"], bench(folder, setup, False)),
            CutFile(job, folder, setup["air_run"], "air-run", bench(folder, setup, True)),
        ]
    for path in sorted((folder / "dxf").glob("*.dxf")):
        release = "dxf-R12" if path.name.endswith("-r12.dxf") else "dxf-R2000"
        found.append(CutFile(job, folder, f"dxf/{path.name}", release, None))
    return found


def bench(folder, setup, air_run):
    """What bounds a program, from the files that the job was made from."""
    files = sources(folder, setup["material"])
    machine, dialect = files["machine"], files["post_processor"]
    number = dialect["number"]
    laser = dialect["drives"] == "laser"
    low, high = setup["path"]["min"], setup["path"]["max"]
    if air_run:
        # Once round the box, and home to zero; a cutter at the safe height alone.
        low, high = [min(v, 0.0) for v in low], [max(v, 0.0) for v in high]
    return Bench(
        laser=laser,
        air_run=air_run,
        radius=(setup["kerf"] if laser else setup["tool_diameter"]) / 2,
        low=low,
        high=high,
        top=setup["stock"]["max"][2],
        travel=machine["travel"],
        safe_z=None if laser else high[2],
        pass_depth=None if laser else files["material"]["router"]["pass_depth"],
        finish=FINISH if setup["kind"] == "datum" else 0.0,
        feeds=machine["feed"],
        semicolon=dialect["gcode"].get("remarks") == "semicolon",
        numbered="line_numbers" in dialect,
        line_limit=dialect["gcode"].get("line_limit", 256),
        step=Decimal(1).scaleb(-number["decimals"]),
        unit=25.4 if number.get("unit") == "inch" else 1.0,
    )


def build(names, folder):
    """{name: folder} of these jobs, made anew."""
    return {name: JOBS[name](folder / name) for name in names}


__all__ = ["JOBS", "ROOT", "CutFile", "build", "cut_files"]
