"""What a program makes a machine do: every move with the state it is made in, every wait, switch, stop and remark.

Lines are taken apart by tests/reference/rs274.py, which knows nothing of this project's own reader; the order in
which the words of a block act is table 8 of NISTIR 6556 (from memory). Unlike a reader that refuses what it does
not run, this one goes on where a controller might: it keeps every mode of table 4 beside every move, so that a
changed mode shows wherever it is in force. What breaks the standard ends the run and is told in `broken`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

import rs274
from rs274 import G_GROUPS, GROUP_OF, INCH, RS274Error

# Codes that move or shift in ways of their own: what they do is not worked out, that they stand there is enough.
OWN_WAYS = {"G10", "G30", "G92", "G92.1", "G92.2", "G92.3", "G38.2"} | {
    code for code in G_GROUPS[1] if code[:2] == "G8" and code != "G80"
}
ARC_RADII = {1.0: rs274.ARC_RADII_MM, INCH: rs274.ARC_RADII_INCH * INCH}


class Move(NamedTuple):
    kind: str  # "rapid", "line", "arc"
    start: tuple  # mm; None for an axis that nothing has brought to a known place
    end: tuple
    centre: tuple | None
    ccw: bool
    feed: float | None  # mm/min, inches turned into mm
    head: str  # "off", "cw", "ccw"
    speed: float | None
    tool: int | None
    coolant: str
    modes: tuple

    @property
    def level(self):
        return self.start[:2] != self.end[:2] or self.kind == "arc"

    @property
    def cuts(self):
        return self.kind != "rapid"

    @property
    def lowest(self):
        known = [z for z in (self.start[2], self.end[2]) if z is not None]
        return min(known) if known else 0.0

    @property
    def sweep(self):
        """Radians of an arc, counter-clockwise positive; equal ends make a full turn (3.5.3)."""
        (cx, cy), (x0, y0), (x1, y1) = self.centre, self.start[:2], self.end[:2]
        first, last = math.atan2(y0 - cy, x0 - cx), math.atan2(y1 - cy, x1 - cx)
        turn = (last - first if self.ccw else first - last) % (2 * math.pi) or 2 * math.pi
        return turn if self.ccw else -turn

    def points(self, within=2e-4):
        """Its way in the plane, an arc as chords that lie this close to it."""
        if self.kind != "arc":
            return [self.start[:2], self.end[:2]]
        (cx, cy), (x, y) = self.centre, self.start[:2]
        radius, first, sweep = math.hypot(x - cx, y - cy), math.atan2(y - cy, x - cx), self.sweep
        step = 2 * math.acos(1 - min(within / radius, 1)) if radius > within else math.pi
        # An arc out of all bounds needs no more corners to be told as such.
        count = max(2, math.ceil(abs(sweep) / max(step, 1e-3)))
        turns = [first + sweep * i / count for i in range(1, count)]
        inner = [(cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in turns]
        return [(x, y), *inner, self.end[:2]]

    @property
    def length(self):
        points = self.points()
        return sum(math.dist(a, b) for a, b in zip(points, points[1:]) if None not in (*a, *b))


@dataclass
class Run:
    """moves: every move. aside: what else happens, each after how many moves. remarks: likewise."""

    moves: list[Move] = field(default_factory=list)
    aside: list[tuple] = field(default_factory=list)
    remarks: list[tuple[int, str]] = field(default_factory=list)
    broken: RS274Error | None = None
    end: tuple | None = None  # code, head, height and modes at the end
    lines: list[int] = field(default_factory=list)  # of each move


@lru_cache(maxsize=200_000)
def _line(text, semicolon):
    """Words and remarks of a line, codes by name with their group; an exception is kept as a value."""
    try:
        deleted, number, words, remarks = rs274.split_line(text, 1, semicolon)
        codes, values = [], {}
        seen = set()
        for letter, value in words:
            if letter in "GM":
                code = rs274.code_name(letter, value, 1)
                if code not in GROUP_OF:
                    raise RS274Error("unknown-code", 1, code)
                group = (letter, GROUP_OF[code])
                if group in seen:
                    raise RS274Error("modal-group", 1, code)
                seen.add(group)
                codes.append((code, group))
            elif letter in values:
                raise RS274Error("repeated-word", 1, letter)
            elif letter in "ABCDKLQ":
                raise RS274Error("unsupported", 1, letter)
            else:
                values[letter] = value
        if sum(code[0] == "M" for code, _ in codes) > 4:
            raise RS274Error("m-words", 1, "more than four")
    except RS274Error as e:
        return e
    return deleted, number, {group: code for code, group in codes}, values, tuple(remarks)


def run(text, semicolon=False, line_limit=256):
    """Runs a program; it ends where the standard is broken, or at its end."""
    return _Machine(semicolon, line_limit).run(text)


class _Machine:
    def __init__(self, semicolon, line_limit):
        self.semicolon, self.line_limit = semicolon, line_limit
        self.done = Run()
        self.motion = None
        self.unit = None
        self.modes = {group: "" for group in (2, 3, 4, 5, 6, 7, 8, 10, 12, 13)}
        self.overrides, self.coolant = "", "M9"
        self.feed = self.speed = self.tool = None
        self.head = "off"
        self.at = (None, None, None)
        self.number = 0

    def run(self, text):
        lines = text.split("\n")
        if lines[-1] == "":
            lines.pop()
        percent = bool(lines) and lines[0].strip() == "%"
        try:
            for self.number, line in enumerate(lines, start=1):
                line = line.removesuffix("\r")
                if percent and line.strip() == "%":
                    if self.number == 1:
                        continue
                    # The second percent line ends the file (3.2).
                    break
                self.line(line)
            if self.done.end is None:
                self.fail("program-end", "no M2 or M30")
        except RS274Error as e:
            self.done.broken = e
        return self.done

    def fail(self, rule, what):
        raise RS274Error(rule, self.number, what)

    def line(self, text):
        if len(text) > self.line_limit:
            self.fail("line-length", f"{len(text)} characters")
        parts = _line(text, self.semicolon)
        if isinstance(parts, RS274Error):
            self.fail(parts.rule, str(parts))
        deleted, _, codes, values, remarks = parts
        self.done.remarks += [(len(self.done.moves), remark) for remark in remarks]
        if not codes and not values:
            return
        if self.done.end is not None:
            self.fail("program-end", "a block after the program's end")
        if deleted:
            # Run or not, as a switch at the machine stands: that alone is a difference.
            self.note("deleted", text)
            return
        self.block(codes, values)

    def note(self, *what):
        self.done.aside.append((len(self.done.moves), *what))

    def block(self, codes, values):
        moves = any(letter in values for letter in "XYZ")
        own = OWN_WAYS & set(codes.values())
        if own:
            self.fail("own-ways", ", ".join(sorted(own)))
        parks = codes.get(("G", 0)) in ("G28", "G53")
        if parks and not self.parks(codes, values, moves):
            self.fail("own-ways", "no place of the machine's own that the standard allows")
        if (codes.get(("G", 8)) == "G43") != ("H" in values):
            self.fail("length-offset", "G43 and H belong together")
        if values.get("H", 0) < 0 or values.get("H", 0) != int(values.get("H", 0)):
            self.fail("length-offset", "no tool's number")
        dwell = codes.get(("G", 0)) == "G4"
        motion = codes.get(("G", 1), self.motion)
        if dwell != ("P" in values):
            self.fail("dwell", "G4 and P belong together")
        if dwell and (values["P"] < 0 or moves):
            self.fail("dwell", "a wait that is none")
        if moves and motion in (None, "G80") and not parks:
            self.fail("axis-words", "axis words while no motion is in force")
        if not moves and codes.get(("G", 1), "G80") != "G80":
            self.fail("axis-words", "a motion code without axis words")
        for letter in "IJR":
            if letter in values and not (motion in ("G2", "G3") and moves):
                self.fail("unused-word", f"{letter} without an arc")
        for letter in "FST":
            if values.get(letter, 0) < 0:
                self.fail("negative", letter)
        self.switches(codes, values)
        if dwell:
            self.note("wait", values["P"], self.head, self.at[2])
        for (letter, group), code in codes.items():
            if letter == "G" and group in self.modes:
                self.modes[group] = code if code != "G43" else f"G43 H{values['H']:g}"
        if ("G", 6) in codes:
            self.unit = INCH if codes["G", 6] == "G20" else 1.0
        self.motion = motion
        if parks:
            # Where the axes then stand in the work's frame is not known.
            places = tuple(sorted((letter, values[letter]) for letter in "XYZ" if letter in values))
            self.note("parks", codes["G", 0], motion, places, self.head, self.at[2])
            self.at = (None, None, None)
        elif moves:
            self.move(values)
        stop = codes.get(("M", 4))
        if stop in ("M2", "M30"):
            self.done.end = (stop, self.head, self.at[2], self.state())
        elif stop:
            self.note("stop", stop)

    def parks(self, codes, values, moves):
        """3.5.12: G53 needs G0 or G1 in force, and an axis; 3.4: G28 and a motion code share no line."""
        if codes["G", 0] == "G53":
            return moves and codes.get(("G", 1), self.motion) in ("G0", "G1") and not {"I", "J", "R"} & set(values)
        return codes.get(("G", 1), "G80") == "G80" and not {"I", "J", "R"} & set(values)

    def switches(self, codes, values):
        """F, S, T, M6, spindle, coolant, overrides, in the order of table 8."""
        if "F" in values:
            if self.unit is None and ("G", 6) not in codes:
                self.fail("unit", "F before a unit")
            # The feed is meant in the unit that is in force before the block's own.
            self.feed = values["F"] * (self.unit or 1.0)
        if "S" in values and values["S"] != self.speed:
            self.speed = values["S"]
            if self.head != "off":
                self.note("speed", self.speed)
        if "T" in values:
            if values["T"] != int(values["T"]):
                self.fail("tool", "no whole number")
            self.tool = int(values["T"])
            self.note("tool", self.tool)
        if ("M", 6) in codes:
            self.note("change", self.tool, self.head, self.at[2])
            self.head, self.at = "off", (None, None, None)
        if ("M", 7) in codes:
            head = {"M3": "cw", "M4": "ccw", "M5": "off"}[codes["M", 7]]
            self.note("head", head, self.speed, self.at[2])
            self.head = head
        if ("M", 8) in codes:
            # 3.6.4: M7 and M8 may both be on.
            code = codes["M", 8]
            on = set() if code == "M9" else {*self.coolant.split(), code} - {"M9"}
            self.coolant = " ".join(sorted(on)) or "M9"
            self.note("coolant", self.coolant)
        if ("M", 9) in codes:
            self.overrides = codes["M", 9]
            self.note("overrides", self.overrides)

    def state(self):
        return (*self.modes.values(), self.overrides)

    def move(self, values):
        if self.unit is None:
            self.fail("unit", "a move before G20 or G21")
        if not self.modes[3]:
            self.fail("distance", "a move before G90 or G91")
        start, end = self.at, list(self.at)
        for axis, letter in enumerate("XYZ"):
            if letter in values:
                value = values[letter] * self.unit
                if self.modes[3] == "G91":
                    value += start[axis] or 0.0
                end[axis] = value
        kind, centre = "rapid", None
        if self.motion != "G0":
            if not self.feed:
                self.fail("feed", "a cut without a feed")
            kind = "line" if self.motion == "G1" else "arc"
        if kind == "arc":
            centre = self.centre(values, start, end)
        self.at = tuple(end)
        move = Move(
            kind, start, self.at, centre, self.motion == "G3", None if kind == "rapid" else self.feed,
            self.head, self.speed, self.tool, self.coolant, self.state(),
        )  # fmt: skip
        self.done.moves.append(move)
        self.done.lines.append(self.number)

    def centre(self, values, start, end):
        if None in start[:2] or ("X" not in values and "Y" not in values):
            self.fail("arc", "an arc from nowhere, or to nowhere")
        (x0, y0), (x1, y1) = start[:2], end[:2]
        if "R" in values:
            if "I" in values or "J" in values:
                self.fail("arc", "R with I or J")
            chord, radius = math.hypot(x1 - x0, y1 - y0), values["R"] * self.unit
            if chord == 0 or chord / 2 > abs(radius) * (1 + 1e-9):
                self.fail("arc", "a radius that spans nothing")
            left = math.sqrt(max(radius**2 - chord**2 / 4, 0)) * (1 if (self.motion == "G3") == (radius > 0) else -1)
            return ((x0 + x1) / 2 - (y1 - y0) / chord * left, (y0 + y1) / 2 + (x1 - x0) / chord * left)
        if "I" not in values and "J" not in values:
            self.fail("arc", "no centre")
        centre = (x0 + values.get("I", 0.0) * self.unit, y0 + values.get("J", 0.0) * self.unit)
        r0, r1 = math.dist(centre, (x0, y0)), math.dist(centre, (x1, y1))
        if abs(r0 - r1) > ARC_RADII[self.unit] + 1e-9 or r0 == 0:
            self.fail("arc-radii", f"{r0} and {r1}")
        return centre
