"""Writes the kept report of Pim anew: `python -m tests.sample_report`."""

from __future__ import annotations

import turncheck
from tests.places import ROOT

FOLDER = ROOT / "reports" / "sample"


def main() -> None:
    turncheck.check(ROOT / "sample_views" / "pim").save(FOLDER)


if __name__ == "__main__":
    main()
