"""Numbers beside their references: compared, asserted and kept."""

import numpy as np

KEY = "verification"


class Recorder:
    """Callable of one test; every call is one line of docs/verification.md and one assertion."""

    def __init__(self, keep, **test):
        self.keep, self.test = keep, test

    def __call__(self, quantity, ours, reference, percent, *, mesh="", asked=None, why="", size=None, series=None):
        """Assert that ours is within `percent` of the reference.

        `mesh` in words; `asked` [%] where more is wanted than this mesh gives, and `why`; `size` the element's, and
        `series` the name of the curve, where several meshes of one case are run.
        """
        error = 100.0 * (float(ours) / float(reference) - 1.0)
        asked = percent if asked is None else asked
        self._keep(quantity, ours, reference, error, asked, mesh, why=why, size=size, series=series)
        print(f"{quantity} {mesh}: {ours:.6g}, reference {reference:.6g}, error {error:+.3f} % (limit {percent})")
        assert abs(error) <= percent, (
            f"{quantity}: {ours:.6g} against {reference:.6g}, {error:+.3f} %, limit {percent} %"
        )

    def digits(self, ours, reference, *, rtol=0.0, atol=0.0, of=""):
        """Assert that every number is as printed; the one farthest off, in units of what is allowed, is kept.

        `of` says what they are, where the test's own name does not. Zeros are asserted and not kept.
        """
        ours, reference = np.broadcast_arrays(np.asarray(ours, float), np.asarray(reference, float))
        allowed = atol + rtol * np.abs(reference)
        share = np.where(reference == 0, -1.0, np.abs(ours - reference) / np.maximum(allowed, np.finfo(float).tiny))
        at = np.unravel_index(np.argmax(share), share.shape)
        if share[at] >= 0:
            size = abs(reference[at])
            error, asked = 100 * (ours[at] - reference[at]) / size, 100 * allowed[at] / size
            name = f"{self.test['test']} {of}".strip()
            self._keep(name, ours[at], reference[at], error, asked, "", count=ours.size)
            print(f"{name}: {ours.size} numbers, worst {ours[at]:.7g}, reference {reference[at]:.7g}")
        np.testing.assert_allclose(ours, reference, rtol=rtol, atol=atol, err_msg=of)

    def _keep(self, quantity, ours, reference, error, asked, mesh, *, why="", count=1, size=None, series=None):
        numbers = {"ours": ours, "reference": reference, "error": error, "asked": asked}
        entry = {name: float(value) for name, value in numbers.items()}
        more = {
            "mesh": mesh,
            "why": why,
            "count": int(count),
            "size": None if size is None else float(size),
            "series": series,
        }
        self.keep({**self.test, "quantity": quantity, **entry, **more})

    def caught(self, mutation, check, off):
        """Keep that a planted mistake moves a check by `off` times what the check allows, and assert that it does."""
        self.keep({**self.test, "mutation": mutation, "check": check, "off": float(off)})
        assert off > 1.0, f"{mutation} passes {check}: {off:.3g} of its tolerance"


def entries_of(user_properties):
    """Records among the properties that a test's report carries."""
    return [value for key, value in user_properties if key == KEY]
