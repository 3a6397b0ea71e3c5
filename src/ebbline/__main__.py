"""Run ``python -m ebbline``."""

import sys

from ebbline.cli.main import main

sys.exit(main())
