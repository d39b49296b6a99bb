"""`python -m gridshell`."""

import sys

from gridshell.cli import main

sys.exit(main())
