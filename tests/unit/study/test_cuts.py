"""The integer program keeps the terminal to itself."""

import os

from tubfem.study.cuts import silent


def test_lines_past_python_stay_off_the_terminal(capfd):
    """As HiGHS writes them, to file descriptor 1; what is printed before and after comes through."""
    print("before")
    with silent():
        os.write(1, b"a line of the solver's own\n")
    print("after")
    assert capfd.readouterr().out.split() == ["before", "after"]
