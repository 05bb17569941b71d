"""The integer program keeps the terminal to itself, and nobody else from it."""

import ctypes
import os
from threading import Thread

from tubfem.study.cuts import silent

LINE = b"HighsMipSolverData::transformNewIntegerFeasibleSolution tmpSolver.run();\n"  # of SciPy 1.17's HiGHS


def test_lines_past_python_stay_off_the_terminal(capfd):
    """As HiGHS prints them, which keeps them back where it writes to no terminal."""
    print("before")
    with silent():
        ctypes.CDLL(None).printf(LINE)
    ctypes.CDLL(None).fflush(None)
    print("after")
    assert capfd.readouterr().out.split() == ["before", "after"]


def test_what_others_write_meanwhile_comes_through(capfd):
    """From another thread, between two lines of HiGHS."""

    def meanwhile():
        print("a thread's own", flush=True)
        os.write(1, b"past Python\n")

    with silent():
        os.write(1, LINE)
        thread = Thread(target=meanwhile)
        thread.start()
        thread.join()
        os.write(1, LINE)
    assert sorted(capfd.readouterr().out.splitlines()) == ["a thread's own", "past Python"]


def test_two_programs_at_once_leave_the_descriptor_as_it_was(capfd):
    """The one that ends first must not give the other's file back."""

    def solving():
        for _ in range(20):
            with silent():
                os.write(1, LINE)

    threads = [Thread(target=solving) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    os.write(1, b"still here\n")
    assert capfd.readouterr().out == "still here\n"
