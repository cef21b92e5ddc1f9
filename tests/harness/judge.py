"""Whether a fault in a program matters, decided from the two texts and what the job says of the bench, before
the replay is asked.

Verdicts:

- "harmless": nothing differs but what closed_list.py names; the replay must take it;
- "free": numbers within half a step of their last decimal, lines that say nothing new: either answer is right;
- "matters": the machine does other than it did, or a person reads other words; `why` names how;
- "unlisted": the machine does the same, but the text differs beyond the closed list.

The replay must refuse what matters and what is unlisted.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
import shapely
from shapely.geometry import LineString, Point

import closed_list
import machine

# What the replay allows either way (mm): what is cut beyond this counts.
NEAR = 0.005
# Slivers of round shapes drawn as polygons (mm2).
SPECK = 1e-3
ROUND = 16  # corners of a quarter turn: 0.002 mm off at most for a cutter of 3 mm
FLOAT = 1e-6


def left_of(shape, others, speck=SPECK):
    """What others leave of a shape, taken away one by one: those whose boxes share the most with its own come
    first, and mostly the first one, the same path in another pass, covers all."""
    if len(others) > 1:
        boxes, (x0, y0, x1, y1) = shapely.bounds(others), shape.bounds
        across = np.minimum(boxes[:, 2], x1) - np.maximum(boxes[:, 0], x0)
        along = np.minimum(boxes[:, 3], y1) - np.maximum(boxes[:, 1], y0)
        # Of two that share as much, the one that reaches less far beyond lies nearer.
        own = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
        others = [others[i] for i in np.lexsort((own, -np.round(across * along, 6)))]
    for other in others:
        if shape.area <= speck:
            break
        shape = shape.difference(other)
    return shape


@dataclass
class Bench:
    """What bounds a program: stated by the job's files, read by the harness."""

    laser: bool
    air_run: bool
    radius: float  # of beam or cutter, mm
    low: list  # least corner of the room that the program says its path needs, mm
    high: list
    top: float  # of the stock
    travel: list
    safe_z: float | None
    pass_depth: float | None
    finish: float  # wood that a last pass may take off a wall at full depth, mm: 0 but for the faces of a datum
    feeds: list  # least and greatest feed of the machine
    semicolon: bool
    numbered: bool
    line_limit: int
    step: Decimal  # of the last decimal of a coordinate, in the program's unit
    unit: float  # mm in it


@dataclass
class Verdict:
    kind: str
    why: list


