"""Settings of the property tests: no time limit per example, because a busy machine is no fault of the code."""

from hypothesis import settings

settings.register_profile("patient", deadline=None)
settings.load_profile("patient")
