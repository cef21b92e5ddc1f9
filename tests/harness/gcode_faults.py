"""Seeded faults of programs: each takes the lines of a sound one and gives those of a spoilt one, or None where
it finds no place.

FAULTS: {kind: function(lines, rnd, bench) -> lines or text}. A kind whose name begins with "form-" changes
nothing but what closed_list.py names.
"""

from __future__ import annotations

import re
from decimal import Decimal

from modes import keeper

NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
WORD = re.compile(rf"([A-Z])({NUMBER})")
MODES = [
    "G20", "G21", "G90", "G91", "G17", "G18", "G19", "G54", "G55", "G59", "G59.1", "G61", "G61.1", "G64", "G40",
    "G41", "G42", "G93", "G94", "G95", "G98", "G99", "G43", "G49", "G80", "G28", "G53", "G92 X0", "G10 L2 P1 X1",
    "G92.1", "M48", "M49",
]  # fmt: skip
SWITCHES = ["M0", "M1", "M2", "M3", "M4", "M5", "M6", "M7", "M8", "M9", "M30", "M60", "M98 P1", "M99"]
FAULTS = {}
fault = keeper(FAULTS)


def bare(line, bench):
    """A line up to its remark."""
    return re.split(r";" if bench.semicolon else r"\(", line)[0]


def remark_lines(lines, bench):
    return [n for n, line in enumerate(lines) if bare(line, bench) != line]


def words_of(lines, bench, letters, within=None):
    """[(line, start of the number, its end, letter)] of words outside of remarks."""
    found = []
    for n, line in enumerate(lines):
        if within and not within(line):
            continue
        for m in WORD.finditer(bare(line, bench)):
            if m[1] in letters:
                found.append((n, m.start(2), m.end(2), m[1]))
    return found


def with_line(lines, n, *new):
    return [*lines[:n], *new, *lines[n + 1 :]]


def put(lines, n, *new):
    return [*lines[:n], *new, *lines[n:]]


def swapped_number(lines, place, number):
    n, start, end, _ = place
    return with_line(lines, n, lines[n][:start] + number + lines[n][end:])


def shown(value, like):
    """A number with as many decimals as the one it stands for."""
    decimals = len(like.partition(".")[2])
    return f"{value:.{decimals}f}" if decimals else f"{value.normalize():f}"


def renumbered(kind, letters, change):
    """A fault that changes the value of one word."""

    def spoil(lines, rnd, bench):
        places = words_of(lines, bench, letters)
        if not places:
            return None
        n, start, end, letter = place = rnd.choice(places)
        old = lines[n][start:end]
        new = change(Decimal(old), old, rnd, bench)
        return None if new is None else swapped_number(lines, place, new)

    FAULTS[kind] = spoil


def by(amount):
    """Adds or takes away so many mm, in the program's unit."""

    def change(value, old, rnd, bench):
        step = bench.step if amount == "step" else Decimal(amount)
        if amount != "step" and bench.unit != 1.0:
            step = (step / Decimal(bench.unit)).quantize(bench.step)
        return shown(value + rnd.choice([1, -1]) * step, old if "." in old else f"{old}.000")

    return change


COORDINATES = "XYZIJ"
for size in ("step", "0.01", "0.1", "1", "10"):
    renumbered(f"value-{size}", COORDINATES, by(size))
renumbered("value-half-step", COORDINATES,
           lambda v, old, rnd, bench: f"{v + rnd.choice([1, -1]) * bench.step * Decimal('0.4'):f}")
renumbered("value-z-step", "Z", by("step"))
renumbered("value-z-1", "Z", by("1"))
renumbered("sign", COORDINATES, lambda v, old, rnd, bench: old[1:] if old[0] == "-" else f"-{old}")
renumbered("point-moved", COORDINATES + "FS", lambda v, old, rnd, bench: shown(v * rnd.choice([10, Decimal("0.1")]), old))
renumbered("feed-1", "F", lambda v, old, rnd, bench: shown(v + rnd.choice([1, -1]), old))
renumbered("feed-x10", "F", lambda v, old, rnd, bench: shown(v * 10, old))
renumbered("feed-half", "F", lambda v, old, rnd, bench: shown(v / 2, old + ".0"))
renumbered("feed-0", "F", lambda v, old, rnd, bench: "0")
renumbered("speed-1", "S", lambda v, old, rnd, bench: shown(v + rnd.choice([1, -1]), old))
renumbered("speed-other", "S", lambda v, old, rnd, bench: rnd.choice(["0", "1", shown(v * 2, old), shown(v / 2, old)]))
renumbered("tool-other", "T", lambda v, old, rnd, bench: str(int(v) + rnd.choice([1, 2, 98])))
renumbered("wait-longer", "P", lambda v, old, rnd, bench: rnd.choice([f"{v * 10:f}", "86400", f"{v + 1:f}", f"{v + Decimal('0.01'):f}"]))
renumbered("wait-shorter", "P", lambda v, old, rnd, bench: rnd.choice(["0", f"{v / 2:f}", "0.001"]))
renumbered("code-other", "GM", lambda v, old, rnd, bench: str(rnd.choice([0, 1, 2, 3, 4, 5, 6, 8, 17, 18, 30, 53, 61, 81, 90, 91])))
renumbered("line-number-other", "N", lambda v, old, rnd, bench: str(int(v) + rnd.choice([1, -1, 10, 990])))
renumbered("expression", COORDINATES + "FS", lambda v, old, rnd, bench: rnd.choice([f"[{old}+1]", f"[{old}]", f"[{old}*2]", f"SIN[{old}]"]))
renumbered("parameter", COORDINATES + "FS", lambda v, old, rnd, bench: rnd.choice(["#1", "#<x>", "#5221", f"{old}#1"]))
renumbered("exponent", COORDINATES + "FS", lambda v, old, rnd, bench: rnd.choice([f"{old}E1", f"{old}e0", "1E400", "nan", "inf"]))
renumbered("two-points", COORDINATES, lambda v, old, rnd, bench: rnd.choice([f"{old}.", f"{old}.5", f"-{old}" if old[0] == "-" else f"+-{old}"]))
renumbered("number-lost", COORDINATES + "FSGM", lambda v, old, rnd, bench: "")
renumbered("huge", COORDINATES + "FSP", lambda v, old, rnd, bench: rnd.choice(["1" * 40, "9" * 400, "0." + "0" * 60 + "1", "16777217"]))


