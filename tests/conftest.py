"""What all tests share: no example of hypothesis is timed, since a busy machine is no fault."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
