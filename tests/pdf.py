"""Looking at PDF pages as a person would: as pictures, through poppler."""

import subprocess
import tempfile
from pathlib import Path

from PIL import Image


def pictures_of(pdf, dpi=200, *, first_only=False):
    """Every page as a picture, or the first alone."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "paper.pdf")
        path.write_bytes(pdf)
        pages = ["-l", "1"] if first_only else []
        subprocess.run(["pdftoppm", "-r", str(dpi), *pages, "-png", path, path.with_suffix("")], check=True)
        return [Image.open(page).copy() for page in sorted(path.parent.glob("*.png"))]