@fault("digit")
def digit(lines, rnd, bench):
    """A digit changed, lost or put in, wherever in a word."""
    n, start, end, _ = rnd.choice(words_of(lines, bench, "GMXYZIJFSTPN"))
    at = rnd.choice([i for i in range(start, end) if lines[n][i].isdigit()])
    new = rnd.choice(["", lines[n][at] + rnd.choice("0123456789"), rnd.choice("0123456789")])
    return with_line(lines, n, lines[n][:at] + new + lines[n][at + 1 :])


@fault("letter")
def letter(lines, rnd, bench):
    n, start, _, old = rnd.choice(words_of(lines, bench, "GMXYZIJFSTP"))
    new = rnd.choice([c for c in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if c != old])
    return with_line(lines, n, lines[n][: start - 1] + new + lines[n][start:])


@fault("word-lost")
def word_lost(lines, rnd, bench):
    n, start, end, _ = rnd.choice(words_of(lines, bench, "GMXYZIJFSTPN"))
    return with_line(lines, n, (lines[n][: start - 1] + lines[n][end:]).strip())


@fault("word-doubled")
def word_doubled(lines, rnd, bench):
    n, start, end, _ = rnd.choice(words_of(lines, bench, "GMXYZIJFSTPN"))
    word = lines[n][start - 1 : end]
    return with_line(lines, n, lines[n][:end] + " " + word + lines[n][end:])


@fault("word-put-in")
def word_put_in(lines, rnd, bench):
    n = rnd.randrange(len(lines))
    word = rnd.choice(["X1", "Y-2", "Z0", "Z-1", "I1", "J1", "R5", "F100", "S1", "T2", "M5", "M3", "M8", "G1", "G0",
                       "P1", "A90", "H1", "D1", "L1", "Q1", "U1", "O1", "G91", "G4 P1", "K1"])  # fmt: skip
    line = bare(lines[n], bench)
    return with_line(lines, n, rnd.choice([f"{line.rstrip()} {word}", f"{word} {line}"]) + lines[n][len(line) :])


@fault("form-words-turned")
def form_words_turned(lines, rnd, bench):
    """Words of a line in another order."""
    places = [n for n, line in enumerate(lines) if len(bare(line, bench).split()) > 2 and bare(line, bench) == line]
    n = rnd.choice(places)
    words = lines[n].split()
    first = words[:1] if words[0][0] == "N" else []
    rest = words[len(first) :]
    rnd.shuffle(rest)
    return with_line(lines, n, " ".join(first + rest))


@fault("form-motion-left-out")
def form_motion_left_out(lines, rnd, bench):
    """G1 where it is in force."""
    cuts = [n for n in range(1, len(lines)) if "G1 " in lines[n] and "G1 " in lines[n - 1]]
    n = rnd.choice(cuts)
    return with_line(lines, n, lines[n].replace("G1 ", "", 1))


@fault("form-feed-written")
def form_feed_written(lines, rnd, bench):
    """The feed once more where it is in force."""
    cuts = [n for n in range(1, len(lines)) if "G1 " in lines[n] and "F" not in bare(lines[n], bench) and "F" in bare(lines[n - 1], bench)]
    n = rnd.choice(cuts)
    feed = re.search(rf"F{NUMBER}", lines[n - 1])[0]
    return with_line(lines, n, f"{lines[n]} {feed}")


@fault("values-swapped")
def values_swapped(lines, rnd, bench):
    """x and y of a line exchanged."""
    n = rnd.choice([n for n, line in enumerate(lines) if "X" in bare(line, bench) and "Y" in bare(line, bench)])
    return with_line(lines, n, bare(lines[n], bench).replace("X", "?").replace("Y", "X").replace("?", "Y"))


@fault("line-lost")
def line_lost(lines, rnd, bench):
    return with_line(lines, rnd.randrange(len(lines)))


@fault("line-doubled")
def line_doubled(lines, rnd, bench):
    n = rnd.randrange(len(lines))
    return put(lines, n, lines[n])


@fault("line-moved")
def line_moved(lines, rnd, bench):
    n, m = rnd.randrange(len(lines)), rnd.randrange(len(lines))
    left = with_line(lines, n)
    return put(left, m, lines[n])


@fault("line-moved-one")
def line_moved_one(lines, rnd, bench):
    n = rnd.randrange(len(lines) - 1)
    return [*lines[:n], lines[n + 1], lines[n], *lines[n + 2 :]]


