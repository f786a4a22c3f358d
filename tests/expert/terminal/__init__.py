"""Tests of the consultation in the terminal."""
