"""Runs one command and writes what it took: seconds by the clock, of the processor, KiB, status.

A process of its own, with as little as can be: the peak memory that the system reports of a child
counts what its parent held when it started it.
"""

import os
import sys
import time

_QUIET = [(os.POSIX_SPAWN_OPEN, stream, os.devnull, os.O_RDWR, 0) for stream in (0, 1)]

if __name__ == "__main__":
    start = time.perf_counter()
    child = os.posix_spawn(sys.argv[1], sys.argv[1:], os.environ, file_actions=_QUIET)
    _, status, usage = os.wait4(child, 0)
    wall = time.perf_counter() - start
    processor = usage.ru_utime + usage.ru_stime
    print(wall, processor, usage.ru_maxrss, os.waitstatus_to_exitcode(status))