@fault("lines-swapped")
def lines_swapped(lines, rnd, bench):
    n, m = rnd.randrange(len(lines)), rnd.randrange(len(lines))
    spoilt = list(lines)
    spoilt[n], spoilt[m] = spoilt[m], spoilt[n]
    return spoilt


def stretch(lines, rnd):
    n = rnd.randrange(len(lines))
    return n, min(len(lines), n + rnd.randint(2, 40))


@fault("stretch-lost")
def stretch_lost(lines, rnd, bench):
    n, m = stretch(lines, rnd)
    return lines[:n] + lines[m:]


@fault("stretch-doubled")
def stretch_doubled(lines, rnd, bench):
    n, m = stretch(lines, rnd)
    return lines[:m] + lines[n:m] + lines[m:]


@fault("stretch-moved")
def stretch_moved(lines, rnd, bench):
    n, m = stretch(lines, rnd)
    left = lines[:n] + lines[m:]
    at = rnd.randrange(len(left) + 1)
    return left[:at] + lines[n:m] + left[at:]


@fault("stretch-turned")
def stretch_turned(lines, rnd, bench):
    """Lines run backwards: a cut in the other direction, where they are one path."""
    n, m = stretch(lines, rnd)
    return lines[:n] + lines[n:m][::-1] + lines[m:]


def passages(lines, bench):
    """Stretches from one travel in the plane to the next: one piece, notch or row each, without what comes before
    the first and after the last."""
    starts = [n for n, line in enumerate(lines) if re.search(r"G0 X", bare(line, bench))]
    # The remark that names a passage stands before its travel.
    starts = [n - 1 if n and bare(lines[n - 1], bench).strip() in ("", "N") and lines[n - 1] != bare(lines[n - 1], bench) else n
              for n in starts]  # fmt: skip
    return list(zip(starts, starts[1:]))


@fault("order-of-passages")
def order_of_passages(lines, rnd, bench):
    found = passages(lines, bench)
    if len(found) < 2:
        return None
    (a, b), (c, d) = sorted(rnd.sample(found, 2))
    return lines[:a] + lines[c:d] + lines[b:c] + lines[a:b] + lines[d:]


@fault("passage-lost")
def passage_lost(lines, rnd, bench):
    found = passages(lines, bench)
    if not found:
        return None
    a, b = rnd.choice(found)
    return lines[:a] + lines[b:]


@fault("passage-doubled")
def passage_doubled(lines, rnd, bench):
    found = passages(lines, bench)
    if not found:
        return None
    a, b = rnd.choice(found)
    return lines[:b] + lines[a:b] + lines[b:]


@fault("line-parted")
def line_parted(lines, rnd, bench):
    places = [(n, m.start()) for n, line in enumerate(lines) for m in re.finditer(" ", bare(line, bench).rstrip())]
    n, at = rnd.choice(places)
    return with_line(lines, n, lines[n][:at], lines[n][at + 1 :])


@fault("lines-joined")
def lines_joined(lines, rnd, bench):
    n = rnd.randrange(len(lines) - 1)
    return [*lines[:n], f"{lines[n]} {lines[n + 1]}", *lines[n + 2 :]]


def z_words(lines, bench, motion):
    return [n for n, line in enumerate(lines) if re.search(rf"{motion} Z", bare(line, bench))]


def height(line):
    return re.search(rf"Z({NUMBER})", line)[1]


@fault("lift-put-in")
def lift_put_in(lines, rnd, bench):
    """A rise to the safe height, in a cut or anywhere."""
    rises = z_words(lines, bench, "G0")
    if not rises:
        return None
    lift = f"G0 Z{height(lines[rnd.choice(rises)])}"
    cuts = [n for n, line in enumerate(lines) if "G1" in bare(line, bench)]
    n = rnd.choice(cuts or [rnd.randrange(len(lines))])
    return put(lines, rnd.choice([n, n + 1]), lift)


@fault("lifts-put-in")
def lifts_put_in(lines, rnd, bench):
    """A rise after each plunge of a stretch: passes that run in the air."""
    rises, plunges = z_words(lines, bench, "G0"), z_words(lines, bench, "G1")
    if not rises or not plunges:
        return None
    lift, first = f"G0 Z{height(lines[rises[0]])}", rnd.randrange(len(plunges))
    spoilt = list(lines)
    for n in reversed(plunges[first : first + rnd.randint(1, 9)]):
        spoilt.insert(n + 1, lift)
    return spoilt


@fault("lift-and-return")
def lift_and_return(lines, rnd, bench):
    """A rise in a cut, and a plunge back to where it was."""
    rises, plunges = z_words(lines, bench, "G0"), z_words(lines, bench, "G1")
    if not rises or not plunges:
        return None
    n = rnd.choice(plunges)
    m = min(len(lines), n + rnd.randint(1, 5))
    return put(lines, m, f"G0 Z{height(lines[rises[0]])}", f"G1 Z{height(lines[n])}")


@fault("lift-lost")
def lift_lost(lines, rnd, bench):
    rises = z_words(lines, bench, "G0")
    return with_line(lines, rnd.choice(rises)) if rises else None


@fault("lift-lower")
def lift_lower(lines, rnd, bench):
    rises = z_words(lines, bench, "G0")
    if not rises:
        return None
    n = rnd.choice(rises)
    low = Decimal(height(lines[n])) - rnd.choice([bench.step, 10 * bench.step, Decimal(5) / Decimal(bench.unit).quantize(bench.step)])
    return with_line(lines, n, re.sub(rf"Z{NUMBER}", f"Z{low:f}", lines[n]))


