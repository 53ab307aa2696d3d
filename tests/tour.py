"""The pictures of the README, made anew by walking the journeys: `uv run python -m tests.tour`."""

import re
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).resolve().parent.parent
COLORS = 128  # hairlines and type stay sharp, and a picture stays small
GAP, TALLEST = 20, 1150
# each from so far down
SIDE_BY_SIDE = {
    "barn-phone.png": (
        ("barn-arrival-light.png", 0),
        ("barn-drawing-light.png", 930),
        ("barn-stop-and-call-light.png", 0),
    )
}
WALKED = "enquiry_to_paid or barn_pages"


def named() -> list[Path]:
    text = (ROOT / "README.md").read_text()
    return [ROOT / name for name in re.findall(r"\]\((fixtures_demo/pictures/[^)]+\.png)\)", text)]


def beside(pictures: list[tuple[Image.Image, int]]) -> Image.Image:
    """Some phones next to each other, each from its top, cut below."""
    cut = [each.crop((0, top, each.width, min(each.height, top + TALLEST))) for each, top in pictures]
    whole = Image.new("RGB", (sum(each.width + GAP for each in cut) - GAP, max(each.height for each in cut)), "white")
    left = 0
    for each in cut:
        whole.paste(each, (left, 0))
        left += each.width + GAP
    return whole


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        walk = [sys.executable, "-m", "pytest", "-q", "tests/journeys", "-k", WALKED, "--pictures", folder]
        subprocess.run(walk, cwd=ROOT, check=True)
        for picture in named():
            parts = SIDE_BY_SIDE.get(picture.name, ((picture.name, 0),))
            made = beside([(Image.open(Path(folder) / part).convert("RGB"), top) for part, top in parts])
            made.quantize(COLORS).save(picture, optimize=True)
            sys.stdout.write(f"{picture.relative_to(ROOT)}: {picture.stat().st_size // 1024} kB\n")


if __name__ == "__main__":
    main()
