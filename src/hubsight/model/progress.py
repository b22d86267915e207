"""What long work is doing, for somebody who waits: messages at level INFO of one logger, silent by itself."""

import logging

PROGRESS = logging.getLogger("hubsight.progress")