@fault("plunge-put-in")
def plunge_put_in(lines, rnd, bench):
    plunges = z_words(lines, bench, "G1")
    if not plunges:
        return None
    deep = height(lines[rnd.choice(plunges)])
    return put(lines, rnd.randrange(len(lines)), rnd.choice([f"G1 Z{deep}", f"G0 Z{deep}", "G1 Z-1.000", f"Z{deep}"]))


@fault("plunge-lost")
def plunge_lost(lines, rnd, bench):
    plunges = z_words(lines, bench, "G1")
    return with_line(lines, rnd.choice(plunges)) if plunges else None


@fault("plunges-exchanged")
def plunges_exchanged(lines, rnd, bench):
    """Two passes exchange their depths: the deep one comes first."""
    plunges = z_words(lines, bench, "G1")
    if len(plunges) < 2:
        return None
    i = rnd.randrange(len(plunges) - 1)
    n, m = plunges[i], plunges[i + 1]
    a, b = height(lines[n]), height(lines[m])
    spoilt = with_line(lines, n, re.sub(rf"Z{NUMBER}", f"Z{b}", lines[n]))
    return with_line(spoilt, m, re.sub(rf"Z{NUMBER}", f"Z{a}", lines[m]))


@fault("plunge-as-rapid")
def plunge_as_rapid(lines, rnd, bench):
    plunges = z_words(lines, bench, "G1")
    if not plunges:
        return None
    n = rnd.choice(plunges)
    return with_line(lines, n, lines[n].replace("G1", "G0").partition(" F")[0])


@fault("cut-as-rapid")
def cut_as_rapid(lines, rnd, bench):
    n = rnd.choice([n for n, line in enumerate(lines) if "G1 X" in line])
    return with_line(lines, n, lines[n].replace("G1", "G0"))


@fault("rapid-as-cut")
def rapid_as_cut(lines, rnd, bench):
    places = [n for n, line in enumerate(lines) if "G0 X" in line]
    return with_line(lines, n, lines[n].replace("G0", "G1")) if places and (n := rnd.choice(places)) else None


@fault("sloped")
def sloped(lines, rnd, bench):
    places = [n for n, line in enumerate(lines) if re.search("G[01] X", line)]
    n = rnd.choice(places)
    z = rnd.choice(["0.000", "1.000", "-0.100", "20.000"])
    return with_line(lines, n, re.sub(rf"(Y{NUMBER})", rf"\1 Z{z}", lines[n]))


@fault("wait-put-in")
def wait_put_in(lines, rnd, bench):
    wait = rnd.choice(["G4 P1", "G4 P86400", "G4 P0.5", "G4 P0", "G4 P0.01", "G4 P4"])
    return put(lines, rnd.randrange(len(lines)), wait)


@fault("wait-in-cut")
def wait_in_cut(lines, rnd, bench):
    cuts = [n for n, line in enumerate(lines) if re.search("G[123] [XZ]", line)]
    return put(lines, rnd.choice(cuts) + 1, rnd.choice(["G4 P1", "G4 P86400", "G4 P0.2"]))


@fault("wait-lost")
def wait_lost(lines, rnd, bench):
    waits = [n for n, line in enumerate(lines) if "G4 " in bare(line, bench)]
    return with_line(lines, rnd.choice(waits)) if waits else None


@fault("wait-moved")
def wait_moved(lines, rnd, bench):
    waits = [n for n, line in enumerate(lines) if "G4 " in bare(line, bench)]
    if not waits:
        return None
    n = rnd.choice(waits)
    left = with_line(lines, n)
    return put(left, rnd.choice([rnd.randrange(len(left)), max(0, n - 1), max(0, n - 2), min(len(left), n + 1), n + 2]), lines[n])


@fault("wait-parted")
def wait_parted(lines, rnd, bench):
    waits = [n for n, line in enumerate(lines) if "G4 " in bare(line, bench)]
    if not waits:
        return None
    n = rnd.choice(waits)
    seconds = Decimal(re.search(rf"P({NUMBER})", lines[n])[1])
    return with_line(lines, n, f"G4 P{seconds / 2:f}", f"G4 P{seconds / 2:f}")


@fault("feed-put-in")
def feed_put_in(lines, rnd, bench):
    return put(lines, rnd.randrange(len(lines)), rnd.choice(["F100", "F3000", "F1200", "F900", "F0.1"]))


@fault("feed-lost")
def feed_lost(lines, rnd, bench):
    places = words_of(lines, bench, "F")
    n, start, end, _ = rnd.choice(places)
    return with_line(lines, n, (lines[n][: start - 1] + lines[n][end:]).rstrip())


@fault("speed-put-in")
def speed_put_in(lines, rnd, bench):
    return put(lines, rnd.randrange(len(lines)), rnd.choice(["S1", "S0", "S16000", "S600", "S24000", "S1000"]))


@fault("tool-put-in")
def tool_put_in(lines, rnd, bench):
    return put(lines, rnd.randrange(len(lines)), rnd.choice(["T1", "T2", "T1 M6", "T2 M6", "M6", "T0"]))


@fault("switch-put-in")
def switch_put_in(lines, rnd, bench):
    return put(lines, rnd.randrange(len(lines)), rnd.choice(SWITCHES))


@fault("switch-pair-put-in")
def switch_pair_put_in(lines, rnd, bench):
    """The spindle stops and starts again."""
    return put(lines, rnd.randrange(len(lines)), rnd.choice(["M5", "M4", "M9"]), rnd.choice(["M3", "M3 S16000", "M4 S600"]))


