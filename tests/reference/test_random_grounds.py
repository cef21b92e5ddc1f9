"""Every layout under random outlines (from fixed seeds), edge-up and flat, with one face or a face for each family:
accepted ones agree with ground.py, go together as solids and, cut flat, are made and proved; refused ones get a
reason, never a fault of the program itself."""

import json
import math
import os
import random

import pytest

import bars
import ground as reference
import test_lattice as lattice
from layouts import NAMES
from workshop import call, measured, roomy, said, sizes, write_job

# Thirteen of each layout; of free ones, most of which make no panel, more. The later ones have joints whose notches
# reach wood that their bars' centre lines do not. More by hand: RANDOM_GROUNDS=1000.
SEEDS = [*range(int(os.environ.get("RANDOM_GROUNDS", "78")))]
SEEDS += [*range(83, 330, 6), 442, 1540, 1768, 2110, 2586]
# Six decimals, a few of them added up; and a press fit is told apart.
GROWN = 5e-6
COMPARISONS = [
    lattice.test_start_comes_before_end,
    lattice.test_mates_are_the_members_of_the_lines_that_cross,
    lattice.test_a_line_has_one_name,
    lattice.test_classes_are_the_same_pieces_under_rotation,
    lattice.test_turns_carry_the_class_to_its_members,
    lattice.test_order_runs_from_back_to_front,
]
LAYOUTS = [*NAMES, "free"]
SIDES = ("left", "right", "bottom", "top")


def ground_of(rnd, layout, face):
    """A [ground] table without its size, and about how far apart its joints lie."""
    pitch = round(rnd.uniform(12, 22) * face, 1)
    ground = {"layout": layout, "depth": round(rnd.uniform(2.5, 4.5) * face, 1), "face": face}
    if layout == "free":
        del ground["face"]
        count = rnd.randint(2, 5)
        turn = rnd.uniform(-90, 90)
        families = []
        for i in range(count):
            direction = round(turn + 180 * (i + rnd.uniform(-0.25, 0.25)) / count, 1)
            family = {"name": "pqrst"[i], "direction": (direction + 180) % 360 - 180, "face": face}
            if rnd.random() < 0.3:
                family["direction"] = rnd.choice([90, -90, 0, 180])
            if rnd.random() < 0.5:
                family["first"] = round(rnd.uniform(-50, 50), 1)
                family["pitch"] = round(pitch * rnd.uniform(1.5, 4), 1)
            else:
                place, family["offsets"] = -8 * pitch, []
                while place < 8 * pitch:
                    family["offsets"].append(round(place, 1))
                    place += pitch * rnd.uniform(1.5, 4)
            families.append(family)
        ranks = rnd.sample(range(1, count + 1), count)
        ground["family"] = [dict(f, rank=r) for f, r in zip(families, ranks)]
        return ground, pitch
    names = NAMES[layout]
    ground["ranks"] = dict(zip(names, rnd.sample(range(1, len(names) + 1), len(names))))
    if layout == "square":
        ground["pitch_across"], ground["pitch_up"] = pitch, round(rnd.uniform(8, 20) * face, 1)
    else:
        ground["pitch"] = pitch
    if layout == "diamond":
        ground["angle"] = round(rnd.uniform(20, 70), 1)
    if layout not in ("square", "eight-point"):
        ground["corner_joint"] = rnd.random() < 0.5
    return ground, pitch


def rule_of(rnd, pitch):
    clear = round(rnd.uniform(0.02, 0.9) * pitch, 2)
    return rnd.choice(["centres", "inner-edge", "inner-edge", {"clear": clear}])


def outline_of(rnd, ground, pitch):
    """An [outline] table; sizes a rectangle in the ground."""
    free = ground["layout"] == "free"
    if rnd.random() < 0.45:
        if free:
            ground["width"], ground["height"] = (round(rnd.uniform(2, 6) * pitch, 1) for _ in "xy")
        else:
            ground["columns"], ground["rows"] = rnd.randint(2, 6), rnd.randint(2, 6)
        return {side: rule_of(rnd, pitch) for side in SIDES}
    # Corners on an ellipse are convex; halves of steps are often joints, and then sides along bars.
    steps = not free and rnd.random() < 0.7
    wide, high = (rnd.uniform(3, 5), rnd.uniform(3, 5)) if steps else (
        3.5 * pitch * rnd.uniform(0.7, 1.4), 3.5 * pitch * rnd.uniform(0.7, 1.4))  # fmt: skip
    count = rnd.randint(3, 8)
    turn = rnd.uniform(0, 360)
    corners = []
    for i in range(count):
        a = math.radians(turn + 360 * (i + rnd.uniform(-0.25, 0.25)) / count)
        place = wide * (1 + math.cos(a)), high * (1 + math.sin(a))
        corners.append([round(2 * v) / 2 if steps else round(v, 2) for v in place])
    sides = []
    for x, y in corners:
        rule = rule_of(rnd, pitch)
        sides.append({"x": x, "y": y, **(rule if isinstance(rule, dict) else {"rule": rule})})
    return {"side": sides, "in_steps": steps}


