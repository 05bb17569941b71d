"""How a verification test compares: one line of print per number (pytest -s), one assertion."""


def close(quantity, ours, reference, percent):
    """Assert that ours is within `percent` of the reference."""
    error = 100.0 * (ours / reference - 1.0)
    print(f"{quantity}: {ours:.6g}, reference {reference:.6g}, error {error:+.3f} % (limit {percent})")
    assert abs(error) <= percent, f"{quantity}: {ours:.6g} against {reference:.6g}, {error:+.3f} %, limit {percent} %"
