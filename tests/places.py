"""Where the repository and its sample sheets lie, and what its modules load."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SAMPLES = ROOT / "sample_views"


def loaded_by(modules: str) -> set[str]:
    """The packages that a fresh Python has loaded once it has imported modules."""
    script = f"import sys, {modules}; print(*{{name.split('.')[0] for name in sys.modules}})"
    ran = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return set(ran.stdout.split())
