"""Tests, and the measurements that are run by hand."""
