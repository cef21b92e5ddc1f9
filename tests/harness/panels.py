"""Random panels, all the way: made, proven from disk, every program judged by the harness's own reader.

    panels.py --count 10000 --seed 1 [--out FOLDER]

A panel is accepted or refused with a reason; what passes its checks is proven; none takes over ten times the
median of its size. Ends with status 1 if any panel does otherwise; its files are kept.
"""

from __future__ import annotations

import json
import math
import random
import re
import shutil
import statistics
import sys
import time
from collections import Counter, defaultdict

import jobs
from judge import Sound
from modes import arguments
from runs import run
from workshop import roomy, summary, write_job

LASERS = ["laser-mm", "laser-inch", "laser-follow-mm", "laser-lines-mm"]
ROUTERS = ["router-mm", "router-inch", "router-lines-inch", "router-numbered-mm", "router-toolchange-mm", "router-pause-mm"]
FAMILIES = {
    "square": ["upright", "level"], "diamond": ["rising", "falling"], "three-way": ["rising", "upright", "falling"],
    "open-three-way": ["rising", "upright", "falling"], "eight-point": ["upright", "level", "rising", "falling"],
}  # fmt: skip
# Lines of a program that the judge sweeps in seconds.
LONGEST = 1500
SIDES = ("left", "right", "bottom", "top")


def odd(rnd, low, high, decimals=2):
    return round(rnd.uniform(low, high), decimals)


def ground(rnd, face):
    """(ground table, names of families) of a layout at odd values."""
    layout = rnd.choice([*FAMILIES, "free"])
    if layout == "free":
        return free(rnd, face)
    names = FAMILIES[layout]
    pitch = odd(rnd, 6, 16, 2) * face
    table = {
        "layout": layout, "depth": odd(rnd, 2, 5) * max(face, 3), "face": face,
        "columns": rnd.randint(1, 5), "rows": rnd.randint(1, 5),
        "ranks": dict(zip(names, rnd.sample(range(1, len(names) + 1), len(names)))),
    }  # fmt: skip
    if layout == "square":
        table |= {"pitch_across": round(pitch, 2), "pitch_up": round(odd(rnd, 6, 16) * face, 2)}
    else:
        table["pitch"] = round(pitch, 2)
    if layout == "diamond":
        table["angle"] = odd(rnd, 25, 65, 1)
    if layout in ("three-way", "open-three-way", "diamond"):
        table["corner_joint"] = rnd.random() < 0.5
    return table, names


def free(rnd, face):
    count = rnd.randint(2, 3)
    first = rnd.choice([0, 0, odd(rnd, 0, 59, 1)])
    directions = [first + 180 / count * i + rnd.choice([0, odd(rnd, -12, 12, 1)]) for i in range(count)]
    families, names = [], []
    for rank, direction in enumerate(directions, start=1):
        name = "abc"[rank - 1] + rnd.choice(["-bar", "-row", ""])
        names.append(name)
        families.append({"name": name, "direction": direction, "first": odd(rnd, 0, 40), "pitch": round(odd(rnd, 9, 18) * count * face, 2),
                         "face": face, "rank": rank})  # fmt: skip
    return {"layout": "free", "depth": odd(rnd, 2, 5) * max(face, 3), "width": odd(rnd, 25, 70) * face, "height": odd(rnd, 25, 70) * face,
            "family": families}, names  # fmt: skip


def outline(rnd, table, face, overhang):
    """Sides of every rule; a side along bars does not run through their joints but now and then, to be refused."""
    upright = table["layout"] not in ("diamond", "free") or any(f["direction"] == 90 for f in table.get("family", []))
    level = table["layout"] in ("square", "eight-point") or any(f["direction"] == 0 for f in table.get("family", []))
    along = {"left": upright, "right": upright, "bottom": level, "top": level}
    table = {}
    for side in SIDES:
        rules = ["inner-edge", {"clear": odd(rnd, face / 2, 6 * face)}, {"clear": odd(rnd, 2 * face, 12)}]
        table[side] = rnd.choice(rules if along[side] and rnd.random() < 0.99 else [*rules, "centres", "centres"])
    return table | {"overhang": overhang, "trim_kerf": rnd.choice([0, 1.5])}


def infill(rnd, face, laser, stock, layout):
    triangles = ["hemp-leaf", "variant-hemp-leaf"] if layout == "three-way" else ["diagonals"]
    table = {
        "face": round(face * rnd.choice([1, 1, 0.7, 1.6]), 2), "pattern": rnd.choice(triangles if rnd.random() < 0.95 else ["hemp-leaf", "diagonals", "plain"]),
        "least_length": rnd.choice([0.1, 0.1, 8]), "leave_cut_cells": rnd.random() < 0.5, "allowance": rnd.choice([0, 0.07, -0.05]),
        "plain_ends": rnd.random() < 0.7,
    }  # fmt: skip
    cut = rnd.choice(["by-hand", "blanks", "outlines"] if stock else ["by-hand", "outlines"])
    if cut == "outlines":
        card = rnd.choice(["card-1", "card-2"]) if laser else "mdf-3"
        table |= {"cut": cut, "material": card, "stock": "card-sheets-a2" if laser else "mdf-sheets",
                  "depth": {"card-1": 1, "card-2": 2, "mdf-3": 3}[card]}  # fmt: skip
    elif cut == "blanks":
        table["cut"] = cut
    if cut != "outlines" and rnd.random() < 0.3:
        table["hinged"] = True
    return table


