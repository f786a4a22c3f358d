"""Holds a wheel against the tree that it was made of: every file of the three packages, and nothing else."""

import sys
from pathlib import Path
from zipfile import ZipFile

PACKAGES = ("expert", "intake", "knowledge")

wheel, tree = sys.argv[1], Path(sys.argv[2])
packed = {name for name in ZipFile(wheel).namelist() if ".dist-info/" not in name}
paths = (path for package in PACKAGES for path in (tree / package).rglob("*"))
wanted = {path.relative_to(tree).as_posix() for path in paths if path.is_file() and "__pycache__" not in path.parts}
if packed != wanted:
    sys.exit(f"the wheel lacks {sorted(wanted - packed)} and has no need of {sorted(packed - wanted)}")
