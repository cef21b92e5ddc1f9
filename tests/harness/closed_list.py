"""What a program may differ in and still be the same program, and nothing else: a closed list.

- blanks between words, and at either end of a line;
- forms of a number: zeros that lead or trail, a plus sign, a point that nothing follows;
- N words, where the dialect has them;
- ends of lines: with a carriage return or without.

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
