"""What every test stands on: settings for a machine where nothing is configured."""

import os

# Before Django reads its settings; a test never needs a secret worth keeping.
os.environ.setdefault("SECRET_KEY", "tests-only")
os.environ.setdefault("DEBUG", "True")
