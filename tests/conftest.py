"""What all tests share: one thread for linear algebra, and patience with a busy machine.

Tests run on few cores, beside each other and beside other work: a thread pool only gets in the way, and an example
that waits for its turn is not a fault of the code. So no property test has a time limit of its own, and none is refused
because its data came slowly; a test that hangs is ended by the limit in ``pyproject.toml``. Nor do processes that read
photos step back behind others, as they do behind a server: with a busy machine they would hardly get a turn.
"""

import os

os.environ.update(dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1"))
os.environ["LANGUAGE"] = "en"  # on whatever machine; gettext(3) asks it first

from hypothesis import HealthCheck, settings

from receiving import workers

settings.register_profile("patient", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("patient")
workers.STEP_BACK = 0
