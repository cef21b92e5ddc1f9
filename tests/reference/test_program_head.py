"""What the head of each program says, against job.json and the files that the job was made from.

Remarks are read by the project's own reader of RS274/NGC (rs274.py, after NISTIR 6556); sums and products are worked out
here.
"""

from __future__ import annotations

import math
import re
import tomllib

import pytest
import rs274
from workshop import ROOT, make, sources, summary, write_job

VERSION = tomllib.loads((ROOT / "Cargo.toml").read_text())["package"]["version"]
HELD = re.compile(r"[A-Za-z0-9 .,\-+=/]*")
JOBS = {
    "laser": ("plain-window", {}),
    "laser-inch": ("plain-window", {"post_processor": {"": "laser-inch"}}),
    "laser-follow": ("plain-window", {"post_processor": {"": "laser-follow-mm"}}),
    "router": ("router-square", {}),
    "router-lines": ("router-square", {"post_processor": {"": "router-lines-inch"}}),
    "gang": ("three-way-hardwood", {"panel": {"sticks.bed": 0.3}}),
    "infill": ("hemp-leaf-outlines", {}),
}


@pytest.fixture(scope="module", params=JOBS)
def job(request, tmp_path_factory):
    base, changes = JOBS[request.param]
    folder = tmp_path_factory.mktemp(request.param)
    if base == "hemp-leaf-outlines":
        panel = ROOT / "fixtures" / "panels" / f"{base}.toml"
    else:
        panel = write_job(folder / "in", base, **changes)
    return make(panel, folder / "out")


def remarks(folder, path):
    """The remarks before the first move, as one text: one may be broken between words."""
    dialect = sources(folder)["post_processor"]
    semicolon = dialect["gcode"].get("remarks") == "semicolon"
    text = (folder / path).read_text()
    found = re.findall(r";(.*)" if semicolon else r"\((.*?)\)", text)
    assert all(HELD.fullmatch(r) and not r.strip().upper().startswith("MSG") for r in found), path
    return " ".join(" ".join(found).split())


def number(value):
    return f"{round(value, 6):g}"


def test_every_head_says_what_it_is(job):
    told, files = summary(job), sources(job)
    inch = files["post_processor"].get("number", {}).get("unit") == "inch"
    programs = [f["path"] for f in told["files"] if f["path"].endswith(".nc")]
    assert programs
    for path in programs:
        head = remarks(job, path)
        assert f"made by lapwright {VERSION}, lengths in {'inches, G20' if inch else 'millimetres, G21'}" in head, path


def test_every_head_tells_time_and_loads(job):
    for setup in summary(job)["setups"]:
        head = remarks(job, setup["file"])
        often = "run once" if setup["loads"] == 1 else f"{setup['loads']} loads"
        assert f"about {max(1, math.ceil(setup['minutes']))} min a run, {often}" in head, setup["file"]


def test_every_head_tells_its_stock_and_the_scale_of_s(job):
    told, files = summary(job), sources(job)
    laser = files["machine"].get("laser")
    for setup in told["setups"]:
        head = remarks(job, setup["file"])
        low, high = setup["stock"]["min"], setup["stock"]["max"]
        sizes = [number(b - a) for a, b in zip(low, high, strict=True)]
        if setup["kind"].startswith("flat"):
            assert " x ".join(sizes) + " mm" in head, (setup["file"], sizes)
        elif setup["kind"] == "edge-up":
            stick = next(s for s in told["sticks"] if s["id"] == setup["placements"][0]["id"])
            assert re.search(rf"sticks of {number(stick['length'])} x [\d.]+ x [\d.]+ mm", head), setup["file"]
        if laser is None:
            assert "S is the speed of the spindle in revolutions a minute" in head
            continue
        full = laser["full_power_word"]
        said = re.search(r"S([\d.]+) is ([\d.]+) percent of full power - this file assumes S([\d.]+)", head)
        word, percent, scale = (float(said[k]) for k in (1, 2, 3))
        assert scale == full
        assert word == pytest.approx(percent / 100 * full, abs=1e-6)
        written = {float(w) for w in re.findall(r"M[34] S([\d.]+)", (job / setup["file"]).read_text())}
        assert written == {word}, "the words that stand are those that the head explains"


def test_heads_are_read_as_remarks_alone(job):
    for setup in summary(job)["setups"]:
        text = (job / setup["file"]).read_text()
        semicolon = sources(job)["post_processor"]["gcode"].get("remarks") == "semicolon"
        assert rs274.read(text, **({"semicolon": True} if semicolon else {}))
