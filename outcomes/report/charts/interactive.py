"""Charts for a browser: tooltips, a legend that filters, and the program that draws them, packed for a page."""

from __future__ import annotations

import base64
import gzip
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from outcomes.report.charts.drawing import Picture

PROGRAM = Path(__file__).parents[1] / "explorer" / "program.js.gz"
LEVEL = 6  # of packing: more makes the page 2 % lighter and takes twice as long
CHANNELS = ("fill", "stroke", "color", "shape")
FAINT = 0.08
Spec = dict[str, Any]


def packed_explorer(pictures: Sequence[Picture]) -> str:
    """Pack the program that draws, and the charts by their ids, as base64 of gzip: the same bytes for the same charts."""
    program = gzip.decompress(PROGRAM.read_bytes()).decode()
    specs = {each.id: explorable(each.spec) for each in pictures if each.spec is not None}
    held = json.dumps({"program": program, "specs": specs}, ensure_ascii=False)
    return base64.b64encode(gzip.compress(held.encode(), LEVEL, mtime=0)).decode()


def explorable(spec: Spec) -> Spec:
    """The chart with a selection for each legend: a click on an entry leaves only its marks strong."""
    described = {name: each for name, each in spec.items() if name not in {"$schema", "datasets"}}
    held: Spec = {**json.loads(json.dumps(described)), "datasets": spec["datasets"]}
    # A name of a layer is one in the whole chart.
    for number, (view, data) in enumerate(_views(held, "")):
        _with_selection(view, data, held["datasets"], f"picked{number}")
    return held


def _views(part: Spec, data: str) -> list[tuple[Spec, str]]:
    """The single views of a chart, its layers together are one, each with the rows that it takes over from what holds it."""
    data = part.get("data", {}).get("name", data)
    if "layer" in part or "mark" in part:
        return [(part, data)]
    inner = [*part.get("concat", ()), *part.get("vconcat", ()), *part.get("hconcat", ())]
    return [view for each in (*inner, *([part["spec"]] if "spec" in part else ())) for view in _views(each, data)]


def _with_selection(view: Spec, data: str, datasets: dict[str, list[Spec]], name: str) -> None:
    layers = view.get("layer", [view])
    field, owner = next(((found, each) for each in layers if (found := _legend_field(each))), ("", None))
    if owner is None:
        return
    owner["params"] = [{"name": name, "select": {"type": "point", "fields": [field]}, "bind": "legend"}]
    for layer in layers:
        rows = datasets.get(layer.get("data", {}).get("name", data), [])
        shown = layer["mark"].get("opacity", 1) if isinstance(layer["mark"], dict) else 1
        if shown and any(field in row for row in rows):
            strength = {"condition": {"param": name, "value": shown}, "value": min(FAINT, shown)}
            layer["encoding"] = {**layer.get("encoding", {}), "opacity": strength}


def _legend_field(layer: Spec) -> str:
    """The field of a legend of the layer, or nothing."""
    encoding = layer.get("encoding", {})
    fields = (encoding[each] for each in CHANNELS if each in encoding)
    return next((each["field"] for each in fields if "field" in each and each.get("legend", {}) is not None), "")
