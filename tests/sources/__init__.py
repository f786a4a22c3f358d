"""Published tables, row by row as data files, held against the limits of the base."""
