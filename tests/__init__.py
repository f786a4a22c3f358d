"""Tests, and the measurements that are run by hand."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the program has it, whatever a test imports first
