"""Two pictures of the page for the tour: Records and Answer, on the rough register of 260 engines.

``PYTHONPATH=tests:tests/shops python tests/tools/desk_pictures.py [OUT]``; by default into
``reports/docs/pictures``. It needs Playwright and Chromium (extra ``dev``).
"""

from __future__ import annotations

import importlib
import sys
import tempfile
from pathlib import Path
from typing import Any

OUT = Path(__file__).parents[2] / "reports" / "docs" / "pictures"
WIDTH, HEIGHT = 1280, 900
MOST_BYTES = 150_000
"""A picture in the tour must not weigh on whoever reads it by a slow line."""
COLOURS = 64
"""A page of text has few; fewer make a smaller file."""


def take_pictures(out: Path) -> list[Path]:
    """Go by hand from the rough register's file to its answer, and take both rooms on the way."""
    pages: Any = importlib.import_module("desk_pages")
    hands: Any = importlib.import_module("desk_hand")
    client: Any = importlib.import_module("desk_client")
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place, hands.chromium() as browser:
        shop, folder = pages.rough(Path(place)), Path(place) / "my-club"
        folder.mkdir()
        with client.served(folder, let_in=False) as desk:
            hand = hands.sit_down(browser, desk.keys.address)
            hand.drop(shop.files)
            records = _take(hand.page, out / "desk-records.png")
            hand.answer(shop.answers)
            hand.go("Odd cells")
            hand.settle(pages.ROUGH_SETTLED)
            hand.go("Question")
            hand.claim(pages.CLAIMED_H)
            hand.go("Answer")
            return [records, _take(hand.page, out / "desk-answer.png")]


def _take(page: Any, path: Path) -> Path:
    from io import BytesIO

    from PIL import Image

    page.evaluate("window.scrollTo(0, 0)")
    page.mouse.move(0, 0)
    page.wait_for_function("document.getAnimations().length === 0")
    data = page.screenshot(clip={"x": 0, "y": 0, "width": WIDTH, "height": HEIGHT})
    Image.open(BytesIO(data)).convert("RGB").quantize(COLOURS).save(path, optimize=True)
    if path.stat().st_size > MOST_BYTES:
        message = f"{path.name} has {path.stat().st_size:,} bytes; at most {MOST_BYTES:,}."
        raise ValueError(message)
    return path


if __name__ == "__main__":
    for taken in take_pictures(Path(sys.argv[1]) if sys.argv[1:] else OUT):
        print(f"{taken.name}: {taken.stat().st_size:,} bytes")
