"""Fits the models of the second look to the corpus; `python -m tests.train` runs it."""
