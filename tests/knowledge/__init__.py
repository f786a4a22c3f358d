"""Tests of the knowledge base and of its loader."""