def draw(rnd):
    """What write_job takes: (fixture, changes), and the kind of cutting."""
    kind = rnd.choice(["laser", "laser", "router", "edge-up"])
    laser = kind == "laser"
    face = odd(rnd, 1.2, 3) if laser else odd(rnd, 2.8, 6)
    if rnd.random() < 0.3:
        face = round(face, 1)
    table, names = ground(rnd, face)
    overhang = rnd.choice([0, 0, odd(rnd, 4, 40, 1)]) if laser else rnd.choice([0, odd(rnd, 8, 40, 1), odd(rnd, 12, 25, 1)])
    panel = {
        "name": f"random {kind}", "quantity": rnd.choice([1, 1, 1, 2, 3, 7]), "ground": table, "surround": None, "sticks": None,
        "outline": outline(rnd, table, face, overhang),
        "cut": {"method": "edge-up" if kind == "edge-up" else "flat", "clearance": rnd.choice([0, 0.05, 0.11, -0.02, odd(rnd, 0, 0.2)]),
                "loose_joints": True, "dxf_version": rnd.choice(["R2000", "R12", "both"]), "dxf_files": rnd.choice(["sheet", "piece", "both"]),
                "same_piece": rnd.choice([0, 0.01, 0.1])},
        "sheet": {"paper": rnd.choice(["a4", "letter"]), "units": rnd.choice(["mm", "inch"])},
    }  # fmt: skip
    # No draw of its own: panels that tests know by number stay as they are.
    panel["cut"]["dxf_layers"] = ("all", "labels", "cuts")[panel["quantity"] % 3]
    if kind != "edge-up" and rnd.random() < 0.5:
        panel["cut"]["relief"] = rnd.choice(["none", "floor", "wall", "corner"])
    if rnd.random() < 0.5:
        panel["surround"] = {"width": odd(rnd, 5, 12, 1), "pins": rnd.random() < 0.5}
    if kind != "edge-up" and rnd.random() < 0.15:
        panel["surround"] = {"cut": "laps", "width": face, "ear": odd(rnd, 3, 12, 1)}
    fits = 0.45 if table["layout"] in ("square", "diamond", "three-way") else 0.03
    if rnd.random() < fits:
        panel["infill"] = infill(rnd, face, laser, kind != "edge-up", table["layout"])
    if rnd.random() < 0.2 and kind != "edge-up":
        panel["kits"] = {"panels": 1, "spares": rnd.choice([0, 1]), "common_spares": rnd.choice([0, 2])}
    soft = {"least_web": 0, "least_section": 0.5, "press": 0.05, "play": 0.4, "crush": 0.5, "tight_joints": False}
    large = {"blank": [{"name": "large", "length": rnd.choice([2500, 820.5]), "width": rnd.choice([1500, 411.3])}]}
    if kind == "edge-up":
        more = roomy(panel, material=soft)
        more["panel"]["sticks"] = {"lead": odd(rnd, 50, 80, 1), "tail": odd(rnd, 50, 80, 1), "saw_kerf": 1.5, "spares": rnd.choice([0, 1])}
        if rnd.random() < 0.3:
            more["panel"]["sticks"]["bed"] = 0.3
        if rnd.random() < 0.5 and table["layout"] != "free":
            table.pop("face")
            table["faces"] = {n: round(face * rnd.uniform(0.7, 1.3), 2) for n in names}
        more["machine"].update({"router.tool.diameter": rnd.choice([0.8, 1.6, 2.4, 2.5, 3.0]), "router.hold_width": rnd.choice([3, 12])})
        more["material"]["router.pass_depth"] = rnd.choice([0.4, 0.8])
        return kind, "check", dict(**more, post_processor={"": rnd.choice(ROUTERS)})
    soft["thickness"] = rnd.choice([face, [round(face - 0.03, 2), face], [face, round(face + 0.02, 2)]])
    if laser:
        # The fixture's own word for full power; card bridges as they are.
        soft["laser.kerf"] = rnd.choice([0.15, 0.1, odd(rnd, 0.05, 0.3)])
        return kind, "plain-window", dict(panel=panel, machine={"travel": [3000, 3000]}, stock=large, material=soft,
                                  post_processor={"": rnd.choice(LASERS)})  # fmt: skip
    # Half the slot at most, so that relief leaves a seat.
    tool = rnd.choice([t for t in (1.0, 1.5, 2.0, 2.4, 3.0, 3.175) if t < face])
    machine = {"travel": [3000, 3000, 80], "router.tool.diameter": tool, "router.hold_length": rnd.choice([20, 80, 200]),
               "router.saw_kerf": rnd.choice([1.0, 3.1]), "router.tool.flute_length": 30, "router.tool.stick_out": 40}  # fmt: skip
    soft["router.pass_depth"] = min(1.5, tool / 2)
    return kind, "router-square", dict(panel=panel, machine=machine, stock=large, material=soft,
                                       post_processor={"": rnd.choice(ROUTERS)})  # fmt: skip


