"""What a program may differ in and still be the same program, and nothing else: the closed list of the guide.

- blanks between words, and at either end of a line; in a remark as many blanks as one;
- forms of a number: zeros that lead or trail, a plus sign, a point that nothing follows;
- the order of words in a block;
- a motion code, a feed or an axis word that is in force already, written or left out.

Whatever else differs must be refused, whether or not it changes what a machine does.
"""

import re
from decimal import Decimal

WORD = re.compile(r"([A-Za-z%/])[ ]*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))|([%/])")


def tokens(line, semicolon, numbered):
    """A line's words as (letter, exact number) and its remarks as they stand, in their order; None for a line
    that is not made of words and remarks."""
    found, at = [], 0
    line = line.removesuffix("\r").strip(" ")
    while at < len(line):
        char = line[at]
        if char == " ":
            at += 1
            continue
        if char == ";" and semicolon:
            found.append((";", line[at:]))
            break
        if char == "(" and not semicolon:
            close = line.find(")", at)
            if close < 0:
                return None
            found.append(("(", line[at : close + 1]))
            at = close + 1
            continue
        word = WORD.match(line, at)
        if not word:
            return None
        at = word.end()
        if word[3]:
            found.append((word[3], None))
        elif not (numbered and word[1] == "N" and not found):
            found.append((word[1], Decimal(word[2])))
    return tuple(found)


def spelled(text, semicolon, numbered):
    """A program as its lines' tokens; a line that is none stands as it is."""
    lines = text.split("\n")
    ends = lines[-1] == ""
    if ends:
        lines.pop()
    out = []
    for line in lines:
        line_tokens = tokens(line, semicolon, numbered)
        out.append(line if line_tokens is None else line_tokens)
    return out, ends


def steps_apart(a, b, step):
    """Whether two spellings differ in numbers alone, each by no more than `step` of its letter (mm words, and
    all others by 0.0005): what rounding of a plan may do."""
    if len(a) != len(b):
        return False
    for x, y in zip(a, b):
        if x == y:
            continue
        if isinstance(x, str) or isinstance(y, str) or len(x) != len(y):
            return False
        for (letter, one), (other, two) in zip(x, y):
            if letter != other or (one != two and not isinstance(one, Decimal)):
                return False
            if one != two:
                room = step if letter in "XYZIJF" else Decimal("0.0005") if letter in "SP" else 0
                if abs(one - two) > room:
                    return False
    return True


def said(spelled, empty=True):
    """A spelling with all that the list lets differ taken out: each line's words sorted, without those that are in
    force already, and its remarks with one blank for many. Lines that then hold nothing stand as such, or are left
    out (`empty`)."""
    motion, feed, at, out = None, None, {}, []
    for line in spelled:
        if isinstance(line, str):
            out.append(line)
            continue
        remarks = tuple((m, " ".join(v.split())) for m, v in line if m in ("(", ";"))
        words = sorted(((m, v) for m, v in line if m not in ("(", ";")), key=str)
        codes = [v for m, v in words if m == "G"]
        moves = [v for v in codes if v in (0, 1, 2, 3, 80)]
        now = moves[0] if moves else motion
        letters = [m if m not in "GM" else (m, v) for m, v in words]
        once = len(set(letters)) == len(letters)
        # Places of the machine's own (G28, G53) are no places of the program, and never in force.
        parks = any(v in (28, 53) for v in codes)
        kept = []
        for letter, v in words:
            if parks or not once:
                # A word that stands twice is no repetition of what is in force: the standard refuses it.
                kept.append((letter, v))
                continue
            # A motion code that turns the next move is no repetition; nor is an axis word of an arc left out.
            if letter == "G" and v in (0, 1, 2, 3) and v == motion:
                continue
            if letter == "F" and v == feed:
                continue
            if letter in "XYZ" and v == at.get(letter):
                continue
            kept.append((letter, v))
        motion = now
        if ("M", 6) in words or ("M", 0) in words or parks:
            # A change, a stop or a park may move the head: nothing is in force of where it stands.
            at = {}
            if parks:
                out.append((tuple(kept), remarks))
                continue
        for letter, v in words:
            if letter == "F":
                feed = v
            elif letter in "XYZ":
                at[letter] = v
        if kept or remarks or empty:
            out.append((tuple(kept), remarks))
    return out
