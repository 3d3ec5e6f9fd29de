"""Read the numbers back from a drawn chart: the words of its marks, and their places against the labels of its axes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from statistics import median

from lxml import etree

G, TEXT = "{http://www.w3.org/2000/svg}g", "{http://www.w3.org/2000/svg}text"
MINUS = "\u2212"
NUMBER = r"-?\d+(?:\.\d+)?(?:e-?\d+)?"


@dataclass(frozen=True)
class Mark:
    """One mark: its kind, what its label says by name, the points of its outline, and the scales of its panel."""

    kind: str
    said: dict[str, str]
    text: str
    points: tuple[tuple[float, float], ...]
    fill: str
    x: Callable[[float], float] | None
    y: Callable[[float], float] | None
    panel: str
    plot: int

    def number(self, name: str) -> float:
        """What the label says of a name, as a number; a percentage as a share."""
        return _number(self.said[name])

    def first(self) -> float:
        """The first thing that the label says, which is the value on the first axis, whatever its title."""
        return _number(next(iter(self.said.values())))

    @property
    def left(self) -> float:
        assert self.x is not None
        return self.x(min(x for x, _ in self.points))

    @property
    def right(self) -> float:
        assert self.x is not None
        return self.x(max(x for x, _ in self.points))

    @property
    def centre(self) -> float:
        return (self.left + self.right) / 2

    @property
    def low(self) -> float:
        """The value of its lower end on the upright axis, which grows upwards or downwards."""
        return min(self._heights())

    @property
    def high(self) -> float:
        return max(self._heights())

    def _heights(self) -> list[float]:
        assert self.y is not None
        return [self.y(y) for _, y in self.points]

    def vertices(self) -> list[tuple[float, float]]:
        """Every point of the outline in the units of the axes."""
        assert self.x is not None
        assert self.y is not None
        return [(self.x(x), self.y(y)) for x, y in self.points]


def marks(svg: str | bytes) -> list[Mark]:
    """Every mark of the chart, in the order in which it is drawn."""
    root = etree.fromstring(svg if isinstance(svg, bytes) else svg.encode())
    return [_mark(each) for each in root.iter() if _is_mark(each)]


def of_kind(found: list[Mark], kind: str, *names: str) -> list[Mark]:
    """The marks of one kind whose labels tell of these names."""
    return [mark for mark in found if mark.kind == kind and all(name in mark.said for name in names)]


def _is_mark(each: etree._Element) -> bool:
    return (
        isinstance(each.tag, str)
        and each.tag != G
        and each.getparent() is not None
        and "role-mark" in (each.getparent().get("class") or "")
    )


def _mark(each: etree._Element) -> Mark:
    dx, dy, inner = _plot(each)
    scales = {} if inner is None else dict(_scales(_axes(inner)))
    points = tuple((x + dx, y + dy) for x, y in _outline(each))
    return Mark(
        each.get("aria-roledescription") or "",
        _said(each.get("aria-label") or ""),
        "".join(each.itertext()),
        points,
        each.get("fill") or "",
        scales.get("X"),
        scales.get("Y"),
        "" if inner is None else _heading(inner),
        -1 if inner is None else list(inner.getroottree().getroot().iter()).index(inner),
    )


def _said(label: str) -> dict[str, str]:
    return dict(
        (part.rpartition(": ")[0], part.rpartition(": ")[2]) if _plain(part) else part.split(": ", 1)
        for part in re.split(r"; (?=[^;]*: )", label)
        if ": " in part
    )


def _plain(part: str) -> bool:
    """Tell whether the name itself holds a colon, as the title of an axis may; then what follows the last is a number."""
    return part.count(": ") > 1 and re.fullmatch(rf"[{MINUS}\d.%e-]+", part.rpartition(": ")[2]) is not None


def _number(text: str) -> float:
    plain = text.replace(MINUS, "-").replace(",", "")
    return float(plain.removesuffix("%")) / 100 if plain.endswith("%") else float(plain)


def _outline(each: etree._Element) -> Iterator[tuple[float, float]]:
    x, y = _translated(each)
    if each.tag.endswith("line"):
        yield x, y
        yield x + float(each.get("x2") or 0), y + float(each.get("y2") or 0)
    elif each.tag.endswith("text") or (each.get("transform") or "").startswith("translate"):
        yield x, y
    else:
        yield from _path(each.get("d") or "")


def _path(text: str) -> Iterator[tuple[float, float]]:
    x = y = 0.0
    for letter, rest in re.findall(r"([MLHVhvlZ])([^A-Za-z]*)", text):
        given = [float(number) for number in re.findall(NUMBER, rest)]
        if letter in "ML":
            x, y = given
        elif letter == "l":
            x, y = x + given[0], y + given[1]
        elif letter in "Hh":
            x = given[0] + (x if letter == "h" else 0)
        elif letter in "Vv":
            y = given[0] + (y if letter == "v" else 0)
        yield x, y


def _translated(each: etree._Element) -> tuple[float, float]:
    found = re.match(rf"translate\(({NUMBER}),\s*({NUMBER})\)", each.get("transform") or "")
    return (float(found[1]), float(found[2])) if found else (0.0, 0.0)


def _plot(each: etree._Element) -> tuple[float, float, etree._Element | None]:
    """The plot that the mark stands in, the nearest part with axes, and where the mark's own group stands in it."""
    dx = dy = 0.0
    inner = each.getparent()
    while inner is not None and not _axes(inner):
        moved = _translated(inner)
        dx, dy, inner = dx + moved[0], dy + moved[1], inner.getparent()
    return dx, dy, inner


def _axes(inner: etree._Element) -> list[etree._Element]:
    return [each for each in inner if "role-axis" in (each.get("class") or "") and each.get("aria-label")]


def _heading(inner: etree._Element) -> str:
    titles = [each for each in inner.iter(G) if "role-title-text" in (each.get("class") or "")]
    return "".join(titles[0].itertext()).strip() if titles else ""


def _scales(axes: list[etree._Element]) -> Iterator[tuple[str, Callable[[float], float]]]:
    for axis in axes:
        which = (axis.get("aria-label") or "")[0]
        places = [_translated(each) for each in _of_class(axis, "role-axis-tick")]
        labels = _of_class(axis, "role-axis-label")
        at = 0 if which == "X" else 1
        values = [_value("".join(each.itertext())) for each in labels]
        if not places or len(values) < 2 or any(value is None for value in values):
            continue
        label_at = [_translated(each)[at] for each in labels]
        off = round(median(label - place[at] for label, place in zip(label_at, places, strict=True)))
        start, end = label_at[0] - off, label_at[-1] - off
        yield which, _line((start, values[0]), (end, values[-1]))


def _value(text: str) -> float | None:
    try:
        return _number(text)
    except ValueError:
        return None


def _of_class(axis: etree._Element, name: str) -> list[etree._Element]:
    return [each for group in axis.iter(G) if name in (group.get("class") or "") for each in group]


def _line(one: tuple[float, float], other: tuple[float, float]) -> Callable[[float], float]:
    (first, low), (last, high) = one, other
    return lambda place: low + (place - first) * (high - low) / (last - first)
