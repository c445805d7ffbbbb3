"""Letters to lay the pages out in: narrow, usual and wide ones, and those of the machine.

The narrow and the wide are the pages' own font at another size (`size-adjust`, CSS Fonts 5), so
every machine has them. As on a bare machine its own letters are DejaVu's alone, as Debian's
package fonts-dejavu-core has them.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from xml.sax.saxutils import escape

#: Size of the letters in percent of what the page asks for; None: the machine's.
LETTERS: dict[str, int | None] = {"narrow": 80, "usual": 100, "wide": 130, "machine": None}
CORE = {
    f"DejaVu{name}.ttf"
    for name in ("Sans", "Sans-Bold", "SansMono", "SansMono-Bold", "Serif", "Serif-Bold")
}
FONTS = Path("/usr/share/fonts")
#: What fontconfig reads: the fonts of one folder, by the names that the system has for them.
SETTING = """<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">
<fontconfig>
<dir>{folder}</dir>
<cachedir>{folder}/cache</cachedir>
<include ignore_missing="yes">/etc/fonts/conf.d</include>
</fontconfig>
"""


def in_letters(styled: str, letters: str) -> str:
    """Return a page or a stylesheet in other letters."""
    percent = LETTERS[letters]
    if percent is None:
        return styled.replace('font-family: "Noto', 'font-family: "Not Noto')
    return styled.replace("font-display: block;", f"font-display: block; size-adjust: {percent}%;")


def bare_machine(folder: Path) -> dict[str, str]:
    """Return the environment in which a browser finds DejaVu's fonts alone.

    Where `FONTCONFIG_FILE` is set it stays, and so it does where the machine has no DejaVu.
    """
    found = {file.name: file for file in FONTS.rglob("DejaVu*.ttf") if file.name in CORE}
    if "FONTCONFIG_FILE" in os.environ or found.keys() != CORE:
        return dict(os.environ)
    for file in found.values():
        shutil.copy(file, folder)
    setting = folder / "fonts.conf"
    setting.write_text(SETTING.format(folder=escape(str(folder))), "utf-8")
    return os.environ | {"FONTCONFIG_FILE": str(setting)}
