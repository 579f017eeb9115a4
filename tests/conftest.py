"""One thread for linear algebra, before numpy loads: tests run on few cores, and a thread pool only gets in the way."""

import os

os.environ.update(dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1"))
