"""What the modes of the harness share: their arguments, and the tables that faults are kept in by kind."""

from __future__ import annotations

import argparse
import pathlib

from workshop import ROOT


def arguments(doc, mode, count, words, **more):
    """The arguments of a mode: how many, the seed, the folder, and those of its own, {name: default}."""
    parser = argparse.ArgumentParser(description=doc, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=count)
    parser.add_argument("--seed", type=int, default=1)
    for name, default in more.items():
        listed = not isinstance(default, str)
        parser.add_argument(f"--{name}", help="names by commas" if listed else "a path", default=",".join(default) if listed else default)
    parser.add_argument("--out", type=pathlib.Path, default=ROOT / "target" / "harness" / mode)
    return parser.parse_args(words)


def keeper(faults):
    """A decorator that keeps a function in a table of faults, under its kind."""

    def fault(kind):
        def keep(function):
            faults[kind] = function
            return function

        return keep

    return fault
