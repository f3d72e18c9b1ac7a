"""What holds for all tests: no example of a law is timed, for the machine may be busy with something else."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
