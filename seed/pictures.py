"""Pictures of the invented workshop, drawn here: nobody's photograph."""

from __future__ import annotations

import io

from PIL import Image, ImageDraw

INK, PAPER, FLOOR, WAY = (22, 24, 26), (251, 250, 247), (233, 229, 219), (10, 90, 57)
SIZE = (960, 600)


def ways_out() -> bytes:
    """Draw the plan with its two ways out, as a PNG."""
    picture = Image.new("RGB", SIZE, PAPER)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((60, 60, 620, 460), fill=FLOOR, outline=INK, width=8)
    for x in (240, 430):  # bays
        draw.line((x, 64, x, 240), fill=INK, width=4)
    draw.rectangle((700, 430, 900, 550), fill=FLOOR, outline=INK, width=6)
    for box in ((300, 452, 380, 468), (612, 120, 628, 200)):  # doors
        draw.rectangle(box, fill=PAPER)
    _way(draw, [(340, 300), (340, 500), (690, 500)])
    _way(draw, [(520, 160), (780, 160), (780, 420)])
    for at, words in (
        ((86, 84), "Light Room"),
        ((262, 84), "Metal Bay"),
        ((452, 84), "Wood Bay"),
        ((200, 520), "1  front door"),
        ((650, 110), "2  through the yard"),
        ((728, 474), "Cart shed"),
    ):
        draw.text(at, words, fill=INK, font_size=24)
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def _way(draw: ImageDraw.ImageDraw, points: list[tuple[int, int]]) -> None:
    draw.line(points, fill=WAY, width=10, joint="curve")
    (x0, y0), (x, y) = points[-2:]
    back, side = (-26 if x > x0 else 0, -26 if y > y0 else 0), 16
    if back[0]:
        draw.polygon([(x, y), (x + back[0], y - side), (x + back[0], y + side)], fill=WAY)
    else:
        draw.polygon([(x, y), (x - side, y + back[1]), (x + side, y + back[1])], fill=WAY)


DRAWINGS = {"ways_out": ways_out}
