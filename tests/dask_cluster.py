"""A Dask scheduler with two worker processes, until standard input closes; prints its address."""

import sys

if __name__ == "__main__":
    import dask
    from distributed import LocalCluster

    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 0, "distributed.comm.timeouts.connect": "20s"}),
        LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0") as cluster,
    ):
        print(cluster.scheduler_address, flush=True)
        sys.stdin.read()
