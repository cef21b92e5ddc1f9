"""A reader of RS274/NGC, written from the standard and from nothing else in this project.

Source: NISTIR 6556, "The NIST RS274NGC Interpreter, version 3" (2000); what is taken from it, and the
section numbers, is from memory. It reads more of the language than the project writes (inches, arcs by
radius, helices, incremental distance, block delete, the percent lines), so that it judges the
project's programs by the standard's rules and not by the project's. Remarks after a semicolon are not
in the standard (common practice); they are taken only where the caller says so.

    program = read(text)
    for move in program.moves:
        ...

Two more things are common practice and not in the standard: G91.1 (centres of arcs count from their start), and a
wait in milliseconds, where the caller says so.

Lengths are millimetres whatever the program's unit, feeds mm/min, angles of an arc counter-clockwise
positive. A broken rule raises RS274Error with the rule's name and the line, from 1.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

INCH = 25.4
LINE_LIMIT = 256  # 3.3
LINE_NUMBER_LIMIT = 99999  # 3.3.1
ARC_RADII_MM = 0.002  # 3.5.3.2
ARC_RADII_INCH = 0.0002  # 3.5.3.2

# Table 4: modal groups. Group 0 is the non-modal codes.
G_GROUPS = {
    0: ["G4", "G10", "G28", "G30", "G53", "G92", "G92.1", "G92.2", "G92.3"],
    1: [
        "G0",
        "G1",
        "G2",
        "G3",
        "G38.2",
        "G80",
        "G81",
        "G82",
        "G83",
        "G84",
        "G85",
        "G86",
        "G87",
        "G88",
        "G89",
    ],
    2: ["G17", "G18", "G19"],
    3: ["G90", "G91"],
    # Not in the standard (common practice).
    4: ["G91.1"],
    5: ["G93", "G94"],
    6: ["G20", "G21"],
    7: ["G40", "G41", "G42"],
    8: ["G43", "G49"],
    10: ["G98", "G99"],
    12: ["G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"],
    13: ["G61", "G61.1", "G64"],
}
M_GROUPS = {
    4: ["M0", "M1", "M2", "M30", "M60"],
    6: ["M6"],
    7: ["M3", "M4", "M5"],
    8: ["M7", "M8", "M9"],
    9: ["M48", "M49"],
}
GROUP_OF = {
    code: group for groups in (G_GROUPS, M_GROUPS) for group, codes in groups.items() for code in codes
}

# What this reader runs; the rest of the tables is known and refused by name.
RUNS = {
    "G0", "G1", "G2", "G3", "G4", "G17", "G20", "G21", "G28", "G40", "G43", "G49", "G53", "G54", "G55", "G56", "G57",
    "G58", "G59", "G61", "G64", "G80", "G90", "G91", "G91.1", "G94", "M0", "M1", "M2", "M3", "M4", "M5", "M6", "M7",
    "M8", "M9", "M30",
}  # fmt: skip

# The standard's list of words, with the sections that define them (NISTIR 6556; numbers from memory). What is not
# in it is common practice.
SECTIONS = {
    "G0": "3.5.1", "G1": "3.5.2", "G2": "3.5.3", "G3": "3.5.3", "G4": "3.5.4", "G17": "3.5.6", "G20": "3.5.7",
    "G21": "3.5.7", "G28": "3.5.8", "G40": "3.5.10", "G43": "3.5.11", "G49": "3.5.11", "G53": "3.5.12", "G54": "3.5.13",
    "G55": "3.5.13", "G56": "3.5.13", "G57": "3.5.13", "G58": "3.5.13", "G59": "3.5.13", "G61": "3.5.14",
    "G64": "3.5.14", "G80": "3.5.15", "G90": "3.5.17", "G94": "3.5.19", "M0": "3.6.1", "M2": "3.6.1", "M30": "3.6.1",
    "M3": "3.6.2", "M4": "3.6.2", "M5": "3.6.2", "M6": "3.6.3", "M7": "3.6.4", "M8": "3.6.4", "M9": "3.6.4",
    "F": "3.7.1", "S": "3.7.2", "T": "3.7.3", "X": "3.5", "Y": "3.5", "Z": "3.5", "I": "3.5.3", "J": "3.5.3",
    "P": "3.5.4", "H": "3.5.11", "N": "3.3.1",
}  # fmt: skip
PRACTICE = {"G91.1"}

LETTERS = set("ABCDFGHIJKLMNPQRSTXYZ")


class RS274Error(Exception):
    """A rule of the standard is broken."""

    def __init__(self, rule: str, line: int, what: str):
        super().__init__(f"line {line}: {what} ({rule})")
        self.rule = rule
        self.line = line


@dataclass(frozen=True)
class Move:
    """One move: kind is "rapid", "line" or "arc"."""

    kind: str
    start: tuple[float | None, float | None, float | None]
    end: tuple[float | None, float | None, float | None]
    line: int
    feed: float | None = None
    centre: tuple[float, float] | None = None
    sweep: float = 0.0  # radians, counter-clockwise positive
    head: str = "off"  # "off", "cw" (M3) or "ccw" (M4)
    speed: float = 0.0  # S word
    dwell: float = 0.0  # seconds waited since the head was last switched
    coolant: frozenset[str] = frozenset()  # of "M7" and "M8", what is on
    zero: str | None = None  # work zero, "G54" to "G59"
    path: str | None = None  # "G61" or "G64"
    tool_length: int | None = None  # H of G43, while it is in force

    @property
    def length(self) -> float:
        """Along the move, mm; an axis that no move has brought to a known place stands still."""
        run = [0.0 if a is None and b is None else b - a for a, b in zip(self.start, self.end)]
        if self.kind != "arc":
            return math.hypot(*run)
        radius = math.hypot(self.start[0] - self.centre[0], self.start[1] - self.centre[1])
        return math.hypot(radius * self.sweep, run[2])


@dataclass
class Program:
    """What a program does."""

    moves: list[Move] = field(default_factory=list)
    remarks: list[tuple[int, str]] = field(default_factory=list)
    stops: list[tuple[int, str]] = field(default_factory=list)
    end_line: int = 0
    head_at_end: str = "off"  # as the program left it, before M2 or M30 stops the spindle itself
    coolant_at_end: frozenset[str] = frozenset()  # likewise
    # (line, G53 or G28, {letter: mm}, state of the head and place before it) of each move to a place of the machine's
    # own, after which no axis is known
    parks: list[tuple[int, str, dict[str, float], str, tuple]] = field(default_factory=list)
    lengths: list[tuple[int, int | None]] = field(default_factory=list)  # (line, H of G43, or None of G49)
    switches: list[tuple[int, str]] = field(default_factory=list)  # (line, M3 to M9) in order
    words: set[str] = field(default_factory=set)  # every code, and every letter of another word
    tool: int | None = None
    numbers: list[tuple[int, int | None]] = field(default_factory=list)  # (line, N) of each line
    # (line, tool, head before M6, height before it) of each tool change
    changes: list[tuple[int, int | None, str, float | None]] = field(default_factory=list)

    def cut_length(self) -> float:
        """Of all lines and arcs, mm."""
        return sum(move.length for move in self.moves if move.kind != "rapid")

    def extent(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Least and greatest x and y of lines and arcs, mm."""
        points = []
        for move in self.moves:
            if move.kind != "rapid":
                points += [move.start[:2], move.end[:2], *_quarters(move)]
        xs, ys = zip(*points)
        return (min(xs), min(ys)), (max(xs), max(ys))


