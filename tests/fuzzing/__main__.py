"""Tries random input on every command: `python -m tests.fuzzing --minutes 5 --seed 1`.

What breaks a promise is told and kept with its files and its command; `--only` runs one again.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

from tests.fuzzing.running import try_case


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzzing", description=__doc__)
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--cases", type=int, default=sys.maxsize, help="at most so many")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int, help="the number of one case")
    parser.add_argument("--kept", type=Path, default=Path("fuzzing"), help="where to keep them")
    told = parser.parse_args()
    if told.only is not None:
        case, ran, broken = try_case(told.seed, told.only, told.kept)
        print(*case.words, ran.stdout, ran.stderr, *broken, sep="\n")
        return bool(broken)
    ends = time.monotonic() + 60 * told.minutes
    ended: Counter[tuple[str, int]] = Counter()
    failed = number = 0
    longest, largest = 0.0, 0
    while time.monotonic() < ends and number < told.cases:
        case, ran, broken = try_case(told.seed, number, told.kept)
        ended[case.words[0], ran.status] += 1
        longest, largest = max(longest, ran.took), max(largest, ran.memory)
        if broken:
            failed += 1
            print(f"case {number}, {case.words!r}: {'; '.join(broken)}", flush=True)
        number += 1
    print(", ".join(f"{name} {status}: {n}" for (name, status), n in sorted(ended.items())))
    print(f"{number} cases of seed {told.seed}, {failed} failed; the longest took {longest:.1f} s, "
          f"the largest {largest / 1e6:.0f} MB")  # fmt: skip
    return bool(failed)


if __name__ == "__main__":
    sys.exit(main())
