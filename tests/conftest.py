"""Nothing that an earlier run kept is taken for what a test is about."""

import os

os.environ["FITCHECK_CACHE"] = "off"