def _quarters(move: Move) -> list[tuple[float, float]]:
    """The points of an arc where it turns back in x or y."""
    if move.kind != "arc":
        return []
    (cx, cy), (x, y, _) = move.centre, move.start
    radius, first = math.hypot(x - cx, y - cy), math.atan2(y - cy, x - cx)
    low, high = sorted((first, first + move.sweep))
    quarters = range(math.ceil(low / (math.pi / 2)), math.floor(high / (math.pi / 2)) + 1)
    points = [(q * math.pi / 2) for q in quarters]
    return [(cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in points]


def read(text: str, semicolon: bool = False, milliseconds: bool = False) -> Program:
    """Reads and runs a whole program; with semicolon, remarks run from one to the end of the line; with milliseconds,
    P of G4 counts these."""
    return _Interpreter(semicolon, milliseconds).run(text)


# A real number (3.3.2.1): sign, digits with at least one digit and at most one point. No exponent.
NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")


def split_line(
    text: str, line: int, semicolon: bool = False
) -> tuple[bool, int | None, list[tuple[str, float]], list[str]]:
    """Splits a line (3.3): block delete, line number, words, remarks."""
    if len(text) > LINE_LIMIT:
        raise RS274Error("line-length", line, f"{len(text)} characters, {LINE_LIMIT} are allowed")
    remarks: list[str] = []
    kept: list[str] = []
    inside: list[str] | None = None
    for char in text:
        if not (" " <= char <= "~" or char == "\t"):
            raise RS274Error("character", line, f"{char!r} is neither printable nor white space")
        if semicolon and inside is None and char == ";":
            text = text.partition(";")[2]
            remarks.append(text)
            if not all(c.isalnum() and c.isascii() or c in " .,-+=/" for c in text):
                raise RS274Error("character", line, "a remark that is not printable")
            break
        if inside is not None:
            if char == "(":
                raise RS274Error("comment-nested", line, "a left parenthesis inside a comment")
            if char == ")":
                remarks.append("".join(inside))
                inside = None
            else:
                if not (char.isalnum() or char in " .,-+=/"):
                    raise RS274Error("comment-sign", line, f"{char!r} in a comment")
                inside.append(char)
        elif char == "(":
            inside = []
        elif char == ")":
            raise RS274Error("comment", line, "a right parenthesis without a left one")
        elif char not in " \t":
            # Spaces and tabs mean nothing outside comments, and case does not either (3.3).
            kept.append(char.upper())
    if inside is not None:
        raise RS274Error("comment-unclosed", line, "a comment that does not end on its line")
    # 3.3.3: a comment that begins with MSG is shown as a message.
    if any(r.strip().upper().startswith("MSG") for r in remarks):
        raise RS274Error("comment-message", line, "a comment that is a message")
    rest = "".join(kept)
    deleted = rest.startswith("/")
    if deleted:
        rest = rest[1:]
    number = None
    words = []
    at = 0
    while at < len(rest):
        letter = rest[at]
        if letter not in LETTERS:
            raise RS274Error("letter", line, f"{letter!r} starts no word")
        found = NUMBER.match(rest, at + 1)
        if not found:
            raise RS274Error("number", line, f"{letter} is not followed by a number")
        digits = found.group()
        if letter == "N":
            if words or number is not None:
                raise RS274Error("line-number", line, "the line number comes first and once")
            if not digits.isdigit() or int(digits) > LINE_NUMBER_LIMIT:
                raise RS274Error("line-number", line, f"N{digits}")
            number = int(digits)
        else:
            words.append((letter, float(digits)))
        at = found.end()
    return deleted, number, words, remarks


def code_name(letter: str, value: float, line: int) -> str:
    """G or M code with its decimal, within 0.0001 of what is meant (3.3.2)."""
    tenths = round(value * 10)
    if abs(value * 10 - tenths) > 0.001 or tenths < 0:
        raise RS274Error("unknown-code", line, f"{letter}{value}")
    major, minor = divmod(tenths, 10)
    return f"{letter}{major}.{minor}" if minor else f"{letter}{major}"


class _Interpreter:
    """Modal state, run line by line in the order of table 8."""

    def __init__(self, semicolon: bool = False, milliseconds: bool = False) -> None:
        self.semicolon = semicolon
        self.wait_unit = 0.001 if milliseconds else 1.0
        self.coolant: frozenset[str] = frozenset()
        self.zero: str | None = None
        self.path: str | None = None
        self.length: int | None = None
        self.program = Program()
        self.motion: str | None = None
        self.unit: float | None = None
        self.absolute: bool | None = None
        self.plane_xy = False
        self.feed: float | None = None
        self.speed = 0.0
        self.head = "off"
        self.dwell = 0.0
        self.tool: int | None = None
        self.at: list[float | None] = [None, None, None]

    def run(self, text: str) -> Program:
        lines = text.split("\n")
        if lines and lines[-1] == "":
            lines.pop()
        percent = bool(lines) and lines[0].strip() == "%"
        ended = False
        for number, line in enumerate(lines, start=1):
            line = line.rstrip("\r")
            if percent and line.strip() == "%":
                if number == 1:
                    continue
                # The second percent line ends the file; what follows is not read (3.2).
                break
            deleted, label, words, remarks = split_line(line, number, self.semicolon)
            self.program.numbers.append((number, label))
            if ended:
                if words:
                    raise RS274Error("program-end", number, "a block after the program's end")
                continue
            self.program.remarks += [(number, remark) for remark in remarks]
            if not deleted and words:
                ended = self.block(words, number)
        if not ended:
            raise RS274Error("program-end", len(lines), "no M2 or M30")
        return self.program

    def block(self, words: list[tuple[str, float]], line: int) -> bool:
        codes, values = self.sort(words, line)
        self.program.words |= {*codes, *values}
        groups = {GROUP_OF[code]: code for code in codes if code.startswith("G")}
        switches = {GROUP_OF[code]: code for code in codes if code.startswith("M")}
        has_axes = any(letter in values for letter in "XYZ")
        self.check_use(groups, values, has_axes, line)
        # Table 8.
        if "F" in values:
            if values["F"] < 0:
                raise RS274Error("feed", line, "a negative feed")
            if self.unit is None:
                raise RS274Error("unit", line, "F before G20 or G21")
            self.feed = values["F"] * self.unit
        if "S" in values:
            if values["S"] < 0:
                raise RS274Error("speed", line, "a negative speed")
            self.speed = values["S"]
        if "T" in values:
            if values["T"] < 0 or values["T"] != int(values["T"]):
                raise RS274Error("tool", line, "a tool number is a whole number from 0")
            self.tool = int(values["T"])
        if switches.get(6):
            # M6 stops the spindle and changes to the tool that T has chosen (3.6.3).
            if self.tool is None:
                raise RS274Error("tool", line, "M6 before any T")
            self.program.tool = self.tool
            self.program.changes.append((line, self.tool, self.head, self.at[2]))
            self.switch("off")
            # The change may move the axes (3.6.3).
            self.at = [None, None, None]
        if 7 in switches:
            self.switch({"M3": "cw", "M4": "ccw", "M5": "off"}[switches[7]])
            self.program.switches.append((line, switches[7]))
        if 8 in switches:
            # 3.6.4: M7 and M8 may both be on; M9 switches both off.
            code = switches[8]
            self.coolant = frozenset() if code == "M9" else self.coolant | {code}
            self.program.switches.append((line, code))
        if groups.get(0) == "G4":
            self.dwell += values["P"] * self.wait_unit
        if 2 in groups:
            self.plane_xy = True
        if 6 in groups:
            self.unit = {"G20": INCH, "G21": 1.0}[groups[6]]
        if 8 in groups:
            self.offset(groups[8], values, line)
        self.zero = groups.get(12, self.zero)
        self.path = groups.get(13, self.path)
        if 3 in groups:
            self.absolute = groups[3] == "G90"
        if 1 in groups:
            self.motion = None if groups[1] == "G80" else groups[1]
        if groups.get(0) in ("G28", "G53"):
            self.own_place(groups[0], values, line)
        elif has_axes:
            self.move(values, line)
        elif 1 in groups and groups[1] != "G80":
            raise RS274Error("axis-words", line, f"{groups[1]} without axis words")
        stop = switches.get(4)
        if stop in ("M0", "M1"):
            self.program.stops.append((line, stop))
        if stop in ("M2", "M30"):
            self.program.end_line = line
            self.program.head_at_end = self.head
            self.program.coolant_at_end = self.coolant
            return True
        return False

    def sort(self, words: list[tuple[str, float]], line: int) -> tuple[list[str], dict[str, float]]:
        """Codes and values of a line, repeated items refused (3.3.4, table 4)."""
        codes: list[str] = []
        values: dict[str, float] = {}
        seen: set[tuple[str, int]] = set()
        if sum(letter == "M" for letter, _ in words) > 4:
            raise RS274Error("m-words", line, "more than four M words")
        for letter, value in words:
            if letter not in "GM":
                if letter in values:
                    raise RS274Error("repeated-word", line, f"{letter} twice")
                values[letter] = value
                continue
            code = code_name(letter, value, line)
            if code not in GROUP_OF:
                raise RS274Error("unknown-code", line, code)
            if code not in RUNS:
                raise RS274Error("unsupported", line, f"{code} is not run by this reader")
            group = (letter, GROUP_OF[code])
            if group in seen:
                raise RS274Error("modal-group", line, f"{code} is second of its modal group")
            seen.add(group)
            codes.append(code)
        for letter in values:
            if letter in "ABCDKLQ":
                raise RS274Error("unsupported", line, f"{letter} is not run by this reader")
        return codes, values

    def check_use(self, groups: dict[int, str], values: dict[str, float], has_axes: bool, line: int) -> None:
        """Words that no code of the line uses are errors (3.5)."""
        dwell = groups.get(0) == "G4"
        if dwell:
            if "P" not in values:
                raise RS274Error("dwell", line, "G4 without P")
            if values["P"] < 0:
                raise RS274Error("dwell", line, "G4 with a negative P")
        elif "P" in values:
            raise RS274Error("unused-word", line, "P without G4")
        if ("H" in values) != (groups.get(8) == "G43"):
            raise RS274Error("length-offset", line, "G43 and H belong together")
        motion = groups.get(1, self.motion)
        if groups.get(0) == "G28":
            # 3.4: two codes that take axis words share no line.
            if groups.get(1, "G80") != "G80":
                raise RS274Error("axis-words", line, "G28 beside a motion code")
            motion = "G28"
        if groups.get(0) == "G53":
            # 3.5.12: G0 or G1 is in force, and there is an axis to move.
            if motion not in ("G0", "G1") or not has_axes:
                raise RS274Error("own-frame", line, "G53 without G0 or G1, or without an axis")
        if groups.get(1) == "G80" and has_axes:
            raise RS274Error("axis-words", line, "axis words with G80")
        if has_axes and motion is None:
            raise RS274Error("axis-words", line, "axis words while no motion mode is active")
        in_arc = motion in ("G2", "G3") and has_axes
        for letter in "IJR":
            if letter in values and not in_arc:
                raise RS274Error("unused-word", line, f"{letter} without G2 or G3")

    def offset(self, code: str, values: dict[str, float], line: int) -> None:
        """3.5.11: H is the slot of the tool whose length counts."""
        self.length = None
        if code == "G43":
            if values["H"] < 0 or values["H"] != int(values["H"]):
                raise RS274Error("length-offset", line, f"H{values['H']}")
            self.length = int(values["H"])
        self.program.lengths.append((line, self.length))

    def own_place(self, code: str, values: dict[str, float], line: int) -> None:
        """3.5.8, 3.5.12: where the axes then stand in the work's frame is not known."""
        if self.unit is None:
            raise RS274Error("unit", line, f"{code} before G20 or G21")
        places = {letter: values[letter] * self.unit for letter in "XYZ" if letter in values}
        self.program.parks.append((line, code, places, self.head, tuple(self.at)))
        self.at = [None, None, None]

    def switch(self, head: str) -> None:
        if head != self.head:
            self.dwell = 0.0
        self.head = head

    def move(self, values: dict[str, float], line: int) -> None:
        if self.unit is None:
            raise RS274Error("unit", line, "motion before G20 or G21")
        if self.absolute is None:
            raise RS274Error("distance-mode", line, "motion before G90 or G91")
        start = list(self.at)
        end = list(self.at)
        for axis, letter in enumerate("XYZ"):
            if letter not in values:
                continue
            value = values[letter] * self.unit
            if not self.absolute:
                if start[axis] is None:
                    raise RS274Error("position", line, f"{letter} by increments from an unknown place")
                value += start[axis]
            end[axis] = value
        state = {"head": self.head, "speed": self.speed, "dwell": self.dwell, "line": line}
        state |= {"coolant": self.coolant, "zero": self.zero, "path": self.path, "tool_length": self.length}
        if self.motion == "G0":
            move = Move("rapid", tuple(start), tuple(end), **state)
        else:
            if not self.feed:
                raise RS274Error("feed", line, f"{self.motion} with no feed set")
            state["feed"] = self.feed
            if self.motion == "G1":
                move = Move("line", tuple(start), tuple(end), **state)
            else:
                centre, sweep = self.arc(values, start, end, line)
                move = Move("arc", tuple(start), tuple(end), centre=centre, sweep=sweep, **state)
        self.program.moves.append(move)
        self.at = end

    def arc(
        self, values: dict[str, float], start: list[float | None], end: list[float | None], line: int
    ) -> tuple[tuple[float, float], float]:
        """Centre and sweep of an arc in the xy plane (3.5.3)."""
        if not self.plane_xy:
            raise RS274Error("plane", line, "an arc before G17")
        if "X" not in values and "Y" not in values:
            raise RS274Error("axis-words", line, "an arc without X or Y")
        if None in start[:2]:
            raise RS274Error("position", line, "an arc from an unknown place")
        x0, y0, x1, y1 = start[0], start[1], end[0], end[1]
        ccw = self.motion == "G3"
        if "R" in values:
            if "I" in values or "J" in values:
                raise RS274Error("arc-format", line, "R and offsets in one arc")
            return self.arc_by_radius(values["R"] * self.unit, (x0, y0), (x1, y1), ccw, line)
        if "I" not in values and "J" not in values:
            raise RS274Error("arc-format", line, "an arc without I, J or R")
        # Offsets from the start, in absolute distance mode too (3.5.3.2).
        centre = (x0 + values.get("I", 0.0) * self.unit, y0 + values.get("J", 0.0) * self.unit)
        r0 = math.hypot(x0 - centre[0], y0 - centre[1])
        r1 = math.hypot(x1 - centre[0], y1 - centre[1])
        limit = ARC_RADII_MM if self.unit == 1.0 else ARC_RADII_INCH * INCH
        if abs(r0 - r1) > limit + 1e-9:
            raise RS274Error("arc-radii", line, f"radii {r0:.6f} and {r1:.6f}")
        if r0 == 0.0 or r1 == 0.0:
            raise RS274Error("arc-radii", line, "an arc of radius 0")
        return centre, self.sweep(centre, (x0, y0), (x1, y1), ccw)

    @staticmethod
    def sweep(centre, start, end, ccw: bool) -> float:
        """Angle turned through; ends in one direction make a full turn."""
        a = math.atan2(start[1] - centre[1], start[0] - centre[0])
        b = math.atan2(end[1] - centre[1], end[0] - centre[0])
        turn = (b - a) % (2 * math.pi) if ccw else (a - b) % (2 * math.pi)
        if turn == 0.0:
            turn = 2 * math.pi
        return turn if ccw else -turn

    def arc_by_radius(self, radius, start, end, ccw: bool, line: int):
        """A positive radius turns through at most half a turn, a negative one through more (3.5.3.1)."""
        (x0, y0), (x1, y1) = start, end
        chord = math.hypot(x1 - x0, y1 - y0)
        if chord == 0.0:
            raise RS274Error("arc-format", line, "a radius arc that ends where it starts")
        half = chord / 2
        if half > abs(radius) * (1 + 1e-9):
            raise RS274Error("arc-radii", line, f"radius {radius} cannot span {chord:.6f}")
        height = math.sqrt(max(radius * radius - half * half, 0.0))
        # Counter-clockwise by less than half a turn: the centre lies to the left of the chord.
        left = height if ccw == (radius > 0) else -height
        ux, uy = (x1 - x0) / chord, (y1 - y0) / chord
        centre = ((x0 + x1) / 2 - uy * left, (y0 + y1) / 2 + ux * left)
        return centre, self.sweep(centre, start, end, ccw)
