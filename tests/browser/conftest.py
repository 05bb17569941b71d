"""A headless Chromium of the distribution; without one these tests are skipped, and say so."""

import json
import re
import shutil

import pytest
import report_builders
from playwright.sync_api import sync_playwright

from tubfem.report import html, json_file, review

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]  # draws without a graphics card


@pytest.fixture(scope="session")
def browser():
    """Chromium, drawing in software."""
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip("no Chromium on this machine: apt-get install chromium")
    with sync_playwright() as tools:
        found = tools.chromium.launch(executable_path=path, args=FLAGS)
        yield found
        found.close()


class Visit:
    """A page that is open, with everything it said on the console and asked the network for."""

    def __init__(self, browser, path, **context):
        self.context = browser.new_context(**context)
        self.page = self.context.new_page()
        self.said, self.asked, self.dialogs = [], [], []
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("dialog", lambda dialog: (self.dialogs.append(dialog.message), dialog.dismiss()))
        self.url = path.as_uri()
        self.page.goto(self.url)

    def picture(self):
        """The drawing as it stands."""
        self.page.wait_for_timeout(150)
        return self.page.locator("#stage").screenshot()

    def text(self, selector):
        """Text of an element, spaces folded."""
        return " ".join(self.page.locator(selector).inner_text().split())


@pytest.fixture
def visit(browser, request):
    """Opens a page; whatever it does, it must stay silent and ask for nothing.

    As it stands at the end of a test it is kept in `build/pages`, to be looked at.
    """
    visits = []

    def open_page(path, *, width=1280, height=900, **context):
        visits.append(Visit(browser, path, viewport={"width": width, "height": height}, **context))
        return visits[-1]

    yield open_page
    folder = request.config.rootpath / "build" / "pages"
    for number, one in enumerate(visits):
        name = re.sub(r"[^\w.-]+", "_", f"{request.node.name}-{number}")
        one.page.screenshot(path=folder / f"{name}.png", animations="disabled")
        one.context.close()
        assert one.said == []
        assert one.dialogs == []
        assert one.asked == [one.url]


@pytest.fixture(scope="module")
def small():
    return report_builders.small_report(3)


@pytest.fixture(scope="module")
def report(small, tmp_path_factory):
    """A run's page, with an earlier run and a study beside it."""
    model, findings = small
    folder = tmp_path_factory.mktemp("page")
    contents = json_file.results(model, findings, {"solve": 1.0}, "0.0")
    past = contents | {"case": contents["case"] | {"sha256": "0123456789abcdef" * 4}}
    (folder / "results.json").write_text(json.dumps(past))
    row = {"change": "floor=biax600@45*2:far", "gain_Nm_per_deg": 67.3, "mass": 31.9, "worst_margin": 0.4}
    (folder / "next_ply.json").write_text(json.dumps({"rows": [row] * 3, "base": {"mass": 31.2}}))
    contents["since"] = review.since(folder, contents)
    html.write_report(folder / "report.html", model, contents, findings, beside=folder)
    return folder / "report.html"


@pytest.fixture(scope="module")
def look(small, tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "look.html"
    html.write_report(path, small[0], json_file.about(small[0], "0.0"))
    return path
