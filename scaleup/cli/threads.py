"""How many threads linear algebra takes."""

THREADS = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS", "BLIS_NUM_THREADS")
"""What linear algebra libraries take their number of threads from."""
