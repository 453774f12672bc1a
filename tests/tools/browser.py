"""A page in a headless browser, in a frame of a given width, with a script that plays a reader."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from pathlib import Path

BROWSER = next(
    (b for b in ("chromium", "chromium-browser", "google-chrome") if shutil.which(b)), None
)

WIDTHS = r"""
document.querySelectorAll("details").forEach(function (d) { d.open = true; });
window.addEventListener("load", function () {
  var wide = window.innerWidth, seen = {page: document.documentElement.scrollWidth, window: wide};
  function all(selector) { return Array.from(document.querySelectorAll(selector)); }
  function name(e) { return e.tagName + " " + ((e.closest("figure") || {}).id || e.className); }
  seen.spill = all("main *").filter(function (e) {
    if (e.closest("svg") || e.closest(".unseen")) return false;
    var r = e.getBoundingClientRect();
    return r.width && (r.right > wide + 1 || r.left < -1);
  }).map(name);
  seen.cut = all(".scroll").filter(function (e) {
    return e.scrollWidth > e.clientWidth + 1;
  }).map(name);
  seen.tables = all("table").filter(function (e) { return e.offsetParent; }).length;
  parent.postMessage(JSON.stringify(seen), "*");
});
"""
"""With every fold open: what reaches beyond the page, and which tables scroll sideways."""

FRAME = """<!doctype html><meta charset="utf-8"><style>body {{ margin: 0 }}</style>
<iframe src="{src}" style="border: 0; width: {width}px; height: 900px"></iframe>
<script>window.onmessage = function (e) {{
  var out = document.createElement("pre");
  out.id = "seen";
  out.textContent = e.data;
  document.body.appendChild(out);
}};</script>"""
"""The page stands in a frame of the width in question: a window cannot be made so narrow."""

WATCH = """<script>window.playErrors = [];
window.onerror = function (m) { playErrors.push(String(m)); };</script>"""


def play(
    page: str, folder: Path, width: int, player: str, *, dark: bool = False
) -> dict[str, object]:
    """Open a page in a frame of `width` pixels, play the reader, and return what was seen.

    `player` is a script that ends with ``parent.postMessage(JSON.stringify(seen), "*")``. The
    policy that forbids other scripts is taken out of the copy.
    """
    page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    page = page.replace("<head>", "<head>" + WATCH, 1)
    page = page.replace("</body>", f"<script>{player}</script></body>")
    (folder / "page.html").write_text(page, encoding="utf-8")
    file = folder / "frame.html"
    file.write_text(FRAME.format(src="page.html", width=width), encoding="utf-8")
    flags = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
             "--disable-background-networking", "--disable-component-update", "--disable-sync",
             f"--user-data-dir={folder / 'profile'}", "--window-size=1400,950", "--hide-scrollbars",
             "--virtual-time-budget=4000", "--dump-dom"]  # fmt: skip
    if dark:
        flags.append("--force-dark-mode")
    done = subprocess.run(
        [str(BROWSER), *flags, file.as_uri()], capture_output=True, timeout=120, check=False
    )
    found = re.search(r'<pre id="seen">(.*?)</pre>', done.stdout.decode("utf-8"), re.DOTALL)
    assert found, done.stderr.decode("utf-8", "replace")[-2000:]
    return dict(json.loads(html.unescape(found[1])))
