"""What verification tests record, and the page made of it; see "Verification page" in DEVELOPERS.md."""

import inspect

import pytest
from recording import KEY, Recorder, entries_of
from verification_page import write_page


def pytest_addoption(parser):
    parser.addoption(
        "--verification-page",
        action="store_true",
        help="write docs/verification.md and its plots from what the tests of this run record",
    )


@pytest.fixture
def record(request):
    """Compare a number with its reference, assert, and keep both for docs/verification.md."""
    first = request.function.__name__.removeprefix("test_").replace("_", " ")
    shows = inspect.getdoc(request.function) or first
    source = inspect.getdoc(request.module) or ""
    return Recorder(
        lambda entry: request.node.user_properties.append((KEY, entry)),
        module=request.path.stem,
        line=request.function.__code__.co_firstlineno,
        node=request.node.name,
        test=first,
        shows=" ".join(shows.split("\n\n")[0].split()),
        source=" ".join(source.split("\n\n")[0].split()),
    )


def pytest_configure(config):
    config.stash[ENTRIES] = []
    config.pluginmanager.register(Collector(config), "verification-collector")


ENTRIES = pytest.StashKey[list]()


class Collector:
    """Gathers the records of finished tests; in a distributed run the reports bring them to the one that writes."""

    def __init__(self, config):
        self.config = config

    def pytest_runtest_logreport(self, report):
        if report.when == "call":
            self.config.stash[ENTRIES] += entries_of(report.user_properties)

    def pytest_sessionfinish(self, session):
        distributed_worker = hasattr(self.config, "workerinput")
        if self.config.getoption("--verification-page") and not distributed_worker:
            write_page(self.config.rootpath / "docs", self.config.stash[ENTRIES])
