"""Where the repository and its sample sheets lie."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SAMPLES = ROOT / "sample_views"
