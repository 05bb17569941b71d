"""A Dask scheduler with two worker processes, until standard input closes; prints its address.

    python dask_cluster.py TRIES

TRIES is how often the scheduler itself does anew what was at a worker that died.
"""

import sys

if __name__ == "__main__":
    import dask
    from distributed import LocalCluster

    tries = {"distributed.scheduler.allowed-failures": int(sys.argv[1])}
    with (
        dask.config.set({**tries, "distributed.comm.timeouts.connect": "20s"}),
        LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0") as cluster,
    ):
        print(cluster.scheduler_address, flush=True)
        sys.stdin.read()