def size(job):
    """What there is to cut: a panel of one size is one of so many places of bars and cuts, by the octave."""
    joints = sum(len(m["joints"]) for m in job["members"])
    pieces = len(job["members"]) + sum(len(c.get("members", [])) for c in job["infill"] or [] if isinstance(c, dict))
    return int(math.log2(max(1, (joints + pieces) * job["panel"]["quantity"])))


def one(seed, folder):
    """A panel from its seed: what became of it."""
    rnd = random.Random(seed)
    kind, base, changes = draw(rnd)
    panel = write_job(folder / "in", base, **changes)
    out = folder / "out"
    done = run("make", panel, "--out", out, seconds=300)
    found = dict(seed=seed, kind=kind, layout=changes["panel"]["ground"]["layout"], status=done.status, cpu=done.cpu,
                 memory=done.memory, fault=done.sound((0, 1, 2)), ids=[])  # fmt: skip
    if done.status:
        if "the proof failed" in done.err:
            found["fault"] = "checks passed and the proof failed"
        found["ids"] = sorted(set(re.findall(r"(?m)^ *FAIL +([a-z-]+)|^([a-z-]+): ", done.err)))[:4]
        found["said"] = done.err[-1500:]
        if out.exists():
            found["fault"] = "refused, and a folder is there"
        return found
    if found["fault"]:
        found["said"] = done.err[-1500:]
        return found
    proven = run("prove", out, seconds=300)
    if proven.status != 0:
        return found | dict(fault="made, and not proven", said=proven.err[-1500:])
    job = summary(out)
    found["size"] = size(job)
    programs = [f for f in jobs.cut_files("", out) if f.bench and f.text.count("\n") <= LONGEST]
    for file in rnd.sample(programs, min(3, len(programs))):
        try:
            Sound(file.text, file.bench)
        except AssertionError as e:
            return found | dict(fault=f"judged unsound: {file.name}: {e}")
    return found


def slow(found):
    """[(seed, cpu, median)] of panels over ten times the median of their size and kind; from five on."""
    by_size = defaultdict(list)
    for f in found:
        if "size" in f:
            by_size[f["kind"], f["size"]].append(f)
    out = []
    for _, group in sorted(by_size.items()):
        median = statistics.median(f["cpu"] for f in group)
        if len(group) >= 5:
            out += [(f["seed"], f["cpu"], median) for f in group if f["cpu"] > 10 * max(median, 0.05)]
    return out


def main(words=None):
    args = arguments(__doc__, "panels", 10_000, words)
    shutil.rmtree(args.out, ignore_errors=True)
    args.out.mkdir(parents=True)
    found, began = [], time.monotonic()
    with open(args.out / "panels.jsonl", "w") as log:
        for n in range(args.count):
            seed = args.seed * 1_000_000 + n
            folder = args.out / f"{seed}"
            f = one(seed, folder)
            found.append(f)
            log.write(json.dumps(f) + "\n")
            log.flush()
            if f["fault"] is None:
                shutil.rmtree(folder)
            else:
                shutil.rmtree(folder / "out", ignore_errors=True)
            if (n + 1) % 100 == 0:
                faults = sum(f["fault"] is not None for f in found)
                print(f"{n + 1} panels, {time.monotonic() - began:.0f} s, {faults} faults", file=sys.stderr, flush=True)
    faults = [f for f in found if f["fault"]]
    print(f"{'kind':10}{'tried':>7}{'made':>7}{'checks':>8}{'refused':>8}{'faults':>8}{'cpu max s':>10}{'MB max':>8}")
    for kind in ("laser", "router", "edge-up", "all"):
        of = [f for f in found if kind in (f["kind"], "all")]
        by = Counter(f["status"] for f in of)
        bad = sum(f["fault"] is not None for f in of)
        print(f"{kind:10}{len(of):7}{by[0]:7}{by[1]:8}{by[2]:8}{bad:8}"
              f"{max((f['cpu'] for f in of), default=0):10.2f}{max((f['memory'] for f in of), default=0):8}")  # fmt: skip
    late = slow(found)
    for seed, cpu, median in late:
        print(f"slow: seed {seed}: {cpu:.2f} s of processor, the median of its size is {median:.2f}")
    for f in faults:
        print(f"fault: seed {f['seed']} ({f['kind']}, {f['layout']}): {f['fault']}: {f.get('said', '')[-300:]}")
    return 1 if faults or late else 0


if __name__ == "__main__":
    sys.exit(main())
