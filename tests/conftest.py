"""Settings for all tests; plain builders of races and courses are in `builders`."""

from hypothesis import settings

# The first example of a test may import a solver; how long one takes says nothing here.
settings.register_profile("racecalc", deadline=None)
settings.load_profile("racecalc")