@fault("switch-lost")
def switch_lost(lines, rnd, bench):
    places = [n for n, line in enumerate(lines) if re.match(r"(N\d+ ?)?M\d", line)]
    return with_line(lines, rnd.choice(places))


@fault("switch-other")
def switch_other(lines, rnd, bench):
    n, start, end, _ = rnd.choice(words_of(lines, bench, "M"))
    return with_line(lines, n, lines[n][: start - 1] + rnd.choice(SWITCHES) + lines[n][end:])


def mode_places(lines, bench):
    """Mode words of the first lines."""
    return [p for p in words_of(lines, bench, "G") if Decimal(lines[p[0]][p[1] : p[2]]) > 4]


@fault("mode-other")
def mode_other(lines, rnd, bench):
    n, start, end, _ = rnd.choice(mode_places(lines, bench))
    return with_line(lines, n, lines[n][: start - 1] + rnd.choice(MODES) + lines[n][end:])


@fault("mode-lost")
def mode_lost(lines, rnd, bench):
    n, start, end, _ = rnd.choice(mode_places(lines, bench))
    return with_line(lines, n, (lines[n][: start - 1] + lines[n][end:]).replace("  ", " ").strip())


@fault("mode-put-in")
def mode_put_in(lines, rnd, bench):
    return put(lines, rnd.randrange(len(lines)), rnd.choice(MODES))


@fault("mode-pair-put-in")
def mode_pair_put_in(lines, rnd, bench):
    """Another mode over a stretch, and back."""
    n, m = stretch(lines, rnd)
    other, own = rnd.choice([("G91", "G90"), ("G55", "G54"), ("G41 D1", "G40"), ("G18", "G17"), ("G93", "G94"), ("G43 H1", "G49"),
                             ("G20", "G21"), ("G21", "G20"), ("G64", "G61")])  # fmt: skip
    return [*lines[:n], other, *lines[n:m], own, *lines[m:]]


def remark_text(line, bench):
    mark = ";" if bench.semicolon else "("
    start = line.index(mark)
    return start, line[start:]


@fault("remark-letter")
def remark_letter(lines, rnd, bench):
    n = rnd.choice(remark_lines(lines, bench))
    start, text = remark_text(lines[n], bench)
    places = [i for i, c in enumerate(text) if c.isalpha()]
    if not places:
        return None
    i = rnd.choice(places)
    new = rnd.choice([c for c in "abcdefghijklmnopqrstuvwxyzABCDE" if c != text[i]])
    return with_line(lines, n, lines[n][:start] + text[:i] + new + text[i + 1 :])


@fault("remark-digit")
def remark_digit(lines, rnd, bench):
    places = [(n, m.start()) for n in remark_lines(lines, bench) for m in re.finditer(r"\d", lines[n])
              if m.start() > remark_text(lines[n], bench)[0]]  # fmt: skip
    if not places:
        return None
    n, at = rnd.choice(places)
    new = rnd.choice([c for c in "0123456789" if c != lines[n][at]])
    return with_line(lines, n, lines[n][:at] + new + lines[n][at + 1 :])


@fault("remark-sense")
def remark_sense(lines, rnd, bench):
    """Words that a person acts on, turned into their opposites."""
    turns = [("bed under the stock", "top of the stock"), ("lower left", "upper right"), ("not on the stock", "on the stock"),
             ("left", "right"), ("behind", "in front"), ("above", "below"), ("hardwood", "softwood"), ("card", "steel"),
             ("Never", "Always"), ("never", "always"), ("no ", "any "), ("small", "large"), ("notch", "piece"), ("Wear", "Take off"),
             ("mm", "inch"), (" off", " on"), ("tool 1", "tool 2"), (" 1 of", " 2 of"), ("front", "back")]  # fmt: skip
    places = [(n, a, b) for n in remark_lines(lines, bench) for a, b in turns if a in remark_text(lines[n], bench)[1]]
    if not places:
        return None
    n, a, b = rnd.choice(places)
    start, text = remark_text(lines[n], bench)
    return with_line(lines, n, lines[n][:start] + text.replace(a, b, 1))


@fault("remark-blanks")
def remark_blanks(lines, rnd, bench):
    places = [n for n in remark_lines(lines, bench) if " " in remark_text(lines[n], bench)[1].lstrip("; ")]
    if not places:
        return None
    n = rnd.choice(places)
    start, text = remark_text(lines[n], bench)
    at = rnd.choice([i for i, c in enumerate(text) if c == " " and i > 1])
    return with_line(lines, n, lines[n][:start] + text[:at] + rnd.choice(["", "  "]) + text[at + 1 :])


@fault("remark-lost")
def remark_lost(lines, rnd, bench):
    n = rnd.choice(remark_lines(lines, bench))
    return with_line(lines, n)


@fault("remark-emptied")
def remark_emptied(lines, rnd, bench):
    n = rnd.choice(remark_lines(lines, bench))
    start, _ = remark_text(lines[n], bench)
    return with_line(lines, n, lines[n][:start] + (";" if bench.semicolon else "()"))


@fault("remark-doubled")
def remark_doubled(lines, rnd, bench):
    n = rnd.choice(remark_lines(lines, bench))
    return put(lines, n, lines[n])


@fault("remark-moved")
def remark_moved(lines, rnd, bench):
    n = rnd.choice(remark_lines(lines, bench))
    left = with_line(lines, n)
    return put(left, rnd.randrange(len(left)), lines[n])