def draw(rnd, layout):
    """(fixture, changes) of a panel."""
    flat = rnd.random() < 0.5
    face = round(rnd.uniform(1.2, 5), 2)
    ground, pitch = ground_of(rnd, layout, face)
    outline = outline_of(rnd, ground, pitch)
    outline["overhang"] = rnd.choice([0, 0, round(rnd.uniform(4, 20) * face, 1)])
    panel = {
        "ground": ground, "outline": outline, "sticks": None,
        "surround": rnd.choice([None, {"width": 7.5}]),
        "cut.clearance": rnd.choice([0, 0.05, 0.11, -0.02]), "cut.loose_joints": True,
    }  # fmt: skip
    material = {"least_web": 0, "least_section": 0.3, "press": 0.05}
    # Drawn last, so that the seeds above keep their outlines.
    panel["quantity"] = rnd.choice([1, 1, 3])
    if not flat:
        panel["cut.method"] = "edge-up"
        if rnd.random() < 0.5:
            for family in ground.get("family", []):
                family["face"] = round(face * rnd.uniform(0.7, 1.3), 2)
            if layout != "free":
                del ground["face"]
                ground["faces"] = {n: round(face * rnd.uniform(0.7, 1.3), 2) for n in NAMES[layout]}
        return "check", roomy(panel, material=material)
    material.update({"crush": 0.5, "thickness": [round(face - 0.03, 2), face]})
    large = {"blank": [{"name": "large", "length": 2500, "width": 1500}]}
    bed = {"travel": [3000, 3000]}
    return "three-way-card", dict(panel=panel, machine=bed, stock=large, material=material)


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory):
    """[(seed, panel file, run, folder of the job if it is cut flat)] of every panel."""
    folder = tmp_path_factory.mktemp("random")
    found = []
    for seed in SEEDS:
        layout = LAYOUTS[seed % len(LAYOUTS)]
        base, changes = draw(random.Random(1000 + seed), layout)
        path = write_job(folder / str(seed), base, **changes)
        if base == "check":
            found.append((seed, path, call("check", path, "--json"), None))
        else:
            out = folder / f"{seed}-out"
            found.append((seed, path, call("make", path, "--out", out, "--json"), out))
    return found


def test_every_ground_is_accepted_or_refused_with_a_reason(outcomes):
    accepted = {layout: 0 for layout in LAYOUTS}
    for seed, path, done, out in outcomes:
        accepted[LAYOUTS[seed % len(LAYOUTS)]] += done.returncode == 0
        assert done.returncode in (0, 1, 2), f"seed {seed}: {path} {said(done)}"
        for words in ("panicked", "fault of this program"):
            assert words not in done.stderr, f"seed {seed}: {path} {said(done)}"
        assert out is None or (done.returncode == 0) == out.exists(), f"seed {seed}: {said(done)}"
        if done.returncode == 1:
            # Of the checks: what is drawn may be too small to hold, never unsound in itself.
            assert "checks failed" in done.stderr, f"seed {seed}: {path} {said(done)}"
            for id in ("interference", "gap:", "replay", "proof"):
                assert id not in done.stderr, f"seed {seed}: {path} {said(done)}"
        if done.returncode == 2:
            assert "panel.toml:" in done.stderr and "help" in done.stderr, said(done)
    assert min(accepted.values()) >= 4 and sum(accepted.values()) > len(SEEDS) / 3, accepted


def test_what_is_made_proves(outcomes):
    proved = 0
    for seed, path, done, out in outcomes:
        if out and done.returncode == 0:
            again = call("prove", out)
            assert again.returncode == 0, f"seed {seed}: {path} {said(again)}"
            proved += 1
    assert proved > len(SEEDS) / 10


def test_accepted_grounds_agree_with_the_reference(outcomes):
    for seed, path, done, _ in outcomes:
        if done.returncode:
            continue
        job = json.loads(done.stdout)
        ground = reference.Ground(*sizes(path))
        where = f"seed {seed}: {path}"
        assert lattice.close(job["panel"]["inner_width"], ground.width), where
        assert lattice.close(job["panel"]["inner_height"], ground.height), where
        pairs = lattice.paired(ground, job, where)
        for bar, member in pairs.values():
            for end, (angle, shape) in zip(member["ends"], bar.ends, strict=True):
                assert lattice.close(end["angle"], angle), (seed, str(path), member["id"])
                assert end["shape"] == shape, (seed, str(path), member["id"], angle)
            lattice.joints_agree(bar, member, where)
        for comparison in COMPARISONS:
            if len(ground.bars) > 2:
                comparison((ground, job, pairs))


def test_accepted_grounds_go_together(outcomes):
    """Solids of members with square ends or ends in one plane; a press fit's bars are taken thinner
    by the press."""
    looked = 0
    for seed, path, done, _ in outcomes:
        if done.returncode:
            continue
        panel, material = sizes(path)
        job = json.loads(done.stdout)
        if any(end["shape"] == "point" for m in job["members"] for end in m["ends"]):
            continue
        depth, ground = panel["ground"]["depth"], panel["ground"]
        if panel["cut"]["method"] == "flat":
            faces = dict.fromkeys((m["family"] for m in job["members"]), measured(material)[1])
        elif "family" in ground:
            faces = {family["name"]: family["face"] for family in ground["family"]}
        else:
            faces = ground.get("faces") or dict.fromkeys(NAMES[ground["layout"]], ground["face"])
        press = max(0, -panel["cut"]["clearance"])
        solids = {
            m["id"]: bars.bar_solid(m, depth, faces[m["family"]] - press, grown=GROWN)
            for m in job["members"]
        }
        worst, where = bars.assemble(job["order"], solids, depth, step=depth / 8)
        # A wall's round-off over the area of a joint: far below what a wrong notch shares.
        assert worst < 1e-3, f"seed {seed}: {where} {path}"
        looked += 1
    assert looked > len(SEEDS) / 8
