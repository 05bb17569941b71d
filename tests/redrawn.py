"""Whether a folder's pictures can be made again from its JSON files alone."""

from tubfem.report.redraw import redraw


def assert_drawn_again(out, *names):
    """Take the pictures of these studies away: `redraw` makes each once more, byte for byte, and nothing else moves."""
    pictures = [f"{name}.png" for name in names]
    before = {file.name: file.read_bytes() for file in out.iterdir()}
    for picture in pictures:
        (out / picture).unlink()
    assert set(pictures) <= set(redraw(out))
    assert {file.name: file.read_bytes() for file in out.iterdir()} == before