@fault("remark-put-in")
def remark_put_in(lines, rnd, bench):
    text = rnd.choice(["always zero on top", "MSG, lift the clamps now", "print, x", "DEBUG, #1", "", "no need for goggles"])
    remark = f"; {text}" if bench.semicolon else f"({text})"
    n = rnd.randrange(len(lines))
    if rnd.random() < 0.5:
        return put(lines, n, remark)
    return with_line(lines, n, f"{lines[n]} {remark}") if bare(lines[n], bench) == lines[n] else None


@fault("remark-other-mark")
def remark_other_mark(lines, rnd, bench):
    n = rnd.choice(remark_lines(lines, bench))
    start, text = remark_text(lines[n], bench)
    inner = text.strip("();").strip()
    return with_line(lines, n, lines[n][:start] + (f"({inner})" if bench.semicolon else f"; {inner}"))


@fault("remark-open")
def remark_open(lines, rnd, bench):
    n = rnd.choice(remark_lines(lines, bench))
    return with_line(lines, n, rnd.choice([lines[n][:-1], lines[n] + ")", lines[n].replace("(", "((", 1), "(" + lines[n]]))


@fault("line-in-remark")
def line_in_remark(lines, rnd, bench):
    """A block made a remark: it no longer acts."""
    n = rnd.choice([n for n, line in enumerate(lines) if bare(line, bench) == line])
    return with_line(lines, n, f"; {lines[n]}" if bench.semicolon else f"({lines[n]})")


@fault("arc-direction")
def arc_direction(lines, rnd, bench):
    arcs = [n for n, line in enumerate(lines) if re.search("G[23] X", line)]
    if not arcs:
        return None
    n = rnd.choice(arcs)
    new = lines[n].replace("G2 X", "G? X").replace("G3 X", "G2 X").replace("G? X", "G3 X")
    return with_line(lines, n, new)


@fault("arc-centre")
def arc_centre(lines, rnd, bench):
    """Another centre that both ends lie equally far from: across the chord, or along its bisector."""
    arcs = [n for n, line in enumerate(lines) if re.search("G[23] X", line)]
    if not arcs:
        return None
    n = rnd.choice(arcs)
    got = {m[1]: Decimal(m[2]) for m in WORD.finditer(lines[n]) if m[1] in "XYIJ"}
    before = re.search(rf"X({NUMBER}) Y({NUMBER})", lines[n - 1])
    if not before:
        return None
    dx, dy = got["X"] - Decimal(before[1]), got["Y"] - Decimal(before[2])
    if rnd.random() < 0.5:
        # The centre mirrored in the middle of the chord.
        i, j = dx - got["I"], dy - got["J"]
    else:
        by = rnd.choice([Decimal("0.05"), Decimal("-0.05"), Decimal("1")])
        i, j = got["I"] - by * dy, got["J"] + by * dx
    new = re.sub(rf"I{NUMBER}", f"I{i.quantize(bench.step):f}", lines[n])
    return with_line(lines, n, re.sub(rf"J{NUMBER}", f"J{j.quantize(bench.step):f}", new))


@fault("arc-by-radius")
def arc_by_radius(lines, rnd, bench):
    """The same arc by its radius, or the long way round: R is not among the dialects' words."""
    arcs = [n for n, line in enumerate(lines) if re.search("G[23] X", line)]
    if not arcs:
        return None
    n = rnd.choice(arcs)
    got = {m[1]: float(m[2]) for m in WORD.finditer(lines[n])}
    radius = (got.get("I", 0) ** 2 + got.get("J", 0) ** 2) ** 0.5 * rnd.choice([1, 1, -1, 1.5])
    new = re.sub(rf" I{NUMBER} J{NUMBER}", f" R{radius:.5f}", lines[n])
    return with_line(lines, n, new)


@fault("arc-as-line")
def arc_as_line(lines, rnd, bench):
    arcs = [n for n, line in enumerate(lines) if re.search("G[23] X", line)]
    if not arcs:
        return None
    n = rnd.choice(arcs)
    return with_line(lines, n, re.sub(rf"G[23] (.*?) I{NUMBER} J{NUMBER}", r"G1 \1", lines[n]))


@fault("line-as-arc")
def line_as_arc(lines, rnd, bench):
    n = rnd.choice([n for n, line in enumerate(lines) if "G1 X" in line])
    centre = rnd.choice(["I5.000 J0.000", "I0.000 J1.000", "R50.000", "I0.000 J0.000"])
    return with_line(lines, n, re.sub(rf"G1 (X{NUMBER} Y{NUMBER})", rf"G{rnd.choice('23')} \1 {centre}", lines[n]))


@fault("full-turn")
def full_turn(lines, rnd, bench):
    """A full circle after a cut."""
    n = rnd.choice([n for n, line in enumerate(lines) if re.search("G1 X", line)])
    place = re.search(rf"X{NUMBER} Y{NUMBER}", lines[n])[0]
    return put(lines, n + 1, f"G{rnd.choice('23')} {place} I{rnd.choice(['1.000', '0.010', '0.001'])} J0.000")


