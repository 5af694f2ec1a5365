"""The wall of a vessel unrolled: what was measured of it, readable in grey and on a phone."""

from logger.burn.coverage import SIDES, PartState, WallCoverage, WallPart
from logger.quantities import Unit
from logger.reports.svg import coordinate, line, tag, text

WIDTH = 360.0
_LEFT, _TOP, _RIGHT = 44.0, 22.0, 8.0
_BAND, _LEAST = 26.0, 110.0  # height of a band, and of the whole where bands are few
_LEGEND = 20.0
_FILLS = {  # light to dark by how much is known; the hatching is nothing known
    PartState.NEVER: "url(#never)",
    PartState.BY_HAND: "url(#by-hand)",
    PartState.IN_PART: "#d9d9d9",
    PartState.MEASURED: "#9a9a9a",
}
_INK = "#1d1b18"


def unrolled(found: WallCoverage, length_in: Unit) -> str:
    """The drawing as SVG, with its legend; heights in `length_in`."""
    bands = sorted({part.low_mm for part in found.parts})
    band = max(_BAND, _LEAST / len(bands))
    bottom = _TOP + band * len(bands)
    height = bottom + 24.0 + 2.0 * _LEGEND
    column = (WIDTH - _LEFT - _RIGHT) / len(SIDES)
    drawn = [_patterns(), tag("rect", width="360", height=coordinate(height), fill="#fffefb")]
    for part in found.parts:
        x = _LEFT + column * SIDES.index(part.side)
        y = bottom - band * (bands.index(part.low_mm) + 1)
        drawn += _cell(part, x, y, column, band)
    for number, side in enumerate(SIDES):
        x = _LEFT + column * (number + 0.5)
        drawn.append(text(x, _TOP - 8.0, f"{side} o'clock", anchor="middle", fill=_INK))
    for number, low_mm in enumerate(bands):
        y = bottom - band * number
        drawn.append(text(_LEFT - 6.0, y + 4.0, _height(low_mm, length_in), anchor="end"))
    top = length_in.written(found.top_mm, 0)
    drawn.append(text(_LEFT - 6.0, _TOP + 4.0, top, anchor="end", font_size="10"))
    drawn.append(line(_LEFT, bottom, WIDTH - _RIGHT, bottom, stroke=_INK, stroke_width="2"))
    for number, seen in enumerate(PartState):
        x, y = _LEFT + 160.0 * (number % 2), bottom + 14.0 + _LEGEND * (number // 2)
        drawn.append(_box(x, y, 22.0, 13.0, seen))
        drawn.append(text(x + 28.0, y + 11.0, _LEGENDS[seen], fill=_INK))
    return tag(
        "svg",
        *drawn,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {coordinate(WIDTH)} {coordinate(height)}",
        role="img",
        aria_label="The wall unrolled: which parts were measured",
        font_family="system-ui, sans-serif",
        font_size="11.5",
        class_="unrolled",
    )


_LEGENDS = {
    PartState.NEVER: "never measured",
    PartState.BY_HAND: "read by hand",
    PartState.IN_PART: "measured in part",
    PartState.MEASURED: "measured throughout",
}


def _cell(part: WallPart, x: float, y: float, width: float, height: float) -> list[str]:
    said = {
        PartState.NEVER: "",
        PartState.BY_HAND: "by hand",
        PartState.IN_PART: f"{100.0 * part.share:.0f} %",
        PartState.MEASURED: f"{int(100.0 * part.share)} %",
    }[part.seen]
    found = [_box(x, y, width, height, part.seen)]
    if said:
        found.append(
            text(
                x + width / 2.0,
                y + height / 2.0 + 4.0,
                said,
                anchor="middle",
                fill=_INK,
                font_weight="600",
                stroke="#fffefb" if part.seen is PartState.BY_HAND else "",
                stroke_width="3" if part.seen is PartState.BY_HAND else "",
                paint_order="stroke",
            )
        )
    return found


def _box(x: float, y: float, width: float, height: float, seen: PartState) -> str:
    at = {"x": x, "y": y, "width": width, "height": height}
    return tag(
        "rect",
        **{name: coordinate(value) for name, value in at.items()},
        fill=_FILLS[seen],
        stroke=_INK,
        stroke_width="0.8",
    )


def _patterns() -> str:
    hatch = tag("path", d="M0 0V6", stroke=_INK, stroke_width="1.1")
    dot = tag("circle", cx="3", cy="3", r="1", fill=_INK)
    size = {"width": "6", "height": "6"}
    units = "userSpaceOnUse"
    return tag(
        "defs",
        tag(
            "pattern", hatch, id="never", patternUnits=units, patternTransform="rotate(45)", **size
        ),
        tag("pattern", dot, id="by-hand", patternUnits=units, **size),
    )


def _height(height_mm: float, unit: Unit) -> str:
    return f"{float(unit.figure(height_mm, 0)):g}"