class Sound:
    """A program as it was written, run once; `verdict` judges a spoilt one against it."""

    def __init__(self, text, bench):
        self.text, self.bench = text, bench
        self.run = machine.run(text, bench.semicolon, bench.line_limit)
        assert self.run.broken is None, f"a sound program breaks the standard: {self.run.broken}"
        self.spelled, _ = self.spell(text)
        self.shapes = [self.shape(m) for m in self.run.moves]
        self.tree = shapely.STRtree(self.shapes)
        self.heights = np.array([m.lowest for m in self.run.moves])
        self.removes = np.array([self.takes(m) for m in self.run.moves], dtype=bool)
        too_deep = self.deep_passes(self.run.moves, self.shapes, range(len(self.run.moves)))
        assert not too_deep, f"a sound program cuts deeper than a pass: line {self.run.lines[too_deep[0]]}"
        moves = self.run.moves
        self.far = [self.limits_of(m) for m in moves]
        assert not any(self.far), f"a sound program leaves its limits: {[f for f in self.far if f][:1]}"

    def spell(self, text):
        return closed_list.spelled(text, self.bench.semicolon, self.bench.numbered)

    def shape(self, move):
        """What beam or cutter passes over in the plane, whether it cuts there or not."""
        points = [p for p in move.points() if None not in p]
        if not points:
            return Point()
        same = all(p == points[0] for p in points)
        way = Point(points[0]) if same else LineString(points)
        return way.buffer(self.bench.radius, quad_segs=ROUND)

    def takes(self, move):
        """Whether a move takes wood away: at feed with the head on, below the stock's top."""
        on = move.cuts and move.head != "off"
        return on and (self.bench.laser or move.lowest < self.bench.top - FLOAT)

    def verdict(self, text):
        """text: the spoilt program, a character for each byte."""
        spelled, ends = self.spell(text)
        if self.listed(spelled):
            if ends and self.numbers(text) == self.numbers(self.text) and "\r" not in text:
                return Verdict("free", ["a tab"]) if "\t" in text else Verdict("harmless", [])
            return Verdict("unlisted", ["line numbers, ends of lines or of the file"])
        if closed_list.said(spelled, empty=False) == closed_list.said(self.spelled, empty=False):
            return Verdict("free", ["a line that says nothing new"])
        if closed_list.steps_apart(spelled, self.spelled, self.bench.step / 2):
            return Verdict("free", ["within half a step"])
        why = self.why(machine.run(text, self.bench.semicolon, self.bench.line_limit))
        return Verdict("matters" if why else "unlisted", why)

    def listed(self, spelled):
        """Whether a spelling differs from the sound one in what the closed list names alone."""
        return spelled == self.spelled or closed_list.said(spelled) == closed_list.said(self.spelled)

    def numbers(self, text):
        """Line numbers, where the dialect has them."""
        if not self.bench.numbered:
            return []
        return [int(m[1]) for line in text.split("\n") if (m := re.match(r" *N *(\d+)", line))]

    def why(self, spoilt):
        """In how many ways the two runs differ."""
        if spoilt.broken is not None:
            return [f"broken: {spoilt.broken.rule}"]
        sound, why = self.run, []
        gone, new = self.window(spoilt.moves)

        def placed(notes, moves):
            # Counted from the end after the moves that differ, so that one move more shifts nothing.
            return [(n if n <= gone.start else n - len(moves), *what) for n, *what in notes]

        remarks = [placed(run.remarks, run.moves) for run in (spoilt, sound)]
        if [r for _, r in spoilt.remarks] != [r for _, r in sound.remarks]:
            why.append("remarks")
        elif remarks[0] != remarks[1]:
            why.append("remarks: place")
        if spoilt.end != sound.end:
            why.append("end")
        asides = [placed(run.aside, run.moves) for run in (spoilt, sound)]
        waits = [[a for a in aside if a[1] == "wait"] for aside in asides]
        if waits[0] != waits[1]:
            why.append("waits")
        states = [[a for a in aside if a[1] != "wait" and not self.idle(a, aside)] for aside in asides]
        if states[0] != states[1]:
            why.append("states")
        return why + self.moved(spoilt, gone, new)

    def window(self, moves):
        """The moves that differ: indices of the sound run's, and of the spoilt one's."""
        a, b = self.run.moves, moves
        first = next((i for i, (m, n) in enumerate(zip(a, b)) if not self.alike(m, n)), min(len(a), len(b)))
        most = min(len(a), len(b)) - first
        last = next((i for i in range(most) if not self.alike(a[-1 - i], b[-1 - i])), most)
        return range(first, len(a) - last), range(first, len(b) - last)

    @staticmethod
    def idle(aside, asides):
        """A switch that switches nothing: off where nothing was on since the start or the last such switch."""
        if aside[1] != "head" or aside[2] != "off":
            return False
        at = asides.index(aside)
        heads = [a for a in asides[:at] if a[1] in ("head", "change")]
        # The first one is what makes sure that the head is off.
        return bool(heads) and (heads[-1][1] == "change" or heads[-1][2] == "off")

    def moved(self, spoilt, gone, new):
        """What differs in the moves: state, height, reach, wood, passes."""
        a, b = self.run.moves, spoilt.moves
        if not gone and not new:
            return []
        why = []
        if len(gone) == len(new):
            for i, j in zip(gone, new):
                for name, at in (("head", "head"), ("speed", "speed"), ("tool", "tool"), ("modes", "modes"),
                                 ("coolant", "coolant"), ("feed", "feed")):
                    if getattr(a[i], at) != getattr(b[j], at) and (a[i].cuts or name not in ("speed", "feed")):
                        why.append(name)
        else:
            stated = {(m.feed, m.head, m.speed, m.tool, m.modes, m.coolant) for m in a if m.cuts}
            if any((m.feed, m.head, m.speed, m.tool, m.modes, m.coolant) not in stated for m in b if m.cuts):
                why.append("state of a cut")
        why = sorted(set(why))
        for j in new:
            far = self.limits_of(b[j])
            if far:
                why.append(far)
                break
        for j in new:
            if self.low_travel(b[j]):
                why.append("low travel")
                break
        # What the shapes tell is asked last: it takes long, and one way to matter is enough.
        return why or self.wood(b, gone, new)

    def alike(self, m, n):
        return m == n or (m[4:] == n[4:] and self.same_place(m, n))

    def same_place(self, m, n):
        half = float(self.bench.step) * self.bench.unit / 2 + FLOAT
        if m.kind != n.kind or m.ccw != n.ccw or (m.centre is None) != (n.centre is None):
            return False
        pairs = [*zip(m.start, n.start), *zip(m.end, n.end)]
        if m.centre is not None:
            pairs += zip(m.centre, n.centre)
        return all(p == q or (p is not None and q is not None and abs(p - q) <= half) for p, q in pairs)

    def limits_of(self, move):
        """How a move leaves stock, travel or feeds; None if it does not."""
        bench = self.bench
        room = float(bench.step) * bench.unit + FLOAT
        points = [p for p in move.points() if None not in p]
        for axis in (0, 1):
            reach = [p[axis] for p in points] + [0.0]
            if max(reach) - min(reach) > bench.travel[axis] + room:
                return "limits: travel"
        if move.cuts:
            if not bench.feeds[0] - room <= move.feed <= bench.feeds[1] + room:
                plunge = move.kind == "line" and not move.level and move.feed <= bench.feeds[1] + room
                if not plunge:
                    return "limits: feed"
        if not move.cuts:
            return None
        box = [(p[axis], axis) for p in points for axis in (0, 1)]
        if not bench.laser:
            box += [(z, 2) for z in (move.start[2], move.end[2]) if z is not None]
        if any(not bench.low[axis] - room <= v <= bench.high[axis] + room for v, axis in box):
            return "limits: room"
        return None

    def low_travel(self, move):
        """A rapid that moves, or ends, below the safe height (a beam: that is on)."""
        if move.kind != "rapid":
            # Sideways and down at once is no plunge; in the air it is slow travel.
            return not self.bench.laser and move.level and move.start[2] != move.end[2]
        if self.bench.laser:
            return move.head != "off"
        half = float(self.bench.step) * self.bench.unit / 2 + FLOAT
        if None in move.end or move.end[2] < self.bench.safe_z - half:
            return move.end[2] is None or move.end[2] < self.bench.safe_z - half
        return move.level and (move.start[2] is None or move.start[2] < self.bench.safe_z - half)

    def wood(self, moves, gone, new):
        """Whether other wood goes, or more of it in one pass, or a beam passes more often."""
        if self.bench.air_run:
            ways = [[m for m in ms if m.start != m.end] for ms in (self.run.moves, moves)]
            same = len(ways[0]) == len(ways[1]) and all(map(self.alike, *ways))
            return [] if same else ["the way"]
        if len(gone) == len(new) and all(self.same_place(self.run.moves[i], moves[j]) for i, j in zip(gone, new)):
            return []
        # Moves that both runs make, wherever they stand, take the same wood.
        keys = Counter(self.key(self.run.moves[i]) for i in gone) & Counter(self.key(moves[j]) for j in new)
        lost, found = self.left(self.run.moves, gone, keys), self.left(moves, new, keys)
        if self.bench.laser:
            before, after = ([ms[i] for i in which] for ms, which in ((self.run.moves, lost), (moves, found)))
            length = [sum(m.length for m in ms if self.takes(m)) for ms in (before, after)]
            if abs(length[0] - length[1]) > NEAR:
                return ["dose"]
        shapes_new = {j: self.shape(moves[j]) for j in new}
        if self.gains(moves, found, shapes_new):
            return ["wood: more"]
        if self.loses(moves, gone, lost, new, shapes_new):
            return ["wood: less"]
        if self.bench.laser:
            return []
        first = gone.start
        shapes = self.shapes[:first] + [shapes_new[j] for j in new] + self.shapes[gone.stop :]
        changed = [self.shapes[i] for i in gone] + list(shapes_new.values())
        where = shapely.box(*shapely.total_bounds(changed))
        later = [
            j for j in range(first, len(moves))
            if self.takes(moves[j]) and shapes[j].intersects(where)
        ]  # fmt: skip
        return ["pass"] if self.deep_passes(moves, shapes, later, once=True) else []

    def left(self, moves, which, keys):
        keys = Counter(keys)
        found = []
        for i in which:
            key = self.key(moves[i])
            if keys[key]:
                keys[key] -= 1
            else:
                found.append(i)
        return found

    def key(self, move):
        """What tells which wood a move takes, whichever way it goes; turned about, an arc is the same too."""
        ends = (move.start, move.end)
        way = move.ccw if move.kind == "arc" else None
        if str(ends[0]) > str(ends[1]):
            ends, way = ends[::-1], None if way is None else not way
        return (ends, move.centre, way, self.takes(move))

    def covered(self, shape, height, gone, extra):
        """What of a shape is not passed over by the sound program at or below a height, `gone` left out, nor by
        the further shapes."""
        near = [
            i for i in self.tree.query(shape)
            if i not in gone and self.removes[i] and (self.bench.laser or self.heights[i] <= height + FLOAT)
        ]  # fmt: skip
        return left_of(shape, [self.shapes[i] for i in near] + extra)

    def gains(self, moves, found, shapes_new):
        for j in found:
            if self.takes(moves[j]):
                inner = shapes_new[j].buffer(-NEAR)
                if self.covered(inner, moves[j].lowest, range(0), []).area > SPECK:
                    return True
        return False

    def loses(self, moves, gone, lost, new, shapes_new):
        for i in lost:
            if self.removes[i]:
                inner = self.shapes[i].buffer(-NEAR)
                here = [
                    shapes_new[j] for j in new
                    if self.takes(moves[j]) and (self.bench.laser or moves[j].lowest <= self.heights[i] + FLOAT)
                    and shapes_new[j].intersects(inner)
                ]  # fmt: skip
                if self.covered(inner, self.heights[i], gone, here).area > SPECK:
                    return True
        return False

    def deep_passes(self, moves, shapes, which, once=False):
        """Indices of cuts that take off more than a pass's depth at once: below it nothing had been cut to within
        a pass of its height. From the program alone, and the stock's top."""
        bench = self.bench
        if bench.laser or bench.air_run or bench.pass_depth is None:
            return []
        deep = [j for j in which if self.takes(moves[j]) and bench.top - moves[j].lowest > bench.pass_depth + 2e-3]
        if not deep:
            return []
        tree = shapely.STRtree(shapes)
        found = []
        for j in deep:
            height = moves[j].lowest
            inner = shapes[j].buffer(-0.02)
            before = [
                shapes[i] for i in tree.query(inner)
                if i < j and self.takes(moves[i]) and moves[i].lowest <= height + bench.pass_depth + 2e-3
            ]  # fmt: skip
            left = left_of(inner, before, 0.01)
            if left.buffer(-bench.finish / 2).area > 0.01:
                found.append(j)
                if once:
                    break
        return found