@fault("detour")
def detour(lines, rnd, bench):
    """A cut to one side and back, by a hair or a hand's breadth."""
    n = rnd.choice([n for n, line in enumerate(lines) if re.search("G[01] X", line)])
    by = rnd.choice([bench.step, 2 * bench.step, Decimal("0.01"), Decimal("1")])
    place = re.search(rf"X({NUMBER}) Y({NUMBER})", lines[n])
    x, y = Decimal(place[1]), Decimal(place[2])
    code = lines[n][lines[n].index("G") : lines[n].index("G") + 2]
    return put(lines, n + 1, f"{code} X{x + by:f} Y{y:f}", f"{code} X{x:f} Y{y:f}")


@fault("cut-again")
def cut_again(lines, rnd, bench):
    """There and back over the same line."""
    cuts = [n for n in range(1, len(lines)) if all(re.search(r"G1 X", lines[m]) for m in (n - 1, n))]
    if not cuts:
        return None
    n = rnd.choice(cuts)
    return put(lines, n + 1, lines[n - 1], lines[n])


@fault("cut-parted")
def cut_parted(lines, rnd, bench):
    """A straight cut by way of its middle."""
    cuts = [n for n in range(1, len(lines)) if all(re.search(rf"X{NUMBER} Y{NUMBER}", lines[m]) for m in (n - 1, n)) and "G1 X" in lines[n]]
    n = rnd.choice(cuts)
    a, b = ([Decimal(v) for v in re.search(rf"X({NUMBER}) Y({NUMBER})", lines[m]).groups()] for m in (n - 1, n))
    x, y = ((p + q) / 2 for p, q in zip(a, b))
    return put(lines, n, f"G1 X{x.quantize(bench.step):f} Y{y.quantize(bench.step):f}")


@fault("all-moved")
def all_moved(lines, rnd, bench):
    """Every coordinate of an axis from some line on, as a shifted zero would have it."""
    axis, by = rnd.choice("XYZ"), rnd.choice([bench.step, -bench.step, Decimal("0.01"), Decimal("1"), Decimal("-10")])
    first = rnd.randrange(len(lines))
    moved = lambda m: f"{axis}{Decimal(m[1]) + by:f}"  # noqa: E731
    return lines[:first] + [re.sub(rf"{axis}({NUMBER})", moved, line) if bare(line, bench) == line else line for line in lines[first:]]


@fault("mirrored")
def mirrored(lines, rnd, bench):
    axis = rnd.choice("XY")
    turned = lambda m: f"{axis}{-Decimal(m[1]):f}"  # noqa: E731
    return [re.sub(rf"{axis}({NUMBER})", turned, line) if bare(line, bench) == line else line for line in lines]


@fault("block-delete")
def block_delete(lines, rnd, bench):
    n = rnd.randrange(len(lines))
    return with_line(lines, n, f"/{lines[n]}")


@fault("percent")
def percent(lines, rnd, bench):
    marks = [n for n, line in enumerate(lines) if line == "%"]
    if marks and rnd.random() < 0.5:
        return with_line(lines, rnd.choice(marks))
    return put(lines, rnd.choice([0, len(lines), rnd.randrange(len(lines))]), "%")


@fault("o-word")
def o_word(lines, rnd, bench):
    return put(lines, rnd.randrange(len(lines)), rnd.choice(["O100", "O100 call", "O1 if [1 GT 0]", "#1=5", "#<x> = 1"]))


@fault("small-letters")
def small_letters(lines, rnd, bench):
    n, start, _, old = rnd.choice(words_of(lines, bench, "GMXYZIJFST"))
    return with_line(lines, n, lines[n][: start - 1] + old.lower() + lines[n][start:])


@fault("blank-in-number")
def blank_in_number(lines, rnd, bench):
    places = [p for p in words_of(lines, bench, "GMXYZIJFS") if p[2] - p[1] > 1]
    n, start, end, _ = rnd.choice(places)
    at = rnd.randrange(start + 1, end)
    return with_line(lines, n, lines[n][:at] + " " + lines[n][at:])


@fault("after-the-end")
def after_the_end(lines, rnd, bench):
    extra = rnd.choice(["G0 X0 Y0", "M3 S1000", "M2", "M30", "G1 X1 Y1 F100", "(remark)", "; remark"])
    return [*lines, extra]


@fault("end-other")
def end_other(lines, rnd, bench):
    n = max(n for n, line in enumerate(lines) if re.search(r"M(2|30)\b", line))
    return with_line(lines, n, lines[n].replace("M30", "M?").replace("M2", "M30").replace("M?", "M2"))


@fault("cut-short-line")
def cut_short_line(lines, rnd, bench):
    return lines[: rnd.randrange(len(lines))]


@fault("cut-short-byte")
def cut_short_byte(lines, rnd, bench):
    text = "\n".join(lines) + "\n"
    return text[: rnd.randrange(len(text))]


@fault("byte-other")
def byte_other(lines, rnd, bench):
    text = "\n".join(lines) + "\n"
    at = rnd.randrange(len(text))
    return text[:at] + chr(rnd.choice([rnd.randrange(256), ord(text[at]) ^ (1 << rnd.randrange(8))])) + text[at + 1 :]


@fault("byte-put-in")
def byte_put_in(lines, rnd, bench):
    text = "\n".join(lines) + "\n"
    at = rnd.randrange(len(text) + 1)
    return text[:at] + chr(rnd.choice([0, 7, 9, 10, 13, 26, 27, 127, 160, 255, rnd.randrange(256)])) + text[at:]


@fault("byte-lost")
def byte_lost(lines, rnd, bench):
    text = "\n".join(lines) + "\n"
    at = rnd.randrange(len(text))
    return text[:at] + text[at + 1 :]


