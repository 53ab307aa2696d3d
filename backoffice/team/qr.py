"""An address as a picture that a phone reads, drawn as one SVG path so that no inline style is needed."""

from typing import NamedTuple


class Drawn(NamedTuple):
    """Side in modules with the quiet zone, and the path of the dark ones."""

    side: int
    path: str


def drawn_code(text: str) -> Drawn:
    import segno  # heavy, and seldom needed

    rows = [list(row) for row in segno.make(text, error="m").matrix_iter(border=4)]
    dark = [f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, cell in enumerate(row) if cell]
    return Drawn(len(rows), "".join(dark))
