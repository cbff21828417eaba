"""Lets the tests of this folder use the short sounds beside it."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
