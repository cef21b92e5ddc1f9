"""Square-walled notches for skew bars, cut flat: the least run that lets the bar in, and what stays open.

The design's formulas, (face' + c + face |cos t|) / sin t and face |cot t|, against plan shapes in shapely.
"""

import math

import pytest
from shapely import affinity
from shapely.geometry import box

from workshop import call, check, make, said, summary, write_job

# Bars of a diamond ground rise and fall by half the angle at which they cross.
CROSSINGS = [30, 45, 60, 75, 90, 105, 120, 150]
FACE, FAR = 1.5, 1e3


def diamond(folder, crossing, clearance, **more):
    panel = {
        "ground": {
            "layout": "diamond", "face": FACE, "depth": 9, "pitch": 31.3, "angle": crossing / 2,
            "columns": 4, "rows": 4,
        },
        "outline": dict.fromkeys(("left", "right", "bottom", "top"), "centres"),
        "outline.overhang": 9,
        "cut.clearance": clearance,
    }  # fmt: skip
    material = {"thickness": FACE, "least_web": 0.5, **more}
    return write_job(folder, "three-way-card", panel=panel, material=material)


def bar(width):
    """The plan of a bar along x, long enough for every crossing."""
    return box(-FAR, -width / 2, FAR, width / 2)


@pytest.mark.parametrize("clearance", [0.0, 0.05])
@pytest.mark.parametrize("crossing", CROSSINGS)
def test_the_least_square_walled_run(crossing, clearance, tmp_path):
    job = check(diamond(tmp_path, crossing, clearance))
    looked = 0
    for member in job["members"]:
        for joint in member["joints"]:
            assert joint["angle"] % 180 in (
                pytest.approx(crossing, abs=1e-5), pytest.approx(180 - crossing, abs=1e-5),
            )  # fmt: skip
            own, other = bar(FACE), affinity.rotate(bar(joint["width"]), joint["angle"], (0, 0))
            x0, _, x1, _ = own.intersection(other).bounds
            assert joint["run"] == pytest.approx(x1 - x0, abs=2e-6)
            assert joint["width"] == pytest.approx(FACE + clearance, abs=2e-6)
            looked += joint["with"] is not None
    assert looked >= 8


@pytest.mark.parametrize("clearance", [0.0, 0.05])
@pytest.mark.parametrize("crossing", CROSSINGS)
def test_openings_beside_the_bar(crossing, clearance, tmp_path):
    """What the notch of a tight joint leaves open: two triangles; and the greatest distance, along the
    bar, from a wall to the bar that fills the notch."""
    path = diamond(tmp_path / "in", crossing, clearance)
    job = summary(make(path, tmp_path / "out"))
    joint = job["members"][0]["joints"][0]
    x0, x1 = -joint["run"] / 2, joint["run"] / 2
    other = affinity.rotate(bar(FACE), joint["angle"], (0, 0))
    notch = box(x0, -FACE / 2, x1, FACE / 2)
    open_ = notch.difference(other)
    parts = [part for part in getattr(open_, "geoms", [open_]) if part.area > 1e-9]
    legs = [part.bounds[2] - part.bounds[0] for part in parts]
    play = clearance / 2 / math.sin(math.radians(joint["angle"]))
    if crossing != 90 or clearance:
        assert len(legs) == 2 and legs == pytest.approx([legs[0]] * 2)
    leg = max(legs, default=0.0)
    # The beam's edge, judged to 0.005 a wall.
    assert job["dry_fit"]["largest_gap_mm"] == pytest.approx(leg, abs=0.01)
    openings = [c for c in job["checks"] if c["id"] == "opening"]
    assert openings and all(c["value"] == pytest.approx(leg - play, abs=2e-6) for c in openings)


@pytest.mark.parametrize("crossing", [30, 75, 90])
def test_openings_are_refused_where_they_would_show(crossing, tmp_path):
    done = call("check", diamond(tmp_path, crossing, 0.0, tight_joints=True))
    right = 0 if crossing == 90 else 1
    assert done.returncode == right, said(done)
    assert ("opening" in done.stderr) == bool(right), said(done)
