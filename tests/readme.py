"""What the README says, for the tests that hold it to facts."""

from __future__ import annotations

import re

from tests.places import ROOT

README = (ROOT / "README.md").read_text("utf-8")
TOUR = "From a scanned sheet to the rig"


def section(title: str) -> str:
    """Return what stands under a heading."""
    return README.split(f"\n## {title}\n")[1].split("\n## ")[0].strip()


def pictures() -> list[str]:
    """Return every picture that is shown."""
    return re.findall(r'<img src="([^"]+)"', README) + re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README)


def tour_steps() -> list[str]:
    """Return the tour's numbers."""
    return re.findall(r"^(\d+)\. ", section(TOUR), re.MULTILINE)


def tour_commands() -> list[str]:
    """Return every command of the tour, as it is typed."""
    return [" ".join(one.split()) for one in re.findall(r"`(turncheck [^`]+)`", section(TOUR))]
