"""Tests of the reading."""
