"""The reduced model keeps to one thread of BLAS, and leaves the number as it was."""

import numpy as np
import pytest
from threadpoolctl import threadpool_info, threadpool_limits

from tubfem.study.threads import one_thread


def threads():
    return {library["num_threads"] for library in threadpool_info() if library["user_api"] == "blas"}


@pytest.mark.parametrize("fails", [False, True])
def test_one_thread_within_and_as_many_as_before_behind(fails):
    @one_thread
    def inside(matrix):
        assert threads() == {1}
        return np.linalg.inv(matrix)

    with threadpool_limits(2, user_api="blas"):
        before = threads()  # a library that is built without threads keeps one
        if fails:
            with pytest.raises(np.linalg.LinAlgError):
                inside(np.zeros((3, 3)))
        else:
            assert inside(np.eye(3)).trace() == 3
        assert threads() == before
    assert 2 in before
