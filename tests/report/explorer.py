"""The charts that a page carries packed, unpacked again as the browser unpacks them."""

import base64
import gzip
import json
from pathlib import Path

from lxml import html


def unpacked(page: Path) -> dict:
    """The program and the charts by their ids."""
    (packed,) = html.fromstring(page.read_bytes()).xpath("//script[@id='explorer']/text()")
    return json.loads(gzip.decompress(base64.b64decode(packed)))
