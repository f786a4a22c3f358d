"""Tests of the package expert, one file per module."""