@fault("mark-of-order")
def mark_of_order(lines, rnd, bench):
    """The bytes that some editors put before a text."""
    return "\xef\xbb\xbf" + "\n".join(lines) + "\n"


@fault("line-number-put-in")
def line_number_put_in(lines, rnd, bench):
    n = rnd.randrange(len(lines))
    return with_line(lines, n, f"N{rnd.choice([1, 10, 99999, 100000])} {lines[n]}")


@fault("blank-line")
def blank_line(lines, rnd, bench):
    return put(lines, rnd.randrange(len(lines)), rnd.choice(["", " "]))


@fault("two-faults")
def two_faults(lines, rnd, bench):
    """Two that might hide each other: a value there, and back on the next line that has it."""
    places = words_of(lines, bench, "XY")
    i = rnd.randrange(len(places) - 1)
    a = places[i]
    b = next((p for p in places[i + 1 :] if p[3] == a[3] and p[0] != a[0]), None)
    if b is None:
        return None
    by = rnd.choice([bench.step, Decimal("0.01"), Decimal("0.5")])
    spoilt = swapped_number(lines, a, f"{Decimal(lines[a[0]][a[1] : a[2]]) + by:f}")
    return swapped_number(spoilt, b, f"{Decimal(lines[b[0]][b[1] : b[2]]) - by:f}")


def formed(kind, letters, change):
    """A change of form alone, of a few words."""

    def spoil(lines, rnd, bench):
        spoilt = list(lines)
        for _ in range(rnd.choice([1, 1, 5])):
            places = words_of(spoilt, bench, letters)
            n, start, end, _ = place = rnd.choice(places)
            new = change(spoilt[n][start:end])
            if new is not None:
                spoilt = swapped_number(spoilt, place, new)
        return spoilt

    FAULTS[kind] = spoil


formed("form-zeros-after", COORDINATES, lambda old: old + "0" if "." in old else None)
formed("form-zeros-lost", COORDINATES, lambda old: old.rstrip("0") if "." in old and old.rstrip("0")[-1] != "." else None)
formed("form-point-alone", COORDINATES, lambda old: old.rstrip("0") if old.rstrip("0").endswith(".") else None)
formed("form-zeros-before", COORDINATES + "FSGM", lambda old: re.sub(r"^([+-]?)(\d)", r"\g<1>0\2", old))
formed("form-zero-lost", COORDINATES, lambda old: old.replace("0.", ".", 1) if re.match(r"-?0\.\d", old) else None)
formed("form-plus", COORDINATES, lambda old: f"+{old}" if old[0].isdigit() else None)
formed("form-whole-point", "FS", lambda old: f"{old}.0" if old.isdigit() else None)


@fault("form-blanks-put-in")
def form_blanks_put_in(lines, rnd, bench):
    n, start, _, _ = rnd.choice(words_of(lines, bench, "GMXYZIJFST"))
    at = start - 1
    return with_line(lines, n, lines[n][:at] + " " * rnd.randint(1, 3) + lines[n][at:])


@fault("form-blanks-lost")
def form_blanks_lost(lines, rnd, bench):
    n = rnd.choice([n for n, line in enumerate(lines) if bare(line, bench) == line and " " in line])
    return with_line(lines, n, lines[n].replace(" ", ""))


@fault("form-blanks-after")
def form_blanks_after(lines, rnd, bench):
    n = rnd.choice([n for n, line in enumerate(lines) if bare(line, bench) == line and line != "%"])
    return with_line(lines, n, lines[n] + "  ")


@fault("line-ends")
def line_ends(lines, rnd, bench):
    if rnd.random() < 0.5:
        return "".join(f"{line}\r\n" for line in lines)
    n = rnd.randrange(len(lines))
    return with_line(lines, n, lines[n] + "\r")


N_WORD = re.compile(r"N(\d+) ?")
ABOUT_NUMBERS = {"line-number-other", "line-number-put-in", "word-lost", "byte-other", "byte-lost", "byte-put-in"}


def numbers_of(lines):
    """First line number and step, and the lines without them."""
    found = [N_WORD.match(line) for line in lines]
    values = [int(m[1]) for m in found if m]
    bare_lines = [line[m.end() :] if m else line for line, m in zip(lines, found)]
    return values[0], values[1] - values[0], bare_lines


def numbered(lines, first, step):
    out, n = [], first
    for line in lines:
        out.append(line if line in ("%", "") else f"N{n} {line}")
        n += 0 if line in ("%", "") else step
    return out


def spoilt(text, kind, rnd, bench, tries=8):
    """A program with one fault of a kind, or None where it finds no place; text in, text out.

    Where lines are numbered, most faults are put between the numbers and these told anew, so that they do not
    give the fault away.
    """
    lines = text.split("\n")
    assert lines.pop() == ""
    again = None
    if bench.numbered and kind not in ABOUT_NUMBERS and rnd.random() < 0.8:
        first, step, lines = numbers_of(lines)
        again = first, step
    for _ in range(tries):
        try:
            found = FAULTS[kind](lines, rnd, bench)
        except (IndexError, ValueError):
            # Nothing to choose from in this program.
            return None
        if found is None:
            continue
        if isinstance(found, str) and again:
            found = found.split("\n")
            found, rest = found[:-1], found[-1]
            found = "".join(f"{line}\n" for line in numbered(found, *again)) + rest
        elif isinstance(found, list):
            found = "".join(f"{line}\n" for line in (numbered(found, *again) if again else found))
        if found != text:
            return found
    return None
