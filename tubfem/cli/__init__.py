"""The commands; only this room reads arguments, tells progress and exits."""

from tubfem.cli import job, planning, shelf, studies  # noqa: F401  each registers its commands
from tubfem.cli.app import app


def main() -> None:
    """Entry point of the command `tubfem`."""
    app(prog_name="tubfem")
