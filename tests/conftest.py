"""Each process of the tests does its sums on one thread: there is one process a core."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
