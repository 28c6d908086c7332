"""`python -m runner` is `matside`."""

import sys

from runner.cli.main import main

sys.exit(main())
