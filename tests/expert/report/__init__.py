"""Tests of the report, the letter and the bench sheet."""
