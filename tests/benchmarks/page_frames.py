"""How the page's drawing behaves at 50,000 elements without a graphics card: size, loading, frames, a tap.

Usage: python tests/benchmarks/page_frames.py [CELLS]   (14 cells across a wall make some 24,000 elements, 20 50,000)
"""

import shutil
import sys
import tempfile
from pathlib import Path
from time import perf_counter

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1]))

import report_builders

from tubfem.report import html, json_file

FLAGS = ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
FRAMES = """() => new Promise(done => {
    const stage = document.getElementById('stage'), times = [];
    const next = () => {
        stage.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowLeft' }));
        requestAnimationFrame(() => {
            times.push(performance.now());
            if (times.length < 60) return next();
            const gaps = times.slice(1).map((t, i) => t - times[i]).sort((a, b) => a - b);
            done([gaps[29], gaps[53]]);
        });
    };
    next();
})"""
TAP = """() => {
    const r = document.getElementById('stage').getBoundingClientRect(), start = performance.now();
    for (let i = 0; i < 10; i++) VIEW.hit(r.left + r.width / 2, r.top + r.height / 2);
    return (performance.now() - start) / 10;
}"""


def main(cells=20):
    model, findings = report_builders.small_report(cells)
    contents = json_file.results(model, findings, {}, "0")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as tools:
        path = Path(folder, "report.html")
        start = perf_counter()
        html.write_report(path, model, contents, findings)
        print(
            f"{findings.mesh.elements} elements: {path.stat().st_size / 1e6:.1f} MB in {perf_counter() - start:.2f} s"
        )
        browser = tools.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        start = perf_counter()
        page.goto(path.as_uri())
        assert page.evaluate("VIEW.drawn")
        print(f"open {perf_counter() - start:.2f} s")
        page.evaluate("document.getElementById('tub').scrollIntoView()")
        page.wait_for_timeout(1000)
        print("ms a frame while it turns: {:.0f} median, {:.0f} of nine in ten".format(*page.evaluate(FRAMES)))
        print(f"ms to find what a tap meets: {page.evaluate(TAP):.0f}")
        browser.close()


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
