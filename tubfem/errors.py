"""The three errors a user can meet: where it is, what is wrong, what to do."""


class TubfemError(Exception):
    """A fault with one message per line, ready to be printed."""

    def __init__(self, messages: str | list[str] | tuple[str, ...]) -> None:
        self.messages: tuple[str, ...] = (messages,) if isinstance(messages, str) else tuple(messages)
        super().__init__("\n".join(self.messages))


class CaseError(TubfemError):
    """The case file, or a change asked on the command line, is wrong (exit code 2)."""


class MeshError(TubfemError):
    """The geometry cannot be meshed as written (exit code 2)."""


class SolveError(TubfemError):
    """The model cannot be solved, or a check of the solution fails (exit code 3)."""
