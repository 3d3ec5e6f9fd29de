"""Read the comments (notes) on the cells of a workbook."""

from __future__ import annotations

import io
import posixpath
import zipfile

from outcomes.capture.xlsx_guard import Place, feed_part, local_name, parse_part, part_parser, place_of, sheet_parts


def read_comments(content: bytes) -> dict[str, dict[Place, str]]:
    """The text of every comment by sheet name and place, counted from 0, of a workbook that was found safe."""
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        return {name: _of_sheet(package, part) for name, part in sheet_parts(package)}


def _of_sheet(package: zipfile.ZipFile, sheet_part: str) -> dict[Place, str]:
    folder, name = posixpath.split(sheet_part)
    relations = f"{folder}/_rels/{name}.rels"
    if relations not in package.namelist():
        return {}
    targets: list[str] = []

    def keep(tag: str, given: dict[str, str]) -> None:
        if tag == "Relationship" and given.get("Type", "").endswith("/comments"):
            target = given["Target"]
            targets.append(
                target.lstrip("/") if target.startswith("/") else posixpath.normpath(posixpath.join(folder, target))
            )

    parse_part(package, relations, keep)
    return {place: text for target in targets for place, text in _comments(package, target).items()}


def _comments(package: zipfile.ZipFile, part: str) -> dict[Place, str]:
    found: dict[Place, list[str]] = {}
    parser = part_parser()
    current: list[list[str]] = [[]]

    def start(tag: str, given: dict[str, str]) -> None:
        if local_name(tag) == "comment":
            current[0] = found.setdefault(place_of(given["ref"]), [])

    def keep(text: str) -> None:
        current[0].append(text)

    parser.StartElementHandler, parser.CharacterDataHandler = start, keep
    feed_part(package, part, parser)
    return {place: " ".join("".join(texts).split()) for place, texts in found.items()}
