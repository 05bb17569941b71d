"""What the tests of the page share: a phone, and a page written."""

from tubfem.report import html, json_file

PHONE = {"width": 390, "height": 844, "has_touch": True, "is_mobile": True}


def write(path, model, findings):
    """The page of a run, at a path."""
    contents = json_file.results(model, findings, {"solve": 1.0}, "0.0")
    html.write_report(path, model, contents, findings)
    return path
